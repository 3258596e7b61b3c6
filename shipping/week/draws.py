"""Draws as planned or counted: rides and eggs in, figures and bench notes out; settled to the promise."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from shipping.assignment.instance import Drawn
from shipping.eggs.clock import effective_degrees
from shipping.eggs.lot_forecast import HORIZON_D, SHARE_ROUNDING
from shipping.eggs.overpack import ROUNDING, chance_enough
from shipping.eggs.oxygen import gas_growth
from shipping.options.option import LEAST_DRAW, Floats, LotDay, Ride, units_for
from shipping.options.option_factory import OptionFactory
from shipping.post.foam_box import HEAT_PACK_BOX_MM, box_sides
from shipping.post.warmth import kept_back, pack_hint
from shipping.tables.rows.orders import Line
from shipping.tables.rows.packings import Box
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, PlannedLine, Wetting
from shipping.words.keys import LineKey
from shipping.words.reasons import Note
from shipping.words.three_point import Dates

#: The shares by which a buyer is told days.
SHARES = (0.05, 0.5, 0.95)


def hatch_at_buyer(ride: Ride) -> tuple[date | None, ...]:
    """The first days by which 5, 50 and 95 % of the eggs still whole on arrival hatch there; None: not within
    ten years, or not to be reckoned.

    Notes
    -----
    Arrived on r, an egg has gathered ``a(dispatch)`` and the trip's degree-days, and gathers
    ``g(incubation_c)`` on each day after it. Mixed over arrival dates and nodes of the trip's warmth, each
    weighed by the eggs whole then: those not yet due, and those due that the packing held back.
    """
    forecast, leg = ride.lot_day.forecast, ride.leg
    if not forecast.has_dates:
        return (None,) * len(SHARES)
    clock, at = ride.lot_day.clock, forecast.x(leg.day)
    start = max(at, clock.alive_at)
    whole_at_dispatch = float(clock.weight_beyond(start)[0])
    if whole_at_dispatch <= 0:
        return (None,) * len(SHARES)
    degrees = effective_degrees(forecast.species.incubation_c, forecast.species)
    here = 1.0 - ride.h
    total = float(np.dot(leg.chances, here))
    found: list[date | None] = [None] * len(SHARES)
    tried, upto = 0, 32
    while None in found and tried <= HORIZON_D and total > 0:
        days = np.arange(tried, upto)
        since = days[:, None] - leg.days[None, :]
        gathered = np.maximum(at + ride.gathered + np.maximum(since, 0) * degrees, start)
        whole = clock.weight_beyond(gathered) / whole_at_dispatch
        hatched = np.where(since >= 0, np.maximum(here - whole, 0.0), 0.0) @ leg.chances / total
        _first_days(found, hatched, leg.day + timedelta(days=tried))
        tried, upto = upto, 4 * upto
    return tuple(found)


def _first_days(found: list[date | None], hatched: Floats, start: date) -> None:
    """Fill in the first day on which each share is reached, where it is among these days."""
    for n, share in enumerate(SHARES):
        reached = hatched >= share - SHARE_ROUNDING
        if found[n] is None and reached.any():
            found[n] = start + timedelta(days=int(np.argmax(reached)))


#: That eggs may arrive after the last day to wet them: said with the plan, too.
WET_ON_ARRIVAL = "wet-on-arrival"


def bench_notes(ride: Ride, each: int, hours: float | None, box: Box | None) -> tuple[Note, ...]:
    """What to mind when a draw is packed; ``each`` are the eggs of its fullest unit.

    ``hours`` of air [h] are None for anything but a tube with known volumes; ``box`` is the parcel's, where
    it is in the table of boxes.
    """
    notes = (
        *ride.leg.notes,
        *ride.leg.this_week,
        *ride.leg.forecast_wanted,
        *_air(ride, each, hours),
        *_swelling(ride),
        *_warmth(ride, box),
        *_bottle(ride, box),
        *_moisture(ride),
    )
    return tuple(notes)


def _air(ride: Ride, each: int, hours: float | None) -> list[Note]:
    if hours is None or hours >= ride.hours_to_p95:
        return []
    basis = ride.lot_day.forecast.species.o2_basis
    facts = {"eggs": each, "hours": round(hours), "basis": basis, "needed_h": round(ride.hours_to_p95)}
    return [Note("air", facts)]


def _swelling(ride: Ride) -> list[Note]:
    """How far to fill a sealed unit that may fly."""
    packing, warm = ride.packing, ride.leg.warmth.high_c
    facts: dict[str, object] = {"high": round(warm), "times": round(gas_growth(warm), 2)}
    if packing.is_a.is_damp and packing.is_a.is_soft:
        return [Note("swells-damp-bag", facts)]
    if not packing.is_a.is_sealed:
        return []
    if packing.volume_ml is None or packing.water_ml is None:
        return [Note("swells-tube", facts)]
    filled = {"water_ml": packing.water_ml, "volume_ml": packing.volume_ml}
    return [Note("swells-filled-tube", facts | filled)]


def is_within_range(ride: Ride) -> bool:
    """Does the parcel's warmth stay within what the species is known to stand?"""
    warmth, species = ride.leg.warmth, ride.lot_day.forecast.species
    if species.keep_min_c is None or species.keep_max_c is None:
        return False
    return species.keep_min_c <= warmth.low_c and warmth.high_c <= species.keep_max_c


