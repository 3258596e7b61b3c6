"""Checks of names: each key once, what a row names is there, lots named apart, for their fish and breeder."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from operator import attrgetter

from shipping.tables.cells import Row, shortened
from shipping.tables.checks.as_published import starter_rows
from shipping.tables.checks.row_problems import and_on, asked, missing_names, noted, problem, twice
from shipping.tables.countries import PARTS, country_mend, is_country, is_place
from shipping.tables.country_parts import calendar_parts, like_part
from shipping.tables.one_spelling import FishNames, fish_names
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.services import Postage, Service
from shipping.tables.rows.species import Species
from shipping.tables.rows.weather import Disruption
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded, is_slip_of, nearest
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem
from shipping.words.sentence import either, say


def keys_are_unique(draft: Draft) -> Iterator[Problem]:
    """One row a key; services and postage, which may have several rows, are checked place by place."""
    yield from twice(((row, row.species) for row in draft.species), "species", "Give each species one row.")
    yield from twice(((row, row.lot) for row in draft.lots), "lot", "Give each lot its own name.")
    packings = ((row, row.packing) for row in draft.packings)
    yield from twice(packings, "packing", "Give each packing its own name.")
    yield from twice(((row, row.box) for row in draft.boxes), "box", "Give each box its own name.")
    yield from twice(((row, row.zone) for row in draft.zones), "zone", "Write all its countries on one row.")
    yield from twice(((row, row.group) for row in draft.groups), "group", "Give each group its own name.")
    weather = ((row, f"{row.to} month {row.month}") for row in draft.weather if row.month)
    yield from twice(weather, "month", "Keep one row a place and month.")
    looks = ((row, f"{row.lot} {row.on.isoformat()}") for row in draft.looks)
    yield from twice(looks, "on", "Write both looks of that day on one row.")
    arrivals = ((row, f"{row.parcel} line {row.line}") for row in draft.arrivals)
    yield from twice(arrivals, "line", "Keep one row a line of a parcel.")
    rates = ((row, f"{row.what} for {row.for_} from {row.from_day.isoformat()}") for row in draft.rates)
    yield from twice(rates, "from_day", "Keep one value a day.")


def named_species_exist(draft: Draft) -> Iterator[Problem]:
    """Lots, orders and groups name a species of the table by one of its names."""
    fish = fish_names(draft.species, draft.names["species"])
    is_whole = len(draft.species) == len(draft.names.get("species", ()))
    for rows in (draft.lots, draft.order_rows, draft.groups):
        may_take_either = rows is draft.order_rows
        # A scientific name may be that of a row that was refused: it is asked about once the row is mended.
        wanted = ((row, row.species) for row in rows if is_whole or " " not in row.species)
        for missing in missing_names(draft, "species", "species", wanted):
            mend = _fish_mend(fish, missing.text.split("'")[1], may_take_either)
            yield replace(missing, mend=mend or missing.mend)


def _fish_mend(fish: FishNames, name: str, may_take_either: bool) -> str:
    """What to write instead of a name of no fish; blank where none is like it."""
    several = fish.keys.get(folded(name), frozenset())
    if several:
        return say("Write {value}.", either(sorted(several)))
    if _NO_EGGS.search(name):
        return "Eggs alone go by this table: write the fish where its eggs are meant, or remove the row."
    if several_fish := _several_fish(fish, name):
        if _CROSS.search(name):
            return "A cross needs its own row in species."
        if may_take_either and all(map(_EITHER.fullmatch, _TWO_FISH.findall(name))):
            first = next(filter(fish.key_of, several_fish))
            return say("Write {name}, and what may go for it in instead.", first)
        return say("{count} fish in one cell: copy the row, and write one fish in each.", len(several_fish))
    first, _, rest = re.sub(r"\s*/\s*", " ", name).partition(" ")
    if rest and not rest[0].islower() and (key := fish.key_of(first)):
        return say("Write {name} here, and {rest} in population.", key, rest)
    return fish.mend(name)


#: Words for living fish, which are no eggs, and what stands between two of them.
_NO_EGGS = re.compile(r"\b(?:fry|pairs?|trios?|adults?|juveniles?|males?|females?)\b", re.IGNORECASE)
_TWO_FISH = re.compile(r"\s+(?:x|×|or|and|oder|und|ou|et|o|y|e)\s+|[+/&,;]", re.IGNORECASE)
_CROSS = re.compile(r"\s+[x×]\s+", re.IGNORECASE)
_EITHER = re.compile(r"\s+(?:or|oder|ou|o)\s+|/", re.IGNORECASE)
#: A count of eggs beside the name of a fish.
_COUNT = re.compile(r"\b[0-9]+\s*[x×]?(?:\s*(?:eggs?|eier|œufs?|oeufs?|huevos?)\b)?", re.IGNORECASE)


def _several_fish(fish: FishNames, name: str) -> tuple[str, ...]:
    """The fish of a cell that names several, each perhaps with its count or its place; else ()."""
    parts = (_COUNT.sub("", part).strip() for part in _TWO_FISH.split(name))
    named = tuple(_named_in(fish, part) or _unknown_fish(part, "/" in name) for part in parts if part)
    return named if len(named) > 1 and all(named) and any(map(fish.key_of, named)) else ()


def _unknown_fish(text: str, is_meant: bool) -> str:
    """A word that is written as a fish is, and not as a place; "" else."""
    return text if is_meant and text.islower() else ""


def _named_in(fish: FishNames, text: str) -> str:
    """The fish that a text begins with; "" where it names none."""
    first = text.partition(" ")[0]
    with_place = fish.key_and_place(text)
    return fish.key_of(text) or (with_place[0] if with_place else None) or fish.key_of(first) or ""


def named_instead_exist(draft: Draft) -> Iterator[Problem]:
    """What may go instead is ``species`` or ``species/population`` of the table."""
    fish = fish_names(draft.species, draft.names["species"])
    others = ((row, _species_of(other)) for row in draft.choosy_rows for other in row.instead)
    for missing in missing_names(draft, "instead", "species", others):
        name = missing.text.split("'")[1]
        parts = [part.strip() for part in name.split(",") if part.strip()]
        if len(parts) > 1 and all(_species_of(part) in draft.names["species"] for part in parts):
            yield replace(missing, mend=say("Put ; between them: {parts}.", "; ".join(parts)))
        else:
            yield replace(missing, mend=fish.mend(name) or missing.mend)


def _species_of(fish: str) -> str:
    return fish.partition("/")[0].strip()


def named_rows_exist(draft: Draft) -> Iterator[Problem]:
    """Lots, boxes and services that other tables name stand in theirs."""
    yield from missing_names(draft, "lot", "lots", ((row, row.lot) for row in draft.looks))
    yield from missing_names(draft, "box", "boxes", ((row, row.box) for row in draft.packings if row.box))
    for rows in (draft.postage, draft.disruptions, draft.first_rows):
        named = ((row, row.service) for row in rows if row.service)
        yield from missing_names(draft, "service", "services", named)


def zones_are_zones(draft: Draft) -> Iterator[Problem]:
    """A zone's name is no country, and its countries are."""
    for zone in draft.zones:
        if zone.zone == "*" or is_country(zone.zone.upper()) or " " in zone.zone:
            mend = "Write a word that is no country code, such as nordic."
            yield problem(zone, "zone", "zone-name", "'{zone}' cannot name a zone.", mend)
        for code in zone.countries:
            if not is_country(code):
                text = say("'{code}' is no country of ISO 3166.", code)
                mend = _places_mend(code, [])
                if is_place(code):
                    mend = say(
                        "A zone holds whole countries: write {code}, or name {part} where it is meant.",
                        *(code[:2], code),
                    )
                yield problem(zone, "countries", "unknown-country", text, mend)
        if len(set(zone.countries)) < len(zone.countries):
            code = next(code for code in zone.countries if zone.countries.count(code) > 1)
            yield problem(zone, "countries", "twice", "'{code}' stands twice.", "Write it once.", code=code)


