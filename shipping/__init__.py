"""spawnpost: which lot of live fish eggs serves which order, on which day, packed how, and why.

Data goes one way through the rooms of this package: words, tables, post, eggs, week, papers, ledger, worktop.
"""

import os

# The threads of linear algebra wait for each other longer than they work, most of all beside another process.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
