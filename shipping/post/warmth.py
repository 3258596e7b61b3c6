"""What a parcel feels on the way: place and month in, low, mean and high out, and why no packing bridges
them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from shipping.post.countries import countries, plain
from shipping.post.foam_box import bridge_advice
from shipping.tables.rows.packings import Box
from shipping.tables.rows.species import Species
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Reason

#: Whoever shows a warmth that rests on the climate normals shows this with it.
CLIMATE_SOURCE = (
    "Temperature data © GeoRank.place (georank.place), CC-BY-4.0, derived from CHELSA v2.1 (monthly means"
    " 1981-2010)"
)
#: Below this outdoor mean a parcel is half the time in heated rooms [C] (assumed; the model's section 4).
ROOM_C = 18.0
#: A parcel is this much warmer than the outdoor mean where that is above `ROOM_C` [K] (assumed).
WARM_ROOM_K = 2.0
#: A heat pack is never used where the parcel's high is above this [C] (the trade's daytime bands: common
#: practice).
HEAT_PACK_MOST_C = 21.0
_EARTH_KM = 6371.0


@dataclass(frozen=True, slots=True)
class ParcelWarmth:
    """What a parcel is expected to feel [C]; ``basis`` is ``weather`` (the breeder's row) or ``assumed`` (a
    normal).
    """

    low_c: float
    mean_c: float
    high_c: float
    basis: str
    source: str
    place: str


@dataclass(frozen=True, slots=True)
class _Place:
    """A listed place and its monthly means, January first [C]."""

    name: str
    country: str
    latitude: float
    longitude: float
    means_c: tuple[float, ...]


def parcel_warmth(shelf: Shelf, country: str, subdivision: str, town: str, month: int) -> ParcelWarmth:
    """The warmth of parcels sent there in a month (1-12): the breeder's weather row, else from a climate
    normal.

    Notes
    -----
    From the outdoor monthly mean O of a listed place: mean ``(O + 18) / 2`` below 18 C and ``O + 2`` above,
    low and high by the margins of the settings. All of it is assumed, and monthly means know no heat wave.
    """
    if row := _weather_row(shelf, country, subdivision, month):
        mean = (row.low_c + row.high_c) / 2
        return ParcelWarmth(row.low_c, mean, row.high_c, "weather", row.cited, row.to)
    outdoor, place = _outdoor_mean(country, plain(town), month)
    mean = (outdoor + ROOM_C) / 2 if outdoor < ROOM_C else outdoor + WARM_ROOM_K
    margins = shelf.settings.warmth
    source = f"assumed from the monthly normal of {place} ({outdoor:.1f} C outdoors)"
    return ParcelWarmth(
        mean - margins.cold_margin_c, mean, mean + margins.hot_margin_c, "assumed", source, place
    )


@lru_cache(maxsize=65536)
def climate_town(country: str, town: str) -> str:
    """The listed place of that name in the country, whose climate is its own; "" for a town like any other
    there.
    """
    name = plain(town)
    return name if any(plain(place.name) == name for place in _places().get(country, ())) else ""


def _weather_row(shelf: Shelf, country: str, subdivision: str, month: int) -> Weather | None:
    """The row that names the place most closely: subdivision, country, zone, ``*``."""
    names = [f"{country}-{subdivision}"] if subdivision else []
    names += [country, *sorted(zone for zone, members in shelf.zones.items() if country in members), "*"]
    rows = {row.to.upper(): row for row in shelf.weather if row.month == month and row.from_ is None}
    return next((rows[name.upper()] for name in names if name.upper() in rows), None)


@lru_cache(maxsize=1)
def _places() -> Mapping[str, tuple[_Place, ...]]:
    """The listed places by country, in the order of the list."""
    import world_temperature_data as climate

    found: dict[str, list[_Place]] = {}
    for city in climate.cities():
        means = tuple(city["monthly"][month] for month in climate.MONTHS)
        place = _Place(city["city"], city["country_iso2"], city["lat"], city["lon"], means)
        found.setdefault(place.country, []).append(place)
    return MappingProxyType({code: tuple(found[code]) for code in sorted(found)})


@lru_cache(maxsize=4096)
def _outdoor_mean(country: str, town: str, month: int) -> tuple[float, str]:
    """The monthly mean outdoors [C] and the name of the listed place it is of; ``town`` is plain."""
    place = _listed_place(country, town)
    return place.means_c[month - 1], f"{place.name} ({place.country})"


def _listed_place(country: str, town: str) -> _Place:
    """The place of that name in the country, else the country's first, else the nearest listed place
    abroad.
    """
    at_home = _places().get(country, ())
    if at_home:
        return next((place for place in at_home if plain(place.name) == town), at_home[0])
    known = countries().get(country)
    latitude, longitude = (known.latitude, known.longitude) if known else (0.0, 0.0)
    everywhere: Iterable[_Place] = (place for places in _places().values() for place in places)
    return min(everywhere, key=lambda place: (_km(latitude, longitude, place), place.country, place.name))


def _km(latitude: float, longitude: float, place: _Place) -> float:
    """Great-circle distance [km], haversine."""
    north, south = math.radians(latitude), math.radians(place.latitude)
    half_width = math.radians(place.longitude - longitude) / 2
    half_height = (south - north) / 2
    chord = math.sin(half_height) ** 2 + math.cos(north) * math.cos(south) * math.sin(half_width) ** 2
    return 2 * _EARTH_KM * math.asin(math.sqrt(min(1.0, chord)))


def warmth_reasons(
    warmth: ParcelWarmth,
    species: Species,
    insulated_h: float,
    exposed_h: float,
    heat_pack: bool,
    box: Box | None = None,
) -> tuple[Reason, ...]:
    """Why the parcel's warmth stops a packing; empty where it does not.

    ``insulated_h`` is what box and pack hold together [h], ``exposed_h`` the service's hours outside heated
    or cooled rooms [h]. A species without ``keep_min_c`` or ``keep_max_c`` is not judged by it. Of a ``box``
    the reason says what would make it bridge the hours by the foam-box law, packed at the species' incubation
    temperature.
    """
    facts: dict[str, object] = {
        "low_c": round(warmth.low_c, 1),
        "high_c": round(warmth.high_c, 1),
        "insulated_h": insulated_h,
        "exposed_h": exposed_h,
        "basis": warmth.basis,
        "place": warmth.place,
    }
    reasons: list[Reason] = []
    if heat_pack and warmth.high_c > HEAT_PACK_MOST_C:
        text = (
            f"The parcel may feel {warmth.high_c:.0f} C; a heat pack must not be used above"
            f" {HEAT_PACK_MOST_C:.0f} C. Take a packing without one, or wait for a cooler month."
        )
        reasons.append(Reason("too-hot", text, facts | {"limit_c": HEAT_PACK_MOST_C}, warmth.source))
    if insulated_h >= exposed_h:
        return tuple(reasons)
    basis = " (assumed)" if warmth.basis == "assumed" else ""
    bridge = f"An insulated box that holds at least {exposed_h:g} hours would bridge it"

    def by_the_law(outside_c: float, limit_c: float) -> str:
        return " " + bridge_advice(box, species.incubation_c, outside_c, limit_c, exposed_h) if box else ""

    hottest, coldest = species.keep_max_c, species.keep_min_c
    if hottest is not None and warmth.high_c > hottest:
        text = (
            f"The parcel may feel {warmth.high_c:.0f} C{basis}; {species.scientific_name} should not be above"
            f" {hottest:g} C. {bridge}; so would a faster service or a cooler month."
            + by_the_law(warmth.high_c, hottest)
        )
        reasons.append(Reason("too-hot", text, facts | {"limit_c": hottest}, warmth.source))
    if coldest is not None and warmth.low_c < coldest:
        text = (
            f"The parcel may feel {warmth.low_c:.0f} C{basis}; {species.scientific_name} should not be below "
            f"{coldest:g} C. {bridge}, with a heat pack if need be; so would a warmer month."
            + by_the_law(warmth.low_c, coldest)
        )
        reasons.append(Reason("too-cold", text, facts | {"limit_c": coldest}, warmth.source))
    return tuple(reasons)


def pack_hint(high_c: float) -> str | None:
    """The code of what the trade does at a daytime high [C], or None where nothing is needed (common
    practice, no source).
    """
    if high_c < 4.4:
        return "keep-from-cold"
    if high_c <= HEAT_PACK_MOST_C:
        return "use-heat-pack"
    if high_c <= 26.7:
        return None
    if high_c <= 32.2:
        return "use-cold-pack"
    return "cooled-depot" if high_c <= 35.0 else "keep-from-heat"
