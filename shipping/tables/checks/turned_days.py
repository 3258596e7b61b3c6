"""Days with day and month turned round: two days of a row that lie far apart, and near when one is turned."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from shipping.tables.cells import Row
from shipping.tables.checks.row_problems import asked
from shipping.tables.shelf import Draft
from shipping.words.problems import Problem
from shipping.words.sentence import say


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two columns of a table (a field of the draft) whose days mostly lie within ``near`` days, in their
    order; of more than ``far`` days one is a slip, if turned round they are near. Assumed.
    """

    table: str
    first: str
    then: str
    near: int
    far: int

    def is_near(self, first: date, then: date) -> bool:
        return 0 <= (then - first).days <= self.near


_PAIRS = (
    _Pair("first_rows", "placed_on", "paid_on", 10, 20),
    _Pair("lots", "laid_from", "laid_to", 21, 28),
    _Pair("lots", "wet_from", "wet_until", 100, 150),
    _Pair("disruptions", "from_", "until", 21, 28),
    _Pair("weather", "from_", "until", 21, 28),
)


def days_are_not_turned_round(draft: Draft) -> Iterator[Problem]:
    """A day whose month is another's day: an order of months ago comes first, a lot is older than it is."""
    for pair in _PAIRS:
        rows: tuple[Row, ...] = getattr(draft, pair.table)
        for row in rows:
            first, then = getattr(row, pair.first), getattr(row, pair.then)
            if first is not None and then is not None and (then - first).days > pair.far:
                yield from _turned(draft, row, pair, first, then)


def _turned(draft: Draft, row: Row, pair: _Pair, first: date, then: date) -> Iterator[Problem]:
    other_first, other_then = _turned_round(first), _turned_round(then)
    column, mend = pair.first, say("Write {day}", other_first)
    if pair.is_near(first, other_then):
        column, mend = pair.then, say("Write {day}", other_then)
    elif not pair.is_near(other_first, then):
        if not pair.is_near(other_first, other_then):
            return
        mend = say("Write {day}, and {other} in {column}", other_first, other_then, pair.then)
    told = (getattr(row, column), (then - first).days, first if column == pair.then else then)
    text = say("{day} is {days} days from {other}, and turned round, day for month, it is near.", *told)
    yield from asked(draft, row, column, text, mend)


def _turned_round(day: date) -> date:
    """The day with its month for its day; the same where there is none such."""
    return date(day.year, day.day, day.month) if day.day <= 12 else day
