"""Checks of what was learned: arrivals of their parcel's week, learned values near those of the tables."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from statistics import median

from shipping.tables.cells import Row
from shipping.tables.checks.figures import BOUNDS, SHARE
from shipping.tables.checks.row_problems import after_today, asked, noted
from shipping.tables.rows.learned import Arrival, RateRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say


def arrivals_have_happened(draft: Draft) -> Iterator[Problem]:
    """The week in a parcel's name <= arrived_on <= today."""
    first: dict[str, Arrival] = {}
    for arrival in draft.arrivals:
        other = first.setdefault(arrival.parcel, arrival)
        if other.arrived_on != arrival.arrived_on:
            told = (arrival.arrived_on, other.arrived_on, other.at.row)
            text = say("{day} here, and {other} on row {row} for the same parcel.", *told)
            yield from asked(draft, arrival, "arrived_on", text, "Look at both days")
        if arrival.arrived_on > draft.today:
            yield from after_today(draft, arrival, "arrived_on", "Write the day it arrived.")
        elif (monday := _monday_of(arrival.parcel)) is None:
            mend = "Write it as on the slip, such as 2026-W49-01: else nothing is learned from it."
            yield noted(arrival, "parcel", "parcel-name", "'{parcel}' is no parcel's name.", mend)
        elif arrival.arrived_on < monday:
            text = "{arrived_on} is before the week of that parcel, which begins on {monday}."
            yield noted(arrival, "arrived_on", "order", text, "Write the day it arrived.", monday=monday)
        elif (days := (arrival.arrived_on - monday).days) > LONGEST_ON_THE_WAY_D:
            text = say("{day} is {days} days after the week of that parcel began.", arrival.arrived_on, days)
            yield noted(arrival, "arrived_on", "order", text, "Write the day it arrived.")


#: A parcel that took longer has mostly its month or its week mistyped. Assumed.
LONGEST_ON_THE_WAY_D = 45
#: How parcels are named: the week they go in, and a number.
_OF_A_PARCEL = re.compile(r"([0-9]{4})-W([0-9]{2})-[0-9]+", re.IGNORECASE)


def _monday_of(parcel: str) -> date | None:
    """The day on which the week in a parcel's name begins; None where it names none."""
    week = _OF_A_PARCEL.fullmatch(parcel)
    try:
        return date.fromisocalendar(int(week[1]), int(week[2]), 1) if week else None
    except ValueError:
        return None


#: A parcel with so many times the eggs of any other has a digit too many, where so many others tell. Assumed.
MORE_ALIVE_TIMES, LEAST_ARRIVALS = 5, 3


def arrivals_are_of_a_size(draft: Draft) -> Iterator[Problem]:
    """A line of far more eggs than any other: what is learned from it would be wrong."""
    if len(draft.arrivals) <= LEAST_ARRIVALS:
        return
    for column in ("alive", "hatched_alive", "dead", "missing"):
        *_, row = sorted(draft.arrivals, key=lambda row: getattr(row, column) or 0)
        count, most = (
            getattr(row, column) or 0,
            max(_most(other) for other in draft.arrivals if other is not row),
        )
        if count > MORE_ALIVE_TIMES * most > 0:
            text = say("{count}, and no other line has more than {most}.", count, most)
            yield from asked(draft, row, column, text, "Look at the point")


def _most(row: Arrival) -> int:
    return max(row.alive, row.hatched_alive or 0, row.dead or 0, row.missing or 0)


#: A line above this, and so many times that of any other parcel, has a digit too many. Assumed.
MOST_LINES, MORE_LINES_TIMES = 9, 3


def arrivals_are_of_lines_there_may_be(draft: Draft) -> Iterator[Problem]:
    """A line of a number that no other parcel comes near: what came of it is learned of no line."""
    if len(draft.arrivals) <= LEAST_ARRIVALS:
        return
    *_, other, most = sorted(draft.arrivals, key=lambda row: row.line)
    if most.line > max(MOST_LINES, MORE_LINES_TIMES * other.line):
        text = say("line {line}, and no other parcel has more than {most} lines.", most.line, other.line)
        yield from asked(draft, most, "line", text, "Look at the row as a whole")


#: From so many cases on, an interval is no wider than so many times its value, or a part of it. Assumed.
LEAST_CASES, FAR_ABOVE, FAR_BELOW = 5, 8, 15