def named_places_exist(draft: Draft) -> Iterator[Problem]:
    """Places are countries, parts of them, zones, or ``*``."""
    zones = sorted(draft.names.get("zones", frozenset()))
    if "zones" not in draft.complete:
        return
    unknown: dict[str, list[Row]] = {}
    listed: tuple[Service | Postage | Disruption, ...] = (*draft.services, *draft.postage, *draft.disruptions)
    ruled: list[tuple[Row, str]] = [(rule, place) for rule in draft.rules for place in rule.places]
    posted: list[tuple[Row, str]] = [(row, place) for row in listed for place in row.to]
    weather = ((row, row.to) for row in draft.weather)
    for named, place in (*posted, *ruled, *weather):
        if place not in zones and place != "*" and (not is_place(place) or like_part(place)):
            unknown.setdefault(place, []).append(named)
    for row, place in (*ruled, *posted):
        country, dash, part = place.partition("-")
        parts = calendar_parts(country) if dash and place not in PARTS and place not in zones else ()
        if parts and part not in parts and not like_part(place):
            told = (place, country)
            text = say("'{place}' is no part of {country} that is known: the row may match nothing.", *told)
            mend = say("Look at the code")
            if len(parts) < 30:
                mend = say("The parts known are {parts}", " ".join(parts))
            yield from asked(draft, row, "to", text, mend, code="unknown-part")
    for place, rows in unknown.items():
        what = say("country, country and subdivision, or zone")
        text = and_on(say("'{place}' is no {what}", place, what), len(rows))
        yield problem(rows[0], "to", "unknown-place", text, _places_mend(place, zones))


