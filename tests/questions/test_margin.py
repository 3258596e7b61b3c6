"""Eggs to pack for a count ordered: what a route and a promise change."""

from __future__ import annotations

import pytest
from scipy.stats import betabinom

from shipping.questions.margin import margin_of_loss, margin_of_route
from tests.post.a_shelf import TODAY, a_service
from tests.week.a_week import a_week


def pack(to: str = "DK", promise: float | None = None, eyed: bool = True) -> int:
    shelf = a_week(services=(a_service(early_d=2, usual_d=3, late_d=6, live_eggs="yes"),))
    found = margin_of_route(shelf, 20, "bag", "letter", to, TODAY, eyed, promise)
    assert found.pack is not None
    return found.pack


def test_a_promise_asked_for_wins_over_the_shelfs() -> None:
    assert pack(promise=0.95) == pack()
    assert pack(promise=0.80) < pack() < pack(promise=0.99)


def test_eggs_not_seen_fertile_need_more() -> None:
    assert pack(eyed=False) > pack()


def test_a_route_may_name_a_subdivision_and_its_holidays_count() -> None:
    shelf = a_week(services=(a_service(early_d=4, usual_d=4, late_d=4, live_eggs="yes"),))

    def alive(to: str) -> float:
        # the fourth working day after 31 December 2026 is later where Epiphany is kept
        return margin_of_route(
            shelf, 20, "bag", "letter", to, TODAY.replace(month=12, day=31), True
        ).expected_alive

    plain, bavarian = alive("DE"), alive("DE-BY")
    assert bavarian != plain


def test_a_loss_of_twelve_in_a_hundred_is_told_with_its_chance() -> None:
    found = margin_of_loss(20, 0.12, 40.0, 0.95)
    assert found.pack is not None
    enough = {n: float(betabinom.sf(19, n, 0.88 * 40, 0.12 * 40)) for n in range(20, 60)}
    assert found.pack == min(n for n, chance in enough.items() if chance >= 0.95)
    assert found.p_enough == pytest.approx(enough[found.pack])
    assert found.expected_alive == pytest.approx(0.88 * found.pack)
    assert found.as_json()["extra"] == found.pack - 20
