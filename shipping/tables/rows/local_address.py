"""An order in, the address in the buyer's own script and the delivery lines without it out."""

from __future__ import annotations

import unicodedata

from shipping.tables.rows.orders import Address, Order


def local_lines(order: Order) -> tuple[str, ...]:
    """The second block of the label, top first: ``local_1`` to ``local_4`` where they are filled.

    Else the delivery lines in other letters than Latin ones, where there are delivery lines in Latin ones
    too.
    """
    return split_address(order.address)[1]


def split_address(address: Address) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(delivery lines of the first block, lines of the second)."""
    if address.local:
        return address.delivery, address.local
    latin = tuple(line for line in address.delivery if not is_in_other_letters(line))
    if not any(any(map(str.isalpha, line)) for line in latin):
        return address.delivery, ()
    return latin, tuple(line for line in address.delivery if is_in_other_letters(line))


def is_in_other_letters(line: str) -> bool:
    """Is a line written in letters, and none of them Latin?"""
    letters = [letter for letter in line if letter.isalpha()]
    return bool(letters) and not any(
        unicodedata.name(letter, "").startswith(("LATIN", "FULLWIDTH LATIN")) for letter in letters
    )