def _places_mend(place: str, zones: list[str]) -> str:
    """What to write instead of a place that is none; several in one are written with spaces between."""
    parts = [part for part in re.split("[,;/]", place) if part]
    if len(parts) > 1 and all(part in zones or is_place(part) for part in parts):
        return say("Put spaces between them: {parts}.", " ".join(parts))
    part = like_part(place) if is_place(place) else None
    return say("Did you mean '{name}'?", part) if part else country_mend(place, zones)


def named_countries_exist(draft: Draft) -> Iterator[Problem]:
    """Buyers are in a country of ISO 3166, and lots come from one; one message a code."""
    cells: list[tuple[OrderRow | Lot, str, str]] = [(row, "country", row.country) for row in draft.order_rows]
    cells += [(lot, "origin_country", lot.origin_country) for lot in draft.lots if lot.origin_country]
    seen: set[tuple[str, str]] = set()
    for row, column, code in cells:
        name = row.order if isinstance(row, OrderRow) else row.lot
        if not is_country(code) and (name, code) not in seen:
            seen.add((name, code))
            text = say("'{country}' is no country of ISO 3166.", code)
            yield problem(row, column, "unknown-country", text, country_mend(code, []))


def rules_name_a_fish(draft: Draft) -> Iterator[Problem]:
    """A rule's taxon is a species, genus or family of the table: one that is like none, or like one by a
    slip, would let every parcel pass.

    A scientific name that no row of the table has is only said, as a rule may stand for fish not kept yet.
    """
    if "species" not in draft.complete:
        return
    taxa = {name for species in draft.species for name in taxa_of(species)}
    known = taxa | draft.names.get("species", frozenset())
    fish = fish_names(draft.species)
    asked_by_name = (row["taxon"] for row in starter_rows("rules") if row["verdict"] == "ask")
    comparable = {folded(name) for name in (*known, *asked_by_name)}
    named = ((rule.taxon, rule) for rule in draft.rules if rule.taxon != "*")
    unknown = grouped((taxon, rule) for taxon, rule in named if folded(taxon) not in comparable)
    for taxon, rows in unknown.items():
        text = say("'{taxon}' matches no species, genus or family of the species table", taxon)
        text, level = and_on(text, len(rows)), Level.ERROR
        slips = [name for name in sorted(known) if is_slip_of(taxon, name)]
        if like := nearest(taxon, slips) or fish.likely(taxon):
            mend = say("Did you mean '{name}'? Write that", like)
        elif taxon in _OF_ALL:
            mend, level = say("It holds every fish of yours: write * for all fish"), Level.NOTICE
        elif not _LIKE_LATIN.fullmatch(taxon):
            mend = say("Write a scientific name, a genus, a family, or * for all fish")
        elif namesake := _namesake(draft, taxon):
            text = say(
                "'{taxon}' is in no row of species, and '{fish}' has its second name.", taxon, namesake
            )
            mend, level = say("Write '{fish}', if it is the same fish", namesake), Level.NOTICE
        elif all(row.verdict == "closed" for row in rows):
            continue  # closed to a fish that is not kept: nothing passes by it
        else:
            yield noted(rows[0], "taxon", "unknown-taxon", text, "")
            continue
        yield from asked(draft, rows[0], "taxon", text, mend, level, code="unknown-taxon")


