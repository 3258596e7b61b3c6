"""Short names of parcels in, their whole names out: a number within the week, or all of a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from shipping.cli.global_options import wrong
from shipping.ledger.kept import KeptParcel
from shipping.words.units import iso_week


def whole_names(kept: Sequence[str], typed: Iterable[str], today: date) -> list[str]:
    """The parcels meant: ``1`` is the first of this week, or of the nearest week with one; else as typed."""
    return [_whole_name(kept, name, today) for name in typed]


def _whole_name(kept: Sequence[str], typed: str, today: date) -> str:
    if not (typed.isascii() and typed.isdigit()):
        return typed
    named = {name.rpartition("-")[0]: name for name in kept if _number(name) == int(typed)}
    weeks = sorted(named)
    ahead = [week for week in weeks if week >= iso_week(today)]
    nearest = ahead[:1] or weeks[-1:]
    return named[nearest[0]] if nearest else typed


def _number(name: str) -> int:
    number = name.rpartition("-")[2]
    return int(number) if number.isascii() and number.isdigit() else 0


def of_day(kept: Iterable[KeptParcel], day: date, state: str) -> list[str]:
    """The parcels planned for a day that stand so: ``planned`` to be packed, ``packed`` to be sent."""
    names = [parcel.parcel for parcel in kept if parcel.dispatch_on == day and parcel.state == state]
    if not names:
        raise wrong("--day", f"No parcel of {day} is {state}.", "See them with: spawnpost history.")
    return sorted(names)
