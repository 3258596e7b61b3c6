"""A sentence with values in it: its English out, or the same in a language that has words for it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache, reduce
from string import Formatter

from shipping.words.singular import fitted

#: The languages that papers and page are written in; in any other they are English.
LANGUAGES = ("en", "de", "fr", "es")


class Sentence(str):
    """English text that still knows the sentence it was made of and what was put into it."""

    __slots__ = ("template", "values")
    template: str
    values: tuple[object, ...]

    def __new__(cls, template: str, values: tuple[object, ...]) -> Sentence:
        filled = dict(zip(fields(template), values, strict=True))
        said = super().__new__(cls, fitted(template, filled).format_map(filled))
        said.template, said.values = template, values
        return said

    def __reduce__(self) -> tuple[type[Sentence], tuple[object, ...]]:
        return Sentence, (self.template, self.values)

    def worded(self, words: Callable[[str], str], shown: Callable[[object], object]) -> str:
        """The sentence in a language: ``words`` has it for a template, ``shown`` for a value."""
        worded = (
            shown(value.worded(words, shown) if isinstance(value, Sentence) else value)
            for value in self.values
        )
        filled = dict(zip(fields(self.template), worded, strict=True))
        return fitted(words(self.template), filled).format_map(filled)


def say(template: str, /, *values: object) -> str:
    """``say("{day} is after today, {today}.", day, today)``: the values in the order of the fields.

    What of the values is ours to translate is a `Sentence` too; any other text is the breeder's own.
    """
    return Sentence(template, values)


@lru_cache(maxsize=2048)
def fields(template: str) -> tuple[str, ...]:
    """The names of the fields, in the order in which they first stand."""
    return tuple(dict.fromkeys(name for _, name, _, _ in Formatter().parse(template) if name is not None))


def either(choices: Iterable[str]) -> str:
    """``a or b or c``; "" where there is none."""
    return reduce(lambda some, other: say("{some} or {other}", some, other) if some else other, choices, "")


def both(parts: Iterable[str]) -> str:
    """``a and b and c``; "" where there is none."""
    return reduce(lambda some, other: say("{some} and {other}", some, other) if some else other, parts, "")


def joined(parts: Iterable[object], between: str = " ") -> str:
    """The parts in one line, each of which keeps what it is; "" where there is none."""
    every = tuple(parts)
    return say(between.join(f"{{part_{number}}}" for number in range(len(every))), *every) if every else ""
