"""What is in a parcel, unit by unit: a parcel and the shelf in, numbered units and codes out; no words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from shipping.eggs.clock import kept_on, kept_temperatures
from shipping.papers.page.fonts import OUR_TYPE, Typeface
from shipping.papers.wording.language import clean, paper_language, post_language
from shipping.papers.wording.phrases import Wording
from shipping.tables.countries import languages_of
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, Parcel, Plan, PlannedLine
from shipping.words.sentence import LANGUAGES
from shipping.words.three_point import Dates

#: A QR code with more letters than this would be too fine to read from a slip; it then holds the total only.
_LONGEST_CODE = 220
#: What a species' source says of one kind of figure: ``adult size: from memory; cue: ...``.
#: A range may say so for each of its ends: ``keep range: lower: assumed; upper: ...``.
_TOPIC = re.compile(r"(?:^|; )(?:keep range: )?([a-z ]+|\d+ C [a-z ]+): ([^;]*)")
#: The small mark behind a figure, by what stands behind the figure; the key to them stands once on a page.
MARKS = {"assumed": "†", "from_memory": "‡", "common_practice": "§", "learned": "¶"}


@dataclass(frozen=True, slots=True)
class Unit:
    """One tube or bag, counted through the parcel from 1; its lot is kept at ``kept_at_c`` that day [C]."""

    number: int
    of: int
    eggs: int
    line: PlannedLine
    draw: Draw
    lot: Lot
    species: Species
    packing: Packing
    kept_at_c: float

    @property
    def medium(self) -> str:
        """What the eggs travel in; eggs kept in water may travel damp."""
        return self.packing.travels_in(self.lot.medium)

    @property
    def has_own_days(self) -> bool:
        """Are its days the breeder's own and not reckoned?"""
        return self.lot.kept_damp and bool(self.lot.wet_from and self.lot.wet_until)

    @property
    def about(self) -> bool:
        """Was the lot's count estimated, not counted?"""
        return self.lot.count_basis == "estimated"

    @property
    def care(self) -> str:
        """How it is cared for on arrival: in ``water``, kept ``damp``, or put ``into-water`` at once.

        Only eggs of annual fish are kept damp; those of others that travelled damp are never dried again.
        """
        if not self.packing.is_a.is_damp:
            return "water"
        is_annual = self.species.incubation == "damp" and self.lot.kept_damp
        return "damp" if is_annual else "into-water"


def units_of(parcel: Parcel, shelf: Shelf) -> tuple[Unit, ...]:
    """Every unit of a parcel, line by line and lot by lot, fuller ones first."""
    total = sum(draw.units for line in parcel.lines for draw in line.draws)
    units: list[Unit] = []
    for line in parcel.lines:
        for draw in line.draws:
            lot = shelf.lot_by_name[draw.lot]
            packing = shelf.packing_by_name[draw.packing]
            species = shelf.species[lot.species]
            kept = kept_on(parcel.dispatch_on, kept_temperatures(lot, shelf.looks_by_lot.get(lot.lot, ())))
            units += [
                Unit(number, total, eggs, line, draw, lot, species, packing, kept)
                for number, eggs in enumerate(draw.unit_eggs, start=len(units) + 1)
            ]
    return tuple(units)


def code_text(parcel: Parcel) -> str:
    """The parcel and the count of each line, for a QR code: ``2026-W49-01 1001/1=24 1001/2=30``."""
    lines = " ".join(f"{line.order}/{line.line}={line.pack}" for line in parcel.lines)
    text = f"{parcel.parcel} {lines}"
    if len(text.encode()) > _LONGEST_CODE:
        return f"{parcel.parcel} {len(parcel.lines)} lines={parcel.pack}"
    return text


def is_collected(parcel: Parcel) -> bool:
    """Is it fetched in person, so that no post carries it?"""
    return parcel.arrive.p95 == parcel.dispatch_on


def may_be_wetted(unit: Unit, parcel: Parcel) -> bool:
    """Have the wetting days of damp eggs begun when the parcel is there?"""
    begin, there = unit.draw.hatch.p05, parcel.arrive.p50 or parcel.arrive.p05 or parcel.dispatch_on
    return unit.care == "damp" and begin is not None and begin <= there


def is_wetted_on_arrival(unit: Unit, parcel: Parcel) -> bool:
    """Are damp eggs wetted the day they arrive, whenever that is?"""
    wet = unit.draw.wet
    return unit.care == "damp" and wet is not None and wet.is_on_arrival(parcel.arrive)


def dates_for_buyer(unit: Unit, parcel: Parcel) -> Dates:
    """The days on which a buyer may expect fry, or should wet damp eggs: none before the 5 % arrival."""
    known, first = unit.draw.hatch, parcel.arrive.p05 or parcel.dispatch_on
    if is_wetted_on_arrival(unit, parcel):
        return Dates(first, None, parcel.arrive.p95)
    days = (known.p05, known.p50, known.p95)
    return Dates(*(max(when, first) if when else None for when in days))


