"""Where lines stand that the plan leaves behind, before later days are asked: lines in, verdicts and reasons
out.

Species after species, in two processes where that pays; until when each waits is `queue`'s.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

import numpy as np

from shipping.assignment.instance import TravelMode
from shipping.eggs.lot_forecast import lot_forecast
from shipping.options.journey import ASKING, Ints, bit
from shipping.options.option import Destination, Leg, LotDay, Option, Ride
from shipping.options.option_arrays import OptionTable, tables_for
from shipping.options.option_factory import bound_reasons, no_packing, packing_warmth, unpaid
from shipping.post.quote import quote
from shipping.post.restrictions import closed_at_home
from shipping.post.warmth import is_answerable
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line, Order
from shipping.tables.rows.packings import Packing
from shipping.week.choices import Choices
from shipping.week.left_out.nearest_option import (
    AIR,
    CLOSED_DAY,
    COLD,
    HOT,
    LOOK,
    MOST_SAID,
    SHORT,
    WARMTH,
    LineCells,
    Rank,
)
from shipping.week.left_out.stock import EggsLeft
from shipping.words.keys import Departure, LineKey, grouped
from shipping.words.reasons import OF_WARMTH, Reason, Verdict, nearest_first
from shipping.words.units import many

_LATER = bit("not-before") | CLOSED_DAY


#: So many orders to which a lot's eggs go are named.
MOST_TAKERS = 6
#: What may stand in the way of a lot to look at, and still be removed by the look.
_BY_A_LOOK = LOOK | sum(bit(code) for code in ("short", "too-young", "would-hatch"))


@dataclass(frozen=True, slots=True)
class LineStatus:
    """Where a line stands by what is known this week: ``is_final`` if eggs of later days change nothing of
    it. ``to_answer``: what a person may answer so that it goes later, where no later day does by itself.
    """

    verdict: Verdict
    is_final: bool
    reasons: tuple[Reason, ...]
    to_answer: tuple[Reason, ...] = ()


@dataclass(eq=False)
class StatusOfLines:
    """What decides where lines left behind stand; ``loads``: parcels by day; ``left``: the eggs left;
    ``sent``: of each order that goes, its first line that does; ``takers``: the orders that go, by lot.
    """

    choices: Choices
    loads: Mapping[date, int]
    left: EggsLeft
    waiting: Sequence[tuple[Order, Line]]
    sent: Mapping[str, int] = field(default_factory=dict)
    takers: Mapping[str, Set[str]] = field(default_factory=dict)
    _rules: dict[tuple[object, ...], tuple[list[Reason], bool]] = field(default_factory=dict)
    #: A packing in the boxes that bridge a leg's warmth for a fish, lightest first.
    _bridging: dict[tuple[object, ...], list[Packing]] = field(default_factory=dict)

    @cached_property
    def _instead(self) -> Mapping[str, OptionTable]:
        """Tables, by species, of what goes instead for some lines."""
        instead = self.choices.instead
        wishes = [(order, instead[line.key][0]) for order, line in self.waiting if line.key in instead]
        return {
            table.species.species: table
            for table in tables_for(self.choices.factory, wishes, self.choices.days)
        }

    def of_lines(self, table: OptionTable, lines: Iterable[tuple[Order, Line]]) -> dict[LineKey, LineStatus]:
        """Where lines of one species stand, a population at a time: few rides are in memory at once."""
        by_population = grouped((line.population.casefold(), (order, line)) for order, line in lines)
        found = {}
        for own in by_population.values():
            cells = [self._cells(table, order, line) for order, line in own]
            self._reckon([one for of_line in cells for one in of_line])
            for (order, line), of_line in zip(own, cells, strict=True):
                found[line.key] = self.of(order, line, of_line)
            self.choices.factory.forget_rides()
        for other in self._instead.values():
            other.forget()
        return found

    def answers(
        self, table: OptionTable, lines: Iterable[tuple[Order, Line]]
    ) -> dict[LineKey, tuple[Reason, ...]]:
        """What may be answered so that some lines of one species go on the later days of its table."""
        return {line.key: self._weather_ahead(table, order, line) for order, line in lines}

    def _cells(self, table: OptionTable, order: Order, line: Line) -> list[LineCells]:
        """The options of a line this week: of what it wishes, and of what goes instead."""
        found = [LineCells.of(table, order, line, line.population, self.choices.days)]
        if line.key in self.choices.instead:
            species, population = self.choices.instead[line.key]
            found.append(LineCells.of(self._instead[species], order, line, population, self.choices.days))
        return found

    def _reckon(self, cells: Iterable[LineCells]) -> None:
        """The rides that many lines are told of, lot by lot: each lot's clocks are reckoned once."""
        factory = self.choices.factory
        for lot, leg, packing in sorted(
            (wanted for one in cells for wanted in one.wanted(self.rank(False, False))),
            key=lambda ride: (ride[0].lot, ride[1].day),
        ):
            factory.ride(factory.lot_day(lot.lot, leg.day), packing, leg)

    def of(self, order: Order, line: Line, cells: Sequence[LineCells]) -> LineStatus:
        """Where a line stands; ``cells`` are its options, wish by wish.

        Its reasons are what speaks against the option that lacks least to go, and what no option can mend:
        all of them must change before it goes; those of packings and days that lack more are not among them.
        """
        lots = self.choices.shelf.lots_of(line.species, line.population)
        rules, closed = self._rule_reasons(order, line, lots)
        asks = [*([] if line.paid else [unpaid(line)]), *rules, *self._post_reasons(order)]
        is_held = bool(asks)
        is_to_look = not is_held and any(self._look_would_serve(one) for one in cells)
        awaits_weather = not (is_held or is_to_look) and self._waits_for_weather(line, cells)
        nearest = self._nearest(cells, self.rank(is_held, is_to_look, awaits_weather))
        reasons = (
            self._with_what_bridges(order, line, nearest) if nearest else asks + self._bound_reasons(order)
        )
        reasons += [reason for reason in rules if reason.code == "closed"]
        reasons += self._lot_reasons(line, lots) + self._route_reasons(order) + self._day_reasons()
        if closed:
            return LineStatus(Verdict.STOP, True, nearest_first(reasons))
        if is_held or is_to_look or awaits_weather:
            return LineStatus(Verdict.HOLD, True, nearest_first(reasons))
        crowded = self._crowded(order, line, cells)
        waits = crowded or any((one.codes == SHORT).any() for one in cells)
        return LineStatus(Verdict.WAIT if waits else Verdict.STOP, False, nearest_first(crowded or reasons))

    def _nearest(self, cells: Sequence[LineCells], rank: Rank) -> Option | None:
        """The option of a line that lacks least to go, what was ordered before what may go instead."""
        factory, parcels = self.choices.factory, self.choices.parcels
        found = [one.nearest(rank, factory, parcels) for one in cells]
        ranked = [(known[0], n, known[1]) for n, known in enumerate(found) if known is not None]
        return min(ranked, key=lambda one: one[:2])[2] if ranked else None

    def _with_what_bridges(self, order: Order, line: Line, nearest: Option) -> list[Reason]:
        """The reasons of an option; where cold or heat alone blocks it, with what the shelf has against it: a
        box that its packing does not name, or a service that the order does not.
        """
        codes = {reason.code for reason in nearest.blocks}
        if not codes or not codes <= OF_WARMTH or any("heat_pack" in one.facts for one in nearest.blocks):
            return list(nearest.reasons)
        facts = self._other_box(order, line, nearest.ride) or self._other_service(order, line, nearest.ride)
        return [
            replace(reason, facts={**reason.facts, **facts}) if reason.code in codes else reason
            for reason in nearest.reasons
        ]

    def _other_box(self, order: Order, line: Line, ride: Ride) -> dict[str, object]:
        """The lightest box of the shelf in which nothing would block a ride in the same packing."""
        packing, shelf = ride.packing, self.choices.shelf
        if packing.insulated_h is not None:  # measured in its own box
            return {}
        species, kept_at_c = ride.lot_day.forecast.species, ride.lot_day.forecast.kept_at_c(ride.leg.day)
        limits = (species.keep_min_c, species.keep_max_c)
        key = (packing.packing, ride.leg, species.scientific_name, *limits, kept_at_c)
        if key not in self._bridging:
            others = (one for one in shelf.boxes if one.box != packing.box)
            lightest = sorted(others, key=lambda box: (box.tare_g, box.box))
            inside = [packing.model_copy(update={"box": one.box}) for one in lightest]
            self._bridging[key] = [
                one for one in inside if not packing_warmth(shelf, one, species, ride.leg, kept_at_c)
            ]
        for one in self._bridging[key]:
            if self._goes(order, line, ride.lot_day, one, ride.leg):
                return {"in_box": one.box, "in_packing": packing.packing}
        return {}

    def _other_service(self, order: Order, line: Line, ride: Ride) -> dict[str, object]:
        """The first service that would take a ride's lot on its day, where the order names another."""
        factory, lot = self.choices.factory, ride.lot_day.forecast.lot
        for service in factory.services(order.place) if order.service else ():
            leg = factory.leg(service, ride.leg.destination, ride.leg.day)
            packings = (one for one in self.choices.shelf.packings if lot.medium in one.media)
            if not leg.asks and any(self._goes(order, line, ride.lot_day, one, leg) for one in packings):
                return {"by": service.service}
        return {}

    def _goes(self, order: Order, line: Line, lot_day: LotDay, packing: Packing, leg: Leg) -> bool:
        """Does nothing block a line in a packing on a leg, whatever a person has to answer?"""
        factory = self.choices.factory
        option = factory.option(factory.ride(lot_day, packing, leg), order, line, line.eggs)
        return not self.choices.parcels.weighed(order, option).blocks

    @staticmethod
    def rank(is_held: bool, is_to_look: bool, awaits_weather: bool = False) -> Rank:
        """How far an option is from going: fewer things to change before more, the sooner removed before the
        later; a day without hand-over is no option where another day is one.

        ``is_held``: every option needs an answer. ``is_to_look``: a look at a lot decides.
        ``awaits_weather``: what parcels there feel decides.
        """

        def rank(codes: int) -> tuple[int, ...]:
            asked = 0 if is_held else codes & ASKING
            unlooked = is_to_look and not (codes & LOOK and not codes & ~_BY_A_LOOK)
            unlooked |= awaits_weather and not (codes & WARMTH and not codes & ~(WARMTH | _LATER))
            return (int(bool(asked)), int(unlooked), int(bool(codes & CLOSED_DAY)), codes.bit_count(), codes)

        return rank

    def _rule_reasons(self, order: Order, line: Line, lots: tuple[Lot, ...]) -> tuple[list[Reason], bool]:
        """What the rules ask before anything of this line may go, and whether they forbid it everywhere."""
        shelf, to = self.choices.shelf, self.choices.factory.destination(order)
        kept = frozenset(lot.medium for lot in lots)
        at_home = lots[0].medium if lots else ("peat" if shelf.species[line.species].is_damp else "water")
        key = (to, line.species, kept, at_home, order.papers)
        if key not in self._rules:
            self._rules[key] = self._new_rule_reasons(to, line.species, kept, at_home, order.papers)
        return self._rules[key]

    def _new_rule_reasons(
        self, to: Destination, name: str, kept: frozenset[str], at_home: str, papers: frozenset[str]
    ) -> tuple[list[Reason], bool]:
        shelf, species = self.choices.shelf, self.choices.shelf.species[name]
        days = self.choices.days or (shelf.today,)
        ruled = self.choices.factory.rulings(to, species, kept, days, papers)
        home = closed_at_home(shelf, species, at_home)
        reasons = list(home.reasons) if home else []
        if not any(one.passes for one in ruled.every):
            reasons += ruled.reasons
        return list(nearest_first(reasons)), home is not None or all(one.is_closed for one in ruled.every)

    def _post_reasons(self, order: Order) -> list[Reason]:
        """The operator's answer, where every service that goes there lacks a yes."""
        choices = self.choices
        services = choices.factory.services(order.place, order.service)
        day = choices.days[0] if choices.days else choices.shelf.today
        return choices.factory.post_asks(services, choices.factory.destination(order), day)

    def _route_reasons(self, order: Order) -> list[Reason]:
        if self.choices.factory.services(order.place, order.service):
            return []
        named = f"{order.service} does not go" if order.service else "No service goes"
        text = f"{named} to {order.country}: add a row to services and postage, or tell the buyer."
        return [Reason("no-route", text, {"to": order.country, "service": order.service}, "services")]

    def _bound_reasons(self, order: Order) -> list[Reason]:
        """The order's own bounds, where they leave no day of the week."""
        choices, to = self.choices, self.choices.factory.destination(order)
        services = choices.factory.services(order.place, order.service)
        found = [
            bound_reasons(order, choices.factory.leg(service, to, day))
            for service in services
            for day in choices.days
        ]
        return min(found, key=len, default=[])

    def _day_reasons(self) -> list[Reason]:
        """That nothing can go in a week with no day to post left."""
        if self.choices.days:
            return []
        return [Reason("closed-day", "No day to post is left in that week.", {}, "shelf.toml")]

    def _lot_reasons(self, line: Line, lots: tuple[Lot, ...]) -> list[Reason]:
        """No lot, another population only, or no packing for its medium."""
        shelf = self.choices.shelf
        if lots:
            media = {lot.medium for lot in lots}
            if any(medium in packing.media for medium in media for packing in shelf.packings):
                return []
            return [no_packing(media)]
        others = sorted({lot.population for lot in shelf.lots_of(line.species)})
        if others:
            text = (
                f"No lot of {line.species} {line.population}; on hand:"
                f" {', '.join(filter(None, others)) or 'unnamed'}."
            )
            return [
                Reason(
                    "other-population",
                    text,
                    {"ordered": line.population, "on_hand": list(filter(None, others))},
                    "lots",
                )
            ]
        wanted = f"{line.species} {line.population}".strip()
        return [Reason("no-lot", f"No lot of {wanted}.", {"species": wanted}, "lots")]

    def _look_would_serve(self, cells: LineCells) -> bool:
        """Could a lot that must be looked at serve the line, if the look is good?"""
        found = (cells.codes >= 0) & ((cells.codes & LOOK) != 0) & ((cells.codes & ~_BY_A_LOOK) == 0)
        for n in sorted(set(found.nonzero()[0].tolist())):
            forecast = lot_forecast(self.choices.shelf, cells.options.lots[n].lot)
            days = [cells.options.legs[j].day for j in cells.legs.tolist()]
            if (last := forecast.last_wetting) is not None:  # before that day no look is asked for
                found[n, [day <= last for day in days]] = False
            elif not forecast.is_too_old(self.choices.shelf.today):  # what hatches later no look of now keeps
                found[n, [forecast.is_too_old(day) for day in days]] = False
            if not found[n].any() or forecast.count.eggs - forecast.lot.keep_back < cells.line.eggs:
                continue
            if (found[n] & ((cells.may_add[n] & AIR) == 0)).any():
                return True
            own = n * found[n].size
            cells.say(
                (own + found[n].ravel().nonzero()[0]).tolist(), self.choices.factory, self.choices.parcels
            )
            if ((cells.codes[n] & ~_BY_A_LOOK) == 0)[found[n]].any():
                return True
        return False

    def _apart(self, order: Order) -> list[Reason]:
        """Why lines that may go by themselves cannot share a parcel; empty where they can or need not."""
        if order.may_split or len(order.lines) < 2:
            return []
        modes = [self._modes(line) for line in order.lines]
        together = sorted(frozenset.intersection(*(frozenset(one) for one in modes)))
        if not all(modes):
            return []
        if not together:
            text = f"No day and service suits all lines of order {order.order}."
            facts: dict[str, object] = {"order": order.order, "line": order.lines[0].number, "apart": True}
            return [Reason("other-line", text, facts, "orders")]
        parcels = self.choices.parcels
        if any(parcels.goes_together(order, [one[place] for one in modes], place[1]) for place in together):
            return []
        shelf, place = self.choices.shelf, together[0]
        service = next(s for s in self.choices.factory.services(order.place) if s.service == place[1])
        units = tuple(
            (shelf.packing_by_name[packing], count) for _, packing, count in (one[place][0] for one in modes)
        )
        return list(quote(shelf, units, service, *order.place).reasons)

    def _modes(self, line: Line) -> dict[Departure, list[TravelMode]]:
        """The packings and units in which a line may go, by day and service."""
        found = self.choices.candidates(line.key)
        if found is None:
            return {}
        modes: dict[Departure, dict[TravelMode, None]] = {}
        for _, at, p, _, units, _ in found.alone.tolist():
            mode = (line.key, self.choices.shelf.packings[p].packing, units)
            modes.setdefault(found.departures[at], {})[mode] = None
        return {place: list(own) for place, own in modes.items()}

    def _weather_ahead(self, table: OptionTable, order: Order, line: Line) -> tuple[Reason, ...]:
        """What to answer so that a line goes later, where nothing but a warmth that nobody has given speaks
        against one of its options after this week; else nothing.
        """
        this_week = frozenset(self.choices.days)
        days = {leg.day for leg in table.of(order, line, line.population).legs} - this_week
        cells = LineCells.of(table, order, line, line.population, sorted(days))
        found = self._awaits_weather(cells, 0, MOST_SAID)
        return found.reasons if found else ()

    def _waits_for_weather(self, line: Line, cells: Sequence[LineCells]) -> bool:
        """Would a warmth that nobody gave let a line go this week? Else from lots with eggs left."""
        could_go = self.choices.may_be_shared(line.key) or any((one.codes == 0).any() for one in cells)
        return any(self._awaits_weather(one, _LATER, only_left=could_go) for one in cells)

    def _awaits_weather(
        self, cells: LineCells, beside: int, most: int | None = None, only_left: bool = False
    ) -> Option | None:
        """The first option, of ``most`` put into words, that only a warmth not given and ``beside`` stop;
        ``only_left``: of lots that the plan leaves eggs enough of.
        """
        found = (cells.codes >= 0) & ((cells.codes & WARMTH) != 0)
        found &= (cells.codes & ~(WARMTH | beside)) == 0
        eggs = self._left(cells) if only_left else cells.options.free[:, cells.legs]
        together = np.sort(eggs, axis=0)[-self.choices.shelf.settings.plan.lots_a_line :].sum(axis=0)
        found &= (together >= cells.line.eggs)[None, :, None]
        trips = [cells.options.legs[j].trip for j in cells.legs.tolist()]
        for code, days in ((HOT, (trip.hottest for trip in trips)), (COLD, (trip.coldest for trip in trips))):
            assumed = np.array([day.basis == "assumed" for day in days], dtype=bool)
            found &= ((cells.codes & code) == 0) | assumed[None, :, None]
        for cell in np.flatnonzero(found).tolist()[:most]:
            if cell not in cells.said:
                cells.say([cell], self.choices.factory, self.choices.parcels)
            against = [one for one in cells.said[cell].reasons if not bit(one.code) & beside]
            if against and all(is_answerable(reason) for reason in against):
                return cells.said[cell]
        return None

    def _left(self, cells: LineCells) -> Ints:
        """The eggs that the plan leaves of each lot of a line, by lot and leg (L, J)."""
        days = [cells.options.legs[j].day for j in cells.legs.tolist()]
        left = [[self.left.on(lot.lot, day) for day in days] for lot in cells.options.lots]
        return np.array(left, dtype=np.int64).reshape(len(left), len(days))

    def _crowded(self, order: Order, line: Line, cells: Sequence[LineCells]) -> list[Reason]:
        """Why a line that may go does not: another line of its order, full days, others' eggs."""
        choices = self.choices
        could = {
            (one.options.lots[n].lot, one.options.legs[one.legs[j]].day)
            for one in cells
            for n, j in one.passing()
        }
        if not (could or choices.may_be_shared(line.key)):
            return []
        others = [
            other for other in order.lines if other.key != line.key and not choices.is_fillable(other.key)
        ]
        if others and not order.may_split:
            text = (
                f"Waits for line {others[0].number} of order {order.order} ({others[0].species}), which"
                " cannot go yet."
            )
            return [Reason("other-line", text, {"order": order.order, "line": others[0].number}, "orders")]
        if apart := self._apart(order):
            return apart
        limit = choices.shelf.settings.plan.parcels_per_day
        days = {day for _, day in could} or set(choices.days)
        full = []
        if limit is not None and all(self.loads.get(day, 0) >= limit for day in days):
            text = f"The days on which it could go are full ({many(limit, 'parcel')} a day)."
            full = [Reason("day-full", text, {"parcels_per_day": limit}, "shelf.toml")]
        if full and (not could or self._eggs_are_left(cells)):
            return full
        if order.order in self.sent and self._eggs_are_left(cells):
            text = f"Order {order.order} has its parcel this week, which goes without this line."
            facts = {"order": order.order, "line": self.sent[order.order], "goes": True}
            return [Reason("other-line", text, facts, "plan")]
        lots = sorted({lot for lot, _ in could})
        if not lots:  # none has eggs enough alone: those it might have shared
            own = sorted({lot.lot for one in cells for lot in one.options.lots})
            lots = [lot for lot in own if lot in self.takers] or own
        text = f"The eggs of lot {', '.join(lots)} serve more, or older, order value elsewhere this week"
        takers = sorted({name for lot in lots for name in self.takers.get(lot, ())})
        named = ", ".join(takers[:MOST_TAKERS]) + " …" * (len(takers) > MOST_TAKERS)
        facts = {"lots": lots, "takers": named}
        return [Reason("short", f"{text}: {named}." if named else f"{text}.", facts, "plan"), *full]

    def _eggs_are_left(self, cells: Sequence[LineCells]) -> bool:
        """Does the plan leave eggs enough for an option of a line that passes, of one lot or of several?"""
        most = self.choices.shelf.settings.plan.lots_a_line
        for one in cells:
            shares = defaultdict[tuple[int, int], list[float]](list)
            for n, j, p in np.argwhere(one.codes == 0).tolist():
                leg = int(one.legs[j])
                eggs = self.left.on(one.options.lots[n].lot, one.options.legs[leg].day)
                shares[j, p].append(eggs / max(1, int(one.options.pack[n, leg, p])))
            if any(sum(sorted(own)[-most:]) >= 1 for own in shares.values()):
                return True
        return False
