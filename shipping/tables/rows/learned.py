"""What buyers reported, and values learned or overruled, dated."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field

from shipping.tables.cells import Count, Key, Note, Ordered, Row, Text, parse_number
from shipping.tables.rows.species import ZeroBasis
from shipping.tables.typed_days import Day

Number = Annotated[float, BeforeValidator(parse_number)]


class RateRow(Row):
    """One row of ``learned``: ``what`` for whom has which value from which day on, and on what it rests.

    ``low`` and ``high`` are the interval that holds a learned value with 90 %.
    """

    cited_by: ClassVar[tuple[str, ...]] = ("what", "for_")

    what: Key
    for_: Text = Field(alias="for")
    value: Number
    unit: Text = ""
    from_day: Day
    basis: ZeroBasis | None = None
    n: Count | None = None
    low: Number | None = None
    high: Number | None = None
    source: Note = ""


class Arrival(Row):
    """One row of ``arrivals``: a line of a parcel as it was found; blank is not zero."""

    parcel: Key
    line: Ordered
    arrived_on: Day
    alive: Count
    hatched_alive: Count | None = None
    dead: Count | None = None
    missing: Count | None = None
    note: Note = ""
