"""A parcel's number is enough within its week, and a day names all of its parcels."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.cli.global_options import whole_names
from shipping.cli.ledger import parcels_of_day
from shipping.ledger.kept_parcel import KeptParcel
from shipping.words.problems import ShelfProblems
from tests.cli.conftest import FIRST, Spawnpost, done, refused

TODAY = date(2026, 12, 1)


def kept(name: str, day: date = TODAY, state: str = "planned") -> KeptParcel:
    week = name.rpartition("-")[0]
    return KeptParcel(name, week, "DE", "letter", day, day, day, 10, 20, (), 1, state=state)


KEPT = (
    kept("2026-W48-01", date(2026, 11, 24)),
    kept("2026-W49-01"),
    kept("2026-W49-12"),
    kept("2026-W50-03", date(2026, 12, 8)),
    kept("2026-W48-07", date(2026, 11, 24)),
)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("1", "2026-W49-01"),
        ("012", "2026-W49-12"),
        ("3", "2026-W50-03"),
        ("7", "2026-W48-07"),
        ("8", "8"),
        ("2026-W48-01", "2026-W48-01"),
    ],
)
def test_a_number_is_the_parcel_of_this_week_else_of_the_nearest(typed: str, meant: str) -> None:
    assert whole_names([one.parcel for one in KEPT], [typed], TODAY) == [meant]


def test_a_day_names_its_parcels_that_stand_so() -> None:
    some = (*KEPT, kept("2026-W49-02", state="packed"))
    assert parcels_of_day(some, TODAY, "planned") == ["2026-W49-01", "2026-W49-12"]
    assert parcels_of_day(some, TODAY, "packed") == ["2026-W49-02"]
    with pytest.raises(ShelfProblems, match=r"No parcel of 2026-12-02 is planned\."):
        parcels_of_day(some, date(2026, 12, 2), "planned")


def test_parcels_nobody_told_of_are_named(spawnpost: Spawnpost) -> None:
    for step in ("pack", "send"):
        done(spawnpost(step, FIRST))
    told = done(spawnpost("arrive", today="2026-12-05"))
    assert f"No report yet: {FIRST} (D02), sent 2026-11-30" in told.out
    assert "expected by 2026-12-01, 4 days late" in told.out
    assert done(spawnpost("arrive", "--json", today="2026-12-05")).facts["no_report"] == [FIRST]
    done(spawnpost("arrive", FIRST, "--alive", "D02:1=20", "--on", "2026-12-01", today="2026-12-05"))
    assert "No report yet" not in done(spawnpost("arrive", today="2026-12-05")).out


def test_an_order_named_in_place_of_its_parcel_is_told_where_it_is(spawnpost: Spawnpost) -> None:
    refused(spawnpost("pack", "D02"), f"'D02' is an order, not a parcel. It is in {FIRST}.")


def test_a_decimal_comma_in_a_count_of_a_line_is_no_second_count(spawnpost: Spawnpost) -> None:
    refused(spawnpost("pack", FIRST, "--count", "D02:1=22,5"), "'D02:1=22,5' is not a whole number of eggs")
