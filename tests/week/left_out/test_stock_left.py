"""What is left of a lot after draws: every draw already made keeps its own, on its own day."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from shipping.options.option_factory import OptionFactory
from shipping.week.left_out.stock import EggsLeft, draws_for
from shipping.words.reasons import Reason
from tests.post.a_shelf import TODAY
from tests.week.a_week import a_lot, a_week, ago

LATER = TODAY + timedelta(days=3)


def test_what_is_drawn_is_gone_on_that_day_and_after() -> None:
    factory = OptionFactory(a_week())
    left = EggsLeft(factory)
    free = {day: factory.lot_day("G1", day).free for day in (TODAY, LATER)}
    left.take((("G1", 30),), TODAY, "A")
    assert [left.on("G1", day) for day in (TODAY, LATER)] == [free[TODAY] - 30, free[LATER] - 30]
    assert left.taken("G1") == 30


def test_a_draw_made_for_a_later_day_keeps_its_eggs_from_an_earlier_one() -> None:
    factory = OptionFactory(a_week())
    left = EggsLeft(factory)
    free_later = factory.lot_day("G1", LATER).free
    left.take((("G1", 40),), LATER, "A")
    # eggs die on the shelf meanwhile: fewer than all may go today, or the later draw would fall short
    assert left.on("G1", TODAY) == free_later - 40 < factory.lot_day("G1", TODAY).free - 40


def test_eggs_that_show_eyes_later_are_not_left_before() -> None:
    factory = OptionFactory(a_week(lots=(a_lot(laid_from=ago(5), laid_to=ago(5), stage="laid"),)))
    left = EggsLeft(factory)
    left.take((("G1", 5),), TODAY + timedelta(days=7), "A")
    assert left.on("G1", TODAY) == factory.lot_day("G1", TODAY).free


def test_all_days_ahead_have_left_what_each_has_by_itself() -> None:
    lots = (a_lot(), a_lot("G2", laid_from=ago(5), laid_to=ago(5), stage="laid"))
    factory = OptionFactory(a_week(lots=lots))
    every_day = tuple(TODAY + timedelta(days=n) for n in range(12))
    left = EggsLeft(factory)
    for lot, eggs, day in (
        ("G1", 20, 4),
        ("G2", 3, 6),
        ("G1", 30, 2),
        ("G2", 40, 9),
        ("G1", 7, 4),
        ("G2", 5, 30),
    ):
        left.take(((lot, eggs),), TODAY + timedelta(days=day), "A")
        for name in ("G1", "G2"):
            for days in (every_day, every_day[3::2]):  # draws are on other days too
                free = np.array([factory.lot_day(name, one).free for one in days])
                assert left.ahead(name, days, free).tolist() == [left.on(name, one) for one in days]


def test_never_less_than_nothing_is_left() -> None:
    left = EggsLeft(OptionFactory(a_week()))
    left.take((("G1", 1000),), TODAY, "A")
    assert left.on("G1", TODAY) == 0


def test_a_day_is_full_for_all_but_the_orders_that_have_their_place() -> None:
    left = EggsLeft(OptionFactory(a_week(settings={"plan": {"parcels_per_day": 1}})))
    left.take((("G1", 10),), TODAY, "A")
    assert left.is_full(TODAY)
    assert not left.is_full(TODAY, "A")
    assert not left.is_full(LATER)


def an_option(lot: str, pack: int, block: str = "", ask: str = "") -> Any:
    """An option as far as the search for eggs left looks at one."""
    ride = SimpleNamespace(
        lot_day=SimpleNamespace(forecast=SimpleNamespace(lot=SimpleNamespace(lot=lot, population="Akure"))),
        leg=SimpleNamespace(day=TODAY, service=SimpleNamespace(service="letter")),
        packing=SimpleNamespace(packing="tube"),
        most_by_any=10**6,
    )
    blocks, asks = (((Reason(code, ""),) if code else ()) for code in (block, ask))
    return SimpleNamespace(ride=ride, pack=pack, blocks=blocks, asks=asks)


def eggs_left(lots_a_line: int = 2, **eggs: int) -> Any:
    plan = SimpleNamespace(lots_a_line=lots_a_line)
    shelf = SimpleNamespace(settings=SimpleNamespace(plan=plan))
    return SimpleNamespace(on=lambda lot, _: eggs[lot], factory=SimpleNamespace(shelf=shelf))


@pytest.mark.parametrize(
    ("eggs", "draws"),
    [
        ({"A": 24, "B": 24}, (("A", 24),)),
        ({"A": 16, "B": 15}, (("A", 16), ("B", 8))),
        ({"A": 21, "B": 15}, (("A", 21), ("B", 5))),
        ({"A": 12, "B": 11}, None),
        ({"A": 20, "B": 4}, None),
    ],
)
def test_eggs_left_fill_a_line_from_one_lot_or_from_two_whose_shares_make_one(
    eggs: dict[str, int], draws: tuple[tuple[str, int], ...] | None
) -> None:
    options = [an_option(lot, 24, "" if eggs[lot] >= 24 else "short") for lot in eggs]
    found = draws_for(options, eggs_left(**eggs))
    assert (found and found[0]) == draws


def test_what_a_person_must_answer_first_is_no_draw_unless_it_is_taken_as_answered() -> None:
    options = [an_option("A", 24, ask="unpaid")]
    assert draws_for(options, eggs_left(A=50)) is None
    found = draws_for(options, eggs_left(A=50), answered=True)
    assert found is not None
    assert found[0] == (("A", 24),)
