"""What next week's margins would be: a shelf, what came of parcels and a lesson in, eggs to pack before and
after out.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from shipping.learning.lesson import Lesson
from shipping.learning.outcomes import Outcome
from shipping.questions.margin import Margin, margin_of_route
from shipping.tables.learned_values import applied
from shipping.tables.shelf import Shelf
from shipping.week.objective import dispatch_days, next_week
from shipping.words.units import iso_week, percent, rounded

#: Routes shown, those most used first.
MOST_ROUTES = 12
#: Eggs of a typical line where no order is in hand.
TYPICAL_EGGS = 20


@dataclass(frozen=True, slots=True)
class NextMargin:
    """Eggs to pack for ``ordered`` eggs seen eyed, in a packing by a service, by the values now and as
    learned.
    """

    packing: str
    service: str
    to: str
    on: date
    ordered: int
    before: Margin
    after: Margin

    @property
    def line(self) -> str:
        """One line for a person."""
        before, after = (
            str(one.pack) if one.pack else "no count is enough" for one in (self.before, self.after)
        )
        return f"  {self.packing}, {self.service} to {self.to}: {before} -> {after}"

    def as_json(self) -> dict[str, object]:
        return {
            "packing": self.packing,
            "service": self.service,
            "to": self.to,
            "on": self.on.isoformat(),
            "ordered": self.ordered,
            "pack_before": self.before.pack,
            "pack_after": self.after.pack,
            "expected_alive_before": rounded(self.before.expected_alive),
            "expected_alive_after": rounded(self.after.expected_alive),
        }


def margin_sentence(margins: Iterable[NextMargin]) -> str:
    """What changes for next week, in one sentence."""
    every = list(margins)
    changed = [one for one in every if one.before.pack != one.after.pack]
    if not changed:
        return "Nothing changes for next week: the counts to pack stay as they are."
    most = max(changed, key=lambda one: abs((one.after.pack or 0) - (one.before.pack or 0)))
    before, after = (one.pack or "no count" for one in (most.before, most.after))
    return (
        f"Next week {len(changed)} of {len(every)} routes need another count: for {most.ordered} eggs in"
        f" {most.packing} by {most.service} to {most.to} {after} instead of {before}."
    )


def margin_lines(margins: Iterable[NextMargin]) -> Iterator[str]:
    """The margins for a person: a heading, and a line each; nothing where there are none."""
    for number, margin in enumerate(margins):
        if not number:
            promise = percent(margin.before.promise)
            yield (
                f"Eggs to pack for {margin.ordered} seen eyed, posted on {margin.on}, at a promise of"
                f" {promise}:"
            )
        yield margin.line


def next_margins(shelf: Shelf, found: Iterable[Outcome], lesson: Lesson) -> tuple[NextMargin, ...]:
    """The margins of the routes most used, on the first dispatch day of next week; by packing, service and
    country.

    ``shelf`` is as the tables say, with its ``rates``; what was learned is what `learn` would write today.
    Eggs ordered are the median line of the orders in hand.
    """
    now = applied(shelf)
    taught = applied(replace(shelf, rates=(*shelf.rates, *lesson.rows(shelf.today))))
    on = _first_day(shelf)
    eggs = _typical_eggs(shelf)
    margins = []
    for packing, service, to in _routes(shelf, found):
        before, after = (margin_of_route(one, eggs, packing, service, to, on, True) for one in (now, taught))
        margins.append(NextMargin(packing, service, to, on, eggs, before, after))
    return tuple(margins)


def _routes(shelf: Shelf, found: Iterable[Outcome]) -> list[tuple[str, str, str]]:
    from shipping.post.transit import services_to

    used = Counter((one.packing, one.service, one.to) for one in found if not one.was_bought)
    known = [
        (packing, service, to)
        for (packing, service, to), _ in sorted(used.items(), key=lambda item: (-item[1], item[0]))
        if packing in shelf.packing_by_name and service in {row.service for row in services_to(shelf, to)}
    ]
    return sorted(known[:MOST_ROUTES])


def _first_day(shelf: Shelf) -> date:
    week = next_week(iso_week(shelf.today))
    return next(iter(dispatch_days(shelf, week)), shelf.today + timedelta(days=7))


def _typical_eggs(shelf: Shelf) -> int:
    eggs = [line.eggs for order in shelf.orders for line in order.lines]
    return round(statistics.median_high(eggs)) if eggs else TYPICAL_EGGS
