"""Why the number: the arithmetic that a breeder can follow with a pencil."""

from __future__ import annotations

import pytest

from shipping.questions.forecast import explained, outlooks
from shipping.tables.rows.lots import Look
from tests.post.a_shelf import TODAY, a_shelf, a_species
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
