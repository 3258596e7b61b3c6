"""The chance beside the counts is the plan's own, reckoned again for the eggs that were counted."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from scipy.stats import betabinom

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.overpack import ROUNDING
from shipping.ledger.entries import LineCount
from shipping.ledger.kept_parcel import kept_parcels
from shipping.words.reasons import Reason
from shipping.worktop import promise
from shipping.worktop.kept_week import kept_parcel_now, kept_parcels_now
from shipping.worktop.promise import (
    LinePromise,
    Outlook,
    _stopping_first,
    line_promise,
    outlook,
    rides_of,
)
from tests.ledger.desk import draw, parcel, plan
from tests.ledger.desk import line as a_line
from tests.post.a_shelf import TODAY, a_species
from tests.week.a_week import a_lot, a_row, a_week, ago
from tests.worktop.conftest import FIRST, Desk


def test_with_the_counts_of_the_plan_the_chance_is_that_of_the_plan(desk: Desk) -> None:
    factory = desk.worktop.shelf_state.tables().factory
    for kept in kept_parcels_now(desk.worktop.shelf_state):
        for line in kept.parcel.lines:
            counts = {draw.lot: (draw.pack,) for draw in line.draws}
            found = line_promise(factory, kept.parcel, line, counts)
            assert found.chance == pytest.approx(line.p_enough, abs=1e-6)
            assert found.holds


def test_with_fewer_eggs_it_is_the_beta_binomial_chance(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    factory = desk.worktop.shelf_state.tables().factory
    line = kept.parcel.lines[0]
    rides = rides_of(factory, kept.parcel, line)
    assert rides is not None
    ride = rides["FL-31"]
    kappa = ride.packing.kappa
    expected = sum(
        chance * betabinom.sf(line.ordered - 1, 21, v * kappa, (1 - v) * kappa)
        for chance, v in zip(ride.leg.chances, ride.v, strict=True)
    )
    found = line_promise(factory, kept.parcel, line, {"FL-31": (21,)})
    assert found.chance == pytest.approx(expected, rel=1e-9)
    assert not found.holds


def test_no_egg_counted_is_no_chance(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    found = line_promise(
        desk.worktop.shelf_state.tables().factory, kept.parcel, kept.parcel.lines[0], {"FL-31": (0,)}
    )
    assert (found.chance, found.holds) == (0.0, False)


def test_a_lot_of_which_nothing_was_counted_is_none_of_the_lines(desk: Desk) -> None:
    """D09 is planned from two lots: with eggs of one alone its chance is that of one lot."""
    (kept,) = (
        one for one in kept_parcels_now(desk.worktop.shelf_state) if one.parcel.lines[0].order == "D09"
    )
    factory, line = desk.worktop.shelf_state.tables().factory, kept.parcel.lines[0]
    first, second = (draw.lot for draw in line.draws)
    alone = line_promise(factory, kept.parcel, line, {first: (25, 25)})
    assert line_promise(factory, kept.parcel, line, {first: (25, 25), second: ()}) == alone


def test_more_eggs_in_a_tube_are_more_likely_to_bring_a_fry_and_that_is_said(desk: Desk) -> None:
    kept = kept_parcel_now(desk.worktop.shelf_state, FIRST)
    assert kept is not None
    found = line_promise(
        desk.worktop.shelf_state.tables().factory, kept.parcel, kept.parcel.lines[0], {"FL-31": (30, 30)}
    )
    assert found.holds
    assert [text for text in found.cautions if "the chance that any hatches on the way" in text]


def test_a_promise_holds_where_the_chance_is_just_what_was_promised_or_a_rounding_less() -> None:
    assert LinePromise(0.95, 0.95).holds
    assert LinePromise(0.95 - ROUNDING, 0.95).holds
    assert not LinePromise(0.9499, 0.95).holds
    assert not LinePromise(None, 0.95).holds


@pytest.mark.parametrize(
    ("packed", "chances"), [(False, (0.97, 0.9)), (True, (0.9, 0.97)), (True, (0.96, 0.97))]
)
def test_a_late_parcel_is_as_sure_as_its_worst_line_with_the_eggs_that_are_in_it(
    monkeypatch: pytest.MonkeyPatch, packed: bool, chances: tuple[float, float]
) -> None:
    lines = [a_line(name, 1, 20, draw("G1", 24)) for name in ("A", "B")]
    (kept,) = kept_parcels(plan(parcel("2026-W49-01", "Buyer", *lines)), 1, {})
    if packed:
        kept = replace(kept, state="packed", counts=(LineCount(order="A", line=1, lot="G1", eggs=22),))
    asked: list[object] = []

    def reckoned(factory: object, parcel: object, counts: object, *more: object) -> object:
        asked.append(counts)
        told = [
            SimpleNamespace(order=one.order, line=1, p_enough=p)
            for one, p in zip(kept.lines, chances, strict=True)
        ]
        return SimpleNamespace(gone="", chances=told, against=())

    monkeypatch.setattr(promise, "reckoned_on", reckoned)
    monkeypatch.setattr(promise, "rides_of", lambda *told: "gone")
    known = a_week(a_row("A"), a_row("B"), settings={"plan": {"promise": "0.95"}})
    tables: Any = SimpleNamespace(known=known, factory=None, counted={})
    held: Any = SimpleNamespace(parcel=kept)
    found = outlook(held, tables, TODAY)
    assert (found.chance, found.holds) == (min(chances), min(chances) >= 0.95)
    assert asked == [kept.counts if packed else kept.planned_counts()]


def test_the_first_lot_to_hatch_is_told_and_no_lot_kept_damp() -> None:
    """Eggs in peat hatch when they are wetted, and not before."""
    damp = a_species(species="dry", incubation="damp", keep_min_c=10, keep_max_c=27)
    lots = (
        a_lot("LATE", laid_from=ago(5), laid_to=ago(5)),
        a_lot("SOON", laid_from=ago(9), laid_to=ago(9)),
        a_lot("PEAT", species="dry", medium="peat", laid_from=ago(11), laid_to=ago(11)),
    )
    known = a_week(lots=lots, species={"gar": a_species(keep_min_c=10, keep_max_c=27), "dry": damp})
    draws = [draw(name, 8) for name in ("LATE", "SOON", "PEAT", "GONE")]
    (kept,) = kept_parcels(plan(parcel("2026-W49-01", "Buyer", a_line("A", 1, 20, *draws))), 1, {})
    held: Any = SimpleNamespace(parcel=kept)
    tables: Any = SimpleNamespace(known=known)
    assert promise._first_to_hatch(held, tables) == ("SOON", lot_forecast(known, "SOON").day_hatched(0.05))


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
    late = Outlook(TODAY, "letter", "", against, 0.9, holds, None)
    assert (late.only_look, late.may_go, late.is_barred) == (only_look, may_go, is_barred)


def test_what_stops_a_parcel_is_told_before_what_a_look_would_tell() -> None:
    assert [reason.code for reason in _stopping_first((LOOK, HOT))] == ["too-hot", "look-first"]
