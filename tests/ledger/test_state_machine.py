"""Whatever is kept, packed, sent, told, taken back, counted, renamed or put back, on whatever day: no lot
gives more than was counted in it, each line is in one place, and nothing acknowledged is lost.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from shipping.ledger.entries import Entry, LedgerAccepted, LineCount, LineReport, PlanKept, Undone
from shipping.ledger.errors import LedgerError
from shipping.ledger.journal.copies import put_back
from shipping.ledger.kept_parcel import KeptParcel, numbers_in
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts, eggs_counted
from shipping.ledger.parcel_states import LedgerState
from shipping.tables.rows.lots import Look, Lot
from tests.ledger.desk import TODAY, draw, line, parcel, plan
from tests.ledger.invented import lot, shelf
from tests.ledger.whole import audit
from tests.tools import MEMORY

LOTS = ("L1", "L2")
ORDERS = 6
WEEK = "2026-W49"
#: How many steps the machine takes in each run at the most, and in how many runs: some of them with the quick
#: tests. A run may end early, and where it does changes with every line of this file: the runs give steps to
#: spare.
STEPS, SOME, ALL = 50, 50, 520
RUNS = int(os.environ.get("SPAWNPOST_RUNS", ALL))
#: How many were taken so far.
taken = [0]


@dataclass
class Truth:
    """What really happened to one lot, in the order in which it happened: counts, and packings by entry."""

    name: str
    counts: list[tuple[int, date, int]] = field(default_factory=list)
    packings: dict[int, tuple[int, date, int]] = field(default_factory=dict)
    found_more: dict[int, int] = field(default_factory=dict)

    def between(self, n: int) -> int:
        """Eggs packed after count ``n`` and before the next, in the order in which all was done."""
        at, on, _ = self.counts[n]
        end = self.counts[n + 1][1::-1] if n + 1 < len(self.counts) else (date.max, 0)
        return sum(eggs for when, day, eggs in self.packings.values() if (on, at) < (day, when) < end)

    def count(self, when: int, on: date, alive: int) -> None:
        """Count anew; eggs found beyond what could be left were laid in, or counted wrongly before."""
        before = len(self.counts) - 1
        self.counts.append((when, on, alive))
        if before >= 0:
            room = max(0, self.counts[before][2] - alive)
            self.found_more[before] = max(0, self.between(before) - room)

    def excess(self) -> int:
        """By how many eggs the packings are more than what was counted and laid in."""
        rooms = [max(0, was[2] - now[2]) for was, now in pairwise(self.counts)] + [self.counts[-1][2]]
        return max(self.between(n) - room - self.found_more.get(n, 0) for n, room in enumerate(rooms))


def assert_stands_as_recorded(ledger: Ledger) -> None:
    """What stands beside the ledger is what all its entries, read one by one, leave."""
    quick, numbers = ledger.state, ledger.known_numbers
    fresh = LedgerState.after(ledger.every_entry)
    assert dict(quick.parcels) == fresh.parcels
    assert dict(quick.orders) == fresh.orders
    assert dict(quick.packed) == fresh.packed
    assert quick.line_in == fresh.line_in
    assert quick.waiting.keys() == fresh.waiting.keys()
    assert quick.sent_with_item == fresh.sent_with_item
    assert (quick.items_unread or dict)() | quick.item_in == fresh.item_in
    assert (quick.settled, quick.bought) == (fresh.settled, fresh.bought)
    assert numbers == {
        name: keys
        for entry in ledger.every_entry
        if isinstance(entry.body, PlanKept)
        for name, keys in numbers_in(entry.body.plan).items()
    }


class LedgerMachine(RuleBasedStateMachine):
    """A breeder, a bench and a clock."""

    def __init__(self) -> None:
        super().__init__()
        self.place = tempfile.mkdtemp(dir=MEMORY)
        self.folder = Path(self.place) / "desk"
        self.folder.mkdir()
        self.today = TODAY
        self.clock = 0
        self.number = 0
        self.acknowledged: list[str] = []
        self.truth = {name: Truth(name) for name in LOTS}
        self.lots: dict[str, Lot] = {}
        self.looks: list[Look] = []
        self.older: tuple[Path, int] | None = None
        self.ledger = Ledger.open(self.folder, self.today, create=True)

    @initialize(eggs=st.tuples(st.integers(0, 90), st.integers(0, 90)))
    def begin(self, eggs: tuple[int, int]) -> None:
        days = (TODAY - timedelta(days=1), TODAY)  # the second may be counted again on its first day
        for name, count, day in zip(LOTS, eggs, days, strict=True):
            self.lots[name] = lot(name, eggs=count, counted_on=day)
            self.truth[name].count(0, day, count)

    # -- helpers

    def counted(self) -> dict[str, LotCounts]:
        return eggs_counted(shelf(lots=tuple(self.lots.values()), looks=tuple(self.looks)))

    def record(self, doing: Callable[[], Entry]) -> Entry | None:
        """Do it; a refusal changes nothing, and what was acknowledged is noted; a plan kept twice in a row is
        one entry.
        """
        self.clock += 1
        before = len(self.ledger.entries())
        try:
            entry = doing()
        except LedgerError:
            assert len(self.ledger.entries()) == before
            return None
        if entry.seq == before and isinstance(entry.body, PlanKept):
            return entry
        self.acknowledged.append(entry.kind)
        if isinstance(entry.body, Undone):
            for truth in self.truth.values():
                truth.packings.pop(entry.body.entry * 10, None)
                truth.packings.pop(entry.body.entry * 10 + 1, None)
        return entry

    def one(self, number: int, states: tuple[str, ...]) -> KeptParcel | None:
        found = [kept for kept in self.ledger.parcels() if kept.state in states]
        return found[number % len(found)] if found else None

    def reopen(self) -> None:
        self.ledger.close()
        self.ledger = Ledger.open(self.folder, self.today, create=True)
        assert_stands_as_recorded(self.ledger)

    def truth_of(self, recorded: str) -> Truth:
        return next(truth for name, truth in self.truth.items() if name == recorded)

    # -- the bench

    @rule(
        wanted=st.sets(st.integers(0, ORDERS - 1), min_size=1),
        eggs=st.lists(st.integers(5, 40), min_size=ORDERS, max_size=ORDERS),
        week=st.sampled_from((WEEK, "2026-W50")),
        again=st.booleans(),
    )
    def keep(self, wanted: set[int], eggs: list[int], week: str, again: bool) -> None:
        parcels = []
        for n in sorted(wanted):
            self.number += not again
            drawn = draw(LOTS[n % 2], eggs[n])
            both = (drawn, draw(LOTS[(n + 1) % 2], 5)) if n % 3 == 0 else (drawn,)
            parcels.append(parcel(f"{week}-{self.number:02d}", f"Buyer {n}", line(f"S{n}", 1, 5, *both)))
        self.record(lambda: self.ledger.keep_plan(plan(*parcels, week=week), self.counted()))

    @rule(number=st.integers(0, 9), eggs=st.integers(0, 45), back=st.sampled_from((0, 0, 0, 1, 3)))
    def pack(self, number: int, eggs: int, back: int) -> None:
        kept = self.one(number, ("planned", "planned", "packed"))
        if kept is None:
            return
        first, *rest = kept.planned_counts()
        counts = (LineCount(order=first.order, line=first.line, lot=first.lot, eggs=eggs), *rest)
        on = self.today - timedelta(days=back)
        entry = self.record(lambda: self.ledger.pack(kept.parcel, counts, counted=self.counted(), on=on))
        for n, count in enumerate(counts) if entry else ():
            self.truth_of(count.lot).packings[entry.seq * 10 + n] = (self.clock, on, count.eggs)

    @rule(number=st.integers(0, 9), item=st.sampled_from(("", "RR473124829GB", "RR473124829DK")))
    def send(self, number: int, item: str) -> None:
        if kept := self.one(number, ("planned", "packed")):
            self.record(lambda: self.ledger.send(kept.parcel, item=item))

    @rule(
        number=st.integers(0, 9), alive=st.integers(0, 50), how=st.sampled_from(("", "", "lost", "returned"))
    )
    def arrive(self, number: int, alive: int, how: str) -> None:
        kept = self.one(number, ("packed", "sent", "arrived", "lost"))
        if kept is None:
            return
        report = LineReport(order=kept.lines[0].order, line=1, alive=alive)
        if how:
            self.record(lambda: self.ledger.end(kept.parcel, how))
        else:
            self.record(lambda: self.ledger.arrive(kept.parcel, [report]))

    @rule(number=st.integers(0, 9), settle=st.booleans())
    def claim(self, number: int, settle: bool) -> None:
        kept = self.one(number, ("sent", "arrived", "lost"))
        if kept is None:
            return
        key = kept.lines[0].key
        if settle:
            self.record(lambda: self.ledger.settle_claim(kept.parcel, key, "send again", eggs=5))
        else:
            self.record(lambda: self.ledger.open_claim(kept.parcel, key, "short"))

    @rule(number=st.integers(0, 9))
    def drop(self, number: int) -> None:
        if kept := self.one(number, ("planned", "packed")):
            self.record(lambda: self.ledger.drop(kept.parcel))

    @rule(back=st.integers(0, 12))
    def undo(self, back: int) -> None:
        wanted = max(1, len(self.acknowledged) - back)
        self.record(lambda: self.ledger.undo(wanted if back else None))

    @rule(number=st.integers(0, 9))
    def undo_parcel(self, number: int) -> None:
        if kept := self.one(number, ("planned", "packed", "sent", "arrived", "lost", "returned")):
            self.record(lambda: self.ledger.undo(kept.parcel))

    # -- tables, days and files

    @rule(which=st.sampled_from(LOTS), alive=st.integers(0, 90))
    def recount(self, which: str, alive: int) -> None:
        """A look of today: what is in the tank now, after what was packed by now."""
        self.clock += 1
        truth = self.truth[which]
        if self.today < truth.counts[-1][1]:
            return
        present = self.lots[which].lot
        self.looks.append(Look(lot=present, on=self.today, alive=alive))
        truth.count(self.clock, self.today, alive)

    @rule(which=st.sampled_from(LOTS))
    def rename(self, which: str) -> None:
        """The breeder gives a lot another name, and says so in its note."""
        new = f"{which}x{self.clock}"
        was = self.lots[which]
        note = f"{was.note}; was {was.lot}".strip("; ")
        self.lots[which] = was.model_copy(update={"lot": new, "note": note})
        self.looks = [
            look.model_copy(update={"lot": new}) if look.lot == was.lot else look for look in self.looks
        ]

    @rule(days=st.integers(-1, 3))
    def another_day(self, days: int) -> None:
        self.today += timedelta(days=days)
        self.reopen()

    @rule()
    def keep_older_file(self) -> None:
        self.reopen()
        if self.ledger.entries():
            aside = Path(self.place) / "older.sqlite"
            shutil.copy(self.folder / "ledger.sqlite", aside)
            self.older = (aside, len(self.acknowledged))

    @rule()
    def put_older_file_back(self) -> None:
        """An older file in place of the ledger stops all, and the way back loses nothing."""
        if self.older is None or self.older[1] >= len(self.acknowledged):
            return
        self.ledger.close()
        shutil.copy(self.older[0], self.folder / "ledger.sqlite")
        self.ledger = Ledger.open(self.folder, self.today, create=True)
        with contextlib.suppress(LedgerError):
            self.ledger.drop("2026-W49-01")
            raise AssertionError("an older file took an entry")
        self.ledger.close()
        put_back(self.folder)
        self.ledger = Ledger.open(self.folder, self.today, create=True)
        assert self.ledger.accept() is None

    # -- what always holds

    @invariant()
    def no_lot_gives_more_than_was_counted(self) -> None:
        for truth in self.truth.values():
            assert truth.excess() <= 0, truth

    @invariant()
    def a_step_was_taken(self) -> None:
        taken[0] += 1

    @invariant()
    def nothing_acknowledged_is_lost(self) -> None:
        assert [entry.kind for entry in self.ledger.entries()] == self.acknowledged
        assert not any(isinstance(entry.body, LedgerAccepted) for entry in self.ledger.entries())

    @invariant()
    def each_line_is_in_one_place(self) -> None:
        lines = Counter(key for kept in self.ledger.parcels() for key in kept.line_keys)
        assert not lines or max(lines.values()) == 1

    def teardown(self) -> None:
        again = LedgerState.after(self.ledger.entries(), strictly=True)
        assert again.parcels == {kept.parcel: kept for kept in self.ledger.parcels()}
        self.ledger.close()
        assert audit(self.folder, self.counted()) == () or not self.acknowledged
        shutil.rmtree(self.place)


@pytest.mark.parametrize(
    ("runs", "least"), [(SOME, 1_900), pytest.param(RUNS, 20_000 * RUNS // ALL, marks=pytest.mark.slow)]
)
def test_whatever_is_done_no_egg_is_given_twice_and_nothing_is_lost(runs: int, least: int) -> None:
    taken[0] = 0
    every = settings(
        max_examples=runs,
        stateful_step_count=STEPS,
        deadline=None,
        derandomize=True,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(LedgerMachine, settings=every)
    assert taken[0] >= least
