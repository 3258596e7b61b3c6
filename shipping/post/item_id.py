"""The number a carrier gives an item: text in, what is wrong with it out; the carriers make the numbers.

The check digit lets about 2 % of single wrong digits pass: a number that fits is well formed, not known to
exist.
"""

from __future__ import annotations

import re

from shipping.words.sentence import joined, say

_WEIGHTS = (8, 6, 4, 2, 3, 5, 9, 7)
_FORM = re.compile(r"[A-Z]{2}[0-9]{9}[A-Z]{2}")
#: What is meant to be of that form, well written or not: 13 characters between two pairs of letters.
_MEANT = re.compile(r"[A-Z]{2}[0-9A-Z]{9}[A-Z]{2}")
#: Any carrier's number.
_OTHER = re.compile(r"[0-9A-Za-z](?:[0-9A-Za-z ./_-]{2,38}[0-9A-Za-z])")
_RESERVED = frozenset("JKSTW")


def check_digit(serial: str) -> int:
    """The check digit of an eight-digit serial number. Raises ValueError if ``serial`` is not eight digits.

    Notes
    -----
    ``C = 11 - sum(digit * weight) mod 11`` with weights 8 6 4 2 3 5 9 7; 10 becomes 0 and 11 becomes 5.

    References
    ----------
    UPU S10, version 12 (2017).
    """
    if not re.fullmatch(r"[0-9]{8}", serial):
        raise ValueError(f"{serial!r} is not eight digits")
    total = sum(int(digit) * weight for digit, weight in zip(serial, _WEIGHTS, strict=True))
    return {10: 0, 11: 5}.get(digit := 11 - total % 11, digit)


def item_id_problem(text: str) -> str | None:
    """What is wrong with an item number and what to write, or None: a courier's is taken as it is."""
    if not _MEANT.fullmatch(_plain(text)):
        told = say(
            "'{text}' is no item number: 4 to 40 letters and digits. Copy it from the receipt again.", text
        )
        return None if _OTHER.fullmatch(text) else told
    if not _FORM.fullmatch(text):
        near = _plain(text)
        mend = say("Write {near}.", near) if near != text and item_id_problem(near) is None else ""
        told = say(
            "'{text}' is not an item number: two letters, nine digits and two letters, as in RR473124829GB.",
            text,
        )
        return joined((told, mend)) if mend else told
    if text[0] in _RESERVED:
        return say(
            "'{text}' begins with {letter}, which is reserved. Copy the number from the"
            " post's receipt again.",
            text,
            text[0],
        )
    if int(text[10]) != check_digit(text[2:10]):
        return say(
            "'{text}' has a wrong digit: its check digit does not fit. Copy the number from"
            " the post's receipt again.",
            text,
        )
    return None


def _plain(text: str) -> str:
    """The characters that count in the post's own form."""
    return re.sub(r"[\s-]", "", text).upper()


def as_kept(text: str) -> str:
    """The number as it is kept: without spaces where it is of the post's form, else as typed."""
    typed = " ".join(text.split())
    near = _plain(typed)
    return near if _FORM.fullmatch(near) else typed


def unchecked_note(text: str) -> str:
    """A note where the number is not of the post's form, which alone has a check digit; "" where it is."""
    return (
        ""
        if _FORM.fullmatch(text)
        else say("'{text}' is kept as typed: only numbers like RR473124829GB are checked.", text)
    )


def origin_caution(text: str, home: str) -> str:
    """A caution where the number's last two letters name another country than the one posted in; "" where
    they agree.

    A carrier may lend numbers across a border, so that it refuses nothing.

    References
    ----------
    UPU S10, version 12 (2017): the last two letters are the ISO 3166-1 code of the issuing post's country.
    """
    if not _FORM.fullmatch(text) or text[-2:] == home:
        return ""
    return say(
        "'{text}' ends in {country}, and you post in {home}: see that it was copied"
        " from this parcel's receipt.",
        text,
        text[-2:],
        home,
    )
