"""How long a foam box holds its warmth: a box, its water and two temperatures in, hours or millilitres
out.
"""

from __future__ import annotations

import math
from functools import lru_cache

from shipping.tables.rows.packings import Box

#: Heat passing a foam box of about 25 mm wall, per hour and cm2 of surface per mL of water.
FOAM_I = 0.11
#: Bottles of water are advised in steps of so much [ml].
BOTTLE_ML = 250
#: What is said wherever the law is used.
LAW = "foam-box law, Aquaculture 1998, year and journal from memory; assumed: foam of about 25 mm"


def bridged_hours(
    box: Box, start_c: float, outside_c: float, limit_c: float, water_ml: float
) -> float | None:
    """Hours until the water in a foam box passes the limit; None where the box has no sizes, inf where it
    never does.

    ``start_c``, ``outside_c`` and ``limit_c`` in C, ``water_ml`` all the water in the box (tubes, bags,
    bottles).

    Notes
    -----
    ``T(t) = Ta + (T0 - Ta) * exp(-t * I * Ws / Wv)`` with ``Ws = 2LW + 2Wv/W + 2Wv/L`` [cm, cm2, mL]. I =
    0.11 is for a foam wall of about 25 mm and about 8 L of water; far from that it is a guess. A few mL in a
    tube hold no heat: they follow the outside within the hour.

    References
    ----------
    "Insulating properties of foam boxes for live fish", Aquaculture, 1998 (year and journal from memory).
    """
    if not box.length_mm or not box.width_mm:
        return None
    sign = 1.0 if outside_c < start_c else -1.0
    to_lose, to_limit = sign * (start_c - outside_c), sign * (limit_c - outside_c)
    if to_lose == 0 or to_limit <= 0:
        return math.inf
    if to_limit >= to_lose or water_ml <= 0:
        return 0.0
    length, width = box.length_mm / 10, box.width_mm / 10
    surface = 2 * length * width + 2 * water_ml / width + 2 * water_ml / length
    return math.log(to_lose / to_limit) / (FOAM_I * surface / water_ml)


def bottled_ml(box: Box, start_c: float, outside_c: float, limit_c: float, hours: float) -> int | None:
    """The water that holds a foam box's warmth so long [ml, in steps of a bottle]; None where half the box
    cannot.
    """
    if not (box.length_mm and box.width_mm and box.thick_mm):
        return None
    most = int(box.length_mm * box.width_mm * box.thick_mm / 1000 / 2)
    for water in range(BOTTLE_ML, most + 1, BOTTLE_ML):
        held = bridged_hours(box, start_c, outside_c, limit_c, water)
        if held is not None and held >= hours:
            return water
    return None


@lru_cache(maxsize=65536)
def bridge_advice(box: Box, start_c: float, outside_c: float, limit_c: float, hours: float) -> str:
    """What would make that box bridge the hours, by the law; that it cannot be reckoned where wall or sizes
    are not known.

    A box counts as foam only where the table says that it insulates: of any other the wall is not known, and
    nothing is reckoned. What is said here is advice; only ``insulated_h`` lets a packing pass.
    """
    if not box.insulated_h:
        return (
            f"{box.box} holds no warmth by your table (its insulated_h is 0 or blank), so nothing is reckoned"
            " for it."
        )
    if not (box.length_mm and box.width_mm and box.thick_mm):
        return f"The sizes of {box.box} are not all known, so the foam-box law cannot be reckoned for it."
    water = bottled_ml(box, start_c, outside_c, limit_c, hours)
    if water is None:
        return f"Packed at {start_c:g} C, no water that fits into {box.box} would hold {hours:g} h ({LAW})."
    return (
        f"{water / 1000:g} l of water at {start_c:g} C in {box.box} would hold {hours:g} h ({LAW}): "
        "if you have tried it, write it in insulated_h."
    )
