"""Days ahead on which a line may be filled: from the lot that passes on that day, with what it needs then."""

from __future__ import annotations

from shipping.options.option_factory import OptionFactory
from shipping.week.left_out.queue import DaysAhead
from shipping.week.left_out.stock import EggsLeft
from shipping.week.objective import dispatch_days, next_week
from tests.week.a_week import BAG, TUBE, WEEK, a_lot, a_row, a_week, ago


def test_each_day_is_filled_from_the_lot_that_passes_on_it_with_the_eggs_that_day_needs() -> None:
    """The older lot's last safe day is Thursday; of the younger, enough show eyes from Friday on. The eggs
    are those of the options of that one day, put into words one by one.
    """
    old = a_lot("OLD", laid_from=ago(8), laid_to=ago(8))
    young = a_lot("YOUNG", laid_from=ago(3), laid_to=ago(3), stage="fertile")
    shelf = a_week(a_row("A"), lots=(old, young), packings=(BAG, TUBE))
    (order,) = shelf.orders
    (line,) = order.lines
    factory, days = OptionFactory(shelf), dispatch_days(shelf, WEEK) + dispatch_days(shelf, next_week(WEEK))
    ahead = DaysAhead(EggsLeft(factory), days, ((order, line),))
    drawn = {day: draws for day, draws in ahead.draws_for(order, line, frozenset(days), True) if draws}
    assert [(day.day, lot) for day, ((lot, _),) in drawn.items()] == [
        *((30, "OLD"), (1, "OLD"), (2, "OLD"), (3, "OLD")),
        *((4, "YOUNG"), (7, "YOUNG"), (8, "YOUNG"), (9, "YOUNG")),
    ]
    (service,), to = factory.services(("DK", "")), factory.destination(order)
    for day, ((lot, eggs),) in drawn.items():
        leg = factory.leg(service, to, day)
        rides = [factory.ride(factory.lot_day(lot, day), packing, leg) for packing in (BAG, TUBE)]
        options = [factory.option(ride, order, line, line.eggs) for ride in rides]
        assert eggs == min(option.pack for option in options if not option.reasons)
