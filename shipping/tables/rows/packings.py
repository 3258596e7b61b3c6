"""Packings, what each kind of them is (damp, soft, sealed, breathing), and the boxes they travel in."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, ClassVar

from pydantic import BeforeValidator

from shipping.tables import cells
from shipping.tables.rows.lots import Medium


@dataclass(frozen=True, slots=True)
class PackingKind:
    """A kind of packing, by the breeder's word for it.

    ``is_damp``: eggs lie in a damp medium, without free water. ``is_soft``: a box that gives way would crush
    it. ``is_sealed``: the air in it is all the eggs have. ``breathes``: air passes through its wall, so that
    its box must let air in. ``holds_back``: the share of due eggs that it keeps from hatching where its row
    says nothing.
    """

    word: str
    is_damp: bool = False
    is_soft: bool = False
    is_sealed: bool = False
    breathes: bool = False
    holds_back: float = 0.0

    @property
    def key(self) -> str:
        """The word as the name of a phrase of the papers."""
        return self.word.replace(" ", "_")


#: `holds_back` of damp bags: eggs in damp moss, peat or coir mostly wait for water (common practice, no
#: source).
PACKING_KINDS = (
    PackingKind("tube", is_sealed=True),
    PackingKind("breathing bag", is_soft=True, breathes=True),
    PackingKind("damp bag", is_damp=True, is_soft=True, holds_back=0.9),
)
KIND_BY_WORD = {kind.word: kind for kind in PACKING_KINDS}
#: Hours of a heat pack of which only ``yes`` is written (assumed, from memory).
HEAT_PACK_H = 40.0
#: So much of the inside of a box bottle and units may fill.
MOST_FILLED = 0.8
#: Foam boxes of the first starter tables, and the hours they were said to hold, which nobody had measured.
STARTER_FOAM = frozenset({"foam box", "big foam box"})
WITHDRAWN_H = 12.0
Kind = Annotated[str, BeforeValidator(cells.WordParser(tuple(KIND_BY_WORD)))]


def parse_media(cell: object) -> tuple[str, ...]:
    """Media with spaces, commas or semicolons between."""
    parts = cell if isinstance(cell, tuple | list) else re.split(r"[\s,;]+", cells.as_text(cell).strip(" ,;"))
    return tuple(parts)


def parse_heat_hours(cell: object) -> float:
    """Hours of a heat pack; ``yes`` and ``no`` of shelves made before count as `HEAT_PACK_H` and none."""
    if isinstance(cell, bool) or cells.as_text(cell).casefold() in ("yes", "no"):
        return HEAT_PACK_H if cells.parse_yes_no(cell) else 0.0
    return cells.NumberParser(0, 1000, "hours")(cell)


Media = Annotated[tuple[Medium, ...], BeforeValidator(parse_media)]
HeatHours = Annotated[float, BeforeValidator(parse_heat_hours)]
Holds = Annotated[int, BeforeValidator(cells.whole_between(1, 10_000))]


class Packing(cells.Row):
    """One row of ``packings``: a unit that eggs travel in, what it costs them, and when not to use it."""

    former: ClassVar[Mapping[str, str]] = {"heat_pack": "heat_pack_h"}

    packing: cells.Key
    kind: Kind
    media: Media
    medium: Medium | None = None
    volume_ml: cells.Millilitres | None = None
    water_ml: cells.Millilitres | None = None
    eggs_max: cells.Ordered
    hatch_ceiling: cells.Share
    any_ceiling: cells.Share = 1.0
    hatch_held: cells.Share | None = None
    fry_live: cells.Share = 0.0
    loss_handling: cells.Rate
    loss_per_day: cells.Rate
    kappa: cells.Positive = 40.0
    insulated_h: cells.Hours | None = None
    heat_pack_h: HeatHours = 0.0
    heat_pack_g: cells.Grams | None = None
    weight_g: cells.Grams = 0.0
    thick_mm: cells.Millimetres | None = None
    cost: cells.Money = Decimal(0)
    box: cells.Key | None = None
    box_g: cells.Grams | None = None
    note: cells.Note = ""

    @property
    def is_a(self) -> PackingKind:
        """What its kind makes of it."""
        return KIND_BY_WORD[self.kind]

    @property
    def held(self) -> float:
        """The share of due eggs that the packing holds back from hatching; where not given, its kind's."""
        return self.is_a.holds_back if self.hatch_held is None else self.hatch_held

    def travels_in(self, lot_medium: str) -> str:
        """The medium the eggs travel in."""
        return self.medium or lot_medium


class Box(cells.Row):
    """One row of ``boxes``."""

    box: cells.Key
    length_mm: cells.Millimetres | None = None
    width_mm: cells.Millimetres | None = None
    thick_mm: cells.Millimetres | None = None
    tare_g: cells.Grams
    holds: Holds = 1
    rigid: cells.YesNo = False
    vented: cells.YesNo = False
    wall_mm: cells.Millimetres | None = None
    bottle_ml: cells.Millilitres = 0.0
    insulated_h: cells.Hours | None = None
    cost: cells.Money = Decimal(0)

    @property
    def inside_ml(self) -> float | None:
        """What its inside holds [ml]; None where a size is not known."""
        return math.prod(self.inside_mm) / 1000 if self.inside_mm else None

    @property
    def inside_mm(self) -> tuple[float, float, float] | None:
        """Its inner length, width and height [mm]: the outer less two walls; None: not known."""
        if not (self.length_mm and self.width_mm and self.thick_mm):
            return None
        walls = 2 * (self.wall_mm or 0.0)
        length, width, height = (
            max(0.0, outer - walls) for outer in (self.length_mm, self.width_mm, self.thick_mm)
        )
        return length, width, height


def is_withdrawn(box: Box) -> bool:
    """Is it a starter box with the hours that were withdrawn: 12 of a foam box that nobody measured?"""
    return box.box in STARTER_FOAM and box.insulated_h == WITHDRAWN_H and box.wall_mm is None
