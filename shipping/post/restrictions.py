"""What the rules table says: place, species, medium, day in, a ruling with its reasons out; its rows' age."""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from shipping.tables.countries import is_place
from shipping.tables.country_parts import is_another_part, larger_part, nearness
from shipping.tables.rows.rules import Rule, TaxonNames, nearest_rules, taxon_names
from shipping.tables.rows.services import Service
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.keys import IdentityKey
from shipping.words.reasons import Reason
from shipping.words.units import told

#: Whom to ask where no row names a source.
AUTHORITY = "the post and the authority for imports of the destination"
_NO_ROW = "rules"


@dataclass(frozen=True, slots=True)
class Ruling:
    """What the nearest rows say; ``verdict`` is ``open``, ``papers``, ``ask``, ``closed`` or ``none`` (no
    row).

    ``parts``: parts of the country with stricter or other rows of their own, where it is not known that the
    eggs go to none of them.
    """

    verdict: str
    row: Rule | None
    stale: bool
    reasons: tuple[Reason, ...]
    parts: tuple[str, ...] = ()

    @property
    def passes(self) -> bool:
        """May the line go, as far as the rules table knows?"""
        return not self.reasons

    @property
    def is_closed(self) -> bool:
        """Is it closed wherever in the place it goes?"""
        return self.verdict == "closed" and not self.parts


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
    old its row. Where the subdivision is not known and a part of the country has a row for the fish that is
    not ``open`` and says something else than the country's, the region is asked for.
    """
    names = taxon_names(species.species, species.scientific_name, species.synonyms, species.family)
    held = frozenset(paper.casefold().strip() for paper in papers_held)
    return _ruling(_index(IdentityKey(shelf)), country, subdivision, names, medium, on, held)


class Rulings(dict[str, tuple[Ruling, ...]]):
    """The rulings for a fish to a place, day by day, by each medium in which its eggs may travel."""

    @property
    def every(self) -> list[Ruling]:
        return [one for own in self.values() for one in own]

    @property
    def passing(self) -> frozenset[str]:
        """The media in which it may go on every day."""
        return frozenset(medium for medium, own in self.items() if all(one.passes for one in own))

    @property
    def unclosed(self) -> frozenset[str]:
        """The media that no day closes."""
        return frozenset(medium for medium, own in self.items() if not any(one.is_closed for one in own))

    @property
    def reasons(self) -> list[Reason]:
        """What speaks against media that are not closed, and may be answered; else against all."""
        told = self.unclosed or self.keys()
        return [reason for medium in self if medium in told for one in self[medium] for reason in one.reasons]


def closed_at_home(shelf: Shelf, species: Species, medium: str) -> Ruling | None:
    """The ruling that closes the home country to the species today, its reasons told of home, or None."""
    home = shelf.settings.home
    found = ruling(shelf, home.country, home.subdivision, species, medium, shelf.today)
    told = (replace(one, facts={**one.facts, "at_home": True}) for one in found.reasons)
    return replace(found, reasons=tuple(told)) if found.is_closed else None


def says_yes(shelf: Shelf, service: Service) -> bool:
    """Has the operator said yes to live eggs in the last ``answer_age_days``? Collection asks nobody."""
    if service.is_collection:
        return True
    age = (shelf.today - service.answered_on).days if service.answered_on else None
    return service.live_eggs == "yes" and age is not None and age <= shelf.settings.plan.answer_age_days


def is_refused(service: Service) -> bool:
    """Has the operator said no to live eggs?"""
    return service.live_eggs == "no" and not service.is_collection


def post_reasons(shelf: Shelf, service: Service) -> tuple[Reason, ...]:
    """What the operator's answer says against a service."""
    if says_yes(shelf, service):
        return ()
    answer, on = service.live_eggs or "missing", service.answered_on
    if answer != "yes":
        text = f"The operator of {service.service} has not said yes to live fish eggs (answer: {answer})."
    elif on is None:
        text = f"The yes of the operator of {service.service} to live fish eggs has no day."
    else:
        text = f"The operator of {service.service} said yes to live fish eggs on {on}, too long ago."
    facts: dict[str, object] = {
        "service": service.service,
        "answer": answer,
        "on": on.isoformat() if on else None,
    }
    mend = "Ask, in writing, and write the answer and its day in services."
    return (Reason("ask-post", f"{text} {mend}", facts, service.cited),)


