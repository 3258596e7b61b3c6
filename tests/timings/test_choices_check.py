"""A choice checked against a week's choices: a sound one breaks nothing, and what is done to it is caught."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from shipping.assignment.instance import Chosen, Drawn, ParcelColumn
from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.week.choices import Choices
from shipping.words import long_work
from tests.timings import choices_check
from tests.timings.choices_check import checked, is_parcel
from tests.timings.week_planners import Week, oldest_first, ours
from tests.timings.weeks import SHORT, TODAY, generated_week
from tests.week.a_week import WEEK

SIZE = (70, 50, 6)


def choices_of(folder: Path, parcels_per_day: int | None = None) -> Choices:
    """The choices of a short week, with another limit of parcels where one is named."""
    toml = generated_week(*SIZE, folder, SHORT) / "shelf.toml"
    if parcels_per_day is not None:
        kept = toml.read_text(encoding="utf-8").partition("parcels_per_day")[0]
        toml.write_text(f"{kept}parcels_per_day = {parcels_per_day}\n", encoding="utf-8")
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    choices = Choices.of_week(OptionFactory(shelf), WEEK)
    choices.reckon()
    return choices


@pytest.fixture(scope="module")
def choices(tmp_path_factory: pytest.TempPathFactory) -> Choices:
    return choices_of(tmp_path_factory.mktemp("week"))


@pytest.fixture(scope="module")
def chosen(choices: Choices) -> Chosen:
    return ours(Week.of_choices(choices), None)


def with_draws(chosen: Chosen, one: Drawn) -> Chosen:
    """The choice, a line filled in another way."""
    return replace(chosen, drawn={**chosen.drawn, one.line: one})


def with_way(chosen: Chosen, old: ParcelColumn, new: ParcelColumn) -> Chosen:
    """The choice, one parcel made another."""
    return replace(chosen, columns=tuple(new if column == old else column for column in chosen.columns))


def test_sound_choices_break_nothing_and_cost_what_they_say(choices: Choices, chosen: Chosen) -> None:
    assert len(chosen.columns) > 40
    assert any(len(one.draws) > 1 for one in chosen.drawn.values())
    for one in (chosen, oldest_first(Week.of_choices(choices), None)):
        assert checked(choices, one).broken == ()
        assert checked(choices, one).cost == pytest.approx(one.cost)


@pytest.mark.parametrize("more", [-1, 1])
def test_an_egg_too_few_or_too_many_is_caught(choices: Choices, chosen: Chosen, more: int) -> None:
    one = next(one for one in chosen.drawn.values() if len(one.draws) == 1)
    (draw,) = one.draws
    found = checked(choices, with_draws(chosen, replace(one, draws=((draw[0], draw[1] + more),)))).broken
    assert any(text.startswith(f"line {one.line} cannot be filled so") for text in found)


def test_more_parcels_than_a_day_takes_are_caught(chosen: Chosen, tmp_path: Path) -> None:
    found = checked(choices_of(tmp_path, parcels_per_day=2), chosen).broken
    loads = {
        day: sum(column.departure[0] == day for column in chosen.columns)
        for day in {column.departure[0] for column in chosen.columns}
    }
    assert set(found) == {f"{load} parcels on {day}" for day, load in loads.items() if load > 2}
    assert found


def test_a_lot_overdrawn_by_parcels_of_different_batches_is_caught(
    choices: Choices, chosen: Chosen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line filled from a lot that others have drawn on, where it keeps its parcel and its own limits."""
    monkeypatch.setattr(choices_check, "BATCH", 1)
    departure = {
        travel_mode[0]: (column.departure, travel_mode)
        for column in chosen.columns
        for travel_mode in column.travel_modes
    }
    texts = []
    for fill in choices.instance().fills:
        old = chosen.drawn.get(fill.line)
        if (
            old is not None
            and departure[fill.line] == (fill.departure, fill.travel_mode)
            and old.draws[0][0] != fill.lot
        ):
            texts += checked(choices, with_draws(chosen, replace(old, draws=((fill.lot, fill.eggs),)))).broken
        if texts:
            break
    assert texts
    assert all(" eggs of lot " in text for text in texts)


def test_a_parcel_at_a_price_that_is_not_so_or_with_a_line_left_behind_is_caught(
    choices: Choices, chosen: Chosen
) -> None:
    column = next(
        column
        for column in chosen.columns
        if len(column.travel_modes) > 1 and not choices.shelf.order_by_name[column.orders[0]].may_split
    )
    for new in (
        replace(column, cost=column.cost - 1.0),
        replace(column, travel_modes=column.travel_modes[:1]),
    ):
        assert f"no such parcel: {new}" in checked(choices, with_way(chosen, column, new)).broken


def test_a_parcel_on_a_day_its_lines_were_not_reckoned_for_is_caught(
    choices: Choices, chosen: Chosen
) -> None:
    column = chosen.columns[0]
    sunday = TODAY.fromordinal(TODAY.toordinal() - 1)
    found = checked(
        choices, with_way(chosen, column, replace(column, departure=(sunday, column.departure[1])))
    ).broken
    assert f"parcels on {sunday}, not a day of the week" in found


def test_an_order_that_goes_twice_and_a_line_that_does_not_go_are_caught(
    choices: Choices, chosen: Chosen
) -> None:
    column = chosen.columns[0]
    assert (
        f"order {column.orders[0]} goes 2 times"
        in checked(choices, replace(chosen, columns=(*chosen.columns, column))).broken
    )
    found = checked(choices, replace(chosen, columns=chosen.columns[1:])).broken
    assert {f"line {travel_mode[0]} is filled but does not go" for travel_mode in column.travel_modes} <= set(
        found
    )


def test_a_value_that_is_not_served_is_caught(choices: Choices, chosen: Chosen) -> None:
    found = checked(choices, replace(chosen, value=chosen.value + 1.0, bound=chosen.value - 1.0)).broken
    assert [text[:9] for text in found] == ["it serves", "it serves"]


def test_the_same_is_found_in_small_batches_by_two_processes(
    choices: Choices, chosen: Chosen, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = replace(chosen, drawn={line: one for n, (line, one) in enumerate(chosen.drawn.items()) if n % 5})
    together = checked(choices, broken)
    monkeypatch.setattr(choices_check, "BATCH", 3)
    monkeypatch.setattr(long_work, "MANY_PARTS", 2)
    apart = checked(choices, broken)
    assert apart.broken == together.broken
    assert together.broken
    assert apart.cost == pytest.approx(together.cost)


def test_every_way_of_the_week_is_a_parcel(choices: Choices) -> None:
    columns = choices.instance().columns
    assert len({column.orders for column in columns if len(column.orders) > 1}) > 0
    assert all(is_parcel(choices.shelf, column) for column in columns)
