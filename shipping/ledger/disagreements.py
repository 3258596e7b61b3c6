"""What ledger and tables say against each other: orders, lots gone, rows of arrivals; problems out."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from shipping.ledger.entries import LineReport, PlanKept
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import KeptLine, KeptParcel, eggs_by_lot
from shipping.ledger.lot_counts import LotCounts, name_now
from shipping.ledger.parcel_states import STEPS, OrderKept, check_report
from shipping.tables.rows.learned import Arrival
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Address, Order
from shipping.tables.shelf import Shelf
from shipping.tables.spelling import buyer_key
from shipping.words.keys import LineKey
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import both, joined, say

if TYPE_CHECKING:
    from shipping.ledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class OrderQuestion:
    """Is an order another one than was kept under its number, or the same one corrected?"""

    order: str
    placed_on: date
    addressee: str
    text: str
    at: Where
    was: date | None
    another_buyer: bool

    @property
    def facts(self) -> dict[str, object]:
        """What the question is about, as data; no name is in it."""
        was = self.was.isoformat() if self.was else None
        now = self.placed_on.isoformat()
        return {"order": self.order, "was": was, "now": now, "another_buyer": self.another_buyer}

    @property
    def mend(self) -> str:
        return (
            "Give a new order a number of its own; if it is the same one, corrected, run: spawnpost check"
            " --take."
        )

    @property
    def sentence(self) -> str:
        """The question and how to answer it."""
        return f"{self.text[:1].upper()}{self.text[1:]} {self.mend}"

    def problem(self) -> Problem:
        return Problem(self.at, "order", "same-number", self.text, self.mend, Level.LOT)


def order_questions(orders: Iterable[Order], kept: Mapping[str, OrderKept]) -> Iterator[OrderQuestion]:
    """A question for each order whose day or buyer is not that kept under its number."""
    for order in orders:
        before = kept.get(order.order)
        if before is None or order.is_owed:
            continue
        changed = []
        if before.placed_on not in (None, order.placed_on):
            days = (before.placed_on, order.placed_on)
            changed.append(say("was placed on {placed_on}, and now on {now}", *days))
        buyer = order.address.addressee
        another = bool(before.addressee) and buyer_key(before.addressee) != buyer_key(buyer)
        if another:
            changed.append(say("was for another buyer"))
        if changed:
            told = (order.order, both(changed))
            text = say("order {order} {changed}: is it the order kept before, or a new one?", *told)
            at, was = order.lines[0].row.at, before.placed_on
            yield OrderQuestion(order.order, order.placed_on, buyer, text, at, was, another)


def orders_renumbered(ledger: Ledger, shelf: Shelf) -> Iterator[Problem]:
    """An order of the day and buyer of one that was packed and is gone: it would be sent again."""
    kept = ledger.orders()
    new = [order for order in shelf.orders if order.order not in kept and not order.is_owed]
    if not new:
        return
    packed = {line.order for parcel in ledger.parcels() if not parcel.is_planned for line in parcel.lines}
    gone = {
        (one.placed_on, buyer_key(one.addressee)): name
        for name, one in kept.items()
        if one.addressee and name in packed and name not in shelf.order_by_name
    }
    for order in new:
        if was := gone.get((order.placed_on, buyer_key(order.address.addressee))):
            text = say("order {order} has buyer and day of {was}, which was packed.", order.order, was)
            mend = say("If it is the same one, give it its number {was} back: else it is sent again.", was)
            yield Problem(order.lines[0].row.at, "order", "renumbered", text, mend, Level.NOTICE)


def leaving_too_early(parcels: Iterable[KeptParcel], shelf: Shelf) -> Iterator[Problem]:
    """Parcels kept for a day before their order's first, written or left so by a move taken back."""
    for parcel in parcels:
        orders = [
            shelf.order_by_name.get(name) for name in dict.fromkeys(line.order for line in parcel.lines)
        ]
        for order in orders if parcel.is_planned else ():
            if order and order.not_before and parcel.dispatch_on < order.not_before:
                text = say(
                    "{parcel} is to go on {day}, and order {order} must not leave before {first}.",
                    *(parcel.parcel, parcel.dispatch_on, order.order, order.not_before),
                )
                mend = say("Plan again; or if it may go, take the day out of order {order}.", order.order)
                yield Problem(order.lines[0].row.at, "not_before", "too-early", text, mend, Level.NOTICE)


