"""Checks of arrivals: days of their parcel's week, counts of a size with others."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date

from shipping.tables.checks.row_problems import after_today, asked, noted
from shipping.tables.rows.learned import Arrival
from shipping.tables.shelf import Draft
from shipping.words.problems import Problem
from shipping.words.sentence import say


def arrivals_have_happened(draft: Draft) -> Iterator[Problem]:
    """The week in a parcel's name <= arrived_on <= today."""
    first: dict[str, Arrival] = {}
    for arrival in draft.arrivals:
        other = first.setdefault(arrival.parcel, arrival)
        if other.arrived_on != arrival.arrived_on:
            told = (arrival.arrived_on, other.arrived_on, other.at.row)
            text = say("{day} here, and {other} on row {row} for the same parcel.", *told)
            yield from asked(draft, arrival, "arrived_on", text, say("Look at both days"))
        if arrival.arrived_on > draft.today:
            yield from after_today(draft, arrival, "arrived_on", "Write the day it arrived.")
        elif (monday := _monday_of(arrival.parcel)) is None:
            text = "'{parcel}' is no parcel's name."
            mend = "Write it as on the slip, such as 2026-W49-01: else nothing is learned from it."
            yield noted(arrival, "parcel", "parcel-name", text, mend)
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
            yield from asked(draft, row, column, text, say("Look at the point"))


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
        yield from asked(draft, most, "line", text, say("Look at the row as a whole"))
