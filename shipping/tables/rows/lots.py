"""Lots of eggs, and the looks at them."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator

from shipping.tables.cells import (
    Celsius,
    Count,
    Country,
    Day,
    Key,
    Note,
    Row,
    ShareAbove,
    Text,
    YesNo,
    number_between,
    parse_word,
)

STAGES = ("laid", "fertile", "eyed", "ready")
MEDIA = ("water", "moss", "peat", "coir")
DAMP_MEDIA = frozenset({"moss", "peat", "coir"})

Stage = Annotated[Literal["laid", "fertile", "eyed", "ready"], BeforeValidator(parse_word(*STAGES))]
Medium = Annotated[Literal["water", "moss", "peat", "coir"], BeforeValidator(parse_word(*MEDIA))]
CountBasis = Annotated[Literal["counted", "estimated"], BeforeValidator(parse_word("counted", "estimated"))]
Bred = Annotated[Literal["captive", "wild"], BeforeValidator(parse_word("captive", "wild"))]
Salt = Annotated[float, BeforeValidator(number_between(0, 120, "grams of salt a litre"))]


class Lot(Row):
    """One row of ``lots``: eggs of one species and population, laid over a window of days."""

    lot: Key
    species: Key
    population: Text = ""
    laid_from: Day
    laid_to: Day
    medium: Medium
    kept_at_c: Celsius
    eggs: Count
    counted_on: Day
    count_basis: CountBasis = "counted"
    stage: Stage | None = None
    stage_on: Day | None = None
    keep_back: Count = 0
    wet_from: Day | None = None
    wet_until: Day | None = None
    fertile_share: ShareAbove | None = None
    salt_g_l: Salt = 0.0
    treatment: Text = ""
    origin: Text = ""
    origin_country: Country | None = None
    bred: Bred | None = None
    note: Note = ""

    @property
    def kept_damp(self) -> bool:
        return self.medium in DAMP_MEDIA


class Look(Row):
    """One row of ``inspections``: what somebody saw in a lot on a day; blank is not zero."""

    cited_by: ClassVar[tuple[str, ...]] = ("lot", "on")

    lot: Key
    on: Day
    stage: Stage | None = None
    alive: Count | None = None
    hatched: Count | None = None
    removed: Count | None = None
    kept_at_c: Celsius | None = None
    before_packing: YesNo | None = None
    note: Note = ""
