"""From orders to choices: every passing way to fill each line and to make up each parcel, with its cost; for `plan`."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from shipping.post.weight import bands, box_for, parcel_weight, postage, postage_reasons
from shipping.tables.lots import Lot
from shipping.tables.orders import Line, Order
from shipping.tables.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.week.options import Reckoner
from shipping.week.rides import LEAST_DRAW, Option, Ride, units_for
from shipping.week.task import Filling, LineKey, Mode, Place, Share, Split, Task, Way
from shipping.week.values import base_values, egg_value, weeks_waited
from shipping.words.reasons import Reason

#: What several lots together may mend.
SHARED = frozenset({"short", "too-young"})

#: Ways to make up one parcel at one place; where there are more, each line keeps its cheapest modes only.
MOST_WAYS = 2000
#: Orders of one address are joined in parcels of at most so many orders.
MOST_JOINED = 4


@dataclass(eq=False)
class Choices:
    """All choices of a week, reckoned once."""

    reckoner: Reckoner
    days: tuple[date, ...]
    later_days: tuple[date, ...]
    options: dict[LineKey, list[Option]] = field(default_factory=dict)
    fillings: list[Filling] = field(default_factory=list)
    splits: list[Split] = field(default_factory=list)
    rides: dict[tuple[LineKey, Place, str, str], Ride] = field(default_factory=dict)
    _later: dict[tuple[LineKey, str], float] = field(default_factory=dict)
    _parcel_costs: dict[tuple[str, str, tuple[tuple[str, int], ...]], float | None] = field(default_factory=dict)
    #: The species a line is filled with where the buyer agreed to something instead.
    instead: dict[LineKey, tuple[str, str]] = field(default_factory=dict)

    @property
    def shelf(self) -> Shelf:
        return self.reckoner.shelf

    @cached_property
    def egg_value(self) -> float:
        return egg_value(self.shelf)

    def reckon(self) -> None:
        """Every option of every line, then its fillings and splits."""
        self._prepare()
        for order in self.shelf.orders:
            for line in order.lines:
                self._reckon_line(order, line)

    def _prepare(self) -> None:
        wanted = [
            (ride, line.eggs)
            for order in self.shelf.orders
            for line in order.lines
            if line.overpack == "usual"
            for days in (self.days, self.later_days)
            for ride in self.rides_of(order, line.species, line.population, days)
        ]
        self.reckoner.prepare(wanted)

    def _reckon_line(self, order: Order, line: Line) -> None:
        options = self.options_of(order, line, line.species, line.population, self.days)
        self._fill(order, line, options)
        if not self._is_fillable(line.key):
            for wish in line.instead:
                species, _, population = wish.partition("/")
                others = self.options_of(order, line, species.strip(), population.strip(), self.days)
                self._fill(order, line, others)
                if self._is_fillable(line.key):
                    self.instead[line.key] = (species.strip(), population.strip())
                    options = options + others
                    break
        self.options[line.key] = options

    def _is_fillable(self, key: LineKey) -> bool:
        return any(f.line == key for f in self.fillings) or any(s.line == key for s in self.splits)

    def lots_for(self, species: str, population: str) -> tuple[Lot, ...]:
        """Lots of a species, and of that population where one is named."""
        return tuple(
            lot
            for lot in self.shelf.lots
            if lot.species == species and (not population or lot.population.casefold() == population.casefold())
        )

    def rides_of(self, order: Order, species: str, population: str, days: Iterable[date]) -> list[Ride]:
        """Every ride of every lot that could fill a line, on the days given."""
        destination = self.reckoner.destination(order)
        found: list[Ride] = []
        for lot in self.lots_for(species, population):
            packings = [packing for packing in self.shelf.packings if lot.medium in packing.media]
            for day in days:
                lot_day = self.reckoner.lot_day(lot.lot, day)
                for service in self.reckoner.services(order.country, order.service):
                    leg = self.reckoner.leg(service, destination, day)
                    found += [self.reckoner.ride(lot_day, packing, leg) for packing in packings]
        return found

    def options_of(self, order: Order, line: Line, species: str, population: str, days: Iterable[date]) -> list[Option]:
        rides = self.rides_of(order, species, population, days)
        options = [self.reckoner.option(ride, order, line, line.eggs) for ride in rides]
        return [self._weighed(order, option) for option in options]

    def _weighed(self, order: Order, option: Option) -> Option:
        """The option with what the post says of its weight and thickness, where it is otherwise open."""
        if option.blocks or option.ride.leg.service.is_collection:
            return option
        packed = ((option.ride.packing, option.units),)
        box = box_for(self.shelf, packed)
        service = option.ride.leg.service.service
        if box is None:
            return replace(option, blocks=(*option.blocks, _no_box(option.ride.packing, option.units)))
        weight = parcel_weight(packed, box)
        reasons = postage_reasons(self.shelf, service, order.country, weight, box.thick_mm)
        return replace(option, blocks=(*option.blocks, *reasons)) if reasons else option

    def _fill(self, order: Order, line: Line, options: list[Option]) -> None:
        before = len(self.fillings)
        for option in options:
            if option.passes:
                self._add_filling(order, line, option)
        self.fillings[before:] = self._undominated(self.fillings[before:])
        self._add_splits(order, line, options)

    def _undominated(self, fillings: list[Filling]) -> list[Filling]:
        """The fillings less those that another of the same line, lot and place matches or beats in everything.

        Everything is: eggs, cost, and what its units ask of box and postage. Nothing is lost, since any parcel that
        holds the worse one could hold the better one instead, for no more; of equals the name that sorts first stays.
        """
        if not self._boxes_are_in_order:
            return fillings
        kept: list[Filling] = []
        for filling in sorted(fillings, key=lambda f: (f.cost, f.eggs, f.packing)):
            asks = self._asks_of(filling)
            rivals = (one for one in kept if (one.lot, one.place) == (filling.lot, filling.place))
            if not any(
                one.eggs <= filling.eggs and all(a <= b for a, b in zip(self._asks_of(one), asks, strict=True)) for one in rivals
            ):
                kept.append(filling)
        return kept

    @cached_property
    def _boxes_are_in_order(self) -> bool:
        """Does a lighter box never cost more, nor stand thicker, and no postage row undercut a nearer one?"""
        boxes = sorted(self.shelf.boxes, key=lambda box: (box.tare_g, box.holds, box.box))
        steps = list(itertools.pairwise(boxes))
        dearer = any(a.cost > b.cost or (a.thick_mm or 0) > (b.thick_mm or 0) for a, b in steps)
        countries = {order.country for order in self.shelf.orders}
        names = {service.service for service in self.shelf.services}
        undercut = any(b.over_g or b.over_mm for name in names for to in countries for b in bands(self.shelf, name, to))
        return not (dearer or undercut or any(box.thick_mm is None for box in boxes))

    def _asks_of(self, filling: Filling) -> tuple[float, ...]:
        """What a filling's units ask: number, weight, box, thickness, rigidity, vents, insulation."""
        packing = self.shelf.packing_by_name[filling.packing]
        box = self.shelf.box_by_name.get(packing.box or "")
        return (
            filling.units,
            filling.units * packing.weight_g,
            packing.box_g or 0.0,
            math.inf if packing.thick_mm is None else packing.thick_mm,
            packing.kind != "tube",
            packing.kind == "breathing bag",
            box.insulated_h if box else 0.0,
        )

    def _add_filling(self, order: Order, line: Line, option: Option) -> None:
        ride = option.ride
        lot = ride.lot_day.forecast.lot
        place = (ride.leg.day, ride.leg.service.service)
        cost = (
            option.units * float(ride.packing.cost)
            + (option.pack - line.eggs) * self.egg_value
            + self.short_cost(line) * (1.0 - option.p_enough)
            + option.pack * self.later_cost(order, line, lot)
        )
        self.fillings.append(Filling(line.key, place, ride.packing.packing, option.units, lot.lot, option.pack, cost))
        self.rides[(line.key, place, ride.packing.packing, lot.lot)] = ride

    def short_cost(self, line: Line) -> float:
        """What falling short of a line costs: its price, or its eggs at `egg_value` where it has none."""
        price = float(line.price) if line.price is not None else line.eggs * self.egg_value
        return self.shelf.settings.plan.short_cost * price

    def later_cost(self, order: Order, line: Line, lot: Lot) -> float:
        """Half an egg's value where the lot could still go for that line next week, else nothing."""
        key = (line.key, lot.lot)
        if key not in self._later:
            options = (
                option
                for option in self.options_of(order, line, lot.species, lot.population, self.later_days)
                if option.ride.lot_day.forecast.lot.lot == lot.lot
            )
            self._later[key] = 0.5 * self.egg_value if any(option.passes for option in options) else 0.0
        return self._later[key]

    def _add_splits(self, order: Order, line: Line, options: list[Option]) -> None:
        """Ways to fill the line from two or more lots of one population, in one packing at one place."""
        plan = self.shelf.settings.plan
        if plan.lots_a_line < 2:
            return
        groups: dict[tuple[Place, str, str], list[Option]] = {}
        for option in options:
            if option.asks or not option.pack or any(reason.code not in SHARED for reason in option.blocks):
                continue
            ride = option.ride
            key = ((ride.leg.day, ride.leg.service.service), ride.packing.packing, ride.lot_day.forecast.lot.population)
            groups.setdefault(key, []).append(option)
        for (place, packing, _), members in sorted(groups.items(), key=lambda item: item[0]):
            shares = [share for option in members if (share := self._share(order, line, option))]
            if len(shares) >= 2:
                self._add_split(line, place, self.shelf.packing_by_name[packing], members, shares)

    def _share(self, order: Order, line: Line, option: Option) -> Share | None:
        ride = option.ride
        lot = ride.lot_day.forecast.lot
        most = min(ride.lot_day.free, ride.most_by_any, option.pack)
        if most < LEAST_DRAW:
            return None
        return Share(lot.lot, option.pack, most, self.egg_value + self.later_cost(order, line, lot))

    def _add_split(self, line: Line, place: Place, packing: Packing, members: list[Option], shares: list[Share]) -> None:
        lots_most = min(self.shelf.settings.plan.lots_a_line, len(shares))
        best = sorted((share.most / share.alone for share in shares), reverse=True)[:lots_most]
        if math.fsum(best) < 1.0:
            return
        for option in members:
            self.rides[(line.key, place, packing.packing, option.ride.lot_day.forecast.lot.lot)] = option.ride
        fixed = self.short_cost(line) * (1.0 - self.shelf.settings.plan.promise) - line.eggs * self.egg_value
        most_units = units_for(packing, max(share.alone for share in shares)) + lots_most - 1
        for units in range(2, most_units + 1):
            self.splits.append(
                Split(
                    line=line.key,
                    place=place,
                    packing=packing.packing,
                    units=units,
                    eggs_max=packing.eggs_max,
                    shares=tuple(sorted(shares, key=lambda share: share.lot)),
                    lots_most=lots_most,
                    least_draw=LEAST_DRAW,
                    cost=fixed + units * float(packing.cost),
                )
            )

    def task(self) -> Task:
        """The week as numbers."""
        base = base_values(self.shelf)
        weight = self.shelf.settings.plan.waiting_weight
        waited = {order.order: weeks_waited(self.shelf, order) for order in self.shelf.orders}
        lots = {(f.lot, f.place[0]) for f in self.fillings} | {
            (share.lot, split.place[0]) for split in self.splits for share in split.shares
        }
        return Task(
            fillings=tuple(sorted(self.fillings, key=lambda f: (f.line, f.rank))),
            splits=tuple(sorted(self.splits, key=lambda s: (s.line, s.rank))),
            ways=tuple(sorted(self._ways(), key=lambda way: (way.orders, way.place, way.modes))),
            value={key: value * (1.0 + weight * waited[key[0]]) for key, value in base.items()},
            age={key: value * waited[key[0]] for key, value in base.items()},
            free={(lot, day): self.reckoner.lot_day(lot, day).free for lot, day in lots},
            parcels_a_day=self.shelf.settings.plan.parcels_per_day,
            parcels_made=self.shelf.parcels_made,
        )

    def _ways(self) -> Iterable[Way]:
        modes: dict[tuple[LineKey, Place], set[Mode]] = {}
        for filling in self.fillings:
            modes.setdefault((filling.line, filling.place), set()).add(filling.mode)
        for split in self.splits:
            modes.setdefault((split.line, split.place), set()).add(split.mode)
        cheapest = self._cheapest_costs()
        addresses: dict[object, list[Order]] = {}
        for order in self.shelf.orders:
            addresses.setdefault(order.address, []).append(order)
        places = sorted({place for _, place in modes})
        for group in addresses.values():
            for place in places:
                able = [order for order in group if any((line.key, place) in modes for line in order.lines)]
                for size in range(1, min(len(able), MOST_JOINED) + 1):
                    for joined in itertools.combinations(able, size):
                        yield from self._ways_of(joined, place, modes, cheapest)

    def _cheapest_costs(self) -> dict[tuple[Mode, Place], float]:
        costs: dict[tuple[Mode, Place], float] = {}
        for filling in self.fillings:
            key = (filling.mode, filling.place)
            costs[key] = min(costs.get(key, math.inf), filling.cost)
        return costs

    def _ways_of(
        self,
        joined: tuple[Order, ...],
        place: Place,
        modes: Mapping[tuple[LineKey, Place], set[Mode]],
        cheapest: Mapping[tuple[Mode, Place], float],
    ) -> Iterable[Way]:
        """Every way to send these orders in one parcel: a mode for every line (or for some, where it may split)."""
        sets: list[list[tuple[Mode, ...]]] = []
        for order in joined:
            lines = [sorted(modes.get((line.key, place), ())) for line in order.lines]
            if not order.may_split and not all(lines):
                return
            lines = _fewest(lines, cheapest, place, MOST_WAYS ** (1 / len(joined)))
            picks = [[(), *((m,) for m in found)] if order.may_split else [(m,) for m in found] for found in lines]
            sets.append([mode for pick in itertools.product(*picks) if (mode := tuple(itertools.chain(*pick)))])
        names = tuple(order.order for order in joined)
        for pick in itertools.product(*sets):
            chosen = tuple(itertools.chain(*pick))
            cost = self.parcel_cost(joined[0].country, place[1], chosen)
            if cost is not None:
                yield Way(names, place, chosen, cost)

    def parcel_cost(self, country: str, service: str, modes: tuple[Mode, ...]) -> float | None:
        """Postage and box of a parcel that holds these; None where no box or no postage takes it."""
        counts: dict[str, int] = {}
        for _, packing, units in modes:
            counts[packing] = counts.get(packing, 0) + units
        key = (country, service, tuple(sorted(counts.items())))
        if key not in self._parcel_costs:
            self._parcel_costs[key] = self._new_parcel_cost(*key)
        return self._parcel_costs[key]

    def _new_parcel_cost(self, country: str, service: str, counts: tuple[tuple[str, int], ...]) -> float | None:
        packed = tuple((self.shelf.packing_by_name[name], units) for name, units in counts)
        box = box_for(self.shelf, packed)
        if box is None:
            return None
        band = postage(self.shelf, service, country, parcel_weight(packed, box), box.thick_mm)
        if band is not None:
            return float(band.price + box.cost)
        collected = any(s.is_collection for s in self.reckoner.services(country, service))
        return float(box.cost) if collected else None


def _fewest(lines: list[list[Mode]], cheapest: Mapping[tuple[Mode, Place], float], place: Place, most: float) -> list[list[Mode]]:
    """The modes of each line, cut to the cheapest few only where their product would pass ``most``."""
    keep = max((len(found) for found in lines), default=0)
    while keep > 1 and math.prod(max(1, min(len(found), keep)) for found in lines) > most:
        keep -= 1
    return [sorted(found, key=lambda m: (cheapest.get((m, place), math.inf), m))[:keep] for found in lines]


def _no_box(packing: Packing, units: int) -> Reason:
    text = f"No box holds {units} of {packing.packing} as such a unit needs (rigid for bags, vented for breathing bags)."
    return Reason("no-packing", text, {"packing": packing.packing, "units": units}, "boxes")
