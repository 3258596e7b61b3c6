"""What tables and other rooms say in English, on a page of another language: a text in, its translation, or
as typed, out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

#: A figure, or a span of two, that is put back into the translation as that language writes it.
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:[.,]\d+)*(?:-\d+(?:[.,]\d+)*)?")
_SPAN = re.compile(r"(?<=\d)-(?=\d)")
#: Decimal mark and mark of thousands, by language; English is as it was typed.
_MARKS = {"de": {".": ",", ",": "."}, "es": {".": ",", ",": "."}, "fr": {".": ",", ",": "\u00a0"}}
#: Where one sentence ends and the next begins.
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")


class Said(NamedTuple):
    """An English text as it may be said, what stands for it, and the line it is written in; # is a figure, *
    any words.
    """

    english: str
    words: str
    row: int


def pairs_of(text: str) -> tuple[Said, ...]:
    """What a file of sentences holds: behind ``>`` the English text, under it what is printed ("" where that
    is missing).
    """
    lines = text.splitlines()
    found = []
    for row, line in enumerate(lines, start=1):
        if line.startswith(">"):
            below = lines[row].strip() if row < len(lines) else ""
            found.append(Said(line[1:].strip(), "" if below.startswith(">") else below, row))
    return tuple(found)


def is_matched(pair: Said) -> bool:
    """Does the translation hold as many figures and as many open places as the text?"""
    return bool(pair.words) and all(pair.english.count(mark) == pair.words.count(mark) for mark in "#*")


class Sentences:
    """All translations into one language."""

    def __init__(self, pairs: Iterable[Said], language: str) -> None:
        self._marks = _MARKS.get(language, {})
        self._exact: dict[str, str] = {}
        self._open: list[tuple[re.Pattern[str], str]] = []
        for pair in pairs:
            if not is_matched(pair):
                continue
            if "*" in pair.english:
                pattern = re.escape(pair.english).replace(r"\*", "(.+?)").replace(r"\#", "#")
                self._open.append((re.compile(pattern), pair.words))
            else:
                self._exact[pair.english] = pair.words

    def of(self, text: str) -> str | None:
        """The translation of a whole text, or None."""
        for asked in dict.fromkeys((text, text.rstrip("."))):
            figures = [self._figure(match[0]) for match in _NUMBER.finditer(asked)]
            found = self._found(_NUMBER.sub("#", asked), figures)
            if found is not None:
                return found
        return None

    def sentence_by_sentence(self, text: str) -> str:
        """The text with each sentence that has a translation in it; the others stay as they are."""
        return " ".join(self.of(sentence) or sentence for sentence in _SENTENCE.split(text))

    def _found(self, masked: str, figures: list[str]) -> str | None:
        words = self._exact.get(masked)
        if words is not None:
            return _filled(words, "#", figures)
        for pattern, words in self._open:
            match = pattern.fullmatch(masked)
            if match:
                return self._open_filled(match, words, figures)
        return None

    def _open_filled(self, match: re.Match[str], words: str, figures: list[str]) -> str:
        """The open places filled with what stood there, itself translated where it can be, and the figures
        put back.
        """
        kept, parts, at, outside = list(figures), [], 0, []
        for group in range(1, len(match.groups()) + 1):
            begin, end = match.span(group)
            outside += [kept.pop(0) for _ in range(match.string.count("#", at, begin))]
            own = [kept.pop(0) for _ in range(match.string.count("#", begin, end))]
            parts.append(self._found(match[group], own) or _filled(match[group], "#", own))
            at = end
        return _filled(_filled(words, "#", [*outside, *kept]), "*", parts)

    def _figure(self, typed: str) -> str:
        return (
            _SPAN.sub("–", "".join(self._marks.get(letter, letter) for letter in typed))
            if self._marks
            else typed
        )


def _filled(words: str, mark: str, values: list[str]) -> str:
    """The words with each mark replaced, first to last."""
    first, *rest = words.split(mark)
    return first + "".join(value + part for value, part in zip(values, rest, strict=True))
