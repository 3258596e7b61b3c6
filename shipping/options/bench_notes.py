"""What the packing bench should know of one draw: a ride, its counts and its box in, notes as data out."""

from __future__ import annotations

from shipping.eggs.oxygen import gas_growth
from shipping.options.option import Ride
from shipping.post.foam_box import bottled_ml, bridged_hours
from shipping.post.warmth import pack_hint
from shipping.tables.rows.packings import Box
from shipping.tables.rows.species import Species
from shipping.words.reasons import Note

#: A heat pack wants a box at least so large [mm], longest side first (common practice, no source).
HEAT_PACK_BOX_MM = (300.0, 230.0, 150.0)
#: Parcels at or below the one or above the other are kept back by the trade, or fetched from a cooled depot
#: [C].
KEPT_BACK_C = (4.4, 32.2)


def bench_notes(
    ride: Ride, each: int, hours: float | None, box: Box | None, water_ml: float
) -> tuple[Note, ...]:
    """What to mind when a draw is packed; ``each`` are the eggs of its fullest unit.

    ``hours`` of air [h] are None for anything but a tube with known volumes; ``box`` is the parcel's, where
    it is in the table of boxes; ``water_ml`` is all the water in the parcel.
    """
    notes = (
        *_air(ride, each, hours),
        *_swelling(ride),
        *_warmth(ride, box),
        *_foam_box(ride, box, water_ml),
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
    if packing.is_a.is_damp:
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


def _foam_box(ride: Ride, box: Box | None, water_ml: float) -> list[Note]:
    """How long the foam and the water in it hold the warmth, where the parcel will leave the species'
    range.
    """
    lot, species, warmth = ride.lot_day.forecast.lot, ride.lot_day.forecast.species, ride.leg.warmth
    found: list[Note] = []
    if box is None or not box.insulated_h:
        return found
    for outside, limit, side in _left_range(species, warmth.low_c, warmth.high_c):
        held = bridged_hours(box, lot.kept_at_c, outside, limit, water_ml)
        if held is None or held >= ride.leg.service.exposed_h:
            continue
        facts: dict[str, object] = {"box": box.box, "water_ml": round(water_ml), "time": _time(held)}
        facts |= {"start": lot.kept_at_c, "outside": round(outside), "limit": limit}
        facts |= {"insulated_h": box.insulated_h}
        found += [Note(f"foam-{side if water_ml > 0 else 'dry'}", facts), _bottle(ride, box, outside, limit)]
    return found


def _left_range(species: Species, low_c: float, high_c: float) -> list[tuple[float, float, str]]:
    """(outside, limit, the side of it to stay on) where the parcel leaves the species' range."""
    found = []
    if species.keep_min_c is not None and low_c < species.keep_min_c:
        found.append((low_c, species.keep_min_c, "above"))
    if species.keep_max_c is not None and high_c > species.keep_max_c:
        found.append((high_c, species.keep_max_c, "below"))
    return found


def _bottle(ride: Ride, box: Box, outside: float, limit: float) -> Note:
    start, hours = ride.lot_day.forecast.lot.kept_at_c, ride.leg.service.exposed_h
    water = bottled_ml(box, start, outside, limit, hours)
    if water is None:
        return Note("no-bottle", {"hours": hours})
    return Note("bottle", {"litres": water / 1000, "start": start, "hours": hours})


def _time(hours: float) -> str:
    return f"{hours:.1f} h" if hours >= 1 else f"{max(1, round(hours * 60))} min"


def _moisture(ride: Ride) -> list[Note]:
    species, lot = ride.lot_day.forecast.species, ride.lot_day.forecast.lot
    found: list[Note] = []
    if not species.is_damp and ride.packing.travels_in(lot.medium) != "water":
        found.append(Note("wet-water-eggs"))
    if species.is_damp and lot.wet_from is None:
        found.append(Note("resting"))
    return found
