"""What the post asks for one parcel: units, service and country in; its box, weight, postage, and why
nothing takes it, out.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shipping.post.weight import ParcelBox, box_for, parcel_weight, postage, postage_reasons
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Reason

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


def quote(shelf: Shelf, units: Units, service: Service, country: str) -> Quote:
    """What a parcel of these units by a service to a country goes in, weighs and costs, and why it does not
    go.
    """
    box = box_for(shelf, units)
    if box is None:
        return Quote(NO_BOX, parcel_weight(units, NO_BOX), Decimal(0), (_no_box(units),))
    weight = parcel_weight(units, box)
    band = postage(shelf, service.service, country, weight, box.thick_mm)
    if band is not None:
        return Quote(box, weight, band.price, ())
    if service.is_collection:
        return Quote(box, weight, Decimal(0), ())
    why = postage_reasons(shelf, service.service, country, weight, box.thick_mm)
    return Quote(box, weight, Decimal(0), why)


def _no_box(units: Units) -> Reason:
    named = " and ".join(f"{count} of {packing.packing}" for packing, count in units)
    text = f"No box holds {named} as such a unit needs (rigid for bags, vented for breathing bags)."
    facts: dict[str, object] = {"packing": units[0][0].packing, "units": sum(count for _, count in units)}
    return Reason("no-packing", text, facts, "boxes")
