"""Names in, whether a person reads them as one, the nearest that is known and what differs unseen out."""

from __future__ import annotations

import re
import unicodedata
from difflib import get_close_matches
from functools import lru_cache

from shipping.words.sentence import both, say

#: Letters of other scripts that look like Latin ones.
_LOOK_ALIKE = str.maketrans(
    "АВЕЅІЈКМНОРСТУХЬаеѕіјорсухԁԛԝ" + "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧοϲ", "ABESIJKMHOPCTYXbaesijopcyxdqw" + "ABEZHIKMNOPTYXoc"
)
_BETWEEN_DIGITS = re.compile(r"(?<=[0-9])[\W_]+(?=[0-9])")
_BESIDE_LETTERS = re.compile(r"[^\w|?]|_")


@lru_cache(maxsize=65_536)
def folded(name: str) -> str:
    """The name as it is compared: without case, odd spaces, invisible marks and look-alike letters."""
    if name.isascii():
        return " ".join(name.casefold().split())
    return " ".join(visible(name).translate(_LOOK_ALIKE).casefold().split())


@lru_cache(maxsize=65_536)
def folded_place(population: str) -> str:
    """A population for comparing: marks count only between digits (``11-3``); ``Akure?`` is no Akure."""
    letters = unicodedata.normalize("NFKD", folded(population))
    plain = "".join(letter for letter in letters if not unicodedata.combining(letter))
    return _BESIDE_LETTERS.sub("", _BETWEEN_DIGITS.sub("|", plain))


def visible(text: str) -> str:
    """The text with plain spaces and letters of full width as plain ones, without marks nobody sees."""
    plain = unicodedata.normalize("NFKC", text)
    return "".join(letter for letter in plain if unicodedata.category(letter) not in ("Cf", "Cc"))


def unseen_in(text: str) -> str:
    """What a reader does not see in a text: ``no-break space``, ``Cyrillic capital letter A``; or blank."""
    odd = [
        letter
        for letter in text
        if unicodedata.category(letter) in ("Cf", "Cc") or (letter.isspace() and letter not in " \n\t")
    ]
    latin = any("LATIN" in unicodedata.name(letter, "") or letter.isdigit() for letter in text)
    odd += [letter for letter in text if latin and letter.translate(_LOOK_ALIKE) != letter]
    return both(dict.fromkeys(map(_name_of, odd)))


def _name_of(letter: str) -> str:
    name = unicodedata.name(letter, f"mark U+{ord(letter):04X}")
    script, _, rest = name.partition(" ")
    if script in ("CYRILLIC", "GREEK"):
        return f"{script.capitalize()} {rest.rpartition(' ')[0].lower()} {rest.rpartition(' ')[2]}"
    return name.lower()


def buyer_key(name: str) -> str:
    """A name as buyers are looked up by: case, spaces and the form of its letters (Unicode) do not matter."""
    return unicodedata.normalize("NFC", " ".join(unicodedata.normalize("NFC", name).split()).casefold())


def nearest(name: str, known: list[str], cutoff: float = 0.6) -> str | None:
    """The known name most like ``name``, whatever the case; None where none is like it."""
    folded: dict[str, str] = {}
    for candidate in sorted(known):
        folded.setdefault(candidate.casefold(), candidate)
    close = get_close_matches(name.casefold(), list(folded), n=1, cutoff=cutoff)
    return folded[close[0]] if close else None


#: Words of names so alike differ by a slip of the fingers: of 400 killifish only two of one genus come nearer
#: (*Aphyosemion punctatum*, *A. punctulatum*), and few genera do, which then part by the second word.
_SLIP = 0.82


def is_slip_of(name: str, known: str) -> bool:
    """Is each word of a name that of a known one but for a slip of the fingers, whatever case and accents?"""
    plain = "".join(filter(str.isascii, unicodedata.normalize("NFKD", name)))
    words, others = plain.split(), known.split()
    pairs = zip(words, others, strict=False)
    return len(words) == len(others) and all(nearest(word, [other], _SLIP) for word, other in pairs)


def did_you_mean(name: str, known: list[str], else_say: str) -> str:
    """``Did you mean 'x'?`` where a known name is like it, else what ``else_say`` says."""
    like = nearest(name, known)
    return say("Did you mean '{name}'?", like) if like else else_say
