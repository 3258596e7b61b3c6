"""The running list of a week: kept or planned parcels and the lines left out in, days with their load and
next steps out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import quote

from shipping.ledger.kept import WAITING
from shipping.papers.wording.catalogue import cause, next_step
from shipping.post.warmth import is_answerable
from shipping.tables.shelf import Shelf
from shipping.words.reasons import CODES, Reason, Verdict, decisive
from shipping.words.units import week_days
from shipping.worktop.kept_week import HIDDEN, cut_off_of, fish_name, shows_eyes
from shipping.worktop.page_language import reasons_wording, spoken, tr

#: Where on the worktop each thing is mended.
PLACES: Mapping[str, str] = {
    "order": "/tables/orders?find={order}",
    "region": "/orders/{order}/region",
    "lot": "/lots?at={lot}#h-{lot}",
    "rules": "/rules",
    "service": "/tables/services?find={service}",
    "limits": "/setup",
    "new lot": "/tables/lots/new",
    "new packing": "/tables/packings/new",
    "packings": "/tables/packings",
    "boxes": "/tables/boxes",
    "new service": "/tables/services/new",
    "what if": "/ask?lot={lot}",
}
#: Where it is written how warm parcels to a place stay in a month.
_WARMTH_THERE = "/tables/weather/new?to={to}&month={month}"


#: A command that the terminal names for a step; on the page a button does it.
_COMMAND = re.compile(
    r"[,;:]?\s*(?:(?:and|then|or|y) )?(?:then|run|with|dann|puis|luego)?\s*:?\s*`?spawnpost [^.;`]*`?"
)


def cause_text(reason: Reason) -> str:
    """What stands in the way, in the catalogue's words, as a sentence."""
    said = cause(reason, reasons_wording())
    return said[:1].upper() + said[1:] + ("" if said.endswith((".", "?")) else ".")


def why_text(reason: Reason) -> str:
    """A reason in its own words, with every figure, where the page speaks English; else in the
    catalogue's.
    """
    return reason.text if spoken() == "en" else cause_text(reason)


#: Steps that the catalogue says with names of tables and commands, as the page says them.
STEPS: Mapping[str, str] = {
    "unpaid": "Mark it as paid when the money is there",
    "recount": "Count the lot again and write the look",
    "misdated": "Look again and write what you see",
    "overdue": "Look today and write what you see",
    "too-old": "Look, and write what you see",
    "stale-rule": "Look it up again ({source})",
    "no-rule": "Ask the post and the authority there, then write the answer",
    "ask-rule": "Ask ({source}), then write the answer",
    "ask-post": "Ask the operator in writing, and write the answer",
    "day-full": "Allow more parcels a day, or plan again when days are free",
    "other-population": "Ask the buyer; write another population as what they would also take",
    "no-lot": "Write the next lot when there is one",
}


def step_text(code: str, facts: Mapping[str, Any]) -> str:
    """What the breeder can do about a reason, in the catalogue's words, or the page's own."""
    if is_answerable(Reason(code, "", facts)):
        return tr("Write how warm parcels there stay, or take a box that holds its warmth longer")
    if code in STEPS:
        return tr(STEPS[code]).format_map({"source": "?", **facts})
    step = next_step(Reason(code, "", facts), reasons_wording())
    step = _COMMAND.sub("", step).strip(" ,;:")
    return step[:1].upper() + step[1:]


def place_of_step(code: str, facts: Mapping[str, Any], order: str = "", to: str = "") -> str:
    """Where on the worktop a reason is removed, of an order or on the way to a country or part; "" where on
    no page. A warmth that nobody has given is given for that place and month.
    """
    named = {"order": order, "lot": "", "service": "", **{name: str(value) for name, value in facts.items()}}
    place = PLACES.get(CODES[code].mend, "")
    if to and is_answerable(Reason(code, "", facts)):
        place, named["to"] = _WARMTH_THERE, to
        named["month"] = str(date.fromisoformat(str(facts["on"])).month)
    if "{lot}" in place and not named["lot"]:
        lots = facts.get("lots")
        named["lot"] = str(lots[0]) if isinstance(lots, list | tuple) and lots else ""
    if "{lot}" in place and not named["lot"]:
        return place.partition("?")[0]
    return place.format(**{name: quote(value, safe="") for name, value in named.items()})


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
    lots: tuple[str, ...] = ()

    def has_text(self, find: str) -> bool:
        """Is what is looked for in its name, buyer, orders, fish or lots?"""
        words = (self.name, self.to, self.orders, self.contents, *self.lots)
        return any(find.casefold() in word.casefold() for word in words)


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
        return sum(parcel.state in WAITING for parcel in self.parcels)


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
        tr(
            "{pack} {fish} for {ordered} ordered",
            pack=line["pack"],
            fish=fish_name(line["species"], line["population"], shelf),
            ordered=line["ordered"],
        )
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
        reasons=tuple(
            (reason["code"], why_text(Reason(reason["code"], reason["text"], reason["facts"])))
            for line in lines
            for reason in line["reasons"]
        ),
        lots=tuple(draw["lot"] for line in lines for draw in line["draws"]),
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
        reasons=_reasons(facts["order"], order.country if order else "", _deciding_first(facts)),
    )


def _deciding_first(line: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The reasons of a line left out, the one first that decides where it stands."""
    reasons = list(line["reasons"])
    if reasons:
        every = [Reason(one["code"], one["text"], one["facts"]) for one in reasons]
        first = decisive(Verdict(line["verdict"]), every)
        reasons.insert(0, reasons.pop(next(n for n, one in enumerate(every) if one is first)))
    return reasons


def _reasons(
    order: str, to: str, reasons: Sequence[Mapping[str, Any]]
) -> tuple[tuple[str, str, str, str], ...]:
    """Code, cause, next step and the address where it is done; each step once."""
    found: list[tuple[str, str, str, str]] = []
    for reason in reasons:
        code, facts = str(reason["code"]), reason["facts"]
        step = step_text(code, facts)
        if any(step == other[2] for other in found):
            step = ""
        text = cause_text(Reason(code, str(reason["text"]), facts))
        found.append((code, text, step, place_of_step(code, facts, order, to)))
    return tuple(found)
