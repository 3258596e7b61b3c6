"""What is in a parcel, unit by unit: a parcel and the shelf in, numbered units and compact codes out; no words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from shipping.papers.wording import Wording
from shipping.tables.lots import Lot
from shipping.tables.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.tables.species import Species
from shipping.week.planned import Draw, Parcel, Plan, PlannedLine

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
    return text if len(text.encode()) <= _LONGEST_CODE else f"{parcel.parcel} {len(parcel.lines)} lines={parcel.pack}"


@dataclass(frozen=True)
class Desk:
    """All that papers are made from: the plan, the shelf, the wording by language, and the post's item numbers."""

    plan: Plan
    shelf: Shelf
    wordings: Mapping[str, Wording]
    items: Mapping[str, str]
    first_sticker: int = 1

    def wording(self, language: str | None) -> Wording:
        """The wording in a language, else in English."""
        return self.wordings.get(language or "", self.wordings["en"])

    @property
    def contact(self) -> str:
        """Where the sender is written to: mail, else telephone, else the name."""
        sender = self.shelf.settings.sender
        return sender.mail or sender.tel or sender.name

    @property
    def today(self) -> date:
        return self.plan.today


def basis(species: Species, topic: str, wording: Wording) -> str:
    """What stands behind a figure, in brackets: ``(assumed)``; "" where the species' source names a publication.

    A source may say so for each kind of figure: ``adult size: from memory; cue: assumed``.
    """
    for name, said in _TOPIC.findall(species.source):
        if topic in name:
            for key in ("assumed", "from_memory", "common_practice", "learned"):
                if said.strip().startswith(key.replace("_", " ")):
                    return f" ({wording.term(key)})"
    return ""
