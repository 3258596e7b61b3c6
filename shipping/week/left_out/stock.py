"""Eggs that a plan leaves and that groups will give: plan and shelf in; what a line may have, when, out."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from shipping.options.journey import Ints
from shipping.options.option import LEAST_DRAW, Option
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.lots import Group
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel
from shipping.words.reasons import SCARCE
from shipping.words.units import told

Draws = tuple[tuple[str, int], ...]


@dataclass(eq=False)
class EggsLeft:
    """The lots of a shelf less what is drawn and claimed; it changes only by `take`."""

    factory: OptionFactory
    _drawn: dict[str, dict[date, int]] = field(default_factory=dict)
    _orders: dict[date, set[str]] = field(default_factory=dict)
    _ahead: dict[str, tuple[tuple[date, ...], Ints]] = field(default_factory=dict)

    @classmethod
    def after(cls, factory: OptionFactory, parcels: Iterable[Parcel]) -> EggsLeft:
        """What is left when the parcels of a plan have gone."""
        left = cls(factory)
        for parcel in parcels:
            draws = ((draw.lot, draw.pack) for line in parcel.lines for draw in line.draws)
            left.take(draws, parcel.dispatch_on, parcel.orders[0])
        return left

    def take(self, draws: Iterable[tuple[str, int]], day: date, order: str) -> None:
        """Eggs leave their lots on a day, in the parcel of an order."""
        self._orders.setdefault(day, set()).add(order)
        for lot, eggs in draws:
            self._ahead.pop(lot, None)
            days = self._drawn.setdefault(lot, {})
            days[day] = days.get(day, 0) + eggs

    def taken(self, lot: str) -> int:
        """Eggs of a lot that are spoken for."""
        return sum(self._drawn.get(lot, {}).values())

    def on(self, lot: str, day: date) -> int:
        """Eggs of a lot that may still be drawn on a day, so that every draw already made keeps its own."""
        drawn = self._drawn.get(lot, {})
        days = [day, *(other for other in sorted(drawn) if other > day)]
        left = (
            self.factory.lot_day(lot, d).free - sum(eggs for on, eggs in drawn.items() if on <= d)
            for d in days
        )
        return max(0, min(left))

    def ahead(self, lot: str, days: tuple[date, ...], free: Ints) -> Ints:
        """`on` of days in order (D,); ``free``: the lot's free eggs on each (D,), drawn or not."""
        known = self._ahead.get(lot)
        if known is None or known[0] is not days:
            known = (days, self._left_on(lot, days, free))
            self._ahead[lot] = known
        return known[1]

    def _left_on(self, lot: str, days: tuple[date, ...], free: Ints) -> Ints:
        drawn, own = self._drawn.get(lot, {}), dict(zip(days, free.tolist(), strict=True))
        for day in drawn.keys() - own.keys():  # what is left before the first of the days binds none of them
            own[day] = self.factory.lot_day(lot, day).free if day > days[0] else 0
        every = sorted(own)
        left = np.array([own[day] for day in every]) - np.cumsum([drawn.get(day, 0) for day in every])
        kept = np.where(
            [day in drawn for day in every], left, np.iinfo(np.int64).max
        )  # what a draw already made leaves
        most = np.maximum(0, np.minimum(left, np.minimum.accumulate(kept[::-1])[::-1]))
        asked = set(days)
        return np.asarray(most[[day in asked for day in every]])

    def is_full(self, day: date, order: str = "") -> bool:
        """Does no further parcel go that day, unless it is that order's, which has its place?"""
        limit = self.factory.shelf.settings.plan.parcels_per_day
        orders = self._orders.get(day, set())
        return (
            limit is not None
            and order not in orders
            and self.factory.shelf.parcels_made.get(day, 0) + len(orders) >= limit
        )


def draws_for(
    options: Iterable[Option], left: EggsLeft, *, answered: bool = False
) -> tuple[Draws, Option] | None:
    """The draws that fill a line on one day from what is left, and an option they follow; None where none do.

    One lot where one does, with the fewest eggs; else two or more of one population, in one packing by one
    service. With ``answered`` all that a person has to answer first is taken as answered.
    """
    fitting: list[tuple[int, str, str, str, Option]] = []
    shared: dict[tuple[str, str, str], list[tuple[float, str, int, Option]]] = {}
    for option in options:
        if not option.pack or (option.asks and not answered):
            continue
        ride = option.ride
        lot, day, packing = ride.lot_day.forecast.lot, ride.leg.day, ride.packing.packing
        codes = {reason.code for reason in option.blocks}
        eggs = left.on(lot.lot, day)
        if not codes and option.pack <= eggs:
            fitting.append((option.pack, lot.lot, ride.leg.service.service, packing, option))
        most = min(eggs, ride.most_by_any, option.pack)
        if codes <= SCARCE and most >= LEAST_DRAW:
            key = (ride.leg.service.service, packing, lot.population.casefold())
            shared.setdefault(key, []).append((most / option.pack, lot.lot, most, option))
    if fitting:
        pack, name, *_, option = min(fitting, key=lambda found: found[:4])
        return ((name, pack),), option
    most_lots = left.factory.shelf.settings.plan.lots_a_line
    for key in sorted(shared):
        members = sorted(shared[key], key=lambda one: (-one[0], one[1]))[:most_lots]
        if len(members) > 1 and math.fsum(share for share, *_ in members) >= 1.0:
            return _split(members), members[0][3]
    return None


