"""The card of a parcel at the bench: a kept parcel and the counts so far in, what its card shows out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from shipping.ledger.entries import Entry, undone_entries
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.packing_day import eggs_that_do, line_now, promised_share, rides_of
from shipping.papers.wording.phrases import note_text
from shipping.post.address import address_hints_by_column
from shipping.post.calendar import cut_off_of
from shipping.post.item_id import origin_caution
from shipping.tables.cells import MOST_EGGS
from shipping.tables.rows.orders import Order
from shipping.tables.shelf import Shelf
from shipping.words.keys import LineKey
from shipping.words.reasons import Note
from shipping.worktop.kept_week import (
    Kept,
    fish_name,
    gone_orders,
    is_taken_in,
    lots_to_count,
    lots_to_look_at,
    moved_text,
)
from shipping.worktop.page_language import (
    day_words,
    name_of_country,
    name_of_place,
    past_text,
    reasons_wording,
    shown_name,
    tr,
)
from shipping.worktop.promise import LinePromise, Outlook, line_promise, outlook_told
from shipping.worktop.shelf_state import ShelfState

#: What is typed as a count is no longer, right or wrong.
LONGEST_COUNT = 24
#: The beginning of a note: what to do, before why and how much. The stop of an abbreviated day or month ends
#: no sentence: a digit stands on one side of it, or a small letter follows.
_HEAD = re.compile(r"(.{30,}?)(?:[;:](?= |$)|(?<!\d)\.(?= [A-ZÀ-Þ¡¿]|$))")


@dataclass(frozen=True, slots=True)
class Tube:
    """One tube or bag of a line, or all of a lot: its ``place`` in the parcel from 0, its count ``typed``."""

    place: int
    line: LineKey
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

    line: KeptLine
    fish: str
    tubes: tuple[Tube, ...]
    promise: LinePromise
    too_many: tuple[str, ...]
    enough: str

    @property
    def no_count(self) -> str:
        """What to write where a count is none: then nothing is reckoned from it."""
        return " ".join(
            tr(
                "Lot {lot}: '{typed}' is no count of eggs. Write it in digits, such as 24.",
                lot=tube.lot,
                typed=tube.typed,
            )
            if tube.typed
            else tr("Lot {lot}: no count is written. Write 0 if none was packed.", lot=tube.lot)
            for tube in self.tubes
            if tube.eggs is None
        )


@dataclass(frozen=True, slots=True)
class ParcelCard:
    """One parcel; what to say ``past`` its hour, the entry to ``undo`` or 0, its ``outlook`` if late or
    stopped; what is asked about its ``postcode``, and lacks in its address.
    """

    kept: Kept
    addressee: str
    place: str
    is_fetched: bool
    cut_off: str
    past: str
    box: str
    lines: tuple[LineCard, ...]
    undo: int
    item_caution: str
    look_first: tuple[str, ...]
    count_first: tuple[str, ...]
    notes: tuple[str, ...]
    other_day: str
    today: date
    outlook: Outlook | None
    shut: str
    changed: str
    postcode: str

    @property
    def asks_which_day(self) -> bool:
        """Is it handled on another day than planned, and not one that may leave today as it is?"""
        leaves_now = self.outlook is not None and self.outlook.may_go and self.outlook.leaves == self.today
        return bool(self.other_day) and not leaves_now

    @property
    def may_go(self) -> bool:
        return self.outlook is None or self.outlook.may_go

    @property
    def eggs(self) -> int:
        return sum(tube.eggs or 0 for line in self.lines for tube in line.tubes)

    @property
    def holds(self) -> bool:
        return all(line.promise.holds and not line.no_count for line in self.lines)

    @property
    def is_cautioned(self) -> bool:
        """Is a tube or bag too full, or its lot too near hatching?"""
        return any(line.promise.cautions for line in self.lines)

    @property
    def too_full(self) -> tuple[str, ...]:
        """What is counted into tubes or bags that do not hold it."""
        return tuple(text for line in self.lines for text in line.promise.too_full)

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
        return tuple(what_to_do(note) for note in self.notes)


def what_to_do(note: str) -> str:
    """The beginning of a note, without why and how much; all of it where it has no such beginning."""
    head = _HEAD.match(note)
    return head[1].rstrip() if head else note


def planned_tubes(kept: Kept) -> tuple[Tube, ...]:
    """Each tube or bag with its planned eggs, in the order of the slip: fuller ones first."""
    tubes: list[Tube] = []
    for line in kept.parcel.lines:
        for draw in line.draws:
            packing = draw.packing.removesuffix(_in_its_box(kept))
            for eggs in _evenly(draw.pack, kept.units_of(line.order, line.line, draw.lot)):
                tubes.append(Tube(len(tubes), line.key, draw.lot, packing, eggs, str(eggs)))
    return tuple(tubes)


def _packed_tubes(kept: Kept) -> tuple[Tube, ...]:
    """What was packed of each lot, as one tube."""
    draws = {(line.key, draw.lot): draw for line in kept.parcel.lines for draw in line.draws}
    tubes = []
    for count in kept.parcel.counts:
        key = (count.order, count.line)
        draw = draws.get((key, count.lot))
        packing = draw.packing.removesuffix(_in_its_box(kept)) if draw else ""
        tubes.append(Tube(0, key, count.lot, packing, draw.pack if draw else 0, str(count.eggs)))
    return tuple(tubes)


def _in_its_box(kept: Kept) -> str:
    return f" in {kept.facts.get('box', '')}"


def _evenly(eggs: int, units: int) -> list[int]:
    each, over = divmod(eggs, units)
    return [each + (n < over) for n in range(units)]


def parcel_card(shelf_state: ShelfState, kept: Kept, draft: Sequence[str] | None = None) -> ParcelCard:
    """The card of a kept parcel; ``draft``: counts so far, the plan's if None or unfit."""
    tables, parcel, today = shelf_state.readable_tables(), kept.parcel, shelf_state.today_of()
    shelf = tables.shelf
    tubes = planned_tubes(kept) if parcel.is_planned else _packed_tubes(kept)
    if parcel.is_planned and draft is not None and len(draft) == len(tubes):
        tubes = tuple(replace(tube, typed=typed) for tube, typed in zip(tubes, draft, strict=True))
    order = shelf.order_by_name.get(parcel.lines[0].order) if parcel.lines else None
    addressee = kept.addressee if kept.addressee or not order else order.address.addressee
    services = [row for row in shelf.services if row.service == parcel.service]
    is_fetched = bool(services) and all(row.is_collection for row in services)
    with shelf_state.lock:
        told = outlook_told(kept, tables, today)
        return ParcelCard(
            kept=kept,
            addressee=shown_name(addressee),
            place=", ".join(filter(None, (order.address.town if order else "", name_of_country(parcel.to)))),
            is_fetched=is_fetched,
            cut_off=cut_off_of(parcel.service, shelf) or "",
            past=""
            if parcel.is_handed_over
            else past_text(cut_off_of(parcel.service, shelf), parcel.dispatch_on),
            box=tr(
                "{box}, about {weight:.0f} g",
                box=str(kept.facts.get("box", "")) or tr("box"),
                weight=float(kept.facts.get("weight_g", 0)),
            ),
            lines=tuple(_line_card(shelf_state, kept, line, tubes) for line in parcel.lines),
            undo=entry_to_take_back(shelf_state.entries(), kept.name),
            item_caution=origin_caution(parcel.item, shelf.settings.home.country) if parcel.item else "",
            look_first=lots_to_look_at(kept, tables.known),
            count_first=lots_to_count(kept.facts["lines"], tables.known),
            notes=_notes(shelf_state, kept) if parcel.is_planned else (),
            other_day=other_day(parcel, today),
            today=today,
            outlook=told,
            shut="" if told or parcel.is_handed_over else _shut(parcel, shelf),
            changed=" ".join(filter(None, (changed_orders(parcel, shelf), moved_text(kept, shelf)))),
            postcode="" if parcel.is_handed_over else _postcode_asked(order, is_fetched, shelf),
        )


