"""Postal services, their postage, and the zones both may name."""

from __future__ import annotations

import re
from datetime import time
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator

from shipping.tables import cells, typed_days
from shipping.words.sentence import say
from shipping.words.three_point import ThreePoint, three_point
from shipping.words.units import WEEKDAYS


def parse_weekdays(cell: object) -> tuple[str, ...]:
    """Weekdays as ``Mon Tue`` or ``Mon-Fri``, or as any language of ours names them, in the week's order."""
    text = ", ".join(map(str, cell)) if isinstance(cell, tuple | list) else cells.as_text(cell)
    days: set[str] = set()
    for part in re.split(r"[\s,;]+", text.strip(" ,;")):
        first, _, last = part.partition("-")
        named = [_weekday(name.strip()) for name in (first, last or first)]
        start, end = (-1 if number is None else number for number in named)
        if min(start, end) < 0:
            raise cells.BadCell(say("'{cell}' is not a weekday", part), "Write days as Mon Tue Wed Thu Fri.")
        if end < start:
            raise cells.BadCell(say("'{cell}' runs backwards", part), "Write days as Mon Tue Wed Thu Fri.")
        days.update(WEEKDAYS[start : end + 1])
    return tuple(day for day in WEEKDAYS if day in days)


def _weekday(name: str) -> int | None:
    short = name.capitalize()[:3]
    if short in WEEKDAYS:
        return WEEKDAYS.index(short)
    from shipping.tables.typed_days import weekday_named

    return weekday_named(name)


def parse_clock_time(cell: object) -> str:
    text = cell.strftime("%H:%M") if isinstance(cell, time) else cells.as_text(cell)
    match = re.fullmatch(r"([0-9]{1,2})(?:[:.]([0-9]{2})(?::00)?| ?[hH] ?([0-9]{2})?)", text)
    hours, minutes = (int(match[1]), int(match[2] or match[3] or 0)) if match else (24, 0)
    if hours > 23 or minutes > 59:
        raise cells.BadCell(say("'{cell}' is not a time of day", text), "Write hours and minutes as 15:30.")
    return f"{hours:02d}:{minutes:02d}"


Weekdays = Annotated[tuple[str, ...], BeforeValidator(parse_weekdays)]
ClockTime = Annotated[str, BeforeValidator(parse_clock_time)]
PostAnswer = Annotated[Literal["yes", "no", "ask"], cells.OneWord()]
CountryCodes = Annotated[tuple[str, ...], BeforeValidator(cells.parse_list(" "))]


class Service(cells.Row):
    """One row of ``services``: how long the post takes to the places it names, in working days."""

    cited_by: ClassVar[tuple[str, ...]] = ("service", "to")

    service: cells.Key
    to: cells.Places
    early_d: cells.Days
    usual_d: cells.Days
    late_d: cells.Days
    hand_over: Weekdays
    cut_off: ClockTime | None = None
    saturday: cells.YesNo = False
    exposed_h: cells.Hours = 12.0
    parcel_lost_share: cells.Share = 0.01
    border_share: cells.Share = 0.0
    border_early_d: cells.Days | None = None
    border_usual_d: cells.Days | None = None
    border_late_d: cells.Days | None = None
    tracked: cells.YesNo | None = None
    live_eggs: PostAnswer | None = None
    answered_on: typed_days.Day | None = None
    answered_by: cells.Text = ""
    source: cells.Text = ""
    as_of: typed_days.Day | None = None
    basis: cells.Text = ""

    @property
    def working_days(self) -> ThreePoint:
        return three_point(self.early_d, self.usual_d, self.late_d)

    @property
    def border_days(self) -> ThreePoint | None:
        """Working days of a hold at the border, or None where there is no chance of one."""
        if self.border_share == 0 or self.border_early_d is None or self.border_late_d is None:
            return None
        return three_point(self.border_early_d, self.border_usual_d, self.border_late_d)

    @property
    def is_collection(self) -> bool:
        """Is it collected in person (no days on the way)?"""
        return self.late_d == 0

    def serves(self, named: str | None) -> bool:
        """May a parcel go by it? The service an order names; where it names none, all but collection."""
        return self.service == named if named else not self.is_collection


class Postage(cells.Row):
    """One row of ``postage``: the price up to a weight and, where given, a thickness."""

    service: cells.Key
    to: cells.Places
    up_to_g: cells.GramsAbove
    up_to_mm: cells.Millimetres | None = None
    price: cells.Money


class Zone(cells.Row):
    """One row of ``zones``: a name for several countries."""

    zone: cells.Key
    countries: CountryCodes
