"""Learned rows are added once each, and how many were is said."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from shipping.learning.learned_table import add_rates
from shipping.tables.rows.learned import RateRow


def rate(what: str) -> RateRow:
    return RateRow.model_validate(
        {"what": what, "for": "tube", "value": 0.02, "from_day": date(2026, 11, 30)}
    )


def test_a_row_that_stands_there_is_not_added_again(tmp_path: Path) -> None:
    assert [add_rates(tmp_path, [rate("loss_handling")])[1] for _ in range(2)] == [1, 0]
    path, gained = add_rates(tmp_path, [rate("loss_handling"), rate("loss_per_day")])
    assert (gained, len(path.read_text(encoding="utf-8").splitlines())) == (1, 3)
