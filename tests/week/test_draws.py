"""A draw says the same of its eggs whether it was planned or counted."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.options.option import Destination
from shipping.options.option_factory import Reckoner
from shipping.tables.reader import read_shelf
from shipping.week.draws import draw_of
from shipping.words.units import shipped_folder

TODAY = date(2026, 11, 30)


def test_a_unit_nobody_looked_into_may_hold_an_infertile_egg_however_it_was_packed() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    reckoner = Reckoner(shelf)
    unseen = [lot.lot for lot in shelf.lots if reckoner.lot_day(lot.lot, TODAY).look_first]
    name = next(lot for lot in unseen if not reckoner.lot_day(lot, TODAY).forecast.known_fertile)
    lot_day = reckoner.lot_day(name, TODAY)
    packing = next(one for one in shelf.packings if lot_day.forecast.lot.medium in one.media)
    leg = reckoner.leg(reckoner.services("DE")[0], Destination("DE"), TODAY)
    ride = reckoner.ride(lot_day, packing, leg)
    fertile = shelf.settings.plan.fertile_share
    for units, each in ((2, 10), (4, 5)):
        counted = draw_of(ride, 20, shelf, units)
        assert (counted.units, counted.unit_eggs) == (units, (each,) * units)
        assert counted.unfit_chance == pytest.approx(1 - fertile**each)
