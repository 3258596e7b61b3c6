"""A short or hatched parcel as a case: facts side by side, and what the seller's policy says."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from shipping.ledger.claims import cases
from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from shipping.tables.rows.settings import Claims
from tests.ledger.desk import TODAY, ledger_with_two_parcels

POLICY = Claims(
    report_within_days=3, short_policy="Missing eggs are sent again.", hatched_policy="Live fry count."
)
NAME = "2026-W49-01"


def reported(folder: Path, told_after: int, **counts: int) -> Ledger:
    with ledger_with_two_parcels(folder) as ledger:
        ledger.pack(NAME, photo_sha256="a" * 64)
        ledger.send(NAME)
    ledger = Ledger.open(folder, TODAY + timedelta(days=2 + told_after))
    ledger.arrive(NAME, [LineReport(order="S10", line=1, **counts)], on=TODAY + timedelta(days=2))
    return ledger


def test_a_short_line_becomes_a_case_with_both_sides(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=17, dead=7) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert (case.about, case.short_by, case.in_time, case.state) == (("short",), 3, True, "new")
    told = {fact.what: (fact.ours, fact.theirs) for fact in case.facts}
    assert told["eggs"] == ("20 ordered, 24 packed", "17 alive, 7 dead")
    assert told["alive"] == ("22.3 expected; 96 % for enough", "17")
    assert told["packed"] == (f"2026-11-30, photo {'a' * 64}", "")
    assert case.as_json()["photo_sha256"] == "a" * 64
    assert told["days"] == ("2 expected, 4 at the most (95 %)", "2 on the way")
    assert told["arrived"] == ("expected 2026-12-02, at the latest 2026-12-04 (95 %)", "2026-12-02")
    assert told["hatched"][1] == "not told"
    assert case.policy == ("To be reported within 3 days of arrival.", "Missing eggs are sent again.")
    assert case.suggested == "send again"


def test_fry_on_arrival_are_a_case_even_where_enough_live(tmp_path: Path) -> None:
    with reported(tmp_path, 5, alive=20, hatched_alive=3) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert (case.about, case.short_by, case.hatched, case.in_time) == (("hatched",), 0, 3, False)
    assert case.policy[1:] == ("Live fry count.",)
    assert case.suggested == ""


def test_a_parcel_that_kept_its_promise_is_no_case(tmp_path: Path) -> None:
    with reported(tmp_path, 0, alive=20) as ledger:
        assert cases(ledger.parcels(), POLICY) == ()


def test_a_claim_makes_a_case_of_its_own_and_closes_it(tmp_path: Path) -> None:
    with reported(tmp_path, 0, alive=20) as ledger:
        ledger.open_claim(NAME, ("S10", 1), "late")
        assert [(case.about, case.state) for case in cases(ledger.parcels(), POLICY)] == [(("late",), "open")]
        ledger.settle_claim(NAME, ("S10", 1), "neither")
        assert [case.state for case in cases(ledger.parcels(), POLICY)] == ["settled"]


def test_a_policy_that_says_nothing_is_said_to_say_nothing(tmp_path: Path) -> None:
    with reported(tmp_path, 0, alive=3) as ledger:
        (case,) = cases(ledger.parcels(), Claims())
    assert case.policy[1] == "The settings say nothing of short parcels (short_policy)."


def test_what_is_sent_again_is_never_fewer_than_five_eggs(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=18, dead=6) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert case.eggs_due == 5
