"""One cell at a time: what each parser takes, and the two sentences it answers with."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import get_args

import pytest

from shipping.tables.cells import (
    BadCell,
    WordParser,
    eggs_within,
    numbers_meant,
    parse_key,
    parse_money,
    parse_number,
    parse_yes_no,
    whole_between,
)
from shipping.tables.editing.starter import starter_columns
from shipping.tables.list_words import meant_in_list, said_elsewhere
from shipping.tables.rows.lots import STAGES, Medium
from shipping.tables.rows.packings import KIND_BY_WORD
from shipping.tables.rows.services import parse_clock_time, parse_weekdays
from shipping.tables.shelf import TABLES
from shipping.tables.typed_days import parse_date

eggs = whole_between(1, 100)


def test_a_whole_number_written_with_a_point_is_whole() -> None:
    assert (eggs("20.0"), eggs(20.0), eggs("2e1")) == (20, 20, 20)


@pytest.mark.parametrize(
    ("cell", "mend"),
    [
        ("2.5", "Write 2 or 3."),
        ("0.4", "Write 1."),
        ("100.5", "Write 100."),
        ("-3.5", "Write a whole number from 1 to 100."),
    ],
)
def test_the_mend_of_a_fraction_is_a_number_that_would_be_accepted(cell: str, mend: str) -> None:
    with pytest.raises(BadCell) as caught:
        eggs(cell)
    assert caught.value.mend == mend


@pytest.mark.parametrize("cell", ["", "1_000", "٣", "0x10", "inf", "nan", "1,000", "1 000", True])
def test_what_only_a_computer_would_call_a_number_is_none(cell: object) -> None:
    with pytest.raises(BadCell):
        parse_number(cell)


def test_a_day_is_iso_text_or_a_date_cell_and_nothing_else() -> None:
    assert parse_date("2026-11-30") == date(2026, 11, 30)
    assert parse_date(datetime(2026, 11, 30, 8)) == date(2026, 11, 30)
    for cell in ("20261130", "2026-W49-1", "30 Nov 2026", "2026-11-30T08:00", 46356, "0000-01-01"):
        with pytest.raises(BadCell):
            parse_date(cell)


def test_a_day_that_reads_the_same_both_ways_has_one_mend() -> None:
    with pytest.raises(BadCell) as caught:
        parse_date("05.05.2026")
    assert caught.value.mend == "Write 2026-05-05."


def test_money_keeps_every_figure_that_was_written() -> None:
    assert parse_money("12.10") == Decimal("12.10")
    assert str(parse_money("0.30")) == "0.30"
    assert str(parse_money(0.3)) == "0.3"


def test_yes_and_no_are_words_whatever_their_case_and_ticks_of_a_workbook() -> None:
    assert (parse_yes_no("Yes"), parse_yes_no("NO"), parse_yes_no(True)) == (True, False, True)


def test_a_name_may_hold_what_breeders_write_but_no_path() -> None:
    assert parse_key("GAR Akure 2026/11".replace("/", "-")) == "GAR Akure 2026-11"
    for cell in ("a/b", "a\\b", "..", ".hidden", "a\nb", "x" * 61):
        with pytest.raises(BadCell):
            parse_key(cell)


def test_weekdays_come_in_the_order_of_the_week() -> None:
    assert parse_weekdays("Wed mon") == ("Mon", "Wed")
    assert parse_weekdays("lundi, mer") == parse_weekdays("Mo Mi") == ("Mon", "Wed")
    assert parse_weekdays("Mon-Thu, Sat") == ("Mon", "Tue", "Wed", "Thu", "Sat")


def test_a_time_of_day_is_hours_and_minutes() -> None:
    assert (parse_clock_time("9:05"), parse_clock_time("15.30")) == ("09:05", "15:30")
    with pytest.raises(BadCell):
        parse_clock_time("24:00")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("12.5", ("12.5",)),
        ("12,5", ("12.5",)),
        ("1,000", ("1000", "1")),
        ("12.345", ("12345", "12.345")),
        ("1.234,50", ("1234.50",)),
        ("1,234.50", ("1234.50",)),
        ("1.234.567", ("1234567",)),
        ("1.5.2", ()),
    ],
)
def test_a_number_has_one_reading_or_all_that_it_may_mean(text: str, meant: tuple[str, ...]) -> None:
    assert numbers_meant(text) == meant


@pytest.mark.parametrize(
    ("text", "eggs"),
    [("Pack size: 20 eggs", "20"), ("30 Eier", "30"), ("Lot 7, 20 eggs", None), ("20", None), ("blue", None)],
)
def test_a_count_is_read_out_of_words_only_beside_the_word_for_eggs(text: str, eggs: str | None) -> None:
    assert eggs_within(text) == eggs


@pytest.mark.parametrize(
    ("words", "typed", "meant"),
    [
        (get_args(get_args(Medium)[0]), "Torf", "peat"),
        (get_args(get_args(Medium)[0]), "fibra de coco", "coir"),
        (("yes", "no"), "Ja", "yes"),
        (("yes", "no"), "oui", "yes"),
        (tuple(KIND_BY_WORD), "Feuchtbeutel", "damp bag"),
        (("together", "may split"), "zusammen", "together"),
        (("open", "papers", "ask", "closed"), "verboten", "closed"),
    ],
)
def test_a_word_of_another_language_is_read_where_it_means_one_of_the_list(
    words: tuple[str, ...], typed: str, meant: str
) -> None:
    assert WordParser(words)(typed) == meant


def test_a_word_that_means_none_of_the_list_is_refused() -> None:
    with pytest.raises(BadCell):
        WordParser(("laid", "ready"))("Torf")


def test_every_word_of_every_list_is_read_in_every_language_of_the_page() -> None:
    """A list that gains a word is asked here for the others."""
    lists = [column.words for table in TABLES for column in starter_columns(table.name) if column.words]
    own = {"learned", "published", "common practice", "assumed"}
    lacking = {word for words in lists for word in words if not said_elsewhere().get(word)} - own
    assert not lacking
    for words in lists:
        for word in words:
            meant = {meant_in_list(other, words) for other in said_elsewhere().get(word, ())}
            assert meant <= {word, ""}, (word, meant)


@pytest.mark.parametrize(
    ("typed", "stage"),
    [
        *[("se ven ojos", "eyed"), ("ojos", "eyed"), ("vivos, sin ojos", "fertile"), ("eyes show", "eyed")],
        *[("Augen zu sehen", "eyed"), ("yeux", "eyed")],
    ],
)
def test_a_stage_is_read_by_the_words_in_which_the_page_asks_for_it(typed: str, stage: str) -> None:
    assert meant_in_list(typed, STAGES) == stage
