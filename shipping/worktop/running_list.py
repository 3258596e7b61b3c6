"""The running list of a week: parcels and lines left out in, days with their load and next steps out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import Any, NamedTuple
from urllib.parse import quote

from shipping.ledger.kept_parcel import WAITING
from shipping.papers.wording.phrases import cause, next_step, note_text
from shipping.post.calendar import cut_off_of
from shipping.post.warmth import is_answerable, kept_back, weather_place
from shipping.tables.shelf import Shelf
from shipping.words.keys import in_turn
from shipping.words.reasons import CODES, OF_WARMTH, Reason, Verdict, decisive, in_vain
from shipping.words.units import percent, week_days
from shipping.worktop.kept_week import fish_name, is_taken_in, lots_to_count, shows_enough
from shipping.worktop.page_language import (
    day_words,
    listed,
    name_of_country,
    past_text,
    reasons_wording,
    shown_name,
    spoken,
    tr,
)

#: Where on the worktop each thing is mended, and what stands on the button that leads there.
PLACES: Mapping[str, tuple[str, str]] = {
    "order": ("/orders/{order}", "Open the order"),
    "region": ("/orders/{order}/region", "Name the region"),
    "lot": ("/lots?at={lot}#h-{lot}", "Write what you see"),
    "rules": ("/rules", "Write the answer"),
    "service": ("/tables/services?find={service}", "Open the service"),
    "limits": ("/setup", "Open the settings"),
    "new lot": ("/tables/lots/new", "Write a new lot"),
    "new packing": ("/tables/packings/new", "Write a packing"),
    "packings": ("/tables/packings", "Open the packings"),
    "boxes": ("/tables/boxes", "Open the boxes"),
    "species": ("/tables/species", "Open the fish"),
    "new service": ("/tables/services/new", "Write a service"),
    "what if": ("/ask?lot={lot}", "Ask what if"),
    "week": ("/plan?week={week}", "Plan that week"),
}
#: Where it is written how warm parcels to a place stay in a month.
_WARMTH_THERE = "/tables/weather/new?to={to}&month={month}"


#: A command that the terminal names for a step; on the page a button does it.
_COMMAND = re.compile(
    r"[,;:]?\s*(?:(?:and|then|or|y) )?(?:then|run|with|dann|puis|luego)?\s*:?\s*`?spawnpost [^.;`]*`?"
)


def cause_text(reason: Reason, offered: bool = False) -> str:
    """What stands in the way, in the catalogue's words, as a sentence; ``offered``: there is no order yet."""
    said = cause(_with_country(reason), reasons_wording(), offered=offered)
    return said[:1].upper() + said[1:] + ("" if said.endswith((".", "?")) else ".")


def _with_country(reason: Reason) -> Reason:
    to = str(reason.facts.get("to", ""))
    return (
        Reason(reason.code, reason.text, {**reason.facts, "to": name_of_country(to)})
        if len(to) == 2
        else reason
    )


def why_text(reason: Reason) -> str:
    """A reason in its own words with every figure in English; else in the catalogue's."""
    return reason.text if spoken() == "en" else cause_text(reason)


#: Steps that the catalogue says with names of tables and commands, as the page says them.
STEPS: Mapping[str, str] = {
    "unpaid": "Mark it as paid when the money is there",
    "recount": "Count the lot again and write the look",
    "came-back": "Look today and write what you see",
    "misdated": "Look again and write what you see",
    "overdue": "Look today and write what you see",
    "too-old": "Look, and write what you see",
    "hatched-by-then": "Take an earlier day, or another lot",
    "stale-rule": "Look it up again: {source}",
    "never-looked-up": "Look it up: {source}",
    "no-rule": "Ask the post and the authority there, then write the answer",
    "ask-rule": "Ask, then write the answer; your rule is from: {source}",
    "ask-post": "Ask its operator in writing, then write the answer",
    "day-full": "Allow more parcels a day, or plan again when days are free",
    "other-population": "Ask the buyer; write another population as what they would also take",
    "no-lot": "Write the next lot when there is one",
    "line-stops": "Let the lines of the order be split, and it goes without that one",
}


