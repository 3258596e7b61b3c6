"""What a parcel weighs and the post asks: units, service, country in; box, weight, postage or why not out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shipping.post.foam_box import box_warm_h, holding, takes_a_heat_pack
from shipping.tables.country_parts import nearness, serves
from shipping.tables.rows.packings import MOST_FILLED, Box, Packing
from shipping.tables.rows.services import Postage, Service
from shipping.tables.shelf import Shelf
from shipping.words.keys import IdentityKey, grouped
from shipping.words.reasons import Reason


@dataclass(frozen=True, slots=True)
class Band:
    """A price up to a weight [g] and a thickness [mm; None is any].

    ``over_g`` and ``over_mm`` are 0 in any ordinary table: they are set only where a row for a wider area is
    cheaper than one for a narrower, which it must not undercut; then the band is for parcels heavier or
    thicker than that.
    """

    up_to_g: float
    up_to_mm: float | None
    price: Decimal
    over_g: float = 0.0
    over_mm: float = 0.0

    def fits(self, weight_g: float, thick_mm: float | None) -> bool:
        """Is the band for such a parcel? A parcel of unknown thickness fits no band that has a limit."""
        thick = math.inf if thick_mm is None else thick_mm
        most = math.inf if self.up_to_mm is None else self.up_to_mm
        heavy_enough = weight_g > self.over_g or self.over_g == 0
        thick_enough = thick > self.over_mm or self.over_mm == 0
        return weight_g <= self.up_to_g and thick <= most and heavy_enough and thick_enough


def bands(shelf: Shelf, service_name: str, country: str, part: str = "") -> tuple[Band, ...]:
    """All prices of a service to a country, lightest first; a parcel pays the least of the bands it fits.

    Notes
    -----
    A row that names the part of the country wins over the country's, that over a zone's, that over ``*``;
    what is too heavy or too thick for the nearer rows falls through to the wider ones.
    """
    return _bands(IdentityKey(shelf), service_name, country, part)


def postage(
    shelf: Shelf, service_name: str, country: str, weight_g: float, thick_mm: float | None, part: str = ""
) -> Band | None:
    """The band a parcel pays by, or None where nothing takes it."""
    fitting = (band for band in bands(shelf, service_name, country, part) if band.fits(weight_g, thick_mm))
    return min(fitting, key=lambda band: (band.price, band.up_to_g), default=None)


def postage_reasons(
    shelf: Shelf, service_name: str, country: str, weight_g: float, thick_mm: float | None, part: str = ""
) -> tuple[Reason, ...]:
    """Why no postage takes the parcel: `no-route` by its weight, `too-thick`; empty where one does."""
    if postage(shelf, service_name, country, weight_g, thick_mm, part):
        return ()
    prices = bands(shelf, service_name, country, part)
    facts: dict[str, object] = {"service": service_name, "to": country, "weight_g": round(weight_g, 1)}
    heavy_enough = [band for band in prices if weight_g <= band.up_to_g]
    if not heavy_enough:
        most = max((band.up_to_g for band in prices), default=0.0)
        limit = f"its postage ends at {most:g} g" if prices else "it has no postage there"
        text = f"{service_name} takes no parcel of {weight_g:.0f} g to {country}: {limit}."
        return (Reason("no-route", text, facts | {"up_to_g": most}, "postage"),)
    widest = max(band.up_to_mm or 0.0 for band in heavy_enough)
    thick = "of unknown thickness" if thick_mm is None else f"{thick_mm:g} mm thick"
    text = (
        f"{service_name} takes no parcel {thick} of {weight_g:.0f} g to {country}: the limit is"
        f" {widest:g} mm."
    )
    return (Reason("too-thick", text, facts | {"thick_mm": thick_mm, "up_to_mm": widest}, "postage"),)


@lru_cache(maxsize=4096)
def _bands(key: IdentityKey[Shelf], service_name: str, country: str, part: str) -> tuple[Band, ...]:
    near = nearness(country, part, key.value.zones_of(country))
    own = (row for row in key.value.postage if row.service == service_name)
    levels = grouped((serves(row.to, near), row) for row in own)
    found: set[Band] = set()
    nearer: list[Postage] = []
    for level in sorted(filter(None, levels), reverse=True):
        for row in levels[level]:
            found.update(_beyond(row, nearer))
        nearer += levels[level]
    thick = math.inf
    return tuple(
        sorted(
            found, key=lambda b: (b.up_to_g, thick if b.up_to_mm is None else b.up_to_mm, b.price, b.over_g)
        )
    )


def _beyond(row: Postage, nearer: list[Postage]) -> list[Band]:
    """The bands of a row, for parcels that fit none of the nearer rows."""
    band = Band(row.up_to_g, row.up_to_mm, row.price)
    if all(row.price >= other.price for other in nearer):
        return [band]
    most = math.inf if row.up_to_mm is None else row.up_to_mm
    corners = [
        (over_g, over_mm) for over_g, over_mm in _corners(nearer) if over_g < row.up_to_g and over_mm < most
    ]
    return [Band(row.up_to_g, row.up_to_mm, row.price, over_g, over_mm) for over_g, over_mm in corners]


def _corners(nearer: list[Postage]) -> list[tuple[float, float]]:
    """The stairs above the nearer rows: beyond a corner (heavier and thicker) none fits."""
    corners: list[tuple[float, float]] = []
    over_mm = math.inf
    limits = [(other.up_to_g, math.inf if other.up_to_mm is None else other.up_to_mm) for other in nearer]
    for over_g in sorted({weight for weight, _ in limits} | {0.0}):
        tallest = max((thick for weight, thick in limits if weight > over_g), default=0.0)
        if tallest < over_mm:
            corners.append((over_g, tallest))
            over_mm = tallest
    return corners


@dataclass(frozen=True, slots=True)
class ParcelBox:
    """The box a parcel travels in; ``name`` is "" without a table of boxes; thickness None is unknown."""

    name: str
    tare_g: float
    thick_mm: float | None
    cost: Decimal
    bottle_ml: float = 0.0
    warm_h: float = 0.0


def box_for(shelf: Shelf, packings_with_units: tuple[tuple[Packing, int], ...]) -> ParcelBox | None:
    """The smallest box that takes all units, or None where none does.

    Notes
    -----
    With a table of boxes: the lightest (then the one that holds least, then by name) that holds all units, is
    rigid for any bag, vented for any breathing bag, no thinner than any unit that names another, and holds
    its warmth as long as the box that each packing names, since the eggs' clock rests on it; bottle and units
    fill at most 0.8 of it. Without one: the largest ``box_g`` of the packings, once, as thick as its thickest
    unit.
    """
    if not shelf.boxes:
        return _unnamed_box(packings_with_units)
    kinds = {packing.is_a for packing, _ in packings_with_units}
    soft, breathes = any(kind.is_soft for kind in kinds), any(kind.breathes for kind in kinds)
    units = sum(count for _, count in packings_with_units)
    heats = any(packing.heat_pack_h for packing, _ in packings_with_units)
    wanted = [shelf.box_by_name.get(packing.box or "") for packing, _ in packings_with_units]
    volume_ml = sum((packing.volume_ml or 0.0) * count for packing, count in packings_with_units)

    def lies_in(box: Box, packing: Packing) -> bool:
        return box.box == packing.box or (packing.thick_mm or 0.0) <= (box.thick_mm or math.inf)

    def takes_all(box: Box) -> bool:
        safe = (box.rigid or not soft) and (box.vented or not breathes)
        full = box.inside_ml is not None and box.bottle_ml + volume_ml > MOST_FILLED * box.inside_ml
        holds = all(box_warm_h(box) == box_warm_h(named) for named in wanted)
        roomy = box.holds >= units and not (box.bottle_ml and full)
        roomy = roomy and all(lies_in(box, packing) for packing, _ in packings_with_units)
        return safe and roomy and holds and (takes_a_heat_pack(box) or not heats)

    fitting = (box for box in shelf.boxes if takes_all(box))
    smallest = min(fitting, key=lambda box: (box.tare_g, box.holds, box.box), default=None)
    if smallest is None:
        return None
    thick = smallest.thick_mm or _thickest_unit(packings_with_units)
    warm_h = min(holding(packing, smallest).warm_h for packing, _ in packings_with_units)
    return ParcelBox(smallest.box, smallest.tare_g, thick, smallest.cost, smallest.bottle_ml, warm_h)


def _unnamed_box(packings_with_units: tuple[tuple[Packing, int], ...]) -> ParcelBox:
    tare = max((packing.box_g or 0.0 for packing, _ in packings_with_units), default=0.0)
    warm_h = min((holding(packing, None).warm_h for packing, _ in packings_with_units), default=0.0)
    return ParcelBox("", tare, _thickest_unit(packings_with_units), Decimal(0), 0.0, warm_h)


def _thickest_unit(packings_with_units: tuple[tuple[Packing, int], ...]) -> float | None:
    """The thickest unit [mm], or None where any unit's thickness is unknown."""
    thicknesses = [packing.thick_mm for packing, _ in packings_with_units]
    known = [thick for thick in thicknesses if thick is not None]
    return max(known) if known and len(known) == len(thicknesses) else None


