"""Checks of buyers: mail, name and street of their own, language and service of their country, papers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches

from shipping.tables.cells import shortened, values_of
from shipping.tables.checks.row_problems import asked, noted
from shipping.tables.country_codes import is_country, languages_of, name_of
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.rows.orders import OrderRow, OwedRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

#: A mail address: one ``@``, a name of letters, digits and marks, a host of at least two parts (RFC 5321, in
#: the form that mailers take; letters of any script as RFC 6531 allows).
_MAIL = re.compile(r"[^\s@,;:<>()\[\]\"\\]+@(?:[^\W_](?:[\w-]*[^\W_])?\.)+[^\W\d_]{2,}")
_MAIL_MEND = "Write one address such as name@example.org."


def mails_can_be_written_to(draft: Draft) -> Iterator[Problem]:
    """A mail address to which no mail goes: the buyer never hears that eggs are coming."""
    for row in draft.first_rows:
        if "@" in row.mail and not _is_mail(row.mail):
            text = "'{mail}' is no mail address."
            yield noted(row, "mail", "column", text, _MAIL_MEND, mail=shortened(row.mail))
    sender = draft.settings.sender.mail if draft.settings else ""
    if sender and not _is_mail(sender):
        text = say("'{mail}' is no mail address.", shortened(sender))
        yield Problem(Where(SETTINGS_FILE), "sender.mail", "column", text, _MAIL_MEND, Level.NOTICE)


def _is_mail(text: str) -> bool:
    name = text.partition("@")[0]
    return bool(_MAIL.fullmatch(text)) and ".." not in name and name[0] != "." != name[-1]


#: What a name or a street never holds: marks of web pages, of sheets and of programs that met no value.
_OF_A_PROGRAM = re.compile(
    r"&#?\w+;|</?[a-z]+>|%[0-9A-F]{2}|^[\"+].|^(?:null|nan|undefined|none)$", re.IGNORECASE
)
_has_digit = re.compile(r"[0-9]").search
#: A town with a street or a postcode in it; ``Praha 5`` and ``Dublin 24`` are towns.
_NOT_A_TOWN = re.compile(r"[0-9]+[^\W\d_]*[\s,]+[^\W\d_]{3,}.*|.*[0-9]{3,}.*|.*,.*[0-9].*")
_words_of_buyer = values_of("addressee", "delivery_1", "delivery_2", "town")


def names_and_streets_are_apart(draft: Draft) -> Iterator[Problem]:
    """A name with a street in it or that is the street, a town with one, what a program wrote for nothing."""
    for row in draft.first_rows:
        name, street, second, town = _words_of_buyer(row)
        if found := _OF_A_PROGRAM.search(name) or _OF_A_PROGRAM.search(street):
            column = "addressee" if found.string is name else "delivery_1"
            text = say("'{text}' would stand on the label as it is.", shortened(found.string))
            yield from asked(draft, row, column, text, "Write it out", code="column")
        elif _has_digit(name):
            text = say("'{addressee}' has a number, as a street has.", shortened(name))
            yield from asked(draft, row, "addressee", text, "Write the name for the label", code="column")
        elif street and folded(street) == folded(name):
            text = say("'{addressee}' is the name too.", shortened(street))
            yield from asked(draft, row, "delivery_1", text, "Write street and number", code="column")
        if town and _has_digit(town) and _NOT_A_TOWN.fullmatch(town):
            text = "'{town}' has a street or a postcode in it."
            mend = say("Write the town here and the postcode in postcode")
            yield from asked(draft, row, "town", text, mend, code="column", town=shortened(town))
        elif second and row.postcode and row.postcode in second and folded(town) in folded(second):
            text = say("'{delivery_2}' stands in postcode and town too.", shortened(second))
            yield noted(row, "delivery_2", "column", text, "Empty it: the label would have it twice.")


def buyers_have_a_street_of_their_own(draft: Draft) -> Iterator[Problem]:
    """A street or a number drawn down over the next buyer's row; one buyer's parcels to two places."""
    by_street: dict[tuple[str, str], OrderRow] = {}
    by_buyer: dict[str, OrderRow] = {}
    for row in draft.first_rows:
        if row.cancelled_on is not None:
            continue
        for column, value in (("delivery_1", row.delivery_1), ("tel", row.tel)):
            if not value or not _has_digit(value):
                continue
            other = by_street.setdefault((column, value.casefold()), row)
            if other.postcode != row.postcode and other.addressee.casefold() != row.addressee.casefold():
                text = say(
                    "'{street}' stands for '{buyer}' on row {row} too.",
                    shortened(value),
                    other.addressee,
                    other.at.row,
                )
                yield from asked(draft, row, column, text, "Write this buyer's")
        if row.mail:
            other = by_buyer.setdefault(row.mail.casefold(), row)
            if other.addressee.casefold() == row.addressee.casefold() and _place(other) != _place(row):
                text = say(
                    "'{street}' is not where order '{order}' of the same buyer goes.",
                    shortened(row.delivery_1),
                    other.order,
                )
                yield from asked(
                    draft, row, "delivery_1", text, "Look at both addresses", code="two-addresses"
                )


_place = values_of("delivery_1", "postcode", "country")


def languages_are_of_the_country(draft: Draft) -> Iterator[Problem]:
    """A language that is none of the country's: one of the two codes is another country's (AT for AU).

    English is anybody's, and a pair of the two is asked about once.

    References
    ----------
    Unicode CLDR, official languages by territory, as Babel ships it.
    """
    asked_of: set[tuple[str, str]] = set()
    for row in draft.first_rows:
        language, pair = row.language, (row.language or "", row.country)
        if not language or pair in asked_of or language == "en":
            continue
        asked_of.add(pair)
        spoken = languages_of(row.country)
        if spoken and language not in spoken:
            text = say(
                "'{language}' is no language of {row_country} ({country}).",
                language,
                name_of(row.country),
                row.country,
            )
            yield from asked(draft, row, "language", text, "Look at country and language", code="language")


def named_services_go_there(draft: Draft) -> Iterator[Problem]:
    """A service that an order names goes to its country."""
    to: dict[str, set[str]] = {}
    if (
        draft.failed.get("services")
        or not {"services", "zones"} <= draft.complete
        or draft.failed.get("zones")
    ):
        return
    for service in draft.services:
        places = to.setdefault(service.service, set())
        for place in service.to:
            unread = () if is_country(place) or place in draft.zone_countries else ("*",)
            places.update((place, *draft.zone_countries.get(place, unread)))
    for row in draft.first_rows:
        goes_to = to.get(row.service or "", set())
        if goes_to and is_country(row.country) and not goes_to & {row.country, "*"}:
            text = "'{service}' does not go to {country}."
            yield from asked(draft, row, "service", text, "Look at country and service", code="no-route")


#: What is written of papers that nobody holds.
_NO_PAPER = re.compile(r"none|no|n/?a|nil|keine?|aucun|ninguno|not needed|yes|ja|oui|s[ií]", re.IGNORECASE)


def papers_are_those_of_the_rules(draft: Draft) -> Iterator[Problem]:
    """Papers held that no rule asks for by that name: they count for nothing."""
    known = {folded(paper): paper for rule in draft.rules for paper in rule.papers}
    for rule in draft.rules:
        for paper in rule.papers:
            if _NO_PAPER.fullmatch(paper) or " / " in paper:
                text = say("'{papers}' names no paper.", shortened(paper))
                yield noted(rule, "papers", "papers", text, "Write the names of papers held, with ; between.")
    for row in draft.first_rows:
        for paper in row.papers:
            if folded(paper) in known or not known:
                continue
            like = get_close_matches(folded(paper), sorted(known), 1, 0.8)
            several = [name for name in known if name in folded(paper)]
            text = say("'{paper}' is a paper of no rule, and counts for nothing.", shortened(paper))
            if len(several) > 1 or like or _NO_PAPER.fullmatch(paper):
                mend = (
                    say("Put ; between them")
                    if len(several) > 1
                    else say("Write the paper's name as the rule has it")
                )
                yield from asked(
                    draft,
                    row,
                    "papers",
                    text,
                    say("Write '{kind}'", known[like[0]]) if like else mend,
                    code="papers",
                )


#: So many days apart the same wish of the same place is mostly one order, typed again. Assumed.
AGAIN_WITHIN_D = 10


def wishes_are_not_typed_again(draft: Draft) -> Iterator[Problem]:
    """The same fish to the same door within days, under another order's name or buyer's spelling."""
    doors = grouped((_place(row), row.order) for row in draft.first_rows if row.delivery_1)
    several = {order for orders in doors.values() if len(orders) > 1 for order in orders}
    open_rows = (row for row in draft.order_rows if row.order in several and row.cancelled_on is None)
    first: dict[tuple[object, ...], OrderRow] = {}
    for row in open_rows if several else ():
        if isinstance(row, OwedRow):
            continue
        other = first.setdefault((*_place(row), row.species, row.population), row)
        told_already = other.placed_on == row.placed_on and (other.addressee, other.eggs) == (
            row.addressee,
            row.eggs,
        )
        if other.order != row.order and not told_already and _is_again(other, row):
            text = "'{species}' for the same address stand in order '{order}' too."
            mend = say("Remove one, if it was not meant twice")
            yield from asked(draft, row, "eggs", text, mend, code="line-twice", order=other.order)


def _is_again(one: OrderRow, other: OrderRow) -> bool:
    return abs((one.placed_on - other.placed_on).days) <= AGAIN_WITHIN_D


_TRIAL = re.compile(
    r"(?:test|tests|testing|probe|beispiel|example|demo)(?:[ -]?(?:order|bestellung|[0-9]+)|)", re.IGNORECASE
)


def orders_are_no_tests(draft: Draft) -> Iterator[Problem]:
    """An order named as a trial of the table or the shop counts and would be packed."""
    for row in draft.first_rows:
        if _TRIAL.fullmatch(row.order) or _TRIAL.fullmatch(" ".join(dict.fromkeys(row.addressee.split()))):
            text = "'{order}' is mostly a trial, and it counts as an order."
            yield from asked(draft, row, "order", text, "Remove the row", code="order-name")


_MOVED = re.compile(
    r"\b(?:moved|(?:new|wrong|other) address|(?:ship|send|deliver)\w* (?:it )?to|umgezogen|"
    r"neue (?:adresse|anschrift)|"
    r"nouvelle adresse|déménagé|nueva dirección|ny adresse|nieuw adres|nowy adres)\b",
    re.IGNORECASE,
)
_OTHER_COUNT = re.compile(
    r"\b(?:wants?|make it|instead of|not|statt|au lieu de|en vez de) [0-9]+\b"
    r"|\b[0-9]+ (?:more|eggs? please)\b",
    re.IGNORECASE,
)


def notes_stand_in_columns(draft: Draft) -> Iterator[Problem]:
    """A new address or another count told in a note only: label and plan read the columns."""
    for row in draft.order_rows:
        if row.cancelled_on is not None:
            continue
        for column, text in (("note", row.note), ("message", row.message)):
            if text and (word := _MOVED.search(text) or _OTHER_COUNT.search(text)):
                said = say("says '{words}', and label and plan read the columns only.", word[0])
                yield from asked(draft, row, column, said, "Write it in its column, if it holds")
