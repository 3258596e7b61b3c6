"""A short or hatched parcel as a case: facts side by side, and what the seller's policy says."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest

from shipping.ledger.claims import (
    came_after_all,
    cases,
    record_claim,
    to_settle,
    what_to_settle,
)
from shipping.ledger.entries import ClaimSettled, LineReport, Undone
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.reported_line import report_notes
from shipping.tables.rows.settings import Claims
from shipping.words.sentence import Sentence
from tests.ledger import invented
from tests.ledger.desk import TODAY, draw, ledger_with_two_parcels, line, parcel, plan
from tests.post.a_shelf import a_price
from tests.week.a_week import a_row, orders

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
    assert case.policy == ("Days after arrival to report it: 3.", "Missing eggs are sent again.")
    assert case.suggested == "send again"


def test_a_promise_that_is_not_written_yet_is_told_in_any_language(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=15, hatched_alive=1) as ledger:
        (case,) = cases(ledger.parcels(), Claims())
    assert len(case.policy) == 3
    assert all(isinstance(text, Sentence) for text in case.policy)


def test_a_report_is_not_taken_back_under_a_settled_claim(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=17, dead=7) as ledger:
        report = ledger.every_entry[-1].seq
        ledger.open_claim(NAME, ("S10", 1), "short")
        settled = ledger.settle_claim(NAME, ("S10", 1), "refund", amount="3.00")
        with pytest.raises(
            LedgerError, match=f"rest on entry {report} .entry {settled.seq} settled the claim for"
        ):
            ledger.undo(report)
        ledger.undo(settled.seq)
        ledger.undo(report)
        assert not ledger.parcel(NAME).reports


def test_a_report_taken_back_takes_the_open_claim_it_was_the_ground_of_with_it(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=17) as ledger:
        ledger.open_claim(NAME, ("S10", 1), "short")
        assert ledger.undo(4).body == Undone(entry=4)
        assert ledger.parcel(NAME).claims == ()
        assert cases(ledger.parcels(), POLICY) == ()
        assert [one.text for one in ledger.history()[-2:]] == [
            f"took back entry 4: {NAME} arrived on 2026-12-02: S10:1 17 alive",
            f"took back entry 5: {NAME} claim for S10:1: short",
        ]


def test_a_claim_made_before_a_report_or_for_being_late_stays_when_the_report_goes(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=17) as ledger:
        ledger.open_claim(NAME, ("S10", 1), "late")
        ledger.undo(4)
        ledger.arrive(NAME, [LineReport(order="S10", line=1, alive=17)], on=TODAY + timedelta(days=2))
        ledger.undo(NAME)
        assert [claim.about for claim in ledger.parcel(NAME).claims] == ["late"]


def test_a_claim_for_too_few_is_without_ground_once_enough_are_told_alive(tmp_path: Path) -> None:
    with reported(tmp_path, 1, dead=1) as ledger:
        ledger.open_claim(NAME, ("S10", 1), "short")
        (case,) = cases(ledger.parcels(), POLICY)
        assert (case.groundless, to_settle(ledger.parcels(), POLICY)) == (False, {NAME: ("short",)})
        ledger.arrive(NAME, [LineReport(order="S10", line=1, alive=20)], on=TODAY + timedelta(days=2))
        (case,) = cases(ledger.parcels(), POLICY)
        assert (case.state, case.groundless, to_settle(ledger.parcels(), POLICY)) == ("open", True, {})
        assert "--settle nothing" in "\n".join(case.lines())


@pytest.mark.parametrize(("dead", "missing", "short"), [(4, 0, 0), (6, 1, 3), (24, 0, 20)])
def test_a_line_of_which_only_dead_or_missing_eggs_are_told_is_short_by_what_cannot_live(
    tmp_path: Path, dead: int, missing: int, short: int
) -> None:
    """Of 24 packed for 20: as the page of arrivals says."""
    with reported(tmp_path, 1, dead=dead, missing=missing) as ledger:
        found = cases(ledger.parcels(), POLICY)
    assert [(case.about, case.short_by) for case in found] == [(("short",), short)] * (short > 0)


def test_fry_on_arrival_are_a_case_even_where_enough_live(tmp_path: Path) -> None:
    with reported(tmp_path, 5, alive=20, hatched_alive=3) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert (case.about, case.short_by, case.hatched, case.in_time) == (("hatched",), 0, 3, False)
    assert "recorded later: reported in time if the buyer wrote by 2026" in "\n".join(case.lines())
    assert case.policy[1:] == ("Live fry count.",)
    assert case.suggested == ""


def test_money_given_back_for_a_parcel_that_comes_after_all_is_said(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack(NAME)
        ledger.send(NAME)
        ledger.end(NAME, "lost")
        ledger.open_claim(NAME, ("S10", 1), "lost")
        ledger.settle_claim(NAME, ("S10", 1), "refund", amount="16.00")
        assert list(came_after_all(ledger.parcel(NAME))) == []
        ledger.arrive(NAME, [LineReport(order="S10", line=1, alive=22)])
        assert list(came_after_all(ledger.parcel(NAME))) == [
            "S10:1 came (22 alive), but 16.00 was given back for it."
        ]


@pytest.mark.parametrize(("about", "alive", "said"), [("lost", 12, 1), ("lost", 0, 0), ("short", 12, 0)])
def test_all_eggs_are_not_sent_again_without_a_word_where_some_came_after_all(
    tmp_path: Path, about: str, alive: int, said: int
) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack(NAME)
        ledger.send(NAME)
        ledger.open_claim(NAME, ("S10", 1), about)
        ledger.settle_claim(NAME, ("S10", 1), "send again", eggs=20)
        ledger.arrive(NAME, [LineReport(order="S10", line=1, alive=alive)])
        told = list(came_after_all(ledger.parcel(NAME)))
    assert [one[:38] for one in told] == said * ["S10:1 came (12 alive), but eggs are to"]


@pytest.mark.parametrize(
    ("about", "how", "eggs", "more"),
    [
        ("short", "refund", 0, 8),
        ("short", "send again", 5, 5),
        ("late", "nothing", 0, 10),
        ("lost", "refund", 0, 0),
    ],
)
def test_a_report_that_worsens_what_was_settled_is_a_case_again_with_what_is_due_more(
    tmp_path: Path, about: str, how: str, eggs: int, more: int
) -> None:
    """First only dead eggs are told, 2 short of 20 by that; it is settled, then 10 alive are told."""
    report = partial(LineReport, order="S10", line=1)
    with reported(tmp_path, 1, dead=6 if about == "short" else None, missing=0) as ledger:
        ledger.open_claim(NAME, ("S10", 1), about)
        ledger.settle_claim(NAME, ("S10", 1), how, eggs=eggs, amount="2.00" if how == "refund" else "")
        assert to_settle(ledger.parcels(), POLICY) == {}
        assert not list(what_to_settle(ledger.parcel(NAME)))
        ledger.arrive(NAME, [report(alive=10)])
        (case,) = cases(ledger.parcels(), POLICY)
        due = to_settle(ledger.parcels(), POLICY)
        said = " ".join((*report_notes(ledger.parcel(NAME)), *what_to_settle(ledger.parcel(NAME))))
    assert (case.state, case.short_by) == ("new" if more else "settled", 10)
    words = f"{more} eggs short beyond what was settled"
    assert due == ({NAME: (words,)} if more else {})
    assert (f"S10:1: {words}" in said and "Settle it with its buyer" in said) == bool(more)
    assert not more or (case.eggs_due, case.since_settled) == (more, words)


def test_a_policy_of_money_back_names_the_command_with_its_amount(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=17) as ledger:
        (case,) = cases(ledger.parcels(), Claims(short_policy="We refund what is short."))
    assert list(case.lines())[-1].endswith('--line S10:1 --settle "refund" --amount MONEY')


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
    assert case.policy[1].startswith("You have not written yet what you promise when a count falls short")


@pytest.mark.parametrize(("told_after", "in_time"), [(0, True), (3, True), (4, False)])
def test_a_report_of_the_last_day_is_in_time(tmp_path: Path, told_after: int, in_time: bool) -> None:
    with reported(tmp_path, told_after, alive=17) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert case.in_time is in_time


@pytest.mark.parametrize(
    ("counts", "due"),
    [
        ({"alive": 19}, 5),
        ({"alive": 15}, 5),
        ({"alive": 14}, 6),
        ({"alive": 0}, 20),
        ({"alive": 20, "hatched_alive": 2}, 0),
        ({"alive": 15, "hatched_alive": 8}, 5),
        ({"alive": 14, "hatched_alive": 6}, 6),
    ],
)
def test_what_was_missing_is_due_or_else_what_hatched_of_the_count_and_no_fewer_than_are_ever_drawn(
    tmp_path: Path, counts: dict[str, int], due: int
) -> None:
    with reported(tmp_path, 1, **counts) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert case.eggs_due == due


def test_no_more_is_due_than_was_ordered_and_of_a_parcel_lost_all_of_it(tmp_path: Path) -> None:
    small = plan(
        parcel(NAME, "Ida Holm", line("S10", 1, 3, draw("L1", 4)), line("S10", 2, 30, draw("L2", 36)))
    )
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        ledger.keep_plan(small)
        ledger.pack(NAME)
        ledger.send(NAME)
        ledger.open_claim(NAME, ("S10", 2), "lost")
        ledger.arrive(NAME, [LineReport(order="S10", line=1, alive=2)], on=TODAY)
        due = {case.line: (case.short_by, case.eggs_due) for case in cases(ledger.parcels(), POLICY)}
    assert due == {1: (1, 3), 2: (0, 30)}


def test_fry_of_a_line_that_came_short_are_settled_as_short(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=15, hatched_alive=3) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert (case.about, case.short_by, case.hatched) == (("short", "hatched"), 2, 3)
    assert case.suggested == "send again"


@pytest.mark.parametrize(("eggs", "sent"), [(0, 5), (7, 7)])
def test_the_eggs_named_are_sent_again_and_where_none_are_named_those_due(
    tmp_path: Path, eggs: int, sent: int
) -> None:
    with reported(tmp_path, 1, alive=18) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
        entry = record_claim(ledger, NAME, ("S10", 1), case, "", "send again", eggs, "", "")[-1]
        assert isinstance(entry.body, ClaimSettled)
        assert entry.body.eggs == sent
        (settled,) = cases(ledger.parcels(), POLICY)
        assert (settled.state, settled.owed) == ("settled", "S10-1-again")
        with pytest.raises(LedgerError, match="settled already"):
            record_claim(ledger, NAME, ("S10", 1), settled, "", "send again", eggs, "", "")


def test_what_is_sent_again_is_never_fewer_than_five_eggs(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=18, dead=6) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
    assert case.eggs_due == 5


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("12.50", "12.50"), ("12,50 EUR", "12.50"), ("7", "7.00"), ("0.01", "0.01")]
    + [(text, None) for text in ("", "0", "-3", "1,234", "10 %", "much")],
)
def test_money_given_back_is_one_amount_above_nothing(tmp_path: Path, typed: str, kept: str | None) -> None:
    with reported(tmp_path, 1, alive=17) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
        if kept is None:
            with pytest.raises(LedgerError):
                record_claim(ledger, NAME, ("S10", 1), case, "", "refund", 0, typed, "")
        else:
            record_claim(ledger, NAME, ("S10", 1), case, "", "refund", 0, typed, "")
        (now,) = cases(ledger.parcels(), POLICY)
    assert (now.given_back, now.is_settled) == (kept or "", kept is not None)


def test_no_more_eggs_are_sent_again_than_were_packed(tmp_path: Path) -> None:
    """24 were packed for 20."""
    with reported(tmp_path, 1, alive=0) as ledger:
        (case,) = cases(ledger.parcels(), POLICY)
        with pytest.raises(LedgerError, match="25 eggs are to be sent again, but 24 were packed"):
            record_claim(ledger, NAME, ("S10", 1), case, "", "send again", 25, "", "")
        record_claim(ledger, NAME, ("S10", 1), case, "", "send again", 24, "", "")


def test_what_is_given_back_adds_up_and_beyond_the_lines_price_and_postage_is_asked_about(
    tmp_path: Path,
) -> None:
    """The line cost 14.00, and its postage 3.50; a dearer service is not asked."""
    postage = (a_price("*", 100, "3.50"), a_price("*", 100, "9", service="courier"))
    place = replace(invented.shelf(), orders=orders(a_row("S10", price="14")), postage=postage)
    with reported(tmp_path, 1, alive=17) as ledger:
        asked = []
        for amount in ("10.00", "7.50", "0.01"):
            ledger.open_claim(NAME, ("S10", 1), "short")
            ledger.settle_claim(NAME, ("S10", 1), "refund", amount=amount)
            (case,) = cases(ledger.parcels(), POLICY, place)
            asked.append((case.given_back, bool(case.doubts)))
    assert asked == [("10.00", False), ("17.50", False), ("17.51", True)]


def test_what_was_granted_already_is_not_due_again(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=12) as ledger:
        record_claim(ledger, NAME, ("S10", 1), None, "short", "send again", 3, "", "")
        (case,) = cases(ledger.parcels(), POLICY)
        assert (case.short_by, case.eggs_due, case.owed) == (8, 5, "S10-1-again")
        record_claim(ledger, NAME, ("S10", 1), case, "short", "send again", 0, "", "")
        (case,) = cases(ledger.parcels(), POLICY)
        assert (case.eggs_due, [owed.eggs for owed in ledger.owed()]) == (0, [8])


def test_nothing_is_added_to_an_order_owed_that_is_packed(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=12) as ledger:
        record_claim(ledger, NAME, ("S10", 1), None, "short", "send again", 3, "", "")
        again = line("S10-1-again", 1, 3, draw("L1", 5))
        ledger.keep_plan(plan(parcel("2026-W49-07", "Ida Holm", again)))
        (case,) = cases(ledger.parcels(), POLICY)
        record_claim(ledger, NAME, ("S10", 1), case, "short", "send again", 1, "", "")
        ledger.pack("2026-W49-07")
        (case,) = cases(ledger.parcels(), POLICY)
        with pytest.raises(LedgerError, match="S10-1-again, which sends it again, is packed already"):
            record_claim(ledger, NAME, ("S10", 1), case, "short", "send again", 4, "", "")


def test_a_parcel_called_lost_that_came_is_due_what_its_report_lacks(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=12) as ledger:
        ledger.open_claim(NAME, ("S10", 1), "lost")
        (case,) = cases(ledger.parcels(), POLICY)
    assert (case.eggs_due, case.groundless) == (8, False)


def test_a_parcel_called_lost_of_which_enough_came_is_due_nothing(tmp_path: Path) -> None:
    with reported(tmp_path, 1, alive=22) as ledger:
        ledger.open_claim(NAME, ("S10", 1), "lost")
        (case,) = cases(ledger.parcels(), POLICY)
        owing = to_settle(ledger.parcels(), POLICY)
    assert (case.eggs_due, case.suggested, case.groundless) == (0, "", True)
    assert not owing
