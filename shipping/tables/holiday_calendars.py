"""A country in, the holidays library's calendar of it out, loaded without those of all other countries."""

from __future__ import annotations

import importlib.util
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any


@lru_cache(maxsize=512)
def holiday_calendar(country: str) -> Any | None:
    """The holidays library's calendar class of a country, or None where it knows none."""
    import holidays

    calendar = getattr(holidays, country, None) if re.fullmatch(r"[A-Z]{2}", country) else None
    with _no_other_countries():
        return calendar.get_entity() if isinstance(calendar, holidays.registry.EntityLoader) else calendar


@contextmanager
def _no_other_countries() -> Iterator[None]:
    """Meanwhile the package of all countries is a bare one, so that loading one does not load all."""
    package = "holidays.countries"
    spec = None if package in sys.modules else importlib.util.find_spec(package)
    if spec is None:
        yield
        return
    bare = importlib.util.module_from_spec(spec)
    sys.modules[package] = bare
    try:
        yield
    finally:
        if sys.modules.get(package) is bare:
            del sys.modules[package]
