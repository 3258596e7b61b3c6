"""What twenty more eggs or five more parcels would have served, on small weeks whose answer can be seen by
eye.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from typing import Any

import pytest

from shipping.questions.what_if import Gain, gain_lines, what_more_serves, with_more_eggs
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Plan, Proof
from shipping.words.reasons import Verdict
from tests.post.a_shelf import a_species
from tests.week.a_week import WEEK, a_lot, a_row, a_week, ago, going, orders, plan_of


def asked(shelf: Shelf) -> tuple[Gain, ...]:
    return what_more_serves(shelf, plan_of(shelf), WEEK)


def limited(shelf: Shelf, parcels: int) -> Shelf:
    """The shelf with one day to post, and so many parcels on it."""
    only = shelf.settings.plan.model_copy(update={"parcels_per_day": parcels, "dispatch_days": ("Mon",)})
    return replace(shelf, settings=shelf.settings.model_copy(update={"plan": only}))


def one_too_many(**cells: Any) -> Shelf:
    """Thirty eggs, enough for one order of twenty with its extra, and two who want them."""
    return a_week(a_row("A", price="10"), a_row("B", price="12"), lots=(a_lot(eggs=30, **cells),))


def test_twenty_more_eggs_serve_the_order_that_thirty_left_out() -> None:
    # 50 eggs fill two orders of about 25 each; A has waited a week, so it is worth 10 x 1.05
    (more,) = asked(one_too_many(population="AKU"))
    assert (more.what, more.species, more.population, more.lot, more.eggs) == ("eggs", "gar", "AKU", "G1", 20)
    assert (more.orders, more.lines, more.lines_lost) == (("A",), (("A", 1),), ())
    assert more.value == pytest.approx(10.50)
    assert (
        more.text == "20 more eggs of gar AKU (in lot G1) would have served order A too (worth 10.50 more)."
    )
    assert more.is_certain


def test_nothing_is_said_where_no_line_waits_for_eggs() -> None:
    found = asked(a_week(a_row("A")))
    assert found == ()
    assert gain_lines(found) == ("No line waits for eggs of a lot on hand, nor for room on a day to post.",)


def test_nothing_is_said_where_there_is_no_lot() -> None:
    assert asked(a_week(a_row("A"), lots=())) == ()


def test_too_few_even_then_is_said_as_it_is() -> None:
    (more,) = asked(a_week(a_row("A", eggs=60), lots=(a_lot(eggs=20),)))
    assert (more.value, more.orders, more.lines) == (0.0, (), ())
    assert more.text == "20 more eggs of gar (in lot G1) would have served nothing more this week."


def test_an_order_that_no_longer_goes_is_named() -> None:
    # 15 + 20 eggs: the small order goes alone, or else the large one
    shelf = a_week(
        a_row("BIG", eggs=25, price="40"), a_row("SMALL", eggs=8, price="5"), lots=(a_lot(eggs=14),)
    )
    assert going(plan_of(shelf)) == {"SMALL"}
    (more,) = asked(shelf)
    assert (more.orders, more.lines_lost) == (("BIG",), (("SMALL", 1),))
    assert more.value == pytest.approx((40 - 5) * 1.05)
    assert more.text.endswith(
        "would have served order BIG too (worth 36.75 more); order SMALL would then not go."
    )


def test_the_eggs_join_the_lot_from_which_the_line_could_go() -> None:
    # the first lot hatches at once, so only eggs like those of the second serve anything
    ripe = a_lot("A-RIPE", laid_from=ago(18), laid_to=ago(18), eggs=15)
    (more,) = asked(a_week(a_row("A"), lots=(ripe, a_lot("B-FRESH", eggs=15))))
    assert (more.lot, more.orders) == ("B-FRESH", ("A",))


def test_five_more_parcels_serve_who_waits_for_a_full_day() -> None:
    shelf = limited(a_week(a_row("A", price="10"), a_row("B", price="12"), lots=(a_lot(eggs=90),)), 1)
    (more,) = asked(shelf)
    assert (more.what, more.parcels_a_day, more.eggs, more.orders) == ("parcels", 5, 0, ("A",))
    assert more.text == "5 more parcels a day would have served order A too (worth 10.50 more)."


def test_full_days_are_not_spoken_of_while_nobody_waits() -> None:
    assert asked(limited(a_week(a_row("A")), 1)) == ()


def test_one_line_of_an_order_that_may_split_is_named_as_a_line() -> None:
    rows = (a_row("A", price="5", parts="may split"), a_row("A", price="5", parts="may split", species="aus"))
    species = {
        "gar": a_species(keep_min_c=10, keep_max_c=27),
        "aus": a_species(species="aus", keep_min_c=10, keep_max_c=27),
    }
    shelf = a_week(*rows, lots=(a_lot(eggs=15), a_lot("U1", species="aus", eggs=60)), species=species)
    assert going(plan_of(shelf)) == {"A"}
    (more,) = asked(shelf)
    assert (more.orders, more.lines) == ((), (("A", 1),))
    assert "order A (line 1) too" in more.text


@pytest.mark.parametrize("eggs", [1, 5, 12, 20, 21, 40])
def test_more_eggs_never_serve_less(eggs: int) -> None:
    rows = [a_row(name, eggs=n, price=str(n)) for name, n in (("A", 9), ("B", 14), ("C", 20), ("D", 26))]
    shelf = a_week(*rows, lots=(a_lot(eggs=31), a_lot("G2", eggs=12)))
    before = plan_of(shelf).proof.value
    one, two = (plan_of(with_more_eggs(shelf, lot, eggs)).proof.value for lot in ("G1", "G2"))
    assert one >= before
    assert two >= before


@pytest.mark.reckoned_anew
def test_the_shelf_is_left_as_it_was() -> None:
    shelf = one_too_many()
    packed, lots, settings = deepcopy(shelf.packed), shelf.lots, shelf.settings.model_copy(deep=True)
    plan = plan_of(shelf)
    assert asked(shelf)
    assert (shelf.packed, shelf.lots, shelf.settings) == (packed, lots, settings)
    assert plan_of(shelf) == plan


@pytest.mark.reckoned_anew
def test_asked_twice_it_says_the_same() -> None:
    assert [more.as_json() for more in asked(one_too_many())] == [
        more.as_json() for more in asked(one_too_many())
    ]


def test_the_order_of_rows_changes_nothing() -> None:
    shelf = one_too_many()
    assert asked(
        replace(shelf, orders=tuple(orders(a_row("B", price="12"), a_row("A", price="10"))))
    ) == asked(shelf)


def test_six_populations_are_asked_about_and_the_rest_counted() -> None:
    names = [f"P{n}" for n in range(1, 9)]
    rows: list[OrderRow] = [
        a_row(f"O{n}", population=name, price=str(n)) for n, name in enumerate(names, start=1)
    ]
    lots = tuple(a_lot(f"L{n}", population=name, eggs=10) for n, name in enumerate(names, start=1))
    *found, rest = asked(a_week(*rows, lots=lots))
    assert [more.population for more in found] == ["P8", "P7", "P6", "P5", "P4", "P3"]
    assert rest.what == "not-reckoned"
    assert rest.text == "2 more populations are short of eggs, with less value waiting; not reckoned here."


def test_a_large_week_is_refused_in_a_sentence() -> None:
    shelf = one_too_many()
    plan = plan_of(shelf)
    (out,) = plan.lines_out
    (many_out,) = what_more_serves(shelf, replace(plan, lines_out=(out,) * 61), WEEK)
    (many_orders,) = what_more_serves(replace(shelf, orders=shelf.orders * 61), plan, WEEK)
    assert many_out.text.startswith("With 61 lines left out (more than 60) it would take long")
    assert many_orders.text.startswith("With 122 orders (more than 120) it would take long")


def test_against_a_plan_not_proven_best_the_gain_is_not_called_certain() -> None:
    shelf = one_too_many()
    plan: Plan = plan_of(shelf)
    assert plan.lines_out[0].verdict is Verdict.WAIT
    loose = replace(plan, proof=Proof(plan.proof.value, plan.proof.value + 50, 0.5, plan.proof.loss))
    (more,) = what_more_serves(shelf, loose, WEEK)
    assert not more.is_certain
    assert more.text.endswith("The plan was not proven best: some of that may be had without.")
