"""Days of forms and commands are read as those of tables, and written as the breeder's table writes them."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.tables.cells import BadCell
from shipping.tables.typed_days import day_typed, day_written_like, days_at

TODAY = date(2026, 12, 7)


@pytest.mark.parametrize(
    "typed", ["4/12/2026", "04.12.2026", "4 Dec 2026", "2026-12-04", "4 de dezembro de 2026"]
)
def test_a_typed_day_is_read_by_the_setting(typed: str) -> None:
    assert day_typed(typed, "day first", TODAY) == date(2026, 12, 4)


def test_month_first_where_the_setting_says_so() -> None:
    assert day_typed("4/12/2026", "month first", TODAY) == date(2026, 4, 12)


@pytest.mark.parametrize("typed", ["yesterday", "Gestern", "hier", " ayer"])
def test_a_day_named_by_today_is_read_in_the_languages_of_the_page(typed: str) -> None:
    assert day_typed(typed, None, TODAY) == date(2026, 12, 6)
    assert day_typed("aujourd’hui", None, TODAY) == TODAY


@pytest.mark.parametrize("typed", ["Friday", "fri", "sexta-feira", "Sexta", "Freitag", "vendredi"])
def test_a_weekday_is_the_next_one_where_a_day_to_come_is_meant(typed: str) -> None:
    assert day_typed(typed, None, TODAY, ahead=True) == date(2026, 12, 11)
    with pytest.raises(BadCell, match=r"may be several days. Write 2026-12-04 or 2026-12-11."):
        day_typed(typed, None, TODAY)


@pytest.mark.parametrize(
    ("typed", "dates", "said"),
    [
        ("4/12/2026", None, "'4/12/2026' may be several days. Write 2026-12-04 or 2026-04-12."),
        ("12/13/2026", "day first", "'12/13/2026' is not a day. Write 2026-12-13."),
        ("31/11/2026", "day first", "'31/11/2026' is not a day of the calendar. That month has 30 days."),
        ("2026-02-30", None, "'2026-02-30' is not a day of the calendar. That month has 28 days."),
        ("16/11", "day first", "'16/11' is not a day. Write the year too, as 16/11/2026."),
        ("3.1.", "day first", "'3.1.' is not a day. Write the year too, as 3.1.2026."),
        ("someday", "day first", "'someday' is not a day. Write the day as 2026-11-30."),
        ("someday", None, "'someday' is not a day. Write the day as 2026-11-30."),
    ],
)
def test_what_cannot_be_read_is_told_in_the_breeders_own_form(
    typed: str, dates: str | None, said: str
) -> None:
    with pytest.raises(BadCell) as bad:
        day_typed(typed, dates, TODAY)
    assert str(bad.value) == said


def test_a_day_without_its_year_is_a_past_one_unless_a_day_to_come_is_meant() -> None:
    for ahead, year in ((False, 2026), (True, 2027)):
        with pytest.raises(BadCell, match=f"as 3.1.{year}"):
            day_typed("3.1.", "day first", TODAY, ahead=ahead)


@pytest.mark.parametrize(
    ("column", "table", "dates", "written"),
    [
        (["1/9/2026", "16/11/2026"], [], "day first", "4/12/2026"),
        (["01.09.2026"], [], "day first", "04.12.2026"),
        (["9/1/2026"], [], "month first", "12/4/2026"),
        (["2026-11-01"], ["1/9/2026"] * 5, "day first", "2026-12-04"),
        (["2026-11-01", "1/9/2026"], [], "day first", "4/12/2026"),
        ([""], ["1/9/2026"], "day first", "4/12/2026"),
        ([], [], "day first", "04/12/2026"),
        (["1/9/2026"], [], None, "2026-12-04"),
    ],
)
def test_a_day_is_written_as_its_column_writes_days(
    column: list[str], table: list[str], dates: str | None, written: str
) -> None:
    assert day_written_like(date(2026, 12, 4), column, table, dates) == written


@pytest.mark.parametrize(
    ("home", "written"),
    [("DE", "04.12.2026"), ("NL", "04-12-2026"), ("FR", "04/12/2026"), ("XX", "04/12/2026")],
)
def test_a_first_day_is_written_with_the_mark_of_its_home(home: str, written: str) -> None:
    assert day_written_like(date(2026, 12, 4), [], [], "day first", days_at(home)[1]) == written
