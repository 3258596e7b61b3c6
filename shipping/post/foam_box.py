"""How long a box holds its warmth: box, bottle, packing and heat pack in, hours and shares out."""

from __future__ import annotations

import math
import operator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipping.tables.rows.packings import MOST_FILLED, Box, Packing, is_withdrawn
from shipping.words.units import degrees

Floats = NDArray[np.float64]
#: Heat passing a foam box, per hour and cm2 of its inner faces per ml of water, at a wall of `FOAM_WALL_MM`.
FOAM_I = 0.11
FOAM_WALL_MM = 25.0
#: Bottles of water are advised in steps of so much [ml].
BOTTLE_ML = 250
#: No heat pack for a parcel gives so much [W] (assumed), nor more than its weight of iron that rusts [Wh/g]
#: (824 kJ a mol of Fe2O3, from memory); and what a ml of water holds [Wh/C].
HEAT_PACK_W, IRON_WH, WATER_WH = 10.0, 824.0 / 111.7 / 3.6, 4.186 / 3600.0
#: A heat pack wants a box at least so large [mm], longest side first (common practice, no source).
HEAT_PACK_BOX_MM = (300.0, 230.0, 150.0)
_LEAST_BOX = Box.model_validate(
    {"box": "least", "tare_g": 0, "wall_mm": FOAM_WALL_MM}
    | dict(zip(("length_mm", "width_mm", "thick_mm"), HEAT_PACK_BOX_MM, strict=True))
)
#: What is said wherever the law is used.
LAW = "foam-box law, Aquaculture 1998, year and journal from memory; other walls than 25 mm assumed"


@dataclass(frozen=True, slots=True)
class Holding:
    """How the inside follows the outside: ``warm_h`` [h] is the time constant (0: it is the outside itself),
    ``heat_pack_h`` [h] how long a heat pack keeps it as it was packed; on days too cold for that in practice
    it falls to what lies ``lift_c`` [C] over the outside.
    """

    warm_h: float = 0.0
    heat_pack_h: float = 0.0
    lift_c: float = math.inf

    def leads(self, hours: Floats) -> Floats:
        """The share of the lead over the outside that is left so many hours after hand-over, 0 to 1."""
        return self._left(hours - self.heat_pack_h)

    def after_stretch(
        self, start_c: Floats, outside_c: Floats, at_h: Floats | float, hours: Floats, lift_c: Floats
    ) -> Floats:
        """The inside [C] after ``hours`` [h] at ``outside_c``, from ``start_c`` at the hour ``at_h``; a
        heat pack lifts it by ``lift_c`` at most.
        """
        with_pack = np.minimum(hours, np.maximum(0.0, self.heat_pack_h - at_h))
        lifted = np.minimum(start_c, outside_c + lift_c)
        inside = lifted + (start_c - lifted) * self._left(with_pack)
        return outside_c + (inside - outside_c) * self._left(hours - with_pack)

    def _left(self, hours: Floats) -> Floats:
        if self.warm_h <= 0:
            return np.where(hours > 0, 0.0, 1.0)
        return np.exp(-np.maximum(hours, 0.0) / self.warm_h)

    @property
    def gone_h(self) -> float:
        """Hours after which less than 1e-8 of the lead is left."""
        return self.heat_pack_h + 18.5 * self.warm_h


def box_warm_h(box: Box | None, bottle_ml: float | None = None) -> float:
    """The time constant of a box with its bottle, or with another [h]; 0 where it is no foam or has no water.

    Notes
    -----
    ``W / (I A)``: W ml of the bottle, A cm2 of all six inner faces, ``I = 0.11 * 25 / wall_mm`` (the scaling
    by the wall is assumed). What units hold is little and left out, so that a box has one figure. Where the
    breeder measured ``insulated_h``, the hours after which half of the lead is gone, it is that over ln 2.

    References
    ----------
    "Insulating properties of foam boxes for live fish", Aquaculture, 1998 (year and journal from memory); its
    figure is for a wall of about 25 mm and about 8 l.
    """
    if box is None:
        return 0.0
    if bottle_ml is None and box.insulated_h is not None and not is_withdrawn(box):
        return box.insulated_h / math.log(2.0)
    water = box.bottle_ml if bottle_ml is None else bottle_ml
    passing = _passing(box)
    return water / passing if passing and water > 0 else 0.0


