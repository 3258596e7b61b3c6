"""Until when lines that stay wait, and on which days ahead they may be filled: options in, dates out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property
from typing import TypeVar

import numpy as np

from shipping.options.journey import ASKING, SCARCITY, Ints
from shipping.options.option import LEAST_DRAW, Floats, Leg, Option, units_for
from shipping.options.option_arrays import LineOptions, OptionTable, of_each_table, tables_for
from shipping.options.option_factory import packing_warmth
from shipping.options.ride_arrays import Bools
from shipping.tables.rows.orders import Line, Order, wish_of
from shipping.week.choices import Choices
from shipping.week.left_out.status import LineStatus, StatusOfLines
from shipping.week.left_out.stock import HORIZON_D, Draws, EggsLeft, ExpectedEggs, draws_for
from shipping.week.plan_data import LineOut, Parcel
from shipping.words.keys import LineKey, grouped
from shipping.words.reasons import ASKS, BUYERS_MOVE, LASTING, NO_SUCH_EGGS, Reason, Verdict, nearest_first
from shipping.words.units import iso_week, weekday


@dataclass(frozen=True, eq=False)
class OpenOptions:
    """The options of a line on days ahead that only a lack of eggs, or a person's answer, may stand against:
    n cells.

    Sorted by ``day`` (its place among the days asked about), ``pack``, lot, service, packing; ``lot`` is the
    place among ``lots``, ``together`` the same number for cells that may share a line; ``passes``: nothing
    else stands against it. ``asks``: what a person has to answer first. ``free``: eggs free of each lot on
    each day (L, D).
    """

    lots: tuple[str, ...]
    free: Ints
    day: Ints
    lot: Ints
    together: Ints
    pack: Ints
    passes: Bools
    asks: Bools

    @classmethod
    def of(cls, options: LineOptions, days: tuple[date, ...]) -> OpenOptions:
        """The open ones of a line's options."""
        number = {day: n for n, day in enumerate(days)}
        on_day = np.array([number[leg.day] for leg in options.legs], dtype=np.int64)
        cells = np.nonzero(
            (options.codes >= 0) & ((options.codes & ~(SCARCITY | ASKING)) == 0) & (options.pack > 0)
        )
        lot, leg, packing = (axis.astype(np.int64) for axis in cells)
        codes, pack = options.codes[cells], options.pack[cells]
        ranks = [_ranks([one.lot for one in options.lots])[lot]]
        ranks += [_ranks([one.service.service for one in options.legs])[leg]]
        ranks += [_ranks([one.packing for one in options.packings])[packing]]
        order = np.lexsort((ranks[2], ranks[1], ranks[0], pack, on_day[leg]))
        free = np.zeros((len(options.lots), len(days)), dtype=np.int64)
        free[:, on_day] = options.free
        return cls(
            lots=tuple(one.lot for one in options.lots),
            free=free.astype(np.int32),
            day=on_day[leg][order].astype(np.int16),
            lot=lot[order].astype(np.int32),
            together=np.unique(leg * len(options.packings) + packing, return_inverse=True)[1][order].astype(
                np.int32
            ),
            pack=pack[order].astype(np.int32),
            passes=(codes & ~ASKING)[order] == 0,
            asks=(codes & ASKING)[order] != 0,
        )


