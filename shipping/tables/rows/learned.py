"""Learned and overruled values, dated."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field

from shipping.tables.cells import Count, Day, Key, Note, Row, Text, parse_number
from shipping.tables.rows.species import ZeroBasis

Number = Annotated[float, BeforeValidator(parse_number)]


class RateRow(Row):
    """One row of ``learned``: ``what`` for whom has which value from which day on, and on what it rests.

    ``low`` and ``high`` are the interval that holds a learned value with 90 %.
    """

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
