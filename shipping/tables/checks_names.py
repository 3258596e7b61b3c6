"""Checks of names: each key once, and every row or place that another row names is there."""

from __future__ import annotations

from collections.abc import Iterator

from shipping.tables.cells import Row
from shipping.tables.checks_orders import first_rows
from shipping.tables.country_codes import country_mend, is_country, is_place
from shipping.tables.draft import Draft, missing_names, problem, twice
from shipping.tables.rules import Rule
from shipping.tables.sheet import nearest
from shipping.tables.species import Species
from shipping.words.problems import Level, Problem


def keys_are_unique(draft: Draft) -> Iterator[Problem]:
    """One row a key; services and postage, which may have several rows, are checked place by place."""
    yield from twice([(row, row.species) for row in draft.species], "species", "Give each species one row.")
    yield from twice([(row, row.lot) for row in draft.lots], "lot", "Give each lot its own name.")
    yield from twice([(row, row.packing) for row in draft.packings], "packing", "Give each packing its own name.")
    yield from twice([(row, row.box) for row in draft.boxes], "box", "Give each box its own name.")
    yield from twice([(row, row.zone) for row in draft.zones], "zone", "Write all its countries on one row.")
    yield from twice([(row, row.group) for row in draft.groups], "group", "Give each group its own name.")
    weather = [(row, f"{row.to} month {row.month}") for row in draft.weather]
    yield from twice(list(weather), "month", "Keep one row a place and month.")
    looks = [(row, f"{row.lot} {row.on.isoformat()}") for row in draft.looks]
    yield from twice(list(looks), "on", "Write both looks of that day on one row.")
    arrivals = [(row, f"{row.parcel} line {row.line}") for row in draft.arrivals]
    yield from twice(list(arrivals), "line", "Keep one row a line of a parcel.")
    rates = [(row, f"{row.what} for {row.for_} from {row.from_day.isoformat()}") for row in draft.rates]
    yield from twice(list(rates), "from_day", "Keep one value a day.")


def named_species_exist(draft: Draft) -> Iterator[Problem]:
    """Lots, orders and groups name a species of the table; a scientific name is answered with its key."""
    keys = {
        name.casefold(): species.species
        for species in draft.species
        for name in (species.scientific_name, species.common_name)
        if name
    }
    for rows in (draft.lots, draft.order_rows, draft.groups):
        wanted: list[tuple[Row, str]] = [(row, row.species) for row in rows]
        for found in missing_names(draft, "species", "species", wanted):
            key = keys.get(found.text.split("'")[1].casefold())
            mend = f"Write its key, '{key}'." if key else found.mend
            yield Problem(found.where, found.column, found.code, found.text, mend)


def named_instead_exist(draft: Draft) -> Iterator[Problem]:
    """What may go instead is ``species`` or ``species/population`` of the table."""
    wanted: list[tuple[Row, str]] = [(row, other.partition("/")[0].strip()) for row in draft.order_rows for other in row.instead]
    yield from missing_names(draft, "instead", "species", wanted)


def named_lots_exist(draft: Draft) -> Iterator[Problem]:
    yield from missing_names(draft, "lot", "lots", [(row, row.lot) for row in draft.looks])


def named_boxes_exist(draft: Draft) -> Iterator[Problem]:
    yield from missing_names(draft, "box", "boxes", [(row, row.box) for row in draft.packings if row.box])


def named_services_exist(draft: Draft) -> Iterator[Problem]:
    yield from missing_names(draft, "service", "services", [(row, row.service) for row in draft.postage])
    yield from missing_names(draft, "service", "services", [(row, row.service) for row in first_rows(draft) if row.service])


def zones_are_zones(draft: Draft) -> Iterator[Problem]:
    """A zone's name is no country, and its countries are."""
    for zone in draft.zones:
        if zone.zone == "*" or is_country(zone.zone.upper()) or " " in zone.zone:
            text = f"'{zone.zone}' cannot name a zone."
            yield problem(zone, "zone", "zone-name", text, "Write a word that is no country code, such as nordic.")
        for code in zone.countries:
            if not is_country(code):
                text = f"'{code}' is no country of ISO 3166."
                yield problem(zone, "countries", "unknown-country", text, country_mend(code, []))
        if len(set(zone.countries)) < len(zone.countries):
            code = next(code for code in zone.countries if zone.countries.count(code) > 1)
            yield problem(zone, "countries", "twice", f"'{code}' stands twice.", "Write it once.")


def named_places_exist(draft: Draft) -> Iterator[Problem]:
    """Places are countries (in rules and weather with a subdivision), zones, or ``*``."""
    zones = sorted(draft.names.get("zones", frozenset()))
    if "zones" not in draft.complete:
        return
    for row, places in [*((row, row.to) for row in draft.services), *((row, row.to) for row in draft.postage)]:
        for place in places:
            if place != "*" and place not in zones and not is_country(place):
                text = f"'{place}' is no country or zone."
                yield problem(row, "to", "unknown-place", text, country_mend(place, zones))
    for row, place in [*((row, row.to) for row in draft.rules), *((row, row.to) for row in draft.weather)]:
        if place not in zones and not is_place(place) and not (place == "*" and isinstance(row, Rule)):
            text = f"'{place}' is no country, country and subdivision, or zone."
            yield problem(row, "to", "unknown-place", text, country_mend(place, zones))


def named_countries_exist(draft: Draft) -> Iterator[Problem]:
    """Buyers and the home are in a country of ISO 3166; one message a code."""
    seen: set[tuple[str, str]] = set()
    for row in draft.order_rows:
        if not is_country(row.country) and (row.order, row.country) not in seen:
            seen.add((row.order, row.country))
            text = f"'{row.country}' is no country of ISO 3166."
            yield problem(row, "country", "unknown-country", text, country_mend(row.country, []))


def binomial(species: Species) -> str:
    """Genus and species, without a subspecies."""
    return " ".join(species.scientific_name.split()[:2])


def taxa_are_spelt_right(draft: Draft) -> Iterator[Problem]:
    """A rule's taxon that is almost, but not quite, a name of the species table is asked about."""
    if "species" not in draft.complete:
        return
    known = {
        name
        for species in draft.species
        for name in (species.species, species.scientific_name, binomial(species), species.genus, species.family)
    } | draft.names.get("species", frozenset())
    folded = {name.casefold() for name in known}
    for rule in draft.rules:
        if rule.taxon == "*" or rule.taxon.casefold() in folded:
            continue
        like = nearest(rule.taxon, sorted(known), cutoff=0.85)
        if like:
            text = f"'{rule.taxon}' is no species, genus or family of the species table."
            yield problem(rule, "taxon", "unknown-taxon", text, f"Did you mean '{like}'?", Level.NOTICE)