@dataclass(eq=False)
class DaysAhead:
    """What waiting lines may be filled with ahead; reckoned together when first asked for."""

    left: EggsLeft
    days: tuple[date, ...]
    waiting: tuple[tuple[Order, Line], ...]
    known: dict[LineKey, OpenOptions] = field(default_factory=dict)

    def draws_for(
        self, order: Order, line: Line, days: frozenset[date], answered: bool
    ) -> Iterator[tuple[date, Draws | None]]:
        """The days, in order, on which the line may be filled, with the draw that does; None where only
        several lots may.

        One lot where one does, with the fewest eggs. ``answered``: what a person has to answer first is taken
        as answered.
        """
        options = self._of(order, line)
        if not options.day.size:
            return
        left = np.array(
            [
                self.left.ahead(lot, self.days, free)
                for lot, free in zip(options.lots, options.free, strict=True)
            ]
        )
        may = self._is_asked(days)[options.day] & (answered | ~options.asks)
        eggs = left[options.lot, options.day]
        alone = may & options.passes & (options.pack <= eggs)
        share = np.where(may & (eggs >= LEAST_DRAW), np.minimum(eggs / options.pack, 1.0), 0.0)
        sums = np.bincount(options.together, share)  # a leg is on one day
        several = ~alone & (sums >= 1.0 - 1e-9)[options.together] & (share > 0)
        for day in sorted({*options.day[alone].tolist(), *options.day[several].tolist()}):
            here = options.day == day
            if (alone & here).any():
                cell = int(np.argmax(alone & here))
                yield self.days[day], ((options.lots[options.lot[cell]], int(options.pack[cell])),)
            elif self._may_do_together(options, share, here):
                yield self.days[day], None

    def may_go(self, order: Order, line: Line, answered: bool = True) -> bool:
        """Does nothing but a lack of eggs stand against some option of a line on these days?

        ``answered`` as above.
        """
        return bool((answered | ~self._of(order, line).asks).any())

    def _may_do_together(self, options: OpenOptions, share: Floats, here: Bools) -> bool:
        """Is enough left of a few lots by one leg in one packing?"""
        most = self.left.factory.shelf.settings.plan.lots_a_line
        groups = grouped(
            (group, part)
            for group, part in zip(options.together[here].tolist(), share[here].tolist(), strict=True)
        )
        return any(math.fsum(sorted(parts)[-most:]) >= 1.0 for parts in groups.values())

    def _is_asked(self, days: frozenset[date]) -> Bools:
        return np.array([day in days for day in self.days], dtype=bool)

    def _of(self, order: Order, line: Line) -> OpenOptions:
        if line.key not in self.known:
            missing = (
                [(one, wish) for one, wish in self.waiting if wish.key not in self.known]
                if not self.known
                else []
            )
            self._reckon(missing if any(wish.key == line.key for _, wish in missing) else [(order, line)])
        return self.known[line.key]

    def _reckon(self, lines: list[tuple[Order, Line]]) -> None:
        wishes = [(order, line.species) for order, line in lines]
        for table in tables_for(self.left.factory, wishes, self.days, passing_only=True):
            own = [(order, line) for order, line in lines if line.species == table.species.species]
            self.known |= open_options(table, own, self.days)


def open_options(
    table: OptionTable, lines: Sequence[tuple[Order, Line]], days: tuple[date, ...]
) -> dict[LineKey, OpenOptions]:
    """What some lines of one species may be filled with on the days of its table; lines alike share it."""
    made: dict[int, tuple[LineOptions, OpenOptions]] = {}  # the options too, so that no other gets their id
    found = {}
    for order, line in lines:
        options = table.of(order, line, line.population)
        if id(options) not in made:
            made[id(options)] = (options, OpenOptions.of(options, days))
        found[line.key] = made[id(options)][1]
    return found


def _ranks(names: list[str]) -> Ints:
    """The place of each name among all of them, sorted."""
    place = {name: n for n, name in enumerate(sorted(set(names)))}
    return np.array([place[name] for name in names], dtype=np.int64)


#: Fewer counts asked of lots than this are put into words before a second process has begun.
MANY_WAITING = 500
Result = TypeVar("Result")
#: A line that does not go, and its order.
Waiting = tuple[Order, Line]
#: What may be answered for some lines, and what they may be filled with on days ahead.
_Later = tuple[dict[LineKey, tuple[Reason, ...]], dict[LineKey, OpenOptions]]


