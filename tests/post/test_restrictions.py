"""What the rules table says."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from shipping.papers.wording.phrases import Wording, cause, to_buyer
from shipping.post.restrictions import (
    Ruling,
    Rulings,
    closed_at_home,
    post_reasons,
    rules_needed,
    ruling,
    says_yes,
)
from shipping.tables.rows.orders import OrderRow, orders_from_rows
from shipping.tables.rows.rules import Rule
from tests.post.a_shelf import TODAY, a_rule, a_service, a_shelf, a_species

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
    assert ruled(row).reasons[0].facts["missing"] == ["Form 3-177", "permit"]
    assert ruled(row, papers={"PERMIT"}).reasons[0].facts["missing"] == ["Form 3-177"]
    assert ruled(row, papers={"form 3-177", "permit"}).passes


def test_two_equal_rows_need_the_papers_of_both() -> None:
    rows = (
        a_rule(2, verdict="papers", papers="permit"),
        a_rule(3, verdict="papers", papers="health certificate"),
    )
    for held, missing in (("permit", "health certificate"), ("health certificate", "permit")):
        assert ruled(*rows, papers={held}).reasons[0].facts["missing"] == [missing]
    assert ruled(*rows, papers={"permit", "health certificate"}).passes


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
    assert codes(ruled(*rows)) == ["stale-rule"], "to look it up again is to ask: it is told once"


def test_a_row_outside_its_dates_does_not_count() -> None:
    # The Union's bans on Fundulus heteroclitus apply from 2 August 2024: Impl. Reg. (EU) 2022/1203.
    row = a_rule(2, to="DE", taxon="Fundulus heteroclitus", verdict="closed", **{"from": "2024-08-02"})
    assert ruled(row, to="DE", on=date(2024, 8, 1)).verdict == "none"
    assert ruled(row, to="DE", on=date(2024, 8, 2)).is_closed
    ended = a_rule(3, to="DE", until="2024-08-02")
    assert ruled(ended, to="DE", on=date(2024, 8, 2)).passes
    assert not ruled(ended, to="DE", on=date(2024, 8, 3)).passes


def test_a_medium_may_go_only_if_it_may_on_every_day() -> None:
    open_, asked, closed = (
        ruled(a_rule(2, to="DE", verdict=word), to="DE") for word in ("open", "ask", "closed")
    )
    each = Rulings(water=(open_, open_), moss=(open_, asked), peat=(open_, closed))
    assert (each.passing, each.unclosed) == ({"water"}, {"water", "moss"})


def test_the_reason_carries_the_row_and_its_source() -> None:
    (reason,) = ruled(a_rule(7, to="NZ", verdict="closed", source="mpi.govt.nz"), to="NZ").reasons
    assert reason.source == "rules.csv (NZ, *)"
    assert reason.facts["source"] == "mpi.govt.nz"
    assert reason.facts["checked_on"] == "2026-11-01"
    assert "mpi.govt.nz" in reason.text


#: How a rule of home is told, and how one of the destination.
AT_HOME = {
    "en": ("the rules at home", "is closed to"),
    "de": ("die Regeln daheim", "das Ziel"),
    "es": ("las normas de su país", "el destino"),
    "fr": ("les règles de chez vous", "la destination"),
}


def test_a_species_closed_at_home_is_found() -> None:
    row = a_rule(2, to="DK", taxon="Fundulus heteroclitus", verdict="closed")
    shelf = a_shelf(rules=(row,))
    home = closed_at_home(shelf, MUMMICHOG, "water")
    assert home is not None
    abroad = ruling(shelf, "DK", "", MUMMICHOG, "water", TODAY).reasons[0]
    for language, (here, there) in AT_HOME.items():
        wording = Wording(None, language)
        assert here in cause(home.reasons[0], wording)
        assert there in cause(abroad, wording)
        assert to_buyer(home.reasons[0], wording) != to_buyer(abroad, wording)
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


STRICTER = (a_rule(2, to="GB"), a_rule(3, to="GB-ENG", verdict="papers", papers="licence to keep"))


@pytest.mark.parametrize("part", ["", "LDS"])
def test_where_a_part_of_the_country_is_stricter_the_region_is_asked_for(part: str) -> None:
    found = ruled(*STRICTER, to="GB", part=part)
    assert (found.parts, codes(found)) == (("ENG",), ["no-region"])
    assert "(GB-ENG)" in found.reasons[0].text
    assert codes(ruled(*STRICTER, to="GB", part="ENG")) == ["papers"]
    assert ruled(*STRICTER, to="GB", part="SCT").passes


def test_papers_of_the_stricter_part_do_not_pass_for_a_place_nobody_named() -> None:
    assert codes(ruled(*STRICTER, to="GB", papers={"licence to keep"})) == ["no-region"]


@pytest.mark.parametrize(
    "rows",
    [
        (a_rule(2, to="US"), a_rule(3, to="US-HI")),
        (a_rule(2, to="US"), a_rule(3, to="US-HI", taxon="Nothobranchius", verdict="closed")),
        (a_rule(2, to="US"), a_rule(3, to="US-HI", medium="peat", verdict="closed")),
        (a_rule(2, to="US"), a_rule(3, to="US-HI", verdict="closed", until="2026-11-29")),
    ],
    ids=["open too", "another fish", "another medium", "no longer"],
)
def test_a_country_whose_rows_do_not_differ_for_the_fish_asks_for_no_region(rows: tuple[Rule, ...]) -> None:
    assert ruled(*rows).passes


def test_a_country_closed_all_over_stays_closed_and_one_with_a_milder_part_asks() -> None:
    closed = a_rule(2, to="US", verdict="closed")
    assert ruled(closed, a_rule(3, to="US-HI", verdict="closed")).is_closed
    found = ruled(closed, a_rule(3, to="US-OR", verdict="papers", papers="permit"))
    assert (found.is_closed, codes(found)) == (False, ["no-region"])


def test_a_province_falls_under_the_rule_of_its_community() -> None:
    rows = (a_rule(2, to="ES"), a_rule(3, to="ES-CN", verdict="closed"))
    assert ruled(*rows, to="ES", part="GC").is_closed
    assert ruled(*rows, to="ES", part="M").passes


def test_a_rule_may_name_several_places() -> None:
    rows = (a_rule(2, to="DE SE", verdict="closed"), a_rule(3))
    assert [ruled(*rows, to=to).verdict for to in ("DE", "SE", "US")] == ["closed", "closed", "open"]


def test_a_starter_row_that_nobody_looked_up_does_not_count() -> None:
    cells = {"source": "own country: verify before use", "checked_on": "2026-11-29"}
    found = ruled(a_rule(2, to="US", **cells))
    assert (found.stale, codes(found)) == (True, ["stale-rule"])
    assert "nobody has looked it up" in found.reasons[0].text
    assert ruled(a_rule(2, to="US", **cells | {"source": "the authority, by letter"})).passes


@pytest.mark.parametrize(
    ("cells", "answer"),
    [
        ({"live_eggs": "yes", "answered_on": "2026-11-02"}, None),
        ({"live_eggs": "yes", "answered_on": None}, "has no day"),
        ({"live_eggs": "yes", "answered_on": "2025-11-29"}, "too long ago"),
        ({"live_eggs": "yes", "answered_on": "2025-11-30"}, None),
        ({"live_eggs": "no"}, "answer: no"),
        ({"live_eggs": "ask"}, "answer: ask"),
        ({"live_eggs": None}, "answer: missing"),
        ({"live_eggs": "ask", "early_d": 0, "usual_d": 0, "late_d": 0}, None),
    ],
)
def test_an_operator_s_yes_needs_a_day_and_ages_and_collection_asks_nobody(
    cells: dict[str, Any], answer: str | None
) -> None:
    shelf, service = a_shelf(), a_service(**cells)
    assert says_yes(shelf, service) is (answer is None)
    found = post_reasons(shelf, service)
    assert [reason.code for reason in found] == ([] if answer is None else ["ask-post"])
    assert not answer or answer in found[0].text


@pytest.mark.parametrize("taxon", ["Aphanius mento", "Paraphanius mento", "Aphanius", "Paraphanius", "men"])
def test_a_rule_that_names_a_fish_as_it_was_called_before_holds_for_it(taxon: str) -> None:
    fish = a_species(species="men", scientific_name="Paraphanius mento", synonyms="Aphanius mento")
    assert ruled(a_rule(2), a_rule(3, taxon=taxon, verdict="closed"), species=fish).is_closed