def _namesake(draft: Draft, taxon: str) -> str:
    """The scientific name of a fish of the table that differs in its genus only, as one moved to another."""
    second = folded(taxon).partition(" ")[2]
    alike = (fish.binomial for fish in draft.species if folded(fish.binomial).partition(" ")[2] == second)
    return next(alike, "") if second else ""


#: A genus, a family, a species or a subspecies, as science writes them.
_LIKE_LATIN = re.compile(r"[A-Z][a-z]{2,}( \([A-Z][a-z]+\))?( [a-z][a-z-]{2,}){0,2}")
#: Groups that hold every killifish: a rule of theirs is one for all (Catalog of Fishes: Classification).
_OF_ALL = frozenset(
    ["Cyprinodontiformes", "Actinopterygii", "Actinopteri", "Teleostei", "Osteichthyes", "Pisces", "Chordata"]
)
#: Families of egg-laying killifish (Fricke, Eschmeyer & Fong, Catalog of Fishes: Classification).
_FAMILIES = (
    *("Aphaniidae", "Cynolebiidae", "Cyprinodontidae", "Fluviphylacidae", "Fundulidae", "Nothobranchiidae"),
    *("Orestiidae", "Pantanodontidae", "Procatopodidae", "Profundulidae", "Rivulidae", "Valenciidae"),
)


def species_are_named_apart(draft: Draft) -> Iterator[Problem]:
    """Two rows of one scientific or common name: one was left from the row it was copied from."""
    for column in ("scientific_name", "common_name"):
        own = [row for row in draft.species if not row.scientific_name.endswith(" sp.")]  # no whole genus
        for other, row in repeated((folded(name), row) for row in own if (name := getattr(row, column))):
            told = (getattr(row, column), other.species, other.at.row)
            text = say("'{name}' is '{species}' on row {row} too.", *told)
            yield from asked(draft, row, column, text, "Write this fish's")


