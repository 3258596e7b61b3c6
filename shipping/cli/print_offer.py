"""What `offer` prints: a table for the breeder, a text for buyers, rows for a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

from shipping.cli.terminal import TableColumn, Window, in_short, reason_text, step_text
from shipping.questions.offer import Offer, Offers
from shipping.questions.offer_text import doubts_of
from shipping.tables.files.csv_file import csv_of
from shipping.words.keys import grouped
from shipping.words.reasons import LOOKS, Reason, Verdict
from shipping.words.units import ABOUT_SO_MANY, short_day

#: The header of the spreadsheet.
COLUMNS = (
    *("species", "scientific_name", "population", "to", "countries", "verdict", "eggs_free", "can_promise"),
    *("best_on", "from", "until", "order_by", "services", "expected", "reasons"),
)
_EXPECTED_SHOWN = 3


def offer_lines(offers: Offers, window: Window, narrowed: bool = True) -> Iterator[str]:
    """What is on offer, what after an answer, and what groups will lay; asked for some fish or places, also
    what is not offered there and why, orders in hand and lines that wait.
    """
    now = [offer for offer in offers.offers if offer.is_offered and offer.verdict is not Verdict.HOLD]
    held = [offer for offer in offers.offers if offer.is_offered and offer.verdict is Verdict.HOLD]
    fish = {_kind(offer.species, offer.population) for offer in now}
    first = min((offer.from_ for offer in now if offer.from_), default=None)
    what = "Nothing can be promised"
    if first:
        what = f"{len(fish)} fish can be promised from {short_day(first)} on"
    yield from window.wrapped(f"{what}, after orders in hand and the plan of {offers.week}.")
    if now:
        yield from window.wrapped(
            "promise: the most eggs one order can have, on its best day; free: the eggs free on that day."
            f" Every place is offered the same eggs: they do not add up. {ABOUT_SO_MANY}"
        )
        yield ""
        yield from _table(now, offers.offers, window)
    for doubt in doubts_of(offers):
        yield from window.wrapped(doubt)
    yield from _answers(held, window)
    yield from _not_offered(offers, window, narrowed)
    yield from _expected(offers, window)
    if narrowed:
        yield from _in_hand(offers, window)


def _kind(species: str, population: str) -> str:
    return f"{species} {population}".strip()


def _there(offer: Offer, offers: Iterable[Offer]) -> str:
    """The place; its countries too where offers to other countries of it differ."""
    others = any(
        other.to == offer.to
        and other is not offer
        and (other.species, other.population) == (offer.species, offer.population)
        for other in offers
    )
    return (
        f"{offer.to} ({' '.join(offer.countries)})" if others and offer.countries != (offer.to,) else offer.to
    )


def _table(offers: list[Offer], every: Iterable[Offer], window: Window) -> Iterator[str]:
    columns = (
        TableColumn("fish"),
        TableColumn("free", 2, right=True),
        TableColumn("promise", right=True),
        TableColumn("most on", 5),
        TableColumn("from", 3),
        TableColumn("until"),
        TableColumn("order by", 4),
        TableColumn("hand over", 6),
        TableColumn("to"),
    )
    rows = [
        (
            _kind(offer.species, offer.population),
            offer.eggs_free,
            offer.can_promise,
            _day(offer.best_on),
            _day(offer.from_),
            _day(offer.until) or "no end",
            _day(offer.order_by),
            ", ".join(f"{way.service}{f' by {way.cut_off}' if way.cut_off else ''}" for way in offer.ways),
            _there(offer, every),
        )
        for offer in offers
    ]
    yield from window.table(columns, rows)
    regions = sorted({region for offer in offers for region in offer.regions})
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
    asked: dict[tuple[object, ...], tuple[Reason, set[str]]] = {}
    for offer in held:
        for reason in offer.reasons:
            key = (reason.code, reason.facts.get("to"), reason.facts.get("service"))
            asked.setdefault(key, (reason, set()))[1].add(_kind(offer.species, offer.population))
    alike = grouped(
        ((_but_for_place(reason), tuple(sorted(fish))), reason) for reason, fish in asked.values()
    )
    for (_, fish), reasons in alike.items():
        named = ", ".join(fish) if len(fish) <= _EXPECTED_SHOWN else f"{len(fish)} fish"
        places = ", ".join(str(reason.facts.get("to", "")) for reason in reasons)
        text = reason_text(_placed(reasons[0], places), len(fish), offered=True)
        step = step_text(_placed(reasons[0], "COUNTRY") if reasons[1:] else reasons[0], offered=True)
        yield from window.wrapped(f"{named}: {text}. {step}.", "  ", "    ")


def _placed(reason: Reason, to: str) -> Reason:
    return replace(reason, facts={**reason.facts, "to": to}) if "to" in reason.facts else reason


def _but_for_place(reason: Reason) -> tuple[object, ...]:
    """What reasons have in common that say the same of several places."""
    bare = _placed(reason, "")
    return reason.code, reason_text(bare, offered=True), step_text(bare, offered=True)


def _not_offered(offers: Offers, window: Window, narrowed: bool) -> Iterator[str]:
    """Each fish that is not offered somewhere, with the reasons and places; or only those offered nowhere."""
    out = grouped((_kind(one.species, one.population), one) for one in offers.offers if not one.is_offered)
    if not out:
        return
    yield ""
    yield from window.wrapped(
        f"{window.mark('NOT OFFERED', 'stop')} (what the plan sends is no offer any more)"
    )
    if not narrowed:
        somewhere = {_kind(one.species, one.population) for one in offers.offers if one.is_offered}
        nowhere = [name for name in out if name not in somewhere]
        yield from window.wrapped(f"nowhere: {', '.join(nowhere) or 'none'}", "  ", "    ")
        example = (nowhere or list(out))[0].split()[0]
        yield from window.wrapped(f"Why, and where else not: offer --species {example}", "  ", "    ")
    for name, of_fish in out.items() if narrowed else ():
        alike = grouped(
            (in_short(one.reasons[:1]) or "nothing on hand", _there(one, offers.offers)) for one in of_fish
        )
        said = "; ".join(f"{why} ({', '.join(dict.fromkeys(there))})" for why, there in alike.items())
        yield from window.wrapped(f"{name}: {said}", "  ", "    ")
    looks = {
        reason_text(r): r
        for of_fish in out.values()
        for offer in of_fish
        for r in offer.reasons
        if _asks_to_look(r, offers.today)
    }
    for text, reason in looks.items():
        yield from window.wrapped(f"{text}. {step_text(reason)}.", "  ", "    ")


def _asks_to_look(reason: Reason, today: date) -> bool:
    """Is a lot to be looked at today? What will have hatched, or be past its wetting, only later is not."""
    is_later = str(reason.facts.get("on", "")) > today.isoformat() or "p95" in reason.facts
    return reason.code in LOOKS and not is_later


def _expected(offers: Offers, window: Window) -> Iterator[str]:
    batches_by_fish = {
        _kind(offer.species, offer.population): offer.expected for offer in offers.offers if offer.expected
    }
    if not batches_by_fish:
        return
    yield ""
    yield from window.wrapped(
        "EXPECTED from spawning groups, beyond what lines that wait are to have, fertile and showing eyes:"
    )
    for name, batches in batches_by_fish.items():
        shown = "; ".join(f"{batch.eggs} by {short_day(batch.on)} ({batch.group})" for batch in batches)
        yield from window.wrapped(f"{name}: {shown}", "  ", "    ")


def _in_hand(offers: Offers, window: Window) -> Iterator[str]:
    rows = [
        (_kind(line.species, line.population), line.kept, line.planned, line.waiting, line.held, line.all)
        for line in offers.taken
        if line.all
    ]
    if rows:
        yield ""
        yield from window.wrapped("EGGS FOR ORDERS IN HAND (they come first)")
        counts = (TableColumn(name, 2, right=True) for name in ("kept", "planned", "wait", "on hold"))
        columns = (TableColumn("fish"), *counts, TableColumn("all", right=True))
        yield from window.table(columns, rows, "  ")
    if offers.waiting:
        yield ""
        yield from window.wrapped(window.mark("LINES THAT WAIT", "wait"))
    for line in offers.waiting:
        until = f"may go from {short_day(line.until)}" if line.until else "nobody knows until when"
        why = f": {reason_text(line.reasons[0])}" if line.reasons else ""
        text = (
            f"{line.order} line {line.line}, {line.eggs} {_kind(line.species, line.population)}, {until}{why}"
        )
        yield from window.wrapped(text, "  ", "    ")


def offer_csv(offers: Offers) -> bytes:
    """The offers as CSV for a spreadsheet: UTF-8 with its mark; no cell is taken for a formula."""
    return csv_of([COLUMNS, *map(_csv_row, offers.offers)])


def _csv_row(offer: Offer) -> tuple[object, ...]:
    return (
        *(offer.species, offer.scientific_name, offer.population, offer.to, " ".join(offer.countries)),
        *(offer.verdict.value, offer.eggs_free, offer.can_promise),
        *(offer.best_on, offer.from_, offer.until, offer.order_by),
        "; ".join(way.service for way in offer.ways),
        "; ".join(f"{batch.eggs} by {batch.on}" for batch in offer.expected),
        " ".join(f"{reason.code}: {reason.text}" for reason in offer.reasons),
    )
