"""How much is made that is all kept: work in, the same work without looks for rubbish out."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def all_is_kept() -> Iterator[None]:
    """While nearly all that is made is kept, Python does not look for rubbish among it: of 20,000 orders that
    took 4 s of 11. Works as a decorator, too.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
