"""Eggs near their time go into nothing that is sealed, and into everything that is not."""

from __future__ import annotations

import pytest

from shipping.eggs.hatching import is_barred
from shipping.tables.rows.packings import KIND_BY_WORD, PACKING_KINDS


@pytest.mark.parametrize(
    ("stage", "is_overdue", "barred"),
    [
        ("laid", False, False),
        ("fertile", False, False),
        ("eyed", False, False),
        ("ready", False, True),
        ("eyed", True, True),
        ("ready", True, True),
    ],
)
def test_eggs_whose_embryo_fills_them_or_that_are_past_their_time_go_into_no_sealed_tube(
    stage: str, is_overdue: bool, barred: bool
) -> None:
    assert is_barred(KIND_BY_WORD["tube"], stage, is_overdue) is barred
    others = [kind for kind in PACKING_KINDS if kind.word != "tube"]
    assert [kind.word for kind in others if is_barred(kind, stage, is_overdue)] == []
