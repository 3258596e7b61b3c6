"""The model's sections 3 to 7 and 9 once more, naively: a lot, a service, a packing and a day in, an option's
figures out.

Written from the model's text alone; no room is imported. Holidays come straight from the holidays library,
climate normals straight from their list.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

import holidays
import numpy as np
import world_temperature_data as climate
from scipy.stats import betabinom

from tests.reference.letter_lots import (
    STAGES,
    LetterLot,
    LetterShelf,
    Row,
    known,
    number,
    points_of,
    whole_days,
)

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


# -- section 3: the route


@lru_cache(maxsize=512)
def calendar(country: str, subdivision: str, year: int) -> Any:
    """Public holidays; the national ones where no calendar is kept for the subdivision."""
    kept = holidays.country_holidays(country, years=year)
    has_own = subdivision in kept.subdivisions
    return holidays.country_holidays(country, subdiv=subdivision, years=year) if has_own else kept


def is_delivered(day: date, country: str, subdivision: str, saturday: bool) -> bool:
    if day in calendar(country, subdivision, day.year):
        return False
    is_weekend = calendar(country, "", day.year).is_weekend(day)
    return not is_weekend or (saturday and day.weekday() == 5)


def nearest(rows: list[Row], country: str, zones: dict[str, list[str]]) -> Row | None:
    """The row whose ``to`` names the country itself, else a zone of it, else ``*``."""
    for names in ({country}, {zone for zone, members in zones.items() if country in members}, {"*"}):
        for row in rows:
            if names & set(row["to"].split()):
                return row
    return None


def arrivals(service: Row, on: date, country: str, subdivision: str) -> dict[date, float]:
    usual = whole_days(points_of(service, "early_d", "usual_d", "late_d"))
    share = number(service, "border_share", 0)
    chances = {n: (1 - share) * chance for n, chance in usual.items()}
    if share:
        for n, chance in usual.items():
            for more, held in whole_days(
                points_of(service, "border_early_d", "border_usual_d", "border_late_d")
            ).items():
                chances[n + more] = chances.get(n + more, 0) + share * chance * held
    found: dict[date, float] = {}
    day, n = on, 0
    for wanted in range(max(chances) + 1):
        while n < wanted:
            day += timedelta(days=1)
            n += is_delivered(day, country, subdivision, service.get("saturday") == "yes")
        if chances.get(wanted):
            found[day] = chances[wanted]
    return found


def first_by(arrive: dict[date, float], share: float) -> date:
    reached = 0.0
    for day in sorted(arrive):
        reached += arrive[day]
        if reached >= share - 1e-12:
            return day
    return max(arrive)


def is_handed_over(service: Row, on: date, home: dict[str, str]) -> bool:
    named = service["hand_over"].split()
    return WEEKDAYS[on.weekday()] in named and is_delivered(
        on, home["country"], home.get("subdivision", ""), False
    )


# -- section 4: warmth


def warmth(shelf: LetterShelf, country: str, subdivision: str, month: int) -> tuple[float, float, float]:
    """Low, mean and high."""
    rows = [row for row in shelf.tables["weather"] if int(row["month"]) == month]
    exact = [row for row in rows if subdivision and row["to"] == f"{country}-{subdivision}"]
    row = exact[0] if exact else nearest(rows, country, shelf.zones)
    if row:
        low, high = number(row, "low_c"), number(row, "high_c")
        return low, (low + high) / 2, high
    outdoor = next(c for c in climate.cities() if c["country_iso2"] == country)["monthly"][MONTHS[month - 1]]
    mean = (outdoor + 18) / 2 if outdoor < 18 else outdoor + 2
    margins = shelf.settings.get("warmth", {})
    return mean - margins.get("cold_margin_c", 5), mean, mean + margins.get("hot_margin_c", 8)


# -- section 7: oxygen


def hours_of_air(packing: Row, eggs: int, celsius: float, salt: float, rate: float) -> float:
    k = celsius + 273.15
    log_cs = -139.34411 + 1.575701e5 / k - 6.642308e7 / k**2 + 1.243800e10 / k**3 - 8.621949e11 / k**4
    cs = math.exp(log_cs - salt * (0.017674 - 10.754 / k + 2140.7 / k**2))
    vapour = math.exp(11.8571 - 3840.70 / k - 216961 / k**2)
    air = (1 - vapour) * 0.20946 * 101325 / (8.314462618 * k) * 31.998
    water = number(packing, "water_ml")
    store = (water * cs + (number(packing, "volume_ml") - water) * air) * (1 - 2.5 / cs)
    return store / (eggs * rate * 2 ** ((celsius - 25) / 10))


# -- sections 5, 6 and 9: an option


@dataclass(frozen=True)
class LetterOption:
    arrive: tuple[date, date, date]
    h_per_egg: float
    h_any: float
    v_per_egg: float
    pack: int | None
    p_enough: float
    free: int
    codes: frozenset[str]


@dataclass(frozen=True)
class LetterRide:
    """h and v by arrival date, with its chance, and all that a count does not change."""

    lot: LetterLot
    packing: Row
    service: Row
    on: date
    arrive: dict[date, float]
    h: dict[date, float]
    v: dict[date, float]
    free: int
    look_first: bool
    low_c: float
    high_c: float

    def mean(self, by_date: dict[date, float]) -> float:
        return sum(self.arrive[day] * by_date[day] for day in self.arrive)

    def p_enough(self, eggs: int, ordered: int) -> float:
        kappa = number(self.packing, "kappa", 40)
        days = list(self.arrive)
        v, chances = np.array([self.v[day] for day in days]), np.array([self.arrive[day] for day in days])
        uneven = np.clip(v, 1e-12, 1 - 1e-12)
        each = betabinom.sf(ordered - 1, eggs, uneven * kappa, (1 - uneven) * kappa)
        each = np.where(v >= 1, float(eggs >= ordered), np.where(v <= 0, 0.0, each))
        return float(np.dot(chances, each))

    def h_any(self, eggs: int) -> float:
        return sum(chance * (1 - (1 - self.h[day]) ** eggs) for day, chance in self.arrive.items())


def held_back(lot: LetterLot, packing: Row) -> float:
    travels_in = packing.get("medium") or lot.row["medium"]
    if lot.species["incubation"] == "damp" and travels_in != "water":
        return 1.0
    return number(packing, "hatch_held", 0.9 if packing["kind"] == "damp bag" else 0.0)


def ride(
    lot: LetterLot, packing: Row, service: Row, on: date, country: str, subdivision: str = ""
) -> LetterRide:
    shelf = lot.shelf
    send_from = "fertile" if lot.is_damp else lot.species.get("send_from") or shelf.plan("send_from")
    look_first = STAGES.index(lot.stage) < STAGES.index(send_from)
    sightings, free = lot.sightings, lot.free_on(on)
    if look_first:
        sightings = (*sightings, (on, "eyed"))
        whole = lot.whole(on)
        free = math.floor(free * lot.whole(on, sightings) / whole + 1e-9) if whole > 0 else 0
    low, mean, high = warmth(shelf, country, subdivision, on.month)
    arrive = arrivals(service, on, country, subdivision)
    degrees, whole = lot.gain(mean), lot.whole(on, sightings)
    start = lot.weight(on, sightings=sightings)
    held, h, v = held_back(lot, packing), {}, {}
    fertile = 1.0 if look_first or lot.stage != "laid" else shelf.plan("fertile_share")
    for day in arrive:
        t = (day - on).days
        h[day] = (start - lot.weight(on, degrees * t, sightings)) / whole * (1 - held) if whole > 0 else 1.0
        kept = math.exp(-number(packing, "loss_handling") - number(packing, "loss_per_day") * t)
        v[day] = kept * (1 - h[day] * (1 - number(packing, "fry_live", 0))) * fertile
    return LetterRide(lot, packing, service, on, arrive, h, v, free, look_first, low, high)


def is_smallest(one: LetterRide, pack: int | None, ordered: int, promise: float) -> bool:
    """Is ``pack`` the smallest count that keeps the promise (None: no count up to eight for one and a hundred
    does)?

    Chances within 1e-4 of the promise decide nothing.
    """
    if pack is None:
        return one.p_enough(8 * ordered + 100, ordered) < promise + 1e-4
    fewer = 0.0 if pack == ordered else one.p_enough(pack - 1, ordered)
    return one.p_enough(pack, ordered) >= promise - 1e-4 and fewer < promise + 1e-4


def option(one: LetterRide, ordered: int, home: dict[str, str], pack: int | None) -> LetterOption:
    """All figures of an option in which ``pack`` eggs are packed, and the codes of what stops it."""
    lot, packing = one.lot, one.packing
    p95 = first_by(one.arrive, 0.95)
    dates = (first_by(one.arrive, 0.05), first_by(one.arrive, 0.5), p95)
    h_per_egg, h_any = one.mean(one.h), one.h_any(pack or ordered)
    codes = {
        code
        for code, is_so in (
            ("overdue", lot.is_overdue),
            ("misdated", lot.is_misdated),
            ("too-old", lot.is_too_old(one.on) and not lot.is_misdated),
            ("closed-day", not is_handed_over(one.service, one.on, home)),
            ("would-hatch", h_per_egg > number(packing, "hatch_ceiling")),
            ("would-hatch", h_any > number(packing, "any_ceiling", 1)),
            ("would-hatch", packing["kind"] == "tube" and (lot.stage == "ready" or lot.is_overdue)),
            ("no-air", pack is not None and _is_out_of_air(one, pack, p95)),
            ("short", pack is None or pack > one.free),
        )
        if is_so
    }
    codes |= _warmth_codes(one)
    p_enough = one.p_enough(pack, ordered) if pack else 0.0
    return LetterOption(dates, h_per_egg, h_any, one.mean(one.v), pack, p_enough, one.free, frozenset(codes))


def _is_out_of_air(one: LetterRide, pack: int, p95: date) -> bool:
    species, packing = one.lot.species, one.packing
    if packing["kind"] != "tube" or not packing.get("volume_ml") or not packing.get("water_ml"):
        return False
    if species.get("o2_basis") not in ("published", "learned"):
        return False
    each = math.ceil(pack / math.ceil(pack / number(packing, "eggs_max")))
    rate = number(species, "o2_ug_egg_h", 0.21)
    hours = hours_of_air(packing, each, one.high_c, number(one.lot.row, "salt_g_l", 0), rate)
    return hours < 24 * (p95 - one.on).days


def _warmth_codes(one: LetterRide) -> set[str]:
    shelf, species, packing = one.lot.shelf, one.lot.species, one.packing
    insulated = number(packing, "insulated_h", 0)
    if packing.get("box"):
        insulated += number(shelf.row("boxes", "box", packing["box"]), "insulated_h", 0)
    found = {"too-hot"} if packing.get("heat_pack") == "yes" and one.high_c > 21 else set()
    if insulated < number(one.service, "exposed_h", 12):
        most, least = known(species, "keep_max_c"), known(species, "keep_min_c")
        found |= {"too-hot"} if most is not None and one.high_c > most else set()
        found |= {"too-cold"} if least is not None and one.low_c < least else set()
    return found
