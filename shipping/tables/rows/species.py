"""A species (or strain, or genus) as the breeder's table describes it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator

from shipping.tables.cells import (
    Celsius,
    Days,
    DaysAbove,
    Key,
    Note,
    Positive,
    Row,
    ShareAbove,
    Text,
    Words,
    number_between,
    parse_word,
)
from shipping.words.three_point import ThreePoint, three_point

Incubation = Annotated[
    Literal["water", "damp", "either"], BeforeValidator(parse_word("water", "damp", "either"))
]
SendFrom = Annotated[Literal["eyed", "fertile"], BeforeValidator(parse_word("eyed", "fertile"))]
ZeroBasis = Annotated[
    Literal["published", "common practice", "assumed", "learned"],
    BeforeValidator(parse_word("published", "common practice", "assumed", "learned")),
]
EyedAt = Annotated[float, BeforeValidator(number_between(0.05, 0.95, "a share of the way to hatching"))]


class Species(Row):
    """One row of ``species``; ``None`` is a blank cell, and is never read as a known value."""

    species: Key
    scientific_name: Text
    synonyms: Words = ()
    common_name: Text = ""
    family: Text
    incubation: Incubation
    hatch_early_d: DaysAbove
    hatch_usual_d: DaysAbove | None = None
    hatch_late_d: DaysAbove
    incubation_c: Celsius
    zero_c: Celsius = 10.0
    zero_basis: ZeroBasis = "assumed"
    eyed_at: EyedAt = 0.5
    send_from: SendFrom | None = None
    keep_min_c: Celsius | None = None
    keep_max_c: Celsius | None = None
    egg_mm: Positive | None = None
    o2_ug_egg_h: Positive = 0.21
    o2_basis: ZeroBasis = "assumed"
    hatch_share: ShareAbove | None = None
    raise_share: ShareAbove | None = None
    female_share: ShareAbove | None = None
    sex_kappa: Positive = 20.0
    ready_keeps_d: Days | None = None
    adult_cm: Positive | None = None
    hatch_depth_mm: Positive | None = None
    cue: Note = ""
    first_food: Note = ""
    water_note: Note = ""
    care: Key | None = None
    source: Note = ""

    @property
    def genus(self) -> str:
        return self.scientific_name.split()[0]

    @property
    def hatch_days(self) -> ThreePoint:
        """Days to hatch at ``incubation_c``."""
        return three_point(self.hatch_early_d, self.hatch_usual_d, self.hatch_late_d)

    @property
    def is_damp(self) -> bool:
        """Does it need damp incubation (annual fish)?"""
        return self.incubation == "damp"

    @property
    def keeps_ready_d(self) -> float:
        """Days that eggs which are ready keep damp; 60 for damp incubation, else 7 (assumed)."""
        if self.ready_keeps_d is not None:
            return self.ready_keeps_d
        return 60.0 if self.is_damp else 7.0
