"""What must hold before an entry is recorded: eggs are there, and nothing rests on what is taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shipping.ledger.claims.sent_again import owed_order
from shipping.ledger.entries import (
    Bought,
    ClaimSettled,
    Entry,
    Erased,
    LedgerAccepted,
    Packed,
    PlanKept,
    Undone,
)
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept import LineKey, kept_parcels
from shipping.ledger.lot_counts import Counted, check_counts, name_now
from shipping.ledger.state import LedgerState, undone_entries
from shipping.words.sentence import say


def check_held(state: LedgerState, kept: PlanKept, counted: Mapping[str, Counted]) -> None:
    """Nothing, if every lot the plan draws on holds what is packed since its count, held, and planned now.

    Raises
    ------
    LedgerError
        If one does not, naming it and its figures.
    """
    parcels = kept_parcels(kept.plan, 0, {})
    held = state.held(state.released_by(kept, parcels))
    drawn: set[str] = set()
    for parcel in parcels:
        there = state.parcels.get(parcel.parcel)
        if there is None or there.is_planned:
            for count in parcel.planned_counts():
                held[count.lot] = held.get(count.lot, 0) + count.eggs
                drawn.add(name_now(count.lot, counted))
    for lot, eggs in _by_name_now(held, counted).items():
        if lot in drawn:
            check_counts(lot, eggs, state.packed, counted)


def check_packed(state: LedgerState, packed: Packed, counted: Mapping[str, Counted]) -> None:
    """Nothing, if the parcel was kept by that day, and every lot holds what is to be packed now.

    Raises
    ------
    LedgerError
        If not, naming the day, or the lot and its figures.
    """
    kept_on = state.parcel(packed.parcel).kept_on
    if packed.on < kept_on:
        text = say("parcel {parcel} was kept on {kept_on}, after {on}.", packed.parcel, kept_on, packed.on)
        raise LedgerError(text, "Give the day it was packed.")
    eggs: dict[str, int] = {}
    for count in packed.counts:
        eggs[count.lot] = eggs.get(count.lot, 0) + count.eggs
    for lot, taken in _by_name_now(eggs, counted).items():
        if taken:
            check_counts(lot, taken, state.packed, counted, packed.on)


def _by_name_now(eggs: Mapping[str, int], counted: Mapping[str, Counted]) -> dict[str, int]:
    by_name: dict[str, int] = {}
    for lot in sorted(eggs):
        name = name_now(lot, counted)
        by_name[name] = by_name.get(name, 0) + eggs[lot]
    return by_name


def check_numbers(kept: PlanKept, numbers: Mapping[str, frozenset[LineKey]]) -> None:
    """Nothing, if no parcel of the plan has a number that another ever had: its slip may lie about.

    Raises
    ------
    LedgerError
        Naming the first that has.
    """
    for parcel in kept_parcels(kept.plan, 0, {}):
        if numbers.get(parcel.parcel, parcel.line_keys) != parcel.line_keys:
            text = say("another parcel was called {parcel} before.", parcel.parcel)
            raise LedgerError(text, "Plan again, so that it gets a free number.")


def entry_to_undo(entries: Sequence[Entry], wanted: int | str | None) -> int:
    """The number of the entry to take back: the last that stands, the last about a parcel, or the one wanted.

    Raises
    ------
    LedgerError
        If there is none, or it cannot be taken back.
    """
    gone = undone_entries(entries)
    standing = [entry for entry in entries if entry.seq not in gone and not isinstance(entry.body, Undone)]
    if not standing:
        raise LedgerError("there is nothing to take back.", "See `spawnpost history`.")
    wanted = standing[-1].seq if wanted is None else wanted
    chosen = next((entry for entry in reversed(standing) if wanted in (entry.seq, entry.parcel)), None)
    if chosen is None:
        what = say("entry about parcel {wanted}", wanted)
        if isinstance(wanted, int):
            what = say("entry {wanted} that stands", wanted)
        raise LedgerError(say("there is no {what}.", what), "See `spawnpost history`.")
    if isinstance(chosen.body, LedgerAccepted):
        text = say("entry {seq} said that this ledger is right.", chosen.seq)
        raise LedgerError(text, "Put another back: spawnpost copy --back.")
    if isinstance(chosen.body, Erased):
        text = say("entry {seq} erased a buyer's data, which cannot be brought back.", chosen.seq)
        raise LedgerError(text, "Name the number of an earlier entry to take that one back.")
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
            is_used, what = body.lot in lots, say("lot {lot}", body.lot)
        else:
            name = owed_order((body.order, body.line))
            is_used, what = any(line.order == name for line in parcel.lines), say("order {name}", name)
        if is_used:
            text = say("parcel {parcel} holds {what} of entry {seq}.", parcel.parcel, what, chosen.seq)
            raise LedgerError(text, "Take that parcel back first.")


def _check_nothing_rests_on(chosen: Entry, standing: Sequence[Entry]) -> None:
    try:
        LedgerState.after((entry for entry in standing if entry is not chosen), strictly=True)
    except LedgerError as error:
        text = say("later entries rest on entry {seq} ({text}).", chosen.seq, error.text)
        raise LedgerError(text, "Take those back first.") from error