def _may_be_split(code: str, facts: Mapping[str, Any]) -> bool:
    """Does only another line of its order stop it, so that it would go if the order were split?"""
    return code == "other-line" and bool(facts.get("stops"))


def _step_text(code: str, facts: Mapping[str, Any], verdict: Verdict) -> str:
    """What to do about a reason: the catalogue's words, or the page's."""
    known = "never-looked-up" if code == "stale-rule" and facts.get("never") else code
    known = "hatched-by-then" if "hatches_until" in facts else known
    known = "line-stops" if _may_be_split(code, facts) else known
    if known in STEPS:
        return tr(STEPS[known]).format_map(
            {**facts, "source": reasons_wording().parts_said(tr(str(facts.get("source", "?"))))}
        )
    step = next_step(Reason(code, "", facts), reasons_wording(), verdict)
    step = _COMMAND.sub("", step).strip(" ,;:")
    return step[:1].upper() + step[1:]


def _place_and_button(code: str, facts: Mapping[str, Any], order: str) -> tuple[str, str]:
    """Where on the page a reason is removed, and the words of the button that leads there; "": nowhere."""
    place, button = PLACES.get(_mended(code, facts), ("", ""))
    named = {"order": order, "lot": "", "service": "", **{name: str(value) for name, value in facts.items()}}
    if "{lot}" in place and not named["lot"]:
        lots = facts.get("lots")
        named["lot"] = str(lots[0]) if isinstance(lots, list | tuple) and lots else ""
    if "{lot}" in place and not named["lot"]:
        return place.partition("?")[0], tr(button)
    return place.format(**{name: quote(value, safe="") for name, value in named.items()}), tr(button)


def _mended(code: str, facts: Mapping[str, Any]) -> str:
    """The thing of `PLACES` in which a reason is removed: of heat or cold what its next step names."""
    if "hatches_until" in facts:
        return ""
    if _may_be_split(code, facts) or "by" in facts:
        return "order"
    if "in_box" in facts:
        return "new packing"
    if "packed_at_c" in facts:
        return "species"
    if "both_ways" in facts or "no_pack" in facts:
        return "boxes"
    if "since" in facts:
        return "lot"
    if "heat_pack" in facts:
        return "packings"
    if facts.get("beyond_mean"):
        return "packings" if code == "too-cold" else ""
    return CODES[code].mend


@dataclass(frozen=True, slots=True)
class ListedFish:
    """One line of a parcel: the eggs to pack of a fish, from which lots and for which order, and how sure it
    is that those ordered arrive alive; None where that was not reckoned.
    """

    pack: int
    fish: str
    ordered: int
    order: str
    lots: tuple[str, ...]
    chance: float | None

    @property
    def words(self) -> str:
        """From where, for what, and how sure."""
        facts = {"lots": ", ".join(self.lots), "ordered": self.ordered, "order": self.order}
        if self.chance is None:
            return tr("from {lots}, for {ordered} ordered in {order}.", **facts)
        return tr(
            "from {lots}, for {ordered} ordered in {order}: {chance} sure that {ordered} arrive alive.",
            chance=percent(self.chance),
            **facts,
        )


class NextStep(NamedTuple):
    """How something stands, in a sentence; what can be done about it, where, and the words of the button, ""
    where nothing is to be done; ``weather`` is where a warmth that is only assumed is given for its place and
    month, ``code`` that of the reason.
    """

    text: str
    step: str = ""
    address: str = ""
    button: str = ""
    weather: str = ""
    code: str = ""


def step_for(reason: Reason, order: str, to: str, verdict: Verdict = Verdict.WAIT) -> NextStep:
    """What to do about a reason against an order that stands so, on the way to a country or part."""
    code, facts = reason.code, reason.facts
    place, button = _place_and_button(code, facts, order)
    month = date.fromisoformat(str(facts["on"])).month if is_answerable(reason) else 0
    weather = _WARMTH_THERE.format(to=quote(to, safe=""), month=month) if to and month else ""
    return NextStep(cause_text(reason), _step_text(code, facts, verdict), place, button, weather, code)


