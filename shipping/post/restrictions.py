"""What the rules table says: place, species, medium and day in, a ruling with its reasons out; no legal
advice.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from shipping.post.calendar import subdivision_code
from shipping.tables.rows.rules import RULE_WORDS, Rule
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.identity_key import IdentityKey
from shipping.words.reasons import Reason

#: Whom to ask where no row names a source.
AUTHORITY = "the post and the authority for imports of the destination"
_NO_ROW = "rules"


@dataclass(frozen=True, slots=True)
class Ruling:
    """What the nearest rows say; ``verdict`` is ``open``, ``papers``, ``ask``, ``closed`` or ``none`` (no
    row).
    """

    verdict: str
    row: Rule | None
    stale: bool
    missing_papers: tuple[str, ...]
    reasons: tuple[Reason, ...]

    @property
    def passes(self) -> bool:
        """May the line go, as far as the rules table knows?"""
        return not self.reasons

    @property
    def is_closed(self) -> bool:
        return self.verdict == "closed"


def ruling(
    shelf: Shelf,
    country: str,
    subdivision: str,
    species: Species,
    medium: str,
    on: date,
    papers_held: AbstractSet[str] = frozenset(),
) -> Ruling:
    """The ruling for eggs of a species travelling in a medium to a place on a day, with the papers an order
    holds.

    Notes
    -----
    Rows are compared by place (subdivision, country, zone, ``*``), then taxon (species, genus, family,
    ``*``), then medium (named, any). The most specific win; among equals the strictest. Nothing passes
    without a row, or on one looked up longer ago than ``rule_age_days``; what is closed stays closed, however
    old its row.
    """
    names = _names(species.species, species.scientific_name, species.genus, species.family)
    held = frozenset(paper.casefold().strip() for paper in papers_held)
    return _ruling(_index(IdentityKey(shelf)), country, subdivision, names, medium, on, held)


def closed_at_home(shelf: Shelf, species: Species, medium: str) -> Ruling | None:
    """The ruling that closes the home country to the species today, or None."""
    home = shelf.settings.home
    found = ruling(shelf, home.country, home.subdivision, species, medium, shelf.today)
    return found if found.is_closed else None


@dataclass(frozen=True, slots=True)
class _Names:
    """What a rule may call a species, all without case; ``shown`` is for people."""

    exact: frozenset[str]
    genus: str
    family: str
    shown: str


@lru_cache(maxsize=4096)
def _names(species: str, scientific_name: str, genus: str, family: str) -> _Names:
    return _Names(
        exact=frozenset({species.casefold(), scientific_name.casefold(), _binomial(scientific_name)}),
        genus=genus.casefold(),
        family=family.casefold(),
        shown=scientific_name,
    )


def _binomial(scientific_name: str) -> str:
    """Genus and species without the subspecies; the whole name where the second word is no species (sp., cf.,
    aff.).
    """
    words = scientific_name.casefold().split()
    return " ".join(words if len(words) < 3 or words[1].endswith(".") else words[:2])


class _Index:
    """The rules of one shelf by place, and what of its settings a ruling needs; compares by identity."""

    def __init__(self, shelf: Shelf) -> None:
        self.today = shelf.today
        self.rule_age_days = shelf.settings.plan.rule_age_days
        self.zones: Mapping[str, tuple[str, ...]] = _zones_of(shelf)
        self.by_place: dict[str, list[Rule]] = {}
        for rule in shelf.rules:
            self.by_place.setdefault(rule.to.upper(), []).append(rule)

    def at(self, country: str, subdivision: str) -> list[tuple[int, Rule]]:
        """The rows that name the place, with how closely."""
        places = [(3, f"{country}-{subdivision}")] if subdivision else []
        places += [(2, country), *((1, zone) for zone in self.zones.get(country, ())), (0, "*")]
        return [
            (nearness, rule) for nearness, place in places for rule in self.by_place.get(place.upper(), ())
        ]


def _zones_of(shelf: Shelf) -> dict[str, tuple[str, ...]]:
    zones: dict[str, list[str]] = {}
    for zone in sorted(shelf.zones):
        for country in shelf.zones[zone]:
            zones.setdefault(country, []).append(zone)
    return {country: tuple(found) for country, found in zones.items()}


@lru_cache(maxsize=8)
def _index(key: IdentityKey[Shelf]) -> _Index:
    return _Index(key.value)


@lru_cache(maxsize=65536)
def _ruling(
    index: _Index, country: str, subdivision: str, names: _Names, medium: str, on: date, held: frozenset[str]
) -> Ruling:
    place = f"{country}-{subdivision}" if subdivision else country
    winners = _winners(index, country, subdivision, names, medium, on)
    if not winners:
        text = f"No rule for {names.shown} to {place} has been looked up. Ask {AUTHORITY}, then write a row."
        facts: dict[str, object] = {"to": place, "taxon": names.shown, "medium": medium, "verdict": "none"}
        return Ruling("none", None, False, (), (Reason("no-rule", text, facts, _NO_ROW),))
    row = winners[0]
    age = (index.today - row.checked_on).days
    stale = age > index.rule_age_days
    papers = tuple(sorted({paper for winner in winners for paper in winner.papers}, key=str.casefold))
    missing = (
        tuple(paper for paper in papers if paper.casefold() not in held) if row.verdict == "papers" else ()
    )
    reasons: list[Reason] = []
    if stale and row.verdict != "closed":
        text = (
            f"The rule for {names.shown} to {place} was looked up {age} days ago, on"
            f" {row.checked_on.isoformat()}. Look it up again: {_whom(row)}."
        )
        reasons.append(_reason("stale-rule", text, row, papers, missing))
    reasons += _of_verdict(row, names.shown, place, papers, missing)
    return Ruling(row.verdict, row, stale, missing, tuple(reasons))


def _of_verdict(
    row: Rule, shown: str, place: str, papers: tuple[str, ...], missing: tuple[str, ...]
) -> tuple[Reason, ...]:
    """The reason the verdict itself gives, if it gives one."""
    if row.verdict == "closed":
        text = f"{place} is closed to {shown} in the rules table. Whom to ask: {_whom(row)}."
        return (_reason("closed", text, row, papers, missing),)
    if row.verdict == "ask":
        text = f"The rule for {shown} to {place} says to ask first: {_whom(row)}."
        return (_reason("ask-rule", text, row, papers, missing),)
    if row.verdict == "papers" and not papers:
        text = (
            f"The rule for {shown} to {place} asks for papers but names none. Ask {_whom(row)}, then name"
            " them."
        )
        return (_reason("papers", text, row, papers, missing),)
    if missing:
        text = (
            f"{shown} to {place} needs papers the order does not hold: {'; '.join(missing)}. Ask"
            f" {_whom(row)}."
        )
        return (_reason("papers", text, row, papers, missing),)
    return ()


def _whom(row: Rule) -> str:
    return row.source.strip().rstrip(".") or AUTHORITY


def _reason(code: str, text: str, row: Rule, papers: tuple[str, ...], missing: tuple[str, ...]) -> Reason:
    facts: dict[str, object] = {
        "to": row.to,
        "taxon": row.taxon,
        "medium": row.medium,
        "verdict": row.verdict,
        "checked_on": row.checked_on.isoformat(),
        "source": row.source,
        "papers": list(papers),
        "missing": list(missing),
    }
    return Reason(code, text, facts, row.cited if row.at.file else _NO_ROW)


def _winners(
    index: _Index, country: str, subdivision: str, names: _Names, medium: str, on: date
) -> tuple[Rule, ...]:
    """The strictest of the most specific rows that count on the day, the latest looked up first."""
    ranked: list[tuple[tuple[int, int, int, int], Rule]] = []
    for nearness, rule in index.at(country, subdivision):
        taxon = _taxon_rank(rule.taxon, names)
        if taxon < 0 or rule.medium not in (None, medium) or not _counts(rule, on):
            continue
        ranked.append(((nearness, taxon, rule.medium is not None, RULE_WORDS.index(rule.verdict)), rule))
    best = max((rank for rank, _ in ranked), default=None)
    winners = [rule for rank, rule in ranked if rank == best]
    return tuple(
        sorted(winners, key=lambda rule: (-rule.checked_on.toordinal(), rule.source, rule.papers, rule.to))
    )


def _taxon_rank(taxon: str, names: _Names) -> int:
    """3 species, 2 genus, 1 family, 0 any; -1 another fish."""
    name = " ".join(taxon.casefold().split())
    if name in names.exact:
        return 3
    if name == names.genus:
        return 2
    return {names.family: 1, "*": 0}.get(name, -1)


def _counts(rule: Rule, on: date) -> bool:
    return (rule.from_ is None or rule.from_ <= on) and (rule.until is None or on <= rule.until)


@dataclass(frozen=True, slots=True)
class RuleNeeded:
    """A rule to look up for an order in hand: ``verdict`` is the row's word, or ``none``; ``ask`` says
    whom.
    """

    country: str
    subdivision: str
    species: str
    verdict: str
    stale: bool
    row: Rule | None
    ask: str
    orders: tuple[str, ...]


def rules_needed(shelf: Shelf) -> list[RuleNeeded]:
    """What nobody has looked up, or not lately, for the orders in hand; by country, subdivision and
    species.
    """
    needed: dict[tuple[str, str, str, str], tuple[Ruling, set[str]]] = {}
    for order in shelf.orders:
        subdivision = subdivision_code(order.country, order.address.region)
        for line in order.lines:
            if line.species not in shelf.species:
                continue
            for medium in media_of(shelf, shelf.species[line.species]):
                found = ruling(
                    shelf, order.country, subdivision, shelf.species[line.species], medium, shelf.today
                )
                if found.verdict != "none" and (not found.stale or found.is_closed):
                    continue
                key = (order.country, subdivision, line.species, str(found.row.at) if found.row else "")
                needed.setdefault(key, (found, set()))[1].add(order.order)
    return [
        RuleNeeded(
            country=country,
            subdivision=subdivision,
            species=species,
            verdict=found.verdict,
            stale=found.stale,
            row=found.row,
            ask=_whom(found.row) if found.row else AUTHORITY,
            orders=tuple(sorted(orders)),
        )
        for (country, subdivision, species, _), (found, orders) in sorted(
            needed.items(), key=lambda item: item[0]
        )
    ]


def media_of(shelf: Shelf, species: Species) -> tuple[str, ...]:
    """The media its eggs may travel in from this shelf, sorted; without a lot, what its incubation
    suggests.
    """
    kept = {lot.medium for lot in shelf.lots_of(species.species)}
    kept = kept or {"peat" if species.is_damp else "water"}
    travels = {packing.travels_in(lot) for lot in kept for packing in shelf.packings if lot in packing.media}
    return tuple(sorted(travels or kept))
