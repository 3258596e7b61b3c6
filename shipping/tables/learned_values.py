"""Rates applied: a shelf in, the same shelf with the values that dated rows of ``learned`` give it out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from shipping.tables.cells import LONGEST_NOTE
from shipping.tables.rows.learned import RateRow
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.settings import Settings
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.problems import Level, Problem
from shipping.words.sentence import either, say
from shipping.words.three_point import ThreePoint

_Model = TypeVar("_Model", bound=BaseModel)
#: What a row may set, and the unit of each. ``for`` is a packing (or packing/medium), a service, a species,
#: or ``*``.
SERVICE_DAYS = ("early_d", "usual_d", "late_d")
HATCH_DAYS = ("hatch_early_d", "hatch_usual_d", "hatch_late_d")
_SHARES = ("hatch_share", "raise_share", "female_share")
PACKING_RATES: Mapping[str, str] = dict.fromkeys(("loss_handling", "kappa", "hatch_held", "fry_live"), "") | {
    "loss_per_day": "1/d",
    "insulated_h": "h",
}
SERVICE_RATES: Mapping[str, str] = dict.fromkeys(SERVICE_DAYS, "d") | {
    "border_share": "",
    "exposed_h": "h",
    "parcel_lost_share": "",
}
SPECIES_RATES: Mapping[str, str] = (
    dict.fromkeys(HATCH_DAYS, "d")
    | dict.fromkeys(("eyed_at", *_SHARES), "")
    | {"zero_c": "C", "o2_ug_egg_h": "ug/h"}
)
SETTING_RATES: Mapping[str, str] = {"fertile_share": "", "shelf_loss_per_day": "1/d"}
EVERYTHING = "*"
_BASES: Mapping[str, str] = {"zero_c": "zero_basis", "o2_ug_egg_h": "o2_basis"}
#: What a species' source calls the values a row may set, but for the hatching days.
_WORDS: Mapping[str, str] = dict.fromkeys(_SHARES, "shares") | {
    "zero_c": "zero of development",
    "eyed_at": "eyes",
    "o2_ug_egg_h": "oxygen",
}


def travel_media(packing: Packing) -> tuple[str, ...]:
    """The media in which eggs may travel in it."""
    return (packing.medium,) if packing.medium else tuple(dict.fromkeys(packing.media))


def packing_keys(packing: Packing) -> tuple[str, ...]:
    """What rows speak for a packing, the closest last: its name, and with its only medium."""
    media = travel_media(packing)
    return (packing.packing, f"{packing.packing}/{media[0]}") if len(media) == 1 else (packing.packing,)


def service_key(shelf: Shelf, service: Service) -> str:
    """What rows speak for a service: its name, and where several rows share it, the places too."""
    same_name = [row for row in shelf.services if row.service == service.service]
    return service.service if len(same_name) == 1 else f"{service.service}/{' '.join(service.to)}"


def newest_rows(shelf: Shelf, *, learned: bool) -> tuple[RateRow, ...]:
    """The newest row that holds today of each (what, for); of one day, the breeder's own before learned."""
    newest: dict[tuple[str, str], RateRow] = {}
    rows = (row for row in shelf.rates if row.from_day <= shelf.today and (learned or row.basis != "learned"))
    for row in sorted(rows, key=lambda row: (row.from_day, row.basis != "learned", row.at.row, row.value)):
        newest[(row.what, row.for_)] = row
    return tuple(newest[key] for key in sorted(newest))


def rate_cells(row: RateRow) -> dict[str, str]:
    """A row as cells of the table ``learned``, by column in its order; blank where nothing is known."""
    return {
        "what": row.what,
        "for": row.for_,
        "value": f"{row.value:.6g}",
        "unit": row.unit,
        "from_day": row.from_day.isoformat(),
        "basis": row.basis or "",
        "n": "" if row.n is None else str(row.n),
        "low": "" if row.low is None else f"{row.low:.6g}",
        "high": "" if row.high is None else f"{row.high:.6g}",
        "source": row.source,
    }


def applied(shelf: Shelf, *, learned: bool = True) -> Shelf:
    """The shelf with its packings, services, species and settings as the newest rows of ``learned`` say.

    Only rows whose ``from_day`` has come count. A packing that travels in one medium takes a row for
    ``packing/medium`` before one for ``packing``; one of several media takes only the latter. A species takes
    rows for the species, and one of its populations rows for ``species/population`` over those
    (`Shelf.species_of`). Without ``learned``, only the breeder's own rows count.
    """
    rows = _by_key(shelf, learned)
    if not rows:
        return shelf
    packings = tuple(_packing(packing, rows) for packing in shelf.packings)
    keyed = ((service, service_key(shelf, service)) for service in shelf.services)
    services = tuple(_service(service, rows.get(key, {})) for service, key in keyed)
    species = {key: _species(row, rows.get(key, {})) for key, row in shelf.species.items()}
    populations = {
        key: _species(species[name], rows[key])
        for key, name in sorted((key, key.partition("/")[0]) for key in rows)
        if "/" in key and name in species
    }
    settings = _settings(shelf.settings, rows.get(EVERYTHING, {}))
    shelf = replace(shelf, species=species, populations=populations, settings=settings)
    return replace(shelf, packings=packings, services=services)


_Rows = dict[str, RateRow]


def _by_key(shelf: Shelf, learned: bool) -> dict[str, _Rows]:
    rows: dict[str, _Rows] = {}
    for row in newest_rows(shelf, learned=learned):
        rows.setdefault(row.for_, {})[row.what] = row
    return rows


def _packing(packing: Packing, rows: Mapping[str, _Rows]) -> Packing:
    changed: dict[str, object] = {}
    for key in packing_keys(packing):
        changed |= {what: row.value for what, row in rows.get(key, {}).items() if what in PACKING_RATES}
    return _checked(packing, changed)


