"""The planners of the timings: what checks them catches a broken choice; oldest order first keeps every
limit.
"""

from __future__ import annotations

import os
import signal
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from shipping.assignment.instance import (
    Chosen,
    Drawn,
    Instance,
    LotShare,
    OneLotFill,
    ParcelColumn,
    SharedFill,
)
from tests.timings.forked import _Family, forked
from tests.timings.week_check import WeekCheck
from tests.timings.week_peers import Loaded, eggs_past, growth, loaded
from tests.timings.week_planners import Planner, Week, by_cp_sat, by_milp, oldest_first

MONDAY = date(2026, 11, 30)
TUESDAY = MONDAY + timedelta(days=1)
LIMIT_S = 20.0


def a_task() -> Instance:
    """Orders A to C of one line each. A and B from lot 1, the one on Monday, the other on either day; C from
    lots 1 and 2.

    Lot 1 holds 30 eggs on Monday and 28 on Tuesday; a day takes one parcel.
    """
    monday, tuesday = (MONDAY, "letter"), (TUESDAY, "letter")
    fills = (
        OneLotFill(("A", 1), monday, "bag", 1, "1", 20, 2.0),
        OneLotFill(("B", 1), monday, "bag", 1, "1", 10, 1.0),
        OneLotFill(("B", 1), tuesday, "bag", 1, "1", 10, 1.5),
    )
    shares = (LotShare("1", 20, 20, 0.1), LotShare("2", 30, 15, 0.2))
    shared_fill = SharedFill(("C", 1), tuesday, "bag", 2, 20, shares, 2, 5, 3.0)
    columns = (
        ParcelColumn(("A",), monday, ((("A", 1), "bag", 1),), 4.0),
        ParcelColumn(("B",), monday, ((("B", 1), "bag", 1),), 4.0),
        ParcelColumn(("B",), tuesday, ((("B", 1), "bag", 1),), 4.0),
        ParcelColumn(("C",), tuesday, ((("C", 1), "bag", 2),), 4.0),
    )
    value = {("A", 1): 9.0, ("B", 1): 5.0, ("C", 1): 8.0}
    free = {("1", MONDAY): 30, ("1", TUESDAY): 28, ("2", TUESDAY): 15}
    return Instance(fills, (shared_fill,), columns, value, dict.fromkeys(value, 0.0), free, 1)


def drawn_from(line: str, day: date, *draws: tuple[str, int]) -> Drawn:
    return Drawn((line, 1), (day, "letter"), "bag", draws)


def choice_of(instance: Instance, columns: tuple[int, ...], *drawn: Drawn) -> Chosen:
    """Some of the ways, by number, and how their lines are filled; with its true value, and no better
    known.
    """
    value = sum(instance.value[one.line] for one in drawn)
    return Chosen(
        tuple(instance.columns[n] for n in columns), {one.line: one for one in drawn}, value, value, 0.0
    )


def a_of() -> Drawn:
    return drawn_from("A", MONDAY, ("1", 20))


def test_a_choice_up_to_every_limit_breaks_none_and_costs_parcels_fillings_and_eggs() -> None:
    instance = replace(a_task(), free={**a_task().free, ("1", TUESDAY): 30})
    chosen = choice_of(instance, (0, 3), a_of(), drawn_from("C", TUESDAY, ("1", 10), ("2", 15)))
    assert WeekCheck(instance).broken(chosen) == []
    assert WeekCheck(instance).cost(chosen) == pytest.approx(4.0 + 2.0 + 4.0 + 3.0 + 10 * 0.1 + 15 * 0.2)


def test_eggs_drawn_on_monday_count_on_tuesday_when_the_lot_is_drawn_from_then() -> None:
    instance = a_task()
    chosen = choice_of(instance, (0, 3), a_of(), drawn_from("C", TUESDAY, ("1", 10), ("2", 15)))
    assert WeekCheck(instance).broken(chosen) == ["30 eggs of lot 1 up to 2026-12-01"]


def test_a_second_parcel_on_a_day_that_takes_one_is_caught() -> None:
    instance = a_task()
    chosen = choice_of(instance, (0, 1), a_of(), drawn_from("B", MONDAY, ("1", 10)))
    assert WeekCheck(instance).broken(chosen) == ["2 parcels on 2026-11-30"]


def test_an_order_that_goes_twice_is_caught() -> None:
    instance = a_task()
    chosen = choice_of(instance, (1, 2), drawn_from("B", TUESDAY, ("1", 10)))
    assert "order B goes 2 times" in WeekCheck(instance).broken(chosen)


