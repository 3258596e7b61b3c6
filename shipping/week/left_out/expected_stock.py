"""What spawning groups are expected to give: groups of a shelf in, eggs that show eyes by date out; less what
is spoken for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property

from shipping.tables.rows.lots import Group
from shipping.tables.shelf import Shelf

#: A line waits for what may happen within so many days.
HORIZON_D = 42
#: Eggs to collect for each one ordered: common practice, no source; the margin proper is reckoned once there
#: is a lot.
USUAL_EXTRA = 1.5
#: Eggs of so many days are collected together (assumed).
BATCH_D = 7


@dataclass(frozen=True, slots=True)
class Expected:
    """Fertile eggs that a group is expected to have given, showing eyes, by a day."""

    on: date
    eggs: int
    group: str

    def as_json(self) -> dict[str, object]:
        return {"on": self.on.isoformat(), "eggs": self.eggs, "group": self.group}


@dataclass(eq=False)
class ExpectedEggs:
    """The groups of a shelf less what waiting lines are to have; it changes only by `take`.

    Notes
    -----
    A group lays ``eggs_a_day`` from today (or ``from_day``, if later), of which ``fertile_share`` are
    fertile; eyes show after ``eyed_at`` of the usual days to hatching, at the species' own warmth.
    """

    shelf: Shelf
    _taken_d: dict[str, float] = field(default_factory=dict)

    def groups(self, species: str, population: str) -> tuple[Group, ...]:
        """The groups of a species, and of that population where one is named."""
        wanted = population.casefold()
        return tuple(
            one
            for one in self._of_species.get(species, ())
            if not wanted or one.population.casefold() == wanted
        )

    @cached_property
    def _of_species(self) -> Mapping[str, tuple[Group, ...]]:
        found: dict[str, tuple[Group, ...]] = {}
        for group in self.shelf.groups:
            found[group.species] = (*found.get(group.species, ()), group)
        return found

    @cached_property
    def _by_name(self) -> Mapping[str, Group]:
        return {group.group: group for group in reversed(self.shelf.groups)}

    def ready_for(self, species: str, population: str, eggs: int) -> tuple[date, str] | None:
        """The first day within the horizon by which a group's eggs should do for a line, eyed, and that
        group.
        """
        found = [
            (day, group.group)
            for group in self.groups(species, population)
            if (day := self._ready(group, eggs))
        ]
        return min(found, default=None)

    def take(self, group: str, eggs: int) -> None:
        """A line of so many eggs is to have the group's next ones."""
        self._taken_d[group] = self._taken_d.get(group, 0.0) + self._days_for(self._by_name[group], eggs)

    def batches(self, species: str, population: str) -> tuple[Expected, ...]:
        """What no waiting line is to have, a week's laying together, within the horizon; the earliest
        first.
        """
        found = [batch for group in self.groups(species, population) for batch in self._batches(group)]
        return tuple(sorted(found, key=lambda one: (one.on, one.group)))

    def _ready(self, group: Group, eggs: int) -> date | None:
        laying = self._taken_d.get(group.group, 0.0) + self._days_for(group, eggs)
        return self._eyed_on(group, laying)

    def _batches(self, group: Group) -> Iterator[Expected]:
        laying = self._taken_d.get(group.group, 0.0) + BATCH_D
        eggs = math.floor(BATCH_D * self._fertile_a_day(group) + 1e-9)
        while (day := self._eyed_on(group, laying)) is not None:
            if eggs:
                yield Expected(day, eggs, group.group)
            laying += BATCH_D

    def _eyed_on(self, group: Group, laying: float) -> date | None:
        """When the eggs of so many days of laying all show eyes; None past the group's last day or the
        horizon.
        """
        if laying > HORIZON_D:
            return None
        today = self.shelf.today
        species = self.shelf.species_of(group.species, group.population)
        start = max(group.from_day or today, today)
        day = start + timedelta(days=round(laying + species.eyed_at * species.hatch_days.usual))
        ends = group.until_day is not None and start + timedelta(days=round(laying)) > group.until_day
        return None if ends or day > today + timedelta(days=HORIZON_D) else day

    def _days_for(self, group: Group, eggs: int) -> float:
        return USUAL_EXTRA * eggs / self._fertile_a_day(group)

    def _fertile_a_day(self, group: Group) -> float:
        return group.eggs_a_day * self.shelf.settings.plan.fertile_share
