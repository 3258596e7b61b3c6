"""What of a population can be promised to a place by day: services each with what it carries."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from shipping.options.option import LEAST_DRAW, Destination
from shipping.options.option_factory import OptionFactory
from shipping.questions.promisable import LargestOrder, Reach, Reachable, _Stock
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.week.left_out.stock import EggsLeft
from tests.post.a_shelf import a_packing, a_price, a_rule, a_service, a_species
from tests.week.a_week import BAG, TODAY, TUBE, a_lot, a_week, ago

MONDAY, TUESDAY, WEDNESDAY = date(2026, 11, 30), date(2026, 12, 1), date(2026, 12, 2)
DENMARK, SWEDEN = Destination.of("DK", ""), Destination.of("SE", "")
HEAVY = (a_price("*", 2000, "6"),)
TO_BOTH = (a_service(to="DK SE", early_d=1, usual_d=1, late_d=1, live_eggs="yes"),)
LETTER, COURIER = (
    LargestOrder(order=12, eggs=40, packing="tube"),
    LargestOrder(order=30, eggs=90, packing="breathing bag"),
)


def reach(days: dict[date, dict[str, LargestOrder]]) -> Reach:
    return Reach(Destination.of("DK", ""), days, (), (), False, False, {})


def test_a_day_promises_what_its_best_service_carries() -> None:
    """The courier takes lots that the letter must leave: an order may be as large as the courier's."""
    to_denmark = reach({MONDAY: {"letter": LETTER, "courier": COURIER}})
    assert (to_denmark.order_on(MONDAY), to_denmark.eggs_on(MONDAY)) == (30, 90)


def test_a_day_on_which_nothing_goes_promises_nothing() -> None:
    to_denmark = reach({MONDAY: {"letter": LETTER}})
    assert (to_denmark.order_on(TUESDAY), to_denmark.eggs_on(TUESDAY)) == (0, 0)


def reachable(
    shelf: Shelf, least: int = 1, days: tuple[date, ...] = (TUESDAY,), *to: Destination
) -> Reachable:
    factory = OptionFactory(shelf)
    return Reachable(factory, EggsLeft(factory), days, least, to or (DENMARK,))


def reach_of(
    shelf: Shelf, least: int = 1, days: tuple[date, ...] = (TUESDAY,), to: Destination = DENMARK
) -> Reach:
    return reachable(shelf, least, days, to).reach(("gar", ""), shelf.lots, to)


def lots(**eggs: int) -> tuple[Any, ...]:
    return tuple(a_lot(name, eggs=count) for name, count in eggs.items())


def codes(reach: Reach) -> list[str]:
    return [reason.code for reason in reach.against]


def test_an_order_as_small_as_is_offered_at_all_is_offered_and_else_only_the_number_lacks() -> None:
    place = a_week(lots=lots(A=30))
    most = reach_of(place).order_on(TUESDAY)
    just, over = (reach_of(place, least) for least in (most, most + 1))
    assert (just.order_on(TUESDAY), just.scarce) == (most, False)
    assert (over.days, over.scarce, codes(over)) == ({}, True, [])


def test_eggs_enough_that_no_post_takes_are_not_scarce() -> None:
    """As many as are asked for at the least, and no postage for a tube."""
    most = reach_of(a_week(lots=lots(A=30))).order_on(TUESDAY)
    found = reach_of(a_week(lots=lots(A=30), postage=(a_price("*", 5, "3"),)), most)
    assert (found.days, found.scarce, codes(found)) == ({}, False, ["no-route"])


def test_one_packing_that_lacks_only_eggs_is_enough_to_be_scarce() -> None:
    """Few eggs in tubes; many kept in moss, whose bag is too heavy for the letter."""
    moss = BAG.model_copy(update={"kind": "damp bag", "media": ("moss",)})
    few, many = a_lot("A", eggs=12), a_lot("M", medium="moss", eggs=100)
    damp = {"gar": a_species(incubation="either", keep_min_c=10, keep_max_c=27)}
    found = reach_of(
        a_week(lots=(few, many), packings=(moss, TUBE), postage=(a_price("*", 100, "3"),), species=damp), 15
    )
    assert (found.days, found.scarce) == ({}, True)
    assert "no-route" in codes(found)


