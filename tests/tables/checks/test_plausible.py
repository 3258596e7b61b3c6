"""What is asked about because it is hardly meant, at its bounds."""

from __future__ import annotations

import pytest

from shipping.tables.checks.settings import _money_settings
from shipping.tables.rows.settings import Customs, Home, PlanSettings, Sender, Settings
from shipping.words.problems import Where

#: Half and twice what 1 SDR was in 2026, in round figures.
BOUNDS = {
    "EUR": (0.6, 2.4),
    "USD": (0.7, 2.8),
    "GBP": (0.5, 2.0),
    "CHF": (0.55, 2.2),
    "DKK": (4.5, 18.0),
    "SEK": (6.75, 27.0),
    "NOK": (7.0, 28.0),
    "PLN": (2.55, 10.2),
    "CZK": (14.5, 58.0),
    "JPY": (105.0, 420.0),
    "AUD": (1.05, 4.2),
    "CAD": (0.95, 3.8),
}


def asked(currency: str, sdr: float) -> bool:
    """Is that rate for SDR asked about?"""
    settings = Settings(
        home=Home(country="DK"),
        sender=Sender(name="A. Breeder", address=("Havnegade 1",)),
        plan=PlanSettings(currency=currency),
        customs=Customs(sdr=sdr),
    )
    return [problem.column for problem in _money_settings(settings, Where("shelf.toml"))] == ["customs.sdr"]


@pytest.mark.parametrize("currency", BOUNDS)
def test_a_rate_for_sdr_of_half_or_twice_as_much_is_taken_and_one_beyond_is_asked_about(
    currency: str,
) -> None:
    low, high = BOUNDS[currency]
    assert [asked(currency, rate) for rate in (low, high)] == [False, False]
    assert [asked(currency, rate) for rate in (low * 0.99, high * 1.01)] == [True, True]


def test_a_rate_of_a_currency_that_is_not_known_is_taken() -> None:
    assert not asked("BRL", 900.0)
