"""A day that is not within about half a year of today is told with its year, in every language."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shipping.papers.wording.phrases import note_text
from shipping.words.reasons import Note, Reason
from shipping.words.units import short_day
from shipping.worktop.page_language import (
    day_and_month,
    day_and_year,
    day_meant,
    day_words,
    days_words,
    reasons_wording,
    speak,
    tell_time,
    tr,
)
from shipping.worktop.running_list import cause_text
from tests.worktop.conftest import TODAY

FAR, NEAR = date(2028, 3, 14), date(2027, 1, 17)


@pytest.fixture(params=["en", "de", "fr", "es"])
def _spoken(request: pytest.FixtureRequest) -> object:
    speak(request.param)
    tell_time(TODAY, "")
    yield
    speak("en")
    tell_time(TODAY, "")


@pytest.mark.usefixtures("_spoken")
def test_days_of_one_sentence_have_all_their_year_or_none() -> None:
    assert days_words(NEAR, FAR) == (day_and_year(NEAR), day_and_year(FAR))
    assert days_words(NEAR, TODAY) == (day_words(NEAR), day_words(TODAY))


@pytest.mark.usefixtures("_spoken")
def test_a_far_day_has_its_year_and_a_near_one_has_none() -> None:
    assert day_words(FAR) == day_and_year(FAR)
    assert day_words(FAR).endswith("2028")
    assert "2027" not in day_words(NEAR)
    assert tr(short_day(FAR)).endswith("2028")
    assert "2027" not in tr(short_day(NEAR))
    assert day_words(TODAY - timedelta(days=300)).endswith("2026")
    for day in (FAR, NEAR):
        assert day_and_year(day).count(str(day.year)) == 1
        assert day_meant(day_and_year(day)) == day


@pytest.mark.usefixtures("_spoken")
def test_a_far_day_in_a_reason_in_a_note_and_in_a_heading_has_its_year_too() -> None:
    """The cards of the bench had it in some of their texts and not in others."""
    for day in (FAR, NEAR):
        reason = Reason("not-before", "", {"not_before": day.isoformat()})
        note = Note("no-forecast", {"place": "DK", "until": day.isoformat(), "low_c": 4, "high_c": 9})
        for said in (cause_text(reason), note_text(note, reasons_wording()), day_and_month(day)):
            assert (str(day.year) in said) == (day == FAR), said