@dataclass(frozen=True, eq=False)
class Queue:
    """What waiting lines share: what the plan leaves, what groups will give; older orders ask first."""

    choices: Choices
    left: EggsLeft
    expected: ExpectedEggs
    going: frozenset[LineKey]
    parcels: tuple[Parcel, ...]
    _borne: dict[tuple[object, ...], bool] = field(default_factory=dict)

    @classmethod
    def behind(cls, choices: Choices, parcels: tuple[Parcel, ...], stopped: Iterable[LineKey] = ()) -> Queue:
        """The queue behind the parcels of a plan, without lines that are known not to go at all."""
        going = frozenset((line.order, line.line) for parcel in parcels for line in parcel.lines)
        going |= frozenset(stopped)
        left = EggsLeft.after(choices.factory, parcels)
        return cls(choices, left, ExpectedEggs(choices.shelf), going, parcels)

    @cached_property
    def waiting(self) -> tuple[Waiting, ...]:
        """Every line that does not go, the oldest order first, as they are to be asked about."""
        orders = sorted(self.choices.shelf.orders, key=lambda order: (order.placed_on, order.order))
        return tuple((order, line) for order in orders for line in order.lines if line.key not in self.going)

    @cached_property
    def later_days(self) -> tuple[date, ...]:
        """The breeder's days to post after the week planned, within the horizon."""
        today = self.choices.shelf.today
        first = max(self.choices.days, default=today) + timedelta(days=1)
        return self._posting_days(first, today + timedelta(days=HORIZON_D))

    def _posting_days(self, first: date, last: date) -> tuple[date, ...]:
        days = (first + timedelta(days=n) for n in range((last - first).days + 1))
        return tuple(day for day in days if weekday(day) in self.choices.shelf.settings.plan.dispatch_days)

    def bears(self, name: str, leg: Leg) -> bool:
        """Does some packing for the species' eggs bridge the warmth of a leg?"""
        key = (name, leg.service.exposed_h, leg.trip.key, leg.trip.days_to_p95)
        if key not in self._borne:
            shelf = self.choices.shelf
            species = shelf.species[name]
            kept = {lot.medium for lot in shelf.lots_of(name)} or {"peat" if species.is_damp else "water"}
            packings = [packing for packing in shelf.packings if not kept.isdisjoint(packing.media)]
            at = {lot.kept_at_c for lot in shelf.lots_of(name)} or {species.incubation_c}
            self._borne[key] = any(
                not packing_warmth(shelf, packing, species, leg, kept_at)
                for packing in packings
                for kept_at in sorted(at)
            )
        return self._borne[key]

    @cached_property
    def ahead(self) -> DaysAhead:
        """The days of the week planned and after it, for the lines that wait."""
        return DaysAhead(self.left, (*self.choices.days, *self.later_days), self.waiting)

    @cached_property
    def sooner(self) -> DaysAhead:
        """The breeder's days to post that are left before the week planned."""
        today = self.choices.shelf.today
        days = self._posting_days(today, min(self.choices.days, default=today) - timedelta(days=1))
        return DaysAhead(self.left, days, self.waiting)

    def statuses(self, processes: int = 2) -> Mapping[LineKey, LineStatus]:
        """Where each line stands by this week alone; of lines that later days may serve also what they may be
        filled with then, which is kept for `ahead`, and what may be answered so that they go.
        """
        choices, loads = self.choices, Counter(self.choices.shelf.parcels_made)
        loads.update(parcel.dispatch_on for parcel in self.parcels)
        sent: dict[str, int] = {}
        takers: dict[str, set[str]] = {}
        for one in (line for parcel in self.parcels for line in parcel.lines):
            sent[one.order] = min(one.line, sent.get(one.order, one.line))
            for draw in one.draws:
                takers.setdefault(draw.lot, set()).add(one.order)
        statuses = StatusOfLines(choices, loads, self.left, self.waiting, sent, takers)
        wanted = {line.species for _, line in self.waiting}
        if wanted <= choices.tables.keys():
            tables = [choices.tables[species] for species in sorted(wanted)]
        else:
            tables = self._tables(self.waiting, choices.days or self.later_days, passing_only=False)
        found: dict[LineKey, LineStatus] = {}
        for own in self._of_each(tables, self.waiting, statuses.of_lines, processes):
            found |= own

        def later(table: OptionTable, lines: Sequence[Waiting]) -> _Later:
            stopped = [one for one in lines if found[one[1].key].verdict is Verdict.STOP]
            return statuses.answers(table, stopped), open_options(table, lines, self.ahead.days)

        open_ended = [one for one in self.waiting if not found[one[1].key].is_final]
        tables = self._tables(open_ended, self.ahead.days, passing_only=True)
        for answers, ahead in self._of_each(tables, open_ended, later, processes):
            found |= {key: replace(found[key], to_answer=reasons) for key, reasons in answers.items()}
            self.ahead.known |= ahead
        return found

    def _tables(
        self, lines: Sequence[Waiting], days: tuple[date, ...], passing_only: bool
    ) -> list[OptionTable]:
        """The options of some lines over some days, a table a species."""
        wishes = [(order, line.species) for order, line in lines]
        return list(tables_for(self.choices.factory, wishes, days, passing_only))

    @staticmethod
    def _of_each(
        tables: Sequence[OptionTable],
        lines: Sequence[Waiting],
        make: Callable[[OptionTable, Sequence[Waiting]], Result],
        processes: int,
    ) -> list[Result]:
        """What is made of some lines by the options of their species, species by species."""
        own = grouped((line.species, (order, line)) for order, line in lines)
        return of_each_table(
            tables, lambda table: make(table, own.get(table.species.species, [])), MANY_WAITING, processes
        )


