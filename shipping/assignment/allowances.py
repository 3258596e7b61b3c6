"""On how many lots each line of an order may draw in one parcel, and for how many eggs."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from operator import ge

from shipping.assignment.columns import MOST_TRIED, DepartureColumns, LineColumns, OrderColumns, WeekColumns
from shipping.assignment.instance import MOST_JOINED, Departure, TravelMode
from shipping.words.keys import grouped

#: How many lots each line of an order may draw on in one parcel; 0 where it cannot go.
Allowance = tuple[int, ...]


#: A packing and its units.
Mode = tuple[str, int]


def allowances(week: WeekColumns, number: int) -> dict[int, list[Allowance]]:
    """Of each day an order may go on, how many lots its lines may draw on; none that another replaces."""
    order, found = week.of(number), dict[int, list[Allowance]]()
    for departure in order.departures:
        known = found.setdefault(departure.day, [])
        modes = [_modes(line) for line in departure.lines]
        for draws in _greatest_first(modes, order.may_split):
            if not any(all(map(ge, other, draws)) for other in known) and _is_sent(
                week, number, departure, modes, draws
            ):
                known.append(draws)
    return {
        day: [one for one in known if not any(all(map(ge, other, one)) and other != one for other in known)]
        for day, known in sorted(found.items())
        if known
    }


def _modes(line: LineColumns | None) -> dict[int, list[Mode]]:
    """How a line may be packed, by the most lots that it may draw on so packed."""
    if line is None:
        return {}
    most: dict[Mode, int] = dict.fromkeys(zip(line.one_lot.packing, line.one_lot.units, strict=True), 1)
    for shared in line.shared_fills:
        for units, cost in enumerate(shared.costs):
            if cost < math.inf:
                mode = shared.packing, units
                most[mode] = max(most.get(mode, 0), min(units, shared.lots_most))
    return grouped((draws, mode) for mode, draws in sorted(most.items()))


def _greatest_first(modes: Sequence[Mapping[int, object]], may_split: bool) -> Iterator[Allowance]:
    """Numbers of lots for every line, or for some of an order that may split; of very many the greatest."""
    each = [sorted({*line, 0} if may_split or not line else line, reverse=True) for line in modes]
    if math.prod(map(len, each)) > MOST_TRIED:
        each = [[of_line[0]] for of_line in each]
    yield from sorted(
        (draws for draws in itertools.product(*each) if any(draws)), key=lambda draws: (-sum(draws), draws)
    )


def _is_sent(
    week: WeekColumns,
    number: int,
    departure: DepartureColumns,
    modes: Sequence[Mapping[int, list[Mode]]],
    draws: Allowance,
) -> bool:
    """Does a parcel of these lines, of so many lots each, go there, alone or joined? Of many one does."""
    order = week.of(number)
    able = [
        [(key, *mode) for mode in of_line[count]]
        for key, of_line, count in zip(order.lines, modes, draws, strict=True)
        if count
    ]
    if _some_go(week, (order.name,), departure.departure, able):
        return True
    mates = [week.of(mate) for mate in week.mates_of(number)]
    if any(mate.may_split for mate in mates):
        return True
    joined = (some for count in range(1, MOST_JOINED) for some in itertools.combinations(mates, count))
    for some in joined:
        lines = [_able(mate, departure.departure) for mate in some]
        names = (order.name, *(mate.name for mate in some))
        if all(lines) and _some_go(week, names, departure.departure, [*able, *itertools.chain(*lines)]):
            return True
    return False


def _able(order: OrderColumns, at: Departure) -> list[list[TravelMode]]:
    """How each line of an order may travel at a place; no lines where it does not go there."""
    return [
        [(key, *mode) for mode in sorted(line.travel_modes)]
        for departure in order.departures
        if departure.departure == at
        for key, line in zip(order.lines, departure.lines, strict=True)
        if line is not None
    ]


def _some_go(
    week: WeekColumns, names: tuple[str, ...], at: Departure, able: Sequence[Sequence[TravelMode]]
) -> bool:
    """Does the post take some parcel of these lines? Of very many one does."""
    return math.prod(map(len, able)) > MOST_TRIED or any(
        week.parcel_cost(names, at, picked) < math.inf for picked in itertools.product(*able)
    )


def eggs_drawn(order: OrderColumns, n: int, day: int) -> dict[int, tuple[int, int]]:
    """The fewest and the most eggs that a line draws from each lot on a day, where it draws on it at all."""
    found: dict[int, tuple[int, int]] = {}
    for departure in order.departures:
        columns = departure.lines[n] if departure.day == day else None
        if columns is not None:
            drawn = (
                (at, eggs, eggs) for at, eggs in zip(columns.one_lot.at, columns.one_lot.eggs, strict=True)
            )
            shared = (
                (at, one.least_draw, most) for one in columns.shared_fills for at, _, most, _ in one.parts
            )
            for at, least, most in itertools.chain(drawn, shared):
                known = found.get(at, (least, most))
                found[at] = min(known[0], least), max(known[1], most)
    return found
