"""Days of hatching in the buyer's hands, of eggs that have long to go."""

from __future__ import annotations

from shipping.options.option_factory import Reckoner
from shipping.week.draws import hatch_at_buyer
from tests.post.a_shelf import TODAY, a_species
from tests.week.a_week import TUBE, a_lot, a_row, a_week, ago


def test_eggs_of_sixty_to_eighty_days_hatch_with_the_buyer_then_and_not_at_their_arrival() -> None:
    """By the table, 5, 50 and 95 % of eggs laid on one day hatch 60, 70 and 80 days later; eyes seen on day
    36, where half of 70 would be 35, move that by a few days.
    """
    species = a_species(
        keep_min_c=10, keep_max_c=27, hatch_early_d=60, hatch_usual_d=70, hatch_late_d=80, eyed_at=0.5
    )
    lot = a_lot(laid_from=ago(36), laid_to=ago(36))
    shelf = a_week(a_row("A"), lots=(lot,), species={"gar": species})
    reckoner = Reckoner(shelf)
    leg = reckoner.leg(reckoner.services("DK")[0], reckoner.destination(shelf.orders[0]), TODAY)
    days = hatch_at_buyer(reckoner.ride(reckoner.lot_day("G1", TODAY), TUBE, leg))
    for day, usual in zip(days, (60, 70, 80), strict=True):
        assert day is not None
        assert abs((day - lot.laid_from).days - usual) <= 3
