"""Entries in words: entries in, one line each out, without names of buyers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from shipping.ledger.entries import (
    Arrived,
    Body,
    Bought,
    ClaimOpened,
    ClaimSettled,
    Entry,
    Erased,
    LedgerAccepted,
    LetGo,
    OrderCorrected,
    Packed,
    PlanKept,
    Sent,
    Undone,
)
from shipping.ledger.state import undone_entries


@dataclass(frozen=True, slots=True)
class Told:
    """One entry in words; ``undone`` entries were taken back and count for nothing."""

    entry: int
    day: date
    kind: str
    parcel: str
    text: str
    undone: bool

    def as_json(self) -> dict[str, object]:
        return {
            "entry": self.entry,
            "day": self.day.isoformat(),
            "kind": self.kind,
            "parcel": self.parcel or None,
            "text": self.text,
            "undone": self.undone,
        }


def told(entries: Iterable[Entry]) -> tuple[Told, ...]:
    """Each entry in words, in its order."""
    entries = tuple(entries)
    gone = undone_entries(entries)
    return tuple(
        Told(entry.seq, entry.day, entry.kind, entry.parcel, _words(entry.body), entry.seq in gone)
        for entry in entries
    )


def _words(body: Body) -> str:
    if isinstance(body, PlanKept):
        parcels = body.plan.get("parcels", ())
        return f"kept the plan of {body.week}: {_many(len(parcels), 'parcel')}"
    if isinstance(body, Packed):
        counts = ", ".join(
            f"{count.order}:{count.line} {count.eggs} from {count.lot}" for count in body.counts
        )
        photo = " (with a photo)" if body.photo_sha256 else ""
        anyway = f"; anyway, against {', '.join(body.answered)}" if body.answered else ""
        return f"packed on {body.on}: {counts}{photo}{anyway}"
    if isinstance(body, Sent):
        item = f", item {body.item}" if body.item else ""
        return f"sent on {body.on} by {body.service}{item}"
    if isinstance(body, Arrived):
        return f"{body.how} on {body.on}" + (f": {_found(body)}" if body.lines else "")
    if isinstance(body, LetGo):
        return "let go"
    return _other_words(body)


def _other_words(body: Body) -> str:
    if isinstance(body, Bought):
        return f"bought in lot {body.lot} on {body.arrived_on}: {body.alive} of {body.sent} alive"
    if isinstance(body, ClaimOpened):
        return f"claim for {body.order}:{body.line}: {body.about}"
    if isinstance(body, ClaimSettled):
        eggs = f", {_many(body.eggs, 'egg')}" if body.eggs else ""
        amount = f", {body.amount} back" if body.amount else ""
        return f"claim for {body.order}:{body.line} settled: {body.how}{eggs}{amount}"
    if isinstance(body, OrderCorrected):
        return f"order {body.order} is the same order, placed on {body.placed_on}, corrected"
    if isinstance(body, LedgerAccepted):
        return (
            f"this ledger was said to be right, though {_many(body.entries, 'entry', 'entries')} were known"
        )
    if isinstance(body, Undone):
        return f"took back entry {body.entry}"
    if isinstance(body, Erased):
        return f"erased a buyer's data in {_many(len({seq for seq, _ in body.parts}), 'entry', 'entries')}"
    raise TypeError(f"{body!r} has no words")


def _found(body: Arrived) -> str:
    reports = []
    for report in body.lines:
        counts = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in report.told.items())
        reports.append(f"{report.order}:{report.line} {counts}")
    return "; ".join(reports)


def _many(count: int, one: str, several: str = "") -> str:
    return f"{count} {one if count == 1 else several or one + 's'}"
