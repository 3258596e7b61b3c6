"""No page is forgotten where every screen is looked at."""

from __future__ import annotations

from tests.worktop.conftest import Desk
from tests.worktop.every_screen import PATHS, pages_of


def test_every_route_that_answers_with_a_page_is_among_the_screens(desk: Desk) -> None:
    """Templates are counted where the screens are looked at, in a browser."""
    assert pages_of(desk) == set(PATHS)
