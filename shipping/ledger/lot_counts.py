"""What each lot still holds: its counts by day and the packings since in, eggs left or why none go out."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from shipping.ledger.errors import LEDGER_FILE, LedgerError
from shipping.tables.rows.lots import Look, Lot
from shipping.tables.shelf import Draft, Shelf
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

#: A lot that was renamed says so in its note: ``was FL-31``.
_WAS = re.compile(r"(?<!\w)was\s+([^;,\n]+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PackedEggs:
    """Eggs packed from a lot on a day, below zero those that came back; ``counted_on`` is the day of the
    count they were taken from, and ``of_day`` how many counts of that day were known then (None: an older
    entry, which does not say).
    """

    on: date
    eggs: int
    counted_on: date | None = None
    of_day: int | None = None


@dataclass(frozen=True, slots=True)
class CountDay:
    """When a lot was counted: the day, the how many-eth count of that day, and whether it was made before
    that day's parcels (None: nobody said, and then after those that had been recorded by then).
    """

    on: date
    nth: int
    before_packing: bool | None

    def is_before(self, packing: PackedEggs) -> bool:
        """Were the eggs packed still among those counted, or those that came back not yet?"""
        if packing.on != self.on:
            return packing.on > self.on
        if self.before_packing is not None and packing.eggs >= 0:
            return self.before_packing
        if packing.counted_on != self.on:
            return packing.counted_on is None or packing.counted_on > self.on
        return packing.of_day is None or packing.of_day >= self.nth


def eggs_between(packings: Iterable[PackedEggs], count: CountDay, later: CountDay) -> int:
    """Eggs packed after a count and before a later one."""
    return sum(p.eggs for p in packings if count.is_before(p) and not later.is_before(p))


@dataclass(frozen=True, slots=True)
class CountBefore:
    """A count before the last one; ``room`` eggs may have gone between it and the next, if both are right."""

    on: date
    before_packing: bool | None
    room: int


@dataclass(frozen=True, slots=True)
class LotCounts:
    """A lot's last count: ``eggs`` live ones on ``counted_on``, less what looks have seen go since.

    ``lot`` is its name in the tables ("": the name it is asked by). ``before_packing``: was it made before
    that day's parcels? None: nobody said, and then it was made after those that had been recorded by then.
    """

    eggs: int
    counted_on: date
    lot: str = ""
    keep_back: int = 0
    before_packing: bool | None = None
    earlier: tuple[CountBefore, ...] = ()

    @property
    def all_counts(self) -> tuple[CountDay, ...]:
        """Every count, oldest first."""
        days = [(count.on, count.before_packing) for count in self.earlier]
        days.append((self.counted_on, self.before_packing))
        nth = Counter[date]()
        counts = []
        for on, before in days:
            nth[on] += 1
            counts.append(CountDay(on, nth[on], before))
        return tuple(counts)

    def count_for(self, on: date) -> CountDay | None:
        """The count that eggs packed on a day are taken from; None where there was none yet."""
        counts = [c for c in self.all_counts if c.on < on or (c.on == on and c.before_packing is not False)]
        return counts[-1] if counts else None

    def last_by(self, on: date) -> CountDay | None:
        """The last count up to a day, beside which eggs come back then; None where there was none."""
        return next((count for count in reversed(self.all_counts) if count.on <= on), None)

    def packing(self, on: date, eggs: int) -> PackedEggs:
        """Eggs packed on a day, as the counts known now see them."""
        count = self.count_for(on)
        return PackedEggs(on, eggs, count.on, count.nth) if count else PackedEggs(on, eggs)

    def left(self, packings: Iterable[PackedEggs]) -> int:
        """Eggs of the last count that no packing has taken; below zero where more were packed."""
        last = self.all_counts[-1]
        return self.eggs - sum(packing.eggs for packing in packings if last.is_before(packing))

    def lacking(self, packings: Sequence[PackedEggs]) -> tuple[int, ...]:
        """By how many eggs the packings exceed what each count, oldest first, and the next one allow."""
        away = (eggs_between(packings, *pair) for pair in pairwise(self.all_counts))
        rooms = (max(0, count.room) for count in self.earlier)
        beyond = (max(0, eggs - room) for eggs, room in zip(away, rooms, strict=True))
        return (*beyond, max(0, -self.left(packings)))


def eggs_counted(shelf: Shelf | Draft) -> dict[str, LotCounts]:
    """The counts of every lot, by its name, and by each name that its note says it was called before."""
    counted = {lot.lot: _counted(lot, shelf.looks_by_lot.get(lot.lot, ())) for lot in shelf.lots}
    for old, lot in names_before(shelf.lots).items():
        counted.setdefault(old, counted[lot])
    return counted


def names_before(lots: Iterable[Lot]) -> dict[str, str]:
    """The present name of each lot that a note says was renamed, by the name it had (``was FL-31``)."""
    names: dict[str, str] = {}
    for lot in lots:
        for said in _WAS.findall(lot.note):
            for name in (said.strip(" ."), said.split()[0].strip(" .")):
                names.setdefault(name, lot.lot)
    return names


def _counted(lot: Lot, looks: Sequence[Look]) -> LotCounts:
    """The lot's own count and every recount, each less what looks have seen go until the next."""
    counts: list[tuple[date, bool | None, int]] = [(lot.counted_on, None, lot.eggs)]
    gone = [0]
    for look in looks:
        if look.on < lot.counted_on:
            continue
        gone[-1] += (look.removed or 0) + (look.hatched or 0)
        if look.alive is not None:
            counts.append((look.on, look.before_packing, look.alive))
            gone.append(0)
    earlier = tuple(
        CountBefore(on, before, alive - gone[n] - counts[n + 1][2])
        for n, (on, before, alive) in enumerate(counts[:-1])
    )
    on, before, alive = counts[-1]
    return LotCounts(max(0, alive - gone[-1]), on, lot.lot, lot.keep_back, before, earlier)


