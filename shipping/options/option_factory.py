"""Options: a line, a lot, a packing, a service and a dispatch day in, every figure and every reason against
it out.

Factors that many options share (a leg of the journey, a lot on a day, a lot's hatching on a leg) are reckoned
once. Choosing among options is `plan`'s.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, lru_cache

import numpy as np

from shipping.eggs.hatching import is_barred
from shipping.eggs.overpack import alive_shares, chance_enough, eggs_to_pack
from shipping.eggs.should_have_hatched import unseen_facts, unseen_text
from shipping.options.journey import Curves, Journeys, lot_day, lot_days
from shipping.options.option import Destination, Floats, Leg, LotDay, Option, Ride, held_share, units_for
from shipping.post.calendar import holiday_name, is_hand_over_day
from shipping.post.customs import is_held_unknown
from shipping.post.foam_box import Holding, holding
from shipping.post.restrictions import Rulings, media_of, media_packed, post_reasons, ruling, says_yes
from shipping.post.transit import arrivals, disruptions_of, services_to
from shipping.post.warmth import climate_town, trip_warmth, warmth_reasons
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import Line, Order
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.keys import IdentityKey, grouped
from shipping.words.reasons import Note, Reason
from shipping.words.units import degrees, many, percent, weekday

#: Oxygen on such a basis stops an option; on any other it only cautions.
KNOWN_RATE = frozenset({"published", "learned"})
#: The legs of so many shelves stay in memory.
_KEPT_SHELVES = 2
#: A service, a place and a day of dispatch.
_LegKey = tuple[str, Destination, date]
#: A lot on a leg, in what holds warmth so.
_DueKey = tuple[str, Leg, Holding]
#: `Ride.profile`.
_Profile = tuple[bytes, bytes, float]
#: A box and how it holds warmth, and a species by its name and what it stands [C], kept at so much [C].
_WarmthKey = tuple[str | None, Holding, str, float | None, float | None, float]


@dataclass(eq=False)
class OptionFactory:
    """All shared factors of one shelf, each reckoned once; it changes nothing but memory."""

    shelf: Shelf
    _lot_days: dict[tuple[str, date], LotDay] = field(default_factory=dict)
    _holdings: dict[tuple[str, str | None], Holding] = field(default_factory=dict)
    #: Degree-days by outcome, and the share due to hatch by then, each (outcomes,).
    _dues: dict[_DueKey, tuple[Floats, Floats]] = field(default_factory=dict)
    _journeys: dict[tuple[Leg, ...], tuple[tuple[date, ...], Journeys]] = field(default_factory=dict)
    #: Why packings do not bridge the warmth of legs.
    _warmths: dict[_WarmthKey, dict[Leg, tuple[Reason, ...]]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    _rides: dict[tuple[str, str, str | None, str, Destination, date], Ride] = field(default_factory=dict)
    #: Eggs to pack and their chance, by what is ordered how and by the rides' profiles.
    _packs: dict[tuple[int, str], dict[_Profile, tuple[int, float]]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    _services: dict[tuple[str, str], tuple[Service, ...]] = field(default_factory=dict)

    def destination(self, order: Order) -> Destination:
        address = order.address
        town = climate_town(order.country, address.town)
        return Destination(order.country, address.part, town, address.named_part)

    def every_service(self, place: tuple[str, str]) -> tuple[Service, ...]:
        """All services that go to a country and a part of it, and what is collected in person."""
        if place not in self._services:
            self._services[place] = services_to(self.shelf, *place)
        return self._services[place]

    def services(self, place: tuple[str, str], named: str | None = None) -> tuple[Service, ...]:
        """The service named; where none is, all but what is collected in person, which nobody asked for."""
        return tuple(one for one in self.every_service(place) if one.serves(named))

    def leg(self, service: Service, destination: Destination, day: date) -> Leg:
        key = (service.service, destination, day)
        if (known := self._legs.get(key)) is None:
            known = self._legs[key] = self._new_leg(service, destination, day)
        return known

    @cached_property
    def _legs(self) -> dict[_LegKey, Leg]:
        return _legs_of(IdentityKey(self.shelf))

    def _new_leg(self, service: Service, destination: Destination, day: date) -> Leg:
        home = self.shelf.settings.home
        place = (destination.country, destination.subdivision)
        calendar = destination.calendar_part
        met = disruptions_of(self.shelf, service, day, *place, calendar)
        found = arrivals(service, day, destination.country, calendar, longer_d=sum(row.days for row in met))
        to_p95, to_last = (found.p95 - day).days, (found.dates[-1] - day).days
        trip = trip_warmth(self.shelf, *place, destination.town, day, to_p95, to_last)
        reasons: list[Reason] = []
        if not is_hand_over_day(day, service, home):
            holiday = holiday_name(day, home.country, home.subdivision)
            why = (
                f"it is {holiday}"
                if holiday
                else f"{service.service} is handed over on {' '.join(service.hand_over)}"
            )
            text = f"No hand-over of {service.service} on {weekday(day)} {day}: {why}."
            facts: dict[str, object] = {"service": service.service, "on": day.isoformat(), "holiday": holiday}
            reasons.append(Reason("closed-day", text, facts, "calendar"))
        reasons += post_reasons(self.shelf, service)
        for row in met:
            if row.stopped:
                text = f"{row.source}: nothing is handed over to {service.service} on {weekday(day)} {day}."
                facts = {"service": service.service, "on": day.isoformat(), "until": row.until.isoformat()}
                facts |= {"disruption": row.source}
                reasons.append(Reason("closed-day", text, facts, row.cited))
        spread = self.shelf.settings.warmth.trip_spread_c
        home, place = self.shelf.settings.home, (destination.country, destination.subdivision)
        notes = (
            (Note("no-border", {"service": service.service}),)
            if is_held_unknown(service, home, *place)
            else ()
        )
        return Leg(service, destination, day, found, trip, spread, met, tuple(reasons), notes)

    def rulings(
        self,
        to: Destination,
        species: Species,
        kept_in: AbstractSet[str],
        days: Sequence[date],
        papers: AbstractSet[str] = frozenset(),
    ) -> Rulings:
        """What the rules say of eggs of lots kept in some media; without a lot, as incubation suggests."""
        place, media = (to.country, to.subdivision), media_packed(self.shelf, kept_in)
        ruled = Rulings()
        for medium in media or media_of(self.shelf, species):
            ruled[medium] = tuple(ruling(self.shelf, *place, species, medium, day, papers) for day in days)
        return ruled

    def post_asks(self, services: Sequence[Service], to: Destination, day: date) -> list[Reason]:
        """What the operators of services to a place have to answer, where none of them has said yes."""
        if any(says_yes(self.shelf, service) for service in services):
            return []
        return [reason for service in services for reason in self.leg(service, to, day).asks]

    def lot_day(self, name: str, day: date) -> LotDay:
        key = (name, day)
        if key not in self._lot_days:
            self._lot_days[key] = lot_day(self.shelf, name, day)
        return self._lot_days[key]

    def ride(self, lot_day: LotDay, packing: Packing, leg: Leg) -> Ride:
        name = lot_day.forecast.lot.lot
        key = (name, packing.packing, packing.box, leg.service.service, leg.destination, leg.day)
        if key not in self._rides:
            self._rides[key] = self._new_ride(lot_day, packing, leg)
        return self._rides[key]

    def rides(
        self, lots: Iterable[Lot], days: Iterable[date], services: Sequence[Service], to: Destination
    ) -> list[Ride]:
        """The rides of some lots on some days by some services in every packing that takes their eggs."""
        days, packings = tuple(days), self.shelf.packings
        wanted = [
            (self.lot_day(lot.lot, day), packing, self.leg(service, to, day))
            for lot in lots
            for day in days
            for service in services
            for packing in packings
            if lot.medium in packing.media
        ]
        self.look_ahead(wanted)
        return [self.ride(*ride) for ride in wanted]

    def forget_rides(self) -> None:
        """Drop what was reckoned of rides; what is asked again is reckoned again."""
        for kept in (self._rides, self._dues, self._packs):
            kept.clear()

    def look_ahead(self, rides: Iterable[tuple[LotDay, Packing, Leg]]) -> None:
        """Reckon the shares due to hatch of many rides at once; each is looked up when its ride is."""
        due: dict[tuple[str, Holding], dict[Leg, None]] = {}
        for on_day, packing, leg in rides:
            lot, holds = on_day.forecast.lot.lot, self.holding(packing)
            if (lot, leg, holds) not in self._dues:
                due.setdefault((lot, holds), {})[leg] = None
        for (lot, holds), legs in due.items():
            self._reckon_due(lot, holds, tuple(legs))

    def _reckon_due(self, lot: str, holds: Holding, legs: tuple[Leg, ...]) -> None:
        """The shares of a lot due to hatch on some legs, in boxes that hold warmth alike."""
        if legs not in self._journeys:
            by_place = grouped((leg.destination, leg) for leg in legs)
            days = tuple(sorted({leg.day for leg in legs}))
            every = {to: tuple(own) for to, own in by_place.items()}
            self._journeys[legs] = days, Journeys.of(every, days)
        days, journeys = self._journeys[legs]
        on_days = lot_days(self.shelf, lot, days)
        curves = Curves.of(journeys, on_days.forecast.species, on_days.kept_at_c, holds)
        due = on_days.due(curves)
        for n, (leg, dates) in enumerate(zip(journeys.legs, journeys.dates.tolist(), strict=True)):
            at = curves.row[n, :dates]
            self._dues[lot, leg, holds] = curves.gathered[at].ravel(), due[at].ravel()

    def holding(self, packing: Packing) -> Holding:
        """How a packing, in the box it names, holds its warmth."""
        key = packing.packing, packing.box
        if key not in self._holdings:
            self._holdings[key] = holding(packing, self.shelf.box_by_name.get(packing.box or ""))
        return self._holdings[key]

    def _warmth_key(self, packing: Packing, species: Species, kept_at_c: float) -> _WarmthKey:
        fish = (species.scientific_name, species.keep_min_c, species.keep_max_c)
        return packing.box, self.holding(packing), *fish, kept_at_c

    def _new_ride(self, lot_day: LotDay, packing: Packing, leg: Leg) -> Ride:
        lot, holds = lot_day.forecast.lot.lot, self.holding(packing)
        if (lot, leg, holds) not in self._dues:
            self._reckon_due(lot, holds, (leg,))
        gathered, due = self._dues[lot, leg, holds]
        h = due * (1.0 - held_share(packing, lot_day.forecast))
        v = alive_shares(
            leg.days,
            h,
            loss_handling=packing.loss_handling,
            loss_per_day=packing.loss_per_day,
            fry_live=packing.fry_live,
        )
        h_per_egg, v_per_egg = float(np.dot(h, leg.chances)), float(np.dot(v, leg.chances))
        reasons = self.ride_reasons(lot_day, packing, leg, h_per_egg)
        return Ride(lot_day, packing, leg, holds, gathered, h, v, h_per_egg, v_per_egg, reasons)

    def ride_reasons(
        self, lot_day: LotDay, packing: Packing, leg: Leg, h_per_egg: float
    ) -> tuple[Reason, ...]:
        """Why a ride may not go whatever the count, of whose eggs so many hatch on the way."""
        forecast = lot_day.forecast
        species, kept_at_c = forecast.species, forecast.kept_at_c(leg.day)
        reasons = self._hatch_reasons(lot_day, packing, leg, h_per_egg)
        known = self._warmths[self._warmth_key(packing, species, kept_at_c)]
        if leg not in known:
            known[leg] = packing_warmth(self.shelf, packing, species, leg, kept_at_c)
        reasons += known[leg]
        if late := forecast.past_wetting_on_arrival(leg.day, leg.arrivals.p95):
            reasons.append(late)
        return tuple(reasons)

    def _hatch_reasons(self, lot_day: LotDay, packing: Packing, leg: Leg, h_per_egg: float) -> list[Reason]:
        forecast = lot_day.forecast
        facts: dict[str, object] = {
            "lot": forecast.lot.lot,
            "packing": packing.packing,
            "h_per_egg": round(h_per_egg, 6),
            "hatch_ceiling": packing.hatch_ceiling,
            "p95": leg.arrivals.p95.isoformat(),
        }
        near = is_barred(packing.is_a, forecast.stage, forecast.is_overdue)
        over = forecast.has_dates and h_per_egg > packing.hatch_ceiling
        if (near or over) and (unseen := unseen_text(forecast)):
            facts |= unseen_facts(forecast)
            return [Reason("would-hatch", unseen, facts | ({"near": True} if near else {}), "hatching")]
        if near:
            text = f"Lot {forecast.lot.lot} is near hatching (ready or overdue): never in a sealed tube."
            return [Reason("would-hatch", text, facts | {"near": True}, "hatching")]
        if over:
            text = (
                f"{percent(h_per_egg)} of lot {forecast.lot.lot} would hatch on the way by"
                f" {leg.service.service}; {packing.packing} allows {percent(packing.hatch_ceiling)}."
            )
            return [Reason("would-hatch", text, facts, "hatching")]
        return []

    def prepare(self, rides: Iterable[Ride], ordered: int, overpack: str) -> None:
        """Reckon the eggs to pack by many rides at once."""
        profiles = sorted({ride.profile for ride in rides} - self._packs[ordered, overpack].keys())
        if not profiles:
            return
        rows = [(np.frombuffer(v), np.frombuffer(chances)) for v, chances, _ in profiles]
        v, chances = np.zeros((2, len(rows), max(of_row.size for of_row, _ in rows)))
        for n, (v_row, chances_row) in enumerate(rows):
            v[n, : v_row.size], chances[n, : v_row.size] = v_row, chances_row
        kappa = np.array([profile[2] for profile in profiles])
        found = eggs_to_pack(v, chances, ordered, kappa, self.shelf.settings.plan.promise, overpack)
        packs = zip(found.pack.tolist(), found.p_enough.tolist(), strict=True)
        self._packs[ordered, overpack] |= zip(profiles, packs, strict=True)

    def alone(self, ride: Ride, ordered: int, overpack: str) -> tuple[int, float]:
        """Eggs this ride alone would need for a line, and the chance they give; 0 where no count does."""
        self.prepare((ride,), ordered, overpack)
        return self._packs[ordered, overpack][ride.profile]

    def option(
        self,
        ride: Ride,
        order: Order | None,
        line: Line | None,
        ordered: int,
        known: tuple[int, float] | None = None,
    ) -> Option:
        """The option of a line (or of nobody in particular, for a question) by this ride, with all that
        speaks against.

        ``known``: eggs to pack and their chance, where they were reckoned already.
        """
        pack, p_enough = known or self.alone(ride, ordered, line.overpack if line else "usual")
        blocks = [*ride.lot_day.reasons, *ride.reasons]
        blocks += ride.leg.blocks
        asks = list(ride.leg.asks)
        h_any = ride.risk(pack).any_egg if pack else 1.0
        units = units_for(ride.packing, pack or ordered)
        if pack:
            blocks += self._any_reasons(ride, pack, h_any)
            blocks += self._air_reasons(ride, pack, units)
        if not (ride.lot_day.reasons or ride.reasons):
            blocks += self._count_reasons(ride, ordered, pack)
        if order and line:
            blocks += bound_reasons(order, ride.leg)
            asks += self.order_reasons(order, line, ride)
        return Option(ride, ordered, pack, p_enough, h_any, units, tuple(blocks), tuple(asks))

    def bears(self, ride: Ride, eggs: int, units: int) -> bool:
        """May so many eggs in so many units go, as far as air and the chance of hatching go?"""
        any_egg = ride.risk(eggs).any_egg
        return not (self._any_reasons(ride, eggs, any_egg) or self._air_reasons(ride, eggs, units))

    def order_reasons(self, order: Order, line: Line, ride: Ride) -> list[Reason]:
        """What the order and the rules ask: payment, papers, a rule."""
        found: list[Reason] = []
        if not line.paid:
            found.append(unpaid(line))
        lot, species = ride.lot_day.forecast.lot, ride.lot_day.forecast.species
        medium = ride.packing.travels_in(lot.medium)
        to = ride.leg.destination
        found += ruling(
            self.shelf, to.country, to.subdivision, species, medium, ride.leg.day, order.papers
        ).reasons
        return found

    def _any_reasons(self, ride: Ride, pack: int, h_any: float) -> list[Reason]:
        if h_any <= ride.packing.any_ceiling or ride.h_per_egg > ride.packing.hatch_ceiling:
            return []
        text = (
            f"The chance that any of {many(pack, 'egg')} hatches on the way is {percent(h_any)};"
            f" {ride.packing.packing} allows {percent(ride.packing.any_ceiling)}."
        )
        facts: dict[str, object] = {
            "lot": ride.lot_day.forecast.lot.lot,
            "packing": ride.packing.packing,
            "h_any": round(h_any, 6),
            "any_ceiling": ride.packing.any_ceiling,
            "pack": pack,
        }
        unseen = unseen_text(ride.lot_day.forecast)
        facts |= unseen_facts(ride.lot_day.forecast)
        return [Reason("would-hatch", unseen or text, facts, "hatching")]

    def _air_reasons(self, ride: Ride, pack: int, units: int) -> list[Reason]:
        species, lot = ride.lot_day.forecast.species, ride.lot_day.forecast.lot
        hours = ride.hours_of_air(math.ceil(pack / units), lot.salt_g_l)
        if hours is None or hours >= ride.hours_to_p95 or species.o2_basis not in KNOWN_RATE:
            return []
        eggs = many(math.ceil(pack / units), "egg")
        text = (
            f"{ride.packing.packing} holds {hours:.0f} h of oxygen for {eggs} at"
            f" {degrees(ride.leg.warmth.high_c)} ({species.o2_basis} rate); the 95 % arrival is"
            f" {ride.hours_to_p95:.0f} h away."
        )
        facts: dict[str, object] = {
            "hours": round(hours, 1),
            "needed_h": ride.hours_to_p95,
            "basis": species.o2_basis,
        }
        return [Reason("no-air", text, facts, "oxygen")]

    def _count_reasons(self, ride: Ride, ordered: int, pack: int) -> list[Reason]:
        day, lot = ride.lot_day, ride.lot_day.forecast.lot
        if pack and pack <= day.free:
            return []
        facts = day.forecast.free_facts(day.free, day.day) | {"needed": pack or None}
        if day.look_first and (not pack or day.forecast.free_on(day.day) >= pack):
            text = (
                f"Lot {lot.lot}: {percent(day.share_eyed)} are reckoned to show eyes on {day.day}, {day.free}"
                f" eggs; {pack or 'more'} are needed."
            )
            return [Reason("too-young", text, facts | {"share_eyed": round(day.share_eyed, 6)}, "clock")]
        with_all = ((day.free, ride.v, ride.packing.kappa),)
        best = chance_enough(with_all, ride.leg.chances, ordered) if day.free else 0.0
        needed = f"{pack} are needed for {ordered}" if pack else f"no count keeps the promise of {ordered}"
        text = (
            f"Lot {lot.lot} has {day.forecast.free_words(day.free, day.day)}; {needed}. The chance that all"
            f" would do is {percent(best)}."
        )
        return [
            Reason("short", text, facts | {"best_chance": round(best, 6), "ordered": ordered}, "overpack")
        ]


@lru_cache(maxsize=_KEPT_SHELVES)
def _legs_of(key: IdentityKey[Shelf]) -> dict[_LegKey, Leg]:
    return {}


def packing_warmth(
    shelf: Shelf, packing: Packing, species: Species, leg: Leg, kept_at_c: float
) -> tuple[Reason, ...]:
    """Why a packing in its box does not bridge a leg's warmth for eggs kept at so much; else empty."""
    box = shelf.box_by_name.get(packing.box or "")
    return warmth_reasons(leg.trip, species, kept_at_c, holding(packing, box), leg.service.exposed_h, box)