def species_are_named_as_rules_name_them(draft: Draft) -> Iterator[Problem]:
    """A fish is written so that rules find it: by scientific name, genus, family and synonyms."""
    names = {folded(row.scientific_name): row for row in reversed(draft.species)}
    first: dict[str, Species] = {}
    for row in draft.species:
        family, name = row.family, row.scientific_name
        like = None if family in _FAMILIES else nearest(family, list(_FAMILIES), cutoff=0.85)
        if like or not family.endswith("idae"):
            mend = say("Write {like}", like) if like else say("Write the family, such as Nothobranchiidae")
            text = "'{family}' is no family's name: a rule for its family would not find '{species}'."
            yield from asked(draft, row, "family", text, mend, code="family", family=family)
        if not _BEGINS_WITH_A_GENUS.match(name) or re.search("[,;]", name):
            text = "'{name}' is not genus and species as science writes them, and rules go by those."
            mend = say("Write genus and species, such as Fundulopanchax gardneri")
            yield from asked(draft, row, "scientific_name", text, mend, code="scientific-name", name=name)
        for synonym in row.synonyms:
            other = names.get(folded(synonym), row)
            if "," in synonym:
                text = say("'{synonym}' is read as one name.", shortened(synonym))
                parts = "; ".join(part.strip() for part in synonym.split(","))
                yield noted(row, "synonyms", "synonyms", text, "Put ; between them: {parts}.", parts=parts)
            elif other.species != row.species:
                text = say(
                    "'{synonym}' is the scientific name of '{species}' on row {row}.",
                    *(synonym, other.species, other.at.row),
                )
                yield noted(row, "synonyms", "synonyms", text, "Remove it from one of them.")
            elif (earlier := first.setdefault(folded(synonym), row)) is not row:
                text = say("'{name}' stands on row {row} too.", synonym, earlier.at.row)
                yield noted(row, "synonyms", "synonyms", text, "Remove it from one of them.")


_BEGINS_WITH_A_GENUS = re.compile(r"[A-Z][a-zë]{2,}(?: |$)")


def taxa_of(species: Species) -> tuple[str, ...]:
    """The names by which a rule finds a species."""
    names = (species.species, species.scientific_name, species.binomial, species.genus, species.family)
    return (*names, *species.synonyms)


def lots_are_named_apart(draft: Draft) -> Iterator[Problem]:
    """A lot under two names that read alike, as ``GA-10``, ``GA 10`` and ``GA-1O``."""
    read = ((re.sub(r"(?<=\d)o|o(?=\d)", "0", folded(lot.lot)), lot) for lot in draft.lots)
    bare = (("".join(filter(str.isalnum, name)), lot) for name, lot in read)
    for other, lot in repeated(bare):
        if folded(other.lot) != folded(lot.lot) and lot.eggs:
            text = say("'{lot}' may be lot '{other}' of row {row} again.", lot.lot, other.lot, other.at.row)
            yield from asked(draft, lot, "lot", text, "Remove one, if it is the same lot", code="line-twice")


#: What a row is called that adds others up, or shows how a row is written.
_NO_LOT = re.compile(
    r"(?:sub|grand )?-?total|sum|summe|gesamt|somme|suma|examples?|beispiel|exemple|ejemplo|test",
    re.IGNORECASE,
)


def lots_have_a_name_of_their_own(draft: Draft) -> Iterator[Problem]:
    """A lot named like a row of sums, or like the example of a table, counts as eggs."""
    for lot in draft.lots:
        if lot.eggs and _NO_LOT.fullmatch(lot.lot.strip()):
            text = "'{lot}' is mostly no lot, and its {eggs} eggs count."
            yield from asked(draft, lot, "lot", text, "Remove the row", code="lot-name")


_LETTERS = re.compile(r"[^\W\d_]+")
#: A name that begins with one letter is no code of fish and population.
LEAST_LETTERS = 2


def lots_are_named_for_their_population(draft: Draft) -> Iterator[Problem]:
    """A lot whose code ends with the letter of another population of the fish, where the codes of other lots
    of its own end with theirs: eggs of two populations would be sold as one.
    """
    naming: tuple[OrderRow | Group, ...] = (*draft.order_rows, *draft.groups)
    wanted = grouped((row.species, row.population) for row in naming if row.population)
    for species, lots in grouped((lot.species, lot) for lot in draft.lots if lot.population).items():
        names = {
            place: Counter(map(letters_of, some))
            for place, some in grouped((lot.population, lot) for lot in lots).items()
        }
        initials = grouped((_initial(place), place) for place in {*names, *wanted.get(species, ())})
        for lot in lots:
            place, begins = lot.population, letters_of(lot)
            if len(begins) < LEAST_LETTERS or names[place][begins] > 1:
                continue
            own = names[place].keys() - {begins}
            meant = initials.get(begins[-1], []) if own else []
            if len(meant) == 1 and place not in meant and all(one[-1:] == _initial(place) for one in own):
                text = say(
                    "'{lot}' is named as lots of '{other}' are, and stands under '{population}'.",
                    *(lot.lot, *meant, place),
                )
                yield from asked(draft, lot, "population", text, "Look at fish and population")