def _warmth(ride: Ride, box: Box | None) -> list[Note]:
    """The trade's band for the day's high, unless within the species' own range; then the box's size."""
    hint = pack_hint(ride.leg.warmth.high_c)
    if ride.packing.heat_pack_h:
        cold = [_felt(ride), Note(hint)] if hint == "keep-from-cold" else []
        return [Note("heat-pack"), *cold, *_too_small(box)]
    if hint == "use-heat-pack" and (ride.holds.warm_h > 0 or ride.leg.service.is_collection):
        return []  # bridged without one, or never outside rooms: more warmth than was reckoned hatches eggs
    if hint is None or (is_within_range(ride) and not kept_back(ride.leg.warmth.high_c)):
        return []
    return [_felt(ride), Note(hint), *(_too_small(box) if hint == "use-heat-pack" else ())]


def _felt(ride: Ride) -> Note:
    low, high, basis = (ride.leg.warmth.low_c, ride.leg.warmth.high_c, ride.leg.warmth.basis)
    return Note("warmth", {"low": round(low, 1), "high": round(high, 1), "basis": basis})


def _too_small(box: Box | None) -> list[Note]:
    """That a box is too small for a heat pack; nothing where it is not, or its sizes are not known."""
    sides = box_sides(box) if box else []
    if box is None or all(map(operator.ge, sides, HEAT_PACK_BOX_MM)):
        return []
    size, least = (
        " × ".join(f"{side / 10:.0f}" for side in three) + " cm" for three in (sides, HEAT_PACK_BOX_MM)
    )
    return [Note("box-too-small", {"box": box.box, "size": size, "least": least})]


def _bottle(ride: Ride, box: Box | None) -> list[Note]:
    """The bottle of warm water with the parcel, and how long it holds: as reckoned with."""
    if box is None or not box.bottle_ml:
        return []
    measured = ride.packing.insulated_h is not None or box.insulated_h is not None
    facts: dict[str, object] = {"box": box.box, "bottle_ml": box.bottle_ml, "measured": measured}
    facts |= {"start": ride.lot_day.forecast.kept_at_c(ride.leg.day)}
    return [Note("bottle", facts | {"half": round(ride.holds.warm_h * math.log(2.0), 1)})]


def with_one_bottle(notes: Sequence[Note]) -> tuple[Note, ...]:
    """A parcel's notes with one bottle: no warmer than the coolest of its lots is kept."""
    starts = {n: float(str(note.facts["start"])) for n, note in enumerate(notes) if note.code == "bottle"}
    coolest = min(starts, key=lambda n: (starts[n], n), default=-1)
    return tuple(note for n, note in enumerate(notes) if n == coolest or n not in starts)


def _moisture(ride: Ride) -> list[Note]:
    species, lot = ride.lot_day.forecast.species, ride.lot_day.forecast.lot
    arrive, until = ride.leg.arrivals, ride.lot_day.forecast.wetting[1]
    found: list[Note] = []
    if species.is_damp and until and _wet(ride).is_on_arrival(arrive.spread):
        facts = {"lot": lot.lot, "until": until.isoformat(), "p95": arrive.p95.isoformat()}
        found.append(Note(WET_ON_ARRIVAL, facts))
    if not species.is_damp and ride.packing.travels_in(lot.medium) != "water":
        found.append(Note("wet-water-eggs"))
    if species.is_damp and lot.wet_from is None:
        found.append(Note("resting"))
    return found


