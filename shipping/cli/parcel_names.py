"""Short names of parcels in, their whole names out: a number within the week, or all of a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from shipping.cli.global_options import wrong
from shipping.ledger.kept import KeptParcel
from shipping.words.units import iso_week


def whole_names(kept: Sequence[KeptParcel], typed: Iterable[str], today: date) -> list[str]:
    """The parcels meant: ``1`` is the first of this week, or of the nearest week with one; else as typed."""
    return [_whole_name(kept, name, today) for name in typed]


def _whole_name(kept: Sequence[KeptParcel], typed: str, today: date) -> str:
    if not (typed.isascii() and typed.isdigit()):
        return typed
    weeks = sorted({one.week for one in kept if _number(one) == int(typed)})
    now = iso_week(today)
    ahead = [week for week in weeks if week >= now]
    nearest = ahead[:1] or weeks[-1:]
    return next((one.parcel for one in kept if one.week in nearest and _number(one) == int(typed)), typed)


def _number(parcel: KeptParcel) -> int:
    return int(parcel.parcel.rpartition("-")[2])


def of_day(kept: Iterable[KeptParcel], day: date, state: str) -> list[str]:
    """The parcels planned for a day that stand so: ``planned`` to be packed, ``packed`` to be sent."""
    found = [one.parcel for one in kept if one.dispatch_on == day and one.state == state]
    if not found:
        raise wrong("--day", f"No parcel of {day} is {state}.", "See them with: spawnpost history.")
    return sorted(found)
