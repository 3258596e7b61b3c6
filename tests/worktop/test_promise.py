"""The chance beside the counts is the plan's own, reckoned again for the eggs that were counted."""

from __future__ import annotations

import pytest
from scipy.stats import betabinom

from shipping.ledger.kept import KeptLine
from shipping.words.reasons import Reason
from shipping.worktop.kept_week import kept_parcel_now, kept_parcels_now
from shipping.worktop.promise import (
    LinePromise,
    Outlook,
    _stopping_first,
    line_promise,
    promised_share,
    rides_of,
)
from tests.post.a_shelf import TODAY
from tests.week.a_week import a_row, a_week
from tests.worktop.conftest import FIRST, Desk


def test_with_the_counts_of_the_plan_the_chance_is_that_of_the_plan(desk: Desk) -> None:
    reckoner = desk.worktop.shelf_state.tables().reckoner
    for kept in kept_parcels_now(desk.worktop.shelf_state):
        for line in kept.parcel.lines:
            counts = {draw.lot: (draw.pack,) for draw in line.draws}
            found = line_promise(reckoner, kept.parcel, line, counts)
            assert found.chance == pytest.approx(line.p_enough, abs=1e-6)
            assert found.holds


def test_with_fewer_eggs_it_is_the_beta_binomial_chance(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    reckoner = desk.worktop.shelf_state.tables().reckoner
    line = kept.parcel.lines[0]
    rides = rides_of(reckoner, kept.parcel, line)
    assert rides is not None
    ride = rides["FL-31"]
    kappa = ride.packing.kappa
    expected = sum(
        chance * betabinom.sf(line.ordered - 1, 21, v * kappa, (1 - v) * kappa)
        for chance, v in zip(ride.leg.chances, ride.v, strict=True)
    )
    found = line_promise(reckoner, kept.parcel, line, {"FL-31": (21,)})
    assert found.chance == pytest.approx(expected, rel=1e-9)
    assert not found.holds


def test_no_egg_counted_is_no_chance(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    found = line_promise(
        desk.worktop.shelf_state.tables().reckoner, kept.parcel, kept.parcel.lines[0], {"FL-31": (0,)}
    )
    assert (found.chance, found.holds) == (0.0, False)


def test_more_eggs_in_a_tube_are_more_likely_to_bring_a_fry_and_that_is_said(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    found = line_promise(
        desk.worktop.shelf_state.tables().reckoner, kept.parcel, kept.parcel.lines[0], {"FL-31": (30, 30)}
    )
    assert found.holds
    assert [text for text in found.cautions if "the chance that any hatches on the way" in text]


def test_a_promise_holds_where_the_chance_is_just_what_was_promised() -> None:
    assert LinePromise(0.95, 0.95).holds
    assert not LinePromise(0.9499, 0.95).holds
    assert not LinePromise(None, 0.95).holds


@pytest.mark.parametrize(
    ("overpack", "p_enough", "promised"), [("", 0.6, 0.95), ("none", 0.6, 0.6), ("none", 0.99, 0.95)]
)
def test_what_was_promised_is_the_settings_and_never_more_than_the_plans_of_a_line_without_extra(
    overpack: str, p_enough: float, promised: float
) -> None:
    wish = {"overpack": overpack} if overpack else {}
    shelf = a_week(a_row("A", **wish), settings={"plan": {"promise": "0.95"}})
    assert promised_share(shelf, KeptLine("A", 1, "gar", "", 20, 20, p_enough, ())) == promised


LOOK, HOT = Reason("look-first", "Look."), Reason("too-hot", "Too hot.")


@pytest.mark.parametrize(
    ("against", "holds", "only_look", "may_go", "is_barred"),
    [
        ((), True, False, True, False),
        ((), False, False, False, True),
        ((LOOK,), True, True, False, False),
        ((LOOK, HOT), True, False, False, True),
    ],
)
def test_a_late_parcel_that_lacks_only_a_look_is_not_barred(
    against: tuple[Reason, ...], holds: bool, only_look: bool, may_go: bool, is_barred: bool
) -> None:
    late = Outlook(TODAY, "letter", "", TODAY, against, 0.9, holds, None)
    assert (late.only_look, late.may_go, late.is_barred) == (only_look, may_go, is_barred)


def test_what_stops_a_parcel_is_told_before_what_a_look_would_tell() -> None:
    assert [reason.code for reason in _stopping_first((LOOK, HOT))] == ["too-hot", "look-first"]
