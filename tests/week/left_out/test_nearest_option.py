"""The one option put into words lacks least of all: in the cold, the warm, where lots must be looked at."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from shipping.options.journey import SCARCITY, bits
from shipping.options.option import Option
from shipping.options.option_arrays import tables_for
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.left_out.nearest_option import CLOSED_DAY, LineCells
from shipping.week.left_out.status import StatusOfLines
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


Cells = list[tuple[LineCells, list[Option]]]


@pytest.fixture(scope="module")
def cells(shelf: Shelf) -> tuple[Choices, Cells]:
    """The cells of every line, and all its options in words, in the same order."""
    days = dispatch_days(shelf, WEEK)
    choices = Choices(OptionFactory(shelf), days, dispatch_days(shelf, next_week(WEEK)))
    lines = [(order, line) for order in shelf.orders for line in order.lines]
    found: Cells = []
    for table in tables_for(choices.factory, [(order, line.species) for order, line in lines], days):
        for order, line in [one for one in lines if one[1].species == table.species.species]:
            own = LineCells.of(table, order, line, line.population, days)
            found.append((own, choices.options_of(order, line, line.species, line.population, days)))
    return choices, found


def test_cells_say_of_each_option_what_it_says_of_itself_or_that_they_do_not_know(
    cells: tuple[Choices, Cells],
) -> None:
    for own, options in cells[1]:
        at = [n for n in range(own.codes.size) if own.codes.flat[n] >= 0]
        for n, option in zip(at, options, strict=True):
            said, known = bits(option.reasons), int(own.codes.flat[n])
            if known & CLOSED_DAY:
                continue
            assert (said | SCARCITY) & known == known
            assert said & ~known & ~int(own.may_add.flat[n]) == 0


@pytest.mark.parametrize(("is_held", "is_to_look"), [(False, False), (True, False), (False, True)])
def test_the_option_put_into_words_is_the_nearest_to_going(
    cells: tuple[Choices, Cells], is_held: bool, is_to_look: bool
) -> None:
    choices, found = cells
    rank = StatusOfLines.rank(is_held, is_to_look)
    put, every = 0, 0
    for own, options in found:
        nearest = own.nearest(rank, choices.factory, choices.parcels)
        open_ones = [option for option in options if not bits(option.reasons) & CLOSED_DAY]
        if nearest is None or not open_ones:
            continue
        if not bits(nearest[1].reasons) & SCARCITY:
            assert nearest[0] == rank(bits(nearest[1].reasons))
            assert nearest[0] == min(rank(bits(option.reasons)) for option in open_ones)
        assert not any(own.is_unsure(cell) for cell in own.said), "all is known of what is put into words"
        put, every = put + len(own.said), every + len(options)
    assert 0 < put < every / 3
