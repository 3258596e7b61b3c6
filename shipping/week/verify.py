"""Every limit of a plan, reckoned again from the tables without the solver; a broken one is our own
mistake.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from shipping.eggs.overpack import chance_enough
from shipping.options.option import LEAST_DRAW, Leg, units_for
from shipping.options.option_factory import Reckoner
from shipping.post.restrictions import closed_at_home, ruling
from shipping.post.weight import box_for, parcel_weight, postage
from shipping.tables.rows.orders import Line, Order
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Dates, Draw, Parcel, Plan, PlannedLine
from shipping.words.second_process import of_two_halves
from shipping.words.units import weekday

#: A chance this little short of a limit keeps it.
ROUNDING = 1e-9


#: A lot, and parcels.
_OfLot = tuple[str, tuple[Parcel, ...]]
#: Lot -> day -> eggs.
_DrawnOn = Mapping[str, Mapping[date, int]]


class NotAsPromised(AssertionError):
    """A plan breaks a limit: what and where."""


def verify_plan(plan: Plan, shelf: Shelf, processes: int = 2) -> None:
    """Nothing, if the plan keeps every limit.

    Raises
    ------
    NotAsPromised
        With all limits broken.
    """
    broken = list(_broken(plan, shelf, processes))
    if broken:
        raise NotAsPromised("; ".join(broken))


def _broken(plan: Plan, shelf: Shelf, processes: int) -> Iterator[str]:
    yield from _lines_once(plan, shelf)
    yield from _days(plan, shelf)
    drawn = _drawn(plan)
    yield from _counts(plan, drawn)
    for found in of_two_halves(
        _by_lot(plan, shelf), lambda part: list(_of_lots(part, drawn, shelf)), processes
    ):
        yield from found


def _of_lots(part: Sequence[_OfLot], drawn: _DrawnOn, shelf: Shelf) -> Iterator[str]:
    """What is broken by draws from some lots and by some parcels; the lots' clocks are asked lot after
    lot.
    """
    reckoner = Reckoner(shelf)
    for lot, _ in part:
        yield from _free(lot, drawn[lot], reckoner)
    parcels = [parcel for _, own in part for parcel in own]
    rides = [
        (_place(draw.lot, shelf), draw, parcel)
        for parcel in parcels
        for line in parcel.lines
        for draw in line.draws
    ]
    for _, draw, parcel in sorted(rides, key=lambda one: (one[0], one[2].dispatch_on)):
        leg = _leg(parcel, shelf.order_by_name[parcel.orders[0]], reckoner)
        if leg is not None:
            reckoner.ride(reckoner.lot_day(draw.lot, leg.day), shelf.packing_by_name[draw.packing], leg)
    for parcel in parcels:
        yield from _parcel(parcel, shelf, reckoner)


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


def _free(lot: str, days: Mapping[date, int], reckoner: Reckoner) -> Iterator[str]:
    """What is drawn up to a day is free that day."""
    drawn = 0
    for day in sorted(days):
        drawn += days[day]
        free = reckoner.lot_day(lot, day).free
        if drawn > free:
            yield f"lot {lot}: {drawn} drawn by {day}, {free} free"


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


def _leg(parcel: Parcel, order: Order, reckoner: Reckoner) -> Leg | None:
    """The leg a parcel is on; None where no such service goes there."""
    service = next(iter(reckoner.services(parcel.address.country, parcel.service)), None)
    return reckoner.leg(service, reckoner.destination(order), parcel.dispatch_on) if service else None


def _parcel(parcel: Parcel, shelf: Shelf, reckoner: Reckoner) -> Iterator[str]:
    orders = [shelf.order_by_name[name] for name in parcel.orders]
    if len({order.address for order in orders}) != 1:
        yield f"{parcel.parcel}: two addresses"
    packed = tuple(
        (shelf.packing_by_name[draw.packing], draw.units) for line in parcel.lines for draw in line.draws
    )
    box = box_for(shelf, packed)
    service = next(iter(reckoner.services(parcel.address.country, parcel.service)), None)
    if box is None or service is None:
        yield f"{parcel.parcel}: no box or no service"
        return
    if service.late_d == 0 and any(order.service != service.service for order in orders):
        yield f"{parcel.parcel}: collected in person, which not every order of it asks for"
    weight = parcel_weight(packed, box)
    band = postage(shelf, parcel.service, parcel.address.country, weight, box.thick_mm)
    if abs(weight - parcel.weight_g) > ROUNDING or (band is None and not service.is_collection):
        yield f"{parcel.parcel}: weight or postage is off"
    if band is not None and band.price != parcel.postage:
        yield f"{parcel.parcel}: postage {parcel.postage} is not {band.price}"
    leg = reckoner.leg(service, reckoner.destination(orders[0]), parcel.dispatch_on)
    if leg.reasons:
        yield f"{parcel.parcel}: {leg.reasons[0].text}"
    if parcel.arrive != Dates(leg.arrivals.p05, leg.arrivals.p50, leg.arrivals.p95):
        yield f"{parcel.parcel}: the arrival dates are off"
    for line in parcel.lines:
        order = shelf.order_by_name[line.order]
        yield from _line(parcel, line, order, order.line(line.line), shelf, reckoner)


def _line(
    parcel: Parcel, planned: PlannedLine, order: Order, line: Line, shelf: Shelf, reckoner: Reckoner
) -> Iterator[str]:
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
    if not math.isclose(
        _chance(parcel, planned, order, line, shelf, reckoner), planned.p_enough, abs_tol=ROUNDING
    ):
        yield f"{where}: the chance of enough is off"
    keeps = line.overpack == "none" or planned.p_enough >= shelf.settings.plan.promise - ROUNDING
    if not keeps:
        yield f"{where}: the promise is not kept"
    for draw in planned.draws:
        yield from _draw(where, parcel, draw, order, shelf, reckoner, alone=len(planned.draws) == 1)


def _chance(
    parcel: Parcel, planned: PlannedLine, order: Order, line: Line, shelf: Shelf, reckoner: Reckoner
) -> float:
    """The chance of enough eggs alive, from the tables."""
    (service,) = reckoner.services(parcel.address.country, parcel.service)
    leg = reckoner.leg(service, reckoner.destination(order), parcel.dispatch_on)
    draws = []
    for draw in planned.draws:
        ride = reckoner.ride(reckoner.lot_day(draw.lot, leg.day), shelf.packing_by_name[draw.packing], leg)
        draws.append((draw.pack, ride.v, ride.packing.kappa))
    return chance_enough(tuple(draws), leg.chances, line.eggs)


def _draw(
    where: str, parcel: Parcel, draw: Draw, order: Order, shelf: Shelf, reckoner: Reckoner, alone: bool
) -> Iterator[str]:
    packing = shelf.packing_by_name[draw.packing]
    lot_day = reckoner.lot_day(draw.lot, parcel.dispatch_on)
    lot, species = lot_day.forecast.lot, lot_day.forecast.species
    if lot_day.reasons or closed_at_home(shelf, species, lot.medium):
        yield f"{where}: lot {draw.lot} must not go"
    if lot.medium not in packing.media or draw.units < units_for(packing, draw.pack):
        yield f"{where}: {packing.packing} does not hold it"
    if not alone and draw.pack < LEAST_DRAW:
        yield f"{where}: a draw below {LEAST_DRAW} eggs"
    if draw.h_per_egg > packing.hatch_ceiling + ROUNDING or draw.h_any > packing.any_ceiling + ROUNDING:
        yield f"{where}: over the packing's ceiling"
    if packing.is_a.is_sealed and (lot_day.stage == "ready" or lot_day.forecast.is_overdue):
        yield f"{where}: a ready lot in a tube"
    (service,) = reckoner.services(parcel.address.country, parcel.service)
    leg = reckoner.leg(service, reckoner.destination(order), parcel.dispatch_on)
    ride = reckoner.ride(lot_day, packing, leg)
    if ride.reasons or not math.isclose(ride.h_per_egg, draw.h_per_egg, abs_tol=ROUNDING):
        yield f"{where}: the journey is not as planned"
    if not math.isclose(ride.risk(draw.pack).any_egg, draw.h_any, abs_tol=ROUNDING):
        yield f"{where}: the chance that any hatches is off"
    to = leg.destination
    found = ruling(
        shelf, to.country, to.region, species, packing.travels_in(lot.medium), leg.day, order.papers
    )
    if not found.passes:
        yield f"{where}: {found.reasons[0].text}"
