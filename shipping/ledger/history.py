"""Entries in words: entries in, one line each out, without names of buyers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
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


def in_english(text: str, /, **fields: object) -> str:
    """A sentence with its fields put in."""
    return text.format(**fields)


def told(entries: Iterable[Entry], say: Callable[..., str] = in_english) -> tuple[Told, ...]:
    """Each entry in words, in its order; ``say`` puts the fields into a sentence, in whichever language."""
    entries = tuple(entries)
    gone = undone_entries(entries)
    return tuple(
        Told(entry.seq, entry.day, entry.kind, entry.parcel, _words(entry.body, say), entry.seq in gone)
        for entry in entries
    )


def _words(body: Body, say: Callable[..., str]) -> str:
    if isinstance(body, PlanKept):
        count = len(body.plan.get("parcels", ()))
        parcels = say("1 parcel") if count == 1 else say("{count} parcels", count=count)
        return say("kept the plan of {week}: {parcels}", week=body.week, parcels=parcels)
    if isinstance(body, Packed):
        lines = ((f"{count.order}:{count.line}", count) for count in body.counts)
        counts = ", ".join(
            say("{line} {eggs} from {lot}", line=line, eggs=count.eggs, lot=count.lot)
            for line, count in lines
        )
        photo = " " + say("(with a photo)") if body.photo_sha256 else ""
        told = say("packed on {day}: {counts}", day=body.on, counts=counts)
        return told + photo + _anyway(body.answered, say)
    if isinstance(body, Sent):
        item = say(", item {item}", item=body.item) if body.item else ""
        told = say("sent on {day} by {service}", day=body.on, service=body.service)
        return told + item + _anyway(body.answered, say)
    if isinstance(body, Arrived):
        how = say("{how} on {day}", how=say(body.how), day=body.on)
        return how + (f": {_found(body, say)}" if body.lines else "")
    if isinstance(body, LetGo):
        return say("let go")
    return _other_words(body, say)


def _anyway(answered: Sequence[str], say: Callable[..., str]) -> str:
    return say("; anyway, against {codes}", codes=", ".join(answered)) if answered else ""


def _other_words(body: Body, say: Callable[..., str]) -> str:
    if isinstance(body, Bought):
        return say(
            "bought in lot {lot} on {day}: {alive} of {sent} alive",
            lot=body.lot,
            day=body.arrived_on,
            alive=body.alive,
            sent=body.sent,
        )
    if isinstance(body, ClaimOpened):
        return say("claim for {line}: {about}", line=f"{body.order}:{body.line}", about=say(body.about))
    if isinstance(body, ClaimSettled):
        count = say("1 egg") if body.eggs == 1 else say("{count} eggs", count=body.eggs)
        eggs = f", {count}" if body.eggs else ""
        amount = say(", {amount} back", amount=body.amount) if body.amount else ""
        how = say("claim for {line} settled: {how}", line=f"{body.order}:{body.line}", how=say(body.how))
        return how + eggs + amount
    if isinstance(body, OrderCorrected):
        order, day = body.order, body.placed_on
        return say("order {order} is the same order, placed on {day}, corrected", order=order, day=day)
    if isinstance(body, LedgerAccepted):
        known = _entries(body.entries, say)
        return say("this ledger was said to be right, though {entries} were known", entries=known)
    if isinstance(body, Undone):
        return say("took back entry {entry}", entry=body.entry)
    if isinstance(body, Erased):
        count = _entries(len({seq for seq, _ in body.parts}), say)
        return say("erased a buyer's data in {entries}", entries=count)
    raise TypeError(f"{body!r} has no words")


def _found(body: Arrived, say: Callable[..., str]) -> str:
    reports = []
    for report in body.lines:
        counts = ", ".join(f"{count} {say(name.replace('_', ' '))}" for name, count in report.told.items())
        reports.append(f"{report.order}:{report.line} {counts}")
    return "; ".join(reports)


def _entries(count: int, say: Callable[..., str]) -> str:
    return say("1 entry") if count == 1 else say("{count} entries", count=count)
