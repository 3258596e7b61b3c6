"""What must hold before an entry is recorded: eggs that are there, and nothing resting on what is taken
back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shipping.ledger.claims.sent_again import owed_order
from shipping.ledger.counts import Counted
from shipping.ledger.entries import Bought, ClaimSettled, Entry, Erased, Packed, PlanKept, Undone
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept import kept_parcels
from shipping.ledger.state import LedgerState, undone_entries


def check_held(state: LedgerState, kept: PlanKept, counted: Mapping[str, Counted]) -> None:
    """Nothing, if every lot the plan draws on holds what is packed since its count, held, and planned now.

    Raises
    ------
    LedgerError
        If one does not, naming it and its figures.
    """
    parcels = kept_parcels(kept.plan, 0, {})
    held = state.held(state.released_by(kept, parcels))
    for parcel in parcels:
        there = state.parcels.get(parcel.parcel)
        if there is None or there.state == "planned":
            for count in parcel.planned_counts():
                held[count.lot] = held.get(count.lot, 0) + count.eggs
    for lot, eggs in sorted(held.items()):
        if any(count.lot == lot for parcel in parcels for count in parcel.planned_counts()):
            _check_lot(state, lot, eggs, counted, "are held or would be")


def check_lots(state: LedgerState, packed: Packed, counted: Mapping[str, Counted]) -> None:
    """Nothing, if every lot holds what is packed since its count and what is to be packed now.

    Raises
    ------
    LedgerError
        If one does not, naming it and its figures.
    """
    eggs: dict[str, int] = {}
    for count in packed.counts:
        eggs[count.lot] = eggs.get(count.lot, 0) + count.eggs
    for lot, taken in sorted(eggs.items()):
        _check_lot(state, lot, taken, counted, "are to be packed")


def _check_lot(state: LedgerState, lot: str, eggs: int, counted: Mapping[str, Counted], what: str) -> None:
    if lot not in counted:
        raise LedgerError(f"lot {lot} is not in the tables.", "Write it in lots, with its count.")
    count = counted[lot]
    packed = state.packed_since(lot, count.counted_on)
    if packed + eggs > count.eggs:
        raise LedgerError(
            f"lot {lot} has {max(0, count.eggs - packed)} eggs left ({count.eggs} counted on"
            f" {count.counted_on}, {packed} packed since), but {eggs} {what}.",
            "Pack fewer, or count the lot again and write a look.",
        )


def entry_to_undo(entries: Sequence[Entry], wanted: int | None) -> int:
    """The number of the entry to take back: the last that stands, or the one wanted.

    Raises
    ------
    LedgerError
        If there is none, or it cannot be taken back.
    """
    gone = undone_entries(entries)
    standing = [entry for entry in entries if entry.seq not in gone and not isinstance(entry.body, Undone)]
    if not standing:
        raise LedgerError("there is nothing to take back.", "See `spawnpost history`.")
    chosen = next((entry for entry in standing if entry.seq == wanted), None) if wanted else standing[-1]
    if chosen is None:
        raise LedgerError(f"there is no entry {wanted} that stands.", "See `spawnpost history`.")
    if isinstance(chosen.body, Erased):
        raise LedgerError(
            f"entry {chosen.seq} erased a buyer's data, which cannot be brought back.",
            "Name the number of an earlier entry to take that one back.",
        )
    if chosen is not standing[-1]:
        _check_nothing_drawn_from(chosen, standing)
        _check_nothing_rests_on(chosen, standing)
    return chosen.seq


def _check_nothing_drawn_from(chosen: Entry, standing: Sequence[Entry]) -> None:
    """A lot bought in or an order owed again is not taken back while a parcel holds it."""
    body = chosen.body
    if not isinstance(body, Bought | ClaimSettled):
        return
    for parcel in LedgerState.after(standing).parcels.values():
        if isinstance(body, Bought):
            lots = {count.lot for count in (*parcel.counts, *parcel.planned_counts())}
            is_used, what = body.lot in lots, f"lot {body.lot}"
        else:
            name = owed_order((body.order, body.line))
            is_used, what = any(line.order == name for line in parcel.lines), f"order {name}"
        if is_used:
            raise LedgerError(
                f"parcel {parcel.parcel} holds {what} of entry {chosen.seq}.", "Take that parcel back first."
            )


def _check_nothing_rests_on(chosen: Entry, standing: Sequence[Entry]) -> None:
    try:
        LedgerState.after((entry for entry in standing if entry is not chosen), strictly=True)
    except LedgerError as error:
        raise LedgerError(
            f"later entries rest on entry {chosen.seq} ({error.text}).", "Take those back first."
        ) from error