@dataclass(frozen=True, slots=True)
class ListedParcel:
    """One parcel of a day: what is in it, and where it stands."""

    name: str
    number: str
    to: str
    service: str
    contents: tuple[ListedFish, ...]
    state: str
    arrive: tuple[str | None, str | None]
    look_first: tuple[str, ...]
    count_first: tuple[str, ...]
    kept_back: tuple[str, ...]
    reasons: tuple[tuple[str, str], ...]

    @property
    def eggs(self) -> int:
        return sum(one.pack for one in self.contents)

    def has_text(self, find: str) -> bool:
        """Is what is looked for in its name, buyer, orders, fish or lots?"""
        words = [self.name, self.to]
        words += [word for one in self.contents for word in (one.order, one.fish, *one.lots)]
        return any(find.casefold() in word.casefold() for word in words)


@dataclass(frozen=True, slots=True)
class ListedDay:
    """One day of the week with its parcels, its limit (0 where none is set), the hours of hand-over, and how
    many parcels besides are made for it already.
    """

    day: date
    parcels: tuple[ListedParcel, ...]
    limit: int
    cut_offs: tuple[tuple[str, str], ...]
    made: int = 0

    @property
    def eggs(self) -> int:
        return sum(parcel.eggs for parcel in self.parcels)

    @property
    def words(self) -> str:
        """How many parcels and eggs; of kept ones, how far they are; and whether more would fit."""
        n, most, room = len(self.parcels), self.limit, self.limit - len(self.parcels) - self.made
        told = [
            tr("{n} parcel, {eggs} eggs", n=n, eggs=self.eggs)
            if n == 1
            else tr("{n} parcels, {eggs} eggs", n=n, eggs=self.eggs)
        ]
        told += [tr(STANDING[state], n=many) for state, many in self._stands()]
        if most:
            told.append(tr("the day is full") if room <= 0 else tr("{n} more would fit", n=room))
        return listed(told)

    def _stands(self) -> Iterator[tuple[str, int]]:
        """How many of its parcels stand where, of those of a kept plan."""
        for state in STANDING:
            if many := sum(parcel.state == state for parcel in self.parcels):
                yield state, many

    @property
    def hours(self) -> str:
        """Until when its services take parcels in."""
        return hours_text(self.cut_offs, self.day)

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
    reasons: tuple[NextStep, ...]


#: Where a parcel stands, as the page says it.
STATE_WORDS: Mapping[str, str] = {
    "new": "planned",
    "planned": "to pack",
    "packed": "to send",
    "sent": "sent",
    "arrived": "arrived",
    "lost": "lost",
    "returned": "returned",
}


#: How many parcels of a day stand there.
STANDING: Mapping[str, str] = {
    "planned": "{n} to pack",
    "packed": "{n} to send",
    "sent": "{n} sent",
    "arrived": "{n} arrived",
    "lost": "{n} lost",
    "returned": "{n} returned",
}


def hours_text(hours: Iterable[tuple[str, str]], day: date) -> str:
    """``Hand over until 14:30 (courier next day), 16:00 (express).``, and what to do of each hour that is
    past on the day; "" where no service has an hour.
    """
    known = sorted((hour, name) for name, hour in hours if hour)
    told = ", ".join(f"{hour} ({name})" for hour, name in known if not past_text(hour, day))
    said = [tr("Hand over until {hours}.", hours=told)] if told else []
    return " ".join((*said, *filter(None, (past_text(hour, day) for hour in dict(known)))))


