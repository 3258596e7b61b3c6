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


def test_what_stood_there_keeps_its_line_ends(tmp_path: Path) -> None:
    path, _ = add_rates(tmp_path, [rate("loss_handling")])
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    before = path.read_bytes()
    add_rates(tmp_path, [rate("loss_per_day")])
    added = path.read_bytes().removeprefix(before)
    assert (added.count(b"\r\n"), added.count(b"\n")) == (1, 1)