def _is_of_arrivals(row: RateRow) -> bool:
    """Did the program learn it, with its interval? What it wrote itself stops nothing."""
    return row.basis == "learned" and None not in (row.low, row.high) and row.value < 1


def learned_values_hold(draft: Draft) -> Iterator[Problem]:
    """A value from a day ahead does not hold yet, one outside its own interval is a slip."""
    for row in draft.rates:
        if row.from_day > draft.today:
            text = "{day} is after today, {today}: until then the value does not hold."
            mend = "Look at the year."
            yield noted(row, "from_day", "future", text, mend, day=row.from_day, today=draft.today)
        for bounds in BOUNDS:
            if bounds.column == row.what.removeprefix("shelf_") and (told := bounds.text(row.value)):
                is_share = bounds.unit == SHARE and row.value > bounds.high
                level = Level.ERROR if is_share and not _is_of_arrivals(row) else Level.NOTICE
                yield from asked(draft, row, "value", told, bounds.mend(row.value), level)
                break
        low = row.value if row.low is None else row.low
        high = row.value if row.high is None else row.high
        if not low <= row.value <= high:
            text = "{value:g} is not between low and high, {low:g} and {high:g}."
            yield noted(row, "value", "order", text, "Mend one of the three.", low=low, high=high)
        elif (row.n or 0) >= LEAST_CASES and row.value > 0:
            for column, bound in (("low", low), ("high", high)):
                if bound > FAR_ABOVE * row.value or 0 < bound < row.value / FAR_BELOW:
                    text = "{bound:g} is far from the value, {value:g}."
                    yield from asked(draft, row, column, text, "Look at the point", bound=bound)


#: A learned value so many times below or above that of the row it is for has its point misplaced, or another
#: unit: losses as arrivals teach them, days as a room or a season does.
_LEARNED_TIMES = {"loss_handling": 8.0, "loss_per_day": 8.0, "hatch_early_d": 2.5, "hatch_usual_d": 2.5}
_LEARNED_TIMES |= {"zero_c": 1.5, "exposed_h": 4.0, "border_share": 5.0, "parcel_lost_share": 8.0}
_LEARNED_TIMES |= {"hatch_late_d": 2.5, "eyed_at": 1.8, "early_d": 4.0, "usual_d": 4.0, "late_d": 4.0}
_OTHER_UNIT = re.compile(r"week|month|hour|percent|%|woche|monat|stunde|semaine|heure|semana|hora", re.I)
#: Units of no days at all: a share, degrees, something a day.
_NO_DAYS = re.compile(
    r"share|anteil|part\b|parte|degree|°|grad|\b(?:a|per|pro|par|por) (?:day|tag|jour|día)\b|/ ?(?:d|tag)\b",
    re.IGNORECASE,
)


def learned_values_are_near_the_tables(draft: Draft) -> Iterator[Problem]:
    """A learned value far off that of what it is for, or in another unit; a lot that loses no egg."""
    named: list[tuple[str, Row]] = [(folded(row.species), row) for row in draft.species]
    named += [(name, row) for row in draft.packings for name in {folded(row.packing), row.kind}]
    named += [(folded(row.service), row) for row in draft.services]
    rows_of, usual = grouped(named), dict[tuple[str, str], float]()
    for rate in draft.rates:
        if rate.what == "shelf_loss_per_day" and rate.value == 0:
            text = "is 0: no egg would ever be lost."
            yield from asked(draft, rate, "value", text, "Write the share that is lost")
        days = rate.what.endswith("_d") or rate.what.endswith("_per_day")
        if days and (
            _OTHER_UNIT.search(rate.unit) or (rate.what.endswith("_d") and _NO_DAYS.search(rate.unit))
        ):
            text = say("'{unit}', and {what} is of days.", rate.unit, rate.what)
            yield from asked(draft, rate, "unit", text, "Look at both")
        if (times := _LEARNED_TIMES.get(rate.what)) is None or rate.value <= 0:
            continue
        key = (folded(rate.for_.partition("/")[0]), rate.what)
        if key not in usual:
            rows = rows_of.get(key[0], ())
            known = [float(value) for row in rows if (value := getattr(row, rate.what, None))]
            usual[key] = median(known) if known else 0.0
        if usual[key] and not usual[key] / times < rate.value < usual[key] * times:
            text = say("{mine:g}, and its own is {usual:g}.", rate.value, usual[key])
            yield from asked(draft, rate, "value", text, "Look at the point")
