"""What a command writes on a full disk leaves all files as they were, and says so in one line."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from tests.cli.conftest import Spawnpost, done, refused

FORM = """Order no.;Date;Name;Street;Postcode;City;Country;Item;Quantity
S-1;2026-11-24;Ina Example;Weg 4;10115;Berlin;DE;scheeli/Korup;20
"""
CALENDAR = b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize(
    ("words", "last"),
    [
        ("plan --calendar week.ics", "week.ics"),
        ("offer --csv offer.csv", "offer.csv"),
        ("forecast --picture lots.svg", "lots.svg"),
        ("map form.csv --write", "orders.toml"),
        ("new eggs --home DE", "orders.csv"),
        ("demo demo", "orders.csv"),
        ("shortcut . --for linux", "spawnpost.desktop"),
    ],
)
def test_a_file_that_finds_no_room_leaves_all_as_it_was_and_is_written_when_there_is_room(
    spawnpost: Spawnpost, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: str, last: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "form.csv").write_text(FORM, encoding="utf-8")
    (tmp_path / "week.ics").write_bytes(CALENDAR)
    before, put_in_place = tree(tmp_path), os.replace

    def full(one: Path, other: Path) -> None:
        if Path(other).name == last:
            raise OSError(errno.ENOSPC, "No space left on device")
        put_in_place(one, other)

    monkeypatch.setattr(os, "replace", full)
    refused(
        spawnpost(*words.split()), f"{last}: cannot be written (no space left on device); it is as it was."
    )
    assert tree(tmp_path) == before
    monkeypatch.setattr(os, "replace", put_in_place)
    done(spawnpost(*words.split()))
    assert any(Path(name).name == last for name in tree(tmp_path))


def test_a_copy_names_the_file_that_cannot_be_written_and_removes_what_a_killed_one_left(
    spawnpost: Spawnpost, tmp_path: Path
) -> None:
    refused(
        spawnpost("copy", tmp_path / "no stick" / "copy.sqlite"),
        "copy.sqlite could not be written (No such file or directory). Choose another folder.",
    )
    left = tmp_path / ".copy.sqlite.4711-1.part"
    left.touch()
    os.utime(left, (0, 0))
    done(spawnpost("copy", tmp_path / "copy.sqlite"))
    assert not left.exists()
