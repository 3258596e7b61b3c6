"""From the hour of hand-over on the page says that it is past; before, or where nobody knows, it does not."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.post.calendar import past_cut_off
from tests.worktop.conftest import FIRST, TODAY, Desk

PAST = "is past: plan for the next day, or say that you handed it over earlier."


@pytest.mark.parametrize(
    ("cut_off", "day", "hour", "is_past"),
    [
        ("15:00", 30, "14:59", False),
        ("15:00", 30, "15:00", True),
        ("09:30", 30, "10:00", True),
        ("15:00", 29, "19:53", False),
        ("15:00", 30, "", False),
        (None, 30, "19:53", False),
    ],
)
def test_an_hour_is_past_on_its_day_only_and_where_the_hour_is_known(
    cut_off: str | None, day: int, hour: str, is_past: bool
) -> None:
    said = past_cut_off(cut_off, date(2026, 11, day), TODAY, hour)
    assert said == (f"{cut_off} {PAST}" if is_past else "")


def test_the_round_and_the_bench_say_it_and_what_was_handed_over_before_is_recorded_at_once(
    shelf: Path,
) -> None:
    morning, evening, unknown = (Desk(shelf, hour=hour) for hour in ("08:00", "23:00", ""))
    for desk, is_past in ((morning, False), (evening, True), (unknown, False)):
        for page in ("/", "/packing", "/week"):
            assert (PAST in desk.text(page)) == is_past, page
        assert ("Hand over until" in desk.text("/")) != is_past
    evening.pack()
    card = evening.text(f"/packing?at={FIRST}")
    assert "Handed over before " in card
    assert evening.post(f"/packing/{FIRST}/send").status_code == 200, "without another question"
    assert evening.parcel().state == "sent"
    assert "Handed over before " not in morning.text("/packing")


def test_a_week_without_a_plan_is_not_hurried_to_an_hour_that_is_past(tmp_path: Path) -> None:
    from shutil import copytree

    from shipping.words.units import shipped_folder

    shelf = copytree(shipped_folder("demo_orders"), tmp_path / "new")
    assert "The first service closes at" in Desk(shelf, hour="08:00").text("/")
    late = Desk(shelf, hour="23:30").text("/")
    assert "The first service closes at" not in late
    assert PAST in late