#: Where degrees are read in Fahrenheit: the United States and their territories.
_READ_FAHRENHEIT = frozenset({"AS", "GU", "MP", "PR", "US", "VI"})


def _own_language(shelf: Shelf) -> str:
    return paper_language(next(iter(shelf.settings.papers.languages), "en"))


def language_of(shelf: Shelf, language: str | None, country: str, postcode: str = "") -> str:
    """The language a buyer is written in: as ordered, else the place's; at home the breeder's own."""
    if language:
        return paper_language(language)
    own = _own_language(shelf) if country == shelf.settings.home.country else None
    spoken = paper_language(post_language(country, own, postcode))
    return own if own and spoken == "en" else spoken


@dataclass(frozen=True)
class PaperInputs:
    """All that papers are made from: plan, shelf, wording by language, the post's item numbers; and the days
    of parcels that are packed and not printed again, apart those still to be handed over.
    """

    plan: Plan
    shelf: Shelf
    wordings: Mapping[str, Wording]
    items: Mapping[str, str]
    first_sticker: int = 1
    typeface: Typeface = OUR_TYPE
    to_send: Mapping[str, date] = field(default_factory=dict)
    packed: Mapping[str, date] = field(default_factory=dict)

    def wording(self, language: str | None) -> Wording:
        """The wording in a language, else in English."""
        return self.wordings.get(language or "", self.wordings["en"])

    @property
    def own_language(self) -> str:
        """The breeder's own language: the first of the papers' languages."""
        return _own_language(self.shelf)

    def language_of(self, language: str | None, country: str, postcode: str = "") -> str:
        """As ordered; else the place's language if papers have it, at home else the breeder's own."""
        return language_of(self.shelf, language, country, postcode)

    def lacks_language(self, parcel: Parcel) -> bool:
        """Are a buyer's papers in English as theirs is lacking, or as nobody knows which they read?"""
        country = parcel.address.country
        if parcel.language:
            return parcel.language not in LANGUAGES
        if country == self.shelf.settings.home.country or "en" in (spoken := languages_of(country)):
            return False
        return bool(spoken) and self.language_of(None, country, parcel.address.postcode) == "en"

    def wording_for(self, parcel: Parcel) -> Wording:
        """The wording of a buyer's papers."""
        country, postcode = parcel.address.country, parcel.address.postcode
        return self.wording_in(self.language_of(parcel.language, country, postcode), country)

    def wording_in(self, language: str, *countries: str) -> Wording:
        """The wording in a language for who reads it in some countries."""
        wording = self.wording(language)
        return wording if _READ_FAHRENHEIT.isdisjoint(countries) else wording.in_fahrenheit

    @property
    def paper(self) -> str:
        return self.shelf.settings.papers.paper

    @property
    def contact(self) -> str:
        """Where the sender is written to: mail, else telephone, else the name."""
        sender = self.shelf.settings.sender
        return sender.mail or sender.tel or sender.name

    @property
    def today(self) -> date:
        return self.plan.today


def basis(species: Species, topic: str) -> str:
    """The mark of what stands behind a figure; "" where the species' source names a publication.

    A source may say so for each kind of figure: ``adult size: from memory; cue: assumed``.
    """
    for name, said in _TOPIC.findall(species.source):
        if topic in name:
            for key, mark in MARKS.items():
                if f", {key.replace('_', ' ')}" in f", {said.strip()}".replace(": ", ", "):
                    return mark
    return ""


def keep_basis(species: Species) -> tuple[str, str]:
    """The marks of the least and the most warmth that eggs bear, which may have sources of their own."""
    both = basis(species, "keep range")
    low = basis(species, "lower") or basis(species, "hours on the way")
    return both or low, both or basis(species, "upper")


def marks_key(said: str, wording: Wording) -> str:
    """What the marks in a text mean, those that stand in it; "" where none does."""
    return ", ".join(f"{mark} {wording.term(key)}" for key, mark in MARKS.items() if mark in said)


def own_words(text: str, inputs: PaperInputs, wording: Wording) -> str:
    """What the breeder's tables say: in the page's language where it is translated, else as typed.

    Words as typed are marked so on a page that is not in the breeder's own language.
    """
    typed = clean(text).rstrip(".")
    if not typed:
        return ""
    translated = wording.said(clean(text)) or wording.said(typed)
    if translated is not None:
        return translated
    if wording.language == inputs.own_language or (wording.language == "en" and is_ours(typed, inputs)):
        return typed
    return f"{typed} ({wording.term('own_words')})"


def is_ours(text: str, inputs: PaperInputs) -> bool:
    """Is it a text of the tables that ship with the program, in English?"""
    german = inputs.wordings.get("de")
    return german is not None and german.said(text) is not None
