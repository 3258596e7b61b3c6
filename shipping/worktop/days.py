"""The running list of a week: kept or planned parcels and the lines left out in, days with their load and
next steps out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from shipping.tables.shelf import Shelf
from shipping.words.units import week_days
from shipping.worktop.kept_week import HIDDEN, cut_off_of, fish_name, shows_eyes

#: What a person does next about a reason, and on which page of the worktop, if on any.
NEXT_STEPS: Mapping[str, tuple[str, str]] = {
    "same-number": ("Give a new order its own number, or accept the change: check --take.", ""),
    "unpaid": ("When the money is there, write paid_on in orders.", ""),
    "papers": ("Get the papers that are named, then write them in the order's papers.", ""),
    "no-region": ("Ask the buyer for the state or region, and write its code in the order's region.", ""),
    "look-first": ("Look at the lot, and write down what you see.", "lots"),
    "recount": ("Count the lot again.", "lots"),
    "misdated": ("Look at the lot again.", "lots"),
    "overdue": ("Look at the lot, and write down what you see.", "lots"),
    "too-old": ("Look at the lot, and write down what you see.", "lots"),
    "stale-rule": ("Look the rule up again.", "rules"),
    "no-rule": ("Ask, and write down the answer.", "rules"),
    "ask-rule": ("Ask the authority, and write down the answer.", "rules"),
    "ask-post": ("Ask the operator in writing, and write the answer in services.", ""),
    "day-full": ("It goes with the next plan, or set parcels_per_day higher.", ""),
    "other-line": ("It goes when the other line of its order can go.", ""),
    "not-before": ("Nothing to do before that day.", ""),
    "closed-day": ("Plan another day.", ""),
    "too-young": ("Look for eyes when they are due.", "lots"),
    "short": ("More eggs of this lot, or a look that counts them.", "lots"),
    "other-population": ("Ask the buyer about another population, and write it in instead.", ""),
    "no-lot": ("Write the next lot in lots when there is one.", ""),
    "no-air": ("Use a larger tube, fewer eggs in each, or a breathing bag.", ""),
    "would-hatch": ("A faster service or a younger lot would do.", "ask"),
    "too-hot": ("An insulated box, or a cooler month.", ""),
    "too-cold": ("An insulated box, or a warmer month.", ""),
    "too-thick": ("A flatter box, or a service with more room.", ""),
    "no-packing": ("Write a packing that takes this medium in packings.", ""),
    "no-route": ("Write a service that goes there, with its postage.", ""),
    "not-after": ("Ask the buyer for a later day.", ""),
    "closed": ("It does not go there. Tell the buyer.", ""),
}


@dataclass(frozen=True, slots=True)
class ListedParcel:
    """One parcel of a day: what is in it, and where it stands."""

    name: str
    number: str
    to: str
    service: str
    contents: str
    eggs: int
    chance: float | None
    state: str
    arrive: tuple[str | None, str | None]
    look_first: tuple[str, ...]
    orders: str
    reasons: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ListedDay:
    """One day of the week with its parcels, its limit (0 where none is set) and the hours of hand-over."""

    day: date
    parcels: tuple[ListedParcel, ...]
    limit: int
    cut_offs: tuple[tuple[str, str], ...]

    @property
    def eggs(self) -> int:
        return sum(parcel.eggs for parcel in self.parcels)

    @property
    def open(self) -> int:
        """Parcels still to be packed or sent."""
        return sum(parcel.state in ("planned", "packed") for parcel in self.parcels)


@dataclass(frozen=True, slots=True)
class ListedLine:
    """A line that does not go: where it stands, until when, its reasons as (code, text, next step, page)."""

    order: str
    line: int
    fish: str
    to: str
    verdict: str
    until: date | None
    reasons: tuple[tuple[str, str, str, str], ...]


def listed_days(
    week: str, parcels: Iterable[Mapping[str, Any]], states: Mapping[str, str], shelf: Shelf, hide_names: bool
) -> tuple[ListedDay, ...]:
    """Every day of the week that has parcels, and every day left on which the breeder posts.

    ``parcels`` are a plan's JSON; ``states`` say where kept ones stand.
    """
    by_day: dict[date, list[ListedParcel]] = {day: [] for day in week_days(week)}
    services: dict[date, set[str]] = {}
    for facts in parcels:
        day = date.fromisoformat(facts["dispatch_on"])
        by_day.setdefault(day, []).append(
            _parcel(facts, states.get(facts["parcel"], "new"), shelf, hide_names)
        )
        services.setdefault(day, set()).add(facts["service"])
    limit = shelf.settings.plan.parcels_per_day or 0
    found = []
    for day in sorted(by_day):
        is_posted = f"{day:%a}" in shelf.settings.plan.dispatch_days and day >= shelf.today
        if by_day[day] or is_posted:
            cut_offs = (
                (service, cut_off_of(service, shelf) or "") for service in sorted(services.get(day, ()))
            )
            listed = tuple(sorted(by_day[day], key=lambda parcel: parcel.name))
            found.append(
                ListedDay(day, listed, limit, tuple((name, hour) for name, hour in cut_offs if hour))
            )
    return tuple(found)


def _parcel(facts: Mapping[str, Any], state: str, shelf: Shelf, hide_names: bool) -> ListedParcel:
    lines = facts["lines"]
    chances = [line["p_enough"] for line in lines]
    unseen = {draw["lot"] for line in lines for draw in line["draws"] if draw["look_first"]}
    contents = "; ".join(
        f"{line['pack']} {fish_name(line['species'], line['population'], shelf)} for {line['ordered']}"
        " ordered"
        for line in lines
    )
    order = shelf.order_by_name.get(lines[0]["order"])
    town = order.address.town if order else ""
    name = HIDDEN if hide_names else facts["addressee"]
    return ListedParcel(
        name=facts["parcel"],
        number=facts["parcel"].rpartition("-")[2],
        to=", ".join(part for part in (name, town, facts["to"]) if part),
        service=facts["service"],
        contents=contents,
        eggs=sum(line["pack"] for line in lines),
        chance=None if None in chances else min(chances),
        state=state,
        arrive=(facts["arrive"]["p50"], facts["arrive"]["p95"]),
        look_first=tuple(
            sorted(lot for lot in unseen if state in ("new", "planned") and not shows_eyes(lot, shelf))
        ),
        orders=", ".join(dict.fromkeys(line["order"] for line in lines)),
        reasons=tuple((reason["code"], reason["text"]) for line in lines for reason in line["reasons"]),
    )


def listed_lines(
    lines_out: Iterable[Mapping[str, Any]], shelf: Shelf, taken: frozenset[tuple[str, int]]
) -> tuple[ListedLine, ...]:
    """The lines of a plan's JSON that do not go and are in no parcel since, by where they stand and the day
    it may change.
    """
    found = [_line(facts, shelf) for facts in lines_out if (facts["order"], facts["line"]) not in taken]
    rank = {"hold": 0, "wait": 1, "stop": 2}
    return tuple(
        sorted(found, key=lambda one: (rank.get(one.verdict, 3), one.until or date.max, one.order, one.line))
    )


def _line(facts: Mapping[str, Any], shelf: Shelf) -> ListedLine:
    order = shelf.order_by_name.get(facts["order"])
    wish = next((line for line in order.lines if line.number == facts["line"]), None) if order else None
    fish = f"{wish.eggs} {fish_name(wish.species, wish.population, shelf)}" if wish else ""
    town = order.address.town if order else ""
    return ListedLine(
        order=facts["order"],
        line=facts["line"],
        fish=fish,
        to=", ".join(part for part in (town, order.country if order else "") if part),
        verdict=facts["verdict"],
        until=date.fromisoformat(facts["until"]) if facts["until"] else None,
        reasons=_reasons(facts["reasons"]),
    )


def _reasons(reasons: Sequence[Mapping[str, Any]]) -> tuple[tuple[str, str, str, str], ...]:
    """Code, text, next step and the address where it is done; each step once."""
    found: list[tuple[str, str, str, str]] = []
    for reason in reasons:
        step, page = NEXT_STEPS.get(reason["code"], ("", ""))
        lot = str(reason["facts"].get("lot", ""))
        address = f"/{page}" if page else ""
        if page == "lots" and lot:
            address = f"/lots?at={lot}#h-{lot}"
        if page == "ask":
            address = f"/ask?lot={lot}" if lot else ""
        if any(step == other[2] for other in found):
            step = ""
        found.append((reason["code"], reason["text"], step, address))
    return tuple(found)
