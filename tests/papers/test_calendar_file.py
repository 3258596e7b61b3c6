"""The calendar is read back by the library's own parser, names nobody, and keeps the names of its days."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from icalendar import Calendar

from shipping.papers.calendar_file import calendar_bytes, calendar_days
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.week.plan_data import Plan
from shipping.words.units import shipped_folder

TODAY = date(2026, 11, 30)


@pytest.fixture(scope="module")
def week() -> tuple[Plan, Shelf]:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    return make_plan(shelf, "2026-W49"), shelf


def test_each_day_to_post_to_look_and_each_lot_left_stands_in_it(week: tuple[Plan, Shelf]) -> None:
    plan, shelf = week
    events = {
        str(event["uid"]): (event["dtstart"].dt, event["dtend"].dt, str(event["summary"]))
        for event in Calendar.from_ical(calendar_bytes(plan, shelf)).walk("VEVENT")
    }
    posted = {uid for uid in events if uid.startswith("hand-over-")}
    assert posted == {f"hand-over-{parcel.dispatch_on}@spawnpost" for parcel in plan.parcels}
    assert events["hand-over-2026-11-30@spawnpost"][:2] == (date(2026, 11, 30), date(2026, 12, 1))
    assert events["look-CY-09@spawnpost"][0] == TODAY
    # the breeder's own wetting dates of KO-11, whole days, the end exclusive (RFC 5545, 3.6.1)
    assert events["hatch-KO-11@spawnpost"][:2] == (date(2026, 12, 12), date(2027, 2, 1))
    assert [day.key for day in calendar_days(plan, shelf)] == [uid.partition("@")[0] for uid in events]


def test_eggs_packed_only_after_a_look_have_that_look_on_their_day(week: tuple[Plan, Shelf]) -> None:
    plan, shelf = week
    first = plan.parcels[0]
    draw = first.lines[0].draws[0]
    line = replace(first.lines[0], draws=(replace(draw, look_first=True), *first.lines[0].draws[1:]))
    parcels = (replace(first, lines=(line, *first.lines[1:])), *plan.parcels[1:])
    titles = {day.key: day.title for day in calendar_days(replace(plan, parcels=parcels), shelf)}
    key = f"look-{draw.lot}-{first.dispatch_on}"
    assert "eyes" in titles[key]
    assert key not in {day.key for day in calendar_days(plan, shelf)}


def test_what_is_over_by_today_is_in_no_calendar(week: tuple[Plan, Shelf]) -> None:
    plan, shelf = week
    later = replace(shelf, today=date(2027, 1, 20))
    assert "hatch-KO-11" in {day.key for day in calendar_days(plan, shelf)}
    assert min(day.last for day in calendar_days(plan, later)) >= later.today


def test_one_egg_left_is_one_egg(week: tuple[Plan, Shelf]) -> None:
    plan, shelf = week
    lots = tuple(replace(use, drawn=use.free - 1) if use.lot == "KO-11" else use for use in plan.lots)
    titles = {day.key: day.title for day in calendar_days(replace(plan, lots=lots), shelf)}
    assert titles["hatch-KO-11"].endswith(", 1 egg left")


def test_what_goes_stale_within_two_months_is_told_of_on_its_day(week: tuple[Plan, Shelf]) -> None:
    plan, shelf = week
    rules = tuple(
        rule.model_copy(update={"checked_on": date(2026, 6, 20)}) if "NEAR" in rule.places else rule
        for rule in shelf.rules
    )
    titles = {day.title: day.first for day in calendar_days(plan, replace(shelf, rules=rules))}
    # 180 days after 20 June 2026 is 17 December; the day after it no longer counts
    assert titles["Look up again: the rule for NEAR NORTH SOUTH (any fish)"] == date(2026, 12, 18)


def test_it_names_no_buyer_and_is_the_same_bytes_each_time(week: tuple[Plan, Shelf], tmp_path: Path) -> None:
    made = calendar_bytes(*week)
    text = made.decode().replace("\r\n ", "")
    assert not any(order.address.addressee in text for order in week[1].orders)
    assert calendar_bytes(*week) == made


def test_what_is_stale_already_stands_today_and_parts_of_a_country_count(week: tuple[Plan, Shelf]) -> None:
    plan, shelf = week
    old = date(2026, 1, 5)
    rules = tuple(
        rule.model_copy(update={"checked_on": old}) if "GB-ENG" in rule.places else rule
        for rule in shelf.rules
    )
    titles = {day.title: day.first for day in calendar_days(plan, replace(shelf, rules=rules))}
    assert titles["Look up again: the rule for PL (any fish)"] == TODAY
    assert titles["Look up again: the rule for GB-ENG (any fish)"] == TODAY


def test_holidays_at_home_and_on_the_way_stand_in_it(week: tuple[Plan, Shelf]) -> None:
    """Christmas is Denmark's; 6 January is a holiday of Bavaria, and of few other parts of Germany (holidays
    library).
    """
    plan, shelf = week
    keys = {day.key for day in calendar_days(plan, shelf)}
    assert "no-post-2026-12-25" in keys
    away = {(f"no-delivery-{one.country}-{one.on}") for parcel in plan.parcels for one in parcel.holidays}
    assert away
    assert away <= keys
    home = shelf.settings.home.model_copy(update={"country": "DE", "subdivision": "BY"})
    settings = shelf.settings.model_copy(update={"home": home})
    assert "no-post-2027-01-06" in {day.key for day in calendar_days(plan, replace(shelf, settings=settings))}
