"""What the demo's parcels are said to feel is nowhere milder than what the program would assume by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from shipping.options.option_factory import OptionFactory
from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder
from tests.post.a_shelf import day_warmth

TODAY = date(2026, 11, 30)
#: To the middle of January, where the rows end; the plan looks 42 days ahead.
DAYS = 46


def test_no_row_of_weather_is_milder_than_the_stand_in_where_an_order_goes() -> None:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    assumed, factory, rows = replace(shelf, weather=()), OptionFactory(shelf), set[str]()
    for order in shelf.orders:
        there = factory.destination(order)
        for on in (TODAY + timedelta(days=n) for n in range(DAYS)):
            where = (there.country, there.subdivision)
            own = day_warmth(shelf, *where, order.address.town, on)
            if own.basis == "assumed":
                continue
            rows.add(own.place)
            for town in {order.address.town, ""} if "-" not in own.place else {order.address.town}:
                stand_in = day_warmth(assumed, *where, town, on)
                assert own.low_c <= stand_in.low_c, (own.place, town, on)
                assert own.high_c >= stand_in.high_c, (own.place, town, on)
            mean = day_warmth(assumed, *where, order.address.town, on).mean_c
            assert own.mean_c <= mean + 1e-9 or own.place == "ES-CN", (own.place, on)
    assert rows == {row.to for row in shelf.weather}