def lines_changed_since(parcels: Iterable[KeptParcel], shelf: Shelf) -> Iterator[Problem]:
    """Lines packed or sent whose order asks for another fish now, or for more eggs than it did then."""
    wishes = {line.key: line for order in shelf.orders for line in order.lines}
    for parcel in parcels:
        for line in () if parcel.is_planned else parcel.lines:
            wish = wishes.get(line.key)
            if wish is None or (line.is_for(wish) and wish.eggs <= line.ordered):
                continue
            if line.is_for(wish):
                told, column = (*line.key, line.ordered, parcel.parcel, wish.eggs), "eggs"
                text = say(
                    "line {order}:{line} asked for {ordered} eggs when {parcel} was packed, and asks for"
                    " {eggs} now: what is more is in no parcel.",
                    *told,
                )
                mend = say("Put {ordered} back, and write what is more as an order of its own.", line.ordered)
            else:
                fish, column = f"{line.species} {line.population}".strip(), "species"
                text = say(
                    "line {order}:{line} was packed as {fish} in {parcel}, and asks for another fish now.",
                    *(*line.key, fish, parcel.parcel),
                )
                mend = "Put its row back as it was, and write a new wish as an order of its own."
            yield Problem(wish.row.at, column, "line-changed", text, mend, Level.NOTICE)


def address_mark(address: Address) -> str:
    """Four digits that tell an address from another (all but one in 65,536) and nothing of where it is.

    The addressee is left out: `order_questions` asks about another buyer.
    """
    parts = (*address.delivery, address.postcode, address.town, address.region, address.country)
    text = "|".join(" ".join(part.casefold().split()) for part in parts if part.strip())
    return hashlib.sha256(f"spawnpost address {text}".encode()).hexdigest()[:4]


def address_marks(orders: Iterable[Order]) -> dict[str, str]:
    """The mark of each order's address, by its name."""
    return {order.order: address_mark(order.address) for order in orders}


@dataclass(frozen=True, slots=True)
class ParcelMoved:
    """A parcel that waits, and whose order goes elsewhere, or to another name (``is_renamed``), since."""

    parcel: str
    order: str
    at: Where
    is_packed: bool
    is_renamed: bool

    @property
    def text(self) -> str:
        told = (self.order, self.parcel)
        if self.is_renamed:
            if self.is_packed:
                return say("the name on order {order} was changed after {parcel} was packed.", *told)
            return say("the name on order {order} was changed after {parcel} was kept.", *told)
        if self.is_packed:
            return say("the address of order {order} was changed after {parcel} was packed.", *told)
        return say("the address of order {order} was changed after {parcel} was kept.", *told)

    @property
    def mend(self) -> str:
        if not self.is_packed:
            return "A label printed before has the old one: print its papers anew before you pack it."
        if self.is_renamed:
            return say(
                "Its label has the old one: spawnpost undo {parcel}, print it anew, pack again.", self.parcel
            )
        return say(
            "Its label goes to the old one: spawnpost undo {parcel}, print it anew, pack again.", self.parcel
        )

    @property
    def sentence(self) -> str:
        """What happened and what to do."""
        return joined((self.text, self.mend))

    def problem(self) -> Problem:
        column = "addressee" if self.is_renamed else "delivery_1"
        return Problem(self.at, column, "moved", self.text, self.mend, Level.NOTICE)


def parcels_moved(
    parcels: Iterable[KeptParcel], shelf: Shelf, orders: Mapping[str, OrderKept]
) -> Iterator[ParcelMoved]:
    """Parcels not gone yet whose address or name was changed since they were packed or kept."""
    for parcel in parcels:
        if parcel.is_handed_over:
            continue
        since = parcel.packed_entry or parcel.plan_entry
        for name in sorted({line.order for line in parcel.lines}):
            order, kept = shelf.order_by_name.get(name), orders.get(name)
            if order is None or kept is None:
                continue
            is_renamed = kept.renamed_in > since
            is_moved = bool(parcel.to_mark) and address_mark(order.address) != parcel.to_mark
            if is_moved or is_renamed:
                at = order.lines[0].row.at
                yield ParcelMoved(parcel.parcel, name, at, not parcel.is_planned, not is_moved)
                break


@dataclass(frozen=True, slots=True)
class LotGone:
    """A lot of the ledger that no lot of the tables answers for; ``alike`` may be it under a new name."""

    lot: str
    eggs: int
    is_open: bool
    alike: tuple[Lot, ...]

    def problems(self, file: str) -> Iterator[Problem]:
        """Each lot alike is stopped until the breeder says whether it is this one."""
        was = say(
            "lot {lot} is gone from lots, and {eggs} eggs were packed or are held of it", self.lot, self.eggs
        )
        for lot in self.alike:
            text = say("{was}; is lot {lot} the same eggs under a new name?", was, lot.lot)
            names = (self.lot, lot.lot)
            mend = say("Write `was {lot}` in the note of {other} if it is, `not {lot}` if it is not.", *names)
            yield Problem(lot.at, "lot", "renamed", text, mend, Level.LOT)
        if not self.alike:
            level = Level.LOT if self.is_open else Level.NOTICE
            mend = say(
                "Put its row back, or write `was {lot}` in the note of the lot it is called now.", self.lot
            )
            yield Problem(Where(file), "lot", "lot-gone", say("{was}.", was), mend, level)


