"""Of lots that the same speaks against, the one that is nearest to going is named, not the first by name."""

from __future__ import annotations

import pytest

from shipping.questions.why import why
from shipping.tables.shelf import Shelf
from tests.post.a_shelf import a_service
from tests.week.a_week import WEEK, a_lot, a_row, a_week, ago, plan_of


def two_lots(old: str, young: str) -> Shelf:
    """Both hatch too much on the way in any packing, the older more."""
    lots = (
        a_lot(old, laid_from=ago(12), laid_to=ago(12)),
        a_lot(young, laid_from=ago(11), laid_to=ago(11)),
    )
    slow = a_service(early_d=3, usual_d=4, late_d=5, live_eggs="yes")
    return a_week(a_row("A"), lots=lots, services=(slow,))


@pytest.mark.parametrize("names", [("L1", "L2"), ("L2", "L1")])
def test_the_lot_that_hatches_least_over_its_limit_is_named(names: tuple[str, str]) -> None:
    shelf = two_lots(*names)
    (out,) = plan_of(shelf).lines_out
    (hatch,) = (one for one in out.reasons if one.code == "would-hatch")
    assert hatch.facts["lot"] == names[1]
    considered = why(shelf, "A", WEEK)
    (first, *_) = considered.options
    assert first[1].ride.lot_day.forecast.lot.lot == names[1]


@pytest.mark.parametrize("names", [("L1", "L2"), ("L2", "L1")])
def test_the_lot_with_most_eggs_free_is_named_where_all_have_too_few(names: tuple[str, str]) -> None:
    few, more = names
    shelf = a_week(a_row("A", 60), lots=(a_lot(few, eggs=8), a_lot(more, eggs=20)))
    (out,) = plan_of(shelf).lines_out
    assert [one.facts["lot"] for one in out.reasons if one.code == "short"] == [more]
