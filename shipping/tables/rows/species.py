"""A species as the breeder's table describes it; what the first starter tables had wrong as it is today."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator

from shipping.tables import cells
from shipping.words.three_point import ThreePoint, three_point

Incubation = Annotated[Literal["water", "damp", "either"], cells.OneWord()]
SendFrom = Annotated[Literal["eyed", "fertile"], cells.OneWord()]
ZeroBasis = Annotated[Literal["published", "common practice", "assumed", "learned"], cells.OneWord()]
EyedAt = Annotated[float, BeforeValidator(cells.NumberParser(0.05, 0.95, "a share of the way to hatching"))]


class Species(cells.Row):
    """One row of ``species``; ``None`` is a blank cell, and is never read as a known value."""

    species: cells.Key
    scientific_name: cells.Text
    synonyms: cells.Words = ()
    common_name: cells.Text = ""
    family: cells.Text
    incubation: Incubation
    hatch_early_d: cells.DaysAbove
    hatch_usual_d: cells.DaysAbove | None = None
    hatch_late_d: cells.DaysAbove
    incubation_c: cells.Celsius
    zero_c: cells.Celsius = 10.0
    zero_basis: ZeroBasis = "assumed"
    eyed_at: EyedAt = 0.5
    send_from: SendFrom | None = None
    keep_min_c: cells.Celsius | None = None
    keep_max_c: cells.Celsius | None = None
    egg_mm: cells.Positive | None = None
    o2_ug_egg_h: cells.Positive = 0.21
    o2_basis: ZeroBasis = "assumed"
    hatch_share: cells.ShareAbove | None = None
    raise_share: cells.ShareAbove | None = None
    female_share: cells.ShareAbove | None = None
    sex_kappa: cells.Positive = 20.0
    ready_keeps_d: cells.Days | None = None
    adult_cm: cells.Positive | None = None
    hatch_depth_mm: cells.Positive | None = None
    cue: cells.Note = ""
    first_food: cells.Note = ""
    water_note: cells.Note = ""
    care: cells.Key | None = None
    source: cells.Note = ""

    @property
    def genus(self) -> str:
        return self.scientific_name.split()[0]

    @property
    def binomial(self) -> str:
        """Genus and species, without a subspecies."""
        return " ".join(self.scientific_name.split()[:2])

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


#: The egg whose use of oxygen was measured: medaka, Leaf et al. 2011, Copeia 2011(4):559-565 [mm].
MEDAKA_MM = 1.08
#: Its use an hour at 25 C, the default of the column (Marty, Hinton & Cech 1990, ETC 9:1397-1403) [ug].
MEDAKA_UG_H = 0.21
#: Smaller eggs than this are not reckoned lower [mm].
AS_MEDAKA_MM = 1.1


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A starter value known by what its source said of it, for fish whose scientific name holds ``of``."""

    column: str
    was: float
    said: str
    now: float
    of: str = ""


_COOL_WINTERS = "lower: assumed for a fish of cool winters"
_WITHDRAWN = (
    Withdrawn(
        "keep_min_c", 10, "10 C for eggs during the hours on the way: assumed from the practice with", 15
    ),
    Withdrawn("keep_min_c", 10, "keep range: assumed for a highland fish kept at 18-20 C", 12),
    Withdrawn("keep_min_c", 5, _COOL_WINTERS, 10, "Fundulus"),
    Withdrawn("keep_min_c", 5, _COOL_WINTERS, 10, "Jordanella"),
    Withdrawn("keep_min_c", 5, _COOL_WINTERS, 10, "Lucania"),
    Withdrawn("keep_min_c", 5, _COOL_WINTERS, 12),
    Withdrawn("keep_min_c", 4, "lower: some stood 2-4 C, common practice, no source", 8),
    Withdrawn("keep_min_c", 10, "keep range: assumed;", 15, "Cyprinodon"),
    Withdrawn("keep_min_c", 15, "keep range: assumed;", 18, "Lamprichthys"),
    Withdrawn("keep_max_c", 34, "develops at 16-34 C)", 30, "latipes"),
    Withdrawn("keep_max_c", 32, "held at 32.5 C from 2.5 h on", 30, "rerio"),
    Withdrawn("keep_max_c", 30, "most fish survive 15-27 C", 27, "grandis"),
    Withdrawn("keep_max_c", 30, "upper: assumed;", 27, "filamentosus"),
    Withdrawn("keep_max_c", 30, "upper: assumed;", 27, "occidentalis"),
    Withdrawn("keep_max_c", 28, "upper: assumed;", 26, "boitonei"),
    Withdrawn("hatch_early_d", 12, "(about 14 d at 23-27 C)", 10, "chaperi"),
    Withdrawn("hatch_early_d", 10, "hatch days: from memory;", 7, "gertrudae"),
    Withdrawn("hatch_early_d", 7, "hatch days: from memory;", 5, "praecox"),
    Withdrawn("hatch_early_d", 42, "(embryo formed in 6-12 weeks);", 84, "nigripinnis"),
    Withdrawn("hatch_late_d", 84, "(embryo formed in 6-12 weeks);", 180, "nigripinnis"),
)
_OXYGEN = "oxygen: assumed, the medaka rate"


def withdrawn_values(species: Species) -> Iterator[tuple[str, float, float]]:
    """(column, the withdrawn value, today's) of each value that came with the first starter tables."""
    given: Mapping[str, Any] = species.model_dump()
    told = set()
    for withdrawn in _WITHDRAWN:
        matches = given[withdrawn.column] == withdrawn.was and withdrawn.said in species.source
        if matches and withdrawn.of in species.scientific_name and withdrawn.column not in told:
            told.add(withdrawn.column)
            yield withdrawn.column, withdrawn.was, withdrawn.now
    large = species.egg_mm is not None and species.egg_mm > AS_MEDAKA_MM
    if species.egg_mm and large and species.o2_ug_egg_h == MEDAKA_UG_H and _OXYGEN in species.source:
        yield "o2_ug_egg_h", MEDAKA_UG_H, oxygen_by_volume(species.egg_mm)


def oxygen_by_volume(egg_mm: float) -> float:
    """What an egg of so many mm uses in an hour [ug], by its volume from the medaka's; never below it.

    Between medaka and Atlantic salmon (0.027 mg an egg and hour at 10 C) use grows nearly with volume; for
    killifish none is published, so it is assumed.
    """
    return round(MEDAKA_UG_H * max(1.0, (egg_mm / MEDAKA_MM) ** 3), 2)


def as_of_today(species: Species) -> Species:
    """The species with today's values in place of the withdrawn ones; nothing is written to its table."""
    changed = {column: now for column, _, now in withdrawn_values(species)}
    return species.model_copy(update=changed) if changed else species
