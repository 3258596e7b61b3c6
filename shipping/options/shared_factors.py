"""What the options of all species share: a week's legs as arrays, and what warmth, rules and post say, each
asked once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.options.journey import Ints, Journeys, bit, bits
from shipping.options.option import Destination, Leg
from shipping.options.option_factory import Reckoner
from shipping.options.trip_curves import Curves
from shipping.post.foam_box import Holding, holding
from shipping.post.quote import quote
from shipping.post.restrictions import ruling
from shipping.post.warmth import Felt, felt_by, unbridged
from shipping.tables.rows.orders import Order
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.species import Species

#: Of fewer lots than this hardly any are alike, so that each is asked only about the journeys its own eggs
#: may make.
MANY_LOTS = 1500


@dataclass(eq=False)
class WeekFactors:
    """What the tables of all species share: legs as arrays, and what was asked of warmth, rules and post so
    far. ``passing_only``: what else speaks against a ride that does not pass is not asked for.
    """

    reckoner: Reckoner
    days: tuple[date, ...]
    passing_only: bool = False
    _places: dict[str, Destination] = field(default_factory=dict)
    _warmths: dict[tuple[float | None, float | None, float], Ints] = field(default_factory=dict)
    _curves: dict[tuple[float, float | None, float, Holding], Curves] = field(default_factory=dict)
    _rules: dict[tuple[Destination, str, str, frozenset[str]], Ints] = field(default_factory=dict)
    _posts: Ints = field(default_factory=lambda: np.zeros((0, 0, 0), dtype=np.int64))

    def destination(self, order: Order) -> Destination:
        """Where an order goes; all orders are to be asked before the first leg is."""
        if order.order not in self._places:
            self._places[order.order] = self.reckoner.destination(order)
        return self._places[order.order]

    def also_to(self, places: Iterable[Destination]) -> None:
        """Take up places that are asked about without an order; before the first leg is asked for."""
        self._places |= {repr(to): to for to in places}

    @cached_property
    def journeys(self) -> Journeys:
        """All legs to all places asked for."""
        legs = {
            to: tuple(
                self.reckoner.leg(service, to, day)
                for day in self.days
                for service in self.reckoner.every_service(to.country)
            )
            for to in sorted(set(self._places.values()), key=repr)
        }
        return Journeys.of(legs, self.days)

    @property
    def packings(self) -> tuple[Packing, ...]:
        return self.reckoner.shelf.packings

    @cached_property
    def holdings(self) -> tuple[Holding, ...]:
        """How each packing, in the box it names, holds its warmth."""
        boxes = self.reckoner.shelf.box_by_name
        return tuple(holding(packing, boxes.get(packing.box or "")) for packing in self.packings)

    def curves(self, species: Species, journeys: Journeys, kept_at_c: float, holds: Holding) -> Curves:
        """What parcels on some journeys gather day by day, as eggs of a species kept so count it."""
        if len(self.reckoner.shelf.lots) < MANY_LOTS:
            return Curves.of(journeys, species, kept_at_c, holds)
        key = (species.zero_c, species.keep_max_c, kept_at_c, holds)
        if key not in self._curves:
            self._curves[key] = Curves.of(self.journeys, species, kept_at_c, holds)
        return self._curves[key].of_legs(journeys)

    def forget(self) -> None:
        """Drop what lots were asked about all curves."""
        for curves in self._curves.values():
            curves.known.clear()

    def warmth(self, species: Species, journeys: Journeys, kept_at_c: float) -> Ints:
        """What the warmth of each leg says against each packing for a species kept at so much (J, P)."""
        key = (species.keep_min_c, species.keep_max_c, kept_at_c)
        if key not in self._warmths:
            boxes = self.reckoner.shelf.box_by_name
            says = [
                unbridged(self._felt, species, kept_at_c, holds, boxes.get(packing.box or ""))
                for packing, holds in zip(self.packings, self.holdings, strict=True)
            ]
            hot, cold = (np.array(side, dtype=bool).T for side in zip(*says, strict=True))
            self._warmths[key] = hot * bit("too-hot") | cold * bit("too-cold")
        return np.asarray(self._warmths[key][journeys.feel])

    def asks_of_hatching(self, journeys: Journeys, says: Ints) -> NDArray[np.bool_]:
        """The legs on which the share that hatches may decide (J,), where so much speaks against a lot's
        rides already (J, P): all, or those on which a ride may pass, be it once its warmth is given.
        """
        if not self.passing_only:
            return np.ones(len(journeys.legs), dtype=bool)
        is_open = (journeys.codes & bit("closed-day")) == 0
        return np.asarray(is_open & ((says == 0).any(axis=1) | journeys.assumed))

    @cached_property
    def _felt(self) -> Felt:
        """What cold and heat are judged by, for each number of ``feel``."""
        each = dict(zip(self.journeys.feel.tolist(), self.journeys.legs, strict=True))
        return felt_by([(each[n].trip, each[n].service.exposed_h) for n in range(len(each))])

    def rules(self, to: Destination, species: Species, medium: str, papers: frozenset[str]) -> Ints:
        """What the rules say on each day (D,); asked anew only on days when a row begins or has ended."""
        key = (to, species.species, medium, papers)
        if key not in self._rules:
            found: list[int] = []
            for n, day in enumerate(self.days):
                if n and not any(self.days[n - 1] < turn <= day for turn in self._turns):
                    found.append(found[-1])
                else:
                    says = ruling(self.reckoner.shelf, to.country, to.region, species, medium, day, papers)
                    found.append(bits(says.reasons))
            self._rules[key] = np.array(found, dtype=np.int64)
        return self._rules[key]

    @cached_property
    def _turns(self) -> tuple[date, ...]:
        """Days on which a row of the rules begins to count or no longer counts."""
        rules = self.reckoner.shelf.rules
        begun = {rule.from_ for rule in rules if rule.from_}
        return tuple(sorted(begun | {rule.until + timedelta(days=1) for rule in rules if rule.until}))

    def post(self, packing: Ints, units: Ints, leg: Ints, journeys: Journeys) -> Ints:
        """What the post says of weight and thickness of so many units of a packing on a leg, each (n,)."""
        most_units, lanes = int(units.max(initial=0)), 1 + int(self.journeys.lane.max(initial=-1))
        if most_units >= self._posts.shape[1]:
            wider = np.full((len(self.packings), 2 * most_units + 2, lanes), -1, dtype=np.int64)
            if self._posts.size:
                wider[:, : self._posts.shape[1]] = self._posts
            self._posts = wider
        lane = journeys.lane[leg]
        says = self._posts[packing, units, lane]
        for row in np.flatnonzero(says < 0).tolist():
            key = (int(packing[row]), int(units[row]), int(lane[row]))
            if self._posts[key] < 0:
                self._posts[key] = self._posted(self.packings[key[0]], key[1], journeys.legs[int(leg[row])])
            says[row] = self._posts[key]
        return np.asarray(says)

    def _posted(self, packing: Packing, units: int, leg: Leg) -> int:
        asked = quote(self.reckoner.shelf, ((packing, units),), leg.service, leg.destination.country)
        return bits(asked.reasons)
