"""What lots give a line together is held by those that some split takes, and so is what is left of them."""

from __future__ import annotations

import math

from shipping.assignment.columns import (
    LineColumns,
    OneLotColumns,
    Part,
    SeveralLotsColumns,
    SharedColumns,
    several_lots,
    shared_columns,
)
from shipping.assignment.insertion import _least_price

COSTS = math.inf, math.inf, 1.0


def split(packing: str, *parts: Part) -> SharedColumns:
    return shared_columns(packing, 30, COSTS, 2, 5, parts)


def test_shares_are_the_best_of_any_packing_and_stand_apart_where_no_split_takes_both() -> None:
    several = several_lots(
        (
            split("bag", (0, 20, 10, 0.5), (1, 22, 12, 0.5)),
            split("tube", (0, 19, 9, 0.5), (1, 23, 14, 0.5)),
            split("bag", (4, 30, 15, 0.5), (5, 30, 16, 0.5)),
        )
    )
    assert sorted(several.shares) == [((0, 19, 10), (1, 22, 14)), ((4, 30, 15), (5, 30, 16))]
    assert several.least_draw == 5


def test_lots_that_a_third_split_links_stand_together() -> None:
    one = split("bag", (0, 20, 10, 0.5), (1, 20, 10, 0.5))
    two = split("tin", (2, 20, 10, 0.5), (3, 20, 10, 0.5))
    third = split("tube", (1, 18, 10, 0.9), (2, 20, 12, 0.9))  # the dearest, so that it comes last
    for made in ((one, two, third), (third, two, one), (one, third, two)):
        (shares,) = several_lots(made).shares
        assert shares == ((0, 20, 10), (1, 18, 10), (2, 20, 12), (3, 20, 10))


def test_a_line_costs_what_its_lots_share_and_what_it_costs_itself() -> None:
    bag = split("bag", (0, 20, 10, 0.5), (1, 20, 10, 0.5))
    line = LineColumns(OneLotColumns(), (), 7.0, 0.0, lambda: several_lots([bag]))
    (least,) = line.least
    assert least == (7.0 + 1.0 + 20 * 0.5, "bag", 2)


def test_ways_stand_lot_by_lot_and_are_looked_at_by_cost() -> None:
    own = OneLotColumns((0, 0, 1), (20, 21, 20), (1, 1, 1), ("bag", "tube", "bag"))
    line = LineColumns(own, (2.0, 1.0, 1.0), 0.0, math.inf, lambda: several_lots(()))
    assert list(line.by_cost) == [1, 2, 0]
    assert own.by_lot == ((0, 20, 0, 2), (1, 20, 2, 3))


def test_splits_are_made_when_first_asked_for_and_once_and_stand_by_cost() -> None:
    cheap, dear = split("tube", (0, 19, 9, 0.5), (1, 23, 14, 0.5)), split("bag", (0, 20, 10, 0.9))
    asked: list[str] = []

    def made() -> tuple[SharedColumns, ...]:
        asked.append("splits")
        return dear, cheap

    several = SeveralLotsColumns((((0, 19, 10), (1, 23, 14)),), 5, made)
    both = OneLotColumns((0, 1), (20, 20), (1, 1), ("bag", "bag"))
    one = OneLotColumns((0,), (20,), (1,), ("bag",))
    wide, narrow = (LineColumns(own, (1.0,) * len(own.at), 0.0, 9.0, lambda: several) for own in (both, one))
    assert not narrow.asks_no_more(wide)
    assert _least_price(narrow, (0.5, 0.25)) == 10.0
    assert several.shares[0][0] == (0, 19, 10)
    assert not asked
    assert several.fills == several.fills == (cheap, dear)
    assert asked == ["splits"]
