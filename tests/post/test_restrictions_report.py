"""Which rows of the rules table speak to a place and a fish, and how old they are."""

from __future__ import annotations

import pytest

from shipping.post.restrictions import rule_report
from tests.post.a_shelf import TODAY, a_rule, a_shelf

RULES = (
    a_rule(2, to="DK", taxon="gar"),
    a_rule(3, to="DK", taxon="Fundulus"),
    a_rule(4, to="SE", taxon="Fundulopanchax"),
    a_rule(5, to="north"),
    a_rule(6, to="*", taxon="Nothobranchiidae"),
    a_rule(7, to="DE"),
)


@pytest.mark.parametrize(
    ("to", "species", "rows"),
    [
        (None, None, {2, 3, 4, 5, 6, 7}),
        ("DK", None, {2, 3, 5, 6}),
        (None, "gar", {2, 4, 5, 6, 7}),
        ("DK", "gar", {2, 5, 6}),
        ("DE", "gar", {6, 7}),
    ],
)
def test_a_row_speaks_where_both_its_place_and_its_fish_are_asked_about(
    to: str | None, species: str | None, rows: set[int]
) -> None:
    shelf = a_shelf(rules=RULES, zones={"north": frozenset({"DK", "SE"})})
    assert {rule.at.row for rule, _, _ in rule_report(shelf, to, species).rows} == rows


@pytest.mark.parametrize(
    ("checked_on", "verdict", "is_stale"),
    [("2026-06-03", "open", False), ("2026-06-02", "open", True), ("2020-01-01", "closed", False)],
)
def test_a_row_is_stale_once_it_is_older_than_180_days_unless_it_closes(
    checked_on: str, verdict: str, is_stale: bool
) -> None:
    rule = a_rule(2, checked_on=checked_on, verdict=verdict)
    ((_, age, stale),) = rule_report(a_shelf(rules=(rule,)), None, None).rows
    assert age == (TODAY - rule.checked_on).days
    assert stale == is_stale


def test_a_row_that_nobody_looked_up_has_no_age_for_machines() -> None:
    rules = (a_rule(2, checked_on="2000-01-01"), a_rule(3, to="US"))
    facts = rule_report(a_shelf(rules=rules), None, None).as_json()["rules"]
    assert isinstance(facts, list)
    told = {fact["to"]: (fact["checked_on"] is None, fact["age_days"] is None) for fact in facts}
    assert told == {rules[0].to: (True, True), "US": (False, False)}