@pytest.mark.parametrize(
    "draws",
    [
        (("1", 9), ("2", 15)),  # 9/20 + 15/30 is not enough
        (("1", 16), ("2", 4)),  # enough, but a draw of 4
        (("1", 10), ("2", 16)),  # more than lot 2 may give
        (("1", 20),),  # one lot alone is no split
        (("1", 10), ("3", 15)),  # no such share
    ],
)
def test_draws_that_no_split_allows_are_caught(draws: tuple[tuple[str, int], ...]) -> None:
    instance = a_task()
    (problem,) = [
        one
        for one in WeekCheck(instance).broken(choice_of(instance, (3,), drawn_from("C", TUESDAY, *draws)))
        if "lot" not in one[:20]
    ]
    assert problem.startswith("line ('C', 1) cannot be filled so")


def test_units_that_lots_cannot_share_are_caught() -> None:
    instance = a_task()
    instance = replace(instance, shared_fills=(replace(instance.shared_fills[0], eggs_max=9),))
    chosen = choice_of(
        instance, (3,), drawn_from("C", TUESDAY, ("1", 10), ("2", 15))
    )  # 2 + 2 units of 9 eggs, not 2
    assert len(WeekCheck(instance).broken(chosen)) == 1


def test_a_line_without_a_parcel_and_a_parcel_without_its_line_are_caught() -> None:
    instance = a_task()
    assert "line ('A', 1) is filled but does not go" in WeekCheck(instance).broken(
        choice_of(instance, (), a_of())
    )
    assert "line ('A', 1) goes but is not filled" in WeekCheck(instance).broken(choice_of(instance, (0,)))


def test_a_parcel_that_no_postage_takes_is_caught() -> None:
    instance = a_task()
    chosen = replace(choice_of(instance, (0,), a_of()), columns=(replace(instance.columns[0], cost=0.0),))
    assert any(one.startswith("no such parcel") for one in WeekCheck(instance).broken(chosen))


def test_a_value_not_served_and_a_bound_below_it_are_caught() -> None:
    instance = a_task()
    chosen = choice_of(instance, (0,), a_of())
    assert WeekCheck(instance).broken(replace(chosen, value=10.0, bound=10.0)) == [
        "it serves 9.000000, not 10.000000"
    ]
    assert WeekCheck(instance).broken(replace(chosen, bound=8.0)) == [
        "it serves 9.000000, more than its bound 8.000000"
    ]


def test_oldest_first_takes_the_cheapest_way_and_so_leaves_value_unserved() -> None:
    instance = a_task()
    by_age = {
        "B": MONDAY - timedelta(days=9),
        "A": MONDAY - timedelta(days=5),
        "C": MONDAY - timedelta(days=1),
    }
    chosen = oldest_first(Week.of_instance(instance, by_age), LIMIT_S)
    assert [column.orders for column in chosen.columns] == [
        ("B",)
    ]  # on Monday, for 5.0; A then finds Monday full
    assert WeekCheck(instance).broken(chosen) == []


@pytest.mark.parametrize("planner", [by_milp, by_cp_sat])
def test_whole_programs_serve_the_most_that_the_tiny_week_can(planner: Planner) -> None:
    instance = a_task()
    chosen = planner(Week.of_instance(instance, {}), LIMIT_S)
    assert WeekCheck(instance).broken(chosen) == []
    # A and C would be 17, A and B 14, but lot 1 then lacks two eggs on Tuesday; B and C are 13.
    assert [chosen.value, chosen.bound] == pytest.approx([13.0, 13.0])


def test_eggs_of_a_lot_that_passes_its_last_safe_day_count_unless_drawn() -> None:
    chosen = choice_of(a_task(), (0,), a_of())
    assert eggs_past({"1": 30, "9": 7}, chosen) == 10 + 7


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    return loaded(25, 20, 4, tmp_path_factory.mktemp("week"))


def test_oldest_first_keeps_every_limit_of_a_generated_week(week: Loaded) -> None:
    chosen = oldest_first(Week.of_choices(week.choices), LIMIT_S)
    assert WeekCheck(week.choices.instance()).broken(chosen) == []
    assert len(chosen.columns) > 8
    assert chosen.value > 0


def test_oldest_first_serves_an_order_where_each_one_left_out_finds_no_way_left(week: Loaded) -> None:
    """Were one order's single-lot parcel still possible beside the rest, it would have been taken."""
    chosen, instance = oldest_first(Week.of_choices(week.choices), LIMIT_S), week.choices.instance()
    check = WeekCheck(instance)
    going = {order for column in chosen.columns for order in column.orders}
    for column in instance.columns:
        if len(column.travel_modes) > 1 or not going.isdisjoint(column.orders):
            continue
        for fill in instance.fills:
            if (fill.travel_mode, fill.departure) == (column.travel_modes[0], column.departure):
                more = Drawn(fill.line, fill.departure, fill.packing, ((fill.lot, fill.eggs),))
                value = chosen.value + instance.value[fill.line]
                assert check.broken(
                    Chosen((*chosen.columns, column), {**chosen.drawn, fill.line: more}, value, value, 0.0)
                )