def listed_days(
    week: str,
    parcels: Iterable[Mapping[str, Any]],
    states: Mapping[str, str],
    shelf: Shelf,
    made: Mapping[date, int] = MappingProxyType({}),
) -> tuple[ListedDay, ...]:
    """Every day of the week that has parcels, and every day left on which the breeder posts.

    ``parcels`` are a plan's JSON; ``states`` say where kept ones stand; ``made`` are those of a day that are
    not among them.
    """
    by_day: dict[date, list[ListedParcel]] = {day: [] for day in week_days(week)}
    services: dict[date, set[str]] = {}
    for facts in parcels:
        day = date.fromisoformat(facts["dispatch_on"])
        by_day.setdefault(day, []).append(_parcel(facts, states.get(facts["parcel"], "new"), shelf))
        if is_taken_in(facts["service"], day, shelf.place_of(facts["to"], facts["orders"]), shelf):
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
            hours = tuple((name, hour) for name, hour in cut_offs if hour)
            most = limit if day >= shelf.today else 0  # nothing more fits into a day that is past
            found.append(ListedDay(day, listed, most, hours, made.get(day, 0)))
    return tuple(found)


def _parcel(facts: Mapping[str, Any], state: str, shelf: Shelf) -> ListedParcel:
    lines = facts["lines"]
    unseen = {draw["lot"] for line in lines for draw in line["draws"] if draw["look_first"]}
    order = shelf.order_by_name.get(lines[0]["order"])
    town = order.address.town if order else ""
    name = shown_name(facts["addressee"])
    return ListedParcel(
        name=facts["parcel"],
        number=facts["parcel"].rpartition("-")[2],
        to=", ".join(part for part in (name, town, name_of_country(facts["to"])) if part),
        service=facts["service"],
        contents=tuple(_fish(line, shelf) for line in lines),
        state=state,
        arrive=(facts["arrive"]["p50"], facts["arrive"]["p95"]),
        look_first=tuple(
            sorted(lot for lot in unseen if state in ("new", "planned") and not shows_enough(lot, shelf))
        ),
        count_first=lots_to_count(lines, shelf) if state in ("new", "planned") else (),
        kept_back=tuple(note_text(note, reasons_wording()) for note in kept_back(facts["high_c"]))
        if state in ("new", "planned")
        else (),
        reasons=tuple(
            (reason["code"], why_text(Reason(reason["code"], reason["text"], reason["facts"])))
            for line in lines
            for reason in line["reasons"]
        ),
    )


def _fish(line: Mapping[str, Any], shelf: Shelf) -> ListedFish:
    return ListedFish(
        line["pack"],
        fish_name(line["species"], line["population"], shelf),
        line["ordered"],
        line["order"],
        tuple(dict.fromkeys(draw["lot"] for draw in line["draws"])),
        line["p_enough"],
    )


def listed_lines(
    lines_out: Iterable[Mapping[str, Any]], shelf: Shelf, taken: frozenset[tuple[str, int]]
) -> tuple[ListedLine, ...]:
    """A plan's lines that do not go and are in no parcel since, by standing and day of change."""
    lines = [(facts, (facts["order"], facts["line"])) for facts in lines_out]
    left = taken | shelf.cancelled  # a plan of before may still have what was cancelled since
    found = [_line(facts, shelf) for facts, key in lines if key not in left]
    rank = {"hold": 0, "wait": 1, "stop": 2}

    def place(one: ListedLine) -> tuple[object, ...]:
        return rank.get(one.verdict, 3), one.until or date.max, in_turn(one.order), one.line

    return tuple(sorted(found, key=place))


def proposed_lines(parcels: Iterable[Mapping[str, Any]], shelf: Shelf, week: str) -> Iterator[ListedLine]:
    """Lines in no parcel of the plan kept that a plan of now would send: what came or was given up since."""
    for parcel in parcels:
        said = tr(
            "Planned again, it goes on {day} by {service}.",
            day=day_words(parcel["dispatch_on"]),
            service=parcel["service"],
        )
        step = NextStep(said, "", f"/plan?week={week}", tr("Plan again"))
        for line in parcel["lines"]:
            facts = {**line, "verdict": Verdict.GO.value, "until": None, "reasons": ()}
            yield replace(_line(facts, shelf), reasons=(step,))


