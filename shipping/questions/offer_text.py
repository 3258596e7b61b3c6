"""Offers in, a short text for buyers out, to be pasted or published; it names no buyer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from shipping.questions.offer import Offer, Offers
from shipping.tables.countries import name_of, with_the
from shipping.tables.rows.settings import Sender
from shipping.words.reasons import Reason, Verdict
from shipping.words.sentence import joined, say
from shipping.words.units import MONTH_NAMES, Written, short_day

#: A day so near needs no year beside the day of the offer.
NEAR_D = 180
#: So many batches still to come are named.
_EXPECTED_SHOWN = 3


def doubts_of(offers: Offers) -> Iterator[str]:
    """What to look at before anything is promised of these offers: for the breeder, not for buyers."""
    yield from offers.unseen
    if offers.count_first:
        yield say(
            "A good part of the last count is reckoned gone, of {lots}. Count again before you promise of"
            " them.",
            ", ".join(offers.count_first),
        )
    for one in offers.doubled:
        yield joined((one.text, one.mend), " ")


def unasked_of(offers: Offers) -> tuple[Reason, ...]:
    """Why nothing is said of countries that have to be asked for region by region: a reason a country."""
    reasons = (one for offer in offers.offers if offer.is_offered for one in offer.reasons)
    return tuple({one.facts.get("to"): one for one in reasons if one.code == "no-region"}.values())


def offer_text(offers: Offers, sender: Sender) -> Iterator[str]:
    """A short text for buyers: what can be promised where and until when, with the usual cautions."""
    yield say("Live fish eggs, as of {day}: {name}", _long(offers.today), sender.name)
    yield from _of_counts(offers)
    kinds: dict[tuple[str, str], list[Offer]] = {}
    for one in offers.offers:
        if one.is_offered and one.verdict is not Verdict.HOLD:
            kinds.setdefault((one.scientific_name, one.population), []).append(one)
    for (name, population), some in kinds.items():
        yield ""
        yield f"{name}, {population}" if population else name
        if some[0].is_estimated:
            yield say("- These are estimated, not counted: each number is about so many.")
        yield from (say("- {sentence}", sentence) for sentence in _sentences(some, offers.today))
        if some[0].wetted:
            parts = (
                say("about {eggs} to wet from {day}", eggs, _day(first, offers.today))
                if first
                else say("about {eggs} with no day to wet them yet", eggs)
                for eggs, first in some[0].wetted
            )
            yield say("- They come from lots that differ: {parts}.", joined(parts, "; "))
        if some[0].expected:
            soon = (
                say("about {eggs} by {day}", batch.eggs, _day(batch.on, offers.today))
                for batch in some[0].expected[:_EXPECTED_SHOWN]
            )
            yield say("- More are expected: {batches}.", joined(soon, "; "))
    if not kinds:
        yield ""
        yield (
            "What can be promised differs by state or region: ask, and name yours."
            if unasked_of(offers)
            else "Nothing can be promised at the moment; ask what is expected."
        )
    yield ""
    if kinds:
        yield (
            "Please ask before you order or pay: every line above draws on the same eggs, and they go to"
            " whoever asks first."
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
        yield say("Ask at {mail}", sender.mail)


def _of_counts(offers: Offers) -> Iterator[str]:
    """When what is offered was counted; nothing where no lot of it was."""
    if not offers.counted:
        return
    first, last = offers.counted
    if first < last:
        yield say(
            "Their lots were counted between {first} and {last}; what was lost since is reckoned, not"
            " counted.",
            *(_long(first), _long(last)),
        )
    elif first < offers.today:
        yield say(
            "Their lots were counted on {day}; what was lost since is reckoned, not counted.", _long(first)
        )
    else:
        yield say("Their lots were counted on {day}.", _long(first))


def _sentences(some: list[Offer], today: date) -> Iterator[str]:
    """A sentence for each promise with its countries; a country stands in that of its best promise only."""
    told: set[str] = set()
    alike: dict[object, tuple[Offer, list[str]]] = {}
    for one in sorted(some, key=lambda offer: -offer.can_promise):
        left = [code for code in one.countries if code not in told]
        told.update(left)
        promised = tuple((day.on, day.can_promise) for day in one.days)
        alike.setdefault((one.until, promised), (one, []))[1].extend(left)
    for one, countries_left in alike.values():
        if countries_left:
            yield _sentence(one, countries_left, today)


def _sentence(one: Offer, countries_left: list[str], today: date) -> str:
    first, last, by = (_day(day, today) for day in (one.from_, one.until, one.order_by))
    if first == last:
        when = say("on {day}; order by {last}", first, by)
    elif last and by:
        when = say("from {day} to {end}; order by {last}", first, last, by)
    else:
        when = say("from {day} on", first)
    most = say(
        "{countries}: up to {eggs} eggs in one order, posted {when}.",
        _by_name(countries_left),
        one.can_promise,
        when,
    )
    at_last = one.days[-1].can_promise if one.days else one.can_promise
    if at_last == one.can_promise or not last:
        return most
    most_until = max(day.on for day in one.days if day.can_promise == one.can_promise)
    return say("{most} So many until {until}, {eggs} on {day}.", most, _day(most_until, today), at_last, last)


def _by_name(codes: Iterable[str]) -> str:
    """Places by their names, as a sentence begins with them."""
    names = ", ".join(map(with_the, sorted(map(_name, codes))))
    return Written(names[:1].upper() + names[1:], tuple(codes), "countries")


def _name(code: str) -> str:
    country, dash, _ = code.partition("-")
    return f"{name_of(country)} ({code})" if dash else name_of(country)


def _day(day: date | None, today: date) -> str:
    """``Wed 2 Dec``; with its year where it might be taken for another."""
    return short_day(day) if day and abs((day - today).days) < NEAR_D else _long(day)


def _long(day: date | None) -> str:
    return Written(f"{day.day} {MONTH_NAMES[day.month - 1]} {day.year}", day, "long day") if day else ""
