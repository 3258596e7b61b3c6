"""What is left of a lot after draws: every draw already made keeps its own, on its own day."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from shipping.options.option_factory import Reckoner
from shipping.week.left_out.remaining_stock import EggsLeft
from tests.post.a_shelf import TODAY
from tests.week.a_week import a_lot, a_week, ago

LATER = TODAY + timedelta(days=3)


def test_what_is_drawn_is_gone_on_that_day_and_after() -> None:
    reckoner = Reckoner(a_week())
    left = EggsLeft(reckoner)
    free = {day: reckoner.lot_day("G1", day).free for day in (TODAY, LATER)}
    left.take((("G1", 30),), TODAY, "A")
    assert [left.on("G1", day) for day in (TODAY, LATER)] == [free[TODAY] - 30, free[LATER] - 30]
    assert left.taken("G1") == 30


def test_a_draw_made_for_a_later_day_keeps_its_eggs_from_an_earlier_one() -> None:
    reckoner = Reckoner(a_week())
    left = EggsLeft(reckoner)
    free_later = reckoner.lot_day("G1", LATER).free
    left.take((("G1", 40),), LATER, "A")
    # eggs die on the shelf meanwhile: fewer than all may go today, or the later draw would fall short
    assert left.on("G1", TODAY) == free_later - 40 < reckoner.lot_day("G1", TODAY).free - 40


def test_eggs_that_show_eyes_later_are_not_left_before() -> None:
    reckoner = Reckoner(a_week(lots=(a_lot(laid_from=ago(5), laid_to=ago(5), stage="laid"),)))
    left = EggsLeft(reckoner)
    left.take((("G1", 5),), TODAY + timedelta(days=7), "A")
    assert left.on("G1", TODAY) == reckoner.lot_day("G1", TODAY).free


def test_all_days_ahead_have_left_what_each_has_by_itself() -> None:
    lots = (a_lot(), a_lot("G2", laid_from=ago(5), laid_to=ago(5), stage="laid"))
    reckoner = Reckoner(a_week(lots=lots))
    every_day = tuple(TODAY + timedelta(days=n) for n in range(12))
    left = EggsLeft(reckoner)
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
                free = np.array([reckoner.lot_day(name, one).free for one in days])
                assert left.ahead(name, days, free).tolist() == [left.on(name, one) for one in days]


def test_never_less_than_nothing_is_left() -> None:
    left = EggsLeft(Reckoner(a_week()))
    left.take((("G1", 1000),), TODAY, "A")
    assert left.on("G1", TODAY) == 0


def test_a_day_is_full_for_all_but_the_orders_that_have_their_place() -> None:
    left = EggsLeft(Reckoner(a_week(settings={"plan": {"parcels_per_day": 1}})))
    left.take((("G1", 10),), TODAY, "A")
    assert left.is_full(TODAY)
    assert not left.is_full(TODAY, "A")
    assert not left.is_full(LATER)