class _Index:
    """The rules of one shelf by place, and what of its settings a ruling needs; compares by identity."""

    def __init__(self, shelf: Shelf) -> None:
        self.today = shelf.today
        self.rule_age_days = shelf.settings.plan.rule_age_days
        self.zones_of = shelf.zones_of
        self.by_place: dict[str, list[Rule]] = {}
        self.parts: dict[str, list[str]] = {}
        for rule in shelf.rules:
            for place in rule.places:
                self.by_place.setdefault(place.upper(), []).append(rule)
        for place in sorted(self.by_place):
            country, dash, part = place.partition("-")
            if dash and place not in shelf.zones:
                self.parts.setdefault(country, []).append(part)

    def is_stale(self, row: Rule) -> bool:
        """Must the row be looked up again: too old, or a value of the starter that was withdrawn?"""
        return row.is_withdrawn or (self.today - row.checked_on).days > self.rule_age_days

    def at(self, country: str, subdivision: str) -> list[tuple[int, Rule]]:
        """The rows that name the place, with how closely."""
        near = nearness(country, subdivision, self.zones_of(country))
        return [(rank, rule) for place, rank in near.items() for rule in self.by_place.get(place, ())]


@lru_cache(maxsize=8)
def _index(key: IdentityKey[Shelf]) -> _Index:
    return _Index(key.value)


@lru_cache(maxsize=65536)
def _ruling(
    index: _Index,
    country: str,
    subdivision: str,
    names: TaxonNames,
    medium: str,
    on: date,
    held: frozenset[str],
) -> Ruling:
    place = f"{country}-{subdivision}" if subdivision and country in index.parts else country
    plain = _by_rows(
        index, place, _winners(index, country, subdivision, names, medium, on), names, medium, held
    )
    parts = _other_parts(index, country, subdivision, names, medium, on)
    if not parts:
        return plain
    wanted = ", ".join(f"{country}-{part}" for part in parts)
    named = f"'{subdivision}' does not tell which" if subdivision else "no region is named"
    text = (
        f"The rules for {names.shown} differ inside {country} ({wanted}), and {named}. Ask for it, and write"
        " its code in region."
    )
    facts: dict[str, object] = {"to": country, "taxon": names.shown, "medium": medium, "parts": list(parts)}
    ask = Reason("no-region", text, facts, _NO_ROW)
    others = tuple(reason for reason in plain.reasons if reason.code != "closed")
    return replace(plain, reasons=(ask, *others), parts=parts)


def _other_parts(
    index: _Index, country: str, subdivision: str, names: TaxonNames, medium: str, on: date
) -> tuple[str, ...]:
    """Parts of the country, not ``open``, that say otherwise than it, where the eggs may go to one."""
    ruled = index.parts.get(country, ())
    if not ruled or subdivision in ruled or larger_part(country, subdivision) in ruled:
        return ()
    if subdivision and is_another_part(country, subdivision, ruled):
        return ()
    of_country = _says(_winners(index, country, subdivision, names, medium, on), index)
    found = []
    for part in ruled:
        winners = _winners(index, country, part, names, medium, on)
        own = any(place.upper() == f"{country}-{part}" for row in winners[:1] for place in row.places)
        if own and winners[0].verdict != "open" and _says(winners, index) != of_country:
            found.append(part)
    return tuple(found)


def _says(winners: tuple[Rule, ...], index: _Index) -> tuple[object, ...]:
    """What rows come to: verdict, papers, and whether they are stale."""
    if not winners:
        return ()
    papers = frozenset(paper.casefold() for row in winners for paper in row.papers)
    return (winners[0].verdict, papers, index.is_stale(winners[0]))


