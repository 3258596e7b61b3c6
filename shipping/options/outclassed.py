"""Packings that may match or beat another of the same line, lot and place in everything: a shelf in, pairs of
them out.

Everything is: eggs, cost, and what its units ask of box and postage. Nothing is lost, since any parcel that
holds the worse one could hold the better one instead, for no more; of equals the name that sorts first stays.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache

from shipping.post.weight import bands
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.words.identity_key import IdentityKey


def rival_packings(shelf: Shelf) -> tuple[tuple[int, int, bool], ...]:
    """(better, worse, first): packings that ask no more of box, post and purse than others for as many units
    and eggs.

    ``first``: the better one costs less or sorts first, so that it is kept of two that are equal.
    """
    return _rivals(IdentityKey(shelf))


@lru_cache(maxsize=8)
def _rivals(key: IdentityKey[Shelf]) -> tuple[tuple[int, int, bool], ...]:
    shelf = key.value
    if not _boxes_are_in_order(shelf):
        return ()
    asks = [_asks(shelf, packing) for packing in shelf.packings]
    return tuple(
        (a, b, one.cost < two.cost or one.packing < two.packing)
        for (a, one), (b, two) in itertools.permutations(enumerate(shelf.packings), 2)
        if all(x <= y for x, y in zip(asks[a], asks[b], strict=True))
    )


def _asks(shelf: Shelf, packing: Packing) -> tuple[float, ...]:
    """What a unit asks: cost, weight, box, thickness, rigidity, vents, insulation."""
    box = shelf.box_by_name.get(packing.box or "")
    return (
        float(packing.cost),
        packing.weight_g,
        packing.box_g or 0.0,
        math.inf if packing.thick_mm is None else packing.thick_mm,
        packing.kind != "tube",
        packing.kind == "breathing bag",
        box.insulated_h if box else 0.0,
    )


def _boxes_are_in_order(shelf: Shelf) -> bool:
    """Does a lighter box never cost more, nor stand thicker, and no postage row undercut a nearer one?"""
    boxes = sorted(shelf.boxes, key=lambda box: (box.tare_g, box.holds, box.box))
    steps = list(itertools.pairwise(boxes))
    dearer = any(a.cost > b.cost or (a.thick_mm or 0) > (b.thick_mm or 0) for a, b in steps)
    countries = {order.country for order in shelf.orders}
    names = {service.service for service in shelf.services}
    undercut = any(
        b.over_g or b.over_mm for name in names for to in countries for b in bands(shelf, name, to)
    )
    return not (dearer or undercut or any(box.thick_mm is None for box in boxes))
