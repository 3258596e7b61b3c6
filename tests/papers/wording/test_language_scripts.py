"""Only letters that are right when set one beside the other are set."""

from __future__ import annotations

import pytest

from shipping.papers.wording.language import runs_leftward, stands_alone


@pytest.mark.parametrize("letter", "東かカ가ㄅ、〒１ΩЖé")
def test_letters_that_keep_their_shape_stand_alone(letter: str) -> None:
    assert stands_alone(letter)


@pytest.mark.parametrize("letter", "אبनखกကཀ\u0301\u093f\U00011003")
def test_letters_that_are_turned_joined_or_stacked_do_not(letter: str) -> None:
    assert not stands_alone(letter)


def test_hebrew_and_arabic_run_leftward_and_others_do_not() -> None:
    assert [runs_leftward(letter) for letter in "אبAΩ東"] == [True, True, False, False, False]
