"""A kept parcel on another day or by another service: a wish in; what would come of it out.

While a move is written a mark stands beside the tables, so that one that was stopped is ended.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from flask import Response, abort, request

from shipping.ledger.entries import PlanKept
from shipping.ledger.packing_day import line_of
from shipping.ledger.planning_again import shelf_left
from shipping.post.transit import services_to
from shipping.tables.editing.row_writer import change_rows
from shipping.tables.files.whole_file import write_whole
from shipping.week.objective import default_week, dispatch_days
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.reasons import Reason, nearest_first
from shipping.words.units import money_text
from shipping.worktop.context import Refused, Undo, View, day_from, refusing, said_of, week_from
from shipping.worktop.kept_week import Kept, gone_orders, kept_parcel_now, kept_parcels_now, of_week
from shipping.worktop.page_language import day_words, named, tr
from shipping.worktop.planner import Planned, changes_of, plan_now
from shipping.worktop.promise import outlook
from shipping.worktop.running_list import ListedParcel, cause_text, listed_days, why_text
from shipping.worktop.shelf_state import ASKING, ShelfState, Tables, trial_copy
from shipping.worktop.table_row import change_tried
from shipping.worktop.table_words import rows_as_typed
from shipping.worktop.views.week import digest_of, keep_plan

#: Beside the tables while a move is written, first into them, then into the ledger. It names no buyer.
_MARK = ".move-begun.json"
#: Cells of rows of the orders, by the number of the row.
_Cells = Mapping[int, Mapping[str, str]]


@dataclass(frozen=True, slots=True)
class BegunMove:
    """A parcel that goes to a day by a service (or "": any); ``entries`` were in the ledger then, ``agreed``
    is what else was seen to change, and ``by`` the device that is told of it ("": any).
    """

    parcel: str
    day: str
    service: str
    entries: int
    agreed: Sequence[str]
    by: str = ""


def is_begun(folder: Path) -> bool:
    """Was a move begun there that is not ended?"""
    return (folder / _MARK).exists()


def begin_move(folder: Path, move: BegunMove) -> None:
    write_whole(folder / _MARK, json.dumps(asdict(move)).encode())


def begun_move(folder: Path) -> BegunMove | None:
    """The move begun; None where its mark cannot be read, so that nothing of it was written."""
    try:
        move = BegunMove(**json.loads((folder / _MARK).read_text("utf-8")))
        date.fromisoformat(move.day)
    except (OSError, ValueError, TypeError):
        return None
    return move


def end_move(folder: Path) -> None:
    (folder / _MARK).unlink(missing_ok=True)


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
class MoveOutcome:
    """What would come of a wish: the plan of then, its parcels that hold the lines moved, which of these
    would stay and why, and what else would change, a sentence each.
    """

    plan: Planned
    parcels: tuple[Mapping[str, Any], ...]
    left_out: tuple[str, ...]
    others: tuple[str, ...]

    @property
    def changes(self) -> tuple[str, ...]:
        """The days and services of its parcels, and what else changes."""
        ways = (f"{one['dispatch_on']} {one['service']}" for one in self.parcels)
        return (*ways, *self.left_out, *self.others)


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
    from shipping.options.option_factory import OptionFactory
    from shipping.week.choices import Choices

    with shelf_state.lock, shelf_state.ledger() as ledger:
        shelf = shelf_left(shelf_state.tables().shelf, ledger, kept.parcel.week)
    choices = Choices(OptionFactory(shelf), days, ())
    ways: dict[tuple[date, str], MoveWay] = {}
    for n, kept_line in enumerate(kept.parcel.lines):
        ordered = line_of(shelf, kept_line)
        if isinstance(ordered, str):
            return ()
        own = _nearest_by_way(choices, *ordered, days)
        ways = {key: max(ways[key], own[key], key=_trouble) for key in ways.keys() & own.keys()} if n else own
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
        ways[key] = min(ways.get(key, way), way, key=_trouble)
    return ways


def _trouble(way: MoveWay) -> tuple[int, float]:
    return len(way.against), -way.chance


def outcome(shelf_state: ShelfState, kept: Kept, wish: Wish) -> MoveOutcome:
    """What would come of it, found on a copy of shelf and ledger; nothing is written. Raises ShelfProblems if
    the orders cannot be changed on the page, or say then what cannot be.
    """
    rows = changed_rows(kept, shelf_state.tables(), wish)
    with shelf_state.ledger() as ledger, trial_copy(shelf_state.folder, ledger) as trial:
        change_rows(trial / ORDERS, rows)
        state = ShelfState(trial, shelf_state.today_of)
        try:
            plan = _planned_without(state, kept)
            rest = of_week(kept_parcels_now(state), kept.parcel.week)
        finally:
            state.close()
    facts: Mapping[str, Any] = plan.plan.as_json()
    keys = kept.parcel.line_keys

    def is_of_it(line: Mapping[str, Any]) -> bool:
        return (line["order"], line["line"]) in keys

    return MoveOutcome(
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
    from shipping.options.option_factory import OptionFactory
    from shipping.week.choices import Choices

    order = shelf.order_by_name[name]
    line = next(line for line in order.lines if line.number == number)
    choices = Choices(OptionFactory(shelf), (wish.day,), ())
    every = choices.options_of(order, line, line.species, line.population, (wish.day,))
    options = [option for option in every if wish.service in ("", option.ride.leg.service.service)]
    nearest = min(options, key=lambda option: len(option.reasons), default=None)
    if nearest is None:
        return tr("{order}, line {line}: nothing of it can go then.", order=name, line=number)
    why = " ".join(map(why_text, nearest.reasons)) or tr("Another line of its order cannot go.")
    return tr("{order}, line {line}: {why}", order=name, line=number, why=why)


def move(shelf_state: ShelfState, kept: Kept, wish: Wish, would: MoveOutcome) -> Entry:
    """Writes the wish into the orders, and keeps the plan that comes of it, which takes the place of the
    parcel; the entry of it. Raises ShelfProblems if an order cannot be changed so; nothing is written then.
    """
    rows, folder = changed_rows(kept, shelf_state.tables(), wish), shelf_state.folder
    entries, by = len(shelf_state.entries()), ASKING.get()
    begin_move(folder, BegunMove(kept.name, wish.day.isoformat(), wish.service, entries, would.changes, by))
    try:
        change_tried(shelf_state, "orders", lambda path: change_rows(path, rows))
    except BaseException:
        end_move(folder)
        raise
    entry = keep_plan(shelf_state, would.plan.plan.as_json())
    end_move(folder)
    return entry


def end_begun_move(shelf_state: ShelfState) -> None:
    """Does a move to its end that was stopped between table and ledger, and tells the device that began it;
    not yet where tables or ledger must be mended first.
    """
    if not is_begun(shelf_state.folder):
        return
    with shelf_state.lock:
        begun = begun_move(shelf_state.folder)
        try:
            said = _rest_of(shelf_state, begun) if begun else ""
        except ShelfProblems:
            return
        end_move(shelf_state.folder)
        if begun and said:
            shelf_state.notice(said, to=begun.by)


def _rest_of(shelf_state: ShelfState, begun: BegunMove) -> str:
    """Keeps the plan that a begun move comes to, where no more changes by it than was agreed to."""
    kept = kept_parcel_now(shelf_state, begun.parcel)
    if kept is None or not kept.parcel.is_planned or len(shelf_state.entries()) != begun.entries:
        return ""
    wish = Wish(date.fromisoformat(begun.day), begun.service)
    day = day_words(wish.day)
    if not _is_written(shelf_state, changed_rows(kept, shelf_state.tables(), wish)):
        return tr(
            "Parcel {number} was to be moved to {day} when this page was stopped: nothing of it was written.",
            number=kept.number,
            day=day,
        )
    would = outcome(shelf_state, kept, wish)
    if list(would.changes) != list(begun.agreed):
        return tr(
            "Parcel {number} was to be moved to {day} when this page was stopped: its order says so, and the"
            " plan does not yet. Move it again.",
            number=kept.number,
            day=day,
        )
    entry = keep_plan(shelf_state, would.plan.plan.as_json())
    done = tr(
        "Parcel {number} was to be moved to {day} when this page was stopped: it is done now.",
        number=kept.number,
        day=day,
    )
    return f"{done} {said_of(shelf_state.entries(), entry.seq)}"


def _is_written(shelf_state: ShelfState, rows: _Cells) -> bool:
    """Do the orders say already what these rows of theirs are to say?"""
    return _cells_there(shelf_state.folder, rows) == rows


def _cells_there(folder: Path, rows: _Cells) -> dict[int, dict[str, str]]:
    """What cells of some rows of the orders say now."""
    there = {row.row: row.cells for row in rows_as_typed(folder / ORDERS)}
    return {
        number: {name: there.get(number, {}).get(name, "") for name in cells}
        for number, cells in rows.items()
    }


def _move_of(form: Mapping[str, str]) -> tuple[int, _Cells, _Cells]:
    """The move that is taken back, and cells of orders before and after, from its form; no other's form."""
    try:
        before, after = (
            {
                int(row): {name: str(cells[name]) for name in ("not_before", "not_after", "service")}
                for row, cells in json.loads(form[which]).items()
            }
            for which in ("before", "after")
        )
        return int(form["entry"]), before, after
    except (ValueError, TypeError, AttributeError, KeyError):
        abort(404)