def no_packing(media: Iterable[str]) -> Reason:
    """That no packing takes eggs kept in any of some media."""
    kept = ", ".join(sorted(media))
    return Reason(
        "no-packing", f"No packing takes eggs kept in {kept}.", {"media": sorted(media)}, "packings"
    )


def unpaid(line: Line) -> Reason:
    text = f"Order {line.order} is not paid: write its paid_on when the money is there."
    return Reason("unpaid", text, {"order": line.order}, line.row.cited)


def bound_reasons(order: Order, leg: Leg) -> list[Reason]:
    """What the order's own earliest and latest days have against a leg."""
    found: list[Reason] = []
    if order.not_before and leg.day < order.not_before:
        text = f"Order {order.order} must not leave before {order.not_before}."
        found.append(Reason("not-before", text, {"not_before": order.not_before.isoformat()}, "orders"))
    if order.not_after and leg.arrivals.p95 > order.not_after:
        text = (
            f"Order {order.order} must be there by {order.not_after}; by {leg.service.service} on {leg.day}"
            f" the 95 % day is {leg.arrivals.p95}."
        )
        facts: dict[str, object] = {
            "not_after": order.not_after.isoformat(),
            "p95": leg.arrivals.p95.isoformat(),
        }
        found.append(Reason("not-after", text, facts, "orders"))
    return found
