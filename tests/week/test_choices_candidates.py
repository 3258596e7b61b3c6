"""What fills each line, reckoned many lines at once, against the options of that line alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from shipping.options.journey import bit
from shipping.options.option import LEAST_DRAW
from shipping.options.option_arrays import LineCandidates, LineOptions, tables_for
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week import choices as week_choices
from shipping.week.choices import Choices
from shipping.week.objective import dispatch_days, next_week
from shipping.words.units import shipped_folder
from tests.timings.weeks import generated_week

TODAY = date(2026, 11, 30)
NOW, LATER = "2026-W49", next_week("2026-W49")


def asking(shelf: Shelf) -> Shelf:
    """The shelf with orders that differ in all that orders ask of their legs."""
    orders = []
    for n, order in enumerate(shelf.orders):
        lines = tuple(replace(line, paid=n % 7 != 3) for line in order.lines)
        orders.append(
            replace(
                order,
                lines=lines,
                not_before=TODAY + timedelta(days=1 + n % 9) if n % 5 == 1 else order.not_before,
                not_after=TODAY + timedelta(days=3 + n % 12) if n % 5 == 2 else order.not_after,
                papers=frozenset() if n % 6 == 4 else order.papers,
            )
        )
    return replace(shelf, orders=tuple(orders))


@pytest.fixture(scope="module", params=["demo", "generated"])
def shelf(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    folder = shipped_folder("demo_orders")
    if request.param == "generated":
        folder = generated_week(60, 30, 5, tmp_path_factory.mktemp("week") / "shelf")
    found = read_shelf(Path(folder), TODAY).shelf
    assert found is not None
    return asking(found)


def reckoned(shelf: Shelf) -> Choices:
    choices = Choices(OptionFactory(shelf), dispatch_days(shelf, NOW), dispatch_days(shelf, LATER))
    choices.reckon()
    return choices


def options_of_lines(shelf: Shelf, choices: Choices) -> list[tuple[LineOptions, LineCandidates]]:
    """Of each line its options as arrays and what was found to fill it, both of what fills it in the end."""
    found = []
    wishes = {
        line.key: choices.instead.get(line.key, (line.species, line.population))
        for order in shelf.orders
        for line in order.lines
    }
    asked = [(order, wishes[line.key][0]) for order in shelf.orders for line in order.lines]
    for table in tables_for(OptionFactory(shelf), asked, choices.days + choices.later_days):
        for order in shelf.orders:
            for line in order.lines:
                species, population = wishes[line.key]
                if species == table.species.species:
                    fills = choices.candidates(line.key)
                    assert fills is not None
                    found.append((table.of(order, line, population), fills))
    return found


def test_each_line_has_the_cells_that_its_own_options_say(shelf: Shelf) -> None:
    choices = reckoned(shelf)
    passing = shared = 0
    for options, fills in options_of_lines(shelf, choices):
        now = np.array([leg.day in choices.days for leg in options.legs], dtype=bool)
        passes = options.codes == 0
        assert fills.alone.size == passes[:, now].sum()
        assert fills.later.tolist() == passes[:, ~now].any(axis=(1, 2)).tolist()
        assert fills.reckoned == options.codes.size
        assert fills.lots == tuple(lot.lot for lot in options.lots)
        legs = np.flatnonzero(now)
        assert fills.departures == tuple((options.legs[j].day, options.legs[j].service.service) for j in legs)
        at = (fills.alone["lot"], legs[fills.alone["departure"]], fills.alone["packing"])
        assert passes[at].all()
        assert np.array_equal(options.pack[at], fills.alone["pack"])
        assert np.array_equal(options.units[at], fills.alone["units"])
        assert np.array_equal(options.p_enough[at], fills.alone["p_enough"])
        assert shareable(shelf, options, now) == set(
            zip(
                fills.shared["lot"].tolist(),
                legs[fills.shared["departure"]].tolist(),
                fills.shared["packing"].tolist(),
                strict=True,
            )
        )
        passing, shared = passing + fills.alone.size, shared + fills.shared.size
    assert passing > 30
    assert shared > 10


def shareable(shelf: Shelf, options: LineOptions, now: np.ndarray) -> set[tuple[int, int, int]]:
    """Cells, by place, packing and population, of which some together are enough; one place after the
    other.
    """
    few, most = bit("short") | bit("too-young"), np.minimum(options.free[:, :, None], options.pack)
    open_to = (options.codes >= 0) & ((options.codes & ~few) == 0) & (most >= LEAST_DRAW) & now[None, :, None]
    found = set()
    for population in {lot.population for lot in options.lots}:
        for leg, packing in np.argwhere(open_to.any(axis=0)).tolist():
            own = [
                n
                for n, lot in enumerate(options.lots)
                if lot.population == population and open_to[n, leg, packing]
            ]
            shares = sorted(
                (most[n, leg, packing] / options.pack[n, leg, packing] for n in own), reverse=True
            )
            if len(own) > 1 and sum(shares[: shelf.settings.plan.lots_a_line]) >= 1.0:
                found |= {(n, leg, packing) for n in own}
    return found


def test_two_processes_find_for_each_line_what_one_finds(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = reckoned(shelf)
    monkeypatch.setattr(week_choices, "MANY_ASKED", 1)
    both = reckoned(shelf)
    assert both.instance() == alone.instance()
    assert both.instead == alone.instead
    assert both.options_reckoned == alone.options_reckoned
