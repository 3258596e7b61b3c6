"""Lots that eggs were packed of and that are gone from the tables: ledger and shelf in, problems out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from shipping.ledger.entries import PlanKept
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import Counted
from shipping.tables.rows.lots import Lot
from shipping.tables.shelf import Shelf
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say


@dataclass(frozen=True, slots=True)
class LotGone:
    """A lot of the ledger that no lot of the tables answers for; ``alike`` may be it under a new name."""

    lot: str
    eggs: int
    is_open: bool
    alike: tuple[Lot, ...]

    def problems(self, file: str) -> Iterator[Problem]:
        """Each lot alike is stopped until the breeder says whether it is this one."""
        was = say(
            "lot {lot} is gone from lots, and {eggs} eggs were packed or are held of it", self.lot, self.eggs
        )
        for lot in self.alike:
            text = say("{was}; is lot {lot} the same eggs under a new name?", was, lot.lot)
            names = (self.lot, lot.lot)
            mend = say("Write `was {lot}` in the note of {other} if it is, `not {lot}` if it is not.", *names)
            yield Problem(lot.at, "lot", "renamed", text, mend, Level.LOT)
        if not self.alike:
            level = Level.LOT if self.is_open else Level.NOTICE
            mend = say(
                "Put its row back, or write `was {lot}` in the note of the lot it is called now.", self.lot
            )
            yield Problem(Where(file), "lot", "lot-gone", say("{was}.", was), mend, level)


def lots_gone(ledger: Ledger, shelf: Shelf, counted: Mapping[str, Counted]) -> tuple[LotGone, ...]:
    """Every lot of the ledger that is not in the tables by any name.

    Notes
    -----
    A lot is alike that has the kind of fish, was laid before the last packing, and that no plan knew beside
    the lot that is gone; ``not NAME`` in its note says that it is another.
    """
    if all(lot in counted for lot in ledger.lots_used()):
        return ()
    eggs: dict[str, int] = {}
    last: dict[str, date] = {}
    kinds: dict[str, set[tuple[str, str]]] = {}
    is_open: set[str] = set()
    for parcel in ledger.parcels():
        for line in parcel.lines:
            for draw in line.draws:
                kinds.setdefault(draw.lot, set()).add((line.species, line.population.casefold()))
        for count in parcel.counts or parcel.planned_counts():
            eggs[count.lot] = eggs.get(count.lot, 0) + count.eggs
            day = parcel.packed_on or parcel.kept_on
            last[count.lot] = max(day, last.get(count.lot, day))
            is_open |= {count.lot} if parcel.state in ("planned", "packed", "sent") else set()
    gone = sorted(lot for lot in eggs if lot not in counted and eggs[lot])
    known = _known_beside(ledger, gone) if gone else {}
    alike = {
        name: tuple(
            lot
            for lot in shelf.lots
            if (lot.species, lot.population.casefold()) in kinds[name]
            and lot.laid_from <= last[name]
            and lot.lot not in known[name]
            and not re.search(rf"(?<!\w)not\s+{re.escape(name)}(?!\w)", lot.note, re.IGNORECASE)
        )
        for name in gone
    }
    return tuple(LotGone(name, eggs[name], name in is_open, alike[name]) for name in gone)


def _known_beside(ledger: Ledger, gone: list[str]) -> dict[str, set[str]]:
    """The lots that plans knew together with each lot that is gone."""
    known: dict[str, set[str]] = {name: set() for name in gone}
    for entry in ledger.entries():
        if isinstance(entry.body, PlanKept):
            there = {str(lot["lot"]) for lot in entry.body.plan.get("lots", ())}
            for name in known.keys() & there:
                known[name] |= there
    return known
