"""Packings (tube, breathing bag, damp bag) and the boxes they travel in."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator

from shipping.tables.cells import (
    Grams,
    Hours,
    Key,
    Millilitres,
    Millimetres,
    Money,
    Note,
    Ordered,
    Positive,
    Rate,
    Row,
    Share,
    YesNo,
    as_text,
    parse_word,
    whole_between,
)
from shipping.tables.rows.lots import Medium
from shipping.tables.rows.packing_kinds import KIND_BY_WORD, PackingKind

Kind = Annotated[str, BeforeValidator(parse_word(*KIND_BY_WORD))]


def parse_media(cell: object) -> tuple[str, ...]:
    """Media with spaces, commas or semicolons between."""
    return (
        tuple(cell)
        if isinstance(cell, tuple | list)
        else tuple(re.split(r"[\s,;]+", as_text(cell).strip(" ,;")))
    )


Media = Annotated[tuple[Medium, ...], BeforeValidator(parse_media)]
Holds = Annotated[int, BeforeValidator(whole_between(1, 10_000))]


class Packing(Row):
    """One row of ``packings``: a unit that eggs travel in, what it costs them, and when it must not be
    used.
    """

    packing: Key
    kind: Kind
    media: Media
    medium: Medium | None = None
    volume_ml: Millilitres | None = None
    water_ml: Millilitres | None = None
    eggs_max: Ordered
    hatch_ceiling: Share
    any_ceiling: Share = 1.0
    hatch_held: Share | None = None
    fry_live: Share = 0.0
    loss_handling: Rate
    loss_per_day: Rate
    kappa: Positive = 40.0
    insulated_h: Hours = 0.0
    heat_pack: YesNo = False
    weight_g: Grams = 0.0
    thick_mm: Millimetres | None = None
    cost: Money = Decimal(0)
    box: Key | None = None
    box_g: Grams | None = None
    note: Note = ""

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


class Box(Row):
    """One row of ``boxes``."""

    box: Key
    length_mm: Millimetres | None = None
    width_mm: Millimetres | None = None
    thick_mm: Millimetres | None = None
    tare_g: Grams
    holds: Holds = 1
    rigid: YesNo = False
    vented: YesNo = False
    insulated_h: Hours = 0.0
    cost: Money = Decimal(0)
