"""What the packing bench should know of one draw: a ride, its counts and its box in, notes as data out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shipping.eggs.oxygen import gas_growth
from shipping.options.option import Ride
from shipping.post.foam_box import HEAT_PACK_BOX_MM
from shipping.post.warmth import pack_hint
from shipping.tables.rows.packings import Box
from shipping.words.reasons import Note

#: Parcels at or below the one or above the other are kept back by the trade, or fetched from a cooled depot
#: [C].
KEPT_BACK_C = (4.4, 32.2)


def bench_notes(ride: Ride, each: int, hours: float | None, box: Box | None) -> tuple[Note, ...]:
    """What to mind when a draw is packed; ``each`` are the eggs of its fullest unit.

    ``hours`` of air [h] are None for anything but a tube with known volumes; ``box`` is the parcel's, where
    it is in the table of boxes.
    """
    notes = (
        *ride.leg.this_week,
        *ride.leg.forecast_wanted,
        *_air(ride, each, hours),
        *_swelling(ride),
        *_warmth(ride, box),
        *_bottle(ride, box),
        *_moisture(ride),
    )
    return tuple(notes)


def _air(ride: Ride, each: int, hours: float | None) -> list[Note]:
    if hours is None or hours >= ride.hours_to_p95:
        return []
    basis = ride.lot_day.forecast.species.o2_basis
    facts = {"eggs": each, "hours": round(hours), "basis": basis, "needed_h": round(ride.hours_to_p95)}
    return [Note("air", facts)]


def _swelling(ride: Ride) -> list[Note]:
    """How far to fill a sealed unit that may fly."""
    packing, warm = ride.packing, ride.leg.warmth.high_c
    facts: dict[str, object] = {"high": round(warm), "times": round(gas_growth(warm), 2)}
    if packing.is_a.is_damp and packing.is_a.is_soft:
        return [Note("swells-damp-bag", facts)]
    if not packing.is_a.is_sealed:
        return []
    if packing.volume_ml is None or packing.water_ml is None:
        return [Note("swells-tube", facts)]
    filled = {"water_ml": packing.water_ml, "volume_ml": packing.volume_ml}
    return [Note("swells-filled-tube", facts | filled)]


def is_within_range(ride: Ride) -> bool:
    """Does the parcel's warmth stay within what the species is known to stand?"""
    warmth, species = ride.leg.warmth, ride.lot_day.forecast.species
    if species.keep_min_c is None or species.keep_max_c is None:
        return False
    return species.keep_min_c <= warmth.low_c and warmth.high_c <= species.keep_max_c


def _warmth(ride: Ride, box: Box | None) -> list[Note]:
    """The trade's band for the day's high, unless the parcel stays within the species' own range; then the
    box's size.
    """
    packing, warmth = ride.packing, ride.leg.warmth
    if packing.heat_pack_h:
        return [Note("heat-pack"), *_too_small(box)]
    is_kept_back = warmth.high_c < KEPT_BACK_C[0] or warmth.high_c > KEPT_BACK_C[1]
    hint = pack_hint(warmth.high_c)
    if hint == "use-heat-pack" and (ride.holds.warm_h > 0 or ride.leg.service.is_collection):
        return []  # bridged without one, or never outside rooms: more warmth than was reckoned hatches eggs
    if hint is None or (is_within_range(ride) and not is_kept_back):
        return []
    felt = {"low": round(warmth.low_c), "high": round(warmth.high_c), "basis": warmth.basis}
    return [Note("warmth", felt), Note(hint), *(_too_small(box) if hint == "use-heat-pack" else ())]


def _too_small(box: Box | None) -> list[Note]:
    """That a box is too small for a heat pack; nothing where it is not, or its sizes are not known."""
    if box is None or not (box.length_mm and box.width_mm and box.thick_mm):
        return []
    sides = sorted((box.length_mm, box.width_mm, box.thick_mm), reverse=True)
    if all(side >= least for side, least in zip(sides, HEAT_PACK_BOX_MM, strict=True)):
        return []
    size, least = (
        " × ".join(f"{side / 10:.0f}" for side in three) + " cm" for three in (sides, HEAT_PACK_BOX_MM)
    )
    return [Note("box-too-small", {"box": box.box, "size": size, "least": least})]


def _bottle(ride: Ride, box: Box | None) -> list[Note]:
    """The bottle of warm water that goes with the parcel, and how long it holds: the hours that were reckoned
    with.
    """
    if box is None or not box.bottle_ml:
        return []
    measured = ride.packing.insulated_h is not None or box.insulated_h is not None
    facts: dict[str, object] = {"box": box.box, "bottle_ml": box.bottle_ml, "measured": measured}
    facts |= {"start": ride.lot_day.forecast.kept_at_c(ride.leg.day)}
    return [Note("bottle", facts | {"half": round(ride.holds.warm_h * math.log(2.0), 1)})]


def with_one_bottle(notes: Sequence[Note]) -> tuple[Note, ...]:
    """A parcel's notes with one bottle: no warmer than the coolest of its lots is kept."""
    every = [note for note in notes if note.code != "bottle"]
    bottles = sorted(
        (note for note in notes if note.code == "bottle"), key=lambda note: float(str(note.facts["start"]))
    )
    return (*every, *bottles[:1])


def _moisture(ride: Ride) -> list[Note]:
    species, lot = ride.lot_day.forecast.species, ride.lot_day.forecast.lot
    found: list[Note] = []
    if not species.is_damp and ride.packing.travels_in(lot.medium) != "water":
        found.append(Note("wet-water-eggs"))
    if species.is_damp and lot.wet_from is None:
        found.append(Note("resting"))
    return found
