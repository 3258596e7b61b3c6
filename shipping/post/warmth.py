"""What a parcel feels: a place and days in, each day's low, mean, high, and why no packing bridges, out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shipping.post.foam_box import Holding, bridge_advice, takes_a_heat_pack
from shipping.tables.climate import ClimatePlace, climate_places, km_between, parcel_mean_c, place_of_part
from shipping.tables.countries import countries, plain_name
from shipping.tables.country_parts import nearness
from shipping.tables.rows.packings import Box
from shipping.tables.rows.species import Species
from shipping.tables.rows.weather import Disruption, Weather
from shipping.tables.shelf import Shelf
from shipping.words.keys import IdentityKey
from shipping.words.reasons import OF_WARMTH, Note, Reason
from shipping.words.units import MONTH_NAMES, degrees

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
#: So little past a limit is rounding [C].
ROUNDING_C = 1e-9
#: A heat pack is never used where the parcel's high is above this [C] (the trade's daytime bands: common
#: practice).
HEAT_PACK_MOST_C = 21.0
#: Parcels of a lower high than this the trade keeps back, with a heat pack, too [C] (common practice, no
#: source).
KEPT_BACK_C = 4.4


@dataclass(frozen=True, slots=True)
class ParcelWarmth:
    """What a parcel is expected to feel on a day [C]; ``basis`` is ``weather`` (the breeder's row) or
    ``assumed`` (a normal). ``row``: the breeder's row for just those days, where one decided it.
    ``beside``: the month of a row that a normal is mixed with, as the day's own month has none; 0 where none.
    """

    low_c: float
    mean_c: float
    high_c: float
    basis: str
    source: str
    place: str
    on: date = date.min
    row: Weather | None = None
    beside: int = 0

    @property
    def month_facts(self) -> dict[str, object]:
        """Which month's row of weather would say what is assumed, and which one's is there."""
        if self.basis != "assumed":
            return {}
        return {"month": self.on.month, **({"row_month": self.beside} if self.beside else {})}


@dataclass(frozen=True, eq=False)
class TripWarmth:
    """What a parcel is expected to feel on each day on the way, from the dispatch day on; at least one day.

    ``days``: up to the last possible arrival (D,). ``days_to_p95``: how many of them there are to the 95 %
    arrival, on which cold and heat are judged.
    """

    days: tuple[ParcelWarmth, ...]
    days_to_p95: int

    @cached_property
    def low_c(self) -> Floats:
        return np.array([day.low_c for day in self.days])

    @cached_property
    def high_c(self) -> Floats:
        return np.array([day.high_c for day in self.days])

    @cached_property
    def key(self) -> bytes:
        """The same for trips that feel the same; a longer trip's begins with that of its first days."""
        return np.stack((self.low_c, self.high_c), axis=1).tobytes()

    @property
    def judged(self) -> tuple[ParcelWarmth, ...]:
        return self.days[: max(1, self.days_to_p95)]

    @cached_property
    def coldest(self) -> ParcelWarmth:
        return min(self.judged, key=lambda day: (day.low_c, day.high_c))

    @cached_property
    def hottest(self) -> ParcelWarmth:
        return max(self.judged, key=lambda day: (day.high_c, day.low_c))

    @cached_property
    def whole(self) -> ParcelWarmth:
        """The trip to the 95 % arrival in one: lowest, mean and highest; assumed where any day of it is."""
        mean = sum(day.mean_c for day in self.judged) / len(self.judged)
        shown = next((day for day in self.judged if day.basis == "assumed"), self.coldest)
        low, high = self.coldest, self.hottest
        return ParcelWarmth(low.low_c, mean, high.high_c, shown.basis, shown.source, shown.place, low.on)


@dataclass(frozen=True, slots=True)
class _Month:
    """A month's low, high and, where a normal stands in, outdoor mean [C]; ``row`` is None for a normal."""

    low_c: float
    high_c: float
    outdoor_c: float
    place: str
    row: Weather | None


def trip_warmth(
    shelf: Shelf, country: str, subdivision: str, town: str, dispatch_on: date, days_to_p95: int, days: int
) -> TripWarmth:
    """The warmth of each day of a trip of at most so many ``days`` [d]: the breeder's row for days, else for
    months, else a climate normal.

    Notes
    -----
    Monthly values (the breeder's, else from the outdoor normal O of a listed place the mean ``max((O + 18) /
    2, O + 2)`` with the margins of the settings) hold in the middle of their months and are joined by
    straight lines; the day stands at its noon. Normals are assumed, and know no heat wave.
    """
    there, start = (
        _days_there(IdentityKey(shelf), country, subdivision, plain_name(town)),
        dispatch_on.toordinal(),
    )
    numbers = range(start, start + max(1, days, days_to_p95))
    return TripWarmth(tuple([there[number] for number in numbers]), days_to_p95)


@lru_cache(maxsize=4096)
def _days_there(key: IdentityKey[Shelf], country: str, subdivision: str, town: str) -> _DaysThere:
    return _DaysThere(key, country, subdivision, town)


class _DaysThere(dict[int, ParcelWarmth]):
    """What parcels to one place feel, by ordinal day, reckoned when asked for: trips share days."""

    def __init__(self, key: IdentityKey[Shelf], country: str, subdivision: str, town: str) -> None:
        super().__init__()
        self._place = (key, country, subdivision, town)
        self._names = _place_names(key.value, country, subdivision)
        self._rows = [row for row in key.value.weather if row.from_ and row.to.upper() in self._names]
        self._months: dict[int, _TwoMonths] = {}

    def __missing__(self, number: int) -> ParcelWarmth:
        self[number] = found = self._warmth(date.fromordinal(number))
        return found

    def _warmth(self, day: date) -> ParcelWarmth:
        of_day = {row.to.upper(): row for row in self._rows if row.is_of(day)}
        if row := next((of_day[name] for name in self._names if name in of_day), None):
            return ParcelWarmth(
                row.low_c, (row.low_c + row.high_c) / 2, row.high_c, "weather", row.cited, row.to, day, row
            )
        before, after, share = _months_around(day)
        if before not in self._months:
            self._months[before] = _two_months(*(_month_warmth(*self._place, one) for one in (before, after)))
        first, second, rows, normal, beside = self._months[before]
        low = first.low_c + share * (second.low_c - first.low_c)
        high = first.high_c + share * (second.high_c - first.high_c)
        if not normal:
            return ParcelWarmth(low, (low + high) / 2, high, "weather", rows, first.place, day)
        outdoor = first.outdoor_c + share * (second.outdoor_c - first.outdoor_c)
        shown = "" if rows else f" ({degrees(outdoor)} outdoors)"
        source = f"{rows}{' and ' if rows else ''}assumed from the monthly normals of {normal}{shown}"
        return ParcelWarmth(low, (low + high) / 2, high, "assumed", source, normal, day, beside=beside)


class _TwoMonths(NamedTuple):
    """Two months side by side, their rows, the place of a normal ("": none), and a row's month (0: none)."""

    first: _Month
    second: _Month
    rows: str
    normal: str
    row_month: int


def _two_months(first: _Month, second: _Month) -> _TwoMonths:
    rows = dict.fromkeys(one.row.cited for one in (first, second) if one.row)
    normal = next((one.place for one in (first, second) if one.row is None), "")
    row_month = next((one.row.month or 0 for one in (first, second) if one.row), 0)
    return _TwoMonths(first, second, " and ".join(rows), normal, row_month)


@lru_cache(maxsize=4096)
def _months_around(day: date) -> tuple[int, int, float]:
    """The months whose middles stand before and after the noon of a day, and its share of the way."""
    at = day.toordinal() + 0.5
    month = day.year * 12 + day.month - 1
    if at < _middle(month):
        month -= 1
    start, end = _middle(month), _middle(month + 1)
    return month % 12 + 1, (month + 1) % 12 + 1, (at - start) / (end - start)


@lru_cache(maxsize=4096)
def _middle(month: int) -> float:
    """The middle of a month counted from year 0, as a day's ordinal."""
    first, following = (date(n // 12, n % 12 + 1, 1).toordinal() for n in (month, month + 1))
    return (first + following) / 2


@lru_cache(maxsize=65536)
def _month_warmth(key: IdentityKey[Shelf], country: str, subdivision: str, town: str, month: int) -> _Month:
    """A month's values: the breeder's row, else its neighbours', else from the climate normal."""
    shelf, names = key.value, _place_names(key.value, country, subdivision)
    for months in ((month,), ((month - 2) % 12 + 1, month % 12 + 1)):
        rows = [row for row in (_month_row(shelf, names, one) for one in months) if row]
        if rows:
            low, high = (
                sum(side) / len(rows) for side in zip(*((r.low_c, r.high_c) for r in rows), strict=True)
            )
            return _Month(low, high, 0.0, rows[0].to, rows[0])
    outdoor, place = _outdoor_mean(country, subdivision, town, month)
    mean = parcel_mean_c(outdoor)
    margins = shelf.settings.warmth
    return _Month(mean - margins.cold_margin_c, mean + margins.hot_margin_c, outdoor, place, None)


def _month_row(shelf: Shelf, names: tuple[str, ...], month: int) -> Weather | None:
    rows = {row.to.upper(): row for row in shelf.weather if row.month == month}
    return next((rows[name] for name in names if name in rows), None)


@lru_cache(maxsize=65536)
def climate_town(country: str, town: str) -> str:
    """The listed place of that name in the country, of a climate its own; "" for any other town."""
    name = plain_name(town)
    return name if any(plain_name(place.name) == name for place in climate_places().get(country, ())) else ""


def _place_names(shelf: Shelf, country: str, subdivision: str) -> tuple[str, ...]:
    """What a row may call the place, the closest first."""
    near = nearness(country, subdivision, shelf.zones_of(country))
    return tuple(sorted(near, key=lambda name: -near[name]))


@lru_cache(maxsize=4096)
def _outdoor_mean(country: str, part: str, town: str, month: int) -> tuple[float, str]:
    """The monthly mean outdoors [C] and the name of the listed place it is of; ``town`` is plain."""
    place = _listed_place(country, part, town)
    return place.means_c[month - 1], f"{place.name} ({place.country})"


def _listed_place(country: str, part: str, town: str) -> ClimatePlace:
    """The listed place of that name, else of the part, else the country's first, else the nearest."""
    at_home = climate_places().get(country, ())
    if at_home:
        named = {plain_name(place.name): place for place in reversed(at_home)}
        return named.get(town) or place_of_part(country, part) or at_home[0]
    known = countries().get(country)
    latitude, longitude = (known.latitude, known.longitude) if known else (0.0, 0.0)
    everywhere: Iterable[ClimatePlace] = (place for places in climate_places().values() for place in places)
    return min(
        everywhere, key=lambda place: (km_between(latitude, longitude, place), place.country, place.name)
    )


def weather_place(country: str, part: str) -> str:
    """What a row of weather calls the place: the part in wide countries, else the country."""
    return f"{country}-{part}" if place_of_part(country, part) else country


def warmth_reasons(
    trip: TripWarmth,
    species: Species,
    kept_at_c: float,
    holds: Holding,
    exposed_h: float,
    box: Box | None = None,
) -> tuple[Reason, ...]:
    """Why the parcel's warmth stops a packing; empty where it does not.

    ``kept_at_c`` [C]: what it is packed at. ``exposed_h`` [h]: the service's longest stretch outside heated
    or cooled rooms. A species without ``keep_min_c`` or ``keep_max_c`` is not judged by it. Where the warmth
    is assumed, the facts say so (``basis``): then a person can still answer it.

    Notes
    -----
    On the coldest day a stretch of ``exposed_h`` at its low must not bring the inside below ``keep_min_c``,
    from where it stands at hand-over and from where it stands at the 95 % arrival; likewise the hottest.
    """
    felt = felt_by([(trip, exposed_h)])
    reasons: list[Reason] = []
    if holds.heat_pack_h and (trip.hottest.high_c > HEAT_PACK_MOST_C or not takes_a_heat_pack(box)):
        bare = replace(holds, heat_pack_h=0.0)
        without = warmth_reasons(trip, species, kept_at_c, bare, exposed_h, box)
        reasons = _heat_pack_reasons(trip.hottest, box, without)
    for code, day, outside, limit in (
        ("too-hot", trip.hottest, trip.hottest.high_c, species.keep_max_c),
        ("too-cold", trip.coldest, trip.coldest.low_c, species.keep_min_c),
    ):
        if limit is not None and not any("inside_c" in one.facts and one.code == code for one in reasons):
            cold = code == "too-cold"
            start, inside = (float(one[0]) for one in _worst_stretch(felt, kept_at_c, holds, cold))
            if (inside < limit - ROUNDING_C) if cold else (inside > limit + ROUNDING_C):
                way_h = 24.0 * trip.days_to_p95 + exposed_h
                endless = replace(holds, heat_pack_h=math.inf if cold and holds.heat_pack_h else 0.0)
                beyond = (
                    endless.heat_pack_h > 0 and _worst_stretch(felt, kept_at_c, endless, cold)[1][0] < limit
                )
                stretch = (start, inside, kept_at_c, exposed_h, way_h)
                judged = _Judged(code, day, outside, limit, *stretch, holds, bool(beyond))
                reasons.append(_unbridged_reason(judged, species, box))
    return tuple(_that_do_not_cross(reasons, trip.hottest.high_c))


def _that_do_not_cross(reasons: Sequence[Reason], high_c: float) -> Iterator[Reason]:
    """The reasons with what their next steps mind: heat on a cold way, or cold on a hot one."""
    is_cold = any(reason.code == "too-cold" for reason in reasons)
    crossing = {"too-cold": "no_pack"} if high_c > HEAT_PACK_MOST_C else {}
    crossing |= {"too-hot": "both_ways"} if is_cold else {}
    for reason in reasons:
        name = crossing.get(reason.code)
        yield replace(reason, facts={**reason.facts, name: True}) if name else reason


@dataclass(frozen=True, eq=False)
class Felt:
    """By what cold and heat of some trips are judged, each (n,): the span of the coldest and of the hottest
    day [C], the 95 % arrival and the longest stretch outside rooms [h].
    """

    cold_c: Floats
    cold_mean_c: Floats
    cold_high_c: Floats
    hot_c: Floats
    hot_mean_c: Floats
    hours_to_p95: Floats
    exposed_h: Floats


def felt_by(trips: Sequence[tuple[TripWarmth, float]]) -> Felt:
    """Some trips, each with the longest stretch outside rooms [h], as arrays."""
    rows = [
        (
            *(trip.coldest.low_c, trip.coldest.mean_c, trip.coldest.high_c),
            *(trip.hottest.high_c, trip.hottest.mean_c, 24.0 * trip.days_to_p95, exposed_h),
        )
        for trip, exposed_h in trips
    ]
    return Felt(*np.array(rows, dtype=np.float64).reshape(len(rows), 7).T)


def unbridged(
    felt: Felt, species: Species, kept_at_c: float, holds: Holding, box: Box | None
) -> tuple[Bools, Bools]:
    """Is each trip too hot, and too cold, for a species packed at so much in such a box? (n,) each."""
    hot, cold = (np.zeros(felt.cold_c.size, dtype=bool) for _ in range(2))
    if holds.heat_pack_h:
        hot |= (felt.hot_c > HEAT_PACK_MOST_C) | (not takes_a_heat_pack(box))
    if species.keep_max_c is not None:
        hot |= _worst_stretch(felt, kept_at_c, holds, False)[1] > species.keep_max_c + ROUNDING_C
    if species.keep_min_c is not None:
        cold |= _worst_stretch(felt, kept_at_c, holds, True)[1] < species.keep_min_c - ROUNDING_C
    return hot, cold


def _worst_stretch(felt: Felt, kept_at_c: float, holds: Holding, cold: bool) -> tuple[Floats, Floats]:
    """The inside before and after the stretch, from hand-over or the 95 % arrival, the worse [C] (n,).

    On days on which the trade does post with a heat pack, one keeps the inside as it was packed; what it
    lifts a box by counts on colder ones.
    """
    outside, mean = (felt.cold_c, felt.cold_mean_c) if cold else (felt.hot_c, felt.hot_mean_c)
    lift = np.where(felt.cold_high_c < KEPT_BACK_C, holds.lift_c, math.inf)
    hours_at: list[Floats] = [np.zeros(felt.exposed_h.size), felt.hours_to_p95]
    kept = np.full(mean.size, kept_at_c)
    starts = [holds.after_stretch(kept, mean, 0.0, hours, lift) for hours in hours_at]
    ends = [
        holds.after_stretch(start, outside, hours, felt.exposed_h, lift)
        for start, hours in zip(starts, hours_at, strict=True)
    ]
    first = ends[0] <= ends[1] if cold else ends[0] >= ends[1]
    return np.where(first, *starts), np.where(first, *ends)


@dataclass(frozen=True, slots=True)
class _Judged:
    """A stretch that brings the inside past a limit, all in [C] and [h]; ``way_h`` ends with the last one.
    ``beyond_pack``: a heat pack like its own keeps no such cold out, however long it lasts.
    """

    code: str
    day: ParcelWarmth
    outside_c: float
    limit_c: float
    start_c: float
    inside_c: float
    kept_at_c: float
    exposed_h: float
    way_h: float
    holds: Holding
    beyond_pack: bool = False


def _unbridged_reason(judged: _Judged, species: Species, box: Box | None) -> Reason:
    day, cold = judged.day, judged.code == "too-cold"
    assumed = day.basis == "assumed"
    beyond_mean = day.mean_c < judged.limit_c if cold else day.mean_c > judged.limit_c
    of_days = day.row.source or day.row.cited if day.row else ""
    partly = f": the row of {MONTH_NAMES[day.beside - 1]} is mixed with a normal" if day.beside else ""
    whose = (
        f" (assumed{partly})" if assumed else f" (by a row for just these days: {of_days})" if of_days else ""
    )
    text = (
        f"On {day.on} it may be {degrees(judged.outside_c)} around the parcel{whose} for"
        f" {judged.exposed_h:g} h; packed at {degrees(judged.kept_at_c)} the inside comes to"
        f" {degrees(judged.inside_c)}, and {species.scientific_name} should not be"
        f" {'below' if cold else 'above'} {degrees(judged.limit_c)}."
    )
    pack_h = judged.holds.heat_pack_h
    ends_early = cold and 0 < pack_h < judged.way_h
    if judged.beyond_pack:
        text += (
            f" Its heat pack lifts the inside of its box by no more than {degrees(judged.holds.lift_c)}"
            " (reckoned by its weight, its hours and the box): wait for milder days."
        )
    elif ends_early:
        text += (
            f" Its heat pack lasts {pack_h:g} h, and the way may take {judged.way_h:g} h: one that lasts so"
            " long would bridge it."
        )
    elif beyond_mean:
        text += f" The day is too {'cold' if cold else 'hot'} on the mean ({degrees(day.mean_c)}): " + (
            "nothing without a heat pack bridges it." if cold else "no box bridges it; wait for cooler days."
        )
    else:
        text += bridge_advice(box, judged.start_c, judged.outside_c, judged.limit_c, judged.exposed_h) or (
            " A foam box with a bottle of warm water would bridge it."
            if cold
            else " A foam box with a bottle would."
        )
    if assumed:
        text += (
            f" Nobody has said how warm it is around parcels there in {MONTH_NAMES[day.on.month - 1]}: one"
            " row of weather for the place or a zone answers it."
        )
    inner, outer = (judged.kept_at_c, judged.outside_c)[:: 1 if cold else -1]
    packed_so = inner < judged.limit_c <= outer if cold else inner <= judged.limit_c < outer
    facts: dict[str, object] = {
        **({"packed_at_c": judged.kept_at_c} if packed_so else {}),
        "low_c": round(day.low_c, 1),
        "high_c": round(day.high_c, 1),
        "inside_c": round(judged.inside_c, 1),
        "limit_c": judged.limit_c,
        "warm_h": round(judged.holds.warm_h, 2),
        "beyond_mean": beyond_mean,
        "exposed_h": judged.exposed_h,
        "basis": day.basis,
        "place": day.place,
        "on": day.on.isoformat(),
        "this_week": [of_days] if of_days else [],
        **({"beyond_pack": True} if judged.beyond_pack else {}),
        **({"heat_pack_h": pack_h, "way_h": judged.way_h} if ends_early and not judged.beyond_pack else {}),
        **day.month_facts,
    }
    return Reason(judged.code, text, facts, day.source)


def is_answerable(reason: Reason) -> bool:
    """Does a warmth that nobody has given stand in the way, so that one row of weather may answer it?"""
    return reason.code in OF_WARMTH and reason.facts.get("basis") == "assumed"


def _heat_pack_reasons(hottest: ParcelWarmth, box: Box | None, without: Sequence[Reason]) -> list[Reason]:
    """Why a heat pack must not be used: the day is too warm for one, or the box does not suit it. ``without``
    is what stops the packing without one: where it is heat as well, that alone is told, and where anything,
    no such packing is advised.
    """
    no_better: dict[str, object] = {"both_ways": True} if without else {}
    if hottest.high_c > HEAT_PACK_MOST_C:
        if hot := [one for one in without if one.code == "too-hot"]:
            return hot
        mend = "" if without else " Take a packing without one, or wait for a cooler month."
        text = (
            f"It may be {degrees(hottest.high_c)} around the parcel; a heat pack must not be used above"
            f" {degrees(HEAT_PACK_MOST_C)}.{mend}"
        )
        facts = no_better | {
            "high_c": round(hottest.high_c, 1),
            "limit_c": HEAT_PACK_MOST_C,
            "heat_pack": True,
        }
        facts |= {"basis": hottest.basis, "place": hottest.place, "on": hottest.on.isoformat()}
        return [Reason("too-hot", text, facts | hottest.month_facts, hottest.source)]
    name = box.box if box else "no box"
    text = (
        f"A heat pack needs a vented box of at least 30 x 23 x 15 cm (common practice, no source), and"
        f" {name} is none: name another box for this packing."
    )
    return [Reason("too-hot", text, {"unfit_box": name, "basis": "weather"} | no_better, "boxes")]


def pack_hint(high_c: float) -> str | None:
    """The code of what the trade does at a daytime high [C], or None (common practice, no source)."""
    if high_c < KEPT_BACK_C:
        return "keep-from-cold"
    up_to = (
        (HEAT_PACK_MOST_C, "use-heat-pack"),
        (26.7, None),
        (32.2, "use-cold-pack"),
        (35.0, "cooled-depot"),
    )
    return next((code for most, code in up_to if high_c <= most), "keep-from-heat")


def kept_back(high_c: float) -> tuple[Note, ...]:
    """That the trade keeps back a parcel of such a high [C], or has it fetched."""
    hint = pack_hint(high_c)
    return (Note(hint),) if hint in ("keep-from-cold", "cooled-depot", "keep-from-heat") else ()


#: The notes of this module, by code.
THIS_WEEK = frozenset({"disrupted", "days-weather", "no-forecast"})


def rows_that_decide(trip: TripWarmth, met: Sequence[Disruption], feels: bool) -> tuple[Note, ...]:
    """A note for each row of ``disruptions`` that a parcel meets, and, where it ``feels`` the way, for each
    row of ``weather`` for just the days on which its cold and heat are judged.
    """
    days = dict.fromkeys(day.row for day in trip.judged if day.row) if feels else {}
    return (*map(_disrupted, met), *map(_felt, days))


def _disrupted(row: Disruption) -> Note:
    facts: dict[str, object] = {"days": row.days, "stopped": row.stopped, "service": row.service or ""}
    return Note("disrupted", {**_span(row.source, row.from_, row.until), **facts, "row": row.cited})


def _felt(row: Weather) -> Note:
    facts: dict[str, object] = {"low_c": row.low_c, "high_c": row.high_c, "place": row.to}
    return Note("days-weather", {**_span(row.source, row.from_, row.until), **facts, "row": row.cited})


def _span(source: str, begin: date | None, until: date | None) -> dict[str, object]:
    return {"source": source, "begin": str(begin), "until": str(until)}


def forecast_to_look_at(trip: TripWarmth, place: str, last: date) -> tuple[Note, ...]:
    """That somebody should look at the forecast of both ends before hand-over, where on some day up to the
    95 % arrival (``last``) only the month is known, which knows no extremes.
    """
    if all(day.row for day in trip.judged):
        return ()
    felt: dict[str, object] = {"low_c": trip.coldest.low_c, "high_c": trip.hottest.high_c}
    return (Note("no-forecast", {"place": place, "until": last.isoformat(), **felt}),)