def _planned_without(shelf_state: ShelfState, kept: Kept) -> Planned:
    """The week planned again once a parcel was let go."""
    with shelf_state.ledger() as ledger:
        assert ledger is not None
        ledger.drop(kept.name)
    return plan_now(shelf_state, kept.parcel.week)


def changed_rows(kept: Kept, tables: Tables, wish: Wish) -> _Cells:
    """What the rows of a parcel's orders say then: dispatch not before the day, the service, and arrival not
    later than from that day, so that no later one is as good; an earlier bound of the order's own stays.
    Raises ShelfProblems if an order stands in another sheet, in none any more, or must not leave so early.
    """
    rows: dict[int, Mapping[str, str]] = {}
    for name in sorted({line.order for line in kept.parcel.lines}):
        order = tables.shelf.order_by_name.get(name)
        if order is None:
            raise _refused(ORDERS, tr("{order} is not in it any more.", order=name), tr("Let the parcel go."))
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
            rows[line.row.at.row] = cells
    return rows


def _there_by(tables: Tables, order: Order, wish: Wish) -> date | None:
    """The day by which a parcel of that day and service is there almost surely; None without a service."""
    factory = tables.factory
    named = factory.services(order.place, wish.service) if wish.service else ()
    legs = (factory.leg(service, factory.destination(order), wish.day) for service in named)
    return max((leg.arrivals.p95 for leg in legs), default=None)


