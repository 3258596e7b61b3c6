"""A file is there whole or as it was, and of what killed writings left only what is old is removed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipping.tables.files.whole_file import remove_leftovers, write_whole


@pytest.mark.parametrize(("age_s", "stays"), [(61, False), (59, True), (-30, True)])
def test_what_another_writing_may_still_be_at_is_not_removed(tmp_path: Path, age_s: int, stays: bool) -> None:
    path, part, other = tmp_path / "shelf.toml", tmp_path / ".shelf.toml.77.part", tmp_path / ".else.77.part"
    for one, age in ((path, 0), (part, age_s), (other, 999)):
        one.touch()
        os.utime(one, (1e9 - age, 1e9 - age))
    remove_leftovers(path)
    assert (path.exists(), part.exists(), other.exists()) == (True, stays, True)


def test_a_writing_that_breaks_off_leaves_the_file_as_it_was_and_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "shelf.toml"
    write_whole(path, b"as it was")

    def halves() -> Iterator[memoryview]:
        yield memoryview(b"half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_whole(path, halves())
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("shelf.toml", b"as it was")]
