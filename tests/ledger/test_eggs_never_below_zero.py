"""Whatever is kept, packed, undone, let go and recounted: no lot ever gives more eggs than were counted in
it.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shipping.ledger.entries import LineCount, LineReport
from shipping.ledger.errors import LedgerError
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts
from shipping.ledger.parcel_states import LedgerState
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.whole import audit

LOTS = ("L1", "L2")
NAMES = tuple(f"2026-W49-{n:02d}" for n in range(4))

steps = st.lists(
    st.one_of(
        st.tuples(st.just("plan"), st.lists(st.integers(5, 40), min_size=4, max_size=4)),
        st.tuples(st.just("pack"), st.sampled_from(NAMES), st.integers(0, 60)),
        st.tuples(st.just("send"), st.sampled_from(NAMES)),
        st.tuples(st.just("arrive"), st.sampled_from(NAMES), st.integers(0, 60)),
        st.tuples(st.just("let go"), st.sampled_from(NAMES)),
        st.tuples(st.just("undo"), st.one_of(st.none(), st.integers(1, 15))),
    ),
    max_size=20,
)


def do(ledger: Ledger, step: tuple, counted: dict[str, LotCounts]) -> None:
    what, *rest = step
    if what == "plan":
        parcels = [
            parcel(name, f"Buyer {n}", line(f"S{n}", 1, 5, draw(LOTS[n % 2], eggs)))
            for n, (name, eggs) in enumerate(zip(NAMES, rest[0], strict=True))
        ]
        ledger.keep_plan(plan(*parcels), counted)
    elif what == "pack":
        n = NAMES.index(rest[0])
        counts = [LineCount(order=f"S{n}", line=1, lot=LOTS[n % 2], eggs=rest[1])]
        ledger.pack(rest[0], counts, counted=counted)
    elif what == "send":
        ledger.send(rest[0])
    elif what == "arrive":
        ledger.arrive(rest[0], [LineReport(order=f"S{NAMES.index(rest[0])}", line=1, alive=rest[1])])
    elif what == "let go":
        ledger.drop(rest[0])
    else:
        ledger.undo(rest[0])


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(steps=steps, eggs=st.tuples(st.integers(0, 90), st.integers(0, 90)))
def test_no_lot_ever_gives_more_than_was_counted(steps: list[tuple], eggs: tuple[int, int]) -> None:
    counted = {lot: LotCounts(count, TODAY) for lot, count in zip(LOTS, eggs, strict=True)}
    with tempfile.TemporaryDirectory() as place, Ledger.open(Path(place), TODAY, create=True) as ledger:
        for step in steps:
            before = ledger.entries()
            try:
                do(ledger, step, counted)
            except LedgerError:
                assert ledger.entries() == before
            packed = {lot: sum(days.values()) for lot, days in ledger.packed_by_lot().items()}
            assert all(0 <= packed.get(lot, 0) <= counted[lot].eggs for lot in LOTS)
            by_parcel = sum(count.eggs for kept in ledger.parcels() for count in kept.counts)
            assert by_parcel == sum(packed.values())
        assert audit(ledger.folder, counted) == ()
        again = LedgerState.after(ledger.entries(), strictly=True)
        assert again.parcels == {kept.parcel: kept for kept in ledger.parcels()}


@pytest.mark.parametrize(("counted_eggs", "fits"), [(44, True), (43, False)])
def test_a_lot_named_twice_since_it_was_renamed_gives_the_eggs_of_both_names(
    tmp_path: Path, counted_eggs: int, fits: bool
) -> None:
    """20 of one name and 24 of the other are one lot's."""
    lot = LotCounts(counted_eggs, TODAY, "L1")
    counted, ample = {"L1": lot, "OLD": lot}, {"L1": LotCounts(99, TODAY), "OLD": LotCounts(99, TODAY)}
    both = plan(parcel(NAMES[0], "Buyer", line("S0", 1, 40, draw("L1", 20), draw("OLD", 24))))
    with Ledger.open(tmp_path, TODAY, create=True) as ledger:
        for record in (
            lambda: ledger.keep_plan(both, counted),
            lambda: ledger.pack(NAMES[0], counted=counted),
        ):
            if fits:
                record()
                continue
            with pytest.raises(LedgerError, match="lot L1 has 43 eggs left"):
                record()
            if not ledger.parcels():
                ledger.keep_plan(both, ample)
