"""What a plan rests on that nobody has measured or read: parcels and a shelf in, the name of each assumed
value out, once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from shipping.tables.learned_values import packing_keys
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, Parcel

#: What a species' source may call assumed and a plan rests on; its zero and its oxygen have a basis of their
#: own.
_TOPICS = ("hatch days", "spread", "temperature", "eyes show at", "keep range")
_SETTINGS = ("look_spread", "shelf_loss_per_day", "settle_d")
_LOSSES = ("loss_handling", "loss_per_day", "kappa")


def assumed_values(parcels: Iterable[Parcel], shelf: Shelf) -> tuple[str, ...]:
    """The assumed values behind some parcels, sorted: defaults that nobody set, values of species whose
    source says so, losses of packings that no arrival or row of ``learned`` taught, and climate normals.
    """
    found: set[str] = set()
    for parcel in parcels:
        found |= {f"{name} (shelf.toml)" for name in _settings(parcel, shelf)}
        found |= {f"{name} of {parcel.service}" for name in _of_service(parcel, shelf)}
        if parcel.warmth_basis == "assumed" and not _is_fetched(parcel, shelf):
            found.add(f"what a parcel to {parcel.address.country} feels")
        for draw in (draw for line in parcel.lines for draw in line.draws):
            found |= set(_of_draw(draw, shelf))
    return tuple(sorted(found))


def _services(parcel: Parcel, shelf: Shelf) -> list[Service]:
    return [row for row in shelf.services if row.service == parcel.service]


def _is_fetched(parcel: Parcel, shelf: Shelf) -> bool:
    return all(row.is_collection for row in _services(parcel, shelf))


def _settings(parcel: Parcel, shelf: Shelf) -> Iterator[str]:
    plan, warmth = shelf.settings.plan, shelf.settings.warmth
    yield from (name for name in _SETTINGS if name not in plan.model_fields_set)
    if any(draw.unfit_chance is not None for line in parcel.lines for draw in line.draws):
        yield from {"fertile_share"} - plan.model_fields_set
    if not _is_fetched(parcel, shelf):
        wanted = {"trip_spread_c"}
        if parcel.warmth_basis == "assumed":
            wanted |= {"hot_margin_c", "cold_margin_c"}
        yield from wanted - warmth.model_fields_set


def _of_service(parcel: Parcel, shelf: Shelf) -> Iterator[str]:
    for row in _services(parcel, shelf):
        if not row.is_collection:
            yield from {"exposed_h", "parcel_lost_share"} - row.model_fields_set


def _of_draw(draw: Draw, shelf: Shelf) -> Iterator[str]:
    lot, packing = shelf.lot_by_name[draw.lot], shelf.packing_by_name[draw.packing]
    species = shelf.species_of(lot.species, lot.population)
    yield from (f"{name} of {species.species}" for name in _of_species(species, packing))
    yield from (f"{name} of {packing.packing}" for name in _of_packing(packing, lot.kept_damp, shelf))


def _of_species(species: Species, packing: Packing) -> Iterator[str]:
    """Its zero and, in a sealed unit, its oxygen by their basis; the rest by what its source says of each."""
    if species.zero_basis == "assumed":
        yield "zero_c"
    if packing.is_a.is_sealed and species.o2_basis == "assumed":
        yield "o2_ug_egg_h"
    if species.is_damp and "ready_keeps_d" not in species.model_fields_set:
        yield "ready_keeps_d"
    said = dict(part.partition(":")[::2] for part in species.source.split("; "))
    yield from (topic for topic in _TOPICS if "assumed" in said.get(topic, ""))


def _of_packing(packing: Packing, damp: bool, shelf: Shelf) -> Iterator[str]:
    known = {
        row.what
        for row in shelf.rates
        if row.for_ in packing_keys(packing) and row.from_day <= shelf.today and row.basis != "assumed"
    }
    yield from (name for name in (*_LOSSES, *(("hatch_held",) if damp else ())) if name not in known)
