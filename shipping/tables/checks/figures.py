"""Figures that no breeder means: outside the bounds of their column, or of their own interval."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shipping.tables.cells import CELSIUS, Row, celsius_of
from shipping.tables.checks.row_problems import asked
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

SHARE = "a share"
#: A share that may be meant, and is only said.
SHARE_SAID = "a share of the way"


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a column of a table (a field of the draft) may be meant to hold: ``low`` to ``high`` of a unit."""

    table: str
    column: str
    low: float
    high: float
    unit: str

    def text(self, value: float) -> str:
        """What is wrong with the value; blank where it may be meant. Zero may stand for none."""
        shown = say("{value:g}", value)
        shown = shown if self.unit.startswith(SHARE) else say("{value} {unit}", shown, say(self.unit))
        if value < self.low and value != 0:
            return say("{value} is less than {low:g}, the least that is meant here.", shown, self.low)
        if value > self.high:
            return say("{value} is more than {high:g}, the most that is meant here.", shown, self.high)
        return ""

    @property
    def level(self) -> Level:
        """Shares and temperatures stop all, or their lot, until confirmed; others are said."""
        if self.unit not in (SHARE, CELSIUS):
            return Level.NOTICE
        return Level.LOT if self.table == "lots" else Level.ERROR

    def mend(self, value: float) -> str:
        if self.unit == CELSIUS and self.low <= celsius_of(value) <= self.high < value:
            return say("Write {celsius:g} for {fahrenheit:g} °F", celsius_of(value), value)
        if not self.unit.startswith(SHARE):
            return say("Write it in {unit}", say(self.unit))
        if 1 <= value <= 100:
            return say("Write {share} for {percent:g} %", f"{value / 100:g}", value)
        return say("Write the share, as 0.01 for 1 %")


#: Far apart, so that nothing real is asked about: they catch grams for kilograms, not a light box. Assumed.
BOUNDS = (
    Bounds("species", "incubation_c", 5, 35, CELSIUS),
    Bounds("species", "zero_c", -2, 20, CELSIUS),
    Bounds("species", "hatch_early_d", 1, 730, "days"),
    Bounds("species", "hatch_late_d", 1, 1000, "days"),
    Bounds("species", "egg_mm", 0.3, 8, "millimetres"),
    Bounds("species", "o2_ug_egg_h", 0.01, 5, "micrograms an hour"),
    Bounds("species", "adult_cm", 1, 40, "centimetres"),
    Bounds("species", "keep_max_c", 10, 40, "degrees C"),
    Bounds("species", "hatch_share", 0.1, 1, SHARE_SAID),
    Bounds("species", "raise_share", 0.1, 1, SHARE_SAID),
    Bounds("species", "female_share", 0.15, 0.85, SHARE_SAID),
    Bounds("species", "eyed_at", 0.15, 0.84, SHARE_SAID),
    Bounds("species", "hatch_depth_mm", 10, 250, "millimetres"),
    Bounds("species", "ready_keeps_d", 1, 400, "days"),
    Bounds("lots", "fertile_share", 0.1, 1, SHARE),
    Bounds("lots", "salt_g_l", 0, 50, "grams a litre"),
    Bounds("groups", "eggs_a_day", 0.1, 200, "eggs a day"),
    Bounds("packings", "hatch_ceiling", 0, 0.25, SHARE),
    Bounds("packings", "hatch_ceiling", 0, 0.12, SHARE_SAID),
    Bounds("packings", "loss_handling", 0, 0.5, SHARE),
    Bounds("packings", "loss_handling", 0, 0.2, SHARE_SAID),
    Bounds("packings", "loss_per_day", 0, 0.5, SHARE),
    Bounds("packings", "loss_per_day", 0.0005, 0.06, SHARE_SAID),
    Bounds("packings", "hatch_held", 0, 0.98, SHARE_SAID),
    Bounds("packings", "eggs_max", 1, 1000, "eggs"),
    Bounds("packings", "volume_ml", 1, 10_000, "millilitres"),
    Bounds("packings", "water_ml", 0.5, 10_000, "millilitres"),
    Bounds("packings", "weight_g", 2, 10_000, "grams"),
    Bounds("packings", "thick_mm", 3, 300, "millimetres"),
    Bounds("packings", "heat_pack_h", 8, 150, "hours"),
    Bounds("packings", "heat_pack_g", 10, 1000, "grams"),
    Bounds("packings", "fry_live", 0, 0.8, SHARE_SAID),
    Bounds("packings", "insulated_h", 0.1, 36, "hours"),
    Bounds("boxes", "insulated_h", 0.1, 72, "hours"),
    Bounds("boxes", "tare_g", 1, 10_000, "grams"),
    Bounds("boxes", "holds", 1, 150, "tubes or bags"),
    Bounds("boxes", "length_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "width_mm", 40, 1500, "millimetres"),
    Bounds("boxes", "thick_mm", 3, 1000, "millimetres"),
    Bounds("boxes", "wall_mm", 8, 100, "millimetres"),
    Bounds("boxes", "bottle_ml", 10, 10_000, "millilitres"),
    Bounds("services", "late_d", 0, 60, "working days"),
    Bounds("services", "early_d", 0.5, 15, "working days"),
    Bounds("services", "usual_d", 0.5, 25, "working days"),
    Bounds("services", "border_late_d", 0, 60, "working days"),
    Bounds("services", "exposed_h", 2, 240, "hours"),
    Bounds("services", "parcel_lost_share", 0, 0.5, SHARE),
    Bounds("postage", "up_to_g", 15, 35_000, "grams"),
    Bounds("postage", "up_to_mm", 5, 1500, "millimetres"),
    Bounds("weather", "low_c", -60, 45, CELSIUS),
    Bounds("weather", "low_c", -60, 33, "degrees C"),
    Bounds("weather", "high_c", -45, 50, CELSIUS),
    Bounds("disruptions", "days", 0, 40, "working days"),
)


def figures_can_be_meant(draft: Draft) -> Iterator[Problem]:
    """A figure outside its `BOUNDS` is asked about; of those of one unit on a row, the first."""
    told: set[tuple[Where, str]] = set()
    for bounds in BOUNDS:
        rows: tuple[Row, ...] = getattr(draft, bounds.table)
        for row in rows:
            value = getattr(row, bounds.column)
            if value is None or not (text := bounds.text(value)) or (row.at, bounds.unit) in told:
                continue
            for question in asked(draft, row, bounds.column, text, bounds.mend(value), bounds.level):
                told.add((row.at, bounds.unit))
                yield question
