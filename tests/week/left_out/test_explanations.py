"""The few options put into words tell all that every option would, in the cold, in the warm and where lots
must be looked at.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from shipping.options.journey import bits
from shipping.options.option import Option
from shipping.options.option_arrays import tables_for
from shipping.options.option_factory import Reckoner
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.left_out.explanations import LineCells
from shipping.week.left_out.status import reasons_of
from shipping.week.objective import dispatch_days, next_week
from shipping.words.units import shipped_folder
from tests.timings.weeks import generated_week

WEEK = "2026-W49"
TODAY = date(2026, 11, 30)


def read(folder: Path, today: date = TODAY) -> Shelf:
    shelf = read_shelf(folder, today).shelf
    assert shelf is not None
    return shelf


def shelf_of(name: str, folder: Path) -> Shelf:
    if name == "demo":
        return read(shipped_folder("demo_orders"))
    shelf = read(generated_week(25, 20, 3, folder / "shelf"))
    if (
        name == "any-egg"
    ):  # every packing has a ceiling on any hatching: what a stopped ride's eggs would add must be counted
        return replace(
            shelf, packings=tuple(one.model_copy(update={"any_ceiling": 0.05}) for one in shelf.packings)
        )
    if name == "air":
        known = {
            key: one.model_copy(update={"o2_basis": "published", "o2_ug_egg_h": 9.0})
            for key, one in shelf.species.items()
        }
        return replace(shelf, species=known)
    if name == "heat":
        packings = tuple(one.model_copy(update={"heat_pack_h": 40.0}) for one in shelf.packings)
        warm = tuple(one.model_copy(update={"high_c": 34.0, "low_c": 24.0}) for one in shelf.weather)
        return replace(shelf, packings=packings, weather=warm)
    if name == "old":
        return replace(
            shelf, lots=tuple(lot.model_copy(update={"laid_from": date(2026, 8, 1)}) for lot in shelf.lots)
        )
    return shelf


@pytest.fixture(scope="module", params=["demo", "generated", "any-egg", "air", "heat", "old"])
def shelf(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    return shelf_of(request.param, tmp_path_factory.mktemp("week"))


def test_the_options_put_into_words_tell_every_reason(shelf: Shelf) -> None:
    days = dispatch_days(shelf, WEEK)
    choices = Choices(Reckoner(shelf), days, dispatch_days(shelf, next_week(WEEK)))
    lines = [(order, line) for order in shelf.orders for line in order.lines]
    few = many = 0
    for table in tables_for(choices.reckoner, [(order, line.species) for order, line in lines], days):
        for order, line in lines:
            if line.species != table.species.species:
                continue
            every = choices.options_of(order, line, line.species, line.population, days)
            cells = LineCells.of(table, order, line, line.population, days)
            handed_over = [option for option in every if not is_closed(option)]
            told = (
                cells.telling(choices.reckoner, choices.parcels)
                if handed_over
                else cells.every(choices.reckoner, choices.parcels)
            )
            assert reasons_of(told) == reasons_of(handed_over or every)
            few, many = few + len(told), many + len(every)
    assert 0 < few < many / 3


def is_closed(option: Option) -> bool:
    return any(reason.code == "closed-day" for reason in option.reasons)


def test_cells_say_of_each_option_what_it_says_of_itself_or_that_they_do_not_know(shelf: Shelf) -> None:
    days = dispatch_days(shelf, WEEK)
    choices = Choices(Reckoner(shelf), days, dispatch_days(shelf, next_week(WEEK)))
    lines = [(order, line) for order in shelf.orders for line in order.lines]
    for table in tables_for(choices.reckoner, [(order, line.species) for order, line in lines], days):
        for order, line in [one for one in lines if one[1].species == table.species.species]:
            cells = LineCells.of(table, order, line, line.population, days)
            unsure = [cells.is_unsure(n) for n in range(cells.codes.size)]
            known, count, may_add = (
                cells.codes.ravel().tolist(),
                cells.count.ravel().tolist(),
                cells.may_add.ravel().tolist(),
            )
            handed_over = cells.handed_over.ravel().tolist()
            at = [n for n in range(cells.codes.size) if known[n] >= 0]
            for n, option in zip(at, cells.every(choices.reckoner, choices.parcels), strict=True):
                if not handed_over[n]:
                    continue
                said = bits(option.reasons)
                assert said & known[n] == known[n]
                assert said & ~known[n] & ~may_add[n] == 0
                if not unsure[n]:
                    assert (said, len(option.reasons)) == (known[n], count[n])
