"""A draft in, the same with each name as its own table spells it out, and what was read as what."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from shipping.tables.cells import Row
from shipping.tables.cells_as_typed import ReadAs
from shipping.tables.countries import codes_named, is_place, part_named
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded, folded_place, is_slip_of
from shipping.words.sentence import either, joined, say

AnyRow = TypeVar("AnyRow", bound=Row)
NamesFish = TypeVar("NamesFish", Lot, Group, OrderRow)
#: What people write where any population will do.
ANY_POPULATION = frozenset(
    {"any", "all", "-", "--", "none", "n/a", "no preference", "egal", "alle", "*", "?"}
)
#: No country's name has more words.
MOST_WORDS = 6
_OF_A_GENUS = re.compile(r"(\S+) spp?\.?", re.IGNORECASE)


@dataclass(frozen=True)
class FishNames:
    """Every name of the fish in a species table, as it is compared, with the keys it may mean."""

    keys: Mapping[str, frozenset[str]]
    scientific: frozenset[str] = frozenset()

    def key_of(self, name: str) -> str | None:
        """The one species a name means; None where none, or several."""
        keys = self.keys.get(folded(name), frozenset())
        return next(iter(keys)) if len(keys) == 1 else None

    def key_and_place(self, name: str) -> tuple[str, str] | None:
        """(species, population) of ``Genus species Place``: its beginning is a name of several words."""
        words = name.split()
        for length in range(len(words) - 1, 1, -1):
            key = self.key_of(" ".join(words[:length]))
            if key is not None:
                return key, " ".join(words[length:]).strip("\"'“”„‘’()")
        return None

    def _like(self, name: str) -> tuple[int, Mapping[str, str], str]:
        """The fish that a name of none may be (key and name): of which it is a slip of the fingers or a short
        form, the likelier the lower the number, else those of another genus; and the place behind the name.
        None where genus or second word are others, or where more than `_MOST_LIKE` fit.
        """
        written = " ".join(name.replace(".", ". ").split())
        fits: dict[tuple[int, str], dict[str, str]] = {}
        for known, keys in self.keys.items() if written else ():
            kind, length = self._kind_of(folded(written).split(), known.split(), known in self.scientific)
            place = " ".join(written.split()[length:])
            if kind and len(keys) == 1 and not place[:1].islower():
                fits.setdefault((kind, place), {}).setdefault(min(keys), known.capitalize())
        (kind, place), fish = min(fits.items(), default=((0, ""), {}))
        return (kind, fish, place) if len(fish) <= _MOST_LIKE else (0, {}, "")

    def likely(self, name: str) -> str:
        """The names of the fish of which a name is a slip of the fingers or a short form; "" for none."""
        kind, fish, _ = self._like(name)
        return "" if kind == _OTHER_GENUS else either(fish.values())

    def mend(self, name: str) -> str:
        """What to write for a name of no fish; "" where none is like it."""
        kind, fish, place = self._like(name)
        if not fish:
            return ""
        if kind == _OTHER_GENUS:
            named = (say("{key} ({name})", key, known) for key, known in fish.items())
            return say("Write {value}, if it is the same fish.", either(named))
        keys, names = either(fish), either(fish.values())
        to_write = say("Write {name} here, and {rest} in population.", keys, place) if place else ""
        if names.casefold() == keys.casefold():
            return to_write or say("Did you mean '{name}'?", keys)
        return joined((say("Did you mean {name}?", names), to_write or say("Write {value}.", keys)))

    def _kind_of(self, words: list[str], known: list[str], is_scientific: bool) -> tuple[int, int]:
        """How words may be a known name, the likelier the lower, and how many of them are its own; (0, 0)
        where they are none.
        """
        if len(words) >= len(known) and all(map(is_slip_of, words, known)):
            return 1, len(known)
        if not is_scientific or len(known) != 2:
            return 0, 0
        genus, second = known
        if len(words) > 1 and is_slip_of(words[1], second) and _is_short_for(words[0], genus):
            return 2, 2
        if is_slip_of(words[0], second) and words != [genus]:
            return 3, 1
        if len(words) == 1 and _is_short_for(words[0], genus):
            return (2 if words == [genus] else 4), 1
        return (_OTHER_GENUS, 2) if words[1:2] == [second] else (0, 0)


_OTHER_GENUS = 5
#: So many fish are named at the most.
_MOST_LIKE = 3


def _is_short_for(word: str, genus: str) -> bool:
    """Is it ``N.``, ``Noth.``, ``Fp.``, ``N`` or ``Nothos`` for a genus?"""
    bare, letters = word.rstrip("."), iter(genus)
    if len(bare) > 3:
        return genus.startswith(bare.removesuffix("s"))
    return word[0] == genus[0] and all(letter in letters for letter in bare)


def fish_names(species: Iterable[Species], keys: Iterable[str] = ()) -> FishNames:
    """The names of fish: keys first (those of rows with mistakes too), then what else each is called."""
    names: dict[str, set[str]] = {}
    rows = tuple(species)
    for key in (*keys, *(row.species for row in rows)):
        names.setdefault(folded(key), {key})
    keyed = set(names)
    for row in rows:
        for name in (row.scientific_name, row.common_name, *row.synonyms):
            if name and folded(name) not in keyed:
                names.setdefault(folded(name), set()).add(row.species)
    scientific = (name for row in rows for name in (row.scientific_name, *row.synonyms))
    return FishNames(
        {name: frozenset(keys) for name, keys in names.items()}, frozenset(map(folded, scientific))
    )


@dataclass
class _Spelling:
    """What gathers while a draft is gone through."""

    draft: Draft
    fish: FishNames
    tables: dict[str, Mapping[str, str]] = field(default_factory=dict)
    places: dict[str, dict[str, str]] = field(default_factory=dict)
    read_as: dict[tuple[str, str, str], ReadAs] = field(default_factory=dict)

    def named(self, table: str, name: str) -> str:
        """The name as the table spells it; as it is where the table has none like it."""
        if name in self.draft.names.get(table, frozenset()):
            return name
        if table not in self.tables:
            self.tables[table] = {folded(known): known for known in sorted(self.draft.names.get(table, ()))}
        return self.tables[table].get(folded(name), name)

    def species(self, name: str) -> tuple[str, str]:
        """(species, population) that a name of a fish means; no population where it names none."""
        if name in self.draft.names.get("species", frozenset()):
            return name, ""
        key = self.fish.key_of(name)
        return (key, "") if key else self.fish.key_and_place(name) or (name, "")

    def population(self, species: str, name: str) -> str:
        """The population as lots (else groups) spell it."""
        if not name:
            return name
        return self.places.get(species, {}).get(folded_place(name), name)

    def place(self, name: str) -> str:
        """A place as zones and ISO 3166 spell it, without a comma behind."""
        name = name.strip(",;") or name
        if name == "*" or name in self.draft.names.get("zones", frozenset()):
            return name
        zone = self.named("zones", name)
        return name.upper() if zone == name and not is_place(name) and is_place(name.upper()) else zone

    def every_place(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """The same for several; a country by its name, of one word or several, is its code."""
        found: list[str] = []
        while names:
            length, place = 1, self.place(names[0])
            if place != "*" and place not in self.draft.names.get("zones", ()) and not is_place(place):
                for words in range(min(len(names), MOST_WORDS), 0, -1):
                    name = " ".join(names[:words]).strip(",;")
                    codes = () if part_named(name) else codes_named(name)
                    if len(codes) == 1 and codes[0] != name:
                        length, place = words, codes[0]
                        break
            found.append(place)
            names = names[length:]
        return tuple(found)

    def with_values(self, row: AnyRow, **values: Any) -> AnyRow:
        """The row with those values that differ, each of them said."""
        changed = {name: value for name, value in values.items() if value != getattr(row, name)}
        if not changed:
            return row
        for name, value in changed.items():
            old = getattr(row, name)
            shown = (" ".join(old), " ".join(value)) if isinstance(value, tuple) else (old, value)
            column = type(row).model_fields[name].alias or name
            self.read_as.setdefault((row.at.file, column, shown[0]), ReadAs(row.at, column, *shown))
        return row.model_copy(update=changed)


def one_spelling(draft: Draft) -> tuple[Draft, tuple[ReadAs, ...]]:
    """The draft with one spelling of each name, and what was read as something else."""
    work = _Spelling(draft, fish_names(draft.species, draft.names.get("species", ())))
    lots = tuple(_fish(work, lot) for lot in draft.lots)
    groups = tuple(_fish(work, group) for group in draft.groups)
    kept = [(lot.species, lot.population) for lot in lots]
    for species, place in kept + [(group.species, group.population) for group in groups]:
        if place:
            work.places.setdefault(species, {}).setdefault(folded_place(place), place)
    lots_named = draft.names.get("lots", frozenset())
    spelt = replace(
        draft,
        lots=tuple(_place(work, lot) for lot in lots),
        groups=tuple(_place(work, group) for group in groups),
        looks=tuple(
            look if look.lot in lots_named else work.with_values(look, lot=work.named("lots", look.lot))
            for look in draft.looks
        ),
        order_rows=tuple(_order_rows(work)),
        services=tuple(work.with_values(row, to=work.every_place(row.to)) for row in draft.services),
        postage=tuple(
            work.with_values(row, service=work.named("services", row.service), to=work.every_place(row.to))
            for row in draft.postage
        ),
        packings=tuple(
            work.with_values(row, box=work.named("boxes", row.box)) if row.box else row
            for row in draft.packings
        ),
        rules=tuple(
            work.with_values(row, to=" ".join(work.every_place(row.places)), taxon=_taxon(work, row.taxon))
            for row in draft.rules
        ),
        weather=tuple(work.with_values(row, to=work.every_place((row.to,))[0]) for row in draft.weather),
        disruptions=tuple(
            work.with_values(
                row,
                to=work.every_place(row.to),
                service=work.named("services", row.service) if row.service else None,
            )
            for row in draft.disruptions
        ),
        zones=tuple(
            work.with_values(row, countries=tuple(map(_country, row.countries))) for row in draft.zones
        ),
    )
    return spelt, tuple(work.read_as.values())


def _fish(work: _Spelling, row: NamesFish) -> NamesFish:
    """The row with its species by its key; a population written behind the name goes where it belongs."""
    species, population = work.species(row.species)
    if population and row.population and folded_place(population) != folded_place(row.population):
        return row  # two populations: the checks say that the name is no species
    return work.with_values(row, species=species, population=row.population or population)


def _place(work: _Spelling, row: NamesFish) -> NamesFish:
    return work.with_values(row, population=work.population(row.species, row.population))


def _order_rows(work: _Spelling) -> Iterator[OrderRow]:
    """Rows of orders; the same words are looked up once."""
    species_known, services = (work.draft.names.get(table, frozenset()) for table in ("species", "services"))
    for row in work.draft.order_rows:
        if row.species not in species_known:
            row = _fish(work, row)
        if row.population:
            if folded(row.population) in ANY_POPULATION:
                row = work.with_values(row, population="")
            row = _place(work, row)
        if row.service and row.service not in services:
            row = work.with_values(row, service=work.named("services", row.service))
        if row.instead:
            row = work.with_values(row, instead=tuple(_instead(work, other) for other in row.instead))
        yield row


def _instead(work: _Spelling, text: str) -> str:
    name, _, place = (part.strip() for part in text.partition("/"))
    species, population = work.species(name)
    population = work.population(species, place or population)
    return f"{species}/{population}" if population else species


def _taxon(work: _Spelling, taxon: str) -> str:
    """A common name, a synonym or ``Genus spp.`` of a rule as what rules are compared by."""
    if match := _OF_A_GENUS.fullmatch(taxon):
        return match[1]
    names = {
        folded(name) for row in work.draft.species for name in (row.genus, row.family, row.scientific_name)
    }
    return taxon if taxon == "*" or folded(taxon) in names else work.fish.key_of(taxon) or taxon


def _country(code: str) -> str:
    return code.upper() if len(code) == 2 and code.isascii() else code
