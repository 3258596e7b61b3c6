"""Eggs for a pair, two pairs and a trio: the fewest that do with 95 %, as their chances say."""

from __future__ import annotations

import json

import pytest

from shipping.eggs.pairs import brood_chance
from tests.cli.test_wrong_usage import left


def test_the_eggs_named_are_the_fewest_that_do_with_95_percent(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("pairs", "20", "--hatch", "0.9", "--raised", "0.5", "--female", "0.3", "--json")
    needed = json.loads(left(capsys, monkeypatch, *words)[1])["eggs_for_95"]
    for wish, (males, females) in {"pair": (1, 1), "two pairs": (2, 2), "trio": (1, 2)}.items():
        fewer, enough = (
            brood_chance(eggs, males, females, 0.9 * 0.5, 0.3, 20.0)
            for eggs in (needed[wish] - 1, needed[wish])
        )
        assert fewer < 0.95 <= enough
