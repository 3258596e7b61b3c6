"""Cases by the dozen that one test goes through; all that fail are told, each by its name.

Where a case takes a thousandth of a second, most of the time of a test of its own went to keeping its books.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any

import pytest

Check = Callable[..., None]


def every(names: str | tuple[str, ...], cases: Iterable[Any]) -> Callable[[Check], Check]:
    """One test of all cases, which ``parametrize`` would make a test each."""
    asked = names.split(",") if isinstance(names, str) else names
    every_case = list(cases)

    def of(check: Check) -> Check:
        @functools.wraps(check)
        def all_cases(**others: Any) -> None:
            failed: list[BaseException] = []
            for case in every_case:
                values = (case,) if len(asked) == 1 else case
                try:
                    check(**dict(zip(asked, values, strict=True)), **others)
                except (Exception, pytest.fail.Exception) as error:
                    error.add_note(f"with {', '.join(map(repr, values))}")
                    failed.append(error)
            assert every_case, "no case at all"
            if failed:
                raise BaseExceptionGroup(f"{len(failed)} of {len(every_case)} cases", failed)

        taken = inspect.signature(check).parameters
        all_cases.__signature__ = inspect.Signature([one for name, one in taken.items() if name not in asked])
        return all_cases

    return of
