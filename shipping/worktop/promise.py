"""Does the promise still hold? A kept parcel's line and the eggs counted for it in, its chance and what to
mind out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shipping.eggs.overpack import ROUNDING
from shipping.ledger.kept import KeptLine, KeptParcel
from shipping.ledger.packing_day import chance_of_enough, rides_of, unit_cautions
from shipping.tables.shelf import Shelf
from shipping.words.units import percent
from shipping.worktop.page_language import tr

if TYPE_CHECKING:
    from shipping.options.option_factory import Reckoner


@dataclass(frozen=True, slots=True)
class LinePromise:
    """The chance that at least the eggs ordered arrive alive; None where the tables no longer hold what it
    rests on.
    """

    chance: float | None
    promised: float
    cautions: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        return self.chance is not None and self.chance >= self.promised - ROUNDING

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
    reckoner: Reckoner, parcel: KeptParcel, line: KeptLine, units: Mapping[str, tuple[int, ...]]
) -> LinePromise:
    """The chance of enough for a line with these eggs; ``units`` are the eggs of each tube or bag, by lot.

    Notes
    -----
    The chance is the plan's own: survivors of each lot beta-binomial given the day of arrival, lots
    independent.
    """
    promised = promised_share(reckoner.shelf, line)
    rides = rides_of(reckoner, parcel, line)
    if isinstance(rides, str):
        return LinePromise(None, promised)
    counted = {lot: sum(eggs) for lot, eggs in units.items() if sum(eggs)}
    cautions = [text for lot in sorted(counted) for text in unit_cautions(rides[lot], units[lot])]
    return LinePromise(
        chance_of_enough(rides, counted, line.ordered), promised, tuple(dict.fromkeys(cautions))
    )


def promised_share(shelf: Shelf, line: KeptLine) -> float:
    """The chance that was promised: the settings', or the plan's own for a line packed without extra."""
    order = shelf.order_by_name.get(line.order)
    wish = next((one for one in order.lines if one.number == line.line), None) if order else None
    promise = shelf.settings.plan.promise
    return min(promise, line.p_enough) if wish is not None and wish.overpack == "none" else promise
