"""The ledger: what was kept, packed, sent and reported goes in once and is never lost; what stands comes out.

Counts and days come in checked against what stands; storing is journal's and store's, what it teaches is
outcomes'.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from shipping.ledger.added_rows import Owed, check_bought, owed
from shipping.ledger.entries import (
    Arrived,
    Body,
    Bought,
    ClaimOpened,
    ClaimSettled,
    Entry,
    EntryInWords,
    Journey,
    LetGo,
    LineChance,
    LineCount,
    LineReport,
    OrderCorrected,
    Packed,
    PlanKept,
    Sent,
    Undone,
    canonical,
    entries_in_words,
    to_facts,
)
from shipping.ledger.errors import LEDGER_FILE, LedgerError, holds_anything, none_in
from shipping.ledger.journal import copies
from shipping.ledger.journal.journal import Journal
from shipping.ledger.journal.personal import with_names
from shipping.ledger.journal.store import PATIENCE_S, Store
from shipping.ledger.kept_parcel import KeptParcel
from shipping.ledger.lot_counts import LotCounts, PackedEggs, name_now, packed_as_counted, packings_by_name
from shipping.ledger.parcel_states import (
    LedgerState,
    OrderKept,
    check_held,
    check_numbers,
    check_packed,
    claims_left_bare,
    entry_to_undo,
)
from shipping.post.item_id import item_id_problem
from shipping.tables.shelf import Shelf
from shipping.words.keys import LineKey
from shipping.words.sentence import say


class Ledger(Journal):
    """An open ledger, used in a ``with``. Recording methods return their entry, safe on the disk."""

    @classmethod
    def open(
        cls, folder: Path, today: date, *, create: bool = False, patience_s: float = PATIENCE_S
    ) -> Ledger:
        """The ledger of a shelf's folder; a new one where ``create`` and there is none yet. Raises
        LedgerError if there is none, it cannot be read, a newer program wrote it, or it is gone while its
        copies are there.
        """
        path = folder / LEDGER_FILE
        is_new = not holds_anything(path)
        if is_new and copies.copies_in(folder):
            raise LedgerError(
                say("it is gone from {folder} or empty, but its copies are there.", folder),
                "Put it back, or go on from the newest copy: spawnpost copy --back.",
            )
        if is_new and not create and path.is_file():
            raise none_in(folder)
        store = Store.at(path, create=create and is_new, patience_s=patience_s)
        try:
            copies.bring_up_to_date(store, folder, create)
            ledger = cls(store, folder, today, is_new)
            ledger.refresh()
        except BaseException:
            store.close()
            if is_new and path.is_file() and not path.stat().st_size:
                path.unlink()
            raise
        return ledger

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        self.close()

    # -- recording

    def keep_plan(
        self,
        plan: Mapping[str, Any],
        counted: Mapping[str, LotCounts] | None = None,
        placed: Mapping[str, date] | None = None,
        to_marks: Mapping[str, str] | None = None,
    ) -> Entry:
        """Keep a week's plan (its JSON, whole, as it stood): its parcels hold their eggs until packed or let
        go.

        It replaces parcels still only planned of the same week, or that share a line with it; where the last
        entry kept this very plan nothing is written, and that one is given back. With
        ``counted``, no lot may be held and packed beyond its count. ``placed``: the day of each order in it;
        ``to_marks``: the mark of its address.
        """
        orders = {order for parcel in plan.get("parcels", ()) for order in parcel.get("orders", ())}
        days = {order: day for order, day in (placed or {}).items() if order in orders}
        marks = {order: mark for order, mark in (to_marks or {}).items() if order in orders}
        kept = PlanKept(week=str(plan.get("week", "")), plan=dict(plan), placed=days, to_marks=marks)
        last = next(iter(self.entries()[-1:]), None)
        if last is not None and isinstance(last.body, PlanKept):
            there = replace(last.body, plan=with_names(last.body.plan, last.buyers))
            if canonical(to_facts(there)) == canonical(to_facts(kept)):
                return last

        def allowed(state: LedgerState, body: PlanKept) -> None:
            check_numbers(body, self.known_numbers)
            if counted is not None:
                check_held(state, body, counted)

        return self.record(lambda: kept, allowed)

    def pack(
        self,
        parcel: str,
        counts: Sequence[LineCount] | None = None,
        *,
        counted: Mapping[str, LotCounts] | None = None,
        on: date | None = None,
        photo_sha256: str | None = None,
        chances: Sequence[LineChance] = (),
        anyway: str = "",
        answered: Sequence[str] = (),
        to_mark: str = "",
    ) -> Entry:
        """Record that a parcel was packed: as planned, or with these ``counts``; lots never go below zero.

        ``counted`` are the lots' counts (`eggs_counted`); the check is made in the same transaction. What
        speaks against it on the day is `packing`'s; all else comes from there.
        """
        day = self.day(on)
        if photo_sha256 is not None and not re.fullmatch(r"[0-9a-f]{64}", photo_sha256):
            text = "the photo's digest is not 64 hexadecimal digits."
            raise LedgerError(text, "Give the photo's file instead.")

        def compose() -> Body:
            chosen = tuple(counts) if counts is not None else self.state.parcel(parcel).planned_counts()
            since = {
                count.lot: known
                for count in chosen
                if counted and count.lot in counted and (known := counted[count.lot].count_for(day))
            }
            return Packed(
                parcel=parcel,
                on=day,
                counts=chosen,
                photo_sha256=photo_sha256,
                counted_on={lot: known.on for lot, known in since.items()},
                counts_of_day={lot: known.nth for lot, known in since.items()},
                chances=tuple(chances),
                anyway=anyway,
                answered=tuple(answered),
                to_mark=to_mark,
            )

        guard = partial(check_packed, counted=counted) if counted is not None else None
        return self.record(compose, guard)

    def send(
        self,
        parcel: str,
        *,
        on: date | None = None,
        service: str = "",
        item: str = "",
        anyway: str = "",
        answered: Sequence[str] = (),
        journey: Journey | None = None,
    ) -> Entry:
        """Record that a packed parcel was handed over; the service is the plan's unless named. ``anyway`` and
        ``answered`` are as of `pack`; ``journey`` is its way, where it leaves otherwise than planned.
        """
        day = self.day(on)
        if item and (problem := item_id_problem(item)):
            raise LedgerError(problem, "")

        def compose() -> Body:
            by = service or self.state.parcel(parcel).service
            return Sent(
                parcel=parcel,
                on=day,
                service=by,
                item=item,
                anyway=anyway,
                answered=tuple(answered),
                journey=journey,
            )

        return self.record(compose)

    def arrive(
        self,
        parcel: str,
        reports: Sequence[LineReport],
        *,
        on: date | None = None,
        note: str = "",
        day_untold: bool = False,
    ) -> Entry:
        """Record what a buyer reported: all lines or some, all counts or some; more may be told later."""
        told = Arrived(parcel=parcel, on=self.day(on), lines=tuple(reports), note=note, day_untold=day_untold)
        return self._record(told)

    def end(
        self,
        parcel: str,
        how: str,
        *,
        on: date | None = None,
        note: str = "",
        back: Sequence[LineCount] = (),
        counted: Mapping[str, LotCounts] | None = None,
    ) -> Entry:
        """Record that a parcel sent was lost, or came back: ``how`` is lost or returned.

        ``back`` are the live eggs of a returned one: they count for their lots again, from ``on`` on, beside
        what was ``counted`` until then.
        """
        day, lots = self.day(on), {count.lot for count in back} & (counted or {}).keys()
        since = {lot: known for lot in lots if counted and (known := counted[lot].last_by(day))}
        body = Arrived(
            parcel=parcel,
            on=day,
            lines=(),
            how=how,
            note=note,
            back=tuple(back),
            counted_on={lot: known.on for lot, known in since.items()},
            counts_of_day={lot: known.nth for lot, known in since.items()},
        )
        return self.record(lambda: body, lambda state, _: state.check_ends_once(body))

    def correct_order(self, order: str, placed_on: date, addressee: str) -> Entry:
        """Record that an order kept before is the same one, though its day or buyer was changed."""
        return self._record(OrderCorrected(order=order, placed_on=placed_on, addressee=addressee))

    def drop(self, parcel: str, note: str = "") -> Entry:
        """Release a kept parcel that will not be packed."""
        return self._record(LetGo(parcel=parcel, note=note))

    def buy(self, bought: Bought, shelf: Shelf) -> Entry:
        """Record eggs bought in as a lot. Raises LedgerError if they cannot become one of that shelf."""
        self.day(bought.arrived_on)

        def may_become_a_lot(state: LedgerState, body: Bought) -> None:
            check_bought(body, shelf, state.lots_bought())

        return self.record(lambda: bought, may_become_a_lot)

    def open_claim(self, parcel: str, key: LineKey, about: str, note: str = "") -> Entry:
        """Record that a buyer claims for a line: ``about`` is short, hatched, late or lost."""
        return self._record(ClaimOpened(parcel=parcel, order=key[0], line=key[1], about=about, note=note))

    def settle_claim(
        self, parcel: str, key: LineKey, how: str, *, eggs: int = 0, amount: str = "", note: str = ""
    ) -> Entry:
        """Record how a claim ended."""
        order, line = key
        return self._record(
            ClaimSettled(parcel=parcel, order=order, line=line, how=how, eggs=eggs, amount=amount, note=note)
        )

    def undo(self, entry: int | str | None = None) -> Entry:
        """Take back the last entry that stands, or the one numbered ``entry`` if nothing rests on it.

        With a parcel's name, the last entry about that parcel.

        The new entry's ``body.entry`` names what was taken back; both stay in the history. Claims left open
        for which only a report taken back spoke are taken back behind it.
        """
        undone = self.record(lambda: Undone(entry=entry_to_undo(self.every_entry, entry)))
        for claim in claims_left_bare(self.every_entry, undone):
            self._record(Undone(entry=claim))
        return undone

    def _record(self, body: Body) -> Entry:
        return self.record(lambda: body)

    def day(self, on: date | None = None) -> date:
        """The day meant: today unless one is named. Raises LedgerError if that is after today."""
        day = on or self.today
        if day > self.today:
            text = say("{day} is after today, {today}.", day, self.today)
            raise LedgerError(text, "Give a day that has been.")
        return day

    # -- what stands

    def parcel(self, name: str) -> KeptParcel:
        """The kept parcel of that name. Raises LedgerError if none is kept, naming the nearest."""
        return self._now().parcel(name)

    def parcels(self) -> tuple[KeptParcel, ...]:
        """All kept parcels, by name."""
        parcels = self._now().parcels
        return tuple(parcels[name] for name in sorted(parcels))

    def parcel_states(self) -> dict[str, str]:
        """planned, packed, sent or arrived, by parcel."""
        return {parcel.parcel: parcel.state for parcel in self.parcels()}

    def packed_by_lot(self, counted: Mapping[str, LotCounts] | None = None) -> dict[str, dict[date, int]]:
        """Eggs packed from each lot on each day, as its counts see them: what `Shelf.packed` holds."""
        return packed_as_counted(self._now().packed, counted or {})

    def packings(self, counted: Mapping[str, LotCounts]) -> dict[str, tuple[PackedEggs, ...]]:
        """All packings of each lot, by the name it has now."""
        return packings_by_name(self._now().packed, counted)

    def eggs_left(
        self, counted: Mapping[str, LotCounts], lots: Iterable[str] | None = None
    ) -> dict[str, int]:
        """Eggs of these ``lots`` (of all) that may still be packed: the last count less eggs packed since."""
        packed = self._now().packed
        wanted = counted if lots is None else lots
        packings = packings_by_name(packed, counted, frozenset(name_now(lot, counted) for lot in wanted))
        return {lot: max(0, counted[lot].left(packings.get(name_now(lot, counted), ()))) for lot in wanted}

    def came_back(self) -> dict[str, tuple[tuple[date, int], ...]]:
        """Days and eggs that came back from parcels, by the name their lot had then."""
        packed = self._now().packed
        back = {lot: tuple((one.on, -one.eggs) for one in packed[lot] if one.eggs < 0) for lot in packed}
        return {lot: days for lot, days in back.items() if days}

    def lots_used(self) -> frozenset[str]:
        """Every lot that eggs were packed or are held of, by the name it had then."""
        state = self._now()
        return frozenset(state.packed) | state.held().keys()

    def held_by_lot(self) -> dict[str, int]:
        """Eggs held by parcels not yet packed, by lot."""
        return self._now().held()

    def bought_entries(self) -> tuple[Entry, ...]:
        """The entries that record eggs bought in, oldest first."""
        return tuple(self._now().bought)

    def owed(self) -> tuple[Owed, ...]:
        """What claims were settled to send again, by the new orders' names."""
        state = self._now()
        return owed(state.settled, state.parcels)

    def waiting_owed(self) -> tuple[Owed, ...]:
        """What is owed again and was not packed yet."""
        packed = {line.order for one in self.parcels() if not one.is_planned for line in one.lines}
        return tuple(line for line in self.owed() if line.order not in packed)

    def numbers(self) -> Mapping[str, frozenset[LineKey]]:
        """Every number a parcel ever had, and the lines it had then; those taken back or replaced too."""
        self.refresh()
        return self.known_numbers

    def orders(self) -> Mapping[str, OrderKept]:
        """What the number of every order kept meant then."""
        return self._now().orders

    def parcel_names(self) -> tuple[str, ...]:
        """The names of all kept parcels, sorted."""
        return tuple(sorted(self._now().parcels))

    def waiting(self) -> tuple[KeptParcel, ...]:
        """The kept parcels that were not handed over, by name."""
        state = self._now()
        return tuple(state.parcels[name] for name in sorted(state.waiting))

    def entries(self) -> tuple[Entry, ...]:
        """Every entry, the undone ones too, oldest first."""
        self.refresh()
        return tuple(self.every_entry)

    def history(self) -> tuple[EntryInWords, ...]:
        """Every entry in words, oldest first, without names of buyers."""
        return entries_in_words(self.entries())

    def entry_in_words(self, seq: int) -> EntryInWords:
        """One entry in words, as it stood when it was recorded."""
        self.refresh()
        body = self.entry(seq).body
        before = (self.entry(body.entry),) if isinstance(body, Undone) else ()
        return entries_in_words((*before, self.entry(seq)))[-1]

    def plan_kept(self, entry: int) -> dict[str, Any]:
        """The plan's JSON as entry ``entry`` kept it. Raises LedgerError if that entry kept no plan."""
        for kept in self.entries():
            if kept.seq == entry and isinstance(kept.body, PlanKept):
                return with_names(kept.body.plan, kept.buyers)
        text = say("entry {entry} kept no plan.", entry)
        raise LedgerError(text, "See `spawnpost history` for those that did.")

    def copy(self, to: Path) -> Path:
        """A whole copy at ``to``. Raises LedgerError if something is there, or it cannot be written."""
        self.store.copy_to(to)
        return to

    def _now(self) -> LedgerState:
        self.refresh()
        return self.state
