"""What is left out of a week costs it no value."""

from __future__ import annotations

from datetime import date

from shipping.assignment.columns import columns_of_instance
from shipping.assignment.dominance import thinned
from shipping.assignment.instance import Instance, LotShare, ParcelColumn, SharedFill
from shipping.assignment.solve import allocate


def test_two_units_do_not_replace_three_where_three_lots_must_share() -> None:
    """Fifteen eggs of three lots of five, each in a unit of its own; the courier's parcel holds two units."""
    line, day = ("order", 0), date(2026, 11, 30)
    shares = tuple(LotShare(lot, 15, 5, 0.1) for lot in ("a", "b", "c"))
    shared = tuple(
        SharedFill(line, (day, service), "tube", units, 60, shares, 3, 5, float(units))
        for service, units in (("courier", 2), ("parcel", 3))
    )
    columns = tuple(ParcelColumn(("order",), one.departure, (one.travel_mode,), 4.0) for one in shared)
    free = {(lot, day): 5 for lot in ("a", "b", "c")}
    instance = Instance((), shared, columns, {line: 30.0}, {line: 1.0}, free, 2)
    assert columns[1] in thinned(instance).columns
    chosen = allocate(columns_of_instance(instance))
    assert (chosen.value, chosen.bound) == (30.0, 30.0)
