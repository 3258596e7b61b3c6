"""A breeder's folder in, its shelf with the ledger's lots bought in and orders owed again out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import nullcontext
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TypeVar

from shipping.ledger import disagreements
from shipping.ledger.added_rows import Owed, bought_lot, owed_rows
from shipping.ledger.entries import Bought
from shipping.ledger.errors import LEDGER_FILE, LedgerError, has_ledger
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts, eggs_counted, names_before, packed_as_counted, packed_beyond
from shipping.questions.reckoned_checks import shelf_checks
from shipping.tables.cells import Row
from shipping.tables.one_spelling import one_spelling
from shipping.tables.reader import Reading, read_shelf
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Draft, Shelf
from shipping.tables.spelling import folded
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

AnyRow = TypeVar("AnyRow", bound=Row)


def read_whole_shelf(folder: Path, today: date, take: bool = False, ledger: Ledger | None = None) -> Reading:
    """The shelf in a folder with what its ledger adds, and every problem; without a ledger the tables, and
    that nothing is learned from their arrivals. Raises LedgerError if there is a ledger that cannot be read:
    without it, eggs could be sold twice.
    """
    if ledger is None and not has_ledger(folder):
        reading = read_shelf(folder, today, take)
        arrivals = reading.shelf.arrivals if reading.shelf else ()
        return _with_problems(reading, tuple(map(disagreements.of_nothing_kept, arrivals[:1])))
    with nullcontext(ledger) if ledger else Ledger.open(folder, today) as ledger:
        owed = tuple(line for line in ledger.owed() if line.since <= today)
        join = partial(_joined, ledger=ledger, owed=owed, orders=ledger.orders().keys(), today=today)
        reading = read_shelf(folder, today, take, join)
        if reading.shelf is None:
            return reading
        waiting = (line for line in ledger.waiting_owed() if line.since <= today)
        known = reading.shelf.order_by_name
        stuck = (_stuck(line, line.of[0] in known) for line in waiting if line.order not in known)
        problems = (*stuck, *_questions(ledger, reading.shelf))
    return _with_problems(reading, problems)


def _with_problems(reading: Reading, problems: tuple[Problem, ...]) -> Reading:
    """What was read, with what the ledger says against it."""
    if reading.shelf is None or not problems:
        return reading
    shelf = replace(reading.shelf, notices=(*reading.shelf.notices, *problems))
    return replace(reading, shelf=shelf, problems=(*reading.problems, *problems))


def read_for_packing(folder: Path, today: date, ledger: Ledger, names: Iterable[str]) -> Reading:
    """The shelf as packing these parcels needs it: of the orders only theirs, and none that is another's now.

    A row of other orders that cannot be read closes planning, not the bench. Raises LedgerError if one of the
    parcels is not kept, or others know more than the ledger.
    """
    ledger.check_newest()  # of an older or another ledger nothing else that could be said is true
    orders = {line.order for name in names for line in ledger.parcel(name).lines}
    owed = {line.order: line for line in ledger.owed() if line.since <= today}
    wanted = list(orders)
    for order in wanted:  # one owed again rests on the rows of the order it is owed for
        if order in owed and owed[order].of[0] not in orders:
            wanted.append(owed[order].of[0])
            orders.add(owed[order].of[0])
    due = tuple(owed[order] for order in wanted if order in owed)
    join = partial(_joined, ledger=ledger, owed=due, orders=orders, today=today)
    return read_shelf(folder, today, join=join, orders=orders)


def _questions(ledger: Ledger, shelf: Shelf) -> Iterator[Problem]:
    """What tables and ledger say against each other: orders, lots that are gone, arrivals, lines."""
    for question in disagreements.order_questions(shelf.orders, ledger.orders()):
        yield question.problem()
    yield from disagreements.orders_renumbered(ledger, shelf)
    yield from disagreements.lines_changed_since(ledger.parcels(), shelf)
    yield from disagreements.leaving_too_early(ledger.waiting(), shelf)
    counted = eggs_counted(shelf)
    for gone in disagreements.lots_gone(ledger, shelf, counted):
        yield from gone.problems(LEDGER_FILE)
    yield from packed_beyond(ledger.packings(counted), counted)
    yield from disagreements.recounts_of_packed_eggs(ledger, shelf, counted)
    yield from disagreements.counts_moved_on(ledger, shelf)
    yield from disagreements.lots_of_another_fish(ledger, shelf)
    for short in disagreements.held_short(ledger, counted):
        yield short.problem(shelf.lot_by_name[short.lot].at)
    for moved in disagreements.parcels_moved(ledger.waiting(), shelf, ledger.orders()):
        yield moved.problem()
    yield from _same_day_counts(ledger, shelf)
    if shelf.arrivals:
        parcels = {parcel.parcel: parcel for parcel in ledger.parcels()}
        yield from disagreements.arrival_problems(shelf.arrivals, parcels, shelf.today)
    known = {line.key for order in shelf.orders for line in order.lines}
    for parcel in ledger.waiting():
        for order, line in sorted(parcel.line_keys - known):
            told = (order, line, parcel.parcel)
            text = say("line {order}:{line} is gone, and {parcel} holds its eggs.", *told)
            if (order, line) in shelf.cancelled:
                text = say("line {order}:{line} was cancelled, and {parcel} holds its eggs.", *told)
            mend = say("Let it go: spawnpost drop {parcel}; or put its row back.", parcel.parcel)
            if not parcel.is_planned:
                mend = say(
                    "Take its packing back: spawnpost undo {parcel}; or put its row back.", parcel.parcel
                )
            where = Where(LEDGER_FILE, parcel.plan_entry)
            yield Problem(where, "parcel", "line-gone", text, mend, Level.LOT)


def _same_day_counts(ledger: Ledger, shelf: Shelf) -> Iterator[Problem]:
    """Each last recount of a day on which eggs of the lot were packed: which came first?"""
    packed = ledger.packings(eggs_counted(shelf))
    for lot, looks in shelf.looks_by_lot.items():
        last = [look for look in looks if look.alive is not None][-1:]
        for look in last:
            of_day = (packing for packing in packed.get(lot, ()) if packing.on == look.on)
            eggs = sum(packing.eggs for packing in of_day if packing.eggs > 0)
            if eggs and look.before_packing is None:
                text = say(
                    "lot {lot} was counted on {on}, the day {eggs} eggs of it were packed; the count"
                    " is taken as made after those recorded by then.",
                    *(lot, look.on, eggs),
                )
                mend = (
                    "Write `no` in before_packing if that is so, `yes` if it came before that day's parcels."
                )
                yield Problem(look.at, "before_packing", "same-day", text, mend, Level.NOTICE)


def _stuck(line: Owed, is_there: bool) -> Problem:
    """Eggs owed again for a line that is gone from the tables, or ``is_there`` and asks for another fish."""
    order, number = line.of
    told = (order, number, line.eggs)
    text = say(
        "eggs are owed again for {order}:{number} ({eggs}), but that line is not in the tables.", *told
    )
    if is_there and line.line is not None:
        fish = f"{line.line.species} {line.line.population}".strip()
        text = say(
            "eggs of {fish} are owed again for {order}:{number} ({eggs}), but that line asks for another fish"
            " now.",
            *(fish, *told),
        )
    mend = say("Put the rows of order {order} back as they were.", order)
    return Problem(Where(LEDGER_FILE, line.entry), "", "owed", text, mend, Level.NOTICE)


def problems_of_lot(folder: Path, today: date, bought: Bought) -> tuple[Problem, ...]:
    """What the checks would say against eggs bought in, were they a lot of the shelf; none where they may be.

    What keeps only that lot from being planned (it is closed at home) is no reason not to record it.
    """
    try:
        lot = bought_lot(bought, Where("question"))
    except LedgerError as trouble:
        return (Problem(Where("question"), "", "question", trouble.text, trouble.mend),)

    def join(draft: Draft) -> Draft:
        names = draft.names.get("lots", frozenset()) | {lot.lot}
        return replace(draft, names={**draft.names, "lots": names}, lots=(*draft.lots, lot))

    problems = read_shelf(folder, today, join=join).problems
    return tuple(told for told in problems if told.where == lot.at and told.level is Level.ERROR)


def said_of_bought(folder: Path, today: date, entry: int) -> tuple[Problem, ...]:
    """What `check` says of the lot of a purchase just recorded."""
    reading = read_whole_shelf(folder, today)
    reckoned = shelf_checks(reading.shelf) if reading.shelf else ()
    return tuple(told for told in (*reading.problems, *reckoned) if told.where == Where(LEDGER_FILE, entry))


def _joined(
    draft: Draft, ledger: Ledger, owed: Collection[Owed], orders: Collection[str], today: date
) -> Draft:
    """The draft with lots bought in and lines owed again; the tables' own lots speak for themselves."""
    bought = ledger.bought_entries()
    known_lots = ledger.lots_used() | {entry.body.lot for entry in bought if isinstance(entry.body, Bought)}
    draft = replace(
        draft,
        lots=tuple(_as_recorded(draft.lots, "lot", known_lots)),
        order_rows=tuple(_as_recorded(draft.order_rows, "order", orders)),
    )
    named = draft.names.get("lots", frozenset()) | {lot.lot for lot in draft.lots}
    lots = [
        bought_lot(entry.body, Where(LEDGER_FILE, entry.seq))
        for entry in bought
        if isinstance(entry.body, Bought) and entry.body.lot not in named and entry.body.arrived_on <= today
    ]
    whole = replace(
        draft,
        packed=_packed(ledger, eggs_counted(draft)),
        came_back=_came_back(ledger, draft.lots),
        names={**draft.names, "lots": named | {lot.lot for lot in lots}},
        lots=(*draft.lots, *lots),
    )
    if not owed:
        return whole
    spelt = one_spelling(whole)[0].order_rows  # a kept line has its fish as its lots spell it
    return replace(whole, order_rows=(*whole.order_rows, *owed_rows(owed, spelt, LEDGER_FILE)))


def _packed(ledger: Ledger, counted: Mapping[str, LotCounts]) -> dict[str, dict[date, int]]:
    """Days and eggs packed, those that came back not taken off, by the name their lot has now."""
    packings = ledger.packings(counted).items()
    return packed_as_counted({lot: [one for one in each if one.eggs > 0] for lot, each in packings}, counted)


def _came_back(ledger: Ledger, lots: Iterable[Lot]) -> dict[str, tuple[tuple[date, int], ...]]:
    """Days and eggs that came back, by the name their lot has now."""
    now, back = names_before(lots), dict[str, tuple[tuple[date, int], ...]]()
    for name, eggs in ledger.came_back().items():
        lot = now.get(name, name)
        back[lot] = (*back.get(lot, ()), *eggs)
    return back


def _as_recorded(rows: Iterable[AnyRow], column: str, recorded: Collection[str]) -> Iterator[AnyRow]:
    """The rows, each with its name as the ledger has it: a name in another case is still the same."""
    known: dict[str, str] = {}
    for row in rows:
        name = getattr(row, column)
        if name not in recorded:
            known = known or {folded(other): other for other in sorted(recorded)}
            name = known.get(folded(name), name)
        yield row if name == getattr(row, column) else row.model_copy(update={column: name})
