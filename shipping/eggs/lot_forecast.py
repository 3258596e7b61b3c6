"""What one lot holds and when it hatches: table rows and looks in; counts, dates and doubts out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property, lru_cache

import numpy as np

from shipping.eggs.clock import (
    OVERDUE_UNDER,
    Clock,
    Floats,
    LotClock,
    ShelfHeat,
    Sighting,
    kept_on,
    kept_temperatures,
    lot_clock,
    shelf_heat,
    sightings,
)
from shipping.tables.rows.lots import STAGES, Bound, Look, Lot, bounds
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.words.keys import IdentityKey
from shipping.words.reasons import Reason
from shipping.words.units import many, percent


@dataclass(frozen=True, slots=True)
class Count:
    """The last count: live eggs on a day; looks tell of ``known_gone`` taken out or hatched since."""

    eggs: int
    on: date
    known_gone: int


def last_count(lot: Lot, looks: tuple[Look, ...]) -> Count:
    """The last count, and what looks without one say was taken out or had hatched since."""
    counts = [(lot.counted_on, 0, lot.eggs)]
    counts += [(look.on, 1, look.alive) for look in looks if look.alive is not None]
    on, is_recount, eggs = max(counts)
    later = (look for look in looks if (look.on, 0) >= (on, is_recount) and look.alive is None)
    return Count(eggs, on, min(eggs, sum((look.removed or 0) + (look.hatched or 0) for look in later)))


#: A share this little short of the one asked for is that share: the 95 % point is written to four places.
SHARE_ROUNDING = 2e-5
#: A count is old once so large a share of it is reckoned gone since. Assumed.
OLD_COUNT = 0.1
#: A look that moves the end of wetting further is said: months, not weeks. Ours.
MOVED_D = 60
#: No date is looked for beyond this many days.
HORIZON_D = 3650


@dataclass(frozen=True, eq=False)
class LotForecast:
    """One lot as it stands on ``today``, with all its evidence weighed; ask `lot_forecast` for one.

    It is small, since ten thousand lots have one each; what lots laid, kept and seen alike share is
    ``alike``.
    """

    lot: Lot
    species: Species
    today: date
    heat: ShelfHeat
    sightings: tuple[Sighting, ...]
    alike: LotClock
    count: Count
    packed: tuple[tuple[date, int], ...]
    held: tuple[tuple[date, int], ...]
    held_for: tuple[str, ...]
    temperatures: tuple[tuple[date, float], ...]
    shelf_loss_per_day: float
    look_spread: float
    settle_d: int
    recount: Bound | None
    came_back: tuple[date, int] | None

    @property
    def prior(self) -> Clock:
        """The clock before any look."""
        return self.alike.prior

    @property
    def clock(self) -> Clock:
        """The clock after all looks."""
        return self.alike.clock

    @property
    def likelihood(self) -> float:
        """The likelihood of the stages seen, given that eggs live on the last day that somebody saw them."""
        return self.alike.likelihood

    @property
    def stage(self) -> str:
        """The furthest stage a look has shown; ``laid`` where none has."""
        return self.alike.stage

    @property
    def stage_seen(self) -> str:
        """The furthest stage a look has shown; "" where none has: a count alone saw none."""
        return self.stage if any(one.stage for one in self.sightings) else ""

    @property
    def known_fertile(self) -> bool:
        return self.stage != "laid"

    @property
    def last_seen(self) -> date:
        """The day live eggs were last seen."""
        return self.alike.last_seen

    def x(self, day: date) -> float:
        """What the shelf has gathered by ``day`` [C-d]."""
        return self.heat.at(day)

    def x_on(self, days: Sequence[date]) -> Floats:
        """What the shelf has gathered by each day [C-d], (days,)."""
        return self.heat.on(days)

    def kept_at_c(self, day: date) -> float:
        """What the lot is kept at on a day [C]."""
        return kept_on(day, self.temperatures)

    def is_unsettled(self, day: date) -> bool:
        """Were eggs of it laid so shortly before ``day`` that they bear no jolts?"""
        return (day - self.lot.laid_to).days < self.settle_d

    @cached_property
    def wetting(self) -> tuple[date | None, date | None]:
        """From when to when damp eggs should be wetted: the breeder's days, else by the clock (5, 95 %)."""
        if not self.lot.kept_damp:
            return None, None
        by_clock = self.days_hatched((0.05, 0.95))
        until = self.lot.wet_until or by_clock[1]
        begin = self.lot.wet_from or by_clock[0]
        return (min(begin, until) if begin and until else begin), until

    @cached_property
    def rests_on(self) -> tuple[Sighting, date, date] | None:
        """The last look without eyes, and from when to when eggs kept damp would be wetted had it not been,
        where it moves their end by more than `MOVED_D`; None too where the breeder's own day holds.
        """
        seen = max(
            (one for one in self.sightings if one.stage == "fertile"), key=lambda one: one.on, default=None
        )
        if not self.lot.kept_damp or seen is None or not self.has_dates or self.lot.wet_until:
            return None
        others = tuple(replace(one, stage=None) if one.stage == "fertile" else one for one in self.sightings)
        alike = lot_clock(self.species, self.lot, self.heat, others, self.look_spread)
        first, last = replace(self, sightings=others, alike=alike).wetting
        until = self.wetting[1]
        if not (first and last and until) or (until - last).days <= MOVED_D:
            return None
        return seen, first, last

    @cached_property
    def last_wetting(self) -> date | None:
        """The last day on which eggs kept damp may be wetted; None: not kept damp, or never ready as kept.

        Notes
        -----
        The end of wetting, or the day live eggs were seen after it, plus what ready eggs keep.
        """
        until = self.wetting[1]
        if until is None:
            return None
        return max(until, self.last_seen) + timedelta(days=int(self.species.keeps_ready_d))

    def past_wetting_on_arrival(self, day: date, arrival: date) -> Reason | None:
        """Why eggs packed on ``day`` must not travel until then; None where they may or are past it."""

        last = self.last_wetting
        return late_for_wetting(self, last, arrival) if last and day <= last < arrival else None

    def prior_whole(self, day: date) -> float:
        """The prior chance of being whole on ``day``, averaged over laying days; 1 for eggs kept damp."""
        return float(self.alike.prior_whole_on((day,))[0])

    @property
    def is_overdue(self) -> bool:
        """Were live eggs seen when hardly any should have been whole?"""
        return self.alike.is_overdue

    @property
    def is_misdated(self) -> bool:
        """Do stages and clock disagree? Overdue comes first; a breeder's wetting days beat a clock."""
        lot = self.lot
        return self.alike.is_misdated and not (self.species.is_damp and lot.wet_from and lot.wet_until)

    def is_too_old(self, day: date) -> bool:
        """Is it presumed hatched by ``day``, until someone looks?"""
        return not self.is_overdue and self.prior_whole(day) < OVERDUE_UNDER

    @property
    def has_dates(self) -> bool:
        """Can its clock be asked at all?"""
        return not (self.is_overdue or self.is_misdated)

    def doubts_on(self, days: Sequence[date]) -> list[tuple[str, ...]]:
        """The codes of `doubts`, for each day."""
        of_eggs = (("recount", self.recount), ("came-back", self.came_back))
        always = tuple(code for code, found in of_eggs if found)
        if not always and self.is_emptied:
            return [()] * len(days)
        if not self.has_dates:
            return [(*always, "overdue" if self.is_overdue else "misdated")] * len(days)
        if self.lot.kept_damp:
            last = self.last_wetting
            return [(*always, "past-wetting") if last and day > last else always for day in days]
        too_old = self.alike.prior_whole_on(days) < OVERDUE_UNDER
        return [(*always, "too-old") if old else always for old in too_old.tolist()]

    def doubts(self, day: date) -> tuple[Reason, ...]:
        """Why nothing of the lot may be packed on ``day`` before a person looks; empty: nothing."""

        return tuple(doubt(self, code, day) for code in self.doubts_on((day,))[0])

    def only_waits(self, day: date) -> bool:
        """Was it seen whole past its late day on ``day`` itself, so that no look of that day tells more?"""
        return self.last_seen == day and self.doubts_on((day,)) == [("overdue",)]

    @property
    def is_emptied(self) -> bool:
        """Has every egg of the last count been packed, or seen to hatch or die? Then nobody need look."""
        return self.count.eggs - self.count.known_gone <= self.packed_since_count(date.max)

    def packed_since_count(self, day: date) -> int:
        """Eggs the ledger says were packed after the count, up to ``day``."""
        return sum(eggs for on, eggs in self.packed if self.count.on <= on <= day)

    def eggs_on(self, day: date) -> int:
        """Live, whole eggs reckoned for ``day``, less what was packed since the count and what is held."""
        return self._eggs_on((day,), self.taken_on((day,)))[0]

    def is_about(self, day: date) -> bool:
        """Are a day's eggs only about so many: not every one was counted, or losses since are reckoned?"""
        held = sum(eggs for _, eggs in self.held)
        counted = self.count.eggs - self.count.known_gone - self.packed_since_count(day) - held
        return self.lot.count_basis == "estimated" or self.eggs_on(day) < max(0, counted)

    def free_words(self, free: int, day: date) -> str:
        """``about 7 eggs free on 2026-12-01 beside 47 set aside for 2026-W49-04``."""
        facts = self.free_facts(free, day)
        aside = f" beside {facts['set_aside']} set aside for {facts['set_aside_for']}"
        back = f"{' and' if facts['set_aside_for'] else ' beside'} {self.lot.keep_back} kept back"
        return (
            f"{'about ' * bool(facts['about'])}{many(free, 'egg')} free on {day}"
            f"{aside * bool(facts['set_aside_for'])}{back * bool(self.lot.keep_back)}"
        )

    def free_facts(self, free: int, day: date) -> dict[str, object]:
        """What a reason tells of eggs too few: how many are free, set aside for whom, or kept back."""
        aside = sum(eggs for _, eggs in self.held)
        return {
            "lot": self.lot.lot,
            "on": day.isoformat(),
            "free": free,
            "about": free > 0 and self.is_about(day),
            "set_aside": aside if self.held_for else 0,
            "set_aside_for": ", ".join(self.held_for),
            **({"kept_back": self.lot.keep_back} if self.lot.keep_back else {}),
        }

    def _eggs_on(self, days: Sequence[date], taken: Sequence[float]) -> list[int]:
        upto = [max(day, self.today) for day in days]
        most = self.count.eggs - self.count.known_gone
        held = sum(eggs for _, eggs in self.held)
        left = [most - self.packed_since_count(day) - held for day in upto]
        if self.has_dates:
            shares = zip(self.shares_left(days), taken, strict=True)
            for n, (share, gone) in enumerate(shares):
                left[n] = min(left[n], math.floor(self.count.eggs * share - gone + 1e-9))
        return [max(0, eggs) for eggs in left]

    def taken_on(self, days: Sequence[date]) -> list[float]:
        """How many of the eggs packed since the count, or held, would be whole here on each day.

        Notes
        -----
        Not all would live and stay whole till then: of n that leave on a day on which the share S is left,
        n / S of those counted are gone. Until their day all that are held are there.
        """
        away = [(on, eggs) for on, eggs in (*self.packed, *self.held) if on >= self.count.on]
        shares = self.shares_left((*days, *(on for on, _ in away)))
        leaving = list(zip(away, shares[len(days) :], strict=True))
        return [
            sum(eggs * min(1.0, share / then) for (_, eggs), then in leaving if then > 0)
            for share in shares[: len(days)]
        ]

    def set_aside_on(self, days: Sequence[date]) -> list[float]:
        """`taken_on`, and what is lost from each day on of as many as must be whole for those held to leave.

        Notes
        -----
        For n to leave on a day on which the share S is left, n s / S must be here while s is. Where by then
        not one egg of the lot would be left nothing more is set aside: that parcel goes sooner or not at all.
        """
        shares = self.shares_left((*days, *(on for on, _ in self.held)))
        leaving = zip(self.held, shares[len(days) :], strict=True)
        going = [(eggs, then) for (_, eggs), then in leaving if self.count.eggs * then >= 1.0]
        return [
            taken + sum(eggs * max(0.0, share / then - 1.0) for eggs, then in going)
            for taken, share in zip(self.taken_on(days), shares[: len(days)], strict=True)
        ]

    def is_guess(self, day: date, left: int = 0) -> bool:
        """Is the count old by ``day``, and would too few be there if twice as many had gone as reckoned?
        ``left`` are the eggs free that day beyond those drawn.
        """
        held = sum(eggs for _, eggs in self.held)
        there = self.count.eggs - self.count.known_gone - self.packed_since_count(day) - held
        gone = there - self.eggs_on(day)
        return gone >= OLD_COUNT * self.count.eggs > 0 and left < gone

    def shares_left(self, days: Sequence[date]) -> list[float]:
        """The share of the eggs counted that still lives here, whole, on each day."""
        since = np.array([max(0, (day - self.count.on).days) for day in days], dtype=np.float64)
        share = self._whole_since_count(days) * np.exp(-self.shelf_loss_per_day * since)
        return [float(one) for one in share]

    def _whole_since_count(self, days: Sequence[date]) -> Floats:
        """The share of the eggs counted that is still whole on each day (days,)."""
        if self.lot.kept_damp:
            return np.ones(len(days))
        weights = self.alike.whole_on((self.count.on, *days))
        return np.asarray(weights[1:] / weights[0]) if weights[0] > 0 else np.zeros(len(days))

    def free_on(self, day: date) -> int:
        """Eggs free to pack on ``day``, less those kept back; none of a lot to be looked at."""
        days = (day,)
        return self._free(self.doubts_on(days), self._eggs_on(days, self.taken_on(days)))[0]

    def standing_on(self, days: Sequence[date]) -> tuple[list[tuple[str, ...]], list[int]]:
        """Codes of `doubts` and eggs to pack by day: those `free_on` it that last to later days' holds."""
        doubts = self.doubts_on(days)
        return doubts, self._free(doubts, self._eggs_on(days, self.set_aside_on(days)))

    def _free(self, doubts: Sequence[tuple[str, ...]], eggs: Sequence[int]) -> list[int]:
        return [0 if codes else max(0, n - self.lot.keep_back) for codes, n in zip(doubts, eggs, strict=True)]

    def is_sendable(self, send_from: str) -> bool:
        """Has a look shown a stage from which its eggs may go: its species' own, else the shelf's?"""
        enough = "fertile" if self.lot.kept_damp else self.species.send_from or send_from
        return STAGES.index(self.stage) >= STAGES.index(enough)

    def clock_with_eyes(self, day: date) -> Clock:
        """The clock as if a look on ``day`` had said `eyed`."""
        return self.alike.clock_with_eyes(day)

    def share_eyed(self, day: date) -> float:
        """The share of the eggs whole on ``day`` that show eyes; none where a look that day saw none."""
        return self.shares_eyed((day,))[0]

    def shares_eyed(self, days: Sequence[date]) -> list[float]:
        """`share_eyed` of each of some days."""
        unseen = {seen.on for seen in self.sightings if seen.stage in ("laid", "fertile")}
        shares = self.alike.shares_eyed(days)
        return [0.0 if day in unseen else share for day, share in zip(days, shares, strict=True)]

    def day_hatched(self, share: float) -> date | None:
        """The first day by which ``share`` of the eggs whole today has hatched, kept as they are kept.

        For eggs kept damp: the first day by which that share is ready to be wetted, whenever that was. None:
        never, within ten years, or not to be reckoned.
        """
        return self.days_hatched((share,))[0]

    def days_hatched(self, shares: Sequence[float]) -> list[date | None]:
        """`day_hatched` of some shares: few days at first, then four times as many, until all hatched."""
        found: list[date | None] = [None] * len(shares)
        if not self.has_dates:
            return found
        start = self.lot.laid_from if self.lot.kept_damp else self.today
        whole = self.clock.total if self.lot.kept_damp else float(self.clock.whole(self.x(start))[0])
        limits = [whole * (1.0 - share + SHARE_ROUNDING) for share in shares]
        tried, upto = 0, 32
        while whole > 0 and tried <= HORIZON_D and None in found:
            at = self.x_on([start + timedelta(days=n) for n in range(tried, min(upto, HORIZON_D + 1))])
            left = self.clock.weight_beyond(at) if self.lot.kept_damp else self.clock.whole(at)
            for n, limit in enumerate(limits):
                if found[n] is None and (left <= limit).any():
                    found[n] = start + timedelta(days=tried + int(np.argmax(left <= limit)))
            tried, upto = upto, 4 * upto
        return found