def test_what_lacked_only_eggs_on_one_day_did_though_it_hatches_later() -> None:
    found = reach_of(a_week(lots=lots(A=12)), 15, tuple(TODAY + timedelta(days=n) for n in range(1, 13)))
    assert (found.days, found.scarce) == ({}, True)
    assert "would-hatch" in codes(found)


def test_a_lot_of_the_least_draw_is_shared_and_one_egg_less_is_not() -> None:
    """One egg of each lot is reckoned lost by Tuesday."""
    alone = reach_of(a_week(lots=lots(A=30))).order_on(TUESDAY)
    below, just = (reach_of(a_week(lots=lots(A=30, B=LEAST_DRAW + more))) for more in (0, 1))
    assert below.order_on(TUESDAY) == alone
    assert just.order_on(TUESDAY) > alone
    assert (below.eggs_on(TUESDAY), just.eggs_on(TUESDAY)) == (29 + LEAST_DRAW - 1, 29 + LEAST_DRAW)


def test_a_line_is_shared_by_so_many_lots_as_one_may_take() -> None:
    found = [
        reach_of(a_week(lots=lots(A=30, B=30, C=30), settings={"plan": {"lots_a_line": most}}))
        for most in (1, 2, 3)
    ]
    assert [one.order_on(TUESDAY) for one in found] == [25, 51, 77]


@pytest.mark.parametrize(
    ("shares", "most", "enough"),
    [
        ([(10, 20), (10, 20)], 3, True),
        ([(10, 20), (9, 20)], 3, False),
        ([(1, 10), (7, 10), (2, 10)], 3, True),
        ([(1, 3), (1, 3), (1, 3)], 2, False),
        ([(30, 20), (0, 0)], 3, True),
    ],
    ids=["two halves", "less", "tenths that add up to one", "a lot too many", "one alone"],
)
def test_lots_suffice_together_where_their_shares_of_what_each_alone_would_need_make_one(
    shares: Sequence[tuple[int, int]], most: int, enough: bool
) -> None:
    """0.7 + 0.2 + 0.1, added up one by one, is less than one."""
    reachable_ = reachable(a_week(settings={"plan": {"lots_a_line": most}}))
    stock: Any = SimpleNamespace(packs_of=lambda going, ordered, promise: [pack for _, pack in shares])
    going: Any = [SimpleNamespace(eggs=eggs) for eggs, _ in shares]
    assert reachable_._suffice(stock, going, 20) is enough


@pytest.mark.parametrize(("ceiling", "most"), [(0.05, 5), (0.059, 5), (0.0, 0), (0.1, 10), (1.0, 10)])
def test_of_a_lot_so_many_eggs_go_as_the_ceiling_on_any_hatching_lets(ceiling: float, most: int) -> None:
    """A chance in a hundred for each egg, of ten."""
    kinds = SimpleNamespace(any_hatched=lambda row, counts: counts / 100)
    stock: Any = SimpleNamespace(rides=SimpleNamespace(kind_of=lambda kind: (kinds, 0)))
    assert _Stock.most_of(stock, 0, 10, ceiling) == most


def test_a_service_carries_the_largest_order_of_its_packings_the_first_of_equal_ones() -> None:
    """Eggs of lots that no packing may carry are not among those that can go."""

    def load(name: str, **left: int) -> Any:
        going = [SimpleNamespace(lot=SimpleNamespace(lot=lot), left=eggs) for lot, eggs in left.items()]
        return SimpleNamespace(packing=SimpleNamespace(packing=name), going=going)

    posted = {"bag": 20, "box": 20, "sack": 0, "tube": 12}
    asked: Any = SimpleNamespace(_posted=lambda stock, load, leg: posted[load.packing.packing])
    every = [load("bag", A=30), load("box", A=30, B=25), load("sack", C=90), load("tube", D=14)]
    nothing: Any = None
    served = Reachable._served(asked, nothing, nothing, every)
    assert served == LargestOrder(order=20, eggs=30 + 25 + 14, packing="bag")
    assert Reachable._served(asked, nothing, nothing, every[2:3]) is None