def draw_of(ride: Ride, eggs: int, shelf: Shelf, units: int | None = None, count_first: bool = False) -> Draw:
    """So many eggs by a ride in fitting units, or those packed; ``count_first``: the count is too old."""
    forecast, leg = ride.lot_day.forecast, ride.leg
    units = units_for(ride.packing, eggs) if units is None else units
    each = math.ceil(eggs / units)
    risk = ride.risk(eggs)
    return Draw(
        lot=forecast.lot.lot,
        packing=ride.packing.packing,
        units=units,
        pack=eggs,
        h_per_egg=risk.per_egg,
        h_any=risk.any_egg,
        v_per_egg=ride.v_per_egg,
        stage=ride.lot_day.forecast.stage_seen,
        look_first=ride.lot_day.look_first,
        hatch_at_buyer=None if forecast.lot.kept_damp else Dates(*hatch_at_buyer(ride)),
        wet=_wet(ride) if forecast.lot.kept_damp else None,
        eyed_on_arrival=1.0 if forecast.stage in ("eyed", "ready") else _eyed(ride.lot_day, leg.arrivals.p50),
        h_at_p95=ride.h_at_p95,
        air_hours=ride.hours_of_air(each, forecast.lot.salt_g_l),
        unfit_chance=None if forecast.known_fertile else 1.0 - _fertile_share(ride, shelf) ** each,
        count_first=count_first,
    )


def _fertile_share(ride: Ride, shelf: Shelf) -> float:
    """The share of a lot's uneyed eggs that is fertile, as if no look on the day counted on eyes."""
    own = ride.lot_day.forecast.lot.fertile_share
    return shelf.settings.plan.fertile_share if own is None else own


def _wet(ride: Ride) -> Wetting:
    """From when to when eggs sent damp are to be wetted, never before the first of them arrive."""
    begin, until = ride.lot_day.forecast.wetting
    first = ride.leg.arrivals.p05
    return Wetting(max(begin, first) if begin else None, max(until, first) if until else None)


@lru_cache(maxsize=1024)
def _eyed(lot_day: LotDay, arrival: date) -> float:
    """The share of the eggs of a lot packed on a day that is reckoned to show eyes on another."""
    forecast = lot_day.forecast
    whole = float(lot_day.clock.whole(forecast.x(arrival))[0])
    return forecast.share_eyed(arrival) if whole > 0 and forecast.has_dates else 0.0


def with_bench_notes(
    lines: tuple[PlannedLine, ...],
    rides: Mapping[tuple[str, int], Mapping[str, Ride]],
    shelf: Shelf,
    box_name: str,
) -> tuple[PlannedLine, ...]:
    """The lines with the bench's notes of each draw, the box being known; ``rides`` by line and lot."""
    box = shelf.box_by_name.get(box_name)

    def noted(line: PlannedLine, draw: Draw) -> Draw:
        ride = rides[(line.order, line.line)][draw.lot]
        return replace(draw, cautions=bench_notes(ride, draw.unit_eggs[0], draw.air_hours, box))

    return tuple(replace(line, draws=tuple(noted(line, draw) for draw in line.draws)) for line in lines)


#: (lot, eggs) of each draw of a line.
Draws = tuple[tuple[str, int], ...]


def enough(draws: Iterable[tuple[str, int]], rides: Mapping[str, Ride], ordered: int) -> float:
    """The chance that a line's draws give at least the eggs ordered alive."""
    parts = tuple((eggs, rides[lot].v, rides[lot].packing.kappa) for lot, eggs in draws)
    return chance_enough(parts, next(iter(rides.values())).leg.chances, ordered)


def trimmed(draws: Draws, rides: Mapping[str, Ride], ordered: int, promise: float) -> Draws:
    """The draws less as many eggs as the promise allows, each where it is missed least; no draw below 5."""
    kept = dict(sorted(draws))
    while True:
        fewer = [
            (enough({**kept, lot: eggs - 1}.items(), rides, ordered), lot)
            for lot, eggs in kept.items()
            if eggs > LEAST_DRAW
        ]
        chance, lot = max(fewer, default=(0.0, ""))
        if chance < promise - ROUNDING:
            return tuple(kept.items())
        kept[lot] -= 1


