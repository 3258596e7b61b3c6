"""Days, numbers and shares as four languages write them."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.papers.page import fonts as faces
from shipping.papers.wording.language import (
    clean,
    day,
    first_and_last,
    full_day,
    number,
    paper_language,
    share,
    short_day,
)

WHEN = date(2026, 12, 3)


@pytest.mark.parametrize(
    ("language", "long", "short", "full"),
    [
        ("en", "Thu 3 Dec 2026", "3 Dec", "3 Dec"),
        ("de", "Do. 3. Dez. 2026", "3. Dez.", "3. Dezember"),
        ("fr", "jeu. 3 déc. 2026", "3 déc.", "le 3 décembre"),
        ("es", "jue 3 dic 2026", "3 dic", "el 3 de diciembre"),
    ],
)
def test_a_day_is_written_as_the_language_writes_it(language: str, long: str, short: str, full: str) -> None:
    assert (day(WHEN, language), short_day(WHEN, language), full_day(WHEN, language)) == (long, short, full)


@pytest.mark.parametrize(
    ("language", "short", "full"),
    [
        ("en", "9 Sep", "9 Sep"),
        ("de", "9. Sep.", "9. September"),
        ("fr", "9 sept.", "le 9 septembre"),
        ("es", "9 sept", "el 9 de septiembre"),
    ],
)
def test_september_is_shortened_alone_and_never_misspelt(language: str, short: str, full: str) -> None:
    when = date(2027, 9, 9)
    assert (short_day(when, language), full_day(when, language)) == (short, full)


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (date(2027, 4, 5), date(2028, 10, 19), "5 avr. 2027 – 19 oct. 2028"),
        (date(2027, 4, 5), date(2027, 10, 19), "5 avr. – 19 oct."),
        (date(2027, 12, 20), date(2028, 1, 31), "20 déc. – 31 janv. 2028"),
    ],
)
def test_the_first_of_two_days_is_never_read_as_of_the_year_of_the_last(
    first: date, last: date, said: str
) -> None:
    """Who read "5 Apr - 19 Oct 2028" wetted the eggs a year late."""
    assert " – ".join(first_and_last(first, last, "fr", 2027)) == said


def test_a_share_is_never_rounded_to_none_or_all() -> None:
    assert share(0.0004, "en") == "<\u00a00.1\u00a0%"
    assert share(0.9999, "de") == ">\u00a099,9\u00a0%"
    assert share(0.954, "en") == "95\u00a0%"
    assert share(0.0123, "fr") == "1,2\u00a0%"
    assert (share(0.0, "en"), share(1.0, "en")) == ("0\u00a0%", "100\u00a0%")


def test_a_share_just_under_one_is_not_shown_as_all() -> None:
    assert share(0.9962, "en") == "99.6\u00a0%"


def test_a_number_has_the_languages_own_point() -> None:
    assert [number(1234.5, language) for language in ("en", "de", "es")] == ["1,234.5", "1.234,5", "1.234,5"]


def test_other_languages_are_given_english() -> None:
    assert [paper_language(wanted) for wanted in ("de", "pl", None)] == ["de", "en", "en"]


def test_text_is_composed_and_on_one_line_without_hidden_marks() -> None:
    assert clean("  Zu\u0308rich\r\n\u202eabc\u200b ") == "Zürich abc"


def test_letters_are_lacking_only_where_they_cannot_be_printed() -> None:
    assert faces.letters_lacking("Łucja Żółć Ünal Şahin Γιώργος Юлія Ґ Đặng Thị Ngọc ♀♂ ☐") == ""
    assert faces.letters_lacking("漢字 漢") == "漢字"
    assert faces.letters_lacking("שלום") == "שלום"
    assert faces.letters_lacking("e\u0301") == ""
