"""Learned rows are added once each, and how many were is said."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from shipping.learning.lesson import HEADER, add_rates, take_back
from shipping.tables.rows.learned import RateRow
from shipping.words.problems import ShelfProblems, Where


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


def learned(value: float, row: int = 0, day: date = date(2026, 12, 8)) -> RateRow:
    cells = {"what": "kappa", "for": "tube", "value": value, "from_day": day, "basis": "learned"}
    return RateRow.model_validate({**cells, "at": Where("learned.csv", row)})


def test_what_is_learned_again_that_day_is_in_the_place_of_what_was_learned_before(tmp_path: Path) -> None:
    first, again = learned(37, 2), learned(42)
    path, _ = add_rates(tmp_path, [first], ())
    assert add_rates(tmp_path, [first], [first])[1] == ()
    assert add_rates(tmp_path, [again], [first])[1] == (again,)
    lines = path.read_text(encoding="utf-8").splitlines()[1:]
    assert [line.partition(",2026")[0] for line in lines[1:]] == ["kappa,tube,42,"]
    assert lines[0].startswith("# taken back: what kappa | for tube | value 37")
    own = again.model_copy(update={"basis": None})
    assert add_rates(tmp_path, [first], [own])[1] == ()


def test_what_was_learned_last_is_taken_back_into_comments_and_what_was_before_stays(tmp_path: Path) -> None:
    before = learned(30, 2, date(2026, 12, 1))
    path, _ = add_rates(tmp_path, [before, learned(37), learned(42)], ())
    rates = [before, learned(37, 3), learned(42, 4)]
    assert take_back(tmp_path, rates)[1] == (rates[1], rates[2])
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[1].startswith("kappa,tube,30,")
    assert [line.partition(" | ")[0] for line in lines[2:]] == ["# taken back: what kappa"] * 2
    assert take_back(tmp_path, [before.model_copy(update={"basis": None})])[1] == ()


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
