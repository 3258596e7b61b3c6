"""Every limit of a plan reckoned again, without the solver, by a second model; broken is our mistake."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from shipping.post.calendar import is_hand_over_day
from shipping.post.foam_box import holding
from shipping.post.quote import box_for, parcel_weight, postage
from shipping.post.restrictions import closed_at_home, post_reasons, ruling
from shipping.post.transit import arrivals, disruptions_of, services_to
from shipping.post.warmth import climate_town, felt_by, trip_warmth, unbridged
from shipping.tables.rows.lots import bounds
from shipping.tables.rows.orders import Order
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, Parcel, Plan, PlannedLine
from shipping.week.second_model import (
    SEVERAL_OFF,
    SHARE_OFF,
    PlainJourney,
    PlainLot,
    PlainRide,
    chance_enough,
)
from shipping.words.long_work import of_two_halves
from shipping.words.units import weekday

#: A chance this little short of a limit keeps it.
ROUNDING = 1e-9
#: No draw is smaller, unless the whole line is.
LEAST_DRAW = 5
#: A lot, and parcels.
_OfLot = tuple[str, tuple[Parcel, ...]]
#: Lot -> day -> eggs.
_DrawnOn = Mapping[str, Mapping[date, int]]


class NotAsPromised(AssertionError):
    """A plan breaks a limit: what and where."""


def verify_plan(plan: Plan, shelf: Shelf, processes: int = 2) -> None:
    """Raises NotAsPromised, with all limits broken, if the plan does not keep every limit."""
    broken = list(_broken(plan, shelf, processes))
    if broken:
        raise NotAsPromised("; ".join(broken))


def _broken(plan: Plan, shelf: Shelf, processes: int) -> Iterator[str]:
    yield from _lines_once(plan, shelf)
    yield from _days(plan, shelf)
    drawn = _drawn(plan)
    yield from _counts(plan, drawn)
    for broken in of_two_halves(
        _by_lot(plan, shelf), lambda part: list(_of_lots(part, drawn, shelf)), processes
    ):
        yield from broken


def _of_lots(part: Sequence[_OfLot], drawn: _DrawnOn, shelf: Shelf) -> Iterator[str]:
    """What is broken by draws from some lots and by some parcels."""
    again = _Again(shelf)
    for lot, _ in part:
        yield from _free(again.lot(lot), drawn[lot])
    for _, own in part:
        for parcel in own:
            yield from _parcel(parcel, shelf, again)


class _Again:
    """Lots and journeys of a shelf, each reckoned once."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self._lots: dict[str, PlainLot] = {}
        self._journeys: dict[tuple[object, ...], PlainJourney] = {}

    def lot(self, name: str) -> PlainLot:
        if name not in self._lots:
            self._lots[name] = PlainLot(self.shelf, name)
        return self._lots[name]

    def journey(self, service: Service, order: Order, day: date) -> PlainJourney:
        """The journey of an order by a service from a day."""
        part = order.address.part
        place = (order.country, part, climate_town(order.country, order.address.town))
        key = (service.service, *place, order.address.named_part, day)
        if key not in self._journeys:
            named = order.address.named_part
            met = disruptions_of(self.shelf, service, day, *place[:2], named)
            dates = arrivals(service, day, order.country, named, longer_d=sum(row.days for row in met))
            to_p95, to_last = (dates.p95 - day).days, (max(dates.dates) - day).days
            trip = trip_warmth(self.shelf, *place, day, to_p95, to_last)
            spread_c, is_stopped = self.shelf.settings.warmth.trip_spread_c, any(row.stopped for row in met)
            self._journeys[key] = PlainJourney(day, dates, trip, spread_c, is_stopped)
        return self._journeys[key]

    def service(self, parcel: Parcel) -> Service | None:
        """The service a parcel goes by; None where no such service goes there."""
        there = services_to(self.shelf, parcel.address.country, parcel.address.part)
        return next((one for one in there if one.service == parcel.service), None)


def _place(name: str, shelf: Shelf) -> tuple[str, str, str]:
    """Where a lot stands among lots that are alike."""
    lot = shelf.lot_by_name[name]
    return lot.species, lot.population, name


def _by_lot(plan: Plan, shelf: Shelf) -> list[_OfLot]:
    """Each lot drawn, with the parcels of which it is the first lot; lots alike together."""
    found: dict[str, list[Parcel]] = {
        draw.lot: [] for parcel in plan.parcels for line in parcel.lines for draw in line.draws
    }
    for parcel in plan.parcels:
        found[parcel.lines[0].draws[0].lot].append(parcel)
    return sorted(((lot, tuple(own)) for lot, own in found.items()), key=lambda one: _place(one[0], shelf))


