"""A week's choices made fewer without loss of value: the week as numbers in, those that others may replace
left out.

What is left out asks, on the same day, for at least as many eggs of every lot as something left in, and can
be replaced by it in every parcel.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from shipping.assignment.instance import Departure, Instance, ParcelColumn, TravelMode
from shipping.words.keys import grouped

#: A mode at a place.
_At = tuple[TravelMode, Departure]


@dataclass(slots=True)
class _Asks:
    """What a mode asks of each lot: eggs that fill the line, or (alone, most) where shared, and its units."""

    fills: dict[str, int]
    shares: dict[str, tuple[int, int]]
    units: int = 0
    eggs_max: int = 0

    def is_as_good_as(self, other: _Asks) -> bool:
        """Does it ask no more of any lot that the other may draw on?"""
        fills = all(self.fills.get(lot, math.inf) <= eggs for lot, eggs in other.fills.items())
        # fewer or smaller units take eggs of fewer lots
        holds = not other.shares or (self.units >= other.units and self.eggs_max >= other.eggs_max)
        return (
            fills
            and holds
            and all(
                lot in self.shares
                and self.shares[lot][0] <= alone
                and self.shares[lot][1] >= min(most, self.shares[lot][0])
                for lot, (alone, most) in other.shares.items()
            )
        )


def thinned(instance: Instance) -> Instance:
    """The task without what another choice of the same day replaces at no fewer eggs."""
    asks = _asks(instance)
    known = {(column.orders, column.departure, column.travel_modes) for column in instance.columns}
    columns = _best_modes(instance.columns, asks, known)
    columns = _best_places(columns, asks)
    return carried_by(instance, columns)


def carried_by(instance: Instance, columns: list[ParcelColumn]) -> Instance:
    """The task with these ways and what they carry."""
    kept = {(travel_mode, column.departure) for column in columns for travel_mode in column.travel_modes}
    return replace(
        instance,
        columns=tuple(columns),
        fills=tuple(f for f in instance.fills if (f.travel_mode, f.departure) in kept),
        shared_fills=tuple(s for s in instance.shared_fills if (s.travel_mode, s.departure) in kept),
    )


def _asks(instance: Instance) -> dict[_At, _Asks]:
    found: dict[_At, _Asks] = {}
    for fill in instance.fills:
        fills = found.setdefault((fill.travel_mode, fill.departure), _Asks({}, {})).fills
        fills[fill.lot] = min(fills.get(fill.lot, fill.eggs), fill.eggs)
    for shared_fill in instance.shared_fills:
        asks = found.setdefault((shared_fill.travel_mode, shared_fill.departure), _Asks({}, {}))
        asks.shares |= {share.lot: (share.alone, share.most) for share in shared_fill.shares}
        asks.units, asks.eggs_max = shared_fill.units, shared_fill.eggs_max
    return found


def _best_modes(
    columns: tuple[ParcelColumn, ...],
    asks: Mapping[_At, _Asks],
    known: set[tuple[tuple[str, ...], Departure, tuple[TravelMode, ...]]],
) -> list[ParcelColumn]:
    """The ways without those of which one mode is replaced by a better one of the same line and place."""
    used = grouped(
        ((travel_mode, column.departure), column) for column in columns for travel_mode in column.travel_modes
    )
    rivals = grouped(((travel_mode[0], departure), travel_mode) for travel_mode, departure in sorted(used))
    dropped: set[_At] = set()
    for (_, departure), travel_modes in rivals.items():
        for travel_mode in travel_modes:
            for other in travel_modes:
                if (
                    other == travel_mode
                    or (other, departure) in dropped
                    or not _replaces(asks, (other, departure), (travel_mode, departure))
                ):
                    continue
                swapped = (
                    (w, tuple(other if m == travel_mode else m for m in w.travel_modes))
                    for w in used[(travel_mode, departure)]
                )
                if all((w.orders, departure, modes_then) in known for w, modes_then in swapped):
                    dropped.add((travel_mode, departure))
                    break
    return [
        column
        for column in columns
        if not any((travel_mode, column.departure) in dropped for travel_mode in column.travel_modes)
    ]


def _best_places(columns: list[ParcelColumn], asks: Mapping[_At, _Asks]) -> list[ParcelColumn]:
    """The ways without those for which another of the same orders, lines and day is as good."""
    rivals: dict[tuple[object, ...], list[ParcelColumn]] = {}
    for column in columns:
        rivals.setdefault(
            (
                column.orders,
                column.departure[0],
                tuple(travel_mode[0] for travel_mode in column.travel_modes),
            ),
            [],
        ).append(column)
    kept: list[ParcelColumn] = []
    for group in rivals.values():
        left: list[ParcelColumn] = []
        for n, column in enumerate(group):
            others = (*left, *group[n + 1 :])
            if not any(_is_as_good(asks, other, column, other in left) for other in others):
                left.append(column)
        kept += left
    return kept


def _is_as_good(asks: Mapping[_At, _Asks], one: ParcelColumn, two: ParcelColumn, is_kept: bool) -> bool:
    """Is ``one`` as good as ``two`` for every line? Of equals, the one met first stays."""
    pairs = [
        ((a, one.departure), (b, two.departure))
        for a, b in zip(one.travel_modes, two.travel_modes, strict=True)
    ]
    forth = all(_replaces(asks, a, b) for a, b in pairs)
    return forth and (is_kept or not all(_replaces(asks, b, a) for a, b in pairs))


def _replaces(asks: Mapping[_At, _Asks], one: _At, two: _At) -> bool:
    empty = _Asks({}, {})
    return asks.get(one, empty).is_as_good_as(asks.get(two, empty))
