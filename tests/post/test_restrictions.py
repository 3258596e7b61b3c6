"""What the rules table says."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from shipping.post.restrictions import Ruling, closed_at_home, rules_needed, ruling
from shipping.tables.rows.orders import OrderRow, orders_from_rows
from shipping.tables.rows.rules import Rule
from tests.post.a_shelf import TODAY, a_rule, a_shelf, a_species

MUMMICHOG = a_species(species="het", scientific_name="Fundulus heteroclitus", family="Fundulidae")


def ruled(
    *rules: Rule,
    to: str = "US",
    part: str = "",
    on: date = TODAY,
    papers: set[str] | None = None,
    **more: Any,
) -> Ruling:
    found = [
        ruling(
            a_shelf(rules=rows),
            to,
            part,
            more.get("species", MUMMICHOG),
            more.get("medium", "water"),
            on,
            frozenset(papers or ()),
        )
        for rows in (rules, rules[::-1])
    ]
    assert found[0].verdict == found[1].verdict, "the order of rows must not matter"
    assert found[0].reasons == found[1].reasons
    return found[0]


def codes(found: Ruling) -> list[str]:
    return [reason.code for reason in found.reasons]


def test_without_a_row_nothing_passes_and_the_reason_says_whom_to_ask() -> None:
    found = ruled()
    assert (found.verdict, found.passes, found.is_closed, codes(found)) == ("none", False, False, ["no-rule"])
    assert "the authority for imports" in found.reasons[0].text


def test_a_fresh_open_row_passes() -> None:
    assert ruled(a_rule(2)).passes


def test_a_subdivision_wins_over_its_country_and_that_over_star() -> None:
    rows = (a_rule(2, to="*", verdict="ask"), a_rule(3, to="US"), a_rule(4, to="US-HI", verdict="closed"))
    assert ruled(*rows, to="US", part="HI").is_closed
    assert ruled(*rows, to="US", part="OH").passes
    assert codes(ruled(*rows, to="DE")) == ["ask-rule"]


def test_a_zone_stands_between_its_countries_and_star() -> None:
    rows = (a_rule(2), a_rule(3, to="union", verdict="closed"), a_rule(4, to="SE"))
    shelf = a_shelf(rules=rows, zones={"union": frozenset({"DE", "SE"})})
    found = [ruling(shelf, country, "", MUMMICHOG, "water", TODAY) for country in ("DE", "SE", "US")]
    assert [one.verdict for one in found] == ["closed", "open", "open"]


def test_place_is_compared_before_taxon() -> None:
    rows = (a_rule(2, to="US"), a_rule(3, to="*", taxon="Fundulus heteroclitus", verdict="closed"))
    assert ruled(*rows).passes


def test_taxon_is_compared_before_medium() -> None:
    rows = (a_rule(2, taxon="Fundulus"), a_rule(3, taxon="Fundulidae", medium="water", verdict="closed"))
    assert ruled(*rows).passes


@pytest.mark.parametrize("taxon", ["het", "FUNDULUS HETEROCLITUS", "Fundulus", "fundulidae", "*"])
def test_a_rule_may_name_key_species_genus_family_or_any(taxon: str) -> None:
    assert ruled(a_rule(2, taxon=taxon, verdict="closed")).is_closed


def test_species_wins_over_genus_over_family_over_any() -> None:
    names = ("*", "Fundulidae", "Fundulus", "Fundulus heteroclitus")
    for n in range(1, len(names)):
        strict = [a_rule(2 + m, taxon=name, verdict="closed") for m, name in enumerate(names[:n])]
        assert ruled(*strict, a_rule(9, taxon=names[n])).passes


def test_a_rule_on_the_species_holds_for_its_subspecies_but_not_for_one_that_is_only_near_it() -> None:
    row = a_rule(2, taxon="Fundulus heteroclitus", verdict="closed")
    sub = a_species(species="x", scientific_name="Fundulus heteroclitus macrolepidotus", family="Fundulidae")
    near = a_species(species="y", scientific_name="Fundulus cf. heteroclitus", family="Fundulidae")
    assert ruled(row, species=sub).is_closed
    assert ruled(row, species=near).verdict == "none"


def test_a_named_medium_wins_over_any_and_another_medium_does_not_count() -> None:
    rows = (a_rule(2), a_rule(3, medium="peat", verdict="closed"))
    assert ruled(*rows, medium="peat").is_closed
    assert ruled(*rows, medium="water").passes


def test_among_equals_the_strictest_wins() -> None:
    rows = [a_rule(2 + n, verdict=word) for n, word in enumerate(("open", "papers", "ask", "closed"))]
    assert [ruled(*rows[: n + 1]).verdict for n in range(4)] == ["open", "papers", "ask", "closed"]


def test_papers_pass_once_every_named_paper_is_held() -> None:
    row = a_rule(2, verdict="papers", papers="Form 3-177; permit")
    assert ruled(row).missing_papers == ("Form 3-177", "permit")
    assert ruled(row, papers={"PERMIT"}).missing_papers == ("Form 3-177",)
    assert ruled(row, papers={"form 3-177", "permit"}).passes


def test_two_equal_rows_need_the_papers_of_both() -> None:
    rows = (
        a_rule(2, verdict="papers", papers="permit"),
        a_rule(3, verdict="papers", papers="health certificate"),
    )
    assert ruled(*rows, papers={"permit"}).missing_papers == ("health certificate",)


def test_a_rule_that_asks_for_papers_but_names_none_never_passes() -> None:
    found = ruled(a_rule(2, verdict="papers"))
    assert (found.passes, codes(found)) == (False, ["papers"])


@pytest.mark.parametrize("verdict", ["open", "papers", "ask"])
def test_a_row_looked_up_too_long_ago_holds(verdict: str) -> None:
    # 180 days before 30 November 2026 is 3 June.
    found = ruled(a_rule(2, verdict=verdict, checked_on="2026-06-02", papers="permit"), papers={"permit"})
    assert found.stale
    assert "stale-rule" in codes(found)
    assert not found.passes
    assert not ruled(a_rule(2, checked_on="2026-06-03")).stale


def test_what_is_closed_stays_closed_however_old_its_row() -> None:
    found = ruled(a_rule(2, verdict="closed", checked_on="2020-01-01"))
    assert (found.is_closed, codes(found)) == (True, ["closed"])


def test_a_stale_row_does_not_let_a_milder_one_win() -> None:
    rows = (a_rule(2, to="*"), a_rule(3, to="US", verdict="ask", checked_on="2020-01-01"))
    assert codes(ruled(*rows)) == ["stale-rule", "ask-rule"]


def test_a_row_outside_its_dates_does_not_count() -> None:
    # The Union's bans on Fundulus heteroclitus apply from 2 August 2024: Impl. Reg. (EU) 2022/1203.
    row = a_rule(2, to="DE", taxon="Fundulus heteroclitus", verdict="closed", **{"from": "2024-08-02"})
    assert ruled(row, to="DE", on=date(2024, 8, 1)).verdict == "none"
    assert ruled(row, to="DE", on=date(2024, 8, 2)).is_closed
    ended = a_rule(3, to="DE", until="2024-08-02")
    assert ruled(ended, to="DE", on=date(2024, 8, 2)).passes
    assert not ruled(ended, to="DE", on=date(2024, 8, 3)).passes


def test_the_reason_carries_the_row_and_its_source() -> None:
    (reason,) = ruled(a_rule(7, to="NZ", verdict="closed", source="mpi.govt.nz"), to="NZ").reasons
    assert reason.source == "rules.csv (NZ, *)"
    assert reason.facts["source"] == "mpi.govt.nz"
    assert reason.facts["checked_on"] == "2026-11-01"
    assert "mpi.govt.nz" in reason.text


def test_a_species_closed_at_home_is_found() -> None:
    row = a_rule(2, to="DK", taxon="Fundulus heteroclitus", verdict="closed")
    shelf = a_shelf(rules=(row,))
    assert closed_at_home(shelf, MUMMICHOG, "water") is not None
    assert closed_at_home(shelf, a_species(), "water") is None


def test_the_rules_to_look_up_are_those_missing_or_stale_for_the_orders_in_hand() -> None:
    def row(order: str, country: str, region: str = "") -> OrderRow:
        return OrderRow(
            order=order,
            placed_on="2026-11-20",
            addressee="B",
            country=country,
            region=region,
            species="gar",
            eggs=20,
        )

    orders = orders_from_rows(
        (row("1", "DE"), row("2", "US", "Hawaii"), row("3", "SE"), row("4", "DE")), False
    )
    rules = (a_rule(2, to="SE"), a_rule(3, to="DE", checked_on="2026-01-01", source="a ministry"))
    needed = rules_needed(a_shelf(orders=orders, rules=rules))
    assert [(n.country, n.subdivision, n.verdict, n.stale, n.orders) for n in needed] == [
        ("DE", "", "open", True, ("1", "4")),
        ("US", "HI", "none", False, ("2",)),
    ]
    assert needed[0].ask == "a ministry"
