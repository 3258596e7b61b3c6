"""What 1 SDR may be in the money of the shelf, at its bounds."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.tables.checks.settings import settings_can_be_meant
from shipping.tables.rows.settings import Customs, Home, PlanSettings, ReadingRules, Sender, Settings
from shipping.tables.shelf import Draft

#: What 1 SDR was in 2026, in round figures.
ABOUT = {"EUR": 1.2, "USD": 1.4, "GBP": 1.0, "CHF": 1.1, "DKK": 9.0, "SEK": 13.5, "NOK": 14.0, "PLN": 5.1}
ABOUT |= {"CZK": 29.0, "JPY": 210.0, "AUD": 2.1, "CAD": 1.9, "ZAR": 24.0, "BRL": 7.6}


def a_draft(currency: str, sdr: float, meant: tuple[str, ...] = ()) -> Draft:
    settings = Settings(
        home=Home(country="DK"),
        sender=Sender(name="A. Breeder", address=("Havnegade 1", "8000 Aarhus C")),
        plan=PlanSettings(currency=currency),
        customs=Customs(sdr=sdr),
        reading=ReadingRules(meant=meant),
    )
    return Draft(today=date(2026, 11, 30), settings=settings, names={}, complete=frozenset())


def asked(draft: Draft) -> bool:
    """Is that rate for SDR asked about?"""
    return [problem.column for problem in settings_can_be_meant(draft)] == ["customs.sdr"]


@pytest.mark.parametrize("currency", ABOUT)
def test_a_rate_for_sdr_a_third_off_is_taken_and_one_beyond_is_asked_about(currency: str) -> None:
    about = ABOUT[currency]
    assert not any(asked(a_draft(currency, rate)) for rate in (about / 1.34, about * 1.34))
    assert all(asked(a_draft(currency, rate)) for rate in (about / 1.36, about * 1.36))


def test_a_rate_turned_round_is_asked_about() -> None:
    assert asked(a_draft("EUR", round(1 / 1.17673, 2)))


def test_a_rate_of_a_currency_that_is_not_known_is_taken() -> None:
    assert not asked(a_draft("ISK", 900.0))


def test_a_setting_that_is_meant_is_not_asked_about_again() -> None:
    draft = a_draft("EUR", 0.85)
    (problem,) = settings_can_be_meant(draft)
    (answer,) = problem.answers
    assert answer.key == "meant"
    assert not asked(a_draft("EUR", 0.85, (str(answer.value),)))
    assert asked(a_draft("EUR", 0.84, (str(answer.value),)))
