"""The card of a parcel at the bench: a kept parcel and the counts so far in, everything its card shows
out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import quote, unquote

from shipping.ledger.entries import Entry, LineCount, Undone, undone_entries
from shipping.ledger.kept import WAITING, KeptLine, KeptParcel
from shipping.ledger.packing_day import rides_of
from shipping.post.item_id import origin_caution
from shipping.tables.cells import MOST_EGGS
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Note
from shipping.worktop.kept_week import HIDDEN, Kept, cut_off_of, fish_name, lots_to_count, lots_to_look_at
from shipping.worktop.late_parcel import outlook
from shipping.worktop.page_language import day_words, name_of_country, reasons_wording, tr
from shipping.worktop.promise import LinePromise, line_promise
from shipping.worktop.shelf_state import ShelfState

#: What is typed as a count is no longer, right or wrong.
LONGEST_COUNT = 24
#: So many eggs more are looked at for a promise that does not hold.
MOST_MORE = 40


#: The beginning of a note: what to do, before why and how much.
_HEAD = re.compile(r"(.{30,}?)[;:.](?: |$)")


@dataclass(frozen=True, slots=True)
class Tube:
    """One tube or bag: ``place`` counts through the parcel from 0; ``typed`` is its count as it stands in the
    box.
    """

    place: int
    lot: str
    packing: str
    planned: int
    typed: str

    @property
    def eggs(self) -> int | None:
        """The eggs counted; None where what is typed is no count."""
        return count_from(self.typed)

    @property
    def is_as_planned(self) -> bool:
        """Does the box show the plan's own figure?"""
        return self.eggs == self.planned


@dataclass(frozen=True, slots=True)
class LineCard:
    """One line of a parcel: its tubes and whether the promise holds with what is counted."""

    order: str
    line: int
    fish: str
    population: str
    ordered: int
    tubes: tuple[Tube, ...]
    promise: LinePromise
    left: tuple[tuple[str, int], ...]
    too_many: tuple[str, ...]
    enough: str

    @property
    def eggs(self) -> int:
        return sum(tube.eggs or 0 for tube in self.tubes)

    @property
    def words(self) -> str:
        """Whether the promise holds with what is counted."""
        return self.promise.words(self.ordered)

    @property
    def no_count(self) -> str:
        """What to write where a count is none: then nothing is reckoned from it."""
        wrong = [tube for tube in self.tubes if tube.eggs is None]
        return " ".join(
            tr(
                "Lot {lot}: '{typed}' is no count of eggs. Write it in digits, such as 24.",
                lot=tube.lot,
                typed=tube.typed,
            )
            if tube.typed
            else tr("Lot {lot}: no count is written. Write 0 if none was packed.", lot=tube.lot)
            for tube in wrong
        )


@dataclass(frozen=True, slots=True)
class ParcelCard:
    """One parcel in packing order; ``undo`` is the entry that may be taken back, 0 where there is none."""

    name: str
    number: str
    state: str
    day: str
    addressee: str
    place: str
    service: str
    is_fetched: bool
    cut_off: str
    box: str
    plan_entry: int
    lines: tuple[LineCard, ...]
    planned: int
    packed: int
    undo: int
    item: str
    item_caution: str
    packed_on: str
    sent_on: str
    look_first: tuple[str, ...]
    count_first: tuple[str, ...]
    notes: tuple[str, ...]
    other_day: str
    late: tuple[str, ...]
    may_go: bool
    changed: str

    @property
    def is_open(self) -> bool:
        """Is it still to be packed or sent?"""
        return self.state in WAITING

    @property
    def eggs(self) -> int:
        return self.packed if self.state != "planned" else sum(line.eggs for line in self.lines)

    @property
    def holds(self) -> bool:
        return all(line.promise.holds and not line.no_count for line in self.lines)

    @property
    def is_short(self) -> bool:
        """Is everything counted, and is it too little for a promise?"""
        return not any(line.no_count for line in self.lines) and any(
            line.promise.chance is not None and not line.promise.holds for line in self.lines
        )

    @property
    def is_as_planned(self) -> bool:
        """Does every box show the plan's own figure?"""
        return all(tube.is_as_planned for line in self.lines for tube in line.tubes)

    @property
    def to_mind(self) -> tuple[str, ...]:
        """The notes with what to do alone."""
        heads = (_HEAD.match(note) for note in self.notes)
        return tuple(head[1] if head else note for head, note in zip(heads, self.notes, strict=True))

    @property
    def draft(self) -> str:
        """The counts so far, as an address carries them."""
        return f"{self.name}~{_as_draft(tube.typed for line in self.lines for tube in line.tubes)}"


