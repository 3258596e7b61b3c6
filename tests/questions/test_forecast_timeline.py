"""The timeline's dates are the forecast's, and what nobody has seen is not drawn as seen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import pytest

from shipping.questions.forecast import LotOutlook, LotRow, Timeline, lot_timeline, outlooks, timeline_lines
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.units import shipped_folder

TODAY = date(2026, 11, 30)


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    found = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert found is not None
    return found


@pytest.fixture(scope="module")
def seen(shelf: Shelf) -> tuple[LotOutlook, ...]:
    return outlooks(shelf)


@pytest.fixture(scope="module")
def timeline(shelf: Shelf, seen: tuple[LotOutlook, ...]) -> Timeline:
    return lot_timeline(seen, shelf)


@pytest.fixture(scope="module")
def rows(timeline: Timeline) -> Mapping[str, LotRow]:
    return {row.lot: row for row in timeline.rows}


def test_hatch_dates_are_those_of_the_forecast(
    seen: tuple[LotOutlook, ...], rows: Mapping[str, LotRow]
) -> None:
    for one in seen:
        row = rows[one.forecast.lot.lot]
        assert (row.hatch.p05, row.hatch.p95) == (
            one.wet_from or one.hatch.p05,
            one.wet_until or one.hatch.p95,
        )


def test_the_breeders_own_wetting_dates_have_no_reckoned_middle(rows: Mapping[str, LotRow]) -> None:
    hatch = rows["KO-11"].hatch
    assert (hatch.p05, hatch.p50, hatch.p95) == (date(2026, 12, 12), None, date(2027, 1, 31))


@pytest.mark.parametrize("known", [{"wet_from"}, {"wet_until"}, set()])
def test_one_wetting_date_of_the_breeders_is_enough_for_that(shelf: Shelf, known: set[str]) -> None:
    (lot,) = (lot for lot in shelf.lots if lot.lot == "KO-11")
    unknown = dict.fromkeys({"wet_from", "wet_until"} - known)
    alone = replace(shelf, lots=(lot.model_copy(update=unknown),))
    (outlook,) = outlooks(alone)
    (row,) = lot_timeline((outlook,), alone).rows
    assert outlook.hatch.p50 is not None
    assert row.hatch.p50 == (None if known else outlook.hatch.p50)


def test_eyes_that_a_look_showed_are_seen_and_others_reckoned_for_a_later_day(
    rows: Mapping[str, LotRow],
) -> None:
    assert (rows["CY-09"].eyed, rows["CY-09"].eyed_seen) == (date(2026, 11, 20), True)
    young = rows["CH-15"]
    assert young.eyed is not None
    assert not young.eyed_seen
    assert young.eyed > TODAY


def test_the_nearest_and_farthest_service_have_the_last_day_of_any_packing(
    seen: tuple[LotOutlook, ...], rows: Mapping[str, LotRow]
) -> None:
    safe = next(one.safe for one in seen if one.forecast.lot.lot == "FL-31")
    near, far = rows["FL-31"].nearest, rows["FL-31"].farthest
    assert near is not None
    assert far is not None
    assert (near.service, near.to) == ("courier next day", "DK")
    assert near.until == max(days.until for days in safe if days.service == near.service and days.until)
    assert (far.to, far.until, far.no_last_day) == ("DE", None, False)


def test_a_lot_that_nothing_ends_has_no_last_day(rows: Mapping[str, LotRow]) -> None:
    endless = [row.lot for row in rows.values() if row.nearest and row.nearest.no_last_day]
    assert "KO-11" in endless  # to be wetted by 31 January, and ready eggs keep for 60 days after that
    assert all(rows[lot].nearest.until is None for lot in endless if rows[lot].nearest)


def test_an_overdue_lot_has_no_dates_but_its_doubt(rows: Mapping[str, LotRow]) -> None:
    assert rows["CY-09"].doubt == "overdue"
    assert rows["CY-09"].hatch.p50 is None


def test_lots_in_water_and_lots_kept_damp_have_scales_of_their_own_from_monday_to_monday(
    timeline: Timeline,
) -> None:
    water, damp = timeline.groups()
    assert not any(row.kept_damp for row in water)
    assert all(row.kept_damp for row in damp)
    for group in (water, damp):
        first, last = timeline.span(group)
        assert (first.weekday(), last.weekday()) == (0, 0)
        assert all(first <= day <= last for row in group for day in row.dates)


def test_the_terminal_shows_a_row_for_each_lot(timeline: Timeline) -> None:
    text = list(timeline_lines(timeline))
    for row in timeline.rows:
        (line,) = (line for line in text if line.startswith(f"{row.lot} "))
        far = row.farthest.words if row.farthest and row.farthest != row.nearest and not row.doubt else None
        assert line.partition("; F ")[2] == (far or "")
