"""Does the promise still hold? A kept line and its counted eggs in, its chance out; of a late parcel too."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.packing_day import (
    chance_of_enough,
    is_kept,
    promised_share,
    reckoned_on,
    rides_of,
    unit_cautions,
    unit_too_full,
)
from shipping.post.calendar import cut_off_of
from shipping.words.reasons import Reason, nearest_first
from shipping.words.units import percent
from shipping.worktop.kept_week import Kept, in_packing_order
from shipping.worktop.page_language import day_words, past_text, tr
from shipping.worktop.running_list import cause_text

if TYPE_CHECKING:
    from shipping.options.option_factory import OptionFactory
    from shipping.worktop.shelf_state import ShelfState, Tables

#: So many late parcels are reckoned anew on one page.
MOST_RECKONED = 12


@dataclass(frozen=True, slots=True)
class LinePromise:
    """The chance that at least the eggs ordered arrive alive; None where the tables lack its grounds.
    ``too_full``: what a tube or bag does not hold.
    """

    chance: float | None
    promised: float
    cautions: tuple[str, ...] = ()
    too_full: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        return self.chance is not None and is_kept(self.promised, self.chance)

    def words(self, ordered: int) -> str:
        """How sure it is that as many as were ordered arrive alive, beside what was promised."""
        if self.chance is None:
            return tr(
                "The chance cannot be reckoned again: the order, lot, packing or service is no longer in the"
                " tables."
            )
        if self.holds:
            return tr(
                "Your promise holds: {chance} sure that {eggs} or more arrive alive.",
                chance=percent(self.chance),
                eggs=ordered,
            )
        return tr(
            "Your promise does not hold: {chance} sure that {eggs} or more arrive alive, {promised}"
            " promised.",
            chance=percent(self.chance),
            promised=percent(self.promised),
            eggs=ordered,
        )


def line_promise(
    factory: OptionFactory,
    parcel: KeptParcel,
    line: KeptLine,
    units: Mapping[str, Sequence[int]],
    day: date | None = None,
) -> LinePromise:
    """The chance of enough for a line with these eggs; ``units`` are the eggs of each tube or bag, by lot. It
    leaves as planned, or from ``day`` on.

    Notes
    -----
    The chance is the plan's own: survivors of each lot beta-binomial given the day of arrival, lots
    independent.
    """
    promised = promised_share(factory.shelf, line)
    rides = rides_of(factory, parcel, line, day)
    if isinstance(rides, str):
        return LinePromise(None, promised)
    counted = {lot: sum(eggs) for lot, eggs in units.items() if sum(eggs)}
    cautions = [text for lot in sorted(counted) for text in unit_cautions(rides[lot], tuple(units[lot]))]
    too_full = [
        text for lot in sorted(counted) for text in unit_too_full(rides[lot].packing, tuple(units[lot]))
    ]
    chance = chance_of_enough(rides, counted, line.ordered)
    return LinePromise(chance, promised, tuple(dict.fromkeys(cautions)), tuple(too_full))


@dataclass(frozen=True, slots=True)
class Outlook:
    """A late parcel as it would go on the next day of hand-over, ``leaves``; None where what it rests on is
    gone from the tables. ``against`` it speaks what would stop it; ``chance`` is that of its worst line, and
    ``hatching`` the first of its lots to hatch as it is kept, with the day.
    """

    leaves: date | None
    service: str
    hour: str
    against: tuple[Reason, ...]
    chance: float
    holds: bool
    hatching: tuple[str, date] | None

    @property
    def only_look(self) -> bool:
        """Is all that is missing that somebody sees eyes?"""
        return bool(self.against) and all(reason.code == "look-first" for reason in self.against)

    @property
    def may_go(self) -> bool:
        return self.leaves is not None and not self.against and self.holds

    @property
    def is_barred(self) -> bool:
        """Must it not go any more as it is?"""
        return not self.may_go and not self.only_look

    def words(self, today: date) -> str:
        """In one or two sentences, what can still be done with it."""
        if self.leaves is None:
            return tr("Its order, lot, packing or service is not in your tables any more.")
        if self.only_look:
            return tr("Look first: {why}", why=cause_text(self.against[0]))
        if self.against:
            return tr("Do not send it as it is. {why}", why=cause_text(self.against[0]))
        if not self.holds:
            return tr(
                "Too risky now: {chance} sure that enough arrive alive. Give it more eggs, or move it.",
                chance=percent(self.chance),
            )
        sure = tr("{chance} sure that enough arrive alive.", chance=percent(self.chance))
        return f"{self._when(today)} {sure}"

    def _when(self, today: date) -> str:
        if self.leaves == today:
            if past := past_text(self.hour, today):
                return past
            said = tr("It may still go today by {service}.", service=self.service)
            if self.hour:
                return tr(
                    "It may still go today by {service}, until {hour}.", service=self.service, hour=self.hour
                )
            return said
        return tr("It may still go on {day} by {service}.", day=day_words(self.leaves), service=self.service)


def outlooks(every: Iterable[Kept], shelf_state: ShelfState) -> dict[str, Outlook]:
    """The outlook of each parcel past its day, by its name, of the first where there are many; and of those
    of today that something stops now.
    """
    tables, today = shelf_state.readable_tables(), shelf_state.today_of()
    listed = in_packing_order(every)
    late = [one for one in listed if one.parcel.is_overdue(today)][:MOST_RECKONED]
    due = [one for one in listed if one.parcel.is_planned and one.parcel.dispatch_on == today]
    with shelf_state.lock:
        found = {one.name: outlook_told(one, tables, today) for one in (*late, *due)}
    return {name: one for name, one in found.items() if one}


def outlook_told(kept: Kept, tables: Tables, today: date) -> Outlook | None:
    """The outlook of a parcel past its day, and of one to pack that something stops since it was planned."""
    if kept.parcel.is_overdue(today):
        return outlook(kept, tables, today)
    found = outlook(kept, tables, today) if kept.parcel.is_planned else None
    return found if found and found.against and not found.only_look else None


def outlook(kept: Kept, tables: Tables, today: date) -> Outlook:
    """How a parcel stands if it goes on the next day of hand-over."""
    parcel, factory = kept.parcel, tables.factory
    counts = parcel.counts or parcel.planned_counts()
    hour = cut_off_of(parcel.service, tables.known) or ""
    found = reckoned_on(factory, parcel, counts, today, tables.counted)
    if found.gone:
        return Outlook(None, parcel.service, hour, (), 0.0, False, None)
    rides = rides_of(factory, parcel, parcel.lines[0], today, tables.counted)
    leg = next(iter(rides.values())).leg if isinstance(rides, dict) else None
    chances = {(one.order, one.line): one.p_enough for one in found.chances}
    return Outlook(
        leaves=leg.day if leg else None,
        service=parcel.service,
        hour=hour,
        against=_stopping_first(found.against),
        chance=min(chances.values()),
        holds=all(is_kept(promised_share(tables.known, line), chances[line.key]) for line in parcel.lines),
        hatching=_first_to_hatch(kept, tables),
    )


def _stopping_first(against: Sequence[Reason]) -> tuple[Reason, ...]:
    """What stands in the way, and after it what a look would tell."""
    return tuple(sorted(nearest_first(list(against)), key=lambda reason: reason.code == "look-first"))


def _first_to_hatch(kept: Kept, tables: Tables) -> tuple[str, date] | None:
    """The lot of a parcel that hatches first, and the day by which 5 % of it have, kept as it is."""
    lots = {draw.lot for line in kept.parcel.lines for draw in line.draws}
    days = {
        lot: day
        for lot in sorted(lots & tables.known.lot_by_name.keys())
        if not tables.known.lot_by_name[lot].kept_damp
        and (day := lot_forecast(tables.known, lot).day_hatched(0.05))
    }
    return min(days.items(), key=lambda one: one[1], default=None)
