"""Every code of a doubt has its own words, with the numbers that a person needs."""

from __future__ import annotations

from datetime import date, timedelta

from shipping.eggs.doubts import doubt
from shipping.eggs.lot_forecast import lot_forecast
from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder

TODAY = date(2026, 11, 30)


def test_the_words_of_a_doubt_name_the_lot_and_carry_its_code() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    spoken = set()
    for lot in shelf.lots:
        forecast = lot_forecast(shelf, lot.lot)
        for day in (TODAY, TODAY + timedelta(days=60)):
            for code, reason in zip(forecast.doubts_on((day,))[0], forecast.doubts(day), strict=True):
                assert reason == doubt(forecast, code, day)
                assert (reason.code, lot.lot in reason.text) == (code, True)
                spoken.add(code)
    assert {"overdue", "too-old"} <= spoken
