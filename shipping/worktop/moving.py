"""A kept parcel on another day or by another service: a parcel and a wish in, what would come of it, and the
week planned so, out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shipping.ledger.packing_day import line_of
from shipping.ledger.planning_again import shelf_left
from shipping.tables.editing.row_writer import WrittenRow, change_row
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.reasons import Reason, nearest_first
from shipping.worktop.days import why_text
from shipping.worktop.kept_week import Kept, kept_parcels_now, of_week
from shipping.worktop.page_language import day_words, tr
from shipping.worktop.planner import Planned, changes_of, plan_now
from shipping.worktop.shelf_state import ShelfState, Tables
from shipping.worktop.table_row import change_tried
from shipping.worktop.trial import trial_copy

if TYPE_CHECKING:
    from shipping.ledger.entries import Entry
    from shipping.tables.rows.orders import Line, Order
    from shipping.tables.shelf import Shelf
    from shipping.week.choices import Choices

ORDERS = "orders.csv"


@dataclass(frozen=True, slots=True)
class Wish:
    """Where a parcel shall go instead; ``service`` "" is whichever is best."""

    day: date
    service: str


@dataclass(frozen=True)
class Outcome:
    """What would come of a wish: the plan of then, its parcels that hold the lines moved, which of these
    would stay and why, and what else would change, a sentence each.
    """

    plan: Planned
    parcels: tuple[Mapping[str, Any], ...]
    left_out: tuple[str, ...]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MoveWay:
    """A day and a service by which a parcel might go instead: about when it is there, how sure it is that
    enough of its worst line arrive alive, and what speaks against it by itself; nothing where it may go.
    """

    day: date
    service: str
    hour: str
    there: date
    chance: float
    against: tuple[Reason, ...]


def ways_to_move(shelf_state: ShelfState, kept: Kept, days: tuple[date, ...]) -> tuple[MoveWay, ...]:
    """Every day and service that the parcel's lines share, those that may go first, the earliest before; the
    rest by what is nearest to going. Other parcels are not looked at.
    """
    from shipping.options.option_factory import Reckoner
    from shipping.week.choices import Choices

    with shelf_state.lock, shelf_state.ledger() as ledger:
        shelf = shelf_left(shelf_state.tables().shelf, ledger, kept.parcel.week)
    choices = Choices(Reckoner(shelf), days, ())
    ways: dict[tuple[date, str], MoveWay] = {}
    for n, kept_line in enumerate(kept.parcel.lines):
        found = line_of(shelf, kept_line)
        if isinstance(found, str):
            return ()
        own = _nearest_by_way(choices, *found, days)
        ways = {key: _worse(ways[key], own[key]) for key in ways.keys() & own.keys()} if n else own
    return tuple(sorted(ways.values(), key=lambda way: (len(way.against), way.day, way.there, way.service)))


def _nearest_by_way(
    choices: Choices, order: Order, line: Line, days: tuple[date, ...]
) -> dict[tuple[date, str], MoveWay]:
    """By day and service the option of a line that has least against it."""
    ways: dict[tuple[date, str], MoveWay] = {}
    for option in choices.options_of(order, line, line.species, line.population, days):
        leg = option.ride.leg
        way = MoveWay(
            leg.day,
            leg.service.service,
            leg.service.cut_off or "",
            leg.arrivals.p50,
            option.p_enough,
            nearest_first(list(option.reasons)),
        )
        key = (way.day, way.service)
        ways[key] = min(ways.get(key, way), way, key=lambda one: (len(one.against), -one.chance))
    return ways


def _worse(one: MoveWay, other: MoveWay) -> MoveWay:
    return max(one, other, key=lambda way: (len(way.against), -way.chance))


def outcome(shelf_state: ShelfState, kept: Kept, wish: Wish) -> Outcome:
    """What would come of it, found on a copy of shelf and ledger; nothing is written.

    Raises
    ------
    ShelfProblems
        If the orders cannot be changed on the page, or say then what cannot be.
    """
    rows = changed_rows(kept, shelf_state.tables(), wish)
    with shelf_state.ledger() as ledger, trial_copy(shelf_state.folder, ledger) as trial:
        _write(trial / ORDERS, rows)
        state = ShelfState(trial, shelf_state.today_of)
        try:
            with state.ledger() as copied:
                assert copied is not None
                copied.drop(kept.name)
            plan = plan_now(state, kept.parcel.week)
            rest = of_week(kept_parcels_now(state), kept.parcel.week)
        finally:
            state.close()
    facts: Mapping[str, Any] = plan.plan.as_json()
    keys = kept.parcel.line_keys

    def is_of_it(line: Mapping[str, Any]) -> bool:
        return (line["order"], line["line"]) in keys

    return Outcome(
        plan,
        tuple(parcel for parcel in facts["parcels"] if any(map(is_of_it, parcel["lines"]))),
        tuple(
            _against(plan.shelf, line["order"], line["line"], wish)
            for line in facts["lines_out"]
            if is_of_it(line)
        ),
        changes_of(plan, rest, without=keys),
    )


def _against(shelf: Shelf, name: str, number: int, wish: Wish) -> str:
    """What speaks against a line on that day: the reasons of the option that has fewest."""
    from shipping.options.option_factory import Reckoner
    from shipping.week.choices import Choices

    order = shelf.order_by_name[name]
    line = next(one for one in order.lines if one.number == number)
    choices = Choices(Reckoner(shelf), (wish.day,), ())
    every = choices.options_of(order, line, line.species, line.population, (wish.day,))
    options = [one for one in every if wish.service in ("", one.ride.leg.service.service)]
    nearest = min(options, key=lambda one: len(one.reasons), default=None)
    if nearest is None:
        return tr("{order}, line {line}: nothing of it can go then.", order=name, line=number)
    why = " ".join(map(why_text, nearest.reasons)) or tr("Another line of its order cannot go.")
    return tr("{order}, line {line}: {why}", order=name, line=number, why=why)


def move(shelf_state: ShelfState, kept: Kept, wish: Wish) -> Entry:
    """Writes the wish into the orders, lets the parcel go, plans again and keeps that plan; the entry of it.

    Raises
    ------
    ShelfProblems
        If an order cannot be changed so; nothing is written then.
    """
    rows = changed_rows(kept, shelf_state.tables(), wish)
    change_tried(shelf_state, "orders", lambda path: _write(path, rows))
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        ledger.drop(kept.name)
    plan = plan_now(shelf_state, kept.parcel.week)
    tables = shelf_state.tables()
    placed = {order.order: order.placed_on for order in tables.shelf.orders}
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        return ledger.keep_plan(plan.plan.as_json(), tables.counted, placed)


def changed_rows(kept: Kept, tables: Tables, wish: Wish) -> Mapping[int, Mapping[str, str]]:
    """What the rows of a parcel's orders say then: dispatch not before the day, the service, and arrival not
    later than from that day, so that no later one is as good; an earlier bound of the order's own stays.

    Raises
    ------
    ShelfProblems
        If an order stands in another sheet, in none any more, or must not leave so early.
    """
    found: dict[int, Mapping[str, str]] = {}
    for name in sorted({line.order for line in kept.parcel.lines}):
        order = tables.shelf.order_by_name.get(name)
        if order is None:
            text = tr("{order} is not in it any more.", order=name)
            raise _refused(ORDERS, text, tr("Let the parcel go."))
        if order.not_before and wish.day < order.not_before:
            text = tr("{order} must not leave before {day}.", order=name, day=day_words(order.not_before))
            raise _refused(ORDERS, text, tr("Change that in the order first, if it may."))
        until = min((day for day in (order.not_after, _there_by(tables, order, wish)) if day), default=None)
        cells = {
            "not_before": wish.day.isoformat(),
            "not_after": until.isoformat() if until else "",
            "service": wish.service,
        }
        for line in order.lines:
            if line.row.at.file != ORDERS:
                mend = tr("A dropped sheet is never written to: write its order in your own table first.")
                text = tr("{order} stands in {file}.", order=name, file=line.row.at.file)
                raise _refused(line.row.at.file, text, mend)
            found[line.row.at.row] = cells
    return found


def _there_by(tables: Tables, order: Order, wish: Wish) -> date | None:
    """The day by which a parcel of that day and service is there almost surely; None without a service."""
    reckoner = tables.reckoner
    named = reckoner.services(order.country, wish.service) if wish.service else ()
    legs = (reckoner.leg(service, reckoner.destination(order), wish.day) for service in named)
    return max((leg.arrivals.p95 for leg in legs), default=None)


def _write(path: Path, rows: Mapping[int, Mapping[str, str]]) -> WrittenRow:
    return [change_row(path, row, cells) for row, cells in sorted(rows.items())][-1]


def _refused(file: str, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where(file), "", "move", text, mend),))