def lots_gone(ledger: Ledger, shelf: Shelf, counted: Mapping[str, LotCounts]) -> tuple[LotGone, ...]:
    """Every lot of the ledger that is not in the tables by any name.

    Notes
    -----
    A lot is alike that has the kind of fish, was laid before the last packing, and that no plan knew beside
    the lot that is gone; ``not NAME`` in its note says that it is another.
    """
    if all(lot in counted for lot in ledger.lots_used()):
        return ()
    eggs = Counter[str]()
    last: dict[str, date] = {}
    kinds: dict[str, set[tuple[str, str]]] = {}
    is_open: set[str] = set()
    for parcel in ledger.parcels():
        for line in parcel.lines:
            for draw in line.draws:
                kinds.setdefault(draw.lot, set()).add((line.species, line.population.casefold()))
        for count in parcel.counts or parcel.planned_counts():
            eggs[count.lot] += count.eggs
            day = parcel.packed_on or parcel.kept_on
            last[count.lot] = max(day, last.get(count.lot, day))
            is_open |= {count.lot} if parcel.state in ("planned", "packed", "sent") else set()
    gone = sorted(lot for lot in eggs if lot not in counted and eggs[lot])
    known = _known_beside(ledger, gone) if gone else {}
    alike = {
        name: tuple(
            lot
            for lot in shelf.lots
            if (lot.species, lot.population.casefold()) in kinds[name]
            and lot.laid_from <= last[name]
            and lot.lot not in known[name]
            and not re.search(rf"(?<!\w)not\s+{re.escape(name)}(?!\w)", lot.note, re.IGNORECASE)
        )
        for name in gone
    }
    return tuple(LotGone(name, eggs[name], name in is_open, alike[name]) for name in gone)


def lots_of_another_fish(ledger: Ledger, shelf: Shelf) -> Iterator[Problem]:
    """Each lot of which eggs were kept or packed as another fish or population than the tables now call it.

    What was kept before the lot was laid is of an earlier lot of that name.
    """
    told: set[str] = set()
    for parcel in ledger.parcels():
        day = parcel.packed_on or parcel.kept_on
        for line in parcel.lines:
            for draw in line.draws:
                lot = shelf.lot_by_name.get(draw.lot)
                if lot is None or draw.lot in told or day < lot.laid_from:
                    continue
                place = line.population.casefold()
                if lot.species != line.species or place not in ("", lot.population.casefold()):
                    told.add(draw.lot)
                    now, then = (f"{fish.species} {fish.population}".strip() for fish in (lot, line))
                    text = say(
                        "lot {lot} is '{now}', and {parcel} took eggs of it as '{then}'.",
                        *(lot.lot, now, parcel.parcel, then),
                    )
                    mend = say("Mend the lot; if it was wrong then, tell that buyer which fish they have.")
                    yield Problem(lot.at, "population", "another-fish", text, mend, Level.NOTICE)


@dataclass(frozen=True, slots=True)
class HeldShort:
    """A lot with fewer eggs ``left`` than kept ``parcels``, not packed yet, hold of it."""

    lot: str
    left: int
    held: int
    parcels: tuple[str, ...]

    @property
    def week(self) -> str:
        """The last week of its parcels: planned again, it leaves the earlier ones as they are."""
        return self.parcels[-1].rpartition("-")[0]

    @property
    def text(self) -> str:
        return say(
            "Lot {lot} has {left} eggs left, and {held} are held for {parcels}: {lacking} are lacking.",
            *(self.lot, self.left, self.held, ", ".join(self.parcels), self.held - self.left),
        )

    def problem(self, at: Where) -> Problem:
        mend = say(
            "Plan again: spawnpost plan --week {week} --keep; if the lot has more, count it again.", self.week
        )
        return Problem(at, "eggs", "held-short", self.text, mend, Level.NOTICE)


def held_short(
    ledger: Ledger, counted: Mapping[str, LotCounts], lots: Collection[str] | None = None
) -> Iterator[HeldShort]:
    """Each of these ``lots`` (of all), by its present name, that lacks eggs which kept parcels hold."""
    holders: dict[str, Counter[str]] = {}
    for parcel in ledger.waiting():
        for count in parcel.planned_counts() if parcel.is_planned else ():
            lot = name_now(count.lot, counted)
            if lot in (counted if lots is None else lots):
                holders.setdefault(lot, Counter())[parcel.parcel] += count.eggs
    left = ledger.eggs_left(counted, holders)
    for lot, held in sorted(holders.items()):
        if left[lot] < held.total():
            yield HeldShort(lot, left[lot], held.total(), tuple(sorted(held)))


