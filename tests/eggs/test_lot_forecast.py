"""What a lot holds: its formula by hand, and lots that must be looked at first."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from shipping.eggs import clock
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.lots import Look
from tests.eggs.by_hand import ByHand
from tests.eggs.test_clock import START, a_lot, on
from tests.post.a_shelf import a_shelf, a_species


def forecast(
    *looks: Look,
    species: dict[str, Any] | None = None,
    today: date | None = None,
    packed: dict[str, dict[date, int]] | None = None,
    **lot: Any,
) -> LotForecast:
    shelf = a_shelf(
        today=today or on(10),
        species={"gar": a_species(**(species or {}))},
        lots=(a_lot(**lot),),
        looks=looks,
        packed=packed or {},
    )
    return lot_forecast(shelf, "G1")


def look(day: int, **cells: Any) -> Look:
    return Look(lot="G1", on=on(day), **cells)


def by_hand(
    *looks: tuple[str, int], window: int = 1, kept: float = 23, usual: float = math.sqrt(12 * 21)
) -> ByHand:
    hand = ByHand(12, usual, 21, 24, 10, 99, 0.5, [on(n) for n in range(window)], [(START, kept)])
    for stage, day in looks:
        hand.look(stage, on(day))
    return hand


def test_eggs_on_a_day_are_the_count_times_the_share_whole_times_the_shelf_loss() -> None:
    found = forecast(stage="eyed", stage_on=on(10), laid_to=on(1))
    hand = by_hand(("eyed", 10), window=2)
    for day in (11, 13, 15):
        whole = hand.beyond(on(day)) / hand.beyond(on(10))
        assert found.eggs_on(on(day)) == math.floor(100 * whole * math.exp(-0.01 * (day - 10)))


def test_damp_eggs_may_go_on_their_last_day_to_be_wetted_and_not_after() -> None:
    found = forecast(medium="moss", wet_from=on(20), wet_until=on(30), species={"ready_keeps_d": 7})
    last = on(37)
    days = (last - timedelta(days=1), last, last + timedelta(days=1))
    assert found.doubts_on(days) == [(), (), ("past-wetting",)]


def test_damp_eggs_must_arrive_by_their_last_day_to_be_wetted_and_past_it_only_the_lot_says_so() -> None:
    found = forecast(medium="moss", wet_from=on(20), wet_until=on(30), species={"ready_keeps_d": 7})
    last, day = on(37), timedelta(days=1)
    late = found.past_wetting_on_arrival(last, last + day)
    assert late is not None
    assert late.code == "past-wetting"
    assert found.past_wetting_on_arrival(last, last) is None
    assert found.past_wetting_on_arrival(last + day, last + 2 * day) is None


def test_eggs_settle_for_two_days_from_the_last_day_of_laying() -> None:
    found = forecast(laid_to=on(1))
    assert [found.is_unsettled(on(day)) for day in (1, 2, 3)] == [True, True, False]


def test_on_the_day_of_the_count_a_lot_holds_its_count() -> None:
    assert forecast(stage="eyed").eggs_on(on(10)) == 100


def test_eggs_kept_back_are_not_free() -> None:
    assert forecast(stage="eyed", keep_back=30).free_on(on(10)) == 70
    assert forecast(stage="eyed", keep_back=130).free_on(on(10)) == 0


def test_what_the_ledger_packed_since_the_count_is_gone() -> None:
    packed = {"G1": {on(9): 7, on(10): 25, on(11): 5}}
    found = forecast(stage="eyed", today=on(11), packed=packed)
    assert found.packed_since_count(on(11)) == 30
    assert found.eggs_on(on(11)) == forecast(stage="eyed").eggs_on(on(11)) - 30


def test_fry_and_white_eggs_taken_out_since_the_count_are_gone() -> None:
    # as counted less the 30 taken out, where that is fewer than the clock reckons
    assert forecast(look(11, removed=10, hatched=20), stage="eyed").eggs_on(on(11)) == 70


def test_eggs_seen_to_go_packed_and_held_are_gone_each_once() -> None:
    """Of 100 counted 30 were seen to go, 15 were packed and 25 are held."""
    found = forecast(look(11, removed=10, hatched=20), stage="eyed", packed={"G1": {on(10): 15}})
    assert replace(found, held=((on(11), 25),)).eggs_on(on(11)) == 100 - 30 - 15 - 25


def test_damp_eggs_lose_only_what_the_shelf_loses() -> None:
    found = forecast(species={"incubation": "damp"}, medium="peat", laid_from=on(-60), laid_to=on(-60))
    assert not found.is_overdue
    assert not found.doubts(on(40))
    assert found.eggs_on(on(30)) == math.floor(100 * math.exp(-0.01 * 20))


def test_damp_eggs_are_ready_to_wet_from_the_early_to_the_late_day() -> None:
    found = forecast(
        species={"incubation": "damp", "hatch_usual_d": 14}, medium="peat", kept_at_c=24, counted_on=on(1)
    )
    days = [found.day_hatched(share) for share in (0.05, 0.5, 0.95)]
    assert days == [on(12), on(14), on(21)]


def test_of_a_damp_lot_without_a_clock_only_the_breeders_wetting_days_are_known() -> None:
    def wetting(**days: date) -> tuple[date | None, date | None]:
        return forecast(medium="moss", kept_at_c=10, counted_on=on(1), today=on(1), **days).wetting

    assert wetting() == (None, None)
    assert wetting(wet_from=on(20)) == (on(20), None)
    assert wetting(wet_until=on(30)) == (None, on(30))


def test_water_eggs_hatch_from_the_early_to_the_late_day() -> None:
    found = forecast(species={"hatch_usual_d": 14}, kept_at_c=24, counted_on=on(1), today=on(1))
    assert [found.day_hatched(share) for share in (0.05, 0.5, 0.95)] == [on(12), on(14), on(21)]


def test_kept_at_its_zero_a_lot_never_hatches() -> None:
    assert forecast(kept_at_c=10, counted_on=on(1), today=on(1)).day_hatched(0.5) is None


def test_a_lot_whole_long_past_its_late_day_is_overdue_and_nothing_is_free() -> None:
    found = forecast(counted_on=on(40), today=on(40), kept_at_c=24, stage="eyed", stage_on=on(9))
    assert found.is_overdue
    assert [reason.code for reason in found.doubts(on(40))] == ["overdue"]
    assert (found.free_on(on(40)), found.eggs_on(on(45)), found.day_hatched(0.5)) == (0, 100, None)


def test_a_lot_is_misdated_below_the_likelihood_for_it_and_not_at_it(monkeypatch: pytest.MonkeyPatch) -> None:
    for hour, (most, is_misdated) in enumerate(((1.0, False), (1.000001, True))):
        found = forecast(
            look(8, stage="eyed"), kept_at_c=23 + hour / 100
        )  # no lot that another test asked of
        monkeypatch.setattr(clock, "MISDATED_UNDER", found.likelihood * most)
        assert found.is_misdated is is_misdated


def test_eggs_that_sleep_are_not_misdated_where_their_breeder_says_when_to_wet_them() -> None:
    fish = {"incubation": "damp"}
    asleep = {"medium": "peat", "counted_on": on(90), "stage": "fertile", "stage_on": on(90)}
    found = forecast(today=on(90), species=fish, **asleep)
    (reason,) = found.doubts(on(90))
    assert (reason.code, found.free_on(on(90))) == ("misdated", 0)
    assert "Or they sleep: then write your own wet_from and wet_until." in reason.text
    told = forecast(today=on(90), species=fish, wet_from=on(100), wet_until=on(150), **asleep)
    assert (list(told.doubts(on(90))), told.free_on(on(90))) == ([], 100)


def test_overdue_comes_before_misdated() -> None:
    found = forecast(counted_on=on(60), today=on(60), kept_at_c=24, stage="fertile", stage_on=on(60))
    assert found.likelihood < 1e-4
    assert (found.is_overdue, found.is_misdated) == (True, False)


def test_eyes_on_the_second_day_are_misdated_and_the_text_says_which_look() -> None:
    found = forecast(look(2, stage="eyed"), counted_on=on(2), today=on(2), kept_at_c=24)
    assert found.is_misdated
    (reason,) = found.doubts(on(2))
    assert reason.code == "misdated"
    assert "'eyed'" in reason.text
    assert on(2).isoformat() in reason.text
    assert found.free_on(on(2)) == 0


def test_of_two_looks_the_one_that_disagrees_is_named() -> None:
    found = forecast(look(9, stage="eyed"), look(1, stage="ready"), counted_on=on(9), kept_at_c=24)
    assert "'ready'" in found.doubts(on(9))[0].text


def test_a_lot_nobody_has_seen_since_is_too_old_but_not_overdue() -> None:
    found = forecast(counted_on=on(10), today=on(40), kept_at_c=24)
    assert not found.is_overdue
    assert [reason.code for reason in found.doubts(on(40))] == ["too-old"]
    assert not found.doubts(on(12))
    assert found.free_on(on(40)) == 0


def test_more_eggs_than_can_be_there_must_be_counted_again() -> None:
    found = forecast(look(11, alive=95), look(10, removed=0), look(12, alive=97), today=on(12))
    assert found.recount is not None
    assert found.recount.excess == 2
    assert [reason.code for reason in found.doubts(on(12))] == ["recount"]


def test_a_recount_after_removing_and_packing_allows_for_both() -> None:
    packed = {"G1": {on(11): 20}}
    found = forecast(look(11, removed=10), look(12, alive=71), today=on(12), packed=packed)
    assert found.recount is not None
    assert found.recount.excess == 1
    assert forecast(look(11, removed=10), look(12, alive=70), today=on(12), packed=packed).recount is None


def test_a_recount_replaces_the_count() -> None:
    assert forecast(look(12, alive=60), today=on(12), stage="eyed").eggs_on(on(12)) == 60


def test_a_look_at_no_live_eggs_says_nothing_of_being_alive() -> None:
    found = forecast(look(30, alive=0), today=on(30), kept_at_c=24)
    assert found.last_seen == on(10)
    assert not found.is_overdue
    assert found.eggs_on(on(30)) == 0


def test_a_row_that_only_moves_the_lot_is_no_sighting() -> None:
    assert forecast(look(12, kept_at_c=20)).last_seen == on(10)


def test_an_unseen_lot_goes_by_its_share_with_eyes() -> None:
    shelf = a_shelf(today=on(8), species={"gar": a_species()}, lots=(a_lot(counted_on=on(8)),))
    day = OptionFactory(shelf).lot_day("G1", on(9))
    hand, eyed = by_hand(("laid", 8)), by_hand(("laid", 8))
    eyed.look("eyed", on(9))
    share = eyed.total / hand.beyond(on(9))
    assert day.look_first
    assert day.share_eyed == pytest.approx(share, abs=1e-4)
    assert day.free == math.floor(day.forecast.free_on(on(9)) * share)
    assert 0 < day.free < day.forecast.free_on(on(9))


def test_a_look_first_lot_is_judged_as_if_eyes_had_been_seen() -> None:
    shelf = a_shelf(today=on(8), species={"gar": a_species()}, lots=(a_lot(counted_on=on(8)),))
    day = OptionFactory(shelf).lot_day("G1", on(9))
    eyed = by_hand(("laid", 8), ("eyed", 9))
    at = day.forecast.x(on(12))
    share = float(day.clock.whole(at)[0]) / float(day.clock.whole(day.forecast.x(on(9)))[0])
    assert share == pytest.approx(eyed.beyond(on(12)) / eyed.total, abs=1e-4)


def test_a_lot_too_young_for_eyes_has_nothing_free() -> None:
    shelf = a_shelf(today=on(2), species={"gar": a_species()}, lots=(a_lot(counted_on=on(2)),))
    assert OptionFactory(shelf).lot_day("G1", on(2)).free == 0


def test_eyed_and_damp_lots_go_without_a_look() -> None:
    shelf = a_shelf(
        today=on(10),
        species={"gar": a_species(incubation="either")},
        lots=(
            a_lot(stage="eyed"),
            a_lot(lot="G2", medium="peat", stage="fertile"),
            a_lot(lot="G3", stage="fertile"),
        ),
    )
    factory = OptionFactory(shelf)
    assert [factory.lot_day(name, on(10)).look_first for name in ("G1", "G2", "G3")] == [False, False, True]


def test_the_setting_or_the_species_lets_fertile_eggs_go() -> None:
    for settings, species in (({"plan": {"send_from": "fertile"}}, {}), ({}, {"send_from": "fertile"})):
        shelf = a_shelf(
            settings=settings,
            today=on(6),
            species={"gar": a_species(**species)},
            lots=(a_lot(stage="fertile", counted_on=on(6)),),
        )
        day = OptionFactory(shelf).lot_day("G1", on(6))
        assert (day.look_first, day.free) == (False, 100)


def test_the_stage_of_the_table_is_a_look_like_any_other() -> None:
    table = forecast(stage="eyed", stage_on=on(9))
    row = forecast(look(9, stage="eyed"))
    for n in range(1, 8):
        assert table.eggs_on(on(10 + n)) == row.eggs_on(on(10 + n))


@pytest.mark.parametrize("stage", ["laid", "fertile"])
def test_on_a_day_on_which_a_look_saw_no_eyes_none_of_the_eggs_show_them(stage: str) -> None:
    found = forecast(look(11, stage=stage))
    shares = [found.share_eyed(on(day)) for day in (10, 11, 12)]
    assert [share > 0 for share in shares] == [True, False, True]


@pytest.mark.parametrize(
    ("cells", "saw"),
    [
        ({"hatched": 0}, True),
        ({"removed": 0}, True),
        ({"alive": 5}, True),
        ({"stage": "laid"}, True),
        ({"alive": 0}, False),
        ({"alive": 0, "removed": 9}, False),
        ({"kept_at_c": 20}, False),
    ],
)
def test_who_counts_fry_or_dead_eggs_saw_live_ones_too_unless_none_were_left(
    cells: dict[str, Any], saw: bool
) -> None:
    assert forecast(look(12, **cells)).last_seen == on(12 if saw else 10)


def test_what_is_taken_out_on_the_day_of_a_count_is_off_the_table_s_and_in_a_recount() -> None:
    """A row of lots is written before that day's looks; a look that counts and one that takes out speak of
    the same evening.
    """
    taken = look(10, removed=7)
    assert forecast(taken).count.known_gone == 7
    assert forecast(taken).eggs_on(on(10)) == 93
    assert forecast(taken, look(10, alive=90)).count.known_gone == 0
    assert forecast(look(10, alive=90), look(11, removed=3, hatched=4)).count.known_gone == 7


@pytest.mark.parametrize(("late_d", "seen_on", "moved"), [(150, 64, 60), (155, 64, 61)])
def test_a_look_without_eyes_is_named_where_it_moves_the_end_of_wetting_by_more_than_sixty_days(
    late_d: int, seen_on: int, moved: int
) -> None:
    annual = {"incubation": "damp", "hatch_early_d": 40, "hatch_late_d": late_d}
    cells: dict[str, Any] = {"species": annual, "medium": "peat", "today": on(seen_on + 1)}
    found, alive = (forecast(look(seen_on, **saw), **cells) for saw in ({"stage": "fertile"}, {"hatched": 0}))
    ends = found.wetting[1], alive.wetting[1]
    assert ends[0]
    assert ends[1]
    assert (ends[0] - ends[1]).days == moved
    assert (found.rests_on is not None) == (moved > 60)
    if found.rests_on:
        assert (found.rests_on[0].on, found.rests_on[1:]) == (on(seen_on), alive.wetting)


def test_tomorrow_never_holds_more_than_today() -> None:
    found = forecast(stage="eyed", laid_to=on(3))
    counts = [found.eggs_on(on(10) + timedelta(days=n)) for n in range(20)]
    assert counts == sorted(counts, reverse=True)


def test_eggs_packed_are_not_counted_among_those_that_would_have_hatched_or_died_since() -> None:
    packed = {"G1": {on(12): 30}}
    found = forecast(stage="eyed", today=on(12), packed=packed)
    alone = forecast(stage="eyed", today=on(12))
    then, later = alone.shares_left((on(12), on(15)))
    # 30 of the eggs left on day 12 are gone; of the others the same share is left on day 15 as of all
    assert found.eggs_on(on(15)) == math.floor(later * (100 - 30 / then) + 1e-9)
    assert found.eggs_on(on(15)) > alone.eggs_on(on(15)) - 30


def test_lots_laid_kept_and_seen_alike_share_their_clock_and_no_others_do() -> None:
    lots = (
        a_lot(stage="eyed", stage_on=on(10)),
        a_lot(lot="G2", eggs=40, keep_back=3, stage="eyed", stage_on=on(10)),
        a_lot(lot="G3", stage="eyed", stage_on=on(10), kept_at_c=24),
        a_lot(lot="G4", stage="eyed", stage_on=on(9)),
    )
    shelf = a_shelf(today=on(10), species={"gar": a_species()}, lots=lots)
    first, *others = (lot_forecast(shelf, lot.lot) for lot in lots)
    assert [first.alike is other.alike for other in others] == [True, False, False]
    assert [lot_forecast(shelf, name).free_on(on(12)) for name in ("G1", "G2")] == [
        first.free_on(on(12)),
        others[0].eggs_on(on(12)) - 3,
    ]


def test_the_stage_of_a_lot_is_the_furthest_that_was_seen() -> None:
    assert forecast(look(9, stage="fertile"), look(10, stage="eyed"), counted_on=on(9)).stage == "eyed"
    assert forecast(look(9, stage="fertile"), counted_on=on(9)).stage == "fertile"


def test_an_old_count_is_a_guess_where_as_many_gone_again_would_leave_too_few() -> None:
    """At 1 % a day, 14 of 100 damp eggs are reckoned gone after 15 days."""
    found = forecast(medium="moss", eggs=100, counted_on=on(0), today=on(15))
    gone = 100 - found.eggs_on(on(15))
    assert gone >= 10
    assert [found.is_guess(on(15), left) for left in (gone - 1, gone)] == [True, False]
    assert not found.is_guess(on(5), 0), "four of a hundred are no good part of a count"


def test_eggs_held_for_kept_parcels_are_not_reckoned_gone() -> None:
    lot = a_lot(eggs=100, counted_on=on(10))
    shelf = a_shelf(today=on(10), species={"gar": a_species()}, lots=(lot,), held={lot.lot: {on(12): 60}})
    found = lot_forecast(shelf, lot.lot)
    assert (found.eggs_on(on(10)), found.is_guess(on(10))) == (40, False)


def test_a_count_is_old_once_a_tenth_of_it_is_reckoned_gone() -> None:
    """100 exp(-0.09) = 91.4 and 100 exp(-0.10) = 90.5 are 9 and 10 gone."""
    found = forecast(medium="moss", eggs=100, counted_on=on(0), today=on(9))
    assert [found.eggs_on(on(day)) for day in (9, 10)] == [91, 90]
    assert [found.is_guess(on(day)) for day in (9, 10)] == [False, True]


def test_eggs_packed_by_today_are_not_there_on_a_day_before_it_either() -> None:
    found = forecast(medium="moss", counted_on=on(1), today=on(10), packed={"G1": {on(8): 30}})
    assert 60 < found.eggs_on(on(5)) <= 70


def test_damp_eggs_laid_over_months_may_be_ready_before_the_last_were_laid() -> None:
    first = forecast(medium="moss", laid_to=on(90), counted_on=on(91), today=on(95)).day_hatched(0.05)
    assert first is not None
    assert on(0) < first < on(90)


@pytest.mark.parametrize(
    ("cells", "day", "is_about"),
    [
        ({}, 0, False),
        ({"count_basis": "estimated"}, 0, True),
        ({}, 20, True),
    ],
)
def test_a_number_is_about_so_many_once_losses_are_reckoned_or_where_it_was_estimated(
    cells: dict[str, str], day: int, is_about: bool
) -> None:
    lot = a_lot(counted_on=on(10), **cells)
    forecast = lot_forecast(a_shelf(today=on(10), species={"gar": a_species()}, lots=(lot,)), lot.lot)
    when = on(10 + day)
    assert forecast.is_about(when) is is_about
    assert forecast.free_words(7, when) == f"{'about ' * is_about}7 eggs free on {when}"


def test_eggs_set_aside_are_named_with_the_parcels_they_wait_for() -> None:
    lot = a_lot(counted_on=on(10))
    held, names = {lot.lot: {on(10 + 1): 40}}, {lot.lot: ("2026-W49-03", "2026-W49-05")}
    shelf = a_shelf(today=on(10), species={"gar": a_species()}, lots=(lot,), held=held, held_for=names)
    forecast = lot_forecast(shelf, lot.lot)
    said = forecast.free_words(7, on(10))
    assert said == f"7 eggs free on {on(10)} beside 40 set aside for 2026-W49-03, 2026-W49-05"
    assert forecast.free_facts(7, on(10))["set_aside"] == 40
    kept = a_shelf(
        today=on(10), species={"gar": a_species()}, lots=(lot.model_copy(update={"keep_back": 9}),)
    )
    said = lot_forecast(kept, lot.lot).free_words(7, on(10))
    assert said == f"7 eggs free on {on(10)} beside 9 kept back"
