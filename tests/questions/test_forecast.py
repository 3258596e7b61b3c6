"""Why the number: the arithmetic that a breeder can follow with a pencil."""

from __future__ import annotations

import math
import re
from datetime import date
from typing import Any

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.questions.forecast import explained, outlooks
from shipping.tables.rows.lots import Look
from shipping.words.problems import Where
from tests.ledger.invented import rate
from tests.post.a_shelf import TODAY, a_service, a_shelf, a_species
from tests.week.a_week import a_lot, a_row, a_week, ago


def lines_of(species: object = None, looks: tuple[Look, ...] = (), **cells: object) -> str:
    shelf = a_shelf(
        lots=(a_lot(**cells),),
        looks=looks,
        species={"gar": species or a_species(zero_c=10, keep_max_c=27, source="a paper")},
    )
    return "\n".join(explained(shelf, "G1"))


def test_the_degree_days_of_a_day_are_written_out_with_their_row() -> None:
    said = lines_of(looks=(Look(lot="G1", on=ago(3), kept_at_c=19),))
    assert f"From {ago(8)} the shelf gives 14 C-d a day: 24 - 10 = 14 C-d" in said
    assert f"From {ago(3)} the shelf gives 9 C-d a day: 19 - 10 = 9 C-d" in said
    assert "Source: a paper" in said
    assert "assumed" in said


def test_warmth_above_the_plateau_is_said_to_count_as_the_plateau() -> None:
    said = lines_of(kept_at_c=30)
    assert "27 (keep_max_c, for 30) - 10 = 17 C-d" in said


def test_the_eggs_of_today_are_count_times_whole_times_losses() -> None:
    said = lines_of(counted_on=ago(2), stage=None, stage_on=None)
    # two days at 1 % lost: 100 exp(-0.02) = 98.0
    assert "100 x 1.0000 still whole x exp(-0.01 x 2) = 98.0: 98." in said
    assert "could go today, after a look" in said


def test_eggs_kept_damp_are_all_counted_as_whole() -> None:
    said = lines_of(medium="moss", counted_on=ago(2), stage=None, stage_on=None)
    assert "100 x 1.0000 still whole x exp(-0.01 x 2) = 98.0: 98." in said


def test_each_look_tells_what_eggs_had_gathered_by_then() -> None:
    said = lines_of(laid_from=ago(9), laid_to=ago(8))
    assert f"{TODAY}: eyed seen, when eggs had gathered 112.0 to 126.0 C-d" in said


@pytest.mark.parametrize("own", [{}, {"wet_from": TODAY}, {"wet_until": ago(-90)}])
def test_damp_eggs_are_wetted_between_the_days_by_which_5_and_95_in_100_are_ready_or_on_days_of_ones_own(
    own: dict[str, object],
) -> None:
    (found,) = outlooks(a_shelf(lots=(a_lot(medium="moss", **own),), species={"gar": a_species()}))
    hatch = found.hatch
    assert hatch.p05 < hatch.p50 < hatch.p95
    assert found.wet_from == own.get("wet_from", hatch.p05)
    assert found.wet_until == own.get("wet_until", hatch.p95)
    assert found.wet_basis == ("your own dates" if own else "reckoned")


def test_what_is_free_is_less_by_what_is_kept_back() -> None:
    (sure,) = outlooks(a_week(a_row("A"), lots=(a_lot(keep_back=30),)))
    assert (sure.as_json()["eggs_today"], sure.as_json()["free"]) == (100, 70)


@pytest.mark.parametrize(
    ("kept_at_c", "told"),
    [(27, "27 - 10 = 17 C-d"), (10, "10 °C is not above 10: 0 C-d"), (10.5, "10.5 - 10 = 0.5 C-d")],
)
def test_warmth_just_at_the_plateau_counts_as_it_is_and_just_at_the_zero_as_none(
    kept_at_c: float, told: str
) -> None:
    assert f"C-d a day: {told} (" in lines_of(kept_at_c=kept_at_c)


def test_of_two_looks_of_a_day_the_last_says_the_warmth() -> None:
    looks = tuple(
        Look(lot="G1", on=ago(3), kept_at_c=warm, at=Where("inspections.csv", row))
        for row, warm in ((2, 19), (3, 20))
    )
    assert f"From {ago(3)} the shelf gives 10 C-d a day: 20 - 10 = 10 C-d" in lines_of(looks=looks)


def test_when_eyes_show_is_told_only_where_more_was_seen_than_that_they_were_laid() -> None:
    assert "Eyes show at" not in lines_of(stage="laid")
    assert "Eyes show at 0.5 of K" in lines_of(stage="fertile")


