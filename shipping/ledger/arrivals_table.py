"""Rows of the table of arrivals, checked as hard as reports are: rows and kept parcels in, problems out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from shipping.ledger.entries import LineReport
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept import KeptLine, KeptParcel, LineKey
from shipping.ledger.state import STEPS, check_report
from shipping.tables.rows.learned import Arrival
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say


def arrival_problems(
    arrivals: Iterable[Arrival], parcels: Mapping[str, KeptParcel], today: date
) -> tuple[Problem, ...]:
    """What is wrong with each row: a parcel or line that is not kept, or not sent, or that cannot be."""
    known = dict(parcels)
    problems: list[Problem] = []
    for row in sorted(arrivals, key=lambda row: (row.at.row, row.parcel, row.line)):
        try:
            known[row.parcel] = _with_row(row, known.get(row.parcel), today)
        except LedgerError as trouble:
            mend = trouble.mend or "Mend the row, or take it out."
            problems.append(Problem(row.at, "parcel", "arrival", trouble.text, mend, Level.LOT))
    return tuple(problems)


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
        days = (row.arrived_on, parcel.sent_on, today)
        text = say("it arrived on {arrived_on}, but was sent on {sent_on}, and today is {today}.", *days)
        raise LedgerError(text, "Give the day it arrived.")
    line = line_of_row(row, parcel)
    if line is None:
        mend = say("Its lines are {names}.", ", ".join(map(str, sorted(_numbers(parcel)))))
        raise LedgerError(say("parcel {parcel} has no line {line}.", row.parcel, row.line), mend)
    report = reported_in(row, line.key)
    check_report(parcel, report)
    before = parcel.reports.get(line.key)
    report = before.with_more(report) if before else report
    return replace(parcel, reports={**parcel.reports, line.key: report})


def reported_in(row: Arrival, key: LineKey) -> LineReport:
    """What a row reports of a line."""
    counts = {name: getattr(row, name) for name in ("alive", "hatched_alive", "dead", "missing")}
    return LineReport(order=key[0], line=key[1], **counts)


def line_of_row(row: Arrival, parcel: KeptParcel) -> KeptLine | None:
    """The line a row is about: by its number in its order, or by its place where the parcel joins orders."""
    return _numbers(parcel).get(row.line)


def _numbers(parcel: KeptParcel) -> dict[int, KeptLine]:
    joined = len({line.order for line in parcel.lines}) > 1
    return {place if joined else line.line: line for place, line in enumerate(parcel.lines, start=1)}
