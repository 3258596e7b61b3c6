"""A week's choices made fewer without loss of value: the week as numbers in, those that others may replace
left out.

What is left out asks, on the same day, for at least as many eggs of every lot as something left in, and can
be replaced by it in every parcel.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from shipping.assignment.instance import Mode, Place, Task, Way
from shipping.words.keys import LineKey

#: A mode at a place.
_At = tuple[Mode, Place]


@dataclass(slots=True)
class _Asks:
    """What a mode at a place asks of each lot: eggs where one lot fills the line; (alone, most) where lots
    share it.
    """

    fills: dict[str, int]
    shares: dict[str, tuple[int, int]]

    def is_as_good_as(self, other: _Asks) -> bool:
        """Does it ask no more of any lot that the other may draw on?"""
        fills = all(self.fills.get(lot, math.inf) <= eggs for lot, eggs in other.fills.items())
        return fills and all(
            lot in self.shares
            and self.shares[lot][0] <= alone
            and self.shares[lot][1] >= min(most, self.shares[lot][0])
            for lot, (alone, most) in other.shares.items()
        )


def thinned(task: Task) -> Task:
    """The task without what another choice of the same day replaces at no fewer eggs."""
    asks = _asks(task)
    known = {(way.orders, way.place, way.modes) for way in task.ways}
    ways = _best_modes(task.ways, asks, known)
    ways = _best_places(ways, asks)
    return _carried_by(task, ways)


def _carried_by(task: Task, ways: list[Way]) -> Task:
    """The task with these ways and what they carry."""
    kept = {(mode, way.place) for way in ways for mode in way.modes}
    return replace(
        task,
        ways=tuple(ways),
        fillings=tuple(f for f in task.fillings if (f.mode, f.place) in kept),
        splits=tuple(s for s in task.splits if (s.mode, s.place) in kept),
    )


def _asks(task: Task) -> dict[_At, _Asks]:
    found: dict[_At, _Asks] = {}
    for filling in task.fillings:
        fills = found.setdefault((filling.mode, filling.place), _Asks({}, {})).fills
        fills[filling.lot] = min(fills.get(filling.lot, filling.eggs), filling.eggs)
    for split in task.splits:
        shares = found.setdefault((split.mode, split.place), _Asks({}, {})).shares
        shares |= {share.lot: (share.alone, share.most) for share in split.shares}
    return found


def _best_modes(
    ways: tuple[Way, ...],
    asks: Mapping[_At, _Asks],
    known: set[tuple[tuple[str, ...], Place, tuple[Mode, ...]]],
) -> list[Way]:
    """The ways without those of which one mode is replaced by a better one of the same line and place."""
    used: dict[_At, list[Way]] = {}
    for way in ways:
        for mode in way.modes:
            used.setdefault((mode, way.place), []).append(way)
    rivals: dict[tuple[LineKey, Place], list[Mode]] = {}
    for mode, place in sorted(used):
        rivals.setdefault((mode[0], place), []).append(mode)
    dropped: set[_At] = set()
    for (_, place), modes in rivals.items():
        for mode in modes:
            for other in modes:
                if (
                    other == mode
                    or (other, place) in dropped
                    or not _replaces(asks, (other, place), (mode, place))
                ):
                    continue
                swapped = (
                    (w, tuple(other if m == mode else m for m in w.modes)) for w in used[(mode, place)]
                )
                if all((w.orders, place, modes_then) in known for w, modes_then in swapped):
                    dropped.add((mode, place))
                    break
    return [way for way in ways if not any((mode, way.place) in dropped for mode in way.modes)]


def _best_places(ways: list[Way], asks: Mapping[_At, _Asks]) -> list[Way]:
    """The ways without those for which another of the same orders, lines and day is as good."""
    rivals: dict[tuple[object, ...], list[Way]] = {}
    for way in ways:
        rivals.setdefault((way.orders, way.place[0], tuple(mode[0] for mode in way.modes)), []).append(way)
    kept: list[Way] = []
    for group in rivals.values():
        left: list[Way] = []
        for n, way in enumerate(group):
            others = (*left, *group[n + 1 :])
            if not any(_is_as_good(asks, other, way, other in left) for other in others):
                left.append(way)
        kept += left
    return kept


def _is_as_good(asks: Mapping[_At, _Asks], one: Way, two: Way, is_kept: bool) -> bool:
    """Is ``one`` as good as ``two`` for every line? Of equals, the one met first stays."""
    pairs = [((a, one.place), (b, two.place)) for a, b in zip(one.modes, two.modes, strict=True)]
    forth = all(_replaces(asks, a, b) for a, b in pairs)
    return forth and (is_kept or not all(_replaces(asks, b, a) for a, b in pairs))


def _replaces(asks: Mapping[_At, _Asks], one: _At, two: _At) -> bool:
    empty = _Asks({}, {})
    return asks.get(one, empty).is_as_good_as(asks.get(two, empty))
