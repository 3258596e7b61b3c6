"""Lots of eggs, the looks at them and what these leave of a count, and the groups that lay them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Annotated, ClassVar, Literal

from pydantic import BeforeValidator

from shipping.tables import cells, typed_days

STAGES = ("laid", "fertile", "eyed", "ready")
DAMP_MEDIA = frozenset({"moss", "peat", "coir"})
Stage = Annotated[Literal["laid", "fertile", "eyed", "ready"], cells.OneWord()]
Medium = Annotated[Literal["water", "moss", "peat", "coir"], cells.OneWord()]
CountBasis = Annotated[Literal["counted", "estimated"], cells.OneWord()]
Bred = Annotated[Literal["captive", "wild"], cells.OneWord()]
Salt = Annotated[float, BeforeValidator(cells.NumberParser(0, 120, "grams of salt a litre"))]


class Lot(cells.Row):
    """One row of ``lots``: eggs of one species and population, laid over a window of days."""

    lot: cells.Key
    species: cells.Fish
    population: cells.Text = ""
    laid_from: typed_days.Day
    laid_to: typed_days.Day
    medium: Medium
    kept_at_c: cells.Celsius
    eggs: cells.EggsCounted
    counted_on: typed_days.Day
    count_basis: CountBasis = "counted"
    stage: Stage | None = None
    stage_on: typed_days.Day | None = None
    keep_back: cells.Count = 0
    wet_from: typed_days.Day | None = None
    wet_until: typed_days.Day | None = None
    fertile_share: cells.ShareAbove | None = None
    salt_g_l: Salt = 0.0
    treatment: cells.Text = ""
    origin: cells.Text = ""
    origin_country: cells.Country | None = None
    bred: Bred | None = None
    note: cells.Note = ""

    @property
    def kept_damp(self) -> bool:
        return self.medium in DAMP_MEDIA


class Look(cells.Row):
    """One row of ``inspections``: what somebody saw in a lot on a day; blank is not zero."""

    cited_by: ClassVar[tuple[str, ...]] = ("lot", "on")

    lot: cells.Key
    on: typed_days.Day
    stage: Stage | None = None
    alive: cells.Count | None = None
    hatched: cells.Count | None = None
    removed: cells.Count | None = None
    kept_at_c: cells.Celsius | None = None
    before_packing: cells.YesNo | None = None
    note: cells.Note = ""


class Group(cells.Row):
    """One row of ``groups``."""

    group: cells.Key
    species: cells.Fish
    population: cells.Text = ""
    eggs_a_day: cells.Positive
    from_day: typed_days.Day | None = None
    until_day: typed_days.Day | None = None
    note: cells.Note = ""


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
