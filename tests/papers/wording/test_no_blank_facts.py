"""No text of a reason has a blank where a fact should stand: all that weeks and questions give are worded."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from shipping.options.option import Destination
from shipping.papers.wording.phrases import MissingFactError, Wording, cause, next_step, to_buyer
from shipping.questions.can_it_ship import ask
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.words.reasons import Reason
from shipping.words.sentence import LANGUAGES
from shipping.words.units import shipped_folder
from tests.week.a_week import plan_of
from tests.week.left_out.test_true_reasons import generated

TODAY = date(2026, 11, 30)
#: Kinds of reason that the weeks and questions below give at the least.
KINDS = 20


def demo() -> Shelf:
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    return shelf


def every_reason() -> Iterator[Reason]:
    for shelf in (demo(), *(generated(number).shelf() for number in range(4))):
        for out in plan_of(shelf).lines_out:
            yield from out.reasons
    shelf = demo()
    for lot in shelf.lots:
        for place, days in (("DE", 0), ("ES", 11), ("FI", 3), ("AU", 45)):
            reply = ask(shelf, lot.lot, Destination(place, ""), on=TODAY + timedelta(days=days))
            yield from reply.reasons
            for asked in reply.options:
                yield from asked.reasons


def test_every_reason_of_weeks_and_questions_is_worded_with_all_it_shows() -> None:
    found = {(one.code, tuple(sorted(one.facts))): one for one in every_reason()}
    assert len({code for code, _ in found}) >= KINDS, sorted({code for code, _ in found})
    for language in LANGUAGES:
        wording = Wording(None, language)
        for reason in found.values():
            bare = Reason(reason.code, "", reason.facts)
            for text in (cause(bare, wording), cause(bare, wording, 2), cause(bare, wording, offered=True)):
                assert text
            assert next_step(bare, wording)
            assert to_buyer(bare, wording)


def test_a_fact_that_is_missing_is_no_blank() -> None:
    """A phrase with conditions and a plain one; what is told then is the reason's own sentence."""
    for code in ("too-hot", "recount"):
        with pytest.raises(MissingFactError, match=f"bench-reasons/{code}"):
            cause(Reason(code, ""), Wording(None, "en"))
        assert cause(Reason(code, "Said in full."), Wording(None, "en")) == "Said in full."