def as_ordered(draws: Draws, rides: Mapping[str, Ride], ordered: int) -> Draws | None:
    """The draws less what exceeds the count ordered, an egg where missed least; None if least draws do."""
    kept = dict(sorted(draws))
    while sum(kept.values()) > ordered:
        fewer = [
            (enough({**kept, lot: eggs - 1}.items(), rides, ordered), lot)
            for lot, eggs in kept.items()
            if eggs > LEAST_DRAW
        ]
        if not fewer:
            return None
        kept[max(fewer)[1]] -= 1
    return tuple(kept.items())


def topped_up(
    draws: Draws,
    rides: Mapping[str, Ride],
    ordered: int,
    promise: float,
    may_have: Callable[[str, int], bool],
) -> Draws | None:
    """The draws with as many eggs more as the promise needs, each where it helps most (of lots alike, the one
    that sorts last); None where no lot may give another egg before it is kept.

    ``may_have``: may so many eggs of a lot go into this line?
    """
    kept = dict(sorted(draws))
    while enough(kept.items(), rides, ordered) < promise - ROUNDING:
        more = [
            (enough({**kept, lot: eggs + 1}.items(), rides, ordered), lot)
            for lot, eggs in kept.items()
            if may_have(lot, eggs + 1)
        ]
        if not more:
            return None
        kept[max(more)[1]] += 1
    return tuple(kept.items())


@dataclass(eq=False)
class Settling:
    """The eggs of a week's choice, while the lines of several lots are settled one after the other."""

    factory: OptionFactory
    drawn: dict[LineKey, Drawn]

    @property
    def promise(self) -> float:
        return self.factory.shelf.settings.plan.promise

    def settle(self, ride: Callable[[LineKey, str], Ride]) -> tuple[LineKey, ...]:
        """Set the counts of each line that has several lots; the lines that no count settles are given back.

        Lines are trimmed first, so that what one leaves is there for another.
        """
        shared = [key for key in sorted(self.drawn) if len(self.drawn[key].draws) > 1]
        several = [(key, {lot: ride(key, lot) for lot, _ in self.drawn[key].draws}) for key in shared]
        unsettled = []
        for key, rides in several:
            draws, line = self.drawn[key].draws, self._line(key)
            if line.overpack == "usual":
                self._set(key, trimmed(draws, rides, line.eggs, self.promise))
            elif found := as_ordered(draws, rides, line.eggs):
                self._set(key, found)
            else:
                unsettled.append(key)
        for key, rides in several:
            draws, line = self.drawn[key].draws, self._line(key)
            if line.overpack == "none":
                continue
            if found := topped_up(draws, rides, line.eggs, self.promise, self._room(key, rides)):
                self._set(key, found)
            else:
                unsettled.append(key)
        return tuple(unsettled)

    def _line(self, key: LineKey) -> Line:
        return self.factory.shelf.order_by_name[key[0]].line(key[1])

    def _set(self, key: LineKey, draws: Draws) -> None:
        one = self.drawn[key]
        self.drawn[key] = Drawn(one.line, one.departure, one.packing, draws)

    def _room(self, key: LineKey, rides: Mapping[str, Ride]) -> Callable[[str, int], bool]:
        now = dict(self.drawn[key].draws)
        day = self.drawn[key].departure[0]
        left = {lot: now[lot] + self._left(lot, day) for lot in now}

        def may_have(lot: str, eggs: int) -> bool:
            units = units_for(rides[lot].packing, now[lot])
            fits = units_for(rides[lot].packing, eggs) == units
            return eggs <= left[lot] and fits and self.factory.bears(rides[lot], eggs, units)

        return may_have

    def _left(self, lot: str, day: date) -> int:
        """Eggs of a lot that may still be drawn on a day, whatever is drawn on later ones."""
        by_day: dict[date, int] = {day: 0}
        for one in self.drawn.values():
            when = one.departure[0]
            by_day[when] = by_day.get(when, 0) + dict(one.draws).get(lot, 0)
        spare, total = math.inf, 0
        for when in sorted(by_day):
            total += by_day[when]
            if when >= day:
                spare = min(spare, self.factory.lot_day(lot, when).free - total)
        return max(0, int(spare))