def _postcode_asked(order: Order | None, is_fetched: bool, shelf: Shelf) -> str:
    """What is asked about the postcode of an order, while nobody answered, and what its address lacks."""
    if order is None:
        return ""
    rows = {line.row.at for line in order.lines}
    asked = [one.text for one in shelf.notices if one.code == "postcode" and one.where in rows]
    lacking = () if is_fetched else address_hints_by_column(order.address)
    return " ".join(map(tr, (*asked, *(hint for _, hint in lacking))))


def _shut(parcel: KeptParcel, shelf: Shelf) -> str:
    """What to say where the service of a parcel takes nothing in on the day it was planned for; "" else."""
    if is_taken_in(parcel.service, parcel.dispatch_on, parcel.place(shelf), shelf):
        return ""
    return tr(
        "{service} takes nothing in on {day}: the parcel would lie until it does.",
        service=parcel.service,
        day=day_words(parcel.dispatch_on),
    )


def changed_orders(parcel: KeptParcel, shelf: Shelf) -> str:
    """What the orders of a parcel still here say now that they did not when it was kept; "" where nothing."""
    said = [gone_orders(parcel, shelf)]
    for line in parcel.lines if parcel.is_planned else ():
        eggs, order = eggs_ordered_now(line, shelf), line.order
        if eggs not in (0, line.ordered):
            text = tr(
                "Order {order} now asks for {eggs}, not {ordered}; the promise below is for that.",
                order=order,
                eggs=eggs,
                ordered=line.ordered,
            )
            said.append(text)
    return " ".join(dict.fromkeys(filter(None, said)))


def eggs_ordered_now(line: KeptLine, shelf: Shelf) -> int:
    """The eggs that a kept line's order asks for in the tables of now; 0 where it does not any more."""
    wish = line_now(line, shelf)
    return wish.eggs if wish else 0