def help_told_once(lines: Iterable[ListedLine]) -> Iterator[ListedLine]:
    """What helps against cold or heat, a list, stands on the first of some lines that it is for alone."""
    told: set[str] = set()
    for line in lines:
        first = line.reasons[0] if line.reasons else NextStep("")
        again = first.step in told
        told |= {first.step} if first.code in OF_WARMTH else set()
        yield replace(line, reasons=(first._replace(step=""), *line.reasons[1:])) if again else line


def left_groups(lines: Sequence[ListedLine]) -> tuple[tuple[str, int, str], ...]:
    """The verdicts of lines that do not go, how many have each, and what that means in words."""
    said = {
        "go": (
            tr("order line is in no parcel of the plan kept"),
            tr("order lines are in no parcel of the plan kept"),
        ),
        "hold": (
            tr("order line waits for an answer, a look or money"),
            tr("order lines wait for an answer, a look or money"),
        ),
        "wait": (tr("order line waits for another week"), tr("order lines wait for another week")),
        "stop": (tr("order line cannot be sent"), tr("order lines cannot be sent")),
    }
    many = {word: sum(line.verdict == word for line in lines) for word in said}
    return tuple((word, n, said[word][n > 1]) for word, n in many.items() if n)


def why_lines_stay(lines: Sequence[ListedLine]) -> str:
    """What stands on the link to the lines that are in no parcel."""
    if len(lines) == 1:
        return tr("See why 1 order line is in no parcel")
    return tr("See why {n} order lines are in no parcel", n=len(lines))


def _line(facts: Mapping[str, Any], shelf: Shelf) -> ListedLine:
    order = shelf.order_by_name.get(facts["order"])
    wish = next((line for line in order.lines if line.number == facts["line"]), None) if order else None
    fish = f"{wish.eggs} {fish_name(wish.species, wish.population, shelf)}" if wish else ""
    town = order.address.town if order else ""
    there = weather_place(order.country, order.address.part) if order else ""
    return ListedLine(
        order=facts["order"],
        line=facts["line"],
        fish=fish,
        to=", ".join(part for part in (town, name_of_country(order.country) if order else "") if part),
        verdict=facts["verdict"],
        until=date.fromisoformat(facts["until"]) if facts["until"] else None,
        reasons=_reasons(facts["order"], there, _deciding_first(facts), Verdict(facts["verdict"])),
    )


#: What is said of an order that payment alone would not let go.
NO_MONEY_YET = "Ask for no money yet: alone it would not let the eggs go."


def asked_in_vain(lines_out: Iterable[Mapping[str, Any]], shelf: Shelf) -> Mapping[str, NextStep]:
    """By order, what stands in its way beside what its buyer is asked for, which alone would not do."""
    vain = [facts for facts in lines_out if in_vain(_every_reason(facts))]
    found: dict[str, NextStep] = {}
    for line in listed_lines(vain, shelf, frozenset()):
        found.setdefault(line.order, line.reasons[0])
    return found


def _every_reason(line: Mapping[str, Any]) -> list[Reason]:
    return [Reason(one["code"], one["text"], one["facts"]) for one in line["reasons"]]


def _deciding_first(line: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The reasons of a line left out, the one first that decides where it stands."""
    reasons = list(line["reasons"])
    if reasons:
        every = _every_reason(line)
        first = decisive(Verdict(line["verdict"]), every)
        reasons.insert(0, reasons.pop(next(n for n, one in enumerate(every) if one is first)))
    return reasons


def _reasons(
    order: str, to: str, reasons: Sequence[Mapping[str, Any]], verdict: Verdict
) -> tuple[NextStep, ...]:
    """What stands in the way, each step once."""
    found: list[NextStep] = []
    for reason in reasons:
        one = step_for(Reason(str(reason["code"]), str(reason["text"]), reason["facts"]), order, to, verdict)
        found.append(one._replace(step="") if any(one.step == other.step for other in found) else one)
    return tuple(found)