def _drawn(plan: Plan) -> _DrawnOn:
    """Eggs drawn from each lot on each day."""
    found: dict[str, dict[date, int]] = {}
    for parcel in plan.parcels:
        for line in parcel.lines:
            for draw in line.draws:
                days = found.setdefault(draw.lot, {})
                days[parcel.dispatch_on] = days.get(parcel.dispatch_on, 0) + draw.pack
    return found


def _lines_once(plan: Plan, shelf: Shelf) -> Iterator[str]:
    """Every line goes once or is left out once; orders that stay together do."""
    gone = [(line.order, line.line) for parcel in plan.parcels for line in parcel.lines]
    seen = sorted(gone + [(line.order, line.line) for line in plan.lines_out])
    if seen != sorted(line.key for order in shelf.orders for line in order.lines):
        yield "a line is planned twice or not accounted for"
    going = frozenset(gone)
    homes = Counter(order for parcel in plan.parcels for order in sorted(set(parcel.orders)))
    for order in shelf.orders:
        together = {line.key in going for line in order.lines}
        if (len(together) > 1 and not order.may_split) or homes[order.order] > 1:
            yield f"order {order.order} is torn apart"


def _free(lot: PlainLot, days: Mapping[date, int]) -> Iterator[str]:
    """What is drawn up to a day is free that day."""
    drawn = 0
    for day in sorted(days):
        drawn += days[day]
        free = lot.free(day)
        if drawn > free:
            yield f"lot {lot.lot.lot}: {drawn} drawn by {day}, {free} free"


def _counts(plan: Plan, drawn: _DrawnOn) -> Iterator[str]:
    """The counts of draws, lines and lots agree."""
    for parcel in plan.parcels:
        for line in parcel.lines:
            if sum(draw.pack for draw in line.draws) != line.pack:
                yield f"{line.order}: draws do not add up"
    for use in plan.lots:
        if use.drawn != sum(drawn.get(use.lot, {}).values()) or (use.drawn and use.left < 0):
            yield f"lot {use.lot}: the count is off"


def _days(plan: Plan, shelf: Shelf) -> Iterator[str]:
    limit = shelf.settings.plan.parcels_per_day
    loads = dict(shelf.parcels_made)
    for parcel in plan.parcels:
        loads[parcel.dispatch_on] = loads.get(parcel.dispatch_on, 0) + 1
        if (
            weekday(parcel.dispatch_on) not in shelf.settings.plan.dispatch_days
            or parcel.dispatch_on < shelf.today
        ):
            yield f"{parcel.parcel}: no day to post"
    planned = {parcel.dispatch_on for parcel in plan.parcels}
    if limit is not None and any(loads[day] > limit for day in planned):
        yield "too many parcels on a day"


def _parcel(parcel: Parcel, shelf: Shelf, again: _Again) -> Iterator[str]:
    orders = [shelf.order_by_name[name] for name in parcel.orders]
    if len({order.address for order in orders}) != 1:
        yield f"{parcel.parcel}: two addresses"
    packed = tuple(
        (shelf.packing_by_name[draw.packing], draw.units) for line in parcel.lines for draw in line.draws
    )
    box, service = box_for(shelf, packed), again.service(parcel)
    if box is None or service is None:
        yield f"{parcel.parcel}: no box or no service"
        return
    if service.late_d == 0 and any(order.service != service.service for order in orders):
        yield f"{parcel.parcel}: collected in person, which not every order of it asks for"
    weight = parcel_weight(packed, box)
    band = postage(shelf, parcel.service, parcel.address.country, weight, box.thick_mm, parcel.address.part)
    if abs(weight - parcel.weight_g) > ROUNDING or (band is None and not service.is_collection):
        yield f"{parcel.parcel}: weight or postage is off"
    if band is not None and band.price != parcel.postage:
        yield f"{parcel.parcel}: postage {parcel.postage} is not {band.price}"
    journey = again.journey(service, orders[0], parcel.dispatch_on)
    yield from (f"{parcel.parcel}: {reason.text}" for reason in post_reasons(shelf, service)[:1])
    if journey.is_stopped or not is_hand_over_day(parcel.dispatch_on, service, shelf.settings.home):
        yield f"{parcel.parcel}: no hand-over of {service.service} on {parcel.dispatch_on}"
    if parcel.arrive != journey.arrivals.spread:
        yield f"{parcel.parcel}: the arrival dates are off"
    for line in parcel.lines:
        order = shelf.order_by_name[line.order]
        yield from _line(parcel, line, order, service, journey, again)


