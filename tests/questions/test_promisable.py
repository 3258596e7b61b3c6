"""What of a population can be promised to a place by day: services each with what it carries."""

from __future__ import annotations

from datetime import date

from shipping.options.option import Destination
from shipping.questions.promisable import LargestOrder, Reach

MONDAY, TUESDAY = date(2026, 11, 30), date(2026, 12, 1)
LETTER, COURIER = (
    LargestOrder(order=12, eggs=40, packing="tube"),
    LargestOrder(order=30, eggs=90, packing="breathing bag"),
)


def reach(days: dict[date, dict[str, LargestOrder]]) -> Reach:
    return Reach(Destination.of("DK", ""), days, (), (), False, False, {})


def test_a_day_promises_what_its_best_service_carries() -> None:
    """The courier takes lots that the letter must leave: an order may be as large as the courier's."""
    to_denmark = reach({MONDAY: {"letter": LETTER, "courier": COURIER}})
    assert (to_denmark.order_on(MONDAY), to_denmark.eggs_on(MONDAY)) == (30, 90)


def test_a_day_on_which_nothing_goes_promises_nothing() -> None:
    to_denmark = reach({MONDAY: {"letter": LETTER}})
    assert (to_denmark.order_on(TUESDAY), to_denmark.eggs_on(TUESDAY)) == (0, 0)