def recounts_of_packed_eggs(
    ledger: Ledger, shelf: Shelf, counted: Mapping[str, LotCounts]
) -> Iterator[Problem]:
    """Recounts in which eggs still stand that had been packed."""
    for lot, packings in ledger.packings(counted).items():
        if lot not in counted:
            continue
        lacking = counted[lot].lacking(packings)[:-1]
        for (before, after), eggs in zip(pairwise(counted[lot].all_counts), lacking, strict=True):
            if eggs:
                told = (eggs, lot, before.on, after.on)
                text = say("{eggs} eggs of lot {lot} packed since {day} were counted again on {on}.", *told)
                look = next(look for look in shelf.looks_by_lot[lot] if look.on == after.on)
                mend = say("Count again; until then the lot stays out.")
                yield Problem(look.at, "alive", "recount", text, mend, Level.LOT)


def counts_moved_on(ledger: Ledger, shelf: Shelf) -> Iterator[Problem]:
    """A lot's count of a later day that still has the eggs packed since: only its day is new."""
    parcels = ledger.parcels()
    newest = max((parcel.plan_entry for parcel in parcels), default=0)
    plan = ledger.plan_kept(newest) if newest else {}
    since = eggs_by_lot(
        count for parcel in parcels if parcel.packed_entry > newest for count in parcel.counts
    )
    for known in plan["lots"] if newest and since else ():
        lot, then = shelf.lot_by_name.get(known["lot"]), date.fromisoformat(plan["today"])
        packed, had = since[known["lot"]], int(known["eggs"])
        if lot is None or not packed or lot.counted_on <= then or lot.laid_to > then:
            continue
        if lot.eggs > had - packed + COUNTED_APART * had:
            told = (lot.eggs, had, then, packed)
            text = say("{eggs} are not what is left of {had} on {day}: {packed} were packed since.", *told)
            yield Problem(lot.at, "eggs", "recount", text, "Count the lot again.", Level.NOTICE)


#: Two counts of a lot differ by less than this share of it. Assumed.
COUNTED_APART = 0.1


def _known_beside(ledger: Ledger, gone: list[str]) -> dict[str, set[str]]:
    """The lots that plans knew together with each lot that is gone."""
    known: dict[str, set[str]] = {name: set() for name in gone}
    for entry in ledger.entries():
        if isinstance(entry.body, PlanKept):
            there = {str(lot["lot"]) for lot in entry.body.plan.get("lots", ())}
            for name in known.keys() & there:
                known[name] |= there
    return known


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


def of_nothing_kept(row: Arrival) -> Problem:
    """That nothing is learned from arrivals, the first of which this is, as there is no ledger."""
    text = say("no plan was ever kept here, so nothing is learned from what arrived.")
    mend = (
        "Put ledger.sqlite beside the tables, if you have one; or keep the next plan: spawnpost plan --keep."
    )
    return Problem(row.at, "parcel", "arrival", text, mend, Level.NOTICE)


def _with_row(row: Arrival, parcel: KeptParcel | None, today: date) -> KeptParcel:
    """The parcel with what the row reports. Raises LedgerError if it cannot be."""
    if parcel is None:
        raise LedgerError(say("no parcel '{parcel}' is kept.", row.parcel), "Copy its number from the slip.")
    if STEPS[parcel.state] < STEPS["sent"] or parcel.sent_on is None:
        text = say("parcel {parcel} is only {state}.", row.parcel, parcel.state)
        raise LedgerError(text, say("Record first that it was sent: spawnpost send {parcel}.", row.parcel))
    if not parcel.sent_on <= row.arrived_on <= today:
        days = (row.arrived_on, parcel.sent_on, today)
        text = say("it arrived on {arrived_on}, but was sent on {sent_on}, and today is {today}.", *days)
        raise LedgerError(text, "Give the day it arrived.")
    lines = lines_by_number(parcel)
    line = lines.get(row.line)
    if line is None:
        mend = say("Its lines are {names}.", ", ".join(map(str, sorted(lines))))
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


def lines_by_number(parcel: KeptParcel) -> dict[int, KeptLine]:
    """Lines as arrivals name them: by number in their order, or by place where the parcel joins orders."""
    joined = len({line.order for line in parcel.lines}) > 1
    return {place if joined else line.line: line for place, line in enumerate(parcel.lines, start=1)}
