"""A buyer is asked for nothing that could not let the order go: what else stops it is said first."""

from __future__ import annotations

from datetime import date

import pytest

from shipping.papers.documents.contents import PaperInputs
from shipping.papers.documents.notices import notices
from shipping.papers.wording.phrases import Wording, cause, english
from shipping.questions.why import why
from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut, Plan
from shipping.words.reasons import Verdict, decisive
from shipping.words.units import shipped_folder
from tests.post.a_shelf import a_rule
from tests.week.a_week import a_lot, a_row, a_week, orders, plan_of

DAY = date(2026, 11, 30)


def a_winter(low_c: float, paid_on: date | None = None, language: str = "en") -> Shelf:
    """One order to Denmark that lacks its money and a paper, in a winter so cold; its lot bears 15 C."""
    return a_week(
        orders=orders(a_row("A", paid_on=paid_on, language=language), has_paid_on=True),
        rules=(a_rule(2, to="DK", verdict="papers", papers="health certificate"),),
        weather=tuple(Weather(to="DK", month=n, low_c=low_c, high_c=max(low_c, 21)) for n in range(1, 13)),
        lots=(a_lot("L"),),
    )


def letter(shelf: Shelf, plan: Plan, language: str = "en") -> str:
    (found,) = notices(
        PaperInputs(plan, shelf, {one: Wording(None, one) for one in ("en", language)}, {}), ()
    )
    return found.text


def out_of(plan: Plan) -> LineOut:
    (out,) = plan.lines_out
    return out


def test_no_money_and_no_papers_are_asked_for_while_the_cold_lets_nothing_go() -> None:
    mild, cold = a_winter(16), a_winter(-15)
    asked, vain = plan_of(mild), plan_of(cold)
    assert [out_of(plan).verdict for plan in (asked, vain)] == [Verdict.HOLD] * 2
    assert "Please see to it" in letter(mild, asked)
    assert "Please do not pay or get papers" in letter(cold, vain)
    assert "Please see to it" not in letter(cold, vain)
    deciding = [decisive(Verdict.HOLD, out_of(plan).reasons).code for plan in (asked, vain)]
    assert deciding == ["unpaid", "too-cold"]
    assert {one.code for one in out_of(vain).reasons if one.facts.get("in_vain")} == {"unpaid", "papers"}


@pytest.mark.parametrize(
    ("language", "pay", "papers", "safe"),
    [
        ("en", "pay or", "get papers", "What you have paid is safe"),
        ("de", "zahlen und", "keine Papiere besorgen", "Ihr Geld ist sicher"),
        ("fr", "Ne payez", "demandez pas encore de papiers", "Votre argent est en sûreté"),
        ("es", "pague", "consiga papeles", "Su dinero está seguro"),
    ],
)
def test_who_has_paid_is_told_that_the_money_is_safe_and_not_to_pay_never(
    language: str, pay: str, papers: str, safe: str
) -> None:
    for paid_on in (None, DAY):
        shelf = a_winter(-15, paid_on, language)
        text = letter(shelf, plan_of(shelf), language)
        assert papers in text
        assert (pay in text) == (paid_on is None)
        assert (safe in text) == (paid_on is not None)


@pytest.mark.parametrize(("lots", "decides"), [((), "no-lot"), ((a_lot("L"),), "other-population")])
def test_no_money_is_asked_for_eggs_that_are_not_there(lots: tuple[Lot, ...], decides: str) -> None:
    row = a_row("A", population="Nowhere", paid_on=None)
    shelf = a_week(orders=orders(row, has_paid_on=True), lots=lots)
    plan = plan_of(shelf)
    deciding = decisive(out_of(plan).verdict, out_of(plan).reasons)
    assert deciding.code == decides
    said = cause(deciding, english())
    assert not said.rstrip(". ").endswith(":"), said
    assert "Please do not pay" in letter(shelf, plan)
    assert "the payment has not come in yet" not in letter(shelf, plan)


def test_why_says_what_the_cold_hides() -> None:
    """In warmth that its eggs bear, a fifth of lot SO-02 hatches before Zurich; in the cold hardly any."""
    shelf = read_shelf(shipped_folder("demo_orders"), DAY).shelf
    assert shelf is not None
    ((line, low, reasons),) = why(shelf, "D19", "2026-W49").even_warm
    assert (line, low, [reason.code for reason in reasons]) == (1, 12.0, ["would-hatch"])
    assert why(shelf, "D16", "2026-W49").even_warm == ()


def test_a_buyer_whose_other_line_never_goes_is_asked_about_the_rest() -> None:
    """Of one line there are no eggs: 'you need not do anything' would leave the other for ever."""
    lots = (a_lot("L"),)
    rows = (a_row("A"), a_row("A", population="Nowhere"))
    shelf = a_week(orders=orders(*rows), lots=lots)
    plan = plan_of(shelf)
    assert {out.verdict for out in plan.lines_out} == {Verdict.WAIT, Verdict.STOP}
    (found,) = notices(PaperInputs(plan, shelf, {"en": Wording(None, "en")}, {}), ())
    assert "another part of the order cannot be sent" in found.text
    assert "Please write whether this shall go without that part" in found.text
    assert "You need not do anything" not in found.text


def test_a_buyer_whose_eggs_a_season_keeps_back_is_offered_to_wait_for_a_milder_one() -> None:
    for low_c, is_season in ((-5, True), (15, False)):
        weather = tuple(Weather(to="*", month=n, low_c=low_c, high_c=18) for n in range(1, 13))
        rules = (a_rule(2, to="DK", verdict="open" if is_season else "closed"),)
        shelf = a_week(orders=orders(a_row("A")), lots=(a_lot("L"),), weather=weather, rules=rules)
        plan = plan_of(shelf)
        assert {out.verdict for out in plan.lines_out} == {Verdict.STOP}
        text = letter(shelf, plan)
        assert ("cannot send you these eggs yet" in text) == is_season
        assert ("I keep your place until a milder month" in text) == is_season
        assert "or your money back" in text
