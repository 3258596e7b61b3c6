"""Lots of eggs, the looks at them and what these leave of a count, and the groups that lay them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator

from shipping.tables.cells import (
    Celsius,
    Count,
    Country,
    Day,
    Key,
    Note,
    OneWord,
    Positive,
    Row,
    ShareAbove,
    Text,
    YesNo,
    number_between,
)

STAGES = ("laid", "fertile", "eyed", "ready")
DAMP_MEDIA = frozenset({"moss", "peat", "coir"})
Stage = Annotated[Literal["laid", "fertile", "eyed", "ready"], OneWord()]
Medium = Annotated[Literal["water", "moss", "peat", "coir"], OneWord()]
CountBasis = Annotated[Literal["counted", "estimated"], OneWord()]
Bred = Annotated[Literal["captive", "wild"], OneWord()]
Salt = Annotated[float, BeforeValidator(number_between(0, 120, "grams of salt a litre"))]


class Lot(Row):
    """One row of ``lots``: eggs of one species and population, laid over a window of days."""

    lot: Key
    species: Key
    population: Text = ""
    laid_from: Day
    laid_to: Day
    medium: Medium
    kept_at_c: Celsius
    eggs: Count
    counted_on: Day
    count_basis: CountBasis = "counted"
    stage: Stage | None = None
    stage_on: Day | None = None
    keep_back: Count = 0
    wet_from: Day | None = None
    wet_until: Day | None = None
    fertile_share: ShareAbove | None = None
    salt_g_l: Salt = 0.0
    treatment: Text = ""
    origin: Text = ""
    origin_country: Country | None = None
    bred: Bred | None = None
    note: Note = ""

    @property
    def kept_damp(self) -> bool:
        return self.medium in DAMP_MEDIA


class Look(Row):
    """One row of ``inspections``: what somebody saw in a lot on a day; blank is not zero."""

    cited_by: ClassVar[tuple[str, ...]] = ("lot", "on")

    lot: Key
    on: Day
    stage: Stage | None = None
    alive: Count | None = None
    hatched: Count | None = None
    removed: Count | None = None
    kept_at_c: Celsius | None = None
    before_packing: YesNo | None = None
    note: Note = ""


class Group(Row):
    """One row of ``groups``."""

    group: Key
    species: Key
    population: Text = ""
    eggs_a_day: Positive
    from_day: Day | None = None
    until_day: Day | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True)
class Bound:
    """What a look says of the count: ``most`` live eggs can be left by then, ``excess`` more are spoken of.

    ``column`` is the cell that is too high where ``excess`` is above zero. ``counted_on`` is the day of the
    count before.
    """

    look: Look
    most: int
    excess: int
    column: str
    counted_on: date


def bounds(
    lot: Lot,
    looks: Iterable[Look],
    packed: Iterable[tuple[date, int]] = (),
    between: int = 0,
    back: Iterable[tuple[date, int]] = (),
) -> Iterator[Bound]:
    """A bound for each look from the day of the lot's own count on, in the order of days, up to the first
    that is broken.

    ``packed``: days and eggs that the ledger says were packed; ``between``: those packed after the lot's own
    count and before a recount of that very day; ``back``: those that came back, where they are not in
    ``packed`` below zero.

    Notes
    -----
    The last count, less what was removed, had hatched or was packed since: a recount above it is a mistake,
    one below it is losses.
    """
    packings, returns = tuple(packed), tuple(back)
    most, counted_on = lot.eggs, lot.counted_on
    for look in sorted(looks, key=lambda look: look.on):
        if look.on < lot.counted_on:
            continue
        gone = (look.removed or 0) + (look.hatched or 0)
        if look.on == lot.counted_on and look.alive is not None:
            gone = 0  # both counted what was left that day
            most, between = most - between, 0
        away = sum(eggs for day, eggs in packings if counted_on <= day < look.on)
        left = most - away + sum(eggs for day, eggs in returns if counted_on <= day <= look.on)
        if gone > most:
            column = "hatched" if (look.hatched or 0) >= (look.removed or 0) else "removed"
            yield Bound(look, most, gone - most, column, counted_on)
            return
        most -= gone
        if look.alive is None:
            yield Bound(look, most, 0, "", counted_on)
            continue
        can_be = max(0, left - gone)
        excess = max(0, look.alive - can_be)
        yield Bound(look, can_be, excess, "alive" if excess else "", counted_on)
        if excess:
            return
        most, counted_on = look.alive, look.on
