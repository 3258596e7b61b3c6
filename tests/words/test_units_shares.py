"""No share is printed as none or all that is not exactly that, whoever writes it."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipping.papers.wording.language import share
from shipping.words.units import percent, reckoned, rounded, within

FORMATTERS: tuple[Callable[[float], str], ...] = (
    percent,
    reckoned,
    *(lambda value, language=language: share(value, language) for language in ("en", "de", "es", "fr")),
)
#: Just inside nought and one, and where a decimal more or less begins.
EDGES = (5e-324, 1e-9, 4e-4, 0.0005, 0.001, 0.0994, 0.0996, 0.4999, 0.994999, 0.995, 0.9985, 0.999, 0.99949)


def number_in(text: str) -> float:
    found = re.search(r"[0-9]+(?:[.,][0-9]+)?", text)
    assert found, text
    return float(found[0].replace(",", "."))


@settings(deadline=None, derandomize=True, max_examples=200)
@given(
    value=st.one_of(
        st.sampled_from((*EDGES, 1 - 1e-9, 1 - 2**-53)), st.floats(0, 1, exclude_min=True, exclude_max=True)
    )
)
def test_a_share_that_is_not_nought_or_all_is_never_printed_so(value: float) -> None:
    for written in FORMATTERS:
        assert 0 < number_in(written(value)) < 100, written(value)
        assert abs(number_in(written(value)) - 100 * value) <= 0.5001


@pytest.mark.parametrize("written", FORMATTERS)
def test_nought_and_all_are_printed_as_they_are(written: Callable[[float], str]) -> None:
    assert re.sub(r"\s", " ", written(1.0)) == "100 %"
    nought = "none reckoned" if written is reckoned else "0 %"
    assert re.sub(r"\s", " ", written(0.0)) == nought


def test_a_proof_says_within_what_it_holds_and_how_much_of_that_is_assumed() -> None:
    assert within(0) == "This holds within these tables and this model, of which no values are assumed."
    assert "of which 1 value is assumed" in within(1)
    assert "of which 12 values are assumed" in within(12)


def test_a_number_is_told_to_six_places_and_never_as_minus_nothing() -> None:
    assert [str(rounded(number)) for number in (-4e-7, -6e-7, 0.1234565001)] == ["0.0", "-1e-06", "0.123457"]
