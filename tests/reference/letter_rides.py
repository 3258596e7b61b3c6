"""The model's sections 3 to 7 and 9 once more, naively: a lot, a service, a packing and a day in, an option's
figures out.

Written from the model's text alone; no room is imported. Holidays come straight from the holidays library,
climate normals straight from their list.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta
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


def arrivals(service: Row, on: date, country: str, subdivision: str, more_days: int = 0) -> dict[date, float]:
    usual = whole_days(points_of(service, "early_d", "usual_d", "late_d"))
    share = number(service, "border_share", 0)
    chances = {n: (1 - share) * chance for n, chance in usual.items()}
    if share:
        for n, chance in usual.items():
            for more, held in whole_days(
                points_of(service, "border_early_d", "border_usual_d", "border_late_d")
            ).items():
                chances[n + more] = chances.get(n + more, 0) + share * chance * held
    chances = {n + more_days: chance for n, chance in chances.items()}
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


def stops_and_delays(
    shelf: LetterShelf, service: Row, on: date, country: str, subdivision: str
) -> tuple[int, bool]:
    """Working days more, and whether nothing is handed over."""
    last = first_by(arrivals(service, on, country, subdivision), 0.95)
    names = {country, f"{country}-{subdivision}", "*"}
    names |= {zone for zone, members in shelf.zones.items() if country in members}
    more, stopped = 0, False
    for row in shelf.tables["disruptions"]:
        named = row.get("service") or ""
        if named not in ("", service["service"]) or (not named and float(service["late_d"]) == 0):
            continue
        if (
            names & set(row["to"].split())
            and row["from"] <= last.isoformat()
            and row["until"] >= on.isoformat()
        ):
            more += int(row.get("days") or 0)
            stopped |= row.get("stopped") == "yes"
    return more, stopped


# -- section 4: warmth

Span = tuple[float, float]


def span(shelf: LetterShelf, country: str, subdivision: str, day: date) -> Span:
    """The low and high of one day."""
    places = [f"{country}-{subdivision}", country]
    places += sorted(zone for zone, members in shelf.zones.items() if country in members)
    places.append("*")
    rows = shelf.tables["weather"]
    for place in places:
        for row in rows:
            if row["to"] == place and row.get("from") and row["from"] <= day.isoformat() <= row["until"]:
                return number(row, "low_c"), number(row, "high_c")
    noon = datetime(day.year, day.month, day.day, 12)
    year, month = day.year, day.month
    if noon < middle(year, month):
        year, month = (year - 1, 12) if month == 1 else (year, month - 1)
    after = (year + 1, 1) if month == 12 else (year, month + 1)
    w = (noon - middle(year, month)) / (middle(*after) - middle(year, month))
    first, second = month_span(shelf, places, country, month), month_span(shelf, places, country, after[1])
    return first[0] * (1 - w) + second[0] * w, first[1] * (1 - w) + second[1] * w


def middle(year: int, month: int) -> datetime:
    start = datetime(year, month, 1)
    end = datetime(year + month // 12, month % 12 + 1, 1)
    return start + (end - start) / 2


def month_span(shelf: LetterShelf, places: list[str], country: str, month: int) -> Span:
    """The breeder's row of the month, else of its neighbours, else the normal."""

    def own(wanted: int) -> Span | None:
        for place in places:
            for row in shelf.tables["weather"]:
                if row["to"] == place and (row.get("month") or "0") == str(wanted):
                    return number(row, "low_c"), number(row, "high_c")
        return None

    if here := own(month):
        return here
    beside = [one for one in (own((month + 10) % 12 + 1), own(month % 12 + 1)) if one]
    if beside:
        return sum(one[0] for one in beside) / len(beside), sum(one[1] for one in beside) / len(beside)
    outdoor = next(c for c in climate.cities() if c["country_iso2"] == country)["monthly"][MONTHS[month - 1]]
    mean = max((outdoor + 18) / 2, outdoor + 2)
    margins = shelf.settings.get("warmth", {})
    return mean - margins.get("cold_margin_c", 5), mean + margins.get("hot_margin_c", 8)


def warm_hours(shelf: LetterShelf, packing: Row) -> float:
    """warm_h of a packing in its box."""
    if known(packing, "insulated_h") is not None:
        return number(packing, "insulated_h") / math.log(2)
    if not packing.get("box"):
        return 0.0
    box = shelf.row("boxes", "box", packing["box"])
    if known(box, "insulated_h") is not None:
        return number(box, "insulated_h") / math.log(2)
    wall, bottle = number(box, "wall_mm", 0), number(box, "bottle_ml", 0)
    if not wall or not bottle:
        return 0.0
    a, b, c = (number(box, side) / 10 - 2 * wall / 10 for side in ("length_mm", "width_mm", "thick_mm"))
    return bottle / (0.11 * 25 / wall * (2 * a * b + 2 * a * c + 2 * b * c))


