"""What tables and ledger refuse, in four languages: every sentence has its words with its values, and none is
told in English on a page of another language.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from datetime import date

import pytest

from shipping.papers.wording.language import clean
from shipping.words.problems import Problem
from shipping.words.sentence import LANGUAGES, Sentence
from shipping.worktop.context import plain_problem
from shipping.worktop.page_language import speak, texts_in, texts_of_file
from tests.tables.mistakes import mistakes, told_with
from tests.worktop.conftest import Desk
from tests.worktop.page_texts import every_text
from tests.worktop.refusal_texts import PACKAGE, every_sentence, in_order, modules
from tests.worktop.test_page_language import OTHERS, catalogue

_FIELD = re.compile(r"\{[^{}]*\}")
_WORDS = re.compile(r"[^\W\d_]{2}")
#: Words that only English has, and that no column, key or name of the broken tables is.
_ENGLISH = re.compile(r"\b(the|is|are|with|which|has|write|and|mend|not|of)\b", re.IGNORECASE)
#: F-strings that end a sentence and speak to the terminal only, or in the language of a form, by module.
OF_THE_TERMINAL = Counter(
    {
        "tables/cells_as_typed.py": 1,
        "tables/row_reader.py": 1,
        "ledger/claims.py": 5,
        "ledger/added_rows.py": 1,
        "ledger/planning_again.py": 1,
        "post/customs.py": 1,  # what is written into the form, which is in English
    }
)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_has_its_words_and_its_fields(language: str) -> None:
    page = {clean(text) for text in every_text()}
    said = set(every_sentence()) - page
    texts = texts_of_file(catalogue(language, "refusals"), language)
    assert sorted(texts.keys() - said) == []
    if language != "en":
        assert sorted(said - texts.keys()) == []
    for text, words in texts.items():
        plain = words.replace(":de}", "}") if language == "fr" else words
        theirs, ours = set(_FIELD.findall(plain)), set(_FIELD.findall(text))
        may_lack = language == "en" or "[reading]: meant" in text  # the page has a button for that
        assert theirs == ours or (may_lack and theirs < ours), text


@pytest.mark.parametrize("language", [code for code in LANGUAGES if code != "en"])
def test_sentences_stand_under_the_modules_that_say_them(language: str) -> None:
    text = catalogue(language, "refusals").read_text(encoding="utf-8")
    assert text == in_order(text), "python -m tests.worktop.refusal_texts puts it in order"


def test_no_sentence_that_a_page_may_show_is_made_without_its_values() -> None:
    found: Counter[str] = Counter()
    for path in modules():
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                parts = [part.value for part in node.values if isinstance(part, ast.Constant)]
                text = "·".join(map(str, parts))
                if re.search(r"[a-z]{2} ", text) and text.endswith((".", "?")):
                    found[path.relative_to(PACKAGE).as_posix()] += 1
    assert found == OF_THE_TERMINAL


#: Words that a file itself is to hold, which no page says otherwise: stages as the column has them, orders of
#: days, encodings.
OF_THE_FILE = re.compile(
    r"laid|fertile|eyed|ready|dmy|mdy|ymd|day first|month first|cp\d+|mac_roman|iso8859-15|utf-16-[bl]e"
)


def lacking(text: str, texts: dict[str, str]) -> Iterator[str]:
    """The sentences in it that have no words in that language."""
    if not isinstance(text, Sentence):
        if text and clean(text) not in texts:
            yield text
        return
    if _WORDS.search(_FIELD.sub("", text.template)) and clean(text.template) not in texts:
        yield text.template
    for value in text.values:
        if isinstance(value, Sentence) and not OF_THE_FILE.fullmatch(value):
            yield from lacking(value, texts)


def problems_of_broken_tables() -> list[Problem]:
    found: dict[str, Problem] = {}
    for mistake in mistakes():
        for problem in told_with(mistake.edit).problems:
            found.setdefault(str(problem), problem)
    return list(found.values())


def test_what_refuses_tells_a_spanish_breeder_what_to_do_in_one_form_of_address() -> None:
    """Buttons, titles and whole lists of steps have the infinitive; a sentence says usted."""
    begins = re.compile(r"(?!Primer)[A-ZÁÉÍÓÚ]\w+(ar|er|ir)(l[oa]s?)?\b")
    mends = texts_of_file(catalogue("es", "refusals"), "es").values()
    assert [mend for mend in mends if begins.match(mend)] == []


@pytest.mark.slow
def test_what_broken_tables_are_told_is_in_the_language_of_the_page() -> None:
    problems = problems_of_broken_tables()
    assert len(problems) > 200
    for language in OTHERS:
        texts = dict(texts_in(language))
        speak(language)
        try:
            left = [
                text for one in problems for part in (one.text, one.mend) for text in lacking(part, texts)
            ]
            assert sorted(set(left)) == []
            told = [re.sub(r"„.*?“|«.*?»|\".*?\"|\(.*?\)", "", plain_problem(one)) for one in problems]
            assert [text for text in told if _ENGLISH.search(text)] == []
        finally:
            speak("en")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_parcel_that_only_the_clock_speaks_against_asks_for_a_reason(desk: Desk, language: str) -> None:
    late = Desk(desk.folder, date(2026, 12, 3))
    marks = {"token": late.worktop.access.token}
    assert late.post("/setup", marks, language=language, card=False).status_code == 303
    refused = late.pack()
    assert refused.status_code == 409
    assert 'name="anyway"' in refused.text
