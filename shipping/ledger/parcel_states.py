"""Where every parcel stands: entries in; parcels, eggs packed and held, and what may follow out."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from shipping.ledger.entries import (
    Arrived,
    Bought,
    ClaimOpened,
    ClaimSettled,
    Entry,
    Erased,
    LedgerAccepted,
    LetGo,
    LineReport,
    OrderCorrected,
    Packed,
    PlanKept,
    Sent,
    Undone,
    undone_entries,
)
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import NOT_COME, KeptParcel, eggs_by_lot, kept_parcels
from shipping.ledger.lot_counts import LotCounts, PackedEggs, check_counts, name_now
from shipping.tables.spelling import buyer_key
from shipping.words.keys import LineKey, owed_order
from shipping.words.sentence import both, either, joined, say

#: How far a parcel is by its state.
STEPS = {"planned": 0, "packed": 1, "sent": 2, "arrived": 3, "lost": 3, "returned": 3}
#: How a parcel's way may end.
HOW = ("arrived", "lost", "returned")


@dataclass(frozen=True, slots=True)
class OrderKept:
    """What an order's number meant when it was kept: the day it was placed, and for whom ("": erased).

    ``told_in`` is the entry, and the part of it, that names the addressee; ``renamed_in`` the last entry that
    said it is another name now (0: none did).
    """

    placed_on: date | None
    addressee: str
    told_in: tuple[int, str] = (0, "")
    renamed_in: int = 0


class LedgerState:
    """All parcels and lots as the entries leave them; grows by one entry at a time."""

    def __init__(self) -> None:
        self.parcels: MutableMapping[str, KeptParcel] = {}
        self.waiting: dict[str, None] = {}  # names of parcels not handed over, in the order they came
        self.packed: MutableMapping[str, tuple[PackedEggs, ...]] = {}
        self.orders: MutableMapping[str, OrderKept] = {}
        self.bought: list[Entry] = []
        self.settled: list[Entry] = []
        self.line_in: MutableMapping[LineKey, str] = {}
        self.sent_with_item: dict[int, str] = {}  # parcels by the entry that says so
        self.item_in: dict[str, str] = {}
        self.items_unread: Callable[[], dict[str, str]] | None = None
        self._read: tuple[Entry, tuple[KeptParcel, ...]] | None = None

    @classmethod
    def after(cls, entries: Iterable[Entry], *, strictly: bool = False) -> LedgerState:
        """What stands after all entries. Raises LedgerError if ``strictly`` and one could not follow."""
        entries = tuple(entries)
        taken_back = undone_entries(entries)
        state = cls()
        for entry in entries:
            if entry.seq not in taken_back:
                if strictly:
                    state.check(entry)
                state.take(entry)
        return state

    def parcel(self, name: str) -> KeptParcel:
        """The parcel of that name. Raises LedgerError if none is kept, naming the nearest."""
        if name in self.parcels:
            return self.parcels[name]
        own = [one.parcel for one in self.parcels.values() if name in {line.order for line in one.lines}]
        if own:
            raise LedgerError(
                say("'{name}' is an order, not a parcel.", name), say("It is in {parcels}.", ", ".join(own))
            )
        near = difflib.get_close_matches(name, self.parcels, n=3, cutoff=0.5)
        mend = "See spawnpost history." if self.parcels else "Keep a plan first: spawnpost plan --keep."
        mend = say("Did you mean {near}?", either(near)) if near else mend
        raise LedgerError(say("no parcel '{name}' is kept.", name), mend)

    def released_by(self, kept: PlanKept, parcels: tuple[KeptParcel, ...]) -> tuple[str, ...]:
        """Planned parcels that a newer plan replaces: those of its week, or that share a line."""
        keys = {line.key for parcel in parcels for line in parcel.lines}
        return tuple(
            parcel.parcel
            for parcel in self.planned()
            if parcel.week == kept.week or not keys.isdisjoint(parcel.line_keys)
        )

    def planned(self) -> Iterator[KeptParcel]:
        """The parcels kept and not yet packed."""
        return (parcel for name in self.waiting if (parcel := self.parcels[name]).is_planned)

    def held(self, without: Iterable[str] = ()) -> dict[str, int]:
        """Eggs held by parcels kept and not yet packed, by lot; ``without`` leaves parcels out."""
        left_out = frozenset(without)
        holding = (parcel for parcel in self.planned() if parcel.parcel not in left_out)
        eggs = eggs_by_lot(count for parcel in holding for count in parcel.planned_counts())
        return dict(sorted(eggs.items()))

    def lots_bought(self) -> frozenset[str]:
        """The names of the lots bought in."""
        return frozenset(entry.body.lot for entry in self.bought if isinstance(entry.body, Bought))

    # -- can it follow?

    def check(self, entry: Entry) -> None:
        """Raises LedgerError if the entry cannot follow what stands: twice, out of turn, of nothing."""
        body = entry.body
        if isinstance(body, PlanKept):
            self._check_plan(body, self._parcels_of(entry, body))
        elif isinstance(body, Packed):
            self._check_packed(body)
        elif isinstance(body, Sent):
            self._check_sent(body)
        elif isinstance(body, Arrived):
            self._check_arrived(body)
        elif isinstance(body, LetGo):
            self._in_state(body.parcel, "planned", "let go")
        elif isinstance(body, ClaimOpened | ClaimSettled):
            self._check_claim(body)
        elif isinstance(body, Bought) and body.lot in self.lots_bought():
            text = say("lot {lot} was bought in already.", body.lot)
            raise LedgerError(text, "Give the new one a name of its own.")

    def _check_plan(self, kept: PlanKept, parcels: tuple[KeptParcel, ...]) -> None:
        released = frozenset(self.released_by(kept, parcels))
        seen: set[str] = set()
        lines: set[LineKey] = set()
        for parcel in parcels:
            name, there = parcel.parcel, self.parcels.get(parcel.parcel)
            is_other = there and there.planned_counts() != parcel.planned_counts()
            if name in seen or (is_other and name not in released):
                text = say("another parcel is already called {parcel}.", name)
                raise LedgerError(text, "Plan again, so that it gets a free number.")
            seen.add(name)
            for key in sorted(parcel.line_keys):
                held_in = self.line_in.get(key)
                if key in lines or (held_in and held_in not in released and held_in != name):
                    text = say("line {order}:{line} is already in parcel {where}.", *key, held_in or name)
                    raise LedgerError(text, "Plan again without that line.")
                lines.add(key)

    def _in_state(self, name: str, state: str, doing: str) -> KeptParcel:
        parcel = self.parcel(name)
        if parcel.state == state:
            return parcel
        told = (name, say(doing), say(parcel.state))
        if STEPS[parcel.state] > STEPS[state]:
            raise LedgerError(
                say("parcel {name} cannot be {doing}: it is {state} already.", *told),
                say("Nothing was recorded twice; `spawnpost undo {name}` takes its last entry back.", name),
            )
        step = {"planned": "pack", "packed": "send", "sent": "arrive"}
        raise LedgerError(
            say("parcel {name} cannot be {doing}: it is only {state}.", *told),
            say("First record `spawnpost {step} {name}`.", step[parcel.state], name),
        )

    def _check_packed(self, body: Packed) -> None:
        parcel = self._in_state(body.parcel, "planned", "packed")
        planned = {(count.order, count.line, count.lot) for count in parcel.planned_counts()}
        seen: set[tuple[str, int, str]] = set()
        for count in body.counts:
            order, number, lot = key = (count.order, count.line, count.lot)
            line = parcel.line((order, number))
            if key not in planned:
                lots = ", ".join(draw.lot for draw in line.draws)
                raise LedgerError(
                    say("the plan takes nothing from lot {lot} for line {order}:{line}.", lot, order, number),
                    say("It takes from {lots}; plan again to use another lot.", lots),
                )
            if key in seen or count.eggs < 0:
                text = say("line {order}:{line} from lot {lot} has two counts or one below zero.", *key)
                raise LedgerError(text, "Give one count for each line and lot.")
            seen.add(key)
        if not sum(count.eggs for count in body.counts):
            text = say("parcel {parcel} would be packed empty.", body.parcel)
            raise LedgerError(text, "Give the eggs packed for each line.")

    def _check_sent(self, body: Sent) -> None:
        parcel = self._in_state(body.parcel, "packed", "sent")
        if parcel.packed_on and body.on < parcel.packed_on:
            told = (body.parcel, parcel.packed_on, body.on)
            text = say("parcel {parcel} was packed on {packed_on}, after {on}.", *told)
            raise LedgerError(text, "Give the day it was sent.")
        if body.item and self.items_unread is not None:
            self.item_in, self.items_unread = self.items_unread() | self.item_in, None
        other = self.item_in.get(body.item) if body.item else None
        if other:
            text = say("item number {item} is on parcel {other} already.", body.item, other)
            raise LedgerError(text, "Copy it from this parcel's own receipt.")

    def _check_arrived(self, body: Arrived) -> None:
        parcel = self.parcel(body.parcel)
        if STEPS[parcel.state] < STEPS["arrived"] or (body.how != "arrived" and parcel.state == "arrived"):
            self._in_state(body.parcel, "sent", "reported")
        if parcel.sent_on and body.on < parcel.sent_on:
            told = (body.parcel, parcel.sent_on, body.on)
            text = say("parcel {parcel} was sent on {sent_on}, after {on}.", *told)
            raise LedgerError(text, "Give the day it arrived.")
        if body.how not in HOW:
            mend = say("Write one of {words}.", ", ".join(HOW))
            raise LedgerError(say("'{how}' is no way to end.", body.how), mend)
        is_told = any(report.told for report in body.lines)
        if body.how != "arrived" and is_told:
            text = say("a parcel that is {how} has no counts.", say(body.how))
            raise LedgerError(text, "Leave the counts away.")
        self._check_back(parcel, body)
        if body.how == "arrived" and not is_told:
            raise LedgerError("the report has no counts.", "Give at least the live eggs, as --alive 22.")
        seen: set[LineKey] = set()
        for report in body.lines:
            check_report(parcel, report, seen)
            seen.add((report.order, report.line))

    def check_ends_once(self, body: Arrived) -> None:
        """Raises LedgerError if an end is about to be recorded that was recorded already; ledgers of before
        may hold it twice, and are read all the same.
        """
        if self.parcel(body.parcel).state == body.how and not body.back:
            self._in_state(body.parcel, "sent", "reported")

    def _check_back(self, parcel: KeptParcel, body: Arrived) -> None:
        """Each egg comes back once, from a parcel that was returned, and no more than were packed."""
        if parcel.back and (body.back or body.how != "returned"):
            text = say("the eggs of parcel {parcel} that came back are counted already.", body.parcel)
            raise LedgerError(text, say("If that was wrong: spawnpost undo {parcel}.", body.parcel))
        if body.back and body.how != "returned":
            text = say("a parcel that is {how} brings no eggs back.", say(body.how))
            raise LedgerError(text, "Leave the counts away.")
        packed = {(count.order, count.line, count.lot): count.eggs for count in parcel.counts}
        seen: set[tuple[str, int, str]] = set()
        for count in body.back:
            key = (count.order, count.line, count.lot)
            most = packed.get(key, 0)
            if key in seen or not 0 <= count.eggs <= most:
                text = say(
                    "{eggs} eggs of {order}:{line} cannot be back in lot {lot}: {packed} were packed of it.",
                    *(count.eggs, count.order, count.line, count.lot, most),
                )
                raise LedgerError(text, "Count the live eggs that came back, each once.")
            seen.add(key)

    def _check_claim(self, body: ClaimOpened | ClaimSettled) -> None:
        parcel, key = self.parcel(body.parcel), (body.order, body.line)
        parcel.line(key)
        if STEPS[parcel.state] < STEPS["sent"]:
            self._in_state(body.parcel, "sent", "claimed for")
        about = [claim for claim in parcel.claims if (claim.order, claim.line) == key]
        is_open = bool(about) and isinstance(about[-1], ClaimOpened)
        if is_open == isinstance(body, ClaimOpened):
            text = say("has an open claim already") if is_open else say("has no open claim")
            mend = "Settle that one first." if is_open else "Open one first."
            line = say("line {order}:{line} of parcel {parcel} {text}.", *key, body.parcel, text)
            raise LedgerError(line, mend)

    # -- taking it in

    def take(self, entry: Entry) -> None:
        """Let the entry change what stands."""
        body = entry.body
        if isinstance(body, PlanKept):
            self._take_plan(entry, body)
        elif isinstance(body, LetGo):
            self._release(body.parcel)
        elif isinstance(body, Packed):
            self._take_packed(entry, body)
        elif isinstance(body, Sent):
            self._take_sent(entry, body)
        elif isinstance(body, Arrived):
            self._take_arrived(entry, body)
        elif isinstance(body, ClaimOpened | ClaimSettled):
            parcel = self.parcels[body.parcel]
            claims, told_in = (*parcel.claims, body), (*parcel.claim_entries, entry.seq)
            if isinstance(body, ClaimSettled):
                self.settled.append(entry)
                parcel = replace(parcel, settled_on={**parcel.settled_on, **_told_at_settling(parcel, body)})
            self._put(replace(parcel, claims=claims, claim_entries=told_in))
        elif isinstance(body, Bought):
            self.bought.append(entry)
        elif isinstance(body, OrderCorrected):
            before = self.orders.get(body.order)
            is_same = before and buyer_key(before.addressee) == buyer_key(body.addressee)
            renamed = before.renamed_in if before and is_same else entry.seq
            self.orders[body.order] = OrderKept(body.placed_on, body.addressee, (entry.seq, ""), renamed)

    def _put(self, parcel: KeptParcel) -> None:
        self.parcels[parcel.parcel] = parcel
        if parcel.is_handed_over:
            self.waiting.pop(parcel.parcel, None)
        else:
            self.waiting[parcel.parcel] = None

    def _take_packed(self, entry: Entry, body: Packed) -> None:
        parcel = self.parcels[body.parcel]
        asked = {(chance.order, chance.line): chance.ordered for chance in body.chances if chance.ordered}
        lines = tuple(replace(one, ordered=asked.get(one.key, one.ordered)) for one in parcel.lines)
        self._put(
            replace(
                parcel,
                state="packed",
                lines=lines,
                counts=body.counts,
                chances={(chance.order, chance.line): chance.p_enough for chance in body.chances},
                packed_on=body.on,
                packed_entry=entry.seq,
                photo_sha256=body.photo_sha256,
                to_mark=body.to_mark,
            )
        )
        for count in body.counts:
            self._take_eggs(body, count.lot, count.eggs)

    def _take_eggs(self, body: Packed | Arrived, lot: str, eggs: int) -> None:
        """Eggs that left a lot, or below zero came back to it."""
        packings = self.packed.get(lot, ())
        packing = PackedEggs(body.on, eggs, body.counted_on.get(lot), body.counts_of_day.get(lot))
        is_alike = packings and (packings[-1].eggs < 0) == (eggs < 0)
        if is_alike and replace(packings[-1], eggs=eggs) == packing:  # counts see both alike
            packing = replace(packing, eggs=packings[-1].eggs + eggs)
            packings = packings[:-1]
        self.packed[lot] = (*packings, packing)

    def _take_sent(self, entry: Entry, body: Sent) -> None:
        parcel = replace(self.parcels[body.parcel], service=body.service, item=body.item)
        parcel = parcel.on_its_way(body.journey)
        self._put(replace(parcel, state="sent", sent_on=body.on, sent_entry=entry.seq))
        if body.item:
            self.item_in[body.item] = body.parcel
            self.sent_with_item[entry.seq] = body.parcel

    def _release(self, name: str) -> None:
        del self.waiting[name]
        for line in self.parcels.pop(name).lines:
            del self.line_in[line.key]

    def _parcels_of(self, entry: Entry, kept: PlanKept) -> tuple[KeptParcel, ...]:
        """The parcels of a kept plan, read once for checking and for taking in."""
        if self._read is None or self._read[0] is not entry:
            self._read = (entry, kept_parcels(kept.plan, entry.seq, entry.buyers, entry.day))
        return self._read[1]

    def _take_plan(self, entry: Entry, kept: PlanKept) -> None:
        parcels = self._parcels_of(entry, kept)
        for name in self.released_by(kept, parcels):
            self._release(name)
        for parcel in parcels:
            if parcel.parcel not in self.parcels:
                mark = next((kept.to_marks.get(line.order, "") for line in parcel.lines), "")
                self._put(replace(parcel, to_mark=mark))
                for line in parcel.lines:
                    self.line_in[line.key] = parcel.parcel
                    placed_on = kept.placed.get(line.order)
                    self.orders[line.order] = OrderKept(placed_on, parcel.buyer, (entry.seq, parcel.parcel))

    def _take_arrived(self, entry: Entry, body: Arrived) -> None:
        parcel = self.parcels[body.parcel]
        reports, reported = dict(parcel.reports), dict(parcel.reported)
        for report in body.lines:
            key = (report.order, report.line)
            reports[key] = reports[key].with_more(report) if key in reports else report
            reported.setdefault(key, (body.on, entry.day))
        if body.back:
            parcel = replace(parcel, back=body.back, back_on=body.on)
        untold = parcel.day_untold or body.day_untold
        self._put(replace(parcel, state=body.how, reports=reports, reported=reported, day_untold=untold))
        for count in body.back:
            if count.eggs:
                self._take_eggs(body, count.lot, -count.eggs)


def _told_at_settling(parcel: KeptParcel, body: ClaimSettled) -> dict[LineKey, LineReport]:
    """What is told of a claim's line as it is settled: no egg alive where it is lost, or was brought back."""
    key = (body.order, body.line)
    claimed = [claim for claim in parcel.claims if (claim.order, claim.line) == key]
    has_come = NOT_COME.isdisjoint((parcel.state, *(getattr(claim, "about", "") for claim in claimed[-1:])))
    nothing = LineReport(order=body.order, line=body.line, alive=None if has_come else 0)
    return {key: parcel.reports.get(key, nothing) if has_come else nothing}


