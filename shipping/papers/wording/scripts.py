"""Which letters can be set one beside the other; of joined and turned writing nothing is set."""

from __future__ import annotations

import unicodedata

#: Blocks whose letters change shape, change places or stand on one another (Unicode's block list), Hangul's
#: left out.
_SHAPED = ((0x0900, 0x109F), (0x1700, 0x1CFF), (0xA800, 0xA95F), (0xA980, 0xABFF), (0x11000, 0x11FFF))


def runs_leftward(letter: str) -> bool:
    """Does the letter belong to writing that runs from right to left (Arabic, Hebrew, Syriac and others)?"""
    return unicodedata.bidirectional(letter) in ("R", "AL", "AN")


def stands_alone(letter: str) -> bool:
    """Is the letter right when set beside the one before it, as in Chinese, Japanese and Korean?"""
    is_mark = unicodedata.category(letter) in ("Mn", "Mc", "Me")
    is_shaped = any(first <= ord(letter) <= last for first, last in _SHAPED)
    return not (runs_leftward(letter) or is_mark or is_shaped)