def parcel_weight(packings_with_units: tuple[tuple[Packing, int], ...], box: ParcelBox) -> float:
    """The whole parcel's weight [g]: every unit's, and the box with its bottle (1 ml is 1 g) and heat pack;
    a heat pack of which no weight is known weighs nothing.
    """
    units_g = sum(packing.weight_g * units for packing, units in packings_with_units)
    heated = (packing.heat_pack_g or 0.0 for packing, _ in packings_with_units if packing.heat_pack_h)
    return units_g + box.tare_g + box.bottle_ml + max(heated, default=0.0)


#: Packings and how many units of each.
Units = tuple[tuple[Packing, int], ...]
NO_BOX = ParcelBox("", 0.0, None, Decimal(0))


@dataclass(frozen=True, slots=True)
class Quote:
    """One parcel as the post takes it, or why it does not: ``reasons`` is empty exactly where it does.

    ``weight_g`` [g] with the box; ``postage`` 0 where it is collected in person.
    """

    box: ParcelBox
    weight_g: float
    postage: Decimal
    reasons: tuple[Reason, ...]

    @property
    def cost(self) -> float | None:
        """Postage and box; None where nothing takes the parcel."""
        return None if self.reasons else float(self.postage + self.box.cost)


def quote(shelf: Shelf, units: Units, service: Service, country: str, part: str = "") -> Quote:
    """What a parcel of these units goes in, weighs and costs, and why it does not go."""
    box = box_for(shelf, units)
    if box is None:
        return Quote(NO_BOX, parcel_weight(units, NO_BOX), Decimal(0), (_no_box(units),))
    weight = parcel_weight(units, box)
    band = postage(shelf, service.service, country, weight, box.thick_mm, part)
    if band is not None:
        return Quote(box, weight, band.price, ())
    if service.is_collection:
        return Quote(box, weight, Decimal(0), ())
    why = postage_reasons(shelf, service.service, country, weight, box.thick_mm, part)
    return Quote(box, weight, Decimal(0), why)


def _no_box(units: Units) -> Reason:
    counts: dict[str, int] = {}
    for packing, count in units:
        counts[packing.packing] = counts.get(packing.packing, 0) + count
    named = " and ".join(f"{count} of {packing}" for packing, count in counts.items())
    text = f"No box holds {named} as such a unit needs (rigid for bags, vented for breathing bags)."
    facts: dict[str, object] = {"packing": ", ".join(counts), "units": sum(counts.values())}
    if len(counts) > 1:
        facts["mixed"] = True
    return Reason("no-packing", text, facts, "boxes")