def check_report(parcel: KeptParcel, report: LineReport, seen: Collection[LineKey] = ()) -> None:
    """Raises LedgerError if a report of a line was told already, or has more eggs than were packed."""
    key, name = (report.order, report.line), parcel.parcel
    parcel.line(key)
    before = parcel.reports.get(key)
    told_twice = sorted(report.told.keys() & before.told.keys()) if before else []
    if told_twice or key in seen:
        what = both(say(count.replace("_", " ")) for count in told_twice) or say("the line")
        raise LedgerError(
            say("{what} of {order}:{line} in parcel {parcel} was reported already.", what, *key, name),
            say("If it was wrong: spawnpost undo {parcel}, then report it again.", name),
        )
    total = (before.with_more(report) if before else report).told
    packed = parcel.packed_of(key)
    if min(total.values(), default=0) < 0 or sum(total.values()) > packed:
        parts = joined((joined((count, say(name.replace("_", " ")))) for name, count in total.items()), " + ")
        if len(total) > 1:
            parts = joined((parts, sum(total.values())), " = ")
        raise LedgerError(
            say("{order}:{line} had {packed} eggs packed, but the report says {parts}.", *key, packed, parts),
            "Count each egg once: live fry under hatched alive only, live eggs under alive only.",
        )


def check_held(state: LedgerState, kept: PlanKept, counted: Mapping[str, LotCounts]) -> None:
    """Raises LedgerError if a lot does not hold what is packed since its count, held and planned now."""
    parcels = kept_parcels(kept.plan, 0, {})
    to_hold = (parcel for parcel in parcels if state.parcels.get(parcel.parcel, parcel).is_planned)
    wanted = eggs_by_lot(count for parcel in to_hold for count in parcel.planned_counts())
    drawn = {name_now(lot, counted) for lot in wanted}
    wanted.update(state.held(state.released_by(kept, parcels)))
    for lot, eggs in _by_name_now(wanted, counted).items():
        if lot in drawn:
            check_counts(lot, eggs, state.packed, counted)


