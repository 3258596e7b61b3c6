"""Eggs bought in: what was recorded of them in, a lot of the shelf and an outcome that teaches out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from itertools import pairwise

from pydantic import ValidationError

from shipping.ledger.entries import Bought
from shipping.ledger.errors import LedgerError
from shipping.tables.cells import BadCell
from shipping.tables.files.sheet import did_you_mean
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Shelf
from shipping.words.problems import Where
from shipping.words.sentence import say

FERTILE_STAGES = frozenset({"fertile", "eyed", "ready"})


def bought_lot(bought: Bought, at: Where) -> Lot:
    """The lot that eggs bought in become: as many as arrived alive, counted on the day they arrived.

    Raises
    ------
    LedgerError
        If a value cannot be one of the table ``lots``.
    """
    cells: dict[str, object] = {
        "at": at,
        "lot": bought.lot,
        "species": bought.species,
        "population": bought.population,
        "laid_from": bought.laid_from,
        "laid_to": bought.laid_to,
        "medium": bought.medium,
        "kept_at_c": bought.kept_at_c,
        "eggs": bought.alive,
        "counted_on": bought.arrived_on,
        "keep_back": bought.keep_back,
        "origin": bought.from_whom or "bought in",
        "note": bought.note,
    }
    if bought.stage:
        cells |= {"stage": bought.stage, "stage_on": bought.arrived_on}
    try:
        return Lot.model_validate(cells)
    except ValidationError as error:
        first = error.errors()[0]
        cause = first.get("ctx", {}).get("error")
        column = ".".join(str(part) for part in first["loc"])
        if isinstance(cause, BadCell):
            raise LedgerError(say("{column}: {text}.", column, cause.text), cause.mend) from error
        raise LedgerError(f"{column}: {first['msg']}.", "Write it as in the table lots.") from error


def check_bought(bought: Bought, shelf: Shelf, lots_bought: Iterable[str]) -> None:
    """Nothing, if the eggs can become a lot of the shelf.

    Raises
    ------
    LedgerError
        Naming the first thing that cannot be.
    """
    bought_lot(bought, Where(""))
    for text, mend in _wrong(bought, shelf, frozenset(lots_bought)):
        raise LedgerError(text, mend)


def _wrong(bought: Bought, shelf: Shelf, lots_bought: frozenset[str]) -> Iterator[tuple[str, str]]:
    if bought.lot in shelf.lot_by_name or bought.lot in lots_bought:
        yield say("there is a lot {lot} already.", bought.lot), "Give the new one a name of its own."
    if bought.species not in shelf.species:
        mend = did_you_mean(bought.species, sorted(shelf.species), "Add it there.")
        yield say("'{species}' is not in species.", bought.species), mend
    counted = bought.alive + (bought.hatched_alive or 0) + (bought.dead or 0)
    if bought.sent < 1 or min(bought.alive, bought.hatched_alive or 0, bought.dead or 0) < 0:
        yield "a count is below zero, or none were sent.", "Give how many were sent and how many were found."
    if counted > bought.sent:
        text = say("{sent} eggs were sent, but {found} were found.", bought.sent, counted)
        yield text, "Count the extra eggs as sent, too."
    if bought.keep_back > bought.alive:
        text = say("{kept} are kept back of {alive} alive.", bought.keep_back, bought.alive)
        yield text, "Keep back fewer."
    told = (
        (say("laid from"), bought.laid_from),
        (say("laid to"), bought.laid_to),
        (say("posted"), bought.posted_on),
        (say("arrived"), bought.arrived_on),
    )
    days = [(name, day) for name, day in told if day is not None]
    for (name, day), (later, after) in pairwise(days):
        if day > after:
            text = say("{name} {day} is after {later} {after}.", name, day, later, after)
            yield text, "Mend one of the two days."
    packings = sorted(shelf.packing_by_name)
    if bought.packing and bought.packing not in packings:
        mend = did_you_mean(bought.packing, packings, "Leave it away: then it teaches no losses.")
        yield say("'{packing}' is not in packings.", bought.packing), mend
    names = sorted({row.service for row in shelf.services})
    if bought.service and bought.service not in names:
        mend = did_you_mean(bought.service, names, "Leave it away: then it teaches no days.")
        yield say("'{service}' is not in services.", bought.service), mend


def shown_lot(bought: Bought) -> tuple[str, ...]:
    """What follows from a purchase, for a person."""
    if bought.posted_on is None:
        taught = "How long they took is not known (--posted), so they teach nothing."
    else:
        days = (bought.arrived_on - bought.posted_on).days
        taught = f"They took {days} days; `spawnpost learn` takes that in" + (
            "." if bought.packing or bought.service else ", once their service or packing is one of yours."
        )
    return (
        f"Lot {bought.lot} is on the shelf with {bought.alive} eggs; looks at it go into inspections.",
        taught,
    )


def is_in_time(bought: Bought, today: date) -> bool:
    """Had they arrived by that day?"""
    return bought.arrived_on <= today
