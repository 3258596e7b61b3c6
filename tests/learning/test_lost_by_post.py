"""What was lost by post: each egg in one count, silence apart, by month and route, with what claims gave."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from shipping.learning.lost_by_post import LostByPost, Posted, counted
from shipping.learning.outcomes import Outcome
from shipping.ledger.entries import ClaimSettled, LineCount
from shipping.ledger.kept_parcel import KeptParcel
from tests.ledger.invented import outcome

SILENT = {"living": None, "dead": None, "missing": None, "arrived_on": None}


def found(*sent: Outcome, kept: tuple[KeptParcel, ...] = ()) -> LostByPost:
    return counted(sent, kept, None, "EUR")


def sums(posted: Posted) -> int:
    return posted.alive + posted.gone + posted.lost + posted.returned + posted.untold + posted.silent


def test_each_egg_packed_is_in_one_count() -> None:
    lines = (
        replace(outcome(1), packed=25, living=20, dead=3, missing=None),
        replace(outcome(2), packed=25, **{**SILENT, "dead": 2}),
        replace(outcome(3), packed=25, **SILENT),
        replace(outcome(4), packed=25, is_lost=True, **SILENT),
        replace(outcome(5), packed=25, came_back=True, **SILENT),
        replace(outcome(6), packed=25, living=24, dead=4, missing=None),
    )
    every = found(*lines).all
    assert (every.alive, every.gone, every.lost, every.returned) == (20 + 21, 3 + 2 + 4, 25, 25)
    assert (every.untold, every.silent, every.silent_parcels) == (2 + 23, 25, 1)
    assert sums(every) == every.packed == 150
    assert every.parcels == 6


def test_fry_told_of_alone_are_told_alive() -> None:
    every = found(replace(outcome(1), packed=25, **{**SILENT, "hatched_alive": 3})).all
    assert (every.alive, every.untold, every.silent) == (3, 22, 0)


def test_silence_is_neither_lost_nor_in_the_share() -> None:
    told = replace(outcome(1), packed=25, living=20, dead=5, missing=None)
    alone, beside = found(told), found(told, *(replace(outcome(n), **SILENT) for n in (2, 3)))
    assert beside.all.share == alone.all.share == "20 %"
    assert "Not told of" not in "".join(alone.lines())
    assert "those of 2 parcels without any report" in "".join(beside.lines())
    assert not any(line.startswith("Lost") for line in found(replace(outcome(1), **SILENT)).lines())


def test_months_stand_newest_first_each_with_its_routes() -> None:
    lines = (
        replace(outcome(1), sent_on=date(2026, 11, 30), service="letter", to="DE"),
        replace(outcome(2), sent_on=date(2026, 11, 2), service="letter", to="FR"),
        replace(outcome(3), sent_on=date(2026, 12, 1), service="letter", to="DE"),
    )
    months = found(*lines).months
    assert [month.as_json()["month"] for month in months] == ["2026-12", "2026-11"]
    assert [route[:2] for route in months[1].routes] == [("letter", "DE"), ("letter", "FR")]
    assert sum((month.all for month in months), Posted()) == found(*lines).all


def test_what_claims_gave_and_what_came_back_alive_is_told() -> None:
    line, day = replace(outcome(1), came_back=True, **SILENT), date(2026, 9, 28)
    kept = KeptParcel(line.parcel, "2026-W40", "DK", "letter", day, day, day, 10, 20, (), 1)
    kept = replace(
        kept,
        back=(
            LineCount(order=line.order, line=line.line, lot="L1", eggs=7),
            LineCount(order="another", line=9, lot="L1", eggs=3),
        ),
        claims=(
            ClaimSettled(parcel=line.parcel, order=line.order, line=1, how="refund", amount="12.50"),
            ClaimSettled(parcel=line.parcel, order=line.order, line=1, how="send again", eggs=5),
        ),
    )
    every = found(line, kept=(kept,)).all
    assert (every.back, every.again, every.given_back) == (7, 5, Decimal("12.50"))
    assert (
        "By claims settled: 5 eggs to send again, 12.50 EUR given back." in found(line, kept=(kept,)).lines()
    )
