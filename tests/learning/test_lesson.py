"""What arrivals and looks teach, before and after, as rows a breeder can read and overrule."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.learning.lesson import Lesson, learn
from shipping.learning.losses import Losses
from shipping.learning.next_margins import mishap_sentence, told_sentence
from shipping.questions.margin import margin_of_route
from shipping.tables.learned_values import PACKING_RATES, applied, rate_problems
from shipping.tables.rows.lots import Look
from shipping.tables.rows.weather import Disruption
from tests.ledger.invented import LETTER, TODAY, drawn, lot, outcome, rate, shelf

TRUTH = Losses(0.08, 0.03, 15.0)


def after(lesson: Lesson, what: str, for_: str) -> float:
    return next(rate.after for rate in lesson.rates if (rate.what, rate.for_) == (what, for_))


def test_a_lesson_names_each_value_before_and_after() -> None:
    lesson = learn(shelf(), drawn(200, TRUTH, 1))
    told = [one for one in lesson.rates if one.n]
    assert [(one.for_, one.what) for one in told] == [
        ("letter", "early_d"),
        ("letter", "late_d"),
        ("letter", "parcel_lost_share"),
        ("letter", "usual_d"),
        ("tube/water", "kappa"),
        ("tube/water", "loss_handling"),
        ("tube/water", "loss_per_day"),
    ]
    per_day = told[-1]
    assert (per_day.before, per_day.n, per_day.source) == (0.01, 200, "200 lines reported")
    assert per_day.after > 0.025
    alone = learn(shelf(), drawn(1, TRUTH, 1))
    assert {one.source for one in alone.rates if one.what == "loss_per_day"} >= {"1 line reported"}
    assert {one.source for one in alone.rates if one.what == "usual_d"} == {"1 parcel that arrived"}
    assert per_day.low < per_day.after < per_day.high


def test_parcels_not_reported_change_nothing_but_their_number_is_said() -> None:
    told = drawn(50, TRUTH, 1)
    silent = tuple(replace(outcome(900 + n), living=None, arrived_on=None) for n in range(30))
    lesson, longer = learn(shelf(), told), learn(shelf(), (*told, *silent))
    # that nobody missed them speaks of the post alone
    eggs, more = (
        [rate for rate in one.rates if rate.what != "parcel_lost_share"] for one in (lesson, longer)
    )
    assert more == eggs
    assert (longer.reported, longer.unreported) == (50, 30)
    assert longer.silence.startswith("Silent: 30 of 80 (lines that should have arrived).")


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
    moss, both, water = (
        after(lesson, "loss_handling", key) + 4 * after(lesson, "loss_per_day", key)
        for key in ("bag/moss", "bag", "bag/water")
    )
    assert 1.1 * moss < both < water / 1.1


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


def test_a_packing_that_nothing_was_told_of_takes_what_its_like_taught_its_own_kind_most() -> None:
    place = shelf()
    twin = place.packings[0].model_copy(update={"packing": "tube in foam box"})
    lesson = learn(replace(place, packings=(*place.packings, twin)), drawn(400, TRUTH, 1))
    rates = {(one.for_, one.what): one for one in lesson.rates}
    own, like, bag = (
        rates[key, "loss_per_day"] for key in ("tube/water", "tube in foam box/water", "bag/water")
    )
    moved = [one.after / one.before for one in (own, like, bag)]
    assert moved[0] > moved[1] > moved[2] > 1.4
    assert (like.n, like.source) == (
        0,
        "none reported; as 400 lines of other packings teach, its own kind first",
    )
    assert like.high / like.low > own.high / own.low


def test_a_ruined_parcel_that_teaches_hardly_anything_is_named_as_a_mishap() -> None:
    """Who saw 16 of 20 die would else look in vain for what it taught."""
    good = tuple(outcome(n) for n in range(3))
    lesson = learn(shelf(), (*good, outcome(10, living=2)))
    assert lesson.mishaps == 1
    assert mishap_sentence(lesson).startswith("1 of them fared far worse than the packing explains")
    assert mishap_sentence(learn(shelf(), good)) == ""
    twice = learn(shelf(), (*good, outcome(10, living=2), outcome(11, living=2)))
    assert after(twice, "loss_handling", "tube/water") > 1.05 * after(lesson, "loss_handling", "tube/water")


def test_reports_of_bad_news_only_move_no_margin_and_are_said_as_what_they_are() -> None:
    """18 broken promises of 416, and nothing told of the rest: as many as a promise of 0.95 allows."""
    bad = tuple(outcome(n, living=15) for n in range(18))
    silent = tuple(replace(outcome(900 + n), living=None, arrived_on=None) for n in range(398))
    found = (*bad, *silent)
    place, lesson = shelf(), learn(shelf(), found)
    taught = applied(replace(place, rates=lesson.rows(TODAY)))
    eggs = [margin_of_route(one, 20, "tube", "letter", "DK", TODAY, True).pack for one in (place, taught)]
    assert eggs[0] is not None
    assert eggs[1] is not None
    assert abs(eggs[1] - eggs[0]) <= 1
    assert lesson.silence.startswith(
        "18 of 416 lines that should have arrived were told of, and 18 of those broke their promise"
    )
    assert "only bad news" in lesson.silence
    assert not any(one.order in lesson.silence for one in bad)


def test_where_bad_news_alone_is_told_and_there_is_much_of_it_the_losses_rise() -> None:
    bad = tuple(outcome(n, living=15) for n in range(120))
    silent = tuple(replace(outcome(900 + n), living=None, arrived_on=None) for n in range(296))
    lesson = learn(shelf(), (*bad, *silent))
    taught = applied(replace(shelf(), rates=lesson.rows(TODAY)))
    eggs = [margin_of_route(one, 20, "tube", "letter", "DK", TODAY, True).pack for one in (shelf(), taught)]
    assert (eggs[1] or 0) >= (eggs[0] or 0) + 5
    assert "120 lines reported; 296 silent lines read as kept with weight 0.42" in {
        rate.source for rate in lesson.rates
    }


def test_of_lines_lost_returned_or_not_yet_due_nobody_is_silent() -> None:
    """Their number is said, and the silent alone make bad news count less."""
    untold = replace(outcome(900), living=None, arrived_on=None)
    others = (
        replace(untold, parcel="a", is_lost=True),
        replace(untold, parcel="b", came_back=True),
        replace(untold, parcel="c", late_on=TODAY),
    )
    silent = replace(untold, parcel="d", late_on=TODAY - timedelta(days=1))
    bad = outcome(1, living=15)
    lesson = learn(shelf(), (bad, silent, *others))
    assert told_sentence(lesson) == (
        "Lines told of: 1. Silent past their last day: 1; still under way: 1; came back or lost: 2."
    )
    losses = [
        [rate for rate in learn(shelf(), (bad, *more)).rates if rate.what in PACKING_RATES]
        for more in (others, (silent, *others), (silent,))
    ]
    assert losses[0] == losses[1] == losses[2]


#: Eggs alive of 46 packed for 40, of which nothing was told where None.
SILENT: list[int | None] = [None]
BELIEFS: list[list[int | None]] = [
    [],
    [33, 44, *SILENT * 5],
    [33, *SILENT * 12],
    [44, 43],
    [41, 33, 45, 44, *SILENT * 6],
    [46, 45, 44, 45, 43, 43, 45, 45],
    [43, 45, 41, 0, 44, *SILENT * 4],
    [40, 41, 42, 41, 38, 43] * 3 + [38, 44] * 20 + SILENT * 70,
]


def to_pack(living: list[int | None]) -> list[int]:
    found = [
        outcome(n, packed=46, ordered=40, living=alive)
        if alive is not None
        else outcome(n, packed=46, ordered=40, living=None, arrived_on=None)
        for n, alive in enumerate(living)
    ]
    losses = tuple(row for row in learn(shelf(), found).rows(TODAY) if row.what in PACKING_RATES)
    taught = applied(replace(shelf(), rates=losses))
    packs = [margin_of_route(taught, eggs, "tube", "letter", "DK", TODAY, True).pack for eggs in (20, 40)]
    return [pack or 999 for pack in packs]


@pytest.mark.parametrize("belief", BELIEFS)
def test_one_more_bad_arrival_never_makes_eggs_fewer_and_one_more_good_hardly_more(
    belief: list[int | None],
) -> None:
    """Told of a parcel more, and of one silent until then; by its losses, not by its days.

    A good line among bad ones says too that eggs fare unlike each other, for which one egg of 54 is added.
    """
    now = to_pack(belief)
    silent_until_then = [[*belief[:-1]]] if belief and belief[-1] is None else []
    for before in ([*belief], *silent_until_then):
        for bad in (33, 24):
            assert all(more >= eggs for more, eggs in zip(to_pack([*before, bad]), now, strict=True))
        assert all(
            fewer <= eggs + (eggs > 50) for fewer, eggs in zip(to_pack([*before, 46]), now, strict=True)
        )


def test_one_parcel_far_too_late_is_the_tail_and_not_the_late_day() -> None:
    on_time = drawn(20, TRUTH, 1)
    usual = tuple(replace(one, arrived_on=one.sent_on + timedelta(days=2)) for one in on_time)
    straggler = replace(outcome(99), arrived_on=date(2026, 11, 20))
    without, with_it = learn(shelf(), usual), learn(shelf(), (*usual, straggler))
    assert after(with_it, "late_d", "letter") == pytest.approx(after(without, "late_d", "letter"), abs=0.2)
    said = next(one.source for one in with_it.rates if one.what == "late_d")
    assert "1 of them far too late to count" in said
    many = tuple(replace(outcome(200 + n), arrived_on=date(2026, 11, 20)) for n in range(20))
    assert after(learn(shelf(), (*usual, *many)), "late_d", "letter") > 8


def test_parcels_under_a_disruption_teach_no_usual_days() -> None:
    strike = Disruption(
        **{"to": "DK", "from": "2026-09-20", "until": "2026-10-20", "days": 5, "source": "an invented strike"}
    )
    found = drawn(40, TRUTH, 1)
    assert any(one.what == "usual_d" for one in learn(shelf(), found).rates)
    place = replace(shelf(), disruptions=(strike,))
    assert not any(one.what == "usual_d" for one in learn(place, found).rates)
    elsewhere = replace(shelf(), disruptions=(strike.model_copy(update={"to": ("SE",)}),))
    assert learn(elsewhere, found) == learn(shelf(), found)


def test_the_share_of_parcels_lost_is_learned_from_those_sent_long_ago() -> None:
    lost = tuple(replace(outcome(500 + n), living=None, arrived_on=None, is_lost=True) for n in range(6))
    young = tuple(replace(one, parcel=one.parcel + "y", sent_on=TODAY - timedelta(days=29)) for one in lost)
    found = (*drawn(94, TRUTH, 1), *lost)
    assert after(learn(shelf(), found), "parcel_lost_share", "letter") == pytest.approx(7 / 200)
    assert after(learn(shelf(), (*found, *young)), "parcel_lost_share", "letter") == pytest.approx(7 / 200)
    rows = learn(shelf(), found).rows(TODAY)
    taught = applied(replace(shelf(), rates=rows))
    assert taught.services[0].parcel_lost_share == pytest.approx(7 / 200)
    assert LETTER.parcel_lost_share == 0.01