def _passing(box: Box) -> float:
    """Heat passing a foam box in an hour, as ml of water; 0 where it is no foam or of unknown size."""
    if not box.wall_mm or not box.inside_mm:
        return 0.0
    length, width, height = (side / 10 for side in box.inside_mm)
    return FOAM_I * FOAM_WALL_MM / box.wall_mm * 2 * (length * width + length * height + width * height)


def holding(packing: Packing, box: Box | None) -> Holding:
    """How a packing in a box holds its warmth: as measured with these contents, else as the box does.

    Notes
    -----
    A heat pack gives at most `HEAT_PACK_W`, and what its weight of iron gives in its hours; it lifts the
    inside until as much passes its box: one that is no foam, or of unknown size, passes at least what the
    least foam box for a heat pack does (assumed).
    """
    measured, pack_h = packing.insulated_h, packing.heat_pack_h
    warm_h = box_warm_h(box) if measured is None else measured / math.log(2.0)
    if not pack_h:
        return Holding(warm_h)
    watts = min(HEAT_PACK_W, IRON_WH * (packing.heat_pack_g or math.inf) / pack_h)
    passing = (_passing(box) if box else 0.0) or _passing(_LEAST_BOX)
    return Holding(warm_h, pack_h, watts / (passing * WATER_WH))


def takes_a_heat_pack(box: Box | None) -> bool:
    """Is the box vented and large enough for a heat pack? Of a size that is not known nothing is said."""
    if box is None:
        return True
    sides = box_sides(box)
    return box.vented and (not sides or all(map(operator.ge, sides, HEAT_PACK_BOX_MM)))


def box_sides(box: Box) -> list[float]:
    """The sides of a box, longest first [mm]; none where one is not known."""
    if not (box.length_mm and box.width_mm and box.thick_mm):
        return []
    return sorted((box.length_mm, box.width_mm, box.thick_mm), reverse=True)


@lru_cache(maxsize=65536)
def bottled_ml(box: Box, start_c: float, outside_c: float, limit_c: float, hours: float) -> int | None:
    """The bottle that keeps the inside within the limit for a stretch [ml]; None where none that fits does.

    ``start_c`` inside, ``outside_c`` and ``limit_c`` [C]; ``hours`` the stretch [h].
    """
    if not box.wall_mm or box.inside_ml is None:
        return None
    for water in range(BOTTLE_ML, int(MOST_FILLED * box.inside_ml) + 1, BOTTLE_ML):
        inside = outside_c + (start_c - outside_c) * math.exp(-hours / box_warm_h(box, water))
        if (inside >= limit_c) if outside_c < limit_c else (inside <= limit_c):
            return water
    return None


def bridge_advice(box: Box | None, start_c: float, outside_c: float, limit_c: float, hours: float) -> str:
    """What would make that box bridge a stretch, by the law, in a sentence; "" where no box is named."""
    if box is None:
        return ""
    if not box.wall_mm:
        return (
            f" {box.box} is no foam box by your table (its wall_mm is blank), so nothing is reckoned for it."
        )
    water = bottled_ml(box, start_c, outside_c, limit_c, hours)
    if water is None:
        return f" No bottle of {degrees(start_c)} that fits into {box.box} would hold {hours:g} h ({LAW})."
    return (
        f" A bottle of {water / 1000:g} l of water at {degrees(start_c)} in {box.box} would hold {hours:g} h"
        f" ({LAW}): write it in bottle_ml."
    )
