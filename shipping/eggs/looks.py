"""What has been seen of a lot: its row and its looks in, days on which live eggs were seen and the last count
out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from shipping.tables.rows.lots import STAGES, Look, Lot


@dataclass(frozen=True, slots=True)
class Sighting:
    """Live eggs seen on a day; ``stage`` None: only that they live. ``row`` says which row of which table."""

    on: date
    stage: str | None
    row: str


@dataclass(frozen=True, slots=True)
class Count:
    """The last count: so many live eggs on a day; ``known_gone`` were taken out or hatched since, by
    looks.
    """

    eggs: int
    on: date
    known_gone: int


def sightings(lot: Lot, looks: tuple[Look, ...]) -> tuple[Sighting, ...]:
    """Every day on which somebody saw live eggs; a row that only sets a temperature saw none."""
    found = [Sighting(lot.counted_on, None, lot.cited)] if lot.eggs else []
    if lot.stage:
        found.append(Sighting(lot.stage_on or lot.counted_on, lot.stage, lot.cited))
    for look in looks:
        saw = look.stage or look.alive or look.hatched is not None or look.removed is not None
        if saw and look.alive != 0:
            found.append(Sighting(look.on, look.stage, look.cited))
    return tuple(sorted(found, key=lambda s: (s.on, STAGES.index(s.stage) if s.stage else -1, s.row)))


def as_evidence(seen: tuple[Sighting, ...]) -> tuple[Sighting, ...]:
    """The sightings, in their order, each stage speaking once: the first `eyed`, the first `ready`, the last
    `fertile`; looking again at the same thing proves only that the eggs live.
    """
    speaks = {sighting.stage: n for n, sighting in reversed(list(enumerate(seen)))}
    speaks |= {sighting.stage: n for n, sighting in enumerate(seen) if sighting.stage == "fertile"}
    return tuple(
        sighting if speaks[sighting.stage] == n else replace(sighting, stage=None)
        for n, sighting in enumerate(seen)
    )


def last_count(lot: Lot, looks: tuple[Look, ...]) -> Count:
    """The last count, and what looks without one say was taken out or had hatched since."""
    counts = [(lot.counted_on, 0, lot.eggs)]
    counts += [(look.on, 1, look.alive) for look in looks if look.alive is not None]
    on, is_recount, eggs = max(counts)
    later = (look for look in looks if (look.on, 0) >= (on, is_recount) and look.alive is None)
    return Count(eggs, on, min(eggs, sum((look.removed or 0) + (look.hatched or 0) for look in later)))
