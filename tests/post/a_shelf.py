"""A small invented shelf for the tests of the journey: what a test names replaces what stands here."""

from __future__ import annotations

from datetime import date
from typing import Any

from shipping.post.warmth import ParcelWarmth, trip_warmth
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.rules import Rule
from shipping.tables.rows.services import Postage, Service
from shipping.tables.rows.settings import Home, Sender, Settings
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.problems import Where

TODAY = date(2026, 11, 30)


def a_species(**cells: Any) -> Species:
    return Species(
        **{
            "species": "gar",
            "scientific_name": "Fundulopanchax gardneri",
            "family": "Nothobranchiidae",
            "incubation": "water",
            "hatch_early_d": 12,
            "hatch_late_d": 21,
            "incubation_c": 24,
        }
        | cells
    )


def a_service(**cells: Any) -> Service:
    return Service(
        **{"service": "letter", "to": "*", "early_d": 1, "usual_d": 3, "late_d": 6, "hand_over": "Mon-Fri"}
        | {"answered_on": "2026-11-02"}
        | cells
    )


def a_packing(**cells: Any) -> Packing:
    return Packing(
        **{
            "packing": "tube 10",
            "kind": "tube",
            "media": "water",
            "eggs_max": 30,
            "hatch_ceiling": 0.01,
            "loss_handling": 0.01,
            "loss_per_day": 0.005,
        }
        | cells
    )


def a_rule(row: int, **cells: Any) -> Rule:
    filled = {
        "to": "*",
        "taxon": "*",
        "verdict": "open",
        "source": "an office",
        "checked_on": "2026-11-01",
    } | cells
    return Rule(at=Where("rules.csv", row), **filled)


def a_price(
    to: str, up_to_g: float, price: str, up_to_mm: float | None = None, service: str = "letter"
) -> Postage:
    return Postage(service=service, to=to, up_to_g=up_to_g, up_to_mm=up_to_mm, price=price)


def a_shelf(country: str = "DK", settings: dict[str, Any] | None = None, **tables: Any) -> Shelf:
    made = Settings(
        home=Home(country=country),
        sender=Sender(name="A. Breeder", address=["Havnegade 1"]),
        **(settings or {}),
    )
    empty: dict[str, Any] = {
        "today": TODAY,
        "settings": made,
        "species": {"gar": a_species()},
        "lots": (),
        "looks": (),
        "orders": (),
        "services": (),
        "postage": (),
        "packings": (),
        "rules": (),
    }
    return Shelf(**(empty | tables))


def day_warmth(shelf: Shelf, country: str, subdivision: str, town: str, day: date) -> ParcelWarmth:
    """The warmth of a parcel there on one day: a trip that ends where it begins."""
    return trip_warmth(shelf, country, subdivision, town, day, 1, 1).days[0]
