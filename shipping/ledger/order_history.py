"""What became of an order: a ledger in, its parcels that a plan leaves alone, with what was told, out."""

from __future__ import annotations

from dataclasses import dataclass

from shipping.ledger.claims import to_settle
from shipping.ledger.entries import EntryInWords
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.tables.rows.settings import Claims
from shipping.tables.spelling import folded
from shipping.words.keys import grouped


@dataclass(frozen=True, slots=True)
class ParcelOfOrder:
    """A parcel with ``lines`` of an order, what is recorded of it, and whether its buyer is still owed."""

    parcel: KeptParcel
    lines: tuple[KeptLine, ...]
    entries: tuple[EntryInWords, ...]
    is_due: bool

    def as_json(self) -> dict[str, object]:
        entries = [entry.as_json() for entry in self.entries]
        return {"parcel": self.parcel.parcel, "state": self.parcel.state, "entries": entries}


def parcels_of_order(ledger: Ledger, order: str, week: str, claims: Claims) -> tuple[ParcelOfOrder, ...]:
    """The parcels of an order, however it is spelt, but those that a plan of that week makes anew."""
    found = [
        (one, tuple(line for line in one.lines if folded(line.order) == folded(order)))
        for one in ledger.parcels()
        if not (one.is_planned and one.week == week)
    ]
    mine = [(one, own) for one, own in found if own]
    history = [entry for entry in ledger.history() if not entry.undone] if mine else []
    of_parcel = grouped((entry.parcel, entry) for entry in history)
    due = to_settle((one for one, _ in mine), claims)
    return tuple(
        ParcelOfOrder(one, own, tuple(of_parcel.get(one.parcel, ())), one.parcel in due) for one, own in mine
    )
