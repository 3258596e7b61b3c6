"""What became here of the eggs left of a lot: a shelf, a lot and a day in, one sentence out."""

from __future__ import annotations

from datetime import date

from shipping.tables.rows.lots import Look
from shipping.tables.shelf import Shelf
from shipping.words.sentence import joined, say


def fate_here(shelf: Shelf, lot: str, since: date) -> str:
    """What looks say of a lot since eggs of it were packed: fry, dead, the last recount, and how many were
    kept back.

    Looks speak for the whole lot, those kept back and those not yet sent; nothing seen is said to be nothing
    seen.
    """
    row = shelf.lot_by_name.get(lot)
    if row is None:
        return "the lot is no longer in the tables"
    looks = [look for look in shelf.looks_by_lot.get(lot, ()) if look.on >= since]
    kept = say("{eggs} kept back", row.keep_back)
    if not looks:
        return say("{kept}; nobody has looked since", kept)
    return say("{kept}; {seen} by {on}", kept, _seen(looks), looks[-1].on)


def _seen(looks: list[Look]) -> str:
    hatched, dead = (_total(looks, name) for name in ("hatched", "removed"))
    alive = next((look.alive for look in reversed(looks) if look.alive is not None), None)
    stage = next((look.stage for look in reversed(looks) if look.stage), None)
    told = [
        joined((count, say(word)))
        for count, word in ((alive, "alive"), (hatched, "hatched"), (dead, "dead"))
        if count is not None
    ]
    seen = [say("seen {stage}", say(stage))] if stage else []
    return joined([*told, *seen], ", ") or say("seen, and nothing counted")


def _total(looks: list[Look], name: str) -> int | None:
    counts = [count for look in looks if (count := getattr(look, name)) is not None]
    return sum(counts) if counts else None
