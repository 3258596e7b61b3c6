"""What a lot loses on the shelf each day: looks that counted dead eggs in, one rate out."""

from __future__ import annotations

from dataclasses import dataclass

from shipping.learning.estimate import Estimate
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Shelf

#: The setting weighs as much as this many independent deaths (assumed).
PRIOR_DEATHS = 8.0
#: Dead eggs come in clumps: this many found together weigh as one (fungus spreads; assumed).
CLUMP = 5.0


@dataclass(frozen=True, slots=True)
class DeadEggs:
    """Dead eggs taken out, the egg-days they were taken from [eggs d], and the looks that say so."""

    eggs: int
    egg_days: float
    looks: int


def dead_eggs(shelf: Shelf) -> DeadEggs:
    """All looks that counted dead eggs, put together."""
    parts = [_of_lot(shelf, lot) for lot in shelf.lots]
    return DeadEggs(
        sum(part.eggs for part in parts),
        sum(part.egg_days for part in parts),
        sum(part.looks for part in parts),
    )


def _of_lot(shelf: Shelf, lot: Lot) -> DeadEggs:
    """The lot's own looks; one that leaves ``removed`` blank says nothing of the days before it."""
    eggs, seen = float(lot.eggs), lot.counted_on
    dead, egg_days, looks = 0, 0.0, 0
    for look in shelf.looks_by_lot.get(lot.lot, ()):
        if look.on <= lot.counted_on:
            continue
        if look.removed is not None:
            dead += look.removed
            egg_days += eggs * (look.on - seen).days
            looks += 1
        packed = shelf.packed.get(lot.lot, {}).items()
        gone = sum(count for day, count in packed if seen <= day < look.on)
        left = eggs - (look.removed or 0) - (look.hatched or 0) - gone
        eggs = float(look.alive) if look.alive is not None else max(0.0, left)
        seen = look.on
    return DeadEggs(dead, egg_days, looks)


def fitted_shelf_loss(dead: DeadEggs, setting: float) -> Estimate:
    """The daily loss [1/d] given the dead eggs found: a gamma posterior's mean around the setting.

    Notes
    -----
    ``(8 + dead / 5) / (8 / setting + egg_days / 5)``.
    """
    from scipy.special import gammaincinv

    if not dead.egg_days or setting <= 0:
        return Estimate.of_table(setting)
    shape, rate = PRIOR_DEATHS + dead.eggs / CLUMP, PRIOR_DEATHS / setting + dead.egg_days / CLUMP
    low, high = (float(gammaincinv(shape, share)) / rate for share in (0.05, 0.95))
    return Estimate(shape / rate, low, high, dead.looks)
