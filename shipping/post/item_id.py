"""The 13 characters the post gives an item: text in, what is wrong with it out; the post makes the numbers.

The check digit lets about 2 % of single wrong digits pass: a number that fits is well formed, not known to
exist.
"""

from __future__ import annotations

import re

_WEIGHTS = (8, 6, 4, 2, 3, 5, 9, 7)
_FORM = re.compile(r"[A-Z]{2}[0-9]{9}[A-Z]{2}")
_RESERVED = frozenset("JKSTW")


def check_digit(serial: str) -> int:
    """The check digit of an eight-digit serial number.

    Raises
    ------
    ValueError
        If ``serial`` is not eight digits.

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
    """What is wrong with an item number, as a sentence with what to write instead, or None where nothing
    is.
    """
    if not _FORM.fullmatch(text):
        near = re.sub(r"[\s-]", "", text).upper()
        mend = f"Write {near}." if near != text and item_id_problem(near) is None else ""
        form = "two letters, nine digits and two letters, as in RR473124829GB"
        return f"'{text}' is not an item number: {form}. {mend}".rstrip()
    if text[0] in _RESERVED:
        return (
            f"'{text}' begins with {text[0]}, which is reserved. Copy the number from the post's receipt"
            " again."
        )
    if int(text[10]) != check_digit(text[2:10]):
        return (
            f"'{text}' has a wrong digit: its check digit does not fit. Copy the number from the post's"
            " receipt again."
        )
    return None


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
    return (
        f"'{text}' ends in {text[-2:]}, and you post in {home}: see that it was copied from this parcel's"
        " receipt."
    )


def is_valid_item_id(text: str) -> bool:
    """Is it well formed, with a check digit that fits?"""
    return item_id_problem(text) is None
