"""What must hold of warmth on the way, of boxes and of wetting days, whatever the numbers."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from shipping.eggs.clock import effective_degrees
from shipping.options.option import Destination, Ride
from shipping.options.option_factory import OptionFactory
from shipping.post.foam_box import box_warm_h
from shipping.questions.can_it_ship import ask
from shipping.tables.rows.packings import Box
from shipping.tables.rows.weather import Weather
from shipping.words.reasons import Verdict
from tests.post.a_shelf import TODAY, a_service, a_species
from tests.week.a_week import BAG, a_lot, a_row, a_week, ago, plan_of

Floats = NDArray[np.float64]
DAY = timedelta(days=1)

some = settings(deadline=None, derandomize=True, max_examples=40)
few = settings(deadline=None, derandomize=True, max_examples=10)

FOAM = Box(
    box="foam", length_mm=250, width_mm=180, thick_mm=120, wall_mm=25, bottle_ml=1400, tare_g=180, rigid=True
)
#: A bag as it is, in a foam box with its bottle, and with a heat pack.
PACKINGS = (
    BAG,
    BAG.model_copy(update={"packing": "boxed", "box": "foam"}),
    BAG.model_copy(update={"packing": "heated", "heat_pack_h": 40.0}),
)
WAY = a_service(early_d=1, usual_d=3, late_d=6, live_eggs="yes", hand_over="Mon-Sun", saturday="yes")
HATCH_D = (12.0, math.sqrt(12.0 * 21.0), 21.0)


def rides(age: int, kept: float, weather: tuple[Weather, ...], day: date = TODAY) -> list[Ride]:
    """A lot laid on one day, in each packing."""
    shelf = a_week(
        lots=(a_lot(laid_from=ago(age), laid_to=ago(age), kept_at_c=kept, stage=None, stage_on=None),),
        packings=PACKINGS,
        boxes=(FOAM,),
        services=(WAY,),
        weather=weather,
        species={"gar": a_species(keep_max_c=27)},
    )
    factory = OptionFactory(shelf)
    leg = factory.leg(factory.services(("DK", ""))[0], Destination.of("DK", ""), day)
    return [factory.ride(factory.lot_day("G1", day), packing, leg) for packing in PACKINGS]


def always(low: float, width: float) -> tuple[Weather, ...]:
    return tuple(Weather(to="*", month=month, low_c=low, high_c=low + width) for month in range(1, 13))


@few
@given(
    age=st.integers(4, 14),
    kept=st.floats(18, 26),
    low=st.floats(-10, 25),
    width=st.floats(0, 15),
    more=st.floats(0, 12),
)
def test_a_warmer_trip_never_lowers_hatching_and_a_colder_one_never_raises_it(
    age: int, kept: float, low: float, width: float, more: float
) -> None:
    colder, warmer = rides(age, kept, always(low, width)), rides(age, kept, always(low + more, width))
    for cold, warm in zip(colder, warmer, strict=True):
        assert np.all(warm.h >= cold.h - 1e-12)
        assert warm.h_per_egg >= cold.h_per_egg - 1e-12
        wider = rides(age, kept, always(low, width + more))[PACKINGS.index(cold.packing)]
        assert wider.h_per_egg >= cold.h_per_egg - 1e-12


def share_hatched(x: float, gathered: Floats) -> Floats:
    """h of eggs of one laying day that show eyes at ``x``, by sums over a grid of K: the tests' species has
    its three points at 24 C above a zero of 10 C, and eyes at half of K, seen within 0.10.
    """
    early, usual, late = (days * 14.0 for days in HATCH_D)
    k = np.geomspace(early / 4, late * 4, 20_000)
    side = np.where(k < usual, math.log(usual / early), math.log(late / usual))
    weights = np.diff(norm.cdf(np.log(k / usual) * 1.6449 / side), prepend=0.0)
    weights *= norm.cdf(np.log(x / (0.5 * k)) / 0.10) * (k > x)
    by_k = np.cumsum(weights)
    before = np.interp(x, k, by_k)
    return np.asarray((np.interp(x + gathered, k, by_k) - before) / (by_k[-1] - before))


@few
@given(
    age=st.integers(7, 12),
    kept=st.floats(20, 26),
    winter=st.floats(-12, 10),
    swing=st.floats(0, 20),
    start=st.integers(0, 20),
)
def test_h_never_jumps_from_a_day_to_the_next_by_more_than_a_days_degrees_explain(
    age: int, kept: float, winter: float, swing: float, start: int
) -> None:
    """Eggs of one laying day, hatched by the same arrival date on a trip of the same warmth: a day later at
    hand-over moves what they have gathered by a day's degrees at the most, whatever box and months.
    """
    months = tuple(
        Weather(to="*", month=month, low_c=low, high_c=low + 6)
        for month in range(1, 13)
        for low in (winter + swing * math.sin(math.pi * (month - 1) / 12),)
    )
    first = TODAY + timedelta(days=start)
    gains = effective_degrees(27.0, a_species(keep_max_c=27))
    both = zip(rides(age, kept, months, first), rides(age, kept, months, first + DAY), strict=True)
    for one, next_day in both:
        totals: list[dict[date, Floats]] = []
        for ride in (one, next_day):
            x = ride.lot_day.forecast.x(ride.leg.day)
            np.testing.assert_allclose(ride.h, share_hatched(x, ride.gathered), atol=5e-4)
            by_date = (x + ride.gathered).reshape(len(ride.leg.arrivals.dates), -1)
            totals.append(dict(zip(ride.leg.arrivals.dates, by_date, strict=True)))
        for arrival in totals[0].keys() & totals[1].keys():
            assert np.all(np.abs(totals[1][arrival] - totals[0][arrival]) <= gains + 1e-9)


@some
@given(
    sides=st.tuples(st.integers(80, 600), st.integers(80, 400), st.integers(80, 400)),
    wall=st.integers(5, 39),
    water=st.floats(0, 5000),
    more=st.floats(0, 5000),
)
def test_more_water_in_a_box_never_shortens_its_hours(
    sides: tuple[int, int, int], wall: int, water: float, more: float
) -> None:
    box = FOAM.model_copy(
        update={"length_mm": sides[0], "width_mm": sides[1], "thick_mm": sides[2], "wall_mm": float(wall)}
    )
    assert box_warm_h(box, water + more) >= box_warm_h(box, water) >= 0
    less, full = (box.model_copy(update={"bottle_ml": ml}) for ml in (water, water + more))
    assert box_warm_h(full) >= box_warm_h(less)


DAMP_BAG = BAG.model_copy(
    update={"packing": "damp", "kind": "damp bag", "media": frozenset({"peat"}), "hatch_held": 0.9}
)


@few
@given(keeps=st.integers(0, 60), past=st.integers(1, 90), window=st.integers(0, 30), seen=st.integers(0, 40))
def test_a_lot_with_its_wetting_days_in_the_past_never_goes(
    keeps: int, past: int, window: int, seen: int
) -> None:
    """The last wetting day is ``wet_until``, or a later look that saw live eggs, plus what they keep."""
    until = ago(keeps + past)
    counted = min(TODAY, until - timedelta(days=seen))
    lot = a_lot(
        medium="peat",
        laid_from=ago(200),
        laid_to=ago(200),
        counted_on=counted,
        stage="fertile",
        stage_on=counted,
        wet_from=until - timedelta(days=window),
        wet_until=until,
    )
    species = a_species(
        incubation="damp", hatch_early_d=60, hatch_late_d=200, ready_keeps_d=keeps, keep_min_c=10
    )
    shelf = a_week(a_row("A", eggs=10), lots=(lot,), species={"gar": species}, packings=(DAMP_BAG,))
    plan = plan_of(shelf)
    assert not plan.parcels
    assert "past-wetting" in {reason.code for reason in plan.lines_out[0].reasons}
    reply = ask(shelf, "G1", Destination.of("DK", ""), on=TODAY, eggs=10)
    assert reply.verdict is Verdict.HOLD
    assert reply.last_safe_day is None
