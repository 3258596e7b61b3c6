"""Learned rows are added once each, and how many were is said."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.learning.lesson import HEADER, add_rates
from shipping.tables.rows.learned import RateRow
from shipping.words.problems import ShelfProblems


def rate(what: str) -> RateRow:
    return RateRow.model_validate(
        {"what": what, "for": "tube", "value": 0.02, "from_day": date(2026, 11, 30)}
    )


def test_a_row_that_stands_there_is_not_added_again(tmp_path: Path) -> None:
    handling, per_day = rate("loss_handling"), rate("loss_per_day")
    assert add_rates(tmp_path, [handling], ())[1] == (handling,)
    assert add_rates(tmp_path, [handling], [handling])[1] == ()
    path, gained = add_rates(tmp_path, [handling, per_day], [handling])
    assert (gained, len(path.read_text(encoding="utf-8").splitlines())) == ((per_day,), 3)


def test_where_nothing_is_new_no_table_is_begun(tmp_path: Path) -> None:
    path, gained = add_rates(tmp_path, [], ())
    assert (gained, path.exists()) == ((), False)


def test_what_stood_there_keeps_its_line_ends_and_there_is_a_copy_of_it(tmp_path: Path) -> None:
    path, _ = add_rates(tmp_path, [rate("loss_handling")], ())
    path.write_bytes(path.read_bytes().replace(b"\r\n", b"\n"))
    before = path.read_bytes()
    add_rates(tmp_path, [rate("loss_per_day")], [rate("loss_handling")])
    added = path.read_bytes().removeprefix(before)
    assert (added.count(b"\r\n"), added.count(b"\n")) == (0, 1)
    assert [copy.read_bytes() for copy in (tmp_path / "table-copies").iterdir()] == [before]


def test_a_table_of_semicolons_and_an_older_one_without_bounds_gain_rows_as_they_are(tmp_path: Path) -> None:
    old = tmp_path / "rates.csv"
    old.write_bytes(
        "what;for;value;unit;from_day;basis;n;source\nkappa;Röhrchen;30;;2026-01-01;;;\n".encode()
    )
    sure = rate("loss_per_day").model_copy(update={"low": 0.01, "high": 0.03})
    assert add_rates(tmp_path, [sure], ()) == (old, (sure,))
    assert old.read_bytes().decode("utf-8").splitlines()[2] == "loss_per_day;tube;0.02;;2026-11-30;;;"


def test_where_the_table_has_both_names_the_one_of_today_gains_the_rows(tmp_path: Path) -> None:
    (tmp_path / "rates.csv").write_text("what,for,value,unit,from_day,basis,n,source\n", encoding="utf-8")
    (tmp_path / "learned.csv").write_text(f"{','.join(HEADER)}\n", encoding="utf-8")
    assert add_rates(tmp_path, [rate("loss_per_day")], ())[0] == tmp_path / "learned.csv"


def test_nothing_is_added_beside_a_workbook(tmp_path: Path) -> None:
    (tmp_path / "shelf.xlsx").write_bytes(b"")
    with pytest.raises(ShelfProblems, match=r"shelf.xlsx is a workbook, which is never written to"):
        add_rates(tmp_path, [rate("loss_per_day")], ())
    assert not (tmp_path / "learned.csv").exists()
