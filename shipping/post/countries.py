"""The list of countries that ships with the program: a code in, names and a principal place out."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Country:
    """One country or territory: ``on_mail`` is an address's last line; latitude, longitude [degrees]."""

    code: str
    name_en: str
    name_fr: str
    on_mail: str
    latitude: float
    longitude: float


@lru_cache(maxsize=1)
def countries() -> Mapping[str, Country]:
    """Every country of the list by its ISO 3166-1 alpha-2 code, and XK (Kosovo), sorted by code.

    References
    ----------
    ISO 3166-1; names from Unicode CLDR; places from the tz database. See the first line of ``countries.csv``.
    """
    text = files("shipping.post").joinpath("countries.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    found = {
        row["code"]: Country(
            code=row["code"],
            name_en=row["name_en"],
            name_fr=row["name_fr"],
            on_mail=row["on_mail"],
            latitude=float(row["latitude"]),
            longitude=float(row["longitude"]),
        )
        for row in rows
    }
    return MappingProxyType(dict(sorted(found.items())))
