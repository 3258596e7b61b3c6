"""Shelves, plans, outlooks and offers that tests ask for again and again: the same files or values in, what
was read or reckoned before out.

Only for rooms below the planner, whose tests look at what is made of a plan; each process reckons it once. A
test that asks whether the same comes out twice is marked ``reckoned_anew``: it is given nothing from before.
"""

from __future__ import annotations

import functools
import hashlib
import io
import pickle
from collections.abc import Callable, Iterator
from dataclasses import fields
from datetime import date
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest

from shipping.assignment.mip import Budget
from shipping.ledger import whole_shelf
from shipping.questions import forecast, offer, what_if, why
from shipping.tables import reader
from shipping.tables.reader import Reading
from shipping.tables.shelf import Shelf
from shipping.week import plan
from shipping.week.plan_data import Plan
from tests.week import a_week


class _Exactly(pickle.Pickler):
    """Writes every value that a shelf or a plan was made of, and nothing that was reckoned from it since."""

    def reducer_override(self, value: object) -> Any:
        if isinstance(value, Shelf | Plan):
            return type(value), tuple(getattr(value, column.name) for column in fields(value))
        return NotImplemented


def _key(values: object) -> bytes:
    written = io.BytesIO()
    _Exactly(written, pickle.HIGHEST_PROTOCOL).dump(values)
    return hashlib.sha256(written.getbuffer()).digest()


def _remembered(reckon: Callable[..., Any]) -> Callable[..., Any]:
    """The same function, which reckons the same arguments once; whoever is to be told on the way is none of
    them.
    """
    known: dict[bytes, Any] = {}

    @functools.wraps(reckon)
    def ask(*values: Any, **more: Any) -> Any:
        if "go_on" in more:  # whoever may stop it is to be asked
            return reckon(*values, **more)
        key = _key((values, sorted((name, value) for name, value in more.items() if name != "tell")))
        if key in known:
            return known[key]
        found = reckon(*values, **more)
        if not Budget(None).is_spent:  # a search that someone stopped is not what the next is to be given
            known[key] = found
        return found

    return ask


def _written(folder: Path) -> Iterator[tuple[str, bytes | None]]:
    """Every file below a folder but printed papers, which no reader of tables opens."""
    for path in sorted(folder.rglob("*")):
        if path.suffix != ".pdf":
            yield path.relative_to(folder).as_posix(), path.read_bytes() if path.is_file() else None


def _read_once(read: Callable[..., Reading]) -> Callable[..., Reading]:
    """The same reader, which reads the same bytes once: tables alone, or with what their ledger adds."""
    known: dict[bytes, Reading] = {}

    @functools.wraps(read)
    def ask(folder: Path, today: date, take: bool = False, join: Any = None, orders: Any = None) -> Reading:
        adds = {} if join is None else getattr(join, "keywords", None)
        if take or adds is None:  # what was seen is kept, or rows are added of which nothing is known here
            return read(folder, today, take, join, orders)
        rows = [sorted(adds.get("orders", ())), *adds.get("owed", ())]
        key = _key(
            (list(_written(folder)), today, join is None, rows, None if orders is None else sorted(orders))
        )
        if key in known:
            return known[key]
        found = read(folder, today, take, join, orders)
        if found.shelf and not found.shelf.settings.papers.font:  # a font is named by its whole path
            known[key] = found
        return found

    return ask


#: What gives out what was read or reckoned before, by what reads and reckons.
_ONCE = {reader.read_shelf: _read_once(reader.read_shelf)} | {
    reckon: _remembered(reckon) for reckon in (plan.make_plan, forecast.outlooks, offer.offer)
}
#: Where the program, and what tests share, asks for them by name.
_ASKING = (reader, whole_shelf, plan, why, what_if, forecast, offer, a_week)


@pytest.fixture(autouse=True)
def reckoned_once(request: pytest.FixtureRequest) -> Iterator[None]:
    """Within the tests of a room, whoever of program and test asks."""
    if request.node.get_closest_marker("reckoned_anew"):
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        for module in (*_ASKING, request.module):
            for name, value in list(vars(module).items()):
                if isinstance(value, FunctionType) and value in _ONCE:
                    patch.setattr(module, name, _ONCE[value])
        yield
