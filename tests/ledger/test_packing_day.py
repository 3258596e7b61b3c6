"""A parcel on the day it is packed or sent: what stops it, what is only said, each limit met exactly."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from shipping.cli.typed_counts import counts_from_text
from shipping.eggs.overpack import ROUNDING
from shipping.ledger.entries import LineCount, Sent
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import KeptLine, kept_parcels
from shipping.ledger.ledger import Ledger
from shipping.ledger.packing_day import Done, is_kept, pack, promised_share, send, unit_cautions
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.lots import Look
from shipping.tables.shelf import Shelf
from tests.ledger.desk import draw, line, parcel, plan
from tests.post.a_shelf import TODAY, a_service
from tests.week.a_week import BAG, TUBE, a_lot, a_row, a_week, orders, plan_of

FIRST = "2026-W49-01"
TOMORROW = TODAY + timedelta(days=1)


@contextmanager
def kept(folder: Path, shelf: Shelf) -> Iterator[Ledger]:
    """The ledger of a week of that shelf; it is Tuesday."""
    with Ledger.open(folder, TODAY, create=True) as ledger:
        ledger.keep_plan(plan_of(shelf).as_json())
    with Ledger.open(folder, TOMORROW) as ledger:
        yield ledger


def packed(ledger: Ledger, shelf: Shelf, eggs: int, anyway: str = "") -> Done:
    counts = counts_from_text(str(eggs), ledger.parcel(FIRST))
    return pack(ledger, shelf, FIRST, counts, on=TODAY, anyway=anyway)


def asked_on(shelf: Shelf, **cells: Any) -> Shelf:
    """The shelf with its order changed since the plan was kept."""
    return replace(shelf, orders=orders(a_row("A", **cells), has_paid_on="paid_on" in cells))


@pytest.mark.parametrize(("keep_back", "is_said"), [(16, False), (17, True)])
def test_eggs_kept_back_may_just_be_left(tmp_path: Path, keep_back: int, is_said: bool) -> None:
    """Of 40 eggs 24 are packed."""
    shelf = a_week(a_row("A"), lots=(a_lot(eggs=60),))
    with kept(tmp_path, shelf) as ledger:
        recounted = replace(shelf, lots=(a_lot(eggs=40, keep_back=keep_back),))
        notes = packed(ledger, recounted, 24).notes
    assert any(f"16 eggs left, and {keep_back} of it were to be kept back" in one for one in notes) == is_said


@pytest.mark.parametrize(("more", "is_said"), [(0, False), (1, True)])
def test_eggs_held_for_another_parcel_may_just_be_left(tmp_path: Path, more: int, is_said: bool) -> None:
    shelf = a_week(a_row("A"), a_row("B"), lots=(a_lot(eggs=60),))
    with kept(tmp_path, shelf) as ledger:
        held = ledger.parcel("2026-W49-02").eggs
        notes = packed(ledger, shelf, 60 - held + more, "in a second tube").notes
    assert any(f"and {held} are held for 2026-W49-02" in one for one in notes) == is_said


@pytest.mark.parametrize(
    ("eggs", "said"),
    [
        (19, "A, gar: 19 packed of 20 ordered"),
        (20, "A, gar: 20 packed for 20"),
        (22, "A, gar: 22 packed for 20"),
        (23, ""),
    ],
)
def test_fewer_than_ordered_and_fewer_than_promised_are_said_apart(
    tmp_path: Path, eggs: int, said: str
) -> None:
    shelf = a_week(a_row("A"))
    with kept(tmp_path, shelf) as ledger:
        assert ledger.parcel(FIRST).eggs == 23, "the fewest that keep the promise"
        if said:
            with pytest.raises(LedgerError, match="too few of gar in parcel"):
                packed(ledger, shelf, eggs)
        notes = packed(ledger, shelf, eggs, anyway="agreed").notes
    assert [one for one in notes if one.startswith("A, gar: ")] == [one for one in notes if said]
    assert any(one.startswith(said) for one in notes) == bool(said)


def test_a_full_tube_and_a_chance_at_its_ceiling_are_told_nothing() -> None:
    shelf = a_week(a_row("A"))
    factory = OptionFactory(shelf)
    leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(shelf.orders[0]), TODAY)
    ride = factory.ride(factory.lot_day("G1", TODAY), TUBE, leg)
    chance = ride.risk(30).any_egg
    assert 0 < chance < TUBE.any_ceiling
    at_its_ceiling = replace(ride, packing=TUBE.model_copy(update={"any_ceiling": chance}))
    under_it = replace(ride, packing=TUBE.model_copy(update={"any_ceiling": chance * 0.99}))
    assert list(unit_cautions(at_its_ceiling, (30,))) == []
    assert list(unit_cautions(ride, (31, 2))) == ["tube 10 takes 30 eggs, not 31: for 33 eggs use 2 of it."]
    assert "for 300 eggs use 10 of it" in next(unit_cautions(ride, (300,)))
    (said,) = unit_cautions(under_it, (30,))
    assert said.startswith("With 30 eggs the chance that any hatches on the way is")


def test_a_parcel_is_reckoned_anew_only_once_a_night_has_passed_since_it_was_packed(tmp_path: Path) -> None:
    shelf = a_week(a_row("A"))
    with kept(tmp_path, shelf) as ledger:
        packed(ledger, shelf, 24)
        unpaid = asked_on(shelf, paid_on=None)
        assert send(ledger, unpaid, FIRST, on=TODAY).notes == ()


def test_what_lacks_an_answer_is_not_sent_the_day_after_unless_it_may_have_gone_already(
    tmp_path: Path,
) -> None:
    shelf = a_week(a_row("A"))
    with kept(tmp_path, shelf) as ledger:
        packed(ledger, shelf, 24)
        unpaid = asked_on(shelf, paid_on=None)
        for anyway in ("", "I know the buyer"):
            with pytest.raises(LedgerError, match="Order A is not paid"):
                send(ledger, unpaid, FIRST, on=TOMORROW, anyway=anyway)
        assert ledger.parcel(FIRST).state == "packed"
        note, reckoned = send(ledger, unpaid, FIRST, on=TOMORROW, only_clock=True).notes
        assert note.startswith("Order A is not paid")
        assert reckoned.startswith("Reckoned for ")  # it leaves a day later than planned
        assert ledger.parcel(FIRST).state == "sent"


def test_what_has_hatched_by_the_clock_is_not_sent_though_its_bag_lets_eggs_hatch(tmp_path: Path) -> None:
    shelf = a_week(a_row("A"), packings=(BAG.model_copy(update={"hatch_ceiling": 1.0}),))
    late = TODAY + timedelta(days=28)
    with kept(tmp_path, shelf) as ledger:
        packed(ledger, shelf, ledger.parcel(FIRST).eggs)
    with Ledger.open(tmp_path, late) as ledger, pytest.raises(LedgerError, match="G1 hatches"):
        send(ledger, shelf, FIRST, on=late)


def test_a_parcel_that_leaves_later_is_there_later(tmp_path: Path) -> None:
    """What was planned for Monday was said to be overdue on the day it left; a weekend is counted anew."""
    shelf = a_week(a_row("A"))
    friday = TODAY + timedelta(days=4)
    with kept(tmp_path, shelf) as ledger:
        packed(ledger, shelf, 24)
        planned = ledger.parcel(FIRST)
    with Ledger.open(tmp_path, friday) as ledger:
        send(ledger, shelf, FIRST, on=friday, anyway="looked")
        sent = ledger.parcel(FIRST)
        factory = OptionFactory(shelf)
        leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(shelf.orders[0]), friday)
        assert (sent.p50, sent.p95) == (leg.arrivals.p50, leg.arrivals.p95)
        assert planned.p95
        assert sent.p95
        assert sent.p95 - friday > planned.p95 - TODAY
        ledger.undo()
        assert ledger.parcel(FIRST) == planned


def test_a_parcel_that_leaves_as_planned_is_there_as_planned(tmp_path: Path) -> None:
    shelf = a_week(a_row("A"))
    with kept(tmp_path, shelf) as ledger:
        packed(ledger, shelf, 24)
        entry = send(ledger, shelf, FIRST, on=TODAY).entry
        assert isinstance(entry.body, Sent)
        assert entry.body.journey is None


@pytest.mark.parametrize("anyway", ["", "  "])
def test_a_blank_is_no_reason_to_pack_against_the_clock(tmp_path: Path, anyway: str) -> None:
    shelf = a_week(a_row("A"))
    with kept(tmp_path, shelf) as ledger:
        old = replace(
            shelf, lots=(a_lot(laid_from=TODAY - timedelta(days=16), laid_to=TODAY - timedelta(days=16)),)
        )
        with pytest.raises(LedgerError, match="is not as it was planned"):
            pack(ledger, old, FIRST, on=TODAY, anyway=anyway)
        assert pack(ledger, old, FIRST, on=TODAY, anyway="all whole").entry.parcel == FIRST


@pytest.mark.parametrize(
    ("ago", "fry", "alive", "asks"),
    [(0, 3, 57, True), (1, 3, 57, True), (2, 3, 57, False), (0, 3, 58, False)],
)
def test_eggs_of_a_lot_that_hatches_that_day_go_only_for_a_reason(
    tmp_path: Path, ago: int, fry: int, alive: int, asks: bool
) -> None:
    """Where a twentieth had hatched on the day or the one before; they go damp, which holds most back."""
    bag = BAG.model_copy(update={"packing": "damp", "kind": "damp bag", "medium": "moss", "hatch_held": 1.0})
    shelf = a_week(a_row("A"), packings=(bag,), lots=(a_lot(eggs=60),))
    with kept(tmp_path, shelf) as ledger:
        look = Look(lot="G1", on=TODAY - timedelta(days=ago), stage="ready", alive=alive, hatched=fry)
        seen = replace(shelf, looks=(look,))
        said = ""
        try:
            packed(ledger, seen, 24)
        except LedgerError as refused:
            said = str(refused)
            assert packed(ledger, seen, 24, anyway="looked").entry.parcel == FIRST
        assert ("G1 was hatching on 2026-11-" in said and "(fry: 3): its eggs may hatch" in said) == asks


@pytest.mark.parametrize("answer", ["no", None])
def test_a_service_is_named_only_where_its_operator_said_yes(tmp_path: Path, answer: str | None) -> None:
    post = a_service(early_d=1, usual_d=1, late_d=1, live_eggs="yes")
    other = a_service(service="express", early_d=1, usual_d=1, late_d=1, live_eggs=answer)
    shelf = a_week(a_row("A"), services=(post,))
    with kept(tmp_path, shelf) as ledger:
        packed(ledger, shelf, 24)
        both = replace(shelf, services=(other, post))
        with pytest.raises(LedgerError, match="the operator of express has not said yes"):
            send(ledger, both, FIRST, on=TODAY, service="express")
        assert send(ledger, both, FIRST, on=TODAY, service="letter").entry.parcel == FIRST


@pytest.mark.parametrize(
    ("overpack", "p_enough", "promised"), [("", 0.6, 0.95), ("none", 0.6, 0.6), ("none", 0.99, 0.95)]
)
def test_what_was_promised_is_the_settings_and_never_more_than_the_plans_of_a_line_without_extra(
    overpack: str, p_enough: float, promised: float
) -> None:
    wish = {"overpack": overpack} if overpack else {}
    shelf = a_week(a_row("A", **wish), settings={"plan": {"promise": "0.95"}})
    assert promised_share(shelf, KeptLine("A", 1, "gar", "", 20, 20, p_enough, ())) == promised


def test_a_promise_is_kept_to_its_last_digit() -> None:
    assert is_kept(0.95, 0.95 - ROUNDING)
    assert not is_kept(0.95, 0.9499)


@pytest.mark.parametrize(("eggs", "chance"), [(None, 0.96), (24, 0.96), (20, 0.96), (19, 0.0)])
def test_a_line_packed_short_has_no_chance_but_the_one_reckoned_at_the_bench(
    eggs: int | None, chance: float
) -> None:
    """Planned: 24 eggs for 20, enough with 96 %."""
    (planned,) = kept_parcels(plan(parcel(FIRST, "Ida Holm", line("S10", 1, 20, draw("L1", 24)))), 1, {})
    counts = () if eggs is None else (LineCount(order="S10", line=1, lot="L1", eggs=eggs),)
    packed = replace(planned, counts=counts)
    assert packed.chance_of(packed.lines[0]) == chance
    assert replace(packed, chances={("S10", 1): 0.4}).chance_of(packed.lines[0]) == 0.4
