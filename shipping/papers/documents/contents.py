"""What is in a parcel, unit by unit: a parcel and the shelf in, numbered units and compact codes out; no
words.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from shipping.papers.wording.language import clean, paper_language
from shipping.papers.wording.phrases import Wording
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, Parcel, Plan, PlannedLine

#: A QR code with more letters than this would be too fine to read from a slip; it then holds the total only.
_LONGEST_CODE = 220
#: What a species' source says of one kind of figure: ``adult size: from memory; cue: ...``.
_TOPIC = re.compile(r"(?:^|; )([a-z ]+): ([^;]*)")


@dataclass(frozen=True, slots=True)
class Unit:
    """One tube or bag: ``number`` counts through the parcel from 1."""

    number: int
    of: int
    eggs: int
    line: PlannedLine
    draw: Draw
    lot: Lot
    species: Species
    packing: Packing

    @property
    def about(self) -> bool:
        """Was the lot's count estimated, not counted?"""
        return self.lot.count_basis == "estimated"


def units_of(parcel: Parcel, shelf: Shelf) -> tuple[Unit, ...]:
    """Every unit of a parcel, line by line and lot by lot, fuller ones first."""
    total = sum(draw.units for line in parcel.lines for draw in line.draws)
    units: list[Unit] = []
    for line in parcel.lines:
        for draw in line.draws:
            lot = shelf.lot_by_name[draw.lot]
            packing = shelf.packing_by_name[draw.packing]
            species = shelf.species[lot.species]
            units += [
                Unit(number, total, eggs, line, draw, lot, species, packing)
                for number, eggs in enumerate(draw.unit_eggs, start=len(units) + 1)
            ]
    return tuple(units)


def code_text(parcel: Parcel) -> str:
    """The parcel and the count of each line, for a QR code: ``2026-W49-01 1001/1=24 1001/2=30``."""
    lines = " ".join(f"{line.order}/{line.line}={line.pack}" for line in parcel.lines)
    text = f"{parcel.parcel} {lines}"
    return (
        text
        if len(text.encode()) <= _LONGEST_CODE
        else f"{parcel.parcel} {len(parcel.lines)} lines={parcel.pack}"
    )


@dataclass(frozen=True)
class Desk:
    """All that papers are made from: the plan, the shelf, the wording by language, and the post's item
    numbers.
    """

    plan: Plan
    shelf: Shelf
    wordings: Mapping[str, Wording]
    items: Mapping[str, str]
    first_sticker: int = 1

    def wording(self, language: str | None) -> Wording:
        """The wording in a language, else in English."""
        return self.wordings.get(language or "", self.wordings["en"])

    @property
    def own_language(self) -> str:
        """The breeder's own language: the first of the papers' languages."""
        return paper_language(next(iter(self.shelf.settings.papers.languages), "en"))

    @property
    def contact(self) -> str:
        """Where the sender is written to: mail, else telephone, else the name."""
        sender = self.shelf.settings.sender
        return sender.mail or sender.tel or sender.name

    @property
    def today(self) -> date:
        return self.plan.today


def basis(species: Species, topic: str, wording: Wording) -> str:
    """What stands behind a figure, in brackets: ``(assumed)``; "" where the species' source names a
    publication.

    A source may say so for each kind of figure: ``adult size: from memory; cue: assumed``.
    """
    for name, said in _TOPIC.findall(species.source):
        if topic in name:
            for key in ("assumed", "from_memory", "common_practice", "learned"):
                if said.strip().startswith(key.replace("_", " ")):
                    return f" ({wording.term(key)})"
    return ""


def own_words(text: str, desk: Desk, wording: Wording) -> str:
    """What the breeder's tables say: in the page's language where it is translated, else as typed.

    Words as typed are marked so on a page that is not in the breeder's own language.
    """
    typed = clean(text).rstrip(".")
    if not typed:
        return ""
    translated = wording.said(clean(text)) or wording.said(typed)
    if translated is not None:
        return translated
    if wording.language == desk.own_language or (wording.language == "en" and is_ours(typed, desk)):
        return typed
    return f"{typed} ({wording.term('own_words')})"


def is_ours(text: str, desk: Desk) -> bool:
    """Is it a text of the tables that ship with the program, in English?"""
    german = desk.wordings.get("de")
    return german is not None and german.said(text) is not None


def source_words(source: str, desk: Desk, wording: Wording) -> str:
    """A species' sources, ``; `` between, as `own_words`: part by part, each with what it is the source of in
    front.
    """
    parts = _parts(clean(source))
    known = [_source_part(part, wording) for part in parts]
    typed = "; ".join(part for part, said in zip(parts, known, strict=True) if said is None)
    said = [said for said in known if said is not None]
    if wording.language == "en" or not said:
        return own_words(source, desk, wording) if not _all_ours(parts, desk) else clean(source)
    return wording.set_off("; ".join([*said, own_words(typed, desk, wording)] if typed else said))


def _all_ours(parts: tuple[str, ...], desk: Desk) -> bool:
    german = desk.wordings.get("de")
    return german is not None and all(_source_part(part, german) is not None for part in parts)


def _source_part(part: str, wording: Wording) -> str | None:
    """One part of a source, in the page's language: ``keep range: lower: assumed``; None where any of it is
    not known.
    """
    whole = wording.said(part)
    if whole is not None:
        return whole
    topic, found, rest = part.partition(": ")
    front, behind = wording.said(topic), _source_part(rest, wording) if found else None
    return wording.term("of_topic", topic=front, said=behind) if front and behind else None


@lru_cache(maxsize=1024)
def _parts(text: str) -> tuple[str, ...]:
    """The text parted at ``;``, but not within brackets."""
    parts, depth = [""], 0
    for letter in text:
        depth += (letter == "(") - (letter == ")")
        if letter == ";" and depth == 0:
            parts.append("")
        else:
            parts[-1] += letter
    return tuple(part.strip() for part in parts if part.strip())