def lead_left(t: float, warm_h: float, heat_pack_h: float) -> float:
    """What is left of the lead over the outside t hours after hand-over."""
    if t <= heat_pack_h:
        return 1.0
    return math.exp(-(t - heat_pack_h) / warm_h) if warm_h else 0.0


def mean_gain(lot: LetterLot, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """The mean of g over temperatures spread evenly, piece by piece between its kinks."""
    kinks = [np.clip(kink, low, high) for kink in sorted((lot.zero_c, lot.keep_max_c))]
    edges = [low, *kinks, high]
    gains = [np.maximum(0.0, np.minimum(edge, lot.keep_max_c) - lot.zero_c) for edge in edges]
    pieces = zip(itertools.pairwise(edges), itertools.pairwise(gains), strict=True)
    area = sum((b - a) * (first + last) / 2 for (a, b), (first, last) in pieces)
    wide = high - low
    return np.where(wide < 1e-9, gains[0], area / np.maximum(wide, 1e-9))


def nodes(spread: float) -> list[tuple[float, float]]:
    """Shift of the whole trip and its weight, at seven Gauss-Hermite nodes of a normal."""
    if spread == 0:
        return [(0.0, 1.0)]
    x, w = np.polynomial.hermite_e.hermegauss(7)
    return [(float(spread * at), float(weight / w.sum())) for at, weight in zip(x, w, strict=True)]


def gathered_on_the_way(
    lot: LetterLot, spans: list[Span], kept: float, warm_h: float, heat_pack_h: float, shift: float
) -> list[float]:
    """Degree-days after 0, 1, 2 .. days on the way, hour by hour."""
    leads = np.array([lead_left(hour + 0.5, warm_h, heat_pack_h) for hour in range(24 * len(spans))])
    low, high = (np.repeat(out, 24) + shift for out in np.array(spans).T)
    gained = mean_gain(lot, low + (kept - low) * leads, high + (kept - high) * leads)
    found = [0.0]
    for day in gained.reshape(-1, 24).sum(axis=1) / 24:
        found.append(found[-1] + float(day))
    return found


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


Outcome = tuple[date, int]


@dataclass(frozen=True)
class LetterRide:
    """h and v by arrival date and node, with the chance of each, and all that a count does not change."""

    lot: LetterLot
    packing: Row
    service: Row
    on: date
    dates: dict[date, float]
    arrive: dict[Outcome, float]
    h: dict[Outcome, float]
    v: dict[Outcome, float]
    gathered: dict[Outcome, float]
    free: int
    look_first: bool
    sightings: tuple[tuple[date, str], ...]
    stopped: bool
    spans: list[Span]
    warm_h: float
    heat_pack_h: float
    kept: float

    @property
    def judged(self) -> list[Span]:
        """The days to the 95 % arrival."""
        return self.spans[: max(1, (first_by(self.dates, 0.95) - self.on).days)]

    def mean(self, by_outcome: dict[Outcome, float]) -> float:
        return sum(self.arrive[one] * by_outcome[one] for one in self.arrive)

    def p_enough(self, eggs: int, ordered: int) -> float:
        kappa = number(self.packing, "kappa", 40)
        every = list(self.arrive)
        v, chances = np.array([self.v[one] for one in every]), np.array([self.arrive[one] for one in every])
        uneven = np.clip(v, 1e-12, 1 - 1e-12)
        alive = np.arange(ordered, eggs + 1)[:, None]
        each = betabinom.pmf(alive, eggs, uneven * kappa, (1 - uneven) * kappa).sum(axis=0)
        each = np.where(v >= 1, float(eggs >= ordered), np.where(v <= 0, 0.0, each))
        return float(np.dot(chances, each))

    def h_any(self, eggs: int) -> float:
        return sum(chance * (1 - (1 - self.h[one]) ** eggs) for one, chance in self.arrive.items())

    def hatched_there(self, day: date) -> float:
        """The share of the eggs whole on arrival that has hatched with the buyer by a day."""
        lot, whole, reached = self.lot, 0.0, 0.0
        before = lot.whole(self.on, self.sightings)
        a_day = lot.gain(number(lot.species, "incubation_c"))
        for (r, node), chance in self.arrive.items():
            here = 1 - self.h[(r, node)]
            whole += chance * here
            if day >= r:
                more = self.gathered[(r, node)] + (day - r).days * a_day
                still = lot.weight(self.on, more, self.sightings) / before
                reached += chance * max(0.0, here - still)
        return reached / whole


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
    sightings, free = lot.evidence, lot.free_on(on)
    if look_first:
        saw_none = any(seen == on and stage in ("laid", "fertile") for seen, stage in lot.sightings)
        sightings = (*sightings, (on, "eyed"))
        whole = lot.whole(on)
        shows = lot.whole(on, sightings) / whole if whole > 0 and not saw_none else 0.0
        free = math.floor(free * shows + 1e-9)
    if (on - lot.laying[-1]).days < shelf.plan("settle_d"):
        free = 0
    more, stopped = stops_and_delays(shelf, service, on, country, subdivision)
    dates = arrivals(service, on, country, subdivision, more)
    spans = [
        span(shelf, country, subdivision, on + timedelta(days=n))
        for n in range(max(1, (max(dates) - on).days))
    ]
    warm_h, kept = warm_hours(shelf, packing), lot.temperature(on)
    heat = {"yes": 40.0, "no": 0.0, "": 0.0}.get(packing.get("heat_pack") or "")
    heat_pack_h = number(packing, "heat_pack_h", heat)
    whole = lot.whole(on, sightings)
    held = held_back(lot, packing)
    own = known(lot.row, "fertile_share")
    fertile = shelf.plan("fertile_share") if own is None else own
    fertile = 1.0 if look_first or lot.stage != "laid" else fertile
    arrive: dict[Outcome, float] = {}
    h: dict[Outcome, float] = {}
    v: dict[Outcome, float] = {}
    gathered: dict[Outcome, float] = {}
    spread = shelf.settings.get("warmth", {}).get("trip_spread_c", 2.5)
    for node, (shift, weight) in enumerate(nodes(spread)):
        degrees = gathered_on_the_way(lot, spans, kept, warm_h, heat_pack_h, shift)
        weights = lot.each_weight(on, degrees, sightings)
        for day, chance in dates.items():
            t, one = (day - on).days, (day, node)
            arrive[one], gathered[one] = chance * weight, degrees[t]
            due = 1 - weights[t] / whole if whole > 0 else 1.0
            h[one] = due * (1 - held)
            left = math.exp(-number(packing, "loss_handling") - number(packing, "loss_per_day") * t)
            v[one] = left * (1 - h[one] * (1 - number(packing, "fry_live", 0))) * fertile
    return LetterRide(
        *(lot, packing, service, on, dates, arrive, h, v, gathered, free, look_first, sightings, stopped),
        *(spans, warm_h, heat_pack_h, kept),
    )


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
    p95 = first_by(one.dates, 0.95)
    dates = (first_by(one.dates, 0.05), first_by(one.dates, 0.5), p95)
    h_per_egg, h_any = one.mean(one.h), one.h_any(pack or ordered)
    codes = {
        code
        for code, is_so in (
            ("overdue", lot.is_overdue),
            ("misdated", lot.is_misdated),
            ("too-old", lot.is_too_old(one.on) and not lot.is_misdated),
            ("past-wetting", lot.is_past_wetting(p95)),
            ("closed-day", one.stopped or not is_handed_over(one.service, one.on, home)),
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
    hours = hours_of_air(
        packing, each, max(high for _, high in one.judged), number(one.lot.row, "salt_g_l", 0), rate
    )
    return hours < 24 * (p95 - one.on).days


def _warmth_codes(one: LetterRide) -> set[str]:
    species, exposed = one.lot.species, number(one.service, "exposed_h", 12)
    most, least = known(species, "keep_max_c"), known(species, "keep_min_c")
    cold, hot = min(one.judged), max(one.judged, key=lambda day: (day[1], day[0]))
    found = set()
    if one.heat_pack_h:
        boxes = one.lot.shelf.tables["boxes"]
        box = next((row for row in boxes if row["box"] == one.packing.get("box")), None)
        if hot[1] > 21 or (box and not _takes_heat(box)):
            found.add("too-hot")
    if most is not None and max(_after(one, hot, hot[1], exposed)) > most + 1e-9:
        found.add("too-hot")
    if least is not None and min(_after(one, cold, cold[0], exposed)) < least - 1e-9:
        found.add("too-cold")
    return found


def _takes_heat(box: Row) -> bool:
    sides = [known(box, side) for side in ("length_mm", "width_mm", "thick_mm")]
    large = None in sides or all(
        a >= b
        for a, b in zip(sorted(map(float, filter(None, sides)), reverse=True), (300, 230, 150), strict=True)
    )
    return box.get("vented") == "yes" and large


def _after(one: LetterRide, day: Span, outside: float, exposed: float) -> list[float]:
    """The inside after the stretch, from hand-over and from the 95 % arrival."""
    found = []
    for t in (0.0, 24.0 * (first_by(one.dates, 0.95) - one.on).days):
        middle_c = sum(day) / 2
        start = middle_c + (one.kept - middle_c) * lead_left(t, one.warm_h, one.heat_pack_h)
        left = lead_left(exposed, one.warm_h, max(0.0, one.heat_pack_h - t))
        found.append(outside + (start - outside) * left)
    return found