def lines_out(choices: Choices, parcels: tuple[Parcel, ...], processes: int = 2) -> tuple[LineOut, ...]:
    """Where every line stands that is in none of the parcels; by order and line, with all reasons, the
    nearest first.

    Notes
    -----
    Older orders are asked about first, and each line that waits has its eggs from then on, so that two lines
    never wait for the same ones: what the plan draws, and what an older line waits for, is gone for the next.
    """
    queue = Queue.behind(choices, parcels)
    statuses, sooner = queue.statuses(processes), may_go_sooner(queue)
    found = {
        line.key: _sooner_out(line, statuses[line.key], sooner[line.key])
        if line.key in sooner
        else _line_out(queue, order, line, statuses[line.key])
        for order, line in queue.waiting
    }
    for order, line in queue.waiting:
        found[line.key] = _asked_in_vain(queue, order, line, found[line.key])
    for order in choices.shelf.orders:
        out = [found[line.key] for line in order.lines if line.key in found]
        if len(out) > 1 and not order.may_split:
            found |= {(one.order, one.line): one for one in _together(out)}
    return tuple(
        found[line.key] for order in choices.shelf.orders for line in order.lines if line.key in found
    )


def _line_out(queue: Queue, order: Order, line: Line, status: LineStatus) -> LineOut:
    """Where a line stands, and until when that may change (None: nobody knows)."""
    verdict, until = status.verdict, None
    if not status.is_final:
        waits, until = when_served(queue, order, line)
        verdict = Verdict.WAIT if waits else verdict
        if not waits and status.to_answer:
            codes = {reason.code for reason in status.to_answer}
            now = [reason for reason in status.reasons if reason.code not in codes]
            still = {reason.code for reason in status.reasons}
            later = [
                replace(reason, facts={**reason.facts, "later": "still" if reason.code in still else "then"})
                for reason in status.to_answer
            ]
            return LineOut(order.order, line.number, Verdict.HOLD, None, nearest_first([*now, *later]))
        if not waits and queue.ahead.may_go(order, line, answered=False):
            verdict = Verdict.WAIT  # for eggs, on whichever of its own days
    return LineOut(order.order, line.number, verdict, until, status.reasons)


def _sooner_out(line: Line, status: LineStatus, day: date) -> LineOut:
    """Where a line stands that may still go on a day before the week planned, whatever that week holds."""
    week = iso_week(day)
    text = f"May still go in week {week}, before the week planned: plan that week first."
    reason = Reason("sooner", text, {"week": week}, "plan")
    order, number = line.key
    return LineOut(order, number, Verdict.WAIT, day, nearest_first([reason, *status.reasons]))


def may_go_sooner(queue: Queue) -> Mapping[LineKey, date]:
    """Days before the week planned on which lines may go; one day for all of an order that travels whole."""
    found: dict[LineKey, date] = {}
    for name, lines in grouped((order.order, line) for order, line in queue.waiting).items():
        order = queue.choices.shelf.order_by_name[name]
        for parcel in [[line] for line in lines] if order.may_split else [lines]:
            for day in queue.sooner.days:
                ways = [_draws_sooner(queue, order, line, day) for line in parcel]
                draws = [draw for way in ways for draw in way]
                if all(ways):
                    queue.left.take(draws, day, name)
                    found |= {line.key: day for line in parcel}
                    break
    return found


def _draws_sooner(queue: Queue, order: Order, line: Line, day: date) -> Draws:
    """The draws that fill a line, or what may go instead, on a day before the week planned; or none."""
    if own := _first_of(queue, queue.sooner, (day,), order, line, False):
        return own[0]
    for wish in line.instead if not queue.left.is_full(day, order.order) else ():
        options = queue.choices.options_of(order, line, *wish_of(wish), (day,))
        if found := draws_for(options, queue.left):
            return found[0]
    return ()