def packings_by_name(
    packed: Mapping[str, Sequence[PackedEggs]],
    counted: Mapping[str, LotCounts],
    wanted: Collection[str] | None = None,
) -> dict[str, tuple[PackedEggs, ...]]:
    """All packings by the name their lot has now, of all lots or of those ``wanted`` by that name."""
    packings: dict[str, tuple[PackedEggs, ...]] = {}
    for recorded in sorted(packed):
        name = name_now(recorded, counted)
        if wanted is None or name in wanted:
            packings[name] = (*packings.get(name, ()), *packed[recorded])
    return packings


def name_now(lot: str, counted: Mapping[str, LotCounts]) -> str:
    """The name a lot has in the tables; a lot that is not there keeps the name it had."""
    return (counted[lot].lot if lot in counted else "") or lot


def check_counts(
    lot: str,
    eggs: int,
    packed: Mapping[str, Sequence[PackedEggs]],
    counted: Mapping[str, LotCounts],
    on: date | None = None,
) -> None:
    """Raises LedgerError, with figures, if ``eggs`` more cannot be packed (``on`` a day) or held (None)."""
    if lot not in counted:
        mend = say("Write it in lots with its count; if it was renamed, write `was {lot}` in its note.", lot)
        raise LedgerError(say("lot {lot} is not in the tables.", lot), mend)
    count, name = counted[lot], name_now(lot, counted)
    before = packings_by_name(packed, counted, (name,)).get(name, ())
    if on is not None and count.count_for(on) is None:
        first = count.all_counts[0].on
        text = say("lot {name} was first counted on {counted_on}, after {on}.", name, first, on)
        raise LedgerError(text, "Give the day it was packed, or mend counted_on of the lot.")
    lacking = count.lacking((*before, count.packing(on or date.max, eggs)))
    known = count.lacking(before)
    for counted_then, more, less in zip(count.all_counts[:-1], lacking, known, strict=False):
        if more > less:
            day = counted_then.on
            text = say(
                "{eggs} eggs of lot {lot} packed on {on} do not fit what was counted on {day} and after it.",
                *(eggs, name, on, day),
            )
            mend = "Give the day they were packed; `yes` in before_packing of a look says that it came first."
            raise LedgerError(text, mend)
    if lacking[-1] <= (known[-1] if on is not None else 0):
        return
    left = count.left(before)
    what = say("held or would be") if on is None else say("to be packed")
    text = say(
        "lot {name} has {left} eggs left ({eggs} counted on {counted_on}, {packed}"
        " packed since), but {wanted} are {what}.",
        *(name, max(0, left), count.eggs, count.counted_on, count.eggs - left, eggs, what),
    )
    raise LedgerError(text, "Pack fewer, or count the lot again and write a look.")


def packed_as_counted(
    packed: Mapping[str, Sequence[PackedEggs]], counted: Mapping[str, LotCounts]
) -> dict[str, dict[date, int]]:
    """Eggs packed by lot (its present name) and day, as counts see them: what `Shelf.packed` holds.

    Eggs that a count of the same day no longer found are set to the day before, so that a count always
    stands before the packings of its own day.
    """
    by_day: dict[str, dict[date, int]] = {}
    for recorded in sorted(packed):
        name = name_now(recorded, counted)
        days = by_day.setdefault(name, {})
        for packing in packed[recorded]:
            counts = counted[name].all_counts if name in counted else ()
            is_gone = any(count.on == packing.on and not count.is_before(packing) for count in counts)
            on = packing.on - timedelta(days=1) if is_gone else packing.on
            days[on] = days.get(on, 0) + packing.eggs
    return {lot: dict(sorted(by_day[lot].items())) for lot in sorted(by_day)}


def packed_between_counts(
    packed: Mapping[str, Sequence[PackedEggs]], counted: Mapping[str, LotCounts]
) -> dict[str, int]:
    """Eggs of each lot, by present names, packed between its own count and the last of that very day."""
    between = {}
    for lot, packings in packed.items():
        counts = counted[lot].all_counts if lot in counted else ()
        if len(counts) > 1 and counts[0].on == counts[-1].on:
            between[lot] = eggs_between(packings, counts[0], counts[-1])
    return between


def packed_beyond(
    packed: Mapping[str, Sequence[PackedEggs]], counted: Mapping[str, LotCounts]
) -> Iterator[Problem]:
    """Lots that gave more than they held; ``packed`` by the names they have now."""
    for lot, count in sorted(counted.items()):
        left = count.left(packed.get(lot, ()))
        if lot == name_now(lot, counted) and left < 0:
            text = say(
                "{eggs} eggs were packed from lot {lot} since {count_eggs} were counted on {counted_on}.",
                *(count.eggs - left, lot, count.eggs, count.counted_on),
            )
            mend = "Count the lot again and write a look."
            yield Problem(Where(LEDGER_FILE), "", "ledger", text, mend, Level.LOT)
