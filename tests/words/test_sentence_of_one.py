"""A count of one has the words of one behind it, in every language of papers and page."""

from __future__ import annotations

import pytest

from shipping.papers.wording.phrases import Wording, cause
from shipping.words.reasons import Reason
from shipping.words.sentence import fitted, say


@pytest.mark.parametrize(
    ("template", "one"),
    [
        ("lot {lot} has {n} eggs left", "lot G1 has 1 egg left"),
        ("{n:.0f} working days longer.", "1 working day longer."),
        ("{n} eggs are to be sent again", "1 egg is to be sent again"),
        ("{n} live eggs back into {lot}", "1 live egg back into G1"),
        ("{n} lebende Eier zurück in {lot}", "1 lebendes Ei zurück in G1"),
        ("{n} œufs vivants sont revenus", "1 œuf vivant est revenu"),
        ("{n} huevos de {lot}", "1 huevo de G1"),
        ("{n} days, {n} eggs", "1 day, 1 egg"),
    ],
)
def test_words_behind_a_count_of_one_are_those_of_one(template: str, one: str) -> None:
    values = {"n": 1, "lot": "G1"}
    assert fitted(template, values).format_map(values) == one
    assert fitted(template, {**values, "n": 21}) == template


def test_a_sentence_keeps_its_template_and_its_breeders_own_words() -> None:
    told = say("{text}: {count} more rows", "1 eggs of the note", 1)
    assert told == "1 eggs of the note: 1 more row"
    assert told.worded(lambda _: "{text}: {count} weitere Zeilen", lambda value: value) == (
        "1 eggs of the note: 1 weitere Zeile"
    )


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "lot G1 has 1 egg free, and 20 are needed"),
        ("de", "Ansatz G1 hat 1 freies Ei, nötig sind 20"),
    ],
)
def test_a_reason_counts_one_egg(language: str, words: str) -> None:
    reason = Reason("short", "", {"lot": "G1", "free": 1, "needed": 20})
    assert cause(reason, Wording(None, language)) == words
