"""How many eggs to pack for a count ordered, from a loss, or from a packing and a route."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from shipping.eggs.overpack import alive_shares, eggs_to_pack, most_eggs
from shipping.options.option import Destination, Floats
from shipping.options.option_factory import OptionFactory
from shipping.tables.shelf import Shelf
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.units import many, percent, reckoned, told


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
        return (
            told(self, "ordered pack")
            | {"extra": self.pack - self.ordered if self.pack else None}
            | told(self, "p_enough expected_alive promise rests_on")
        )

    def lines(self) -> Iterator[str]:
        if self.pack is None:
            yield (
                f"No count up to {most_eggs(self.ordered)} eggs keeps a promise of {percent(self.promise)}"
                f" for {self.ordered}."
            )
        else:
            yield (
                f"Pack {many(self.pack, 'egg')} for {self.ordered} ordered ({self.pack - self.ordered}"
                f" extra): {self.ordered} or more arrive alive with {percent(self.p_enough)};"
                f" {self.expected_alive:.1f} expected."
            )
        yield f"Rests on: {self.rests_on}."


def margin_of_loss(ordered: int, loss: float, kappa: float, promise: float) -> Margin:
    """The margin where each egg is lost with a chance ``loss``, parcels differing as ``kappa`` says."""
    rests = f"a loss of {percent(loss)}; --kappa {kappa:g}: the larger, the less alike eggs of a parcel fare"
    return _margin(ordered, np.array([1.0 - loss]), np.ones(1), kappa, promise, rests)


def margin_of_route(
    shelf: Shelf,
    ordered: int,
    packing_name: str,
    service_name: str,
    to: str,
    on: date,
    eyed: bool,
    promise: float | None = None,
    lot: str | None = None,
) -> Margin:
    """The margin in a packing by a service, reckoned as the plan does: of a lot, or, where none is named, of
    eggs that do not hatch on the way.

    ``to``: a country, such as DE, or with its subdivision, DE-BY. ``eyed`` counts only where no lot is named.
    ``promise``: the shelf's unless given. Raises ShelfProblems if the service does not go there, or the
    packing does not take the lot.
    """
    packing, factory = shelf.packing_by_name[packing_name], OptionFactory(shelf)
    country, _, part = to.partition("-")
    there = Destination.of(country, part)
    service = next(iter(factory.services(there.place, service_name)), None)
    if service is None:
        raise _wrong("services", "no-route", f"{service_name} does not go to {to}.", "service or country")
    leg = factory.leg(service, there, on)
    if lot is None:
        eggs = f"eggs {'eyed' if eyed else 'not yet eyed'}, none hatching on the way"
        fertile_share = 1.0 if eyed else shelf.settings.plan.fertile_share
        v = alive_shares(
            leg.days,
            np.zeros(leg.days.size),
            loss_handling=packing.loss_handling,
            loss_per_day=packing.loss_per_day,
            fry_live=packing.fry_live,
            fertile_share=fertile_share,
        )
    else:
        if shelf.lot_by_name[lot].medium not in packing.media:
            text = (
                f"{packing_name} does not take lot {lot}, which is kept in {shelf.lot_by_name[lot].medium}."
            )
            raise _wrong("packings", "no-packing", text, "packing or lot")
        ride = factory.ride(factory.lot_day(lot, on), packing, leg)
        eggs = f"lot {lot}, hatching on the way {reckoned(ride.h_per_egg)}"
        v = ride.v
    rests = (
        f"{packing_name} (handling {packing.loss_handling:g}, {packing.loss_per_day:g} a day),"
        f" {service_name} to {to} from {on}, {eggs}"
    )
    rows = [str(note.facts["source"] or note.facts["row"]) for note in leg.this_week]
    decided = f"; decided by rows for just these days: {', '.join(rows)}" if rows else ""
    promised = shelf.settings.plan.promise if promise is None else promise
    return _margin(ordered, v, leg.chances, packing.kappa, promised, rests + decided)


def _margin(ordered: int, v: Floats, chances: Floats, kappa: float, promise: float, rests_on: str) -> Margin:
    """The fewest eggs that keep a promise, from survival by outcome and the outcomes' chances."""
    found = eggs_to_pack(v[None, :], chances[None, :], ordered, np.array([kappa]), promise)
    pack = int(found.pack[0]) or None
    alive = (pack or 0) * float(np.dot(v, chances))
    return Margin(ordered, pack, float(found.p_enough[0]), alive, promise, rests_on)


def _wrong(table: str, code: str, text: str, what: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where(table), "", code, text, f"Name another {what}."),))
