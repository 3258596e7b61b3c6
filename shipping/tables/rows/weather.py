"""What a parcel is expected to feel, by place and month or by days, and what stops or delays the post."""

from __future__ import annotations

from datetime import date
from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field

from shipping.tables.cells import Celsius, Key, Note, Places, Row, YesNo, whole_between
from shipping.tables.typed_days import Day, month_named


def parse_month(cell: object) -> int:
    """A month by its number, or by its name in any language that days are read in."""
    named = month_named(cell.strip(), cut_anyhow=False) if isinstance(cell, str) else None
    return named or whole_between(1, 12)(cell)


Month = Annotated[int, BeforeValidator(parse_month)]
MoreDays = Annotated[int, BeforeValidator(whole_between(0, 60))]


class Weather(Row):
    """One row of ``weather``: a month of every year, or the days from ``from_`` to ``until``.

    ``to`` is a country, a country-subdivision, a zone or ``*``.
    """

    cited_by: ClassVar[tuple[str, ...]] = ("to", "month", "from_", "until")

    to: Key
    month: Month | None = None
    from_: Day | None = Field(default=None, alias="from")
    until: Day | None = None
    low_c: Celsius
    high_c: Celsius
    source: Note = ""

    def is_of(self, day: date) -> bool:
        """Is it a row of days, and the day one of them?"""
        return self.from_ is not None and self.until is not None and self.from_ <= day <= self.until


class Disruption(Row):
    """One row of ``disruptions``: what delays the post to some places for some days, or stops it."""

    cited_by: ClassVar[tuple[str, ...]] = ("to", "service", "from_", "until")

    to: Places
    service: Key | None = None
    from_: Day = Field(alias="from")
    until: Day
    days: MoreDays = 0
    stopped: YesNo = False
    source: Note