def lot_forecast(shelf: Shelf, name: str) -> LotForecast:
    """The forecast of one lot of a shelf; reckoned once a shelf and lot."""
    return _lot_forecast(IdentityKey(shelf), name)


@lru_cache(maxsize=20_000)
def _lot_forecast(key: IdentityKey[Shelf], name: str) -> LotForecast:
    shelf = key.value
    lot = shelf.lot_by_name[name]
    looks = shelf.looks_by_lot.get(name, ())
    species = shelf.species_of(lot.species, lot.population)
    plan = shelf.settings.plan
    packed = tuple(sorted(shelf.packed.get(lot.lot, {}).items()))
    between = shelf.packed_between.get(lot.lot, 0)
    heat, seen = shelf_heat(species, lot, looks), sightings(lot, looks)
    return LotForecast(
        lot=lot,
        species=species,
        today=shelf.today,
        heat=heat,
        temperatures=kept_temperatures(lot, looks),
        sightings=seen,
        alike=lot_clock(species, lot, heat, seen, plan.look_spread),
        count=last_count(lot, looks),
        packed=packed,
        held=tuple(sorted(shelf.held.get(lot.lot, {}).items())),
        held_for=shelf.held_for.get(lot.lot, ()),
        shelf_loss_per_day=plan.shelf_loss_per_day,
        look_spread=plan.look_spread,
        settle_d=plan.settle_d,
        came_back=_came_back_unseen(shelf.came_back.get(lot.lot, ()), lot, looks),
        recount=next((bound for bound in bounds(lot, looks, packed, between) if bound.excess), None),
    )


