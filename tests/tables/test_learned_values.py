"""Dated rates applied: the newest that holds today, the breeder's own before a learned one."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.tables.cells import LONGEST_NOTE
from shipping.tables.learned_values import applied, rate_cells, rate_problems
from shipping.words.problems import Where
from tests.ledger.invented import GARDNERI, LETTER, TODAY, lot, rate, shelf

YESTERDAY, TOMORROW = TODAY - timedelta(days=1), TODAY + timedelta(days=1)


def test_without_rates_the_shelf_is_the_same() -> None:
    plain = shelf()
    assert applied(plain) is plain


def test_the_newest_rate_that_holds_today_counts() -> None:
    rows = (
        rate("loss_per_day", "tube/water", 0.02, date(2026, 1, 1)),
        rate("loss_per_day", "tube/water", 0.04, YESTERDAY),
        rate("loss_per_day", "tube/water", 0.09, TOMORROW),
    )
    assert applied(shelf(rates=rows)).packing_by_name["tube"].loss_per_day == 0.04
    assert applied(shelf(rates=rows[::-1])).packing_by_name["tube"].loss_per_day == 0.04


def test_a_rate_counts_from_its_own_day_on() -> None:
    assert applied(shelf(rates=(rate("kappa", "tube", 31, TODAY),))).packing_by_name["tube"].kappa == 31


def test_of_one_day_the_breeders_own_rate_comes_before_the_learned_one() -> None:
    rows = (
        rate("kappa", "tube/water", 20, YESTERDAY, basis="common practice"),
        rate("kappa", "tube/water", 60, YESTERDAY, basis="learned"),
    )
    assert applied(shelf(rates=rows)).packing_by_name["tube"].kappa == 20
    assert applied(shelf(rates=rows[::-1]), learned=False).packing_by_name["tube"].kappa == 20


def test_a_learned_rate_of_a_later_day_comes_before_the_breeders_own() -> None:
    rows = (
        rate("kappa", "tube", 20, YESTERDAY, basis="common practice"),
        rate("kappa", "tube", 60, TODAY, basis="learned"),
    )
    assert applied(shelf(rates=rows)).packing_by_name["tube"].kappa == 60


def test_of_two_own_rates_of_one_day_the_lower_row_counts() -> None:
    rows = tuple(
        rate("kappa", "tube", value, TODAY, at=Where("learned.csv", row)) for row, value in ((2, 60), (3, 20))
    )
    for told in (rows, rows[::-1]):
        assert applied(shelf(rates=told)).packing_by_name["tube"].kappa == 20


def test_a_packing_of_several_media_takes_no_rate_of_one_of_them() -> None:
    rows = tuple(rate("loss_handling", f"bag/{medium}", 0.2, TODAY) for medium in ("water", "moss"))
    assert applied(shelf(rates=rows)).packing_by_name["bag"].loss_handling == 0.02


def test_a_packing_of_one_medium_takes_the_rate_of_that_medium_first() -> None:
    rows = (rate("loss_handling", "tube", 0.2, TODAY), rate("loss_handling", "tube/water", 0.1, YESTERDAY))
    assert applied(shelf(rates=rows)).packing_by_name["tube"].loss_handling == 0.1
    bags = (rate("loss_handling", "bag/moss", 0.2, TODAY), rate("loss_handling", "bag", 0.1, YESTERDAY))
    assert applied(shelf(rates=bags)).packing_by_name["bag"].loss_handling == 0.1


def test_service_species_and_settings_take_their_rates() -> None:
    rows = (
        rate("usual_d", "letter", 3.5, YESTERDAY),
        rate("hatch_usual_d", "gardneri", 16, YESTERDAY),
        rate("o2_ug_egg_h", "gardneri", 0.3, YESTERDAY, basis="published"),
        rate("shelf_loss_per_day", "*", 0.02, YESTERDAY),
        rate("fertile_share", "*", 0.7, YESTERDAY),
    )
    found = applied(shelf(rates=rows))
    assert found.services[0].working_days.usual == 3.5
    species = found.species["gardneri"]
    assert (species.hatch_days.usual, species.o2_ug_egg_h, species.o2_basis) == (16, 0.3, "published")
    assert (found.settings.plan.shelf_loss_per_day, found.settings.plan.fertile_share) == (0.02, 0.7)
    assert rate_problems(shelf(rates=rows)) == ()


def test_days_given_one_by_one_stay_in_order() -> None:
    found = applied(shelf(rates=(rate("early_d", "letter", 3, YESTERDAY),))).services[0].working_days
    assert (found.early, found.usual, found.late) == (2, 3, 5)


def test_services_that_share_a_name_are_told_apart_by_their_places() -> None:
    south = LETTER.model_copy(update={"to": ("DE", "AT")})
    both = shelf(services=(LETTER, south), rates=(rate("late_d", "letter/DE AT", 8, YESTERDAY),))
    assert [service.late_d for service in applied(both).services] == [5, 8]


def test_a_population_has_its_own_rates_where_there_are_any() -> None:
    rows = (
        rate("hatch_usual_d", "gardneri", 16, YESTERDAY),
        rate("hatch_usual_d", "gardneri/Akure", 17, YESTERDAY),
    )
    place = shelf(lots=(lot(),), rates=rows)
    assert applied(place).species_of("gardneri", "Akure").hatch_usual_d == 17
    assert applied(place).species_of("gardneri", "Makurdi").hatch_usual_d == 16
    assert rate_problems(place) == ()


def test_a_population_takes_the_rates_of_its_species_where_it_has_none_of_its_own() -> None:
    rows = (rate("zero_c", "gardneri", 11, TODAY), rate("hatch_usual_d", "gardneri/Akure", 17, TODAY))
    found = applied(shelf(lots=(lot(),), rates=rows)).species_of("gardneri", "Akure")
    assert (found.zero_c, found.hatch_usual_d) == (11, 17)


def test_a_rate_without_a_basis_leaves_that_of_the_table() -> None:
    published = GARDNERI.model_copy(update={"o2_ug_egg_h": 0.2, "o2_basis": "published"})
    place = replace(
        shelf(rates=(rate("o2_ug_egg_h", "gardneri", 0.3, TODAY),)), species={"gardneri": published}
    )
    found = applied(place).species["gardneri"]
    assert (found.o2_ug_egg_h, found.o2_basis) == (0.3, "published")


def test_what_a_species_rests_on_names_its_rates_before_the_tables_own_source_however_long_that_is() -> None:
    rows = (
        rate("hatch_early_d", "gardneri", 11, YESTERDAY),
        rate("hatch_usual_d", "gardneri", 16, TODAY, basis="learned", source="40 looks"),
        rate("zero_c", "gardneri", 11, YESTERDAY),
    )
    for source in ("from a book", "x" * LONGEST_NOTE):
        species = {"gardneri": GARDNERI.model_copy(update={"source": source})}
        told = applied(replace(shelf(rates=rows), species=species)).species["gardneri"]
        assert told.hatch_usual_d == 16
        said = (
            f"hatching days: learned since {TODAY} (40 looks);"
            f" zero of development: your own since {YESTERDAY}; {source}"
        )
        assert told.source == said[:LONGEST_NOTE]


def test_a_name_that_two_tables_share_has_the_rates_of_both() -> None:
    rows = (rate("loss_per_day", "tube", 0.02, TODAY), rate("usual_d", "tube", 2.5, TODAY))
    place = shelf(services=(LETTER.model_copy(update={"service": "tube"}),), rates=rows)
    assert rate_problems(place) == ()
    assert (applied(place).packing_by_name["tube"].loss_per_day, applied(place).services[0].usual_d) == (
        0.02,
        2.5,
    )


def test_a_population_of_another_species_has_no_rates_here_and_six_names_are_told_at_most() -> None:
    species = {"gardneri": GARDNERI, "aus": GARDNERI.model_copy(update={"species": "aus"})}
    lots = (lot(), *(lot(f"A{n}", species="aus", population=f"P{n}") for n in range(5)))
    wrong = rate("zero_c", "gardneri/P1", 11, TODAY)
    (problem,) = rate_problems(replace(shelf(lots=lots, rates=(wrong,)), species=species))
    assert problem.text == "'gardneri/P1' has no zero_c."
    assert problem.mend == "Write aus or aus/P0 or aus/P1 or aus/P2 or aus/P3 or aus/P4."


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (rate("loss_a_day", "tube", 0.1, TODAY), "'loss_a_day' is not a rate. Write one of"),
        (rate("loss_per_day", "tub", 0.1, TODAY), "'tub' has no loss_per_day. Write bag or bag/moss or"),
        (rate("kappa", "tube", -3, TODAY), "-3 is out of range for kappa. Write a value within its range"),
        (rate("fertile_share", "*", 1.4, TODAY), "1.4 is out of range for fertile_share"),
        (rate("zero_c", "gardneri", 24, TODAY), "24 is not below incubation_c, 24. Write a value within"),
    ],
)
def test_a_rate_that_changes_nothing_is_said(row, words: str) -> None:
    place = shelf(rates=(row,))
    (problem,) = rate_problems(place)
    assert words in str(problem)
    assert applied(place).packings == place.packings
    assert applied(place).settings == place.settings
    assert applied(place).species == place.species


def test_a_rate_is_written_to_six_digits_and_on_nothing_is_told_apart_from_not_known() -> None:
    cells = rate_cells(rate("loss_per_day", "tube", 0.01234567, TODAY, n=0))
    assert (cells["value"], cells["n"], cells["low"], cells["high"]) == ("0.0123457", "0", "", "")
    assert rate_cells(rate("loss_per_day", "tube", 0.01, TODAY))["n"] == ""
