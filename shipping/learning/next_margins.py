"""What next week's margins would be: a shelf, outcomes and a lesson in, eggs before and after out."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from shipping.learning.lesson import Lesson, learn, losses_if
from shipping.learning.outcomes import Outcome, all_outcomes
from shipping.learning.silence import fry_question, silence
from shipping.ledger.kept_parcel import KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.ledger.planning_again import shelf_left
from shipping.options.option_factory import OptionFactory
from shipping.questions.margin import Margin, margin_of_route
from shipping.tables.countries import countries, with_the
from shipping.tables.learned_values import applied
from shipping.tables.rows.learned import RateRow
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.objective import default_week, dispatch_days, next_week
from shipping.words.keys import LineKey
from shipping.words.sentence import say
from shipping.words.units import Written, iso_week, percent, rounded

#: A packing, a service and a country.
Route = tuple[str, str, str]
#: Routes shown, those most used first.
MOST_ROUTES = 12
#: Kept lines that are named, the others are counted.
MOST_LINES = 6
#: Eggs of a typical line where no order is in hand.
TYPICAL_EGGS = 20
#: Of more lines told of, one alone moves no count by much.
FEW_LINES = 30


@dataclass(frozen=True, slots=True)
class NextMargin:
    """Eggs to pack for ``ordered`` eggs seen eyed, in a packing by a service, now and as learned."""

    packing: str
    service: str
    to: str
    on: date
    ordered: int
    before: Margin
    after: Margin
    least: int | None = None
    most: int | None = None
    kept: tuple[str, ...] = ()

    @property
    def route(self) -> Route:
        return (self.packing, self.service, self.to)

    @property
    def spoken_route(self) -> Route:
        """The same with the country by its name."""
        return (self.packing, self.service, _by_name(self.to))

    @property
    def sure(self) -> str:
        """Between what the count lies by the intervals of the losses; "" where none was reckoned."""
        if self.least is None:
            return ""
        most = self.most or say("more than any count")
        return say(" ({least} to {most}, by what is known of the losses)", self.least, most)

    @property
    def line(self) -> str:
        """One line for a person."""
        packs = (self.before.pack, self.after.pack)
        before, after = (str(pack) if pack else say("no count is enough") for pack in packs)
        return say("  {packing}, {service} to {to}: {before} -> {after}", *self.spoken_route, before, after)

    def as_json(self) -> dict[str, object]:
        return {
            "packing": self.packing,
            "service": self.service,
            "to": self.to,
            "on": self.on.isoformat(),
            "ordered": self.ordered,
            "pack_before": self.before.pack,
            "pack_after": self.after.pack,
            "pack_least": self.least,
            "pack_most": self.most,
            "kept_lines": list(self.kept),
            "expected_alive_before": rounded(self.before.expected_alive),
            "expected_alive_after": rounded(self.after.expected_alive),
        }


@dataclass(frozen=True)
class LearningReport:
    """What arrivals and looks teach, and what that changes next week, in sentences; "" where there is none to
    say: what of ``orders`` in hand goes no more or needs other eggs, ``one_line`` on which most of it rests,
    ``mishaps``, eggs ``left_out`` of reports, what ``silence`` may mean, and of ``fry``.
    """

    shelf: Shelf
    outcomes: tuple[Outcome, ...]
    lesson: Lesson
    margins: tuple[NextMargin, ...]
    orders: tuple[str, ...]
    one_line: str
    mishaps: str
    left_out: str
    silence: tuple[str, str]
    fry: str


def learning_report(shelf: Shelf, ledger: Ledger) -> LearningReport:
    """Everything that what a ledger holds teaches, and the shelf as it leaves it."""
    shelf, outcomes, kept = all_outcomes(shelf, ledger)
    lesson = learn(shelf, outcomes)
    margins = next_margins(shelf, outcomes, lesson, kept)
    return LearningReport(
        shelf,
        outcomes,
        lesson,
        margins,
        tuple(orders_changed(shelf, ledger, lesson)),
        one_line_sentence(shelf, outcomes, margins),
        mishap_sentence(lesson),
        left_out_sentence(outcomes),
        (lesson.silence, silence_sentence(shelf, outcomes, margins)),
        fry_question(outcomes),
    )


def _changed(margins: Iterable[NextMargin]) -> list[NextMargin]:
    """Those whose count changes, the one that changes most first."""
    changed = [margin for margin in margins if margin.before.pack != margin.after.pack]
    return sorted(changed, key=lambda margin: -abs((margin.after.pack or 0) - (margin.before.pack or 0)))


def margin_sentence(margins: Iterable[NextMargin]) -> str:
    """What changes for next week, in one sentence."""
    every = list(margins)
    changed = _changed(every)
    if not changed:
        return "The counts to pack next week stay as they are."
    most = changed[0]
    before, after = (margin.pack or say("no count") for margin in (most.before, most.after))
    return say(
        "Routes with another count next week: {changed} of {routes}. For {ordered} eggs in {packing} by"
        " {service} to {to} {after} instead of {before}{sure}.{kept}",
        *(len(changed), len(every), most.ordered, *most.spoken_route),
        *(after, before, most.sure, _of_kept(changed)),
    )


def one_line_sentence(shelf: Shelf, outcomes: Iterable[Outcome], margins: Iterable[NextMargin]) -> str:
    """The bad line that most of the greatest change rests on, and the count without it; else ""."""
    outcomes = tuple(outcomes)
    told = {one: one.living / one.packed for one in outcomes if one.is_reported and one.living is not None}
    changed = _changed(margins)
    if not changed or not 0 < len(told) <= FEW_LINES:
        return ""
    most, worst = changed[0], min(told, key=lambda one: (told[one], one.parcel, one.order, one.line))
    others = learn(shelf, (one for one in outcomes if one is not worst))
    taught = _with_rates(shelf, others.rows(shelf.today))
    without = _margin(taught, most.ordered, most.route, most.on).pack
    before, after, left = (pack or math.inf for pack in (most.before.pack, most.after.pack, without))
    if not (after - left) * 2 >= after - before > 0:
        return ""
    return say(
        "Most of that rests on one line, {order}:{line} in {parcel}: {living} of {packed} alive. Without it"
        " {count} would do.",
        *(worst.order, worst.line, worst.parcel, worst.living, worst.packed, without or say("no count")),
    )


def _of_kept(changed: Iterable[NextMargin]) -> str:
    """Which kept lines were planned by the old counts; "" where none was."""
    lines = sorted({line for margin in changed for line in margin.kept})
    if not lines:
        return ""
    named = _first_few(lines)
    if len(lines) == 1:
        return say(" 1 kept line is planned by the old count: {lines}.", named)
    return say(" {count} kept lines are planned by the old count: {lines}.", len(lines), named)


def orders_changed(shelf: Shelf, ledger: Ledger, lesson: Lesson) -> Iterator[str]:
    """What the orders in hand make of it, this week and next, in a few sentences: by the eggs that each line
    needs at the least, one by one, whoever gets the lots.
    """
    now, then = (
        _eggs_needed(shelf_left(place, ledger, default_week(shelf)))
        for place in (shelf, _with_rows(shelf, lesson.rows(shelf.today)))
    )
    changed = [
        (_line_named(key, shelf), eggs, then.get(key)) for key, eggs in now.items() if then.get(key) != eggs
    ]
    if gone := [name for name, _, after in changed if after is None]:
        yield say("Once kept, no longer go this week or next: {lines}.", _first_few(gone))
    if more := [f"{name} ({was} -> {after})" for name, was, after in changed if after and after > was]:
        yield say("Once kept, need more eggs: {lines}.", _first_few(more))
    if fewer := [f"{name} ({was} -> {after})" for name, was, after in changed if after and after < was]:
        yield say("Once kept, need fewer eggs: {lines}.", _first_few(fewer))
    if new := [_line_named(key, shelf) for key in then if key not in now]:
        yield say("Once kept, may go this week or next, and could not: {lines}.", _first_few(new))
    if now and not changed and not new:
        yield say("For the orders in hand nothing changes by it, this week or next.")


def _line_named(key: LineKey, shelf: Shelf) -> str:
    """``D02``, or ``D02:1`` where the order has several lines."""
    order, line = key
    return f"{order}:{line}" if len(shelf.order_by_name[order].lines) > 1 else order


def _first_few(names: Sequence[str]) -> str:
    """Some by name, the others counted."""
    named = ", ".join(names[:MOST_LINES])
    return say("{lines} and {count} more", named, len(names) - MOST_LINES) if names[MOST_LINES:] else named


def _eggs_needed(left: Shelf) -> Mapping[LineKey, int]:
    """The fewest eggs that each line which may go this week or next can be packed with."""
    needed: dict[LineKey, int] = {}
    week = default_week(left)
    for each in (week, next_week(week)):
        choices = Choices.of_week(OptionFactory(left), each)
        choices.reckon()
        for line in (line for order in left.orders for line in order.lines):
            found = choices.candidates(line.key)
            if found is not None and found.is_fillable:
                eggs = int(min(found.alone["pack"], default=line.eggs))
                needed[line.key] = min(needed.get(line.key, eggs), eggs)
    return needed


def told_sentence(lesson: Lesson) -> str:
    """How many lines sent were told of, and what is known of the others."""
    silent = lesson.unreported - lesson.under_way - lesson.closed
    return say(
        "Lines told of: {told}. Silent past their last day: {silent}; still under way: {under_way}; came back"
        " or lost: {closed}.",
        *(lesson.reported, silent, lesson.under_way, lesson.closed),
    )


def kept_sentence(file: str, rows: Sequence[RateRow]) -> str:
    """What `learn` wrote of a lesson into the table of learned values."""
    if not rows:
        return say("Nothing new: what was learned today stands in {file} already.", file)
    told = sum(bool(row.n) for row in rows)
    return say(
        "Values kept: {count}. From what was told or seen: {told}; of packings that nobody told of, which go"
        " by those: {others}. From {day} on plans reckon with them; they stand in {file}.",
        *(len(rows), told, len(rows) - told, rows[0].from_day, file),
    )


def taken_back_sentence(file: str, rows: Sequence[RateRow]) -> str:
    """What was taken back of the table of learned values."""
    if not rows:
        return say("Nothing to take back: no learned value stands in {file}.", file)
    return say(
        "Values taken back: {count}, learned on {day}. Plans reckon with what stood before them; in {file}"
        " they are comments now.",
        *(len(rows), rows[0].from_day, file),
    )


def mishap_sentence(lesson: Lesson) -> str:
    """What a breeder who knows of a ruined parcel would else look for in vain; "" where there is none."""
    if not lesson.mishaps:
        return ""
    return say(
        "{count} of them fared far worse than the packing explains: read as a mishap (frozen, crushed,"
        " left in the sun), which counts as the worst that the packing still explains, no worse. A second"
        " such parcel among few counts more.",
        lesson.mishaps,
    )


def left_out_sentence(outcomes: Iterable[Outcome]) -> str:
    """How eggs are read of which a report says nothing; "" where there is none."""
    ours = (one for one in outcomes if one.is_reported and not one.was_bought)
    told = ((one.packed, (one.living or 0) + (one.dead or 0) + (one.missing or 0)) for one in ours)
    left_out = [packed - known for packed, known in told if packed > known]
    if not left_out:
        return ""
    return say(
        "Left out of reports: {eggs} eggs in {lines} lines. Here they are read as lost; under 'Lost by post'"
        " they are not told of.",
        *(sum(left_out), len(left_out)),
    )


def silence_sentence(shelf: Shelf, outcomes: Iterable[Outcome], margins: Iterable[NextMargin]) -> str:
    """Eggs on the route most used if silent lines were good, or like those told of; "" if none is silent."""
    outcomes, margins = tuple(outcomes), tuple(margins)
    told = silence(outcomes, shelf.today)
    if not margins or not told.silent or not told.told:
        return ""
    used = _times_used(outcomes)
    most_used = max(margins, key=lambda margin: (used[margin.route], margin.packing, margin.service))
    eggs, route = most_used.ordered, most_used.route
    counts = []
    for silent_kept in (True, False):
        place = _with_rates(shelf, losses_if(shelf, outcomes, silent_kept))
        counts.append(_margin(place, eggs, route, most_used.on).pack)
    good, alike = (count or say("no count") for count in counts)
    return say(
        "For {ordered} eggs in {packing} by {service} to {to}: {good} to pack if all"
        " {silent} silent lines were good, {alike} if they were like those told of.",
        *(eggs, *route[:2], _by_name(route[2]), good, told.silent, alike),
    )


def _by_name(to: str) -> str:
    country = countries().get(to)
    return Written(with_the(country.name_en), to, "country") if country else to


def _with_rates(shelf: Shelf, rows: Iterable[RateRow]) -> Shelf:
    """The shelf as those rows leave it."""
    return applied(_with_rows(shelf, rows))


def _with_rows(shelf: Shelf, rows: Iterable[RateRow]) -> Shelf:
    """The shelf with those rows in the place of what was learned earlier that day; none is applied."""
    new = {(row.what, row.for_, row.from_day): row for row in rows}
    stay = (
        row for row in shelf.rates if row.basis != "learned" or (row.what, row.for_, row.from_day) not in new
    )
    return replace(shelf, rates=(*stay, *new.values()))


def _margin(shelf: Shelf, eggs: int, route: Route, on: date) -> Margin:
    return margin_of_route(shelf, eggs, *route, on, True)


def margin_lines(margins: Iterable[NextMargin]) -> Iterator[str]:
    """The margins for a person: a heading, and a line each; nothing where there are none."""
    for number, margin in enumerate(margins):
        if not number:
            told = (margin.ordered, margin.on, percent(margin.before.promise))
            yield say(
                "Eggs to pack for {ordered} seen eyed, posted on {on}, at a promise of {promise}:", *told
            )
        yield margin.line


def next_margins(
    shelf: Shelf, outcomes: Iterable[Outcome], lesson: Lesson, kept: Iterable[KeptParcel] = ()
) -> tuple[NextMargin, ...]:
    """The margins of the routes most used, on the first dispatch day of next week; by packing, service and
    country.

    ``shelf`` is as the tables say, with its ``rates``; what was learned is what `learn` would write today.
    Eggs ordered are the median line of the orders in hand; ``kept`` are parcels not handed over yet.
    """
    now, taught = applied(shelf), _with_rates(shelf, lesson.rows(shelf.today))
    ends = [_with_rates(shelf, _at_an_end(lesson, shelf.today, end)) for end in ("low", "high")]
    week = next_week(iso_week(shelf.today))
    on = next(iter(dispatch_days(shelf, week)), shelf.today + timedelta(days=7))
    in_hand = [line.eggs for order in shelf.orders for line in order.lines]
    eggs = round(statistics.median_high(in_hand)) if in_hand else TYPICAL_EGGS
    lines = _lines_kept(kept)
    margins = []
    for route in _routes(shelf, outcomes):
        before, after = (_margin(place, eggs, route, on) for place in (now, taught))
        least, most = (_margin(place, eggs, route, on).pack for place in ends)
        margins.append(NextMargin(*route, on, eggs, before, after, least, most, tuple(lines.get(route, ()))))
    return tuple(margins)


def _at_an_end(lesson: Lesson, today: date, end: str) -> Iterator[RateRow]:
    """The rows a lesson would write with its losses towards one end of their intervals.

    Two losses are not both at their ends at once: each goes 1/sqrt(2) of the way, in its log.
    """
    for rate in lesson.rates:
        value = getattr(rate, end) if rate.what in ("loss_handling", "loss_per_day") else None
        if value and rate.after > 0:
            rate = replace(rate, after=rate.after * (value / rate.after) ** math.sqrt(0.5))
        if not rate.overruled:
            yield rate.row(today)


def _lines_kept(kept: Iterable[KeptParcel]) -> dict[Route, list[str]]:
    """Lines kept and not packed yet, by packing, service and country."""
    lines: dict[Route, list[str]] = {}
    for parcel in kept:
        for line in parcel.lines if parcel.is_planned else ():
            for packing in sorted({draw.packing for draw in line.draws}):
                route = (packing, parcel.service, parcel.to)
                lines.setdefault(route, []).append(f"{line.order}:{line.line}")
    return lines


def _times_used(outcomes: Iterable[Outcome]) -> Counter[Route]:
    """How often each route was taken by what we sent."""
    return Counter((sent.packing, sent.service, sent.to) for sent in outcomes if not sent.was_bought)


def _routes(shelf: Shelf, outcomes: Iterable[Outcome]) -> list[Route]:
    from shipping.post.transit import services_to

    used = _times_used(outcomes).items()
    known = [
        (packing, service, to)
        for (packing, service, to), _ in sorted(used, key=lambda item: (-item[1], item[0]))
        if packing in shelf.packing_by_name and service in {row.service for row in services_to(shelf, to)}
    ]
    return sorted(known[:MOST_ROUTES])