def check_packed(state: LedgerState, packed: Packed, counted: Mapping[str, LotCounts]) -> None:
    """Raises LedgerError if the parcel was kept after that day, or a lot does not hold what is packed."""
    kept_on = state.parcel(packed.parcel).kept_on
    if packed.on < kept_on:
        text = say("parcel {parcel} was kept on {kept_on}, after {on}.", packed.parcel, kept_on, packed.on)
        raise LedgerError(text, "Give the day it was packed.")
    for lot, taken in _by_name_now(eggs_by_lot(packed.counts), counted).items():
        if taken:
            check_counts(lot, taken, state.packed, counted, packed.on)


def _by_name_now(eggs: Mapping[str, int], counted: Mapping[str, LotCounts]) -> dict[str, int]:
    by_name = Counter[str]()
    for lot in sorted(eggs):
        by_name[name_now(lot, counted)] += eggs[lot]
    return by_name


def check_numbers(kept: PlanKept, numbers: Mapping[str, frozenset[LineKey]]) -> None:
    """Raises LedgerError if a parcel of the plan has a number that another had: its slip may lie about."""
    for parcel in kept_parcels(kept.plan, 0, {}):
        if numbers.get(parcel.parcel, parcel.line_keys) != parcel.line_keys:
            text = say("another parcel was called {parcel} before.", parcel.parcel)
            raise LedgerError(text, "Plan again, so that it gets a free number.")


