"""How many eggs to pack for a count ordered, from a loss or from a packing and a route; the answer says its
chance.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from shipping.eggs.arrival import alive_shares
from shipping.eggs.overpack import most_eggs, overpacks
from shipping.post.calendar import subdivision_code
from shipping.post.transit import arrivals, services_to
from shipping.tables.shelf import Shelf
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.units import percent, rounded


@dataclass(frozen=True, slots=True)
class Margin:
    """The answer; ``pack`` None: no count up to the most that is ever packed keeps the promise."""

    ordered: int
    pack: int | None
    p_enough: float
    expected_alive: float
    promise: float
    rests_on: str

    def as_json(self) -> dict[str, object]:
        return {
            "ordered": self.ordered,
            "pack": self.pack,
            "extra": self.pack - self.ordered if self.pack else None,
            "p_enough": rounded(self.p_enough),
            "expected_alive": rounded(self.expected_alive),
            "promise": self.promise,
            "rests_on": self.rests_on,
        }

    def lines(self) -> Iterator[str]:
        if self.pack is None:
            yield (
                f"No count up to {most_eggs(self.ordered)} eggs keeps a promise of {percent(self.promise)}"
                f" for {self.ordered}."
            )
        else:
            yield (
                f"Pack {self.pack} eggs for {self.ordered} ordered ({self.pack - self.ordered} extra): at"
                f" least {self.ordered} arrive alive with {percent(self.p_enough)}; {self.expected_alive:.1f}"
                " expected."
            )
        yield f"Rests on: {self.rests_on}."


def margin_of_loss(ordered: int, loss: float, kappa: float, promise: float) -> Margin:
    """The margin where each egg is lost with a chance ``loss``, parcels differing as ``kappa`` says."""
    found = overpacks(
        np.array([[1.0 - loss]]),
        np.ones((1, 1)),
        np.array([ordered]),
        np.array([most_eggs(ordered)]),
        np.array([kappa]),
        promise,
    )
    pack = int(found.pack[0]) or None
    rests = f"a loss of {percent(loss)} and parcels as alike as --kappa {kappa:g} says"
    return Margin(ordered, pack, float(found.p_enough[0]), (pack or 0) * (1 - loss), promise, rests)


def margin_of_route(
    shelf: Shelf,
    ordered: int,
    packing_name: str,
    service_name: str,
    to: str,
    on: date,
    eyed: bool,
    promise: float | None = None,
) -> Margin:
    """The margin in a packing by a service, for eggs that do not hatch on the way.

    ``to``: a country, such as DE, or with its subdivision, DE-BY. ``promise``: the shelf's unless given.

    Raises
    ------
    ShelfProblems
        If the service does not go there.
    """
    packing = shelf.packing_by_name[packing_name]
    country, _, part = to.partition("-")
    promised = shelf.settings.plan.promise if promise is None else promise
    service = next((row for row in services_to(shelf, country) if row.service == service_name), None)
    if service is None:
        text = f"{service_name} does not go to {country}."
        raise ShelfProblems(
            (Problem(Where("services"), "to", "no-route", text, "Name another service or country."),)
        )
    found_arrivals = arrivals(service, on, country, subdivision_code(country, part))
    days = np.array([(day - on).days for day in found_arrivals.dates], dtype=np.int64)
    v = alive_shares(
        days,
        np.zeros(days.size),
        loss_handling=packing.loss_handling,
        loss_per_day=packing.loss_per_day,
        fry_live=packing.fry_live,
        fertile_share=1.0 if eyed else shelf.settings.plan.fertile_share,
    )
    found = overpacks(
        v[None, :],
        found_arrivals.chances[None, :],
        np.array([ordered]),
        np.array([most_eggs(ordered)]),
        np.array([packing.kappa]),
        promised,
    )
    pack = int(found.pack[0]) or None
    alive = float(np.dot(v, found_arrivals.chances))
    rests = (
        f"{packing_name} (handling {packing.loss_handling:g}, {packing.loss_per_day:g} a day),"
        f" {service_name} to {to} from {on}, eggs {'eyed' if eyed else 'not yet eyed'}, none hatching on the"
        " way"
    )
    return Margin(ordered, pack, float(found.p_enough[0]), (pack or 0) * alive, promised, rests)
