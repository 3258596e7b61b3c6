"""What `offer` prints: offers in, a table for the breeder, a text to paste for buyers and rows for a
spreadsheet out.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from datetime import date

from shipping.cli.print_answers import reasons, table
from shipping.post.countries import countries
from shipping.questions.offer_data import ALTERNATIVES, Offer, Offers
from shipping.tables.rows.settings import Sender
from shipping.words.reasons import Reason, Verdict
from shipping.words.units import weekday

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
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
#: A spreadsheet takes a cell that begins so for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_EXPECTED_SHOWN = 3


def offer_lines(offers: Offers) -> Iterator[str]:
    """What is on offer, what after an answer, what not and why; what groups will give, orders in hand, lines
    that wait.
    """
    yield f"On {offers.today}, after orders in hand and the plan of {offers.week}:"
    now = [one for one in offers.offers if one.is_offered and one.verdict is not Verdict.HOLD]
    held = [one for one in offers.offers if one.is_offered and one.verdict is Verdict.HOLD]
    yield ""
    if now:
        yield from _table(now)
        yield (
            "One order of one line can be promised so many eggs, on the day it is most; fewer on other days"
            " (--json: each day)."
        )
    else:
        yield "Nothing can be promised."
    yield ALTERNATIVES
    yield from _answers(held)
    yield from _not_offered(offers)
    yield from _expected(offers)
    yield from _in_hand(offers)


def _kind(species: str, population: str) -> str:
    return f"{species} {population}".strip()


def _there(one: Offer) -> str:
    return one.to if one.countries == (one.to,) else f"{one.to} ({' '.join(one.countries)})"


def _day(day: date | None) -> str:
    return f"{weekday(day)} {day}" if day else ""


def _table(offers: Iterable[Offer]) -> Iterator[str]:
    rows = [
        (
            _kind(one.species, one.population),
            _there(one),
            one.verdict.value,
            one.eggs_free,
            one.can_promise,
            _day(one.best_on),
            one.from_,
            one.until or "no end seen",
            one.order_by or "",
            ", ".join(f"{way.service}{f' by {way.cut_off}' if way.cut_off else ''}" for way in one.ways),
        )
        for one in offers
    ]
    header = (
        "species",
        "to",
        "",
        "free",
        "promise",
        "most on",
        "post from",
        "post until",
        "order by",
        "hand over",
    )
    yield from table(header, rows)
    regions = sorted({region for one in offers for region in one.regions})
    if regions:
        yield (
            f"Not asked for their own rules or warmth: {', '.join(regions)}. Ask with --to, such as --to"
            f" {regions[0]}."
        )


def _answers(held: list[Offer]) -> Iterator[str]:
    if not held:
        return
    yield ""
    yield "AFTER AN ANSWER (not offered before)"
    yield from _table(held)
    alike: dict[tuple[object, ...], tuple[Reason, set[str]]] = {}
    for one in held:
        for reason in one.reasons:
            key = (reason.code, reason.facts.get("to"), reason.facts.get("service"), reason.source)
            alike.setdefault(key, (reason, set()))[1].add(one.species)
    for reason, species in alike.values():
        more = f" (so for {len(species)} species)" if len(species) > 1 else ""
        yield f"  {reason.code}: {reason.text}{more}"


def _not_offered(offers: Offers) -> Iterator[str]:
    out = [one for one in offers.offers if not one.is_offered]
    if not out:
        return
    yield ""
    yield "NOT OFFERED"
    for name in dict.fromkeys(_kind(one.species, one.population) for one in out):
        alike: dict[str, list[str]] = {}
        for one in out:
            if _kind(one.species, one.population) == name:
                codes = ", ".join(dict.fromkeys(reason.code for reason in one.reasons)) or "nothing on hand"
                alike.setdefault(codes, []).append(_there(one))
        yield f"  {name}: " + "; ".join(f"{', '.join(there)}: {codes}" for codes, there in alike.items())
    looks = {
        r.text: r
        for one in out
        for r in one.reasons
        if r.code in ("overdue", "misdated", "too-old", "recount", "short")
    }
    yield from reasons(looks.values())


def _expected(offers: Offers) -> Iterator[str]:
    found = {_kind(one.species, one.population): one.expected for one in offers.offers if one.expected}
    if not found:
        return
    yield ""
    yield "EXPECTED from spawning groups, fertile and showing eyes, beyond what lines that wait are to have"
    for name, batches in found.items():
        shown = "; ".join(f"{batch.eggs} by {batch.on} ({batch.group})" for batch in batches)
        yield f"  {name}: {shown}"


def _in_hand(offers: Offers) -> Iterator[str]:
    yield ""
    rows = [
        (_kind(one.species, one.population), one.kept, one.planned, one.waiting, one.held, one.all)
        for one in offers.taken
        if one.all
    ]
    if rows:
        yield "EGGS FOR ORDERS IN HAND (they come first)"
        yield from table(("species", "kept parcels", "planned", "wait", "on hold", "all"), rows)
    if offers.waiting:
        yield ""
        yield "LINES THAT WAIT"
    for one in offers.waiting:
        until = f"until {one.until}" if one.until else "nobody knows until when"
        yield f"  {one.order} line {one.line}, {one.eggs} of {_kind(one.species, one.population)}: {until}"
        yield f"    {one.reasons[0].code if one.reasons else ''}: {one.reason}"


def offer_text(offers: Offers, sender: Sender) -> Iterator[str]:
    """A short text for buyers: what can be promised where and until when, in plain words, with the usual
    cautions.
    """
    yield f"Live fish eggs, counted, as of {_long(offers.today)}: {sender.name}"
    kinds: dict[tuple[str, str], list[Offer]] = {}
    for one in offers.offers:
        if one.is_offered and one.verdict is not Verdict.HOLD:
            kinds.setdefault((one.scientific_name, one.population), []).append(one)
    for (name, population), some in kinds.items():
        yield ""
        yield f"{name}, {population}" if population else name
        yield from (f"- {_sentence(one)}" for one in some)
        if some[0].expected:
            soon = "; ".join(
                f"about {batch.eggs} by {_long(batch.on)}" for batch in some[0].expected[:_EXPECTED_SHOWN]
            )
            yield f"- More are expected: {soon}."
    if not kinds:
        yield ""
        yield "Nothing can be promised at the moment; ask what is expected."
    yield ""
    yield (
        "Please ask before you order or pay: every line above draws on the same eggs, and they go to whoever"
        " asks first."
    )
    yield (
        "You receive live eggs, not fish; extra eggs are packed so that the count ordered arrives alive"
        " mostly, not always."
    )
    yield (
        "Whether you may receive and keep the species is for the law of your country or region: ask your"
        " authority and your post before you order. Other countries: ask, it may take papers or not be"
        " possible."
    )
    yield "Never release fish, eggs, water or packing into any water or drain that leads to one."
    if sender.mail:
        yield f"Ask at {sender.mail}"


def _sentence(one: Offer) -> str:
    names = ", ".join(_country(code) for code in one.countries)
    posted = f"from {_long(one.from_)}" if one.from_ else ""
    until = f" to {_long(one.until)}; order by {_long(one.order_by)}" if one.until and one.order_by else " on"
    if one.from_ == one.until:
        posted, until = f"on {_long(one.from_)}", f"; order by {_long(one.order_by)}"
    return f"{names}: up to {one.can_promise} eggs in one order, posted {posted}{until}."


def _country(code: str) -> str:
    found = countries().get(code.partition("-")[0])
    return f"{found.name_en} ({code})" if found and "-" in code else found.name_en if found else code


def _long(day: date | None) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}" if day else ""


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