def planned_units(kept: Kept) -> tuple[tuple[KeptLine, str, str, int], ...]:
    """Line, lot, packing and planned eggs of each tube or bag, in the order of the slip: fuller ones
    first.
    """
    found: list[tuple[KeptLine, str, str, int]] = []
    for line in kept.parcel.lines:
        for draw in line.draws:
            units = kept.units_of(line.order, line.line, draw.lot)
            each, over = divmod(draw.pack, units)
            found += [(line, draw.lot, draw.packing, each + (1 if n < over else 0)) for n in range(units)]
    return tuple(found)


def line_counts(kept: Kept, eggs: Sequence[int]) -> tuple[LineCount, ...]:
    """What is recorded as packed: the tubes' counts added up by line and lot."""
    sums: dict[tuple[str, int, str], int] = {}
    for (line, lot, _, _), count in zip(planned_units(kept), eggs, strict=True):
        key = (line.order, line.line, lot)
        sums[key] = sums.get(key, 0) + count
    return tuple(
        LineCount(order=order, line=line, lot=lot, eggs=count) for (order, line, lot), count in sums.items()
    )


def parcel_card(
    shelf_state: ShelfState,
    kept: Kept,
    entries: tuple[Entry, ...],
    draft: Sequence[str] | None,
    hide_names: bool,
) -> ParcelCard:
    """The card of a kept parcel; ``draft`` are the counts so far, the plan's own where it does not fit or is
    None.
    """
    tables, parcel = shelf_state.readable_tables(), kept.parcel
    units = planned_units(kept)
    eggs = (
        tuple(draft)
        if draft is not None and len(draft) == len(units)
        else tuple(str(unit[3]) for unit in units)
    )
    lines = tuple(_line_card(shelf_state, kept, line, eggs) for line in parcel.lines)
    order = tables.shelf.order_by_name.get(parcel.lines[0].order) if parcel.lines else None
    country = name_of_country(parcel.to)
    addressee = kept.addressee if kept.addressee or not order else order.address.addressee
    box = str(kept.facts.get("box", ""))
    services = [row for row in tables.shelf.services if row.service == parcel.service]
    late, may_go = _late_words(shelf_state, kept) if parcel.is_overdue(shelf_state.today_of()) else ((), True)
    return ParcelCard(
        name=kept.name,
        number=kept.number,
        state=parcel.state,
        day=parcel.dispatch_on.isoformat(),
        addressee=HIDDEN if hide_names else addressee,
        place=f"{order.address.town}, {country}" if order and order.address.town else country,
        service=parcel.service,
        is_fetched=bool(services) and all(row.is_collection for row in services),
        cut_off=cut_off_of(parcel.service, tables.shelf) or "",
        box=tr(
            "{box}, about {weight:.1f} kg",
            box=box or tr("box"),
            weight=float(kept.facts.get("weight_g", 0)) / 1000,
        ),
        plan_entry=parcel.plan_entry,
        lines=lines,
        planned=sum(unit[3] for unit in units),
        packed=sum(count.eggs for count in parcel.counts),
        undo=entry_to_take_back(entries, kept.name),
        item=parcel.item,
        item_caution=origin_caution(parcel.item, tables.shelf.settings.home.country) if parcel.item else "",
        packed_on=parcel.packed_on.isoformat() if parcel.packed_on else "",
        sent_on=parcel.sent_on.isoformat() if parcel.sent_on else "",
        look_first=lots_to_look_at(kept, tables.known),
        count_first=lots_to_count(kept.facts["lines"], tables.known),
        notes=_notes(shelf_state, kept) if parcel.is_planned else (),
        other_day=other_day(parcel, shelf_state.today_of()),
        late=late,
        may_go=may_go,
        changed=changed_orders(parcel, tables.shelf) if parcel.is_planned else "",
    )


def _late_words(shelf_state: ShelfState, kept: Kept) -> tuple[tuple[str, ...], bool]:
    """What can still be done with a parcel that should be gone, which of its lots hatches first; and whether
    it may go.
    """
    today = shelf_state.today_of()
    with shelf_state.lock:
        found = outlook(kept, shelf_state.readable_tables(), today)
    if found.hatching is None:
        return (found.words(today),), found.may_go
    lot, day = found.hatching
    hatching = tr("Lot {lot} hatches from {day}.", lot=lot, day=day_words(day))
    return (found.words(today), hatching), found.may_go