def test_what_travels_in_a_medium_that_is_not_let_in_is_not_promised() -> None:
    moss = a_packing(packing="sack", kind="damp bag", medium="moss", media="water", eggs_max=60, weight_g=20)
    tables: dict[str, Any] = {"packings": (BAG, moss, TUBE), "services": TO_BOTH, "postage": HEAVY}
    loose = moss.model_copy(update={"loss_handling": 0.3, "hatch_ceiling": 0.05, "any_ceiling": 1.0})
    tables["packings"] = (BAG, loose, TUBE)
    free = reach_of(a_week(**tables, rules=(a_rule(2),)), to=SWEDEN)
    barred = reach_of(
        a_week(**tables, rules=(a_rule(2), a_rule(3, to="SE", medium="water", verdict="closed"))), to=SWEDEN
    )
    assert [one.days[TUESDAY]["letter"].packing for one in (free, barred)] == ["bag", "sack"]
    assert 0 < barred.order_on(TUESDAY) < free.order_on(TUESDAY)


@pytest.mark.parametrize(
    ("rules", "asks", "closed"),
    [
        ((a_rule(2), a_rule(3, to="DK", verdict="ask", **{"from": WEDNESDAY})), ["ask-rule"], False),
        ((a_rule(2, until=TUESDAY),), ["no-rule"], False),
        ((a_rule(2), a_rule(3, to="DK", verdict="ask", until=MONDAY)), [], False),
        (
            (a_rule(2, verdict="ask", until=TUESDAY), a_rule(3, verdict="closed", **{"from": WEDNESDAY})),
            ["ask-rule", "closed"],
            True,
        ),
    ],
    ids=["from the last day", "until the first", "over before", "closed on one of the days"],
)
def test_what_the_rules_say_is_asked_of_each_day_where_one_begins_or_ends_among_them(
    rules: tuple[Any, ...], asks: list[str], closed: bool
) -> None:
    found = reach_of(a_week(rules=rules), days=(TUESDAY, WEDNESDAY))
    assert ([reason.code for reason in found.asks], found.closed) == (asks, closed)


def test_only_services_whose_operators_said_yes_are_asked_about_where_one_did() -> None:
    next_day = {"early_d": 1, "usual_d": 1, "late_d": 1}
    services = (
        a_service(live_eggs="yes", **next_day),
        a_service(service="slow", live_eggs="ask", **next_day),
    )
    prices = (*HEAVY, a_price("*", 2000, "6", service="slow"))
    found = reach_of(a_week(services=services, postage=prices), days=(TUESDAY, WEDNESDAY))
    assert found.last_open == {"letter": WEDNESDAY}
    assert {service for day in found.days.values() for service in day} == {"letter"}


def test_lots_too_young_are_told_only_where_nothing_else_speaks_against() -> None:
    young = a_lot("B", laid_from=TODAY, laid_to=TODAY, stage=None, stage_on=None)
    hot = tuple(Weather(to="*", month=month, low_c=30, high_c=40) for month in range(1, 13))
    assert codes(reach_of(a_week(lots=(young,)))) == ["too-young"]
    assert codes(reach_of(a_week(lots=(a_lot("A"), young), weather=hot))) == ["too-hot"]


def test_what_the_post_takes_is_asked_by_country() -> None:
    place = a_week(services=TO_BOTH, postage=(a_price("DK", 2000, "6"), a_price("SE", 5, "6")))
    asked = reachable(place, 1, (TUESDAY,), DENMARK, SWEDEN)
    orders = [asked.reach(("gar", ""), place.lots, to).order_on(TUESDAY) for to in (DENMARK, SWEDEN)]
    assert orders[0] > 80
    assert orders[1] == 0


def test_where_the_post_takes_one_tube_no_two_lots_go_together() -> None:
    tube = TUBE.model_copy(update={"weight_g": 60.0})
    pair = a_week(lots=lots(A=30, B=30), packings=(tube,), postage=(a_price("*", 100, "3"),))
    alone = a_week(lots=lots(A=30), packings=(tube,), postage=HEAVY)
    assert reach_of(pair).order_on(TUESDAY) == reach_of(alone).order_on(TUESDAY)
    both = a_week(lots=lots(A=30, B=30), packings=(tube,), postage=HEAVY)
    assert reach_of(both).order_on(TUESDAY) > 2 * reach_of(alone).order_on(TUESDAY)


