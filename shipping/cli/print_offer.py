"""What `offer` prints: a table for the breeder, a text for buyers, rows for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from datetime import date

from shipping.cli.sentences import in_short, reason_text, step_text
from shipping.cli.window import Column, Window
from shipping.questions.offer_data import Offer, Offers
from shipping.words.reasons import LOOKS, Reason, Verdict
from shipping.words.units import short_day

#: The header of the spreadsheet.
COLUMNS = (
    "species",
    "scientific_name",
    "population",
    "to",
    "countries",
    "verdict",
    "eggs_free",
    "can_promise",
    "best_on",
    "from",
    "until",
    "order_by",
    "services",
    "expected",
    "reasons",
)
#: A spreadsheet takes a cell that begins so for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_EXPECTED_SHOWN = 3


def offer_lines(offers: Offers, window: Window) -> Iterator[str]:
    """What is on offer, what after an answer, what not and why; groups, orders in hand, lines that wait."""
    now = [one for one in offers.offers if one.is_offered and one.verdict is not Verdict.HOLD]
    held = [one for one in offers.offers if one.is_offered and one.verdict is Verdict.HOLD]
    fish = {_kind(one.species, one.population) for one in now}
    first = min((one.from_ for one in now if one.from_), default=None)
    what = (
        f"{len(fish)} fish can be promised from {short_day(first)} on" if first else "Nothing can be promised"
    )
    yield from window.wrapped(f"{what}, after orders in hand and the plan of {offers.week}.")
    if now:
        yield from window.wrapped(
            "promise: the most eggs one order can have, on its best day; free: the eggs free on that day."
            " Every place is offered the same eggs: they do not add up."
        )
        yield ""
        yield from _table(now, offers.offers, window)
    yield from _answers(held, window)
    yield from _not_offered(offers, window)
    yield from _expected(offers, window)
    yield from _in_hand(offers, window)


def _kind(species: str, population: str) -> str:
    return f"{species} {population}".strip()


def _there(one: Offer, offers: Iterable[Offer]) -> str:
    """The place; its countries too where offers to other countries of it differ."""
    others = any(
        other.to == one.to
        and other is not one
        and (other.species, other.population) == (one.species, one.population)
        for other in offers
    )
    return f"{one.to} ({' '.join(one.countries)})" if others and one.countries != (one.to,) else one.to


def _table(offers: list[Offer], every: Iterable[Offer], window: Window) -> Iterator[str]:
    columns = (
        Column("fish"),
        Column("free", 2, right=True),
        Column("promise", right=True),
        Column("most on", 5),
        Column("from", 3),
        Column("until"),
        Column("order by", 4),
        Column("hand over", 6),
        Column("to"),
    )
    rows = [
        (
            _kind(one.species, one.population),
            one.eggs_free,
            one.can_promise,
            _day(one.best_on),
            _day(one.from_),
            _day(one.until) or "no end",
            _day(one.order_by),
            ", ".join(f"{way.service}{f' by {way.cut_off}' if way.cut_off else ''}" for way in one.ways),
            _there(one, every),
        )
        for one in offers
    ]
    yield from window.table(columns, rows)
    regions = sorted({region for one in offers for region in one.regions})
    if regions:
        yield from window.wrapped(
            f"Not asked for their own rules or warmth: {', '.join(regions)}. Ask with --to, such as --to"
            f" {regions[0]}."
        )


def _day(day: date | None) -> str:
    return short_day(day) if day else ""


def _answers(held: list[Offer], window: Window) -> Iterator[str]:
    """What may be offered once somebody has answered: each cause once, with the places and how many fish."""
    if not held:
        return
    yield ""
    yield from window.wrapped(f"{window.mark('AFTER AN ANSWER', 'hold')} (not offered before)")
    alike: dict[tuple[object, ...], tuple[Reason, set[str]]] = {}
    for one in held:
        for reason in one.reasons:
            key = (reason.code, reason.facts.get("to"), reason.facts.get("service"))
            alike.setdefault(key, (reason, set()))[1].add(_kind(one.species, one.population))
    for reason, fish in alike.values():
        named = ", ".join(sorted(fish)) if len(fish) <= _EXPECTED_SHOWN else f"{len(fish)} fish"
        text = f"{named}: {reason_text(reason, len(fish), offered=True)}. {step_text(reason, offered=True)}."
        yield from window.wrapped(text, "  ", "    ")


def _not_offered(offers: Offers, window: Window) -> Iterator[str]:
    out = [one for one in offers.offers if not one.is_offered]
    if not out:
        return
    yield ""
    yield from window.wrapped(
        f"{window.mark('NOT OFFERED', 'stop')} (what the plan sends is no offer any more)"
    )
    for name in dict.fromkeys(_kind(one.species, one.population) for one in out):
        alike: dict[str, list[str]] = {}
        for one in out:
            if _kind(one.species, one.population) == name:
                why = in_short(one.reasons[:1]) or "nothing on hand"
                alike.setdefault(why, []).append(_there(one, offers.offers))
        said = "; ".join(f"{why} ({', '.join(dict.fromkeys(there))})" for why, there in alike.items())
        yield from window.wrapped(f"{name}: {said}", "  ", "    ")
    looks = {reason_text(r): r for one in out for r in one.reasons if _asks_to_look(r, offers.today)}
    for text, reason in looks.items():
        yield from window.wrapped(f"{text}. {step_text(reason)}.", "  ", "    ")


def _asks_to_look(reason: Reason, today: date) -> bool:
    """Is a lot to be looked at today? What will have hatched, or be past its wetting, only later is not."""
    is_later = str(reason.facts.get("on", "")) > today.isoformat() or "p95" in reason.facts
    return reason.code in LOOKS and not is_later


def _expected(offers: Offers, window: Window) -> Iterator[str]:
    found = {_kind(one.species, one.population): one.expected for one in offers.offers if one.expected}
    if not found:
        return
    yield ""
    yield from window.wrapped(
        "EXPECTED from spawning groups, beyond what lines that wait are to have, fertile and showing eyes:"
    )
    for name, batches in found.items():
        shown = "; ".join(f"{batch.eggs} by {short_day(batch.on)} ({batch.group})" for batch in batches)
        yield from window.wrapped(f"{name}: {shown}", "  ", "    ")


def _in_hand(offers: Offers, window: Window) -> Iterator[str]:
    rows = [
        (_kind(one.species, one.population), one.kept, one.planned, one.waiting, one.held, one.all)
        for one in offers.taken
        if one.all
    ]
    if rows:
        yield ""
        yield from window.wrapped("EGGS FOR ORDERS IN HAND (they come first)")
        columns = (
            Column("fish"),
            Column("kept", 2, right=True),
            Column("planned", 2, right=True),
            Column("wait", 2, right=True),
            Column("on hold", 2, right=True),
            Column("all", right=True),
        )
        yield from window.table(columns, rows, "  ")
    if offers.waiting:
        yield ""
        yield from window.wrapped(window.mark("LINES THAT WAIT", "wait"))
    for one in offers.waiting:
        until = f"may go from {short_day(one.until)}" if one.until else "nobody knows until when"
        why = f": {reason_text(one.reasons[0])}" if one.reasons else ""
        text = f"{one.order} line {one.line}, {one.eggs} {_kind(one.species, one.population)}, {until}{why}"
        yield from window.wrapped(text, "  ", "    ")


def offer_csv(offers: Offers) -> bytes:
    """The offers as CSV for a spreadsheet: UTF-8 with its mark; no cell is taken for a formula."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in offers.offers:
        cells = (
            one.species,
            one.scientific_name,
            one.population,
            one.to,
            " ".join(one.countries),
            one.verdict.value,
            one.eggs_free,
            one.can_promise,
            one.best_on or "",
            one.from_ or "",
            one.until or "",
            one.order_by or "",
            "; ".join(way.service for way in one.ways),
            "; ".join(f"{batch.eggs} by {batch.on}" for batch in one.expected),
            " ".join(f"{reason.code}: {reason.text}" for reason in one.reasons),
        )
        writer.writerow(_safe(str(cell)) for cell in cells)
    return out.getvalue().encode("utf-8-sig")


def _safe(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA) else cell
