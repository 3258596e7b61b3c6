"""Services, postage, zones, the import-restriction table, weather by place, and what delays the post."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, time
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator, Field

from shipping.tables.cells import (
    BadCell,
    Celsius,
    Day,
    Days,
    GramsAbove,
    Hours,
    Key,
    Millimetres,
    Money,
    Note,
    OneWord,
    Places,
    Row,
    Share,
    Text,
    Words,
    YesNo,
    as_text,
    parse_list,
    whole_between,
)
from shipping.tables.rows.fish import Medium
from shipping.words.sentence import say
from shipping.words.three_point import ThreePoint, three_point
from shipping.words.units import WEEKDAYS


def parse_weekdays(cell: object) -> tuple[str, ...]:
    """Weekdays as ``Mon Tue`` or ``Mon-Fri``, in the order of the week."""
    text = ", ".join(map(str, cell)) if isinstance(cell, tuple | list) else as_text(cell)
    days: set[str] = set()
    for part in re.split(r"[\s,;]+", text.strip(" ,;")):
        first, _, last = part.partition("-")
        names = [name.strip().capitalize()[:3] for name in (first, last or first)]
        if not all(name in WEEKDAYS for name in names):
            raise BadCell(say("'{cell}' is not a weekday", part), "Write days as Mon Tue Wed Thu Fri.")
        start, end = (WEEKDAYS.index(name) for name in names)
        if end < start:
            raise BadCell(say("'{cell}' runs backwards", part), "Write days as Mon Tue Wed Thu Fri.")
        days.update(WEEKDAYS[start : end + 1])
    return tuple(day for day in WEEKDAYS if day in days)


def parse_clock_time(cell: object) -> str:
    text = cell.strftime("%H:%M") if isinstance(cell, time) else as_text(cell)
    match = re.fullmatch(r"([0-9]{1,2})[:.]([0-9]{2})(:00)?", text)
    if not match or int(match[1]) > 23 or int(match[2]) > 59:
        raise BadCell(say("'{cell}' is not a time of day", text), "Write hours and minutes as 15:30.")
    return f"{int(match[1]):02d}:{match[2]}"


Weekdays = Annotated[tuple[str, ...], BeforeValidator(parse_weekdays)]
ClockTime = Annotated[str, BeforeValidator(parse_clock_time)]
PostAnswer = Annotated[Literal["yes", "no", "ask"], OneWord()]
CountryCodes = Annotated[tuple[str, ...], BeforeValidator(parse_list(" "))]


class Service(Row):
    """One row of ``services``: how long the post takes to the places it names, in working days."""

    cited_by: ClassVar[tuple[str, ...]] = ("service", "to")

    service: Key
    to: Places
    early_d: Days
    usual_d: Days
    late_d: Days
    hand_over: Weekdays
    cut_off: ClockTime | None = None
    saturday: YesNo = False
    exposed_h: Hours = 12.0
    parcel_lost_share: Share = 0.01
    border_share: Share = 0.0
    border_early_d: Days | None = None
    border_usual_d: Days | None = None
    border_late_d: Days | None = None
    tracked: YesNo | None = None
    live_eggs: PostAnswer | None = None
    answered_on: Day | None = None
    answered_by: Text = ""
    source: Text = ""
    as_of: Day | None = None
    basis: Text = ""

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


class Postage(Row):
    """One row of ``postage``: the price up to a weight and, where given, a thickness."""

    service: Key
    to: Places
    up_to_g: GramsAbove
    up_to_mm: Millimetres | None = None
    price: Money


class Zone(Row):
    """One row of ``zones``: a name for several countries."""

    zone: Key
    countries: CountryCodes


#: From mildest to strictest.
RULE_WORDS = ("open", "papers", "ask", "closed")
RuleWord = Annotated[Literal["open", "papers", "ask", "closed"], OneWord()]


#: Verdicts of the first starter tables that let eggs go although nobody had looked them up, by their sources.
_WITHDRAWN = frozenset(
    {
        ("open", "own country: verify before use"),
        ("open", "Reg. (EU) 2016/429; fishhealth.ie (Marine Institute, Ireland)"),
        (
            "papers",
            "Aquatic Animal Health (England and Wales) Regulations 2009; gov.uk guidance"
            " (copy of April 2023)",
        ),
        (
            "papers",
            "as for GB, and Import of Live Fish Act 1980 with SI 2014/143"
            " (live eggs named; schedule not seen)",
        ),
        ("papers", "50 CFR 16.13(a) and 14.61 (Form 3-177)"),
        (
            "papers",
            "Health of Animals Regulations Part XVI (2016 consolidation); Aquatic Invasive Species"
            " Regulations SOR/2015-121 s. 6",
        ),
        ("papers", "NEMBA Alien and Invasive Species Regulations 2020 (R1020) reg. 8 and 9"),
    }
)
#: The last day that those tables wrote; the home's row bore the day of the shelf, and is known by its source.
_WITHDRAWN_UNTIL = date(2026, 11, 20)


#: The day of a starter row whose source has no day or was not read.
NEVER = date(2000, 1, 1)


class Rule(Row):
    """One row of ``rules``: what a place says of a taxon in a medium, by whom, and when it was looked up.

    ``to`` names one place or several, with spaces between.
    """

    cited_by: ClassVar[tuple[str, ...]] = ("to", "taxon", "medium")

    to: Text
    taxon: Text
    medium: Medium | None = None
    verdict: RuleWord
    papers: Words = ()
    source: Note
    checked_on: Day
    from_: Day | None = Field(default=None, alias="from")
    until: Day | None = None
    note: Note = ""

    @property
    def places(self) -> tuple[str, ...]:
        """The countries, subdivisions and zones it speaks of."""
        return tuple(self.to.split())

    def holds_on(self, day: date) -> bool:
        """Is it in force on that day?"""
        return (self.from_ is None or self.from_ <= day) and (self.until is None or day <= self.until)

    @property
    def is_never_looked_up(self) -> bool:
        """Is its day that of a starter row of which no dated text was read?"""
        return self.checked_on == NEVER

    @property
    def is_withdrawn(self) -> bool:
        """Is it a starter row that let eggs go, and that nobody has looked up since?"""
        at_home = self.source == "own country: verify before use"
        return (self.verdict, self.source) in _WITHDRAWN and (at_home or self.checked_on <= _WITHDRAWN_UNTIL)


def is_of_coming_home(row: Mapping[str, str], home: str, subdivision: str) -> bool:
    """Is a row of the starter's rules about what comes into this home from abroad?"""
    is_part = row["_scope"] == "abroad" and row["to"].startswith(f"{home}-")
    return row["_scope"] != "keeping" and (row["to"] in (home, f"{home}-{subdivision}") or is_part)


Month = Annotated[int, BeforeValidator(whole_between(1, 12))]
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