def entry_to_undo(entries: Sequence[Entry], wanted: int | str | None) -> int:
    """The entry to take back: the last, a parcel's last, or the one wanted. Raises LedgerError if none."""
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


def claims_left_bare(entries: Sequence[Entry], undone: Entry) -> tuple[int, ...]:
    """The open claims that a report taken back was the ground of: made after it, of its lines (of all, where
    the parcel ended) of which nothing is told any more.
    """
    report = next(
        entry for entry in entries if isinstance(undone.body, Undone) and entry.seq == undone.body.entry
    )
    if not isinstance(report.body, Arrived):
        return ()
    gone = undone_entries(entries)
    parcel = LedgerState.after(entry for entry in entries if entry.seq not in gone).parcel(report.parcel)
    told = {(line.order, line.line) for line in report.body.lines} or parcel.line_keys
    last = {(claim.order, claim.line): number for number, claim in enumerate(parcel.claims)}
    return tuple(
        parcel.claim_entries[number]
        for key, number in last.items()
        if isinstance(claim := parcel.claims[number], ClaimOpened)
        and claim.about != "late"
        and parcel.claim_entries[number] > report.seq
        and key in told - parcel.reports.keys()
        and parcel.state in ("sent", "arrived")
    )


def _check_nothing_drawn_from(chosen: Entry, standing: Sequence[Entry]) -> None:
    """A lot bought in or an order owed again is not taken back while a parcel holds it."""
    body = chosen.body
    if isinstance(body, Arrived) and body.back:
        _check_nothing_packed_since(chosen, body, standing)
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


