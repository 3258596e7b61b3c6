"""What arrivals and looks teach, before and after, as rows a breeder can read and overrule."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.learning.lesson import Lesson, learn
from shipping.learning.losses import Losses
from shipping.tables.learned_values import applied, rate_problems
from shipping.tables.rows.lots import Look
from tests.ledger.invented import TODAY, drawn, lot, outcome, rate, shelf

TRUTH = Losses(0.08, 0.03, 15.0)


def after(lesson: Lesson, what: str, for_: str) -> float:
    return next(rate.after for rate in lesson.rates if (rate.what, rate.for_) == (what, for_))


def test_a_lesson_names_each_value_before_and_after() -> None:
    lesson = learn(shelf(), drawn(200, TRUTH, 1))
    told = [one for one in lesson.rates if one.n]
    assert [(one.for_, one.what) for one in told] == [
        ("letter", "early_d"),
        ("letter", "late_d"),
        ("letter", "usual_d"),
        ("tube/water", "kappa"),
        ("tube/water", "loss_handling"),
        ("tube/water", "loss_per_day"),
    ]
    per_day = told[-1]
    assert (per_day.before, per_day.n, per_day.source) == (0.01, 200, "200 lines reported")
    assert per_day.after > 0.025
    assert per_day.low is not None
    assert per_day.high is not None
    assert per_day.low < per_day.after < per_day.high


def test_parcels_not_reported_change_nothing_but_their_number_is_said() -> None:
    told = drawn(50, TRUTH, 1)
    silent = tuple(replace(outcome(900 + n), living=None, arrived_on=None) for n in range(30))
    lesson, longer = learn(shelf(), told), learn(shelf(), (*told, *silent))
    assert longer.rates == lesson.rates
    assert (longer.reported, longer.unreported) == (50, 30)
    assert longer.silence.startswith("30 of 80 lines sent are silent")


def test_rows_written_are_applied_from_their_day_on() -> None:
    place = shelf()
    rows = learn(place, drawn(500, TRUTH, 1)).rows(TODAY)
    assert {row.basis for row in rows} == {"learned"}
    assert rate_problems(replace(place, rates=rows)) == ()
    taught = applied(replace(place, rates=rows))
    tube = taught.packing_by_name["tube"]
    assert tube.loss_handling + 4 * tube.loss_per_day == pytest.approx(0.20, abs=0.02)
    yesterday = replace(place, rates=rows, today=TODAY - timedelta(days=1))
    assert applied(yesterday).packings == place.packings


def test_learning_twice_from_the_same_parcels_changes_nothing() -> None:
    found = drawn(40, TRUTH, 1)
    first = learn(shelf(), found)
    again = learn(shelf(rates=first.rows(TODAY)), found)
    assert [one.after for one in again.rates] == [one.after for one in first.rates]
    assert [one.before for one in again.rates] == pytest.approx([one.after for one in first.rates], rel=1e-5)


def test_a_value_the_breeder_overruled_is_not_written_over() -> None:
    own = rate("loss_per_day", "tube/water", 0.05, date(2026, 11, 1), basis="common practice")
    lesson = learn(shelf(rates=(own,)), drawn(40, TRUTH, 1))
    (overruled,) = [one for one in lesson.rates if one.overruled]
    assert (overruled.what, overruled.before) == ("loss_per_day", 0.05)
    written = {(row.what, row.for_) for row in lesson.rows(TODAY)}
    assert ("loss_per_day", "tube/water") not in written
    assert ("loss_handling", "tube/water") in written


def test_a_packing_of_several_media_is_learned_for_each_and_for_all() -> None:
    wet = drawn(60, TRUTH, 1, packing="bag", medium="water")
    damp = tuple(replace(one, parcel=one.parcel + "d") for one in drawn(60, Losses(0.02, 0.005, 40), 2))
    lesson = learn(shelf(), (*wet, *(replace(one, packing="bag", medium="moss") for one in damp)))
    moss, both, water = (after(lesson, "loss_per_day", key) for key in ("bag/moss", "bag", "bag/water"))
    assert moss < both < water


def test_the_lesson_does_not_depend_on_the_order_of_outcomes() -> None:
    found = drawn(60, TRUTH, 1)
    assert learn(shelf(), found) == learn(shelf(), found[::-1])


def test_looks_teach_hatch_days_and_the_shelfs_losses() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 20), removed=4, hatched=0),
        Look(lot="L1", on=date(2026, 11, 29), removed=1, hatched=60),
    )
    lesson = learn(shelf(lots=(lot(),), looks=looks), ())
    assert {one.for_ for one in lesson.rates} == {"*", "gardneri", "gardneri/Akure"}
    assert after(lesson, "hatch_early_d", "gardneri") < after(lesson, "hatch_late_d", "gardneri")
    assert after(lesson, "shelf_loss_per_day", "*") < 0.01


def test_eggs_nobody_had_seen_teach_the_fertile_share() -> None:
    seen = drawn(300, TRUTH, 1)
    unseen = drawn(300, TRUTH, 2, other_share=0.7)
    unseen = tuple(
        replace(one, parcel=one.parcel + "u", fertile_known=False, other_share=0.85, hatch_share=1.0)
        for one in unseen
    )
    assert after(learn(shelf(), (*seen, *unseen)), "fertile_share", "*") == pytest.approx(0.70, abs=0.04)


def test_nothing_told_teaches_nothing() -> None:
    assert learn(shelf(), ()) == Lesson((), 0, 0)
