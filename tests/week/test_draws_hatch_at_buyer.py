"""Days of hatching in the buyer's hands, of eggs that have long to go."""

from __future__ import annotations

from datetime import timedelta

from shipping.options.option import Ride
from shipping.options.option_factory import OptionFactory
from shipping.week.draws import hatch_at_buyer
from tests.post.a_shelf import TODAY, a_species
from tests.week.a_week import TUBE, a_lot, a_row, a_week, ago


def test_eggs_of_sixty_to_eighty_days_hatch_with_the_buyer_then_and_not_at_their_arrival() -> None:
    """By the table, 5, 50 and 95 % of eggs laid on one day hatch 60, 70 and 80 days later; eyes seen on day
    36, where half of 70 would be 35, move that by a few days.
    """
    ride = posted_at_the_age_of(36)
    for day, usual in zip(hatch_at_buyer(ride), (60, 70, 80), strict=True):
        assert day is not None
        assert abs((day - ago(36)).days - usual) <= 3


def test_of_eggs_about_to_hatch_one_in_twenty_has_hatched_the_day_after_they_arrive() -> None:
    """None is told to hatch with the buyer on the day it comes: those that do have hatched on the way."""
    ride = posted_at_the_age_of(70)
    assert hatch_at_buyer(ride)[0] == ride.leg.arrivals.p95 + timedelta(days=1)


def posted_at_the_age_of(days: int) -> Ride:
    """Eggs of sixty to eighty days, laid on one day so long ago; they are a day on the way."""
    species = a_species(
        keep_min_c=10, keep_max_c=27, hatch_early_d=60, hatch_usual_d=70, hatch_late_d=80, eyed_at=0.5
    )
    lot = a_lot(laid_from=ago(days), laid_to=ago(days))
    shelf = a_week(a_row("A"), lots=(lot,), species={"gar": species})
    factory = OptionFactory(shelf)
    leg = factory.leg(factory.services(("DK", ""))[0], factory.destination(shelf.orders[0]), TODAY)
    return factory.ride(factory.lot_day("G1", TODAY), TUBE, leg)