def letters_of(lot: Lot) -> str:
    """The letters with which a lot's name begins."""
    letters = _LETTERS.match(lot.lot)
    return folded(letters[0]) if letters else ""


def _initial(population: str) -> str:
    return folded(population)[:1]


#: Where so many lots, and this share of them, begin like their fish, one that begins like another is its.
LEAST_NAMED = 5
NAMED_SHARE = 0.8


def lots_are_named_for_their_fish(draft: Draft) -> Iterator[Problem]:
    """A lot named as those of another fish are, where all others begin like their own."""
    names = {
        row.species: {folded(row.species), *folded(row.scientific_name).split()} for row in draft.species
    }
    known = [lot for lot in draft.lots if draft.knows_fish(lot.species)]
    begun = [(lot, begins) for lot in known if len(begins := letters_of(lot)) >= LEAST_LETTERS]
    named = [lot for lot, begins in begun if _is_of(names.get(lot.species, set()), begins)]
    if len(named) < LEAST_NAMED or len(named) < NAMED_SHARE * len(begun):
        return
    own = set(map(attrgetter("lot"), named))
    for lot, begins in begun:
        meant = [fish for fish in names if folded(fish).startswith(begins)]
        if lot.lot not in own and len(meant) == 1:
            text = say(
                "'{lot}' begins like '{other}', and stands under '{fish}'.", lot.lot, *meant, lot.species
            )
            yield from asked(draft, lot, "species", text, "Look at both")


#: Of so many lots of one code that are all of one fish, one more is of it too.
LEAST_CODED = 2


def lots_have_the_code_of_their_fish(draft: Draft) -> Iterator[Problem]:
    """A lot with the letters of another fish's lots, whose own fish has lots with letters of its own."""
    coded = [(letters, lot) for lot in draft.lots if len(letters := letters_of(lot)) >= LEAST_LETTERS]
    fish_of = {letters: Counter(lot.species for lot in lots) for letters, lots in grouped(coded).items()}
    letters_of_fish = grouped({(lot.species, letters) for letters, lot in coded})
    for letters, lot in coded:
        (other, times), *rest = fish_of[letters].most_common()
        is_alone = fish_of[letters][lot.species] == 1 and len(rest) == 1 and times >= LEAST_CODED
        if other != lot.species and is_alone and len(letters_of_fish[lot.species]) > 1:
            text = "'{lot}' is named as lots of '{other}' are, and stands under '{fish}'."
            yield from asked(draft, lot, "species", text, "Look at both", other=other, fish=lot.species)


def _is_of(names: set[str], begins: str) -> bool:
    return any(name.startswith(begins) for name in names)


def lots_of_one_breeder_begin_alike(draft: Draft) -> Iterator[Problem]:
    """A lot from one breeder named as all those of another are: whose eggs they were would be lost."""
    from_ = [(letters_of(lot), lot) for lot in draft.lots if lot.origin and letters_of(lot)]
    by_letters = {begins: Counter(lot.origin for lot in lots) for begins, lots in grouped(from_).items()}
    sure = {begins: counts.most_common(1)[0] for begins, counts in by_letters.items()}
    odd = [
        (lot, sure[begins][0])
        for begins, lot in from_
        if lot.origin != sure[begins][0] and sure[begins][1] > 1
    ]
    if len(odd) == 1 and len({origin for origin, _ in sure.values()}) == len(sure) > 2:
        lot, other = odd[0]
        text = say("'{lot}' is named as lots from '{other}' are.", lot.lot, other)
        yield from asked(draft, lot, "origin", text, "Look at both")
