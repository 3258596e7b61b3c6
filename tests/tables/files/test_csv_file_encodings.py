"""Bytes that are no UTF-8 are asked about, and read only as the breeder says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shipping.tables.files.csv_file import OLD_ENCODINGS, csv_form, tell_encoding
from shipping.tables.files.sheet import Unreadable
from shipping.tables.reader import read_shelf
from tests.cli.conftest import ran
from tests.tables.shelves import TODAY, errors, good_shelf, order


def western_shelf(folder: Path) -> Path:
    shelf = good_shelf(folder)
    text = (shelf / "orders.csv").read_text(encoding="utf-8")
    (shelf / "orders.csv").write_bytes(text.encode("cp1252"))
    return shelf


def said(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str
) -> tuple[int, str]:
    """The exit code and standard output of ``check``."""
    done = ran(shelf, capsys, monkeypatch, "check", *words)
    return done.code, done.out


def test_the_same_names_are_shown_two_ways_with_the_flag_that_settles_it(tmp_path: Path) -> None:
    (message,) = errors(read_shelf(western_shelf(tmp_path), TODAY))
    assert "'Ida Prøve' (Western) or 'Ida Prřve' (Central European)" in message
    assert "--encoding cp1252 or --encoding cp1250" in message


def test_the_flag_settles_it_for_that_run_only(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = western_shelf(tmp_path)
    before = (shelf / "orders.csv").read_bytes()
    code, out = said(shelf, capsys, monkeypatch, "--encoding", "cp1252")
    assert code == 0, out
    assert "Read as cp1252 as told, commas between cells, decimal point: orders.csv (3 rows)." in out
    assert (shelf / "orders.csv").read_bytes() == before
    assert said(shelf, capsys, monkeypatch)[0] == 1


def test_another_encoding_gives_other_letters_and_files_in_utf8_are_left_alone(tmp_path: Path) -> None:
    shelf = western_shelf(tmp_path)
    try:
        tell_encoding("cp1250")
        reading = read_shelf(shelf, TODAY)
    finally:
        tell_encoding(None)
    assert reading.shelf is not None
    assert order(reading.shelf, "A1").address.addressee == "Ida Prřve"
    assert reading.shelf.settings.sender.name == "Vera Prøve"


def test_an_encoding_nobody_knows_is_refused_with_those_that_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out = said(western_shelf(tmp_path), capsys, monkeypatch, "--encoding", "ebcdic", "--json")
    assert code == 1
    assert "cp1252" in json.loads(out)["problems"][0]["mend"]


@pytest.mark.parametrize("encoding", sorted(OLD_ENCODINGS))
def test_every_encoding_named_is_one_that_python_knows(encoding: str) -> None:
    assert "a,b\n".encode(encoding).decode(encoding) == "a,b\n"


def test_a_file_that_is_not_utf8_is_never_written_to() -> None:
    with pytest.raises(Unreadable, match="is not UTF-8"):
        csv_form("order\nPrøve\n".encode("cp1252"), "orders.csv")


def test_a_first_line_that_names_the_separator_is_neither_shown_nor_counted(tmp_path: Path) -> None:
    shelf = good_shelf(tmp_path)
    text = (shelf / "orders.csv").read_text(encoding="utf-8").replace(",", ";").replace(";40;", ";4.5;")
    (shelf / "orders.csv").write_text("sep=;\n" + text, encoding="utf-8")
    assert errors(read_shelf(shelf, TODAY)) == [
        "orders.csv:3: eggs: '4.5' is not a whole number. Write 4 or 5."
    ]
    records = csv_form(b"sep=;\na;b\n1;2\n", "x.csv").records
    assert [record.number for record in records] == [0, 1, 2]