def _came_back_unseen(
    back: Sequence[tuple[date, int]], lot: Lot, looks: tuple[Look, ...]
) -> tuple[date, int] | None:
    """The last day on which eggs came back to a lot, and how many in all, since anybody saw it; else None.

    On the way they were warmed or chilled as no other egg of it was: a look from that day on tells, but none
    of that very day that says it was made before the parcels.
    """

    def is_seen(day: date) -> bool:
        after = tuple(look for look in looks if look.on != day or not look.before_packing)
        return any(one.on >= day for one in sightings(lot, after))

    unseen = [(day, eggs) for day, eggs in back if eggs and not is_seen(day)]
    return (max(day for day, _ in unseen), sum(eggs for _, eggs in unseen)) if unseen else None


def doubt(forecast: LotForecast, code: str, day: date) -> Reason:
    """The reason of a code that `LotForecast.doubts_on` gave for a day."""
    lot = forecast.lot
    facts: dict[str, object] = {
        "lot": lot.lot,
        "last_seen": forecast.last_seen.isoformat(),
        "whole_by_the_table": round(forecast.prior_whole(forecast.last_seen), 6),
    }
    if code == "recount" and forecast.recount:
        text = _recount_text(lot.lot, forecast.recount)
        return Reason(code, text, facts | {"excess": forecast.recount.excess}, "looks")
    if code == "came-back" and forecast.came_back:
        day, eggs = forecast.came_back
        text = (
            f"{many(eggs, 'egg')} came back to lot {lot.lot} on {day}, unseen since, and may be nearer to"
            " hatching than the others: look, and write down what you see."
        )
        return Reason(code, text, facts | {"came_back_on": day.isoformat(), "eggs": eggs}, "ledger")
    if code == "overdue":
        return Reason(code, _overdue_text(forecast), facts, lot.cited)
    if code == "misdated":
        return Reason(code, _misdated_text(forecast), facts | {"likelihood": forecast.likelihood}, "clock")
    if code == "past-wetting" and forecast.last_wetting:
        facts["last_wetting_day"] = forecast.last_wetting.isoformat()
        return Reason(code, _past_wetting_text(forecast), facts, lot.cited)
    first, last = forecast.days_hatched((0.05, 0.95))
    if first and last and forecast.today < first and last < day:
        text = f"Lot {lot.lot} hatches {first} to {last}, before {day}."
        ahead = {"hatches_from": first.isoformat(), "hatches_until": last.isoformat()}
        return Reason(code, text, facts | ahead | {"on": day.isoformat()}, "clock")
    text = (
        f"Lot {lot.lot} was last seen whole on {forecast.last_seen}; by {day} it is presumed hatched "
        f"({percent(forecast.prior_whole(day))} would be whole). Look, and write down what you see."
    )
    return Reason(code, text, facts | {"on": day.isoformat()}, "clock")