def _by_rows(
    index: _Index, place: str, winners: tuple[Rule, ...], names: TaxonNames, medium: str, held: frozenset[str]
) -> Ruling:
    if not winners:
        text = f"No rule for {names.shown} to {place} has been looked up. Ask {AUTHORITY}, then write a row."
        facts: dict[str, object] = {"to": place, "taxon": names.shown, "medium": medium, "verdict": "none"}
        return Ruling("none", None, False, (Reason("no-rule", text, facts, _NO_ROW),))
    row = winners[0]
    stale = index.is_stale(row)
    papers = tuple(sorted({paper for winner in winners for paper in winner.papers}, key=str.casefold))
    missing = (
        tuple(paper for paper in papers if paper.casefold() not in held) if row.verdict == "papers" else ()
    )
    reasons: list[Reason] = []
    if stale and row.verdict != "closed":
        again = "" if is_nobodys(row) else " again"
        text = f"{_how_old(index, row, names.shown, place)} Look it up{again}: {_whom(row)}."
        reasons.append(_reason("stale-rule", text, row, place, papers, missing))
    if not (stale and row.verdict == "ask"):  # to look it up again is to ask
        reasons += _of_verdict(row, names.shown, place, papers, missing)
    return Ruling(row.verdict, row, stale, tuple(reasons))


def _how_old(index: _Index, row: Rule, shown: str, place: str) -> str:
    """Why a row no longer counts as looked up."""
    if is_nobodys(row):
        return f"The rule for {shown} to {place} came with a starter table, and nobody has looked it up."
    age = (index.today - row.checked_on).days
    return f"The rule for {shown} to {place} was looked up {age} days ago, on {row.checked_on.isoformat()}."


def is_nobodys(row: Rule) -> bool:
    """Is it a starter row that nobody has looked up, whatever day stands in it?"""
    return row.is_withdrawn or row.is_never_looked_up


def _of_verdict(
    row: Rule, shown: str, place: str, papers: tuple[str, ...], missing: tuple[str, ...]
) -> tuple[Reason, ...]:
    """The reason the verdict itself gives, if it gives one."""
    whom = _whom(row)
    if row.verdict == "closed":
        code, text = "closed", f"{place} is closed to {shown} in the rules table. Whom to ask: {whom}."
    elif row.verdict == "ask":
        code, text = "ask-rule", f"The rule for {shown} to {place} says to ask first: {whom}."
    elif row.verdict == "papers" and not papers:
        names_none = f"The rule for {shown} to {place} asks for papers but names none."
        code, text = "papers", f"{names_none} Ask {whom}, then name them."
    elif missing:
        lacking = f"{shown} to {place} needs papers the order does not hold: {'; '.join(missing)}."
        code, text = "papers", f"{lacking} Ask {whom}."
    else:
        return ()
    return (_reason(code, text, row, place, papers, missing),)


def _whom(row: Rule) -> str:
    return row.source.strip().rstrip(".") or AUTHORITY


def _reason(
    code: str, text: str, row: Rule, place: str, papers: tuple[str, ...], missing: tuple[str, ...]
) -> Reason:
    facts: dict[str, object] = {
        "to": row.to if is_place(row.to) else place,
        "taxon": row.taxon,
        "medium": row.medium,
        "verdict": row.verdict,
        "checked_on": row.checked_on.isoformat(),
        "source": row.source,
        "papers": list(papers),
        "missing": list(missing),
    }
    if is_nobodys(row):
        facts["never"] = True
    return Reason(code, text, facts, row.cited if row.at.file else _NO_ROW)


def _winners(
    index: _Index, country: str, subdivision: str, names: TaxonNames, medium: str, on: date
) -> tuple[Rule, ...]:
    """The strictest of the most specific rows that count on the day, the latest looked up first."""
    return nearest_rules(index.at(country, subdivision), names, medium, on)


@dataclass(frozen=True, slots=True)
class RuleNeeded:
    """A rule to look up for an order: ``verdict`` is the row's word, or ``none``; ``ask`` says whom."""

    country: str
    subdivision: str
    species: str
    verdict: str
    stale: bool
    row: Rule | None
    ask: str
    orders: tuple[str, ...]

    @property
    def place(self) -> str:
        """``DE``, or ``DE-BY`` where the rule of a part of the country is needed."""
        return f"{self.country}-{self.subdivision}" if self.subdivision else self.country


def rules_needed(shelf: Shelf) -> list[RuleNeeded]:
    """What nobody looked up, answered, or not lately, for orders in hand; by country, part, species."""
    needed: dict[tuple[str, str, str, str], tuple[Ruling, set[str]]] = {}
    for order in shelf.orders:
        subdivision = order.address.part
        for line in order.lines:
            if line.species not in shelf.species:
                continue
            for medium in media_of(shelf, shelf.species[line.species]):
                found = ruling(
                    shelf, order.country, subdivision, shelf.species[line.species], medium, shelf.today
                )
                if found.verdict not in ("none", "ask") and (not found.stale or found.verdict == "closed"):
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