def changed_orders(parcel: KeptParcel, shelf: Shelf) -> str:
    """What the orders of a kept parcel say now that they did not when it was kept; "" where nothing."""
    found = []
    for line in parcel.lines:
        eggs = eggs_ordered_now(line, shelf)
        if eggs == 0:
            found.append(tr("Order {order} is cancelled, or no longer in the tables.", order=line.order))
        elif eggs != line.ordered:
            found.append(
                tr(
                    "Order {order} now asks for {eggs}, not {ordered}; the promise below is for that.",
                    order=line.order,
                    eggs=eggs,
                    ordered=line.ordered,
                )
            )
    return " ".join(dict.fromkeys(found))


def eggs_ordered_now(line: KeptLine, shelf: Shelf) -> int:
    """The eggs that a kept line's order asks for in the tables of now; 0 where it does not any more."""
    order = shelf.order_by_name.get(line.order)
    wish = next((one for one in order.lines if one.number == line.line), None) if order else None
    return wish.eggs if wish else 0


def other_day(parcel: KeptParcel, on: date) -> str:
    """What to say where a parcel not yet sent is handled on another day than the one it was planned for."""
    if parcel.is_handed_over or on == parcel.dispatch_on:
        return ""
    planned = day_words(parcel.dispatch_on)
    return (
        tr(
            "Planned for {planned}; today is {today}. Its eggs and its promise were reckoned for {planned},"
            " only then.",
            planned=planned,
            today=day_words(on),
        )
        if on < parcel.dispatch_on
        else tr(
            "Planned for {planned}; today is {today}. Its eggs and its promise were reckoned for {planned},"
            " that day is over.",
            planned=planned,
            today=day_words(on),
        )
    )


def _line_card(shelf_state: ShelfState, kept: Kept, line: KeptLine, typed: Sequence[str]) -> LineCard:
    tables = shelf_state.readable_tables()
    if kept.parcel.is_planned:
        line = replace(line, ordered=eggs_ordered_now(line, tables.shelf) or line.ordered)
    box = f" in {kept.facts.get('box', '')}"
    own = [(n, unit) for n, unit in enumerate(planned_units(kept)) if unit[0].key == line.key]
    by_lot: dict[str, list[int]] = {}
    if kept.parcel.is_planned:
        tubes = tuple(
            Tube(n, lot, packing.removesuffix(box), planned, typed[n])
            for n, (_, lot, packing, planned) in own
        )
        for tube in tubes:
            by_lot.setdefault(tube.lot, []).append(tube.eggs or 0)
    else:
        counted = [count for count in kept.parcel.counts if (count.order, count.line) == line.key]
        packings = {draw.lot: draw.packing.removesuffix(box) for draw in line.draws}
        planned_of = {draw.lot: draw.pack for draw in line.draws}
        tubes = tuple(
            Tube(0, c.lot, packings.get(c.lot, ""), planned_of.get(c.lot, 0), str(c.eggs)) for c in counted
        )
        for count in counted:
            units = kept.units_of(line.order, line.line, count.lot)
            by_lot[count.lot] = [
                count.eggs // units + (1 if n < count.eggs % units else 0) for n in range(units)
            ]
    with shelf_state.lock:
        promise = line_promise(tables.reckoner, kept.parcel, line, _whole(by_lot))
    left = lots_left(shelf_state, tuple(dict.fromkeys(draw.lot for draw in line.draws)))
    too_many = tuple(
        tr(
            "Lot {lot} has {left} eggs left to pack, not {counted}.",
            lot=lot,
            left=left[lot],
            counted=sum(each),
        )
        for lot, each in sorted(by_lot.items())
        if kept.parcel.is_planned and lot in left and sum(each) > left[lot]
    )
    fish = fish_name(line.species, line.population, tables.shelf)
    enough = ""
    if kept.parcel.is_planned and promise.chance is not None and not promise.holds:
        enough = _enough(shelf_state, kept.parcel, line, by_lot)
    left_of = tuple(sorted(left.items()))
    return LineCard(
        line.order, line.line, fish, line.population, line.ordered, tubes, promise, left_of, too_many, enough
    )