def late_for_wetting(forecast: LotForecast, last: date, arrival: date) -> Reason:
    """The reason of eggs kept damp that would still be on the way after their last wetting day."""
    lot = forecast.lot.lot
    text = (
        f"Lot {lot} must be wetted by {last}, and the 95 % arrival is {arrival}: take a faster service or an"
        " earlier day."
    )
    facts: dict[str, object] = {"lot": lot, "last_wetting_day": last.isoformat(), "p95": arrival.isoformat()}
    return Reason("past-wetting", text, facts, forecast.lot.cited)


def _past_wetting_text(forecast: LotForecast) -> str:
    lot, until = forecast.lot, forecast.wetting[1]
    whose = "as you wrote" if lot.wet_until else "by the clock"
    return (
        f"Lot {lot.lot} was to be wetted by {until} ({whose}), and eggs that are ready keep damp for"
        f" {forecast.species.keeps_ready_d:g} days: {forecast.last_wetting} has passed. Look, and write down"
        " what you see; live eggs move the day."
    )


def _overdue_text(forecast: LotForecast) -> str:
    days = forecast.species.hatch_days
    return (
        f"Lot {forecast.lot.lot} was whole on {forecast.last_seen}, when by the table (hatching"
        f" {days.early:g} to {days.late:g} days at {forecast.species.incubation_c:g} °C) under 1 % should be."
        " It may wait for a cue and hatch any day: look, and do not put it in a tube."
        f"{_of_another_year(forecast)}"
    )