def test_oldest_first_finds_the_dearer_packing_that_goes_by_the_cheaper_post() -> None:
    monday = (MONDAY, "letter")
    fills = tuple(
        OneLotFill(("A", 1), monday, packing, 1, "1", 10, cost)
        for packing, cost in (("bag", 1.0), ("tube", 2.0))
    )
    columns = tuple(
        ParcelColumn(("A",), monday, ((("A", 1), packing, 1),), cost)
        for packing, cost in (("bag", 9.0), ("tube", 4.0))
    )
    instance = Instance(fills, (), columns, {("A", 1): 9.0}, {("A", 1): 0.0}, {("1", MONDAY): 10}, None)
    assert oldest_first(Week.of_instance(instance, {"A": MONDAY}), None).drawn[("A", 1)].packing == "tube"


def test_oldest_first_draws_two_lines_of_one_order_on_different_eggs() -> None:
    monday, lines = (MONDAY, "letter"), (("A", 1), ("A", 2))
    fills = [
        OneLotFill(line, monday, "bag", 1, lot, 10, cost)
        for line in lines
        for lot, cost in (("1", 1.0), ("2", 2.0))
    ]
    columns = (ParcelColumn(("A",), monday, tuple((line, "bag", 1) for line in lines), 4.0),)
    free = {("1", MONDAY): 19, ("2", MONDAY): 10}
    instance = Instance(
        tuple(fills), (), columns, dict.fromkeys(lines, 9.0), dict.fromkeys(lines, 0.0), free, None
    )
    chosen = oldest_first(Week.of_instance(instance, {"A": MONDAY}), None)
    assert sorted(chosen.drawn[line].draws for line in lines) == [(("1", 10),), (("2", 10),)]


def test_seconds_that_grow_as_the_square_of_the_options_are_said_to() -> None:
    assert (
        growth([(100, 1.0), (1000, 100.0), (10_000, 1000.0)])
        == "Seconds without a limit of time grow as the options to the power 2.00 from 100 to 1,000, 1.00"
        " from 1,000 to 10,000."
    )


def test_a_program_whose_building_takes_all_the_time_says_so() -> None:
    def slow() -> Instance:
        time.sleep(60)
        return a_task()

    week = replace(Week.of_instance(a_task(), {}), instance=slow)
    assert forked(lambda: by_milp(week, 0.2), 30.0, 8.0).failed == "out of time building its program"


def test_work_in_a_child_comes_back_and_work_that_fails_says_how() -> None:
    assert forked(lambda: 6 * 7, 20.0, 8.0).found == 42
    assert forked(lambda: 1 / 0, 20.0, 8.0).failed == "ZeroDivisionError: division by zero"
    assert forked(lambda: bytearray(2**40), 20.0, 8.0).failed == "out of memory"


def test_the_memory_of_a_child_holds_that_of_the_child_it_forks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, look = os.getpid(), _Family.look
    all_held, was_looked_at = tmp_path / "held", tmp_path / "looked at"

    def looked(family: _Family) -> None:
        """What is held is held until this process, not the child that forked another, has looked."""
        is_held = all_held.exists() and os.getpid() == here
        look(family)
        if is_held:
            was_looked_at.touch()

    def holding() -> int:
        held = bytearray(os.urandom(1 << 20) * 100)
        all_held.touch()
        while not was_looked_at.exists():
            time.sleep(0.05)
        return len(held)

    def both() -> int:
        held = bytearray(os.urandom(1 << 20) * 60)
        inner: int = forked(holding, 120.0, 8.0).found
        return len(held) + inner

    monkeypatch.setattr(_Family, "look", looked)

    small = forked(lambda: time.sleep(0.1), 20.0, 8.0)
    assert forked(both, 120.0, 8.0).peak_mib > small.peak_mib + 150


def test_a_child_that_does_not_end_is_stopped() -> None:
    ended = forked(lambda: time.sleep(60), 0.2, 8.0)
    assert ended.found is None
    assert ended.failed.startswith("stopped after")


def test_a_child_of_a_child_is_stopped_with_it(tmp_path: Path) -> None:
    number = tmp_path / "number"

    def sleeping() -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        number.write_text(str(os.getpid()), encoding="utf-8")
        time.sleep(60)

    for stop_after in (0.5, 5.0, 50.0):  # on a busy machine the child of the child is not there so soon
        forked(lambda: forked(sleeping, 60.0, 8.0, patience=0.1), stop_after, 8.0, patience=60.0)
        if number.exists() and number.read_text(encoding="utf-8"):
            break
    with pytest.raises(ProcessLookupError):
        os.kill(int(number.read_text(encoding="utf-8")), 0)