def _line(
    parcel: Parcel, planned: PlannedLine, order: Order, service: Service, journey: PlainJourney, again: _Again
) -> Iterator[str]:
    line, shelf = order.line(planned.line), again.shelf
    where = f"{parcel.parcel} {order.order}/{line.number}"
    if not line.paid:
        yield f"{where}: unpaid"
    if order.service and order.service != parcel.service:
        yield f"{where}: another service was asked for"
    early = order.not_before and parcel.dispatch_on < order.not_before
    late = order.not_after and parcel.arrive.p95 and parcel.arrive.p95 > order.not_after
    if early or late:
        yield f"{where}: outside the order's days"
    lots = [shelf.lot_by_name[draw.lot] for draw in planned.draws]
    if (
        len({(lot.species, lot.population) for lot in lots}) != 1
        or len({draw.packing for draw in planned.draws}) != 1
    ):
        yield f"{where}: mixed populations or packings"
    wishes = {line.species, *(wish.partition("/")[0].strip() for wish in line.instead)}
    if lots[0].species not in wishes or len(lots) > shelf.settings.plan.lots_a_line:
        yield f"{where}: not what was ordered"
    as_ordered = not line.population or lots[0].population.casefold() == line.population.casefold()
    if not planned.instead_of and not as_ordered:
        yield f"{where}: another population"
    rides = [_ride(draw, journey, again) for draw in planned.draws]
    draws = [(draw.pack, ride) for draw, ride in zip(planned.draws, rides, strict=True)]
    off = SHARE_OFF if len(draws) == 1 else SEVERAL_OFF
    if abs(chance_enough(draws, line.eggs) - planned.p_enough) > off:
        yield f"{where}: the chance of enough is off"
    if line.overpack == "none" and planned.pack != line.eggs:
        yield f"{where}: not the count ordered"
    keeps = line.overpack == "none" or planned.p_enough >= shelf.settings.plan.promise - ROUNDING
    if not keeps:
        yield f"{where}: the promise is not kept"
    for draw, ride in zip(planned.draws, rides, strict=True):
        yield from (f"{where}: {broken}" for broken in _draw(draw, ride, order, service, shelf))
        if len(draws) > 1 and draw.pack < LEAST_DRAW:
            yield f"{where}: a draw below {LEAST_DRAW} eggs"


def _ride(draw: Draw, journey: PlainJourney, again: _Again) -> PlainRide:
    packing = again.shelf.packing_by_name[draw.packing]
    box = again.shelf.box_by_name.get(packing.box or "")
    return PlainRide(again.lot(draw.lot), packing, journey, holding(packing, box))


def _draw(draw: Draw, ride: PlainRide, order: Order, service: Service, shelf: Shelf) -> Iterator[str]:
    """What speaks against one draw: its lot, its packing, its journey, the rules."""
    packing, journey, lot = ride.packing, ride.journey, ride.lot
    row, species = lot.lot, lot.species
    packed = shelf.packed.get(draw.lot, {}).items()
    if waits := lot.must_wait(journey.on):
        yield f"lot {draw.lot} must not go: {waits}"
    if any(eggs and not lot.is_seen_since(back) for back, eggs in shelf.came_back.get(draw.lot, ())):
        yield f"lot {draw.lot} must not go: eggs came back to it, unseen since"
    if any(bound.excess for bound in bounds(row, lot.looks, packed, shelf.packed_between.get(draw.lot, 0))):
        yield f"lot {draw.lot} must not go: its counts contradict each other"
    if closed_at_home(shelf, species, row.medium):
        yield f"lot {draw.lot} must not go: closed at home"
    if row.medium not in packing.media or draw.units < max(1, -(-draw.pack // packing.eggs_max)):
        yield f"{packing.packing} does not hold it"
    if draw.h_per_egg > packing.hatch_ceiling + ROUNDING or draw.h_any > packing.any_ceiling + ROUNDING:
        yield "over the packing's ceiling"
    if packing.is_a.is_sealed and (lot.stage == "ready" or lot.is_overdue):
        yield "a ready lot in a tube"
    if not _travels_well(draw, ride, service, shelf) or abs(ride.h_per_egg - draw.h_per_egg) > SHARE_OFF:
        yield "the journey is not as planned"
    if abs(ride.h_any(draw.pack) - draw.h_any) > SHARE_OFF * max(1.0, draw.pack / 50):
        yield "the chance that any hatches is off"
    medium, region = packing.travels_in(row.medium), order.address.part
    ruled = ruling(shelf, order.country, region, species, medium, journey.on, order.papers)
    if not ruled.passes:
        yield ruled.reasons[0].text


def _travels_well(draw: Draw, ride: PlainRide, service: Service, shelf: Shelf) -> bool:
    """Do warmth, air and the last wetting day let the draw go?"""
    journey, lot = ride.journey, ride.lot
    box = shelf.box_by_name.get(ride.packing.box or "")
    felt = felt_by([(journey.trip, service.exposed_h)])
    hot, cold = unbridged(felt, lot.species, lot.kept_at(journey.on), ride.holds, box)
    last = lot.last_wetting if lot.lot.kept_damp else None
    in_time = last is None or journey.arrivals.p95 <= last
    has_air = ride.hours_of_air(-(-draw.pack // max(1, draw.units))) >= journey.hours_to_p95 - ROUNDING
    return in_time and has_air and not (hot.any() or cold.any())