def _asked_in_vain(queue: Queue, order: Order, line: Line, out: LineOut) -> LineOut:
    """Where a line stands, with the fact that its buyer's answer would not help within the horizon."""
    codes = {reason.code for reason in out.reasons}
    asked = codes & BUYERS_MOVE & ASKS
    if out.verdict is not Verdict.HOLD or not asked or not codes & (LASTING | NO_SUCH_EGGS) or line.instead:
        return out
    if queue.ahead.may_go(order, line) or _from_group(queue, order, line) is not None:
        return out
    reasons = tuple(
        replace(one, facts={**one.facts, "in_vain": True}) if one.code in asked else one
        for one in out.reasons
    )
    return replace(out, reasons=reasons)


def _together(out: list[LineOut]) -> list[LineOut]:
    """An order that travels whole waits for its last line; nobody knows, if one is held or stops."""
    stopped = {one.line for one in out if one.verdict is Verdict.STOP}
    out = [replace(one, reasons=tuple(_with_stop(reason, stopped) for reason in one.reasons)) for one in out]
    days = [one.until for one in out if one.verdict is Verdict.WAIT]
    known = [day for day in days if day is not None]
    last = max(known) if len(known) == len(out) else None
    return [replace(one, until=last) if one.verdict is Verdict.WAIT else one for one in out]


def _with_stop(reason: Reason, stopped: set[int]) -> Reason:
    """The reason, with the fact that the line waited for does not go at all where it stops."""
    if reason.code != "other-line" or reason.facts.get("line") not in stopped or "apart" in reason.facts:
        return reason
    return replace(reason, facts={**reason.facts, "stops": True})


def when_served(queue: Queue, order: Order, line: Line) -> tuple[bool, date | None]:
    """The first day within the horizon on which eggs do for a line, which has them from then on."""
    own = first_draws(queue, order, line)
    if own is not None:
        draws, day = own
        queue.left.take(draws, day, order.order)
    elif (found := _from_group(queue, order, line)) is not None:
        day, group = found
        queue.expected.take(group, line.eggs)
    else:
        return False, None
    return True, day


def first_draws(
    queue: Queue, order: Order, line: Line, *, answered: bool = False
) -> tuple[Draws, date] | None:
    """The draws that fill a line after the week planned, and the first day within the horizon on which they
    do.

    With ``answered`` what a person has to answer first is taken as answered, so that it may still go in the
    week planned.
    """
    asked = (*(queue.choices.days if answered else ()), *queue.later_days)
    return _first_of(queue, queue.ahead, asked, order, line, answered)


def _first_of(
    queue: Queue, ahead: DaysAhead, asked: Iterable[date], order: Order, line: Line, answered: bool
) -> tuple[Draws, date] | None:
    """The draws that fill a line, and the first of some of the days ahead on which they do."""
    choices, left = queue.choices, queue.left
    open_days = frozenset(day for day in asked if not left.is_full(day, order.order))
    for day, draws in ahead.draws_for(order, line, open_days, answered):
        if draws is not None:
            return draws, day
        options = choices.options_of(order, line, line.species, line.population, (day,))
        found = draws_for(options, left, answered=answered)
        if found is not None and _has_box(choices, order, line, *found):
            return found[0], day
    return None


def _has_box(choices: Choices, order: Order, line: Line, draws: Draws, option: Option) -> bool:
    """Does a box and its postage take draws from several lots? One lot's were weighed with the option."""
    packing, service = option.ride.packing, option.ride.leg.service.service
    units = sum(units_for(packing, eggs) for _, eggs in draws)
    return (
        len(draws) == 1
        or choices.parcels.cost(order.place, service, ((line.key, packing.packing, units),)) is not None
    )


def _from_group(queue: Queue, order: Order, line: Line) -> tuple[date, str] | None:
    """The first day within the horizon by which a group's eggs should do, eyed, and the group."""
    choices = queue.choices
    found = queue.expected.ready_for(line.species, line.population, line.eggs)
    if found is None:
        return None
    ready, group = found
    to = choices.factory.destination(order)
    services = choices.factory.services(order.place, order.service)
    for day in queue.later_days:
        if day < max(ready, order.not_before or ready):
            continue
        legs = [choices.factory.leg(service, to, day) for service in services]
        in_time = [leg for leg in legs if order.not_after is None or leg.arrivals.p95 <= order.not_after]
        open_legs = [leg for leg in in_time if not leg.blocks]
        if any(queue.bears(line.species, leg) for leg in open_legs):
            return day, group
    return None