def _split(members: list[tuple[float, str, int, Option]]) -> Draws:
    """Whole eggs of each lot until the shares make one, the lot that does most first, no draw below 5."""
    found: list[tuple[str, int]] = []
    missing = 1.0
    for (_, lot, most, option), after in itertools.zip_longest(members, members[1:]):
        eggs = min(most, max(LEAST_DRAW, math.ceil(missing * option.pack - 1e-9)))
        found.append((lot, eggs))
        missing -= eggs / option.pack
        if missing <= 1e-9 or after is None:
            break
    return tuple(sorted(found))


#: A line waits for what may happen within so many days.
HORIZON_D = 42
#: Eggs to collect for each one ordered: common practice, no source; the margin proper is reckoned once there
#: is a lot.
USUAL_EXTRA = 1.5
#: Eggs of so many days are collected together (assumed).
BATCH_D = 7


@dataclass(frozen=True, slots=True)
class Expected:
    """Fertile eggs that a group is expected to have given, showing eyes, by a day."""

    on: date
    eggs: int
    group: str

    def as_json(self) -> dict[str, object]:
        return told(self, "on eggs group")


@dataclass(eq=False)
class ExpectedEggs:
    """The groups of a shelf less what waiting lines are to have; it changes only by `take`.

    Notes
    -----
    A group lays ``eggs_a_day`` from today (or ``from_day``, if later), of which ``fertile_share`` are
    fertile; eyes show after ``eyed_at`` of the usual days to hatching, at the species' own warmth.
    """

    shelf: Shelf
    _taken_d: dict[str, float] = field(default_factory=dict)

    def groups(self, species: str, population: str) -> tuple[Group, ...]:
        """The groups of a species, and of that population where one is named."""
        wanted = population.casefold()
        return tuple(
            one
            for one in self._of_species.get(species, ())
            if not wanted or one.population.casefold() == wanted
        )

    @cached_property
    def _of_species(self) -> Mapping[str, tuple[Group, ...]]:
        found: dict[str, tuple[Group, ...]] = {}
        for group in self.shelf.groups:
            found[group.species] = (*found.get(group.species, ()), group)
        return found

    @cached_property
    def _by_name(self) -> Mapping[str, Group]:
        return {group.group: group for group in reversed(self.shelf.groups)}

    def ready_for(self, species: str, population: str, eggs: int) -> tuple[date, str] | None:
        """The first day within the horizon by which a group's eggs do for a line, eyed; the group."""
        found = [
            (day, group.group)
            for group in self.groups(species, population)
            if (day := self._ready(group, eggs))
        ]
        return min(found, default=None)

    def take(self, group: str, eggs: int) -> None:
        """A line of so many eggs is to have the group's next ones."""
        self._taken_d[group] = self._taken_d.get(group, 0.0) + self._days_for(self._by_name[group], eggs)

    def batches(self, species: str, population: str) -> tuple[Expected, ...]:
        """What no waiting line is to have, a week's laying together, the earliest first."""
        found = [batch for group in self.groups(species, population) for batch in self._batches(group)]
        return tuple(sorted(found, key=lambda one: (one.on, one.group)))

    def _ready(self, group: Group, eggs: int) -> date | None:
        laying = self._taken_d.get(group.group, 0.0) + self._days_for(group, eggs)
        return self._eyed_on(group, laying)

    def _batches(self, group: Group) -> Iterator[Expected]:
        laying = self._taken_d.get(group.group, 0.0) + BATCH_D
        eggs = math.floor(BATCH_D * self._fertile_a_day(group) + 1e-9)
        while (day := self._eyed_on(group, laying)) is not None:
            if eggs:
                yield Expected(day, eggs, group.group)
            laying += BATCH_D

    def _eyed_on(self, group: Group, laying: float) -> date | None:
        """When the eggs of so many laying days show eyes; None past the group's end or the horizon."""
        if laying > HORIZON_D:
            return None
        today = self.shelf.today
        species = self.shelf.species_of(group.species, group.population)
        start = max(group.from_day or today, today)
        eyes_d = laying + species.eyed_at * species.hatch_days.usual
        last_laid, day = (start + timedelta(days=math.ceil(days - 1e-9)) for days in (laying, eyes_d))
        ends = group.until_day is not None and last_laid > group.until_day
        return None if ends or day > today + timedelta(days=HORIZON_D) else day

    def _days_for(self, group: Group, eggs: int) -> float:
        return USUAL_EXTRA * eggs / self._fertile_a_day(group)

    def _fertile_a_day(self, group: Group) -> float:
        return group.eggs_a_day * self.shelf.settings.plan.fertile_share