def _service(service: Service, rows: _Rows) -> Service:
    changed = _changed(rows, SERVICE_RATES)
    return _checked(service, changed | _in_order(changed, SERVICE_DAYS, service.working_days))


def _changed(rows: _Rows, rates: Mapping[str, str]) -> dict[str, object]:
    return {what: row.value for what, row in rows.items() if what in rates}


def _in_order(changed: Mapping[str, object], names: Sequence[str], table: ThreePoint) -> dict[str, object]:
    """All three days, in their order, where one of them is changed."""
    if not changed.keys() & set(names):
        return {}
    days = zip(names, (table.early, table.usual, table.late), strict=True)
    return dict(zip(names, sorted(float(str(changed.get(name, day))) for name, day in days), strict=True))


def _species(species: Species, rows: _Rows) -> Species:
    rows = {what: row for what, row in rows.items() if not _stands_still(species, row)}
    changed = _changed(rows, SPECIES_RATES)
    if changed:
        taught = [row for what, row in sorted(rows.items()) if what in SPECIES_RATES]
        changed |= _in_order(changed, HATCH_DAYS, species.hatch_days)
        changed["source"] = _source(species, taught)
    bases = {_BASES[what]: row.basis for what, row in rows.items() if what in _BASES and row.basis}
    return _checked(species, {**changed, **bases})


def _stands_still(species: Species, row: RateRow) -> bool:
    """Is it a zero of development by which nothing would develop at the warmth of the table's days?"""
    return row.what == "zero_c" and row.value >= species.incubation_c


def _source(species: Species, rows: Sequence[RateRow]) -> str:
    """What the values rest on now, in front of what the table's own rest on."""
    hatching = [row for row in rows if row.what in HATCH_DAYS]
    told = [("hatching days", hatching[-1])] if hatching else []
    told += [(_WORDS[row.what], row) for row in rows if row.what in _WORDS]
    said = [
        f"{words}: {row.basis or 'your own'} since {row.from_day}"
        + (f" ({row.source})" if row.source else "")
        for words, row in told
    ]
    return "; ".join([*said, *([species.source] if species.source else [])])[:LONGEST_NOTE]


def _settings(settings: Settings, rows: _Rows) -> Settings:
    changed = _changed(rows, SETTING_RATES)
    return settings.model_copy(update={"plan": _checked(settings.plan, changed)}) if changed else settings


def _checked(model: _Model, changed: Mapping[str, object]) -> _Model:
    """The model with values changed and checked anew; as it was where they cannot be."""
    if not changed:
        return model
    cells = {name: getattr(model, name) for name in type(model).model_fields}
    given = {name: cell for name, cell in {**cells, **changed}.items() if cell is not None}
    try:
        return type(model).model_validate(given)
    except ValidationError:
        return model


def rate_problems(shelf: Shelf) -> tuple[Problem, ...]:
    """A notice for each row of ``learned`` that names nothing there is, or no value it may."""
    known = _known_rates(shelf)
    return tuple(
        Problem(row.at, column, "rate", text, mend, Level.NOTICE)
        for row in shelf.rates
        for column, text, mend in _wrong_rate(shelf, row, known)
    )


def _wrong_rate(
    shelf: Shelf, row: RateRow, known: Mapping[str, frozenset[str]]
) -> Iterator[tuple[str, str, str]]:
    """What is wrong with a row, where anything is: its column, what, and how to mend it."""
    every = {what for whats in known.values() for what in whats}
    if row.what not in every:
        mend = say("Write one of {words}.", ", ".join(sorted(every)))
        yield "what", say("'{what}' is not a rate.", row.what), mend
    elif row.what not in known.get(row.for_, ()):
        fits = sorted(key for key, whats in known.items() if row.what in whats)
        mend = say("Write {value}.", either(fits[:6])) if fits else "Remove the row."
        yield "for", say("'{for}' has no {what}.", row.for_, row.what), mend
    elif not _fits(shelf, row):
        text = say("{value:g} is out of range for {what}.", row.value, row.what)
        yield "value", text, "Write a value within its range, or remove the row."
    elif (species := shelf.species.get(row.for_.partition("/")[0])) and _stands_still(species, row):
        text = say("{value:g} is not below incubation_c, {warmth:g}.", row.value, species.incubation_c)
        yield "value", text, "Write a value within its range, or remove the row."


def _known_rates(shelf: Shelf) -> dict[str, frozenset[str]]:
    known: dict[str, frozenset[str]] = {EVERYTHING: frozenset(SETTING_RATES)}
    for packing in shelf.packings:
        in_media = (f"{packing.packing}/{medium}" for medium in travel_media(packing))
        for key in (*packing_keys(packing), *in_media):
            known[key] = known.get(key, frozenset()) | frozenset(PACKING_RATES)
    for service in shelf.services:
        key = service_key(shelf, service)
        known[key] = known.get(key, frozenset()) | frozenset(SERVICE_RATES)
    for name in shelf.species:
        populations = {lot.population for lot in shelf.lots if lot.species == name and lot.population}
        for key in (name, *(f"{name}/{population}" for population in sorted(populations))):
            known[key] = known.get(key, frozenset()) | frozenset(SPECIES_RATES)
    return known


def _fits(shelf: Shelf, row: RateRow) -> bool:
    """Can any packing, service, species or the settings take that value?"""
    kept = (*shelf.packings, *shelf.services, *shelf.species.values())
    models: tuple[BaseModel, ...] = (*kept, shelf.settings.plan)
    return any(
        row.what in type(model).model_fields
        and getattr(_checked(model, {row.what: row.value}), row.what) == row.value
        for model in models
    )
