"""A lot and its looks in, what each count may be at the most out; what follows is left to others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from shipping.tables.rows.lots import Look, Lot


@dataclass(frozen=True, slots=True)
class Bound:
    """What a look says of the count: ``most`` live eggs can be left by then, ``excess`` more are spoken of.

    ``column`` is the cell that is too high where ``excess`` is above zero. ``counted_on`` is the day of the
    count before.
    """

    look: Look
    most: int
    excess: int
    column: str
    counted_on: date


def bounds(
    lot: Lot, looks: Iterable[Look], packed: Iterable[tuple[date, int]] = (), between: int = 0
) -> Iterator[Bound]:
    """A bound for each look from the day of the lot's own count on, in the order of days, up to the first
    that is broken.

    ``packed``: days and eggs that the ledger says were packed; ``between``: those packed after the lot's own
    count and before a recount of that very day.

    Notes
    -----
    The last count, less what was removed, had hatched or was packed since: a recount above it is a mistake,
    one below it is losses.
    """
    packings = tuple(packed)
    most, counted_on = lot.eggs, lot.counted_on
    for look in sorted(looks, key=lambda look: look.on):
        if look.on < lot.counted_on:
            continue
        gone = (look.removed or 0) + (look.hatched or 0)
        if look.on == lot.counted_on and look.alive is not None:
            gone = 0  # both counted what was left that day
            most, between = most - between, 0
        away = sum(eggs for day, eggs in packings if counted_on <= day < look.on)
        left = most - away
        if gone > most:
            column = "hatched" if (look.hatched or 0) >= (look.removed or 0) else "removed"
            yield Bound(look, most, gone - most, column, counted_on)
            return
        most -= gone
        if look.alive is None:
            yield Bound(look, most, 0, "", counted_on)
            continue
        can_be = max(0, left - gone)
        excess = max(0, look.alive - can_be)
        yield Bound(look, can_be, excess, "alive" if excess else "", counted_on)
        if excess:
            return
        most, counted_on = look.alive, look.on