def _check_nothing_packed_since(chosen: Entry, body: Arrived, standing: Sequence[Entry]) -> None:
    """Eggs that came back are not taken out of their lot again once later parcels drew on it."""
    lots = {count.lot for count in body.back if count.eggs}
    for parcel in LedgerState.after(standing).parcels.values():
        if max(parcel.plan_entry, parcel.packed_entry) <= chosen.seq:
            continue
        drawn = lots & {count.lot for count in parcel.counts or parcel.planned_counts()}
        for lot in sorted(drawn):
            text = say(
                "parcel {parcel} draws on lot {lot}, to which eggs came back by entry {seq}.",
                *(parcel.parcel, lot, chosen.seq),
            )
            raise LedgerError(text, "Take that parcel back first, or count the lot again and write a look.")


def _check_nothing_rests_on(chosen: Entry, standing: Sequence[Entry]) -> None:
    try:
        _check_no_claim_settled_since(chosen, standing)
        LedgerState.after((entry for entry in standing if entry is not chosen), strictly=True)
    except LedgerError as error:
        text = say("later entries rest on entry {seq} ({text}).", chosen.seq, error.text)
        raise LedgerError(text, "Take those back first.") from error


def _check_no_claim_settled_since(chosen: Entry, standing: Sequence[Entry]) -> None:
    """What a buyer reported stays while the claim for a line of it is settled."""
    told = (
        {(line.order, line.line) for line in chosen.body.lines} if isinstance(chosen.body, Arrived) else None
    )
    for entry in standing if told is not None else ():
        body = entry.body
        if not isinstance(body, ClaimSettled) or entry.parcel != chosen.parcel or entry.seq < chosen.seq:
            continue
        if not told or (body.order, body.line) in told:
            text = say("entry {entry} settled the claim for {order}:{line}", entry.seq, body.order, body.line)
            raise LedgerError(text, "Take those back first.")