def _enough(
    shelf_state: ShelfState, parcel: KeptParcel, line: KeptLine, by_lot: Mapping[str, Sequence[int]]
) -> str:
    """How many more eggs of the line's first lot would keep the promise, such as ``24 from lot FL-31``; ""
    where no count near by would.
    """
    lot = line.draws[0].lot
    reckoner = shelf_state.readable_tables().reckoner
    for more in range(1, MOST_MORE + 1):
        eggs = [*by_lot.get(lot, (0,))]
        eggs[0] += more
        with shelf_state.lock:
            promise = line_promise(reckoner, parcel, line, {**_whole(by_lot), lot: tuple(eggs)})
        if promise.holds:
            return tr("{eggs} from lot {lot}", eggs=sum(eggs), lot=lot)
    return ""


def _whole(by_lot: Mapping[str, Sequence[int]]) -> dict[str, tuple[int, ...]]:
    return {lot: tuple(eggs) for lot, eggs in by_lot.items()}


def lots_left(shelf_state: ShelfState, lots: Sequence[str]) -> dict[str, int]:
    """Eggs of each lot that may still be packed: its last count less what was packed since."""
    counted = shelf_state.readable_tables().counted
    with shelf_state.ledger() as ledger:
        left = ledger.eggs_left(counted) if ledger else {lot: count.eggs for lot, count in counted.items()}
    return {lot: left[lot] for lot in lots if lot in left}


def _notes(shelf_state: ShelfState, kept: Kept) -> tuple[str, ...]:
    """What the bench should mind of each draw, as on the pick list."""
    from shipping.papers.wording.catalogue import note_text
    from shipping.week.draws import bench_notes, with_one_bottle

    wording = reasons_wording()
    tables, found = shelf_state.readable_tables(), list[Note]()
    box = tables.known.box_by_name.get(str(kept.facts.get("box", "")))
    with shelf_state.lock:
        for line in kept.parcel.lines:
            rides = rides_of(tables.reckoner, kept.parcel, line)
            for draw in line.draws if isinstance(rides, dict) else ():
                assert isinstance(rides, dict)
                ride, units = rides[draw.lot], kept.units_of(line.order, line.line, draw.lot)
                each = -(-draw.pack // units)
                hours = ride.hours_of_air(each, ride.lot_day.forecast.lot.salt_g_l)
                found += bench_notes(ride, each, hours, box)
    texts = (note_text(_with_names(note), wording) for note in with_one_bottle(found))
    return tuple(dict.fromkeys(texts))


def _with_names(note: Note) -> Note:
    """A note with the name of its country in place of the code."""
    place = str(note.facts.get("place", ""))
    country, dash, _ = place.partition("-")
    named = f"{name_of_country(country)} ({place})" if dash else name_of_country(country)
    return Note(note.code, {**note.facts, "place": named}) if place else note


def entry_to_take_back(entries: tuple[Entry, ...], parcel: str) -> int:
    """The number of the last entry about a parcel that stands; 0 where there is none."""
    gone = undone_entries(entries)
    return next((one.seq for one in reversed(entries) if one.parcel == parcel and one.seq not in gone), 0)


def entries_about(entries: Sequence[Entry], every: Sequence[Entry], parcel: str) -> tuple[Entry, ...]:
    """Those of some entries that are about a parcel, the taking back of its entries too."""
    owner = {entry.seq: entry.parcel for entry in every}
    return tuple(
        entry
        for entry in entries
        if entry.parcel == parcel
        or (isinstance(entry.body, Undone) and owner.get(entry.body.entry) == parcel)
    )


# -- counts in an address
# ----------------------------------------------------------------------------------------------


def drafts_from(texts: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Counts so far by parcel, as they were typed, from ``2026-W49-01~23.18``; what is too long is not."""
    drafts: dict[str, tuple[str, ...]] = {}
    for text in texts:
        name, mark, counts = text.rpartition("~")
        typed = tuple(unquote(part) for part in counts.split("."))
        if mark and name and all(len(part) <= LONGEST_COUNT for part in typed):
            drafts[name] = typed
    return drafts


def draft_texts(drafts: Mapping[str, Sequence[str]]) -> list[str]:
    return [f"{name}~{_as_draft(typed)}" for name, typed in sorted(drafts.items())]


def _as_draft(typed: Iterable[str]) -> str:
    return ".".join(quote(count, safe="").replace(".", "%2E") for count in typed)


def count_from(typed: str) -> int | None:
    """The count that was typed; None where it is no whole number that eggs can have."""
    text = typed.strip()
    is_number = text.isascii() and text.isdigit() and len(text) < 8
    return int(text) if is_number and int(text) <= MOST_EGGS else None
