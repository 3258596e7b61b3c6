"""Checks of spawning groups: days in their order and of this year, none twice."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from operator import attrgetter

from shipping.tables.checks.row_problems import asked, before
from shipping.tables.shelf import Draft
from shipping.words.keys import repeated
from shipping.words.problems import Problem
from shipping.words.sentence import say


def group_days_are_in_order(draft: Draft) -> Iterator[Problem]:
    """from_day <= until_day."""
    for group in draft.groups:
        yield from before(group, "until_day", "from_day", "Write the last day of laying.")


def groups_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """Two groups that differ in nothing but their names: their eggs are expected twice."""
    laying = attrgetter("species", "population", "eggs_a_day", "from_day", "until_day")
    for other, group in repeated((laying(group), group) for group in draft.groups):
        told = (group.group, other.group, other.at.row)
        text = say("'{group}' may be group '{other}' of row {row} again.", *told)
        mend = say("Remove one, if it is the same group")
        yield from asked(draft, group, "group", text, mend, code="line-twice")


#: A spawning group that lays for longer has one of its years mistyped. Assumed.
LONGEST_GROUP_D = 400
#: One whose days of last year begin again so soon is meant for this year. Assumed.
SOON = timedelta(days=30)
#: A spawning group that begins to lay later than this has its year mistyped. Assumed.
LATEST_GROUP_D = 180


def groups_begin_soon(draft: Draft) -> Iterator[Problem]:
    """A group that lays from a day far ahead, or laid a year ago on the days that are now while no other of
    its fish and population lays, has its year mistyped: nothing is expected of it.
    """
    year, today = timedelta(days=365), draft.today
    kept = [(row.species, row.population) for row in draft.groups if (row.until_day or today) >= today]
    for row in draft.groups:
        begin, until = row.from_day, row.until_day
        is_last_years = begin and until and until < today <= until + year and begin + year <= today + SOON
        if is_last_years and (row.species, row.population) not in kept:
            text = "{day} is past, and the same days are ahead of the year after."
            yield from asked(draft, row, "until_day", text, say("Look at the year"), day=row.until_day)
        if begin and until and (days := (until - begin).days) > LONGEST_GROUP_D:
            text = "{day} is {days} days after from_day, {from_day}."
            yield from asked(draft, row, "until_day", text, "Look at the year", day=until, days=days)
        if row.from_day and (days := (row.from_day - draft.today).days) > LATEST_GROUP_D:
            text = "{day} is {days} days ahead."
            yield from asked(draft, row, "from_day", text, "Look at the year", day=row.from_day, days=days)