def test_of_the_eggs_counted_those_are_whole_that_have_not_hatched_since_and_all_that_are_kept_damp() -> None:
    """Counted three days ago, when some had hatched already; in moss none hatches before it is wetted."""
    told: dict[str, Any] = {"laid_from": ago(15), "laid_to": ago(15), "counted_on": ago(3), "stage": None}
    shelf = a_shelf(
        lots=(a_lot(**told, stage_on=None),), species={"gar": a_species(zero_c=10, keep_max_c=27)}
    )
    forecast = lot_forecast(shelf, "G1")
    whole, before = (float(forecast.clock.whole(forecast.x(day))[0]) for day in (TODAY, ago(3)))
    assert 0.3 < whole < before < 0.99
    assert f"100 x {whole / before:.4f} still whole x exp(-0.01 x 3)" in lines_of(**told, stage_on=None)
    assert "100 x 1.0000 still whole x exp(-0.01 x 3)" in lines_of(**told, stage_on=None, medium="moss")


def test_so_many_could_go_as_show_eyes_by_the_clock_rounded_down() -> None:
    said = lines_of(counted_on=TODAY, stage=None, stage_on=None, eggs=97)
    free, share, go = re.findall(r"so (\d+) x ([\d.]+) = (\d+) could go today", said)[0]
    assert int(go) == math.floor(int(free) * float(share)) < int(free) * float(share)


def test_each_share_hatched_has_its_day() -> None:
    said = lines_of()
    for share in ("5.0 %", "50 %", "95 %"):
        assert re.search(rf"^{share} hatched, of those whole today: by 2026-", said, re.MULTILINE), share


def test_eggs_packed_since_the_count_are_told() -> None:
    place = a_shelf(
        lots=(a_lot(counted_on=ago(2)),), species={"gar": a_species()}, packed={"G1": {ago(1): 5, TODAY: 2}}
    )
    assert ", less 7 packed since and what of them would not have lived: " in "\n".join(
        explained(place, "G1")
    )


LEARNED, OWN = {"basis": "learned"}, {"basis": "common practice"}


@pytest.mark.parametrize(
    ("rows", "basis"),
    [
        ((), "assumed"),
        (((ago(-1), LEARNED),), "assumed"),
        (((TODAY, LEARNED),), "learned"),
        (((TODAY, {}),), "your own"),
        (((TODAY, OWN), (TODAY, LEARNED)), "common practice"),
        (((ago(1), OWN), (TODAY, LEARNED)), "learned"),
    ],
)
def test_the_loss_on_the_shelf_rests_on_the_newest_row_that_holds_and_of_one_day_on_ones_own(
    rows: tuple[tuple[date, dict[str, str]], ...], basis: str
) -> None:
    for told in (rows, rows[::-1]):
        rates = tuple(rate("shelf_loss_per_day", "*", 0.01, day, **cells) for day, cells in told)
        place = a_shelf(lots=(a_lot(),), species={"gar": a_species()}, rates=rates)
        assert f"a day ({basis})." in "\n".join(explained(place, "G1"))


def test_safe_days_are_told_of_the_places_that_ordered_the_fish_and_of_no_lot_in_doubt() -> None:
    to_sweden = a_service(to="DK SE", early_d=1, usual_d=1, late_d=1, live_eggs="yes")
    lots = (a_lot("G1"), a_lot("OLD", laid_from=ago(40), laid_to=ago(40)))
    place = a_week(a_row("A", country="SE"), lots=lots, services=(to_sweden,))
    found = {one.forecast.lot.lot: one for one in outlooks(place)}
    assert {safe.to for safe in found["G1"].safe} == {"SE"}
    assert (found["OLD"].safe, [doubt.code for doubt in found["OLD"].doubts]) == ((), ["overdue"])
    assert [one.forecast.lot.lot for one in outlooks(place, ("OLD",))] == ["OLD"]


def test_eggs_are_told_of_today_and_the_week_ahead_and_hatching_by_its_early_usual_and_late_day() -> None:
    place = a_week(lots=(a_lot(laid_from=ago(2), laid_to=ago(2), stage=None, stage_on=None),))
    (found,) = outlooks(place)
    assert [day for day, _, _ in found.days] == [ago(-n) for n in range(8)]
    early, usual, late = lot_forecast(place, "G1").days_hatched((0.05, 0.5, 0.95))
    assert (found.hatch.p05, found.hatch.p50, found.hatch.p95) == (early, usual, late)
    assert (found.hatch.p50 - found.hatch.p05).days > 2