def _refused(file: str, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where(file), "", "move", text, mend),))


class MovingPage(View):
    """One parcel, and where else it might go."""

    pages = (("/parcels/<name>/move", "moving"),)
    forms = (("/parcels/<name>/move", "move"), ("/parcels/<name>/move/back", "move_back"))

    def moving(self, name: str) -> Response:
        return self._page(self.kept(name, ("planned",)), None, None, "")

    def move(self, name: str) -> Response:
        """What would come of it; with the mark of that very plan, it is done."""
        with self.shelf_state.lock:
            kept = self.kept(name, ("planned",))
            wish = self._wish(kept)
            if wish is None:
                return self._page(kept, None, None, tr("Choose a day and a service of the lists."), 422)
            try:
                with refusing("Not moved: {why}"):
                    would = outcome(self.shelf_state, kept, wish)
                    seen = request.form.get("digest", "")
                    if not seen or seen != digest_of(would.plan.plan.as_json()):
                        trouble = tr("Not moved: something changed since. This is what would come of it now.")
                        return self._page(kept, wish, would, trouble if seen else "", 409 if seen else 200)
                    rows = changed_rows(kept, self.shelf_state.tables(), wish)
                    before = _cells_there(self.shelf_state.folder, rows)
                    entry = move(self.shelf_state, kept, wish, would)
            except Refused as refused:
                return self._page(kept, wish, None, refused.said, refused.status)
        said = f"{tr('Moved.')} {self.said_of(entry.seq)}"
        marks = {"entry": str(entry.seq), "before": json.dumps(before), "after": json.dumps(rows)}
        undo = Undo(f"/parcels/{name}/move/back", marks)
        return self.worktop.told_at(f"/week?week={kept.parcel.week}", said, undo=undo)

    def move_back(self, name: str) -> Response:
        """Takes a move back: the plan that it kept, and what it wrote into the orders."""
        week = f"/week?week={week_from(name[:8])}"
        try:
            with self.shelf_state.lock:
                entry, before, after = _move_of(request.form)
                if not _is_written(self.shelf_state, after):
                    raise Refused(tr("Not taken back: the order was changed since. Change it there."))
                entries = self.shelf_state.entries()
                if not any(one.seq == entry and isinstance(one.body, PlanKept) for one in entries):
                    abort(404)
                with self.recording("Not taken back: {why}") as ledger:
                    ledger.undo(entry)
                with refusing("Not taken back: {why}"):
                    change_tried(self.shelf_state, "orders", lambda path: change_rows(path, before))
        except Refused as refused:
            return self.worktop.told_at(week, refused.said)
        said = tr("The move is taken back: parcel {number} goes as before.", number=name[9:])
        return self.worktop.told_at(week, said)

    def _wish(self, kept: Kept) -> Wish | None:
        day, service = day_from(request.form.get("day", "")), request.form.get("service", "")
        if day not in self._days(kept) or (service and service not in self._services(kept)):
            return None
        return Wish(day, service)

    def _days(self, kept: Kept) -> tuple[date, ...]:
        return dispatch_days(self.shelf_state.tables().shelf, kept.parcel.week)

    def _services(self, kept: Kept) -> list[str]:
        """The services that go where the parcel goes."""
        shelf = self.shelf_state.tables().shelf
        return sorted({row.service for row in services_to(shelf, *kept.parcel.place(shelf))})

    def _page(
        self, kept: Kept, wish: Wish | None, would: MoveOutcome | None, trouble: str, status: int = 200
    ) -> Response:
        shelf_state = self.shelf_state
        shelf, today = shelf_state.tables().shelf, self.worktop.today
        is_late, currency = kept.parcel.is_overdue(today), shelf.settings.plan.currency
        days = self._days(kept)
        ways = ways_to_move(shelf_state, kept, days) if days else ()
        here = (kept.parcel.dispatch_on, kept.parcel.service)
        return self.worktop.page(
            "moving.html",
            status,
            kept=kept,
            now=self._listed([_without_chances(kept.facts) if is_late else kept.facts], kept)[0],
            then=self._listed(would.parcels, kept) if would else [],
            postage=money_text(Decimal(kept.facts["postage"]), currency),
            money=[
                (one["dispatch_on"], one["service"], money_text(Decimal(one["postage"]), currency))
                for one in (would.parcels if would else ())
            ],
            lines=would.left_out if would else (),
            others=would.others if would else (),
            digest=digest_of(would.plan.plan.as_json()) if would else "",
            going=[way for way in ways if not way.against and (way.day, way.service) != here],
            barred=_barred(ways),
            is_late=is_late,
            outlook=outlook(kept, shelf_state.readable_tables(), today),
            currency=currency,
            wish=wish,
            gone=gone_orders(kept.parcel, shelf),
            next_week=default_week(shelf),
            asked=would is not None,
            trouble=trouble,
        )

    def _listed(self, parcels: Sequence[Mapping[str, Any]], kept: Kept) -> list[ListedParcel]:
        shelf, states = self.shelf_state.tables().shelf, {kept.name: "planned"}
        days = listed_days(kept.parcel.week, parcels, states, shelf)
        return [parcel for day in days for parcel in day.parcels]


def _without_chances(facts: Mapping[str, Any]) -> dict[str, Any]:
    """What a plan said of a parcel, less what it promised for a day that has passed."""
    lines = [{**line, "p_enough": None} for line in facts["lines"]]
    return {**facts, "lines": lines, "arrive": {"p50": None, "p95": None}}


def _barred(ways: Sequence[MoveWay]) -> list[tuple[str, str]]:
    """The services that go on none of the days, each with what stands in the way of the nearest."""
    going = {way.service for way in ways if not way.against}
    why: dict[str, str] = {}
    for way in ways:
        if way.against and way.service not in going:
            why.setdefault(way.service, named(day_words(way.day), cause_text(way.against[0])))
    return sorted(why.items())
