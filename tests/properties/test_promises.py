"""What must hold whatever the numbers."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.eggs.clock import effective_degrees
from shipping.eggs.lot_forecast import LotForecast, lot_forecast
from shipping.eggs.overpack import chance_enough, overpacks
from shipping.post.transit import arrivals
from tests.eggs.one_trip import hatch_shares
from tests.post.a_shelf import TODAY, a_service, a_shelf, a_species
from tests.week.a_week import a_lot, ago

some = settings(deadline=None, derandomize=True, max_examples=60)
few = settings(deadline=None, derandomize=True, max_examples=25)

shares = st.floats(0.3, 0.999)
kappas = st.floats(3, 500)


def forecast(age: int, window: int, celsius: float, stage: str | None) -> LotForecast:
    lot = a_lot(
        laid_from=ago(age + window),
        laid_to=ago(age),
        kept_at_c=celsius,
        stage=stage,
        stage_on=TODAY if stage else None,
    )
    return lot_forecast(a_shelf(lots=(lot,), species={"gar": a_species(keep_max_c=27)}), "G1")


@some
@given(v=shares, worse=st.floats(0.5, 1), kappa=kappas, ordered=st.integers(1, 40), eggs=st.integers(1, 80))
def test_an_egg_more_never_lowers_the_chance_of_enough(
    v: float, worse: float, kappa: float, ordered: int, eggs: int
) -> None:
    by_date, chances = np.array([v, v * worse]), np.array([0.7, 0.3])
    now = chance_enough(((eggs, by_date, kappa),), chances, ordered)
    more = chance_enough(((eggs + 1, by_date, kappa),), chances, ordered)
    assert more >= now - 1e-12


@some
@given(v=shares, kappa=kappas, ordered=st.integers(1, 40), promise=st.floats(0.5, 0.99))
def test_a_harder_promise_never_packs_fewer_and_never_fewer_than_ordered(
    v: float, kappa: float, ordered: int, promise: float
) -> None:
    def pack(wanted: float) -> int:
        cap = np.array([10_000])
        return int(
            overpacks(
                np.array([[v]]), np.ones((1, 1)), np.array([ordered]), cap, np.array([kappa]), wanted
            ).pack[0]
        )

    easy, hard = pack(promise * 0.9), pack(promise)
    assert easy == 0 or easy >= ordered
    assert hard == 0 or hard >= easy > 0


@few
@given(
    age=st.integers(3, 14),
    window=st.integers(0, 4),
    celsius=st.floats(18, 27),
    parcel=st.floats(0, 35),
    days=st.integers(1, 8),
    wait=st.integers(1, 5),
)
def test_a_later_dispatch_never_lowers_the_share_hatched_by_a_fixed_date_in_a_cooler_parcel(
    age: int, window: int, celsius: float, parcel: float, days: int, wait: int
) -> None:
    found = forecast(age, window, celsius, None)
    shelf_degrees = effective_degrees(celsius, found.species)
    degrees = min(effective_degrees(parcel, found.species), shelf_degrees)
    fixed = days + wait
    whole = float(found.clock.whole(found.x(TODAY))[0])

    def hatched_by_then(dispatch: int) -> float:
        x = found.x(TODAY + timedelta(days=dispatch)) + degrees * (fixed - dispatch)
        return 1 - float(found.clock.whole(x)[0]) / whole

    assert hatched_by_then(wait) >= hatched_by_then(0) - 1e-9


@few
@given(
    age=st.integers(3, 14),
    window=st.integers(0, 4),
    kept=st.floats(18, 26),
    cool=st.floats(0, 27),
    more=st.floats(0, 10),
)
def test_a_warmer_journey_never_delays_hatching(
    age: int, window: int, kept: float, cool: float, more: float
) -> None:
    found = forecast(age, window, kept, "eyed" if age > 8 else None)
    days = np.arange(1, 10)
    cooler = hatch_shares(found.clock, found.x(TODAY), effective_degrees(cool, found.species) * days)
    warmer = hatch_shares(found.clock, found.x(TODAY), effective_degrees(cool + more, found.species) * days)
    assert np.all(warmer >= cooler - 1e-12)
    assert np.all(np.diff(warmer) >= -1e-12)


@few
@given(age=st.integers(3, 14), kept=st.floats(18, 26), parcel=st.floats(27, 60))
def test_past_the_plateau_warmth_changes_nothing(age: int, kept: float, parcel: float) -> None:
    found = forecast(age, 2, kept, None)
    assert effective_degrees(parcel, found.species) == effective_degrees(27, found.species)


@few
@given(
    early=st.floats(0.6, 4),
    usual=st.floats(1, 2),
    late=st.floats(1, 3),
    slower=st.floats(0, 4),
    ordered=st.integers(1, 30),
    extra=st.integers(0, 20),
)
def test_a_slower_service_never_raises_the_chance(
    early: float, usual: float, late: float, slower: float, ordered: int, extra: int
) -> None:
    def chance(shift: float) -> float:
        scale = 1 + shift
        service = a_service(
            early_d=early * scale, usual_d=early * usual * scale, late_d=early * usual * late * scale
        )
        found = arrivals(service, TODAY, "DK")
        v = np.exp(-0.03 - 0.02 * np.array([(day - TODAY).days for day in found.dates]))
        return chance_enough(((ordered + extra, v, 40.0),), found.chances, ordered)

    assert chance(slower) <= chance(0) + 1e-9


@some
@given(age=st.integers(2, 14), window=st.integers(0, 5), celsius=st.floats(16, 27))
def test_eyes_never_make_a_lot_seem_younger(age: int, window: int, celsius: float) -> None:
    plain, eyed = forecast(age, window, celsius, None), forecast(age, window, celsius, "eyed")
    if eyed.likelihood < 1e-12:
        return
    x = plain.x(TODAY)
    # the share that hatches within any number of degree-days from today is no smaller after eyes were seen
    ahead = np.linspace(1, 200, 40)
    before = 1 - plain.clock.weight_beyond(x + ahead) / float(plain.clock.whole(x)[0])
    after = 1 - eyed.clock.weight_beyond(x + ahead) / float(eyed.clock.whole(x)[0])
    assert np.all(after >= before - 1e-6)


@some
@given(age=st.integers(2, 14), window=st.integers(0, 5), celsius=st.floats(16, 27))
def test_a_lot_without_eyes_never_seems_older_for_the_look(age: int, window: int, celsius: float) -> None:
    plain, seen = forecast(age, window, celsius, None), forecast(age, window, celsius, "fertile")
    if seen.likelihood < 1e-12:
        return
    x = plain.x(TODAY)
    ahead = np.linspace(1, 200, 40)
    before = 1 - plain.clock.weight_beyond(x + ahead) / float(plain.clock.whole(x)[0])
    after = 1 - seen.clock.weight_beyond(x + ahead) / float(seen.clock.whole(x)[0])
    assert np.all(after <= before + 1e-6)


@some
@given(
    age=st.integers(0, 40),
    window=st.integers(0, 6),
    celsius=st.floats(5, 32),
    stage=st.sampled_from([None, "laid", "fertile", "eyed", "ready"]),
    ahead=st.integers(0, 60),
)
def test_every_lot_has_a_count_and_no_nonsense(
    age: int, window: int, celsius: float, stage: str | None, ahead: int
) -> None:
    found = forecast(age, window, celsius, stage)
    day = TODAY + timedelta(days=ahead)
    assert 0 <= found.free_on(day) <= found.eggs_on(day) <= 100
    assert 0 <= found.share_eyed(day) <= 1 + 1e-9
    hatch = [found.day_hatched(share) for share in (0.05, 0.5, 0.95)]
    known = [on for on in hatch if on]
    assert known == sorted(known)
    assert found.has_dates or not known