def _of_another_year(forecast: LotForecast) -> str:
    """A question about the year, where eggs laid a year later would fit what was seen; else nothing."""
    lot = forecast.lot
    later = lot.laid_to + timedelta(days=365)
    if later > forecast.last_seen:
        return ""
    return f" Or was it laid in {later.year}, not in {lot.laid_to.year}? Then mend laid_from and laid_to."


def _recount_text(lot: str, bound: Bound) -> str:
    look = bound.look
    if bound.column == "alive":
        said = f"{look.alive} eggs counted on {look.on}, {bound.excess} more than can be there ({bound.most})"
    else:
        said = (
            f"{bound.most + bound.excess} hatched or removed on {look.on}, of {bound.most} that can be left"
        )
    return f"Lot {lot}: {said}. Count again, or correct the earlier count ({look.cited})."


def _misdated_text(forecast: LotForecast) -> str:
    """Which look and which value of the table disagree most."""
    lot, species = forecast.lot, forecast.species
    sleep = species.is_damp and lot.kept_damp
    worst = min(
        (seen for seen in forecast.sightings if seen.stage and seen.stage != "laid"),
        key=lambda seen: _likelihood_of(forecast, seen),
    )
    return (
        f"Lot {lot.lot}: '{worst.stage}' on {worst.on} ({worst.row}) does not fit laying {lot.laid_from} "
        f"to {lot.laid_to}, {lot.kept_at_c:g} °C and hatching {species.hatch_early_d:g} to "
        f"{species.hatch_late_d:g} days at {species.incubation_c:g} °C (chance {forecast.likelihood:.1e}). "
        "Look again: either the stage or one of those values is wrong."
        f"{' Or they sleep: then write your own wet_from and wet_until.' * sleep}{_of_another_year(forecast)}"
    )


def _likelihood_of(forecast: LotForecast, sighting: Sighting) -> float:
    """The likelihood of one look alone, given that eggs live on its day."""
    at = forecast.x(sighting.on)
    seen = forecast.prior.seen(sighting.stage or "laid", at, forecast.species, forecast.look_spread)
    before = float(forecast.prior.whole(at)[0])
    return float(seen.whole(at)[0]) / before if before > 0 else 0.0
