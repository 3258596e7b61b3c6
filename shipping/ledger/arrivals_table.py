"""Rows of the table of arrivals, checked as hard as reports are: rows and kept parcels in, problems out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from shipping.ledger.entries import LineReport
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept import KeptLine, KeptParcel
from shipping.ledger.state import STEPS, check_report
from shipping.tables.rows.arrivals import Arrival
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

_MEND = "Mend the row, or take it out."


def arrival_problems(
    arrivals: Iterable[Arrival], parcels: Mapping[str, KeptParcel], today: date
) -> tuple[Problem, ...]:
    """What is wrong with each row: a parcel or line that is not kept, or not sent, or that cannot be."""
    known = dict(parcels)
    found: list[Problem] = []
    for row in sorted(arrivals, key=lambda row: (row.at.row, row.parcel, row.line)):
        try:
            known[row.parcel] = _with_row(row, known.get(row.parcel), today)
        except LedgerError as trouble:
            found.append(Problem(row.at, "parcel", "arrival", trouble.text, trouble.mend or _MEND, Level.LOT))
    return tuple(found)


def _with_row(row: Arrival, parcel: KeptParcel | None, today: date) -> KeptParcel:
    """The parcel with what the row reports.

    Raises
    ------
    LedgerError
        If it cannot be.
    """
    if parcel is None:
        raise LedgerError(say("no parcel '{parcel}' is kept.", row.parcel), "Copy its number from the slip.")
    if STEPS[parcel.state] < STEPS["sent"] or parcel.sent_on is None:
        text = say("parcel {parcel} is only {state}.", row.parcel, parcel.state)
        raise LedgerError(text, say("Record first that it was sent: spawnpost send {parcel}.", row.parcel))
    if not parcel.sent_on <= row.arrived_on <= today:
        text = say(
            "it arrived on {arrived_on}, but was sent on {sent_on}, and today is {today}.",
            row.arrived_on,
            parcel.sent_on,
            today,
        )
        raise LedgerError(text, "Give the day it arrived.")
    line = line_of_row(row, parcel)
    if line is None:
        names = ", ".join(str(n) for n, _ in sorted(_numbers(parcel).items()))
        raise LedgerError(
            say("parcel {parcel} has no line {line}.", row.parcel, row.line),
            say("Its lines are {names}.", names),
        )
    report = LineReport(
        order=line.order,
        line=line.line,
        alive=row.alive,
        hatched_alive=row.hatched_alive,
        dead=row.dead,
        missing=row.missing,
    )
    check_report(parcel, report)
    before = parcel.reports.get(line.key)
    return replace(
        parcel, reports={**parcel.reports, line.key: before.with_more(report) if before else report}
    )


def line_of_row(row: Arrival, parcel: KeptParcel) -> KeptLine | None:
    """The line a row is about: by its number in its order, or by its place where the parcel joins orders."""
    return _numbers(parcel).get(row.line)


def _numbers(parcel: KeptParcel) -> dict[int, KeptLine]:
    joined = len({line.order for line in parcel.lines}) > 1
    return {place if joined else line.line: line for place, line in enumerate(parcel.lines, start=1)}
