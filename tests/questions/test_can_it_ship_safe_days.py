"""Safe days are the same from arrays, for many lots, as from the options of one lot in words."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta

import pytest

from shipping.eggs.lot_forecast import lot_forecast
from shipping.options.option import Destination
from shipping.options.option_factory import OptionFactory
from shipping.questions import can_it_ship
from shipping.questions.can_it_ship import DAYS_AHEAD, Asked, Reply, SafeDays, SafeRoutes, ask
from shipping.tables.reader import read_shelf
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Verdict
from shipping.words.units import shipped_folder

HERE = tuple(map(Destination, ("DK", "DE", "FI")))


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    read = read_shelf(shipped_folder("demo_orders"), date(2026, 11, 30)).shelf
    assert read is not None
    return read


def posted_on(shelf: Shelf, *days: str) -> Shelf:
    plan = shelf.settings.plan.model_copy(update={"dispatch_days": days})
    return replace(shelf, settings=shelf.settings.model_copy(update={"plan": plan}))


def with_kept_back(lot: Lot, more: int) -> Lot:
    return lot.model_copy(update={"keep_back": lot.keep_back + more})


@pytest.fixture(autouse=True)
def _every_day_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer's options are those of all days on which a last safe day is looked for."""
    monkeypatch.setattr(can_it_ship, "DAYS_SHOWN", DAYS_AHEAD + 1)


def by_options(shelf: Shelf, lot: str, places: tuple[Destination, ...] = HERE) -> list[SafeDays]:
    return [one for to in places for one in from_options(ask(shelf, lot, to))]


def from_options(reply: Reply) -> list[SafeDays]:
    """The safe days by the verdicts of a lot's options in words, one by one."""
    by_way: dict[tuple[str, str], list[Asked]] = defaultdict(list)
    for asked in reply.options:
        ride = asked.option.ride
        by_way[ride.leg.service.service, ride.packing.packing].append(asked)
    found: list[SafeDays] = []
    for way, every in by_way.items():
        going = [one.option.ride.leg.day for one in every if one.verdict is Verdict.GO]
        ends = [one for one in every if any(reason.code != "closed-day" for reason in one.reasons)]
        if going:
            endless = all(one.option.ride.leg.day < max(going) for one in ends)
            found.append(SafeDays(reply.to, *way, min(going), None if endless else max(going), endless))
    return sorted(found, key=longest_first)


def longest_first(safe: SafeDays) -> tuple[int, str, str]:
    return -(safe.until or date.max).toordinal(), safe.service, safe.packing


def test_safe_days_from_arrays_are_those_of_the_options(shelf: Shelf) -> None:
    routes, some = SafeRoutes(OptionFactory(shelf), HERE), 0
    for lot in ("CH-15", "FL-31", "GA-12", "SJ-02"):
        replies = [ask(shelf, lot, to) for to in HERE]
        found = list(routes.of(lot, HERE))
        assert found == [safe for reply in replies for safe in reply.safe]
        assert found == [safe for reply in replies for safe in from_options(reply)]
        some += len(found)
    assert some


def test_a_service_and_a_count_that_are_asked_for_have_safe_days_of_their_own(shelf: Shelf) -> None:
    home, there = Destination("DK"), Destination("DE")
    every, named = (ask(shelf, "NI-06", there, service=name).safe for name in (None, "express"))
    assert named == tuple(safe for safe in every if safe.service == "express")
    assert () != named != every
    last = {eggs: {one.until for one in ask(shelf, "SJ-02", home, eggs=eggs).safe} for eggs in (20, 80)}
    assert last[20] == {None}
    assert None not in last[80] != set()


def test_closed_days_end_nothing_by_themselves(shelf: Shelf) -> None:
    mostly_closed = posted_on(shelf, "Wed", "Sat", "Sun")
    assert list(SafeRoutes(OptionFactory(mostly_closed), HERE).of("CH-15", HERE)) == by_options(
        mostly_closed, "CH-15"
    )


def test_eggs_too_few_on_a_last_day_that_is_closed_end_what_went_before(shelf: Shelf) -> None:
    home, monday, sunday = (Destination("DK"),), date(2027, 1, 18), date(2027, 1, 24)
    late = posted_on(replace(shelf, today=sunday - timedelta(days=DAYS_AHEAD)), "Mon", "Sun")
    needed = {one.option.pack for one in ask(late, "NI-06", home[0], on=monday).options if one.option.passes}
    spare = lot_forecast(late, "NI-06").free_on(monday) - max(needed)
    lots = tuple(with_kept_back(lot, spare) if lot.lot == "NI-06" else lot for lot in late.lots)
    scarce = replace(late, lots=lots)
    found = SafeRoutes(OptionFactory(scarce), home).of("NI-06", home)
    assert list(found) == by_options(scarce, "NI-06", home)
    assert monday in {one.until for one in found}


def test_what_is_collected_in_person_has_no_safe_days(shelf: Shelf) -> None:
    assert all(one.service != "collect" for one in SafeRoutes(OptionFactory(shelf), HERE).of("SJ-02", HERE))