def other_day(parcel: KeptParcel, on: date) -> str:
    """What to say where a parcel not yet sent is handled on another day than the one it was planned for."""
    if parcel.is_handed_over or on == parcel.dispatch_on:
        return ""
    days = {"planned": day_words(parcel.dispatch_on), "today": day_words(on)}
    if on < parcel.dispatch_on:
        return tr(
            "Planned for {planned}; today is {today}. Its eggs and its promise were reckoned for {planned},"
            " only then.",
            **days,
        )
    return tr(
        "Planned for {planned}; today is {today}. Its eggs and its promise were reckoned for {planned},"
        " that day is over.",
        **days,
    )


def _line_card(shelf_state: ShelfState, kept: Kept, line: KeptLine, tubes: Sequence[Tube]) -> LineCard:
    tables, parcel = shelf_state.readable_tables(), kept.parcel
    if parcel.is_planned:
        line = replace(line, ordered=eggs_ordered_now(line, tables.shelf) or line.ordered)
    own = tuple(tube for tube in tubes if tube.line == line.key)
    by_lot: dict[str, list[int]] = {}
    for tube in own:
        units = 1 if parcel.is_planned else kept.units_of(line.order, line.line, tube.lot)
        by_lot.setdefault(tube.lot, []).extend(_evenly(tube.eggs or 0, units))
    today = shelf_state.today_of()
    late = (
        today if parcel.is_overdue(today) else None
    )  # past its day it is as sure as it would be from now on
    promise = line_promise(tables.factory, parcel, line, by_lot, late)
    is_open = parcel.is_planned and promise.chance is not None and not promise.holds
    return LineCard(
        line,
        fish_name(line.species, line.population, tables.shelf),
        own,
        promise,
        tuple(_too_many(shelf_state, by_lot)) if parcel.is_planned else (),
        _enough(shelf_state, parcel, line, by_lot, late) if is_open else "",
    )


def _too_many(shelf_state: ShelfState, by_lot: Mapping[str, Sequence[int]]) -> Iterator[str]:
    """What to say of each lot of which more is counted than its last count, less what was packed since."""
    counted = shelf_state.readable_tables().counted
    with shelf_state.ledger() as ledger:
        left = ledger.eggs_left(counted, by_lot.keys() & counted.keys()) if ledger else {}
    for lot in sorted(left):
        if sum(by_lot[lot]) > left[lot]:
            yield tr(
                "Lot {lot} has {left} eggs left to pack, not {counted}.",
                lot=lot,
                left=left[lot],
                counted=sum(by_lot[lot]),
            )


def _enough(
    shelf_state: ShelfState,
    parcel: KeptParcel,
    line: KeptLine,
    by_lot: Mapping[str, Sequence[int]],
    day: date | None,
) -> str:
    """How many eggs of the first lot keep the promise, as ``24 from lot FL-31``; "" if none near."""
    lot, factory = line.draws[0].lot, shelf_state.readable_tables().factory
    rides = rides_of(factory, parcel, line, day)
    if isinstance(rides, str):
        return ""
    eggs = {name: sum(each) for name, each in by_lot.items()}
    enough = eggs_that_do(rides, eggs, lot, line.ordered, promised_share(factory.shelf, line))
    return tr("{eggs} from lot {lot}", eggs=enough, lot=lot) if enough else ""


def _notes(shelf_state: ShelfState, kept: Kept) -> tuple[str, ...]:
    """What the bench should mind of each draw, as on the pick list; past its day as if it left now."""
    from shipping.week.draws import bench_notes, with_one_bottle

    tables, notes = shelf_state.readable_tables(), list[Note]()
    box = tables.known.box_by_name.get(str(kept.facts.get("box", "")))
    late = shelf_state.today_of() if kept.parcel.is_overdue(shelf_state.today_of()) else None
    for line in kept.parcel.lines:
        rides = rides_of(tables.factory, kept.parcel, line, late)
        if isinstance(rides, str):
            continue
        for draw in line.draws:
            ride = rides[draw.lot]
            each = -(-draw.pack // kept.units_of(line.order, line.line, draw.lot))
            hours = ride.hours_of_air(each, ride.lot_day.forecast.lot.salt_g_l)
            notes += bench_notes(ride, each, hours, box)
    texts = (note_text(_with_names(note), reasons_wording()) for note in with_one_bottle(notes))
    return tuple(dict.fromkeys(texts))


def _with_names(note: Note) -> Note:
    """A note with the name of its country in place of the code."""
    place = str(note.facts.get("place", ""))
    return Note(note.code, {**note.facts, "place": name_of_place(place)}) if place else note


def entry_to_take_back(entries: tuple[Entry, ...], parcel: str, kind: type = object) -> int:
    """The number of the last entry about a parcel that stands, of a ``kind`` of body; 0 where none does."""
    gone = undone_entries(entries)
    standing = (one for one in reversed(entries) if one.parcel == parcel and one.seq not in gone)
    return next((one.seq for one in standing if isinstance(one.body, kind)), 0)


def count_from(typed: str) -> int | None:
    """The count that was typed; None where it is no whole number that eggs can have."""
    text = typed.strip()
    is_number = text.isascii() and text.isdigit() and len(text) < 8
    return int(text) if is_number and int(text) <= MOST_EGGS else None