@dataclass(frozen=True, slots=True)
class RegionNeeded:
    """An order whose buyer has to name a region: the fish the rules of the country's ``parts`` differ for."""

    order: str
    country: str
    species: tuple[str, ...]
    parts: tuple[str, ...]


def regions_needed(shelf: Shelf) -> list[RegionNeeded]:
    """Orders that name no region which tells, to countries whose rules differ inside; as in the table."""
    needed = []
    for order in shelf.orders:
        region = order.address.part
        parts: dict[str, tuple[str, ...]] = {}
        for line in order.lines:
            if species := shelf.species.get(line.species):
                for medium in media_of(shelf, species):
                    found = ruling(shelf, order.country, region, species, medium, shelf.today)
                    parts |= {species.scientific_name: found.parts} if found.parts else {}
        if parts:
            every = sorted({part for ones in parts.values() for part in ones})
            needed.append(RegionNeeded(order.order, order.country, tuple(parts), tuple(every)))
    return needed


def media_of(shelf: Shelf, species: Species) -> tuple[str, ...]:
    """The media its eggs may travel in from here, sorted; without a lot, what incubation suggests."""
    kept = {lot.medium for lot in shelf.lots_of(species.species)}
    kept = kept or {"peat" if species.is_damp else "water"}
    return media_packed(shelf, kept) or tuple(sorted(kept))


def media_packed(shelf: Shelf, kept: Iterable[str]) -> tuple[str, ...]:
    """The media in which packings of the shelf send eggs kept in some, sorted; none where no packing does."""
    return tuple(
        sorted({p.travels_in(medium) for medium in kept for p in shelf.packings if medium in p.media})
    )


@dataclass(frozen=True)
class RuleReport:
    """Rows with their age in days, rules to look up, and those that say to ask, unanswered."""

    rows: tuple[tuple[Rule, int, bool], ...]
    needed: tuple[RuleNeeded, ...]
    unanswered: tuple[RuleNeeded, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "rules": [
                told(rule, "to taxon medium verdict papers source checked_on from_ until")
                | ({"checked_on": None, "age_days": None} if is_nobodys(rule) else {"age_days": age})
                | {"stale": stale}
                for rule, age, stale in self.rows
            ],
            "needed": [
                {"to": rule.place} | told(rule, "species verdict stale ask orders") for rule in self.needed
            ],
        }


def rule_report(shelf: Shelf, to: str | None, species: str | None) -> RuleReport:
    """Rows that speak to a place (or what it lies in) or species, and what is needed; else all."""
    taxa = {"*"}
    if species:
        row = shelf.species[species]
        taxa |= {name.casefold() for name in (row.species, row.scientific_name, row.genus, row.family)}
    limit = shelf.settings.plan.rule_age_days
    country = to.partition("-")[0].upper() if to else ""
    over = {"*", country, *shelf.zones_of(country)} if country else {"*"}
    rows = []
    for rule in sorted(shelf.rules, key=lambda r: (r.to, r.taxon, r.medium or "", r.verdict, r.source)):
        named = to is None or any(place.upper().startswith(to) or place in over for place in rule.places)
        if named and (species is None or rule.taxon.casefold() in taxa):
            age = (shelf.today - rule.checked_on).days
            stale = (age > limit or rule.is_withdrawn) and rule.verdict != "closed"
            rows.append((rule, age, stale))
    wanted = [
        rule
        for rule in rules_needed(shelf)
        if (to is None or to in _names_of(shelf, rule)) and (species is None or rule.species == species)
    ]
    needed = [rule for rule in wanted if rule.verdict == "none" or rule.stale]
    return RuleReport(tuple(rows), tuple(needed), tuple(rule for rule in wanted if rule not in needed))


def _names_of(shelf: Shelf, rule: RuleNeeded) -> tuple[str, ...]:
    """What the place of a rule to look up may be called: country, country and subdivision, zones."""
    part = (f"{rule.country}-{rule.subdivision}",) if rule.subdivision else ()
    return (rule.country, *part, *shelf.zones_of(rule.country))