def test_where_the_air_is_known_an_order_goes_from_one_lot_down_to_the_least_that_is_offered() -> None:
    tables: dict[str, Any] = {
        "packings": (TUBE.model_copy(update={"volume_ml": 15.0, "water_ml": 5.0}),),
        "species": {"gar": a_species(keep_min_c=10, keep_max_c=27, o2_ug_egg_h=0.01, o2_basis="published")},
    }
    for eggs, most in (
        (24, 20),
        (25, 21),
        (26, 22),
        (27, 22),
    ):  # 27 for 23
        assert reach_of(a_week(lots=lots(A=eggs), **tables)).order_on(TUESDAY) == most
    assert reach_of(a_week(lots=lots(A=30, B=30), **tables)).order_on(TUESDAY) == 25
    drawn = a_week(lots=lots(A=60, B=60), **tables)
    asked = reachable(drawn)
    asked.left.take((("A", 30), ("B", 30)), TODAY, "X")
    assert asked.reach(("gar", ""), drawn.lots, DENMARK).order_on(TUESDAY) == 25
    least = [reach_of(a_week(lots=lots(A=25), **tables), least).order_on(TUESDAY) for least in (21, 22)]
    assert least == [21, 0]


def test_an_order_whose_tubes_hold_too_little_air_or_are_too_many_for_the_post_is_not_promised() -> None:
    """Thirty eggs to a tube with a millilitre of air: of eggs that use ten times as much few live."""
    tube = TUBE.model_copy(update={"volume_ml": 15.0, "water_ml": 14.0, "weight_g": 60.0})
    found = {}
    for rate in (0.3, 3.0):
        species = {"gar": a_species(keep_min_c=10, keep_max_c=27, o2_ug_egg_h=rate, o2_basis="published")}
        for grams in (100, 2000):
            postage = (a_price("*", grams, "3"),)
            place = a_week(lots=lots(A=90), packings=(tube,), species=species, postage=postage)
            found[rate, grams] = reach_of(place).order_on(TUESDAY)
    assert found == {(0.3, 100): 26, (0.3, 2000): 42, (3.0, 100): 4, (3.0, 2000): 4}


@pytest.mark.parametrize(("laid", "code"), [(40, "overdue"), (3, "misdated")])
def test_of_eggs_that_somebody_has_to_look_at_that_is_told_and_not_what_their_journey_would_be_like(
    laid: int, code: str
) -> None:
    """Laid so many days ago and seen with eyes today."""
    hot = tuple(Weather(to="*", month=month, low_c=30, high_c=40) for month in range(1, 13))
    lot = a_lot("A", laid_from=ago(laid), laid_to=ago(laid))
    assert codes(reach_of(a_week(lots=(lot,), weather=hot))) == [code]


def test_of_eggs_that_may_not_leave_home_that_is_told_and_not_what_their_journey_would_be_like() -> None:
    hot = tuple(Weather(to="*", month=month, low_c=30, high_c=40) for month in range(1, 13))
    rules = (a_rule(2), a_rule(3, to="DK", verdict="closed"))
    assert codes(reach_of(a_week(rules=rules, services=TO_BOTH, weather=hot), to=SWEDEN)) == ["closed"]


def test_no_order_is_promised_for_which_more_would_be_packed_than_ever_is() -> None:
    """Five of six eggs are lost on the way."""
    rough = a_packing(packing="rough", eggs_max=60, hatch_ceiling=0.05, loss_handling=1.8, weight_g=20)
    place = a_week(packings=(rough,), lots=lots(A=300), postage=HEAVY)
    most = reach_of(place).order_on(TUESDAY)
    factory = OptionFactory(place)
    leg = factory.leg(place.services[0], DENMARK, TUESDAY)
    ride = factory.ride(factory.lot_day("A", TUESDAY), rough, leg)
    assert 0 < factory.option(ride, None, None, most).pack <= 296
    assert not 0 < factory.option(ride, None, None, most + 1).pack <= 296
