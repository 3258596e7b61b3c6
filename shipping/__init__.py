"""spawnpost: which lot of live fish eggs serves which order, on which day, packed how, and why.

Data goes one way through the rooms of this package: words, tables, post, eggs, week, papers, ledger, worktop.
"""
