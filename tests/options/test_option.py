"""A reason that is not placed is never dropped: it stops the option, or the program says that it does not
know it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from shipping.options import option as option_room
from shipping.options.option import Leg, Option
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.objective import dispatch_days, next_week
from shipping.words.reasons import ASKS, BLOCKS, CODES, SCARCE, Reason
from shipping.words.units import shipped_folder

#: Codes of lines that go, of whole orders, and of what is not on the shelf: no option has them.
OF_NO_OPTION = {
    "chosen",
    "extra",
    "instead",
    "look-first",
    "day-full",
    "other-line",
    "sooner",
    "other-population",
    "no-lot",
    "same-number",
}


def passing_options(shelf: Shelf) -> list[Option]:
    choices = Choices(
        OptionFactory(shelf), dispatch_days(shelf, "2026-W49"), dispatch_days(shelf, next_week("2026-W49"))
    )
    return [
        option
        for order in shelf.orders
        for line in order.lines
        for option in choices.options_of(order, line, line.species, line.population, choices.days)
        if option.passes
    ]


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    """The demo week's lots and ways, and four orders to different countries, each with options that pass."""
    found = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert found is not None
    few = tuple(found.order_by_name[name] for name in ("D02", "D05", "D25", "D34"))
    for order in few:
        assert passing_options(replace(found, orders=(order,)))
    return replace(found, orders=few)


def test_every_code_is_placed_or_belongs_to_no_option() -> None:
    assert set(CODES) == ASKS | BLOCKS | OF_NO_OPTION
    assert not OF_NO_OPTION & (ASKS | BLOCKS)


def with_reason(leg: Leg, code: str) -> Leg:
    return replace(leg, reasons=(*leg.reasons, Reason(code, "Said of the journey.")))


@pytest.mark.parametrize("code", sorted((ASKS | BLOCKS) - SCARCE))
def test_whatever_is_said_of_a_leg_stops_every_option_on_it(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch, code: str
) -> None:
    real = OptionFactory.leg
    monkeypatch.setattr(OptionFactory, "leg", lambda self, *of: with_reason(real(self, *of), code))
    assert not passing_options(shelf)
    choices = Choices(
        OptionFactory(shelf), dispatch_days(shelf, "2026-W49"), dispatch_days(shelf, next_week("2026-W49"))
    )
    choices.reckon()
    assert not any(choices.is_fillable(line.key) for order in shelf.orders for line in order.lines)


def test_a_code_that_no_list_names_is_said_aloud(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(option_room, "BLOCKS", BLOCKS - {"closed-day"})
    real = OptionFactory.leg
    monkeypatch.setattr(OptionFactory, "leg", lambda self, *of: with_reason(real(self, *of), "closed-day"))
    with pytest.raises(LookupError, match="closed-day"):
        passing_options(shelf)


def test_a_packing_that_bears_any_hatching_bears_it_of_any_count(shelf: Shelf) -> None:
    ride = passing_options(shelf)[0].ride
    easy = ride.packing.model_copy(update={"any_ceiling": 1.0})
    assert replace(ride, packing=easy, h=np.full(ride.h.size, 0.01)).most_by_any == 10**9
    wary = ride.packing.model_copy(update={"any_ceiling": 0.5})
    assert replace(ride, packing=wary, h=np.full(ride.h.size, 0.01)).most_by_any == 68  # 1 - 0.99^68 < 0.5
    assert replace(ride, packing=wary, h=np.full(ride.h.size, 0.6)).most_by_any == 0
