"""A country in, its listed places with their monthly normals out, and what a parcel feels by a normal."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

#: Below this outdoor mean a parcel is half the time in heated rooms [C] (assumed; the model's section 4).
ROOM_C = 18.0
#: A parcel is this much warmer than the outdoor mean where that is above `ROOM_C` [K] (assumed).
WARM_ROOM_K = 2.0
_EARTH_KM = 6371.0
#: In wide countries, the listed place whose climate comes nearest to that of a part (from memory): one near
#: by, and where none is, the harder one, which may lie abroad.
_BY_PART = {
    "AU": "Sydney: ACT NSW|Melbourne: TAS VIC|Brisbane: NT QLD|Perth: SA WA",
    "BR": "São Paulo: PR SP|Rio de Janeiro: ES MS RJ|Florianópolis: SC|Porto Alegre: RS"
    "|Belo Horizonte: DF GO MG|Salvador: BA SE|Recife: AL PB PE|Natal: RN|Fortaleza: CE MA PI"
    "|Manaus: AC AM AP MT PA RO RR TO",
    "CA": "Vancouver: BC|Toronto: ON|Montréal: AB NB NL NS PE QC|Ulaanbaatar (MN): MB NT NU SK YT",
    "US": "New York City: CT DC DE MD NJ NY PA RI VA WV|Boston: MA|Miami: FL|Honolulu: HI"
    "|Austin: AL AR AZ GA LA MS NC NM NV OK SC TN TX|Los Angeles: CA|Seattle: OR WA|Denver: CO ID KS UT"
    "|Chicago: IA IL IN KY MI MO MT NE OH WY|Montréal (CA): ME MN ND NH SD VT WI|Ulaanbaatar (MN): AK",
}


@dataclass(frozen=True, slots=True)
class ClimatePlace:
    """A listed place, in degrees, and its monthly means outdoors, January first [C]."""

    name: str
    country: str
    latitude: float
    longitude: float
    means_c: tuple[float, ...]


@lru_cache(maxsize=1)
def climate_places() -> Mapping[str, tuple[ClimatePlace, ...]]:
    """The listed places by country, in the order of the list.

    References
    ----------
    GeoRank.place, CC-BY-4.0, derived from CHELSA v2.1: monthly means of 1981-2010.
    """
    import world_temperature_data as climate

    found: dict[str, list[ClimatePlace]] = {}
    for city in climate.cities():
        means = tuple(city["monthly"][month] for month in climate.MONTHS)
        place = ClimatePlace(city["city"], city["country_iso2"], city["lat"], city["lon"], means)
        found.setdefault(place.country, []).append(place)
    return MappingProxyType({code: tuple(found[code]) for code in sorted(found)})


def differs_by_part(country: str) -> bool:
    """Is it so wide that its climate is told by part?"""
    return country in _BY_PART


@lru_cache(maxsize=256)
def place_of_part(country: str, part: str) -> ClimatePlace | None:
    """The listed place whose climate stands for a part of a wide country; None where none is named."""
    places = (text.split(": ") for text in _BY_PART.get(country, "").split("|") if text)
    named = next((name for name, parts in places if part in parts.split()), "")
    name, _, abroad = named.removesuffix(")").partition(" (")
    listed = climate_places().get(abroad or country, ())
    return next((place for place in listed if place.name == name), None)


def parcel_mean_c(outdoor_c: float) -> float:
    """The mean a parcel feels at a month's outdoor mean [C]: ``max((O + 18) / 2, O + 2)``, assumed."""
    return max((outdoor_c + ROOM_C) / 2, outdoor_c + WARM_ROOM_K)


def km_between(latitude: float, longitude: float, place: ClimatePlace) -> float:
    """Great-circle distance [km] of a point, in degrees, and a listed place, haversine."""
    north, south = math.radians(latitude), math.radians(place.latitude)
    half_width = math.radians(place.longitude - longitude) / 2
    half_height = (south - north) / 2
    chord = math.sin(half_height) ** 2 + math.cos(north) * math.cos(south) * math.sin(half_width) ** 2
    return 2 * _EARTH_KM * math.asin(math.sqrt(min(1.0, chord)))


@lru_cache(maxsize=1024)
def km_between_countries(one: str, other: str) -> float | None:
    """The distance [km] of two countries' nearest listed places; None where one has none."""
    places = climate_places()
    return min(
        (
            km_between(here.latitude, here.longitude, there)
            for here in places.get(one, ())
            for there in places.get(other, ())
        ),
        default=None,
    )
