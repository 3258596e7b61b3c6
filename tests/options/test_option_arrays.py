"""Options as arrays against the same options one by one, and how an option's neighbours in the array leave it
alone.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from shipping.options.journey import bits
from shipping.options.option import Option
from shipping.options.option_arrays import LineOptions, tables_for
from shipping.options.option_factory import OptionFactory
from shipping.post.quote import quote
from shipping.tables.reader import read_shelf
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.objective import dispatch_days, next_week
from shipping.words.units import shipped_folder
from tests.timings.weeks import generated_week

WEEK = "2026-W49"
TODAY = date(2026, 11, 30)


def read(folder: Path) -> Shelf:
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    return shelf


@pytest.fixture(scope="module", params=["demo", "generated"])
def shelf(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    if request.param == "demo":
        return read(shipped_folder("demo_orders"))
    return read(generated_week(25, 20, 3, tmp_path_factory.mktemp("week") / "shelf"))


def days_of(shelf: Shelf) -> tuple[date, ...]:
    return dispatch_days(shelf, WEEK) + dispatch_days(shelf, next_week(WEEK))


def tabled(shelf: Shelf, passing_only: bool = False) -> dict[tuple[str, int], LineOptions]:
    wishes = [(order, line.species) for order in shelf.orders for line in order.lines]
    return {
        line.key: table.of(order, line, line.population)
        for table in tables_for(OptionFactory(shelf), wishes, days_of(shelf), passing_only)
        for order in shelf.orders
        for line in order.lines
        if line.species == table.species.species
    }


def compared(table: LineOptions, options: list[Option]) -> int:
    """How many options were found the same, one by one and in the table; they are all of the table's."""
    assert len(options) == (table.codes >= 0).sum()
    lots = {lot.lot: n for n, lot in enumerate(table.lots)}
    legs = {(leg.service.service, leg.day): n for n, leg in enumerate(table.legs)}
    packings = {packing.packing: n for n, packing in enumerate(table.packings)}
    same = 0
    for option in options:
        ride = option.ride
        lot = lots[ride.lot_day.forecast.lot.lot]
        leg = legs[(ride.leg.service.service, ride.leg.day)]
        at = (lot, leg, packings[ride.packing.packing])
        assert option.passes == (table.codes[at] == 0)
        stopped = ride.lot_day.reasons or ride.reasons or any(r.code == "closed-day" for r in option.reasons)
        if not stopped:
            assert bits(option.reasons) == table.codes[at]
            assert (option.pack, option.units) == (table.pack[at], table.units[at])
            assert option.p_enough == pytest.approx(table.p_enough[at], abs=1e-9)
            assert ride.lot_day.free == table.free[lot, leg]
            same += 1
    return same


def test_the_table_says_of_every_option_what_the_option_says_of_itself(shelf: Shelf) -> None:
    found = tabled(shelf)
    choices = Choices.of_week(OptionFactory(shelf), WEEK)
    same = 0
    for order in shelf.orders:
        for line in order.lines:
            options = choices.options_of(order, line, line.species, line.population, days_of(shelf))
            same += compared(found[line.key], options)
    assert same > 100


def test_options_that_pass_are_the_same_where_of_others_not_all_is_asked(shelf: Shelf) -> None:
    every, fewer = 0, 0
    passing = tabled(shelf, passing_only=True)
    for key, full in tabled(shelf).items():
        some = passing[key]
        passes = full.codes == 0
        assert (passes == (some.codes == 0)).all()
        assert (some.codes & ~full.codes == 0).all()
        for known, asked in ((full.pack, some.pack), (full.p_enough, some.p_enough)):
            assert (known[passes] == asked[passes]).all()
        asked_of = [
            "assumed" in (leg.trip.coldest.basis, leg.trip.hottest.basis)
            and "closed-day" not in {reason.code for reason in leg.reasons}
            for leg in full.legs
        ]
        assert (full.codes == some.codes)[:, asked_of].all()
        every, fewer = every + (full.codes > 0).sum(), fewer + (full.codes != some.codes).sum()
    assert every > 100
    assert fewer


def test_a_population_that_nobody_keeps_has_no_options(shelf: Shelf) -> None:
    order = shelf.orders[0]
    line = order.lines[0]
    (table,) = tables_for(OptionFactory(shelf), [(order, line.species)], days_of(shelf))
    found = table.of(order, line, "of nowhere")
    assert found.lots == ()
    for values in (found.codes, found.pack, found.units, found.p_enough):
        assert (values.size, values.shape[1:]) == (0, (len(found.legs), len(found.packings)))


def test_each_lot_is_judged_by_what_was_learned_of_its_own_population(shelf: Shelf) -> None:
    learned: dict[str, Species] = {}
    for n, lot in enumerate(shelf.lots):
        kind = shelf.species[lot.species]
        new = {
            "zero_c": kind.zero_c + n % 3,
            "keep_min_c": 6.0 + n % 5,
            "o2_basis": "learned",
            "o2_ug_egg_h": 0.5 + n % 2,
        }
        learned.setdefault(f"{lot.species}/{lot.population}", kind.model_copy(update=new))
    shelf = replace(shelf, populations=learned)
    factory, days = OptionFactory(shelf), days_of(shelf)
    choices = Choices.of_week(factory, WEEK)
    wishes = [(order, line.species) for order in shelf.orders for line in order.lines]
    same = 0
    for table in tables_for(factory, wishes, days):
        own = [(o, line) for o in shelf.orders for line in o.lines if line.species == table.species.species]
        for order, line in own[:3]:
            of_any = choices.options_of(order, line, line.species, "", days)
            same += compared(table.of(order, line, ""), of_any)
    assert same > 100


def test_every_lot_day_and_service_that_passes_keeps_a_packing(shelf: Shelf) -> None:
    choices = Choices.of_week(OptionFactory(shelf), WEEK)
    choices.reckon()
    for order in shelf.orders:
        for line in order.lines:
            kept = [f for f in choices.instance([order.order]).fills if f.line == line.key]
            passing = {
                (o.ride.lot_day.forecast.lot.lot, o.ride.leg.day, o.ride.leg.service.service)
                for o in choices.options(order, line)
                if o.passes and line.key not in choices.instead
            }
            assert {(f.lot, *f.departure) for f in kept} >= passing


def test_a_line_alone_has_the_options_it_has_among_many(shelf: Shelf) -> None:
    together = tabled(shelf)
    order = next(order for order in shelf.orders if (together[order.lines[0].key].codes == 0).any())
    line = order.lines[0]
    table = next(iter(tables_for(OptionFactory(shelf), [(order, line.species)], days_of(shelf))))
    alone = table.of(order, line, line.population)
    assert np.array_equal(alone.codes, together[line.key].codes)
    assert np.array_equal(alone.pack, together[line.key].pack)


def test_the_post_is_asked_of_as_many_units_as_there_are() -> None:
    # what is remembered of the post grows with the units asked about, to the unit
    demo = read(shipped_folder("demo_orders"))
    wishes = [(order, line.species) for order in demo.orders for line in order.lines]
    factors = next(iter(tables_for(OptionFactory(demo), wishes, days_of(demo)))).factors
    here = np.zeros(1, dtype=np.int64)
    leg = factors.journeys.legs[0]
    for units in range(1, 9):
        asked = quote(demo, ((factors.packings[0], units),), leg.service, leg.destination.country)
        assert factors.post(here, here + units, here, factors.journeys) == [bits(asked.reasons)]
