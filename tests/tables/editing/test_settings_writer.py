"""Settings are written beside and put in place; what a killed writing left goes with the next one."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from shipping.tables.editing.settings_writer import change_settings
from shipping.words.units import shipped_folder


def test_what_a_killed_save_left_goes_with_the_next_and_what_is_being_written_stays(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(shipped_folder("demo_orders"), tmp_path / "shelf"))
    left, at_work = (folder / f".shelf.toml.{number}.part" for number in (11, 22))
    for part in (left, at_work):
        part.write_text("half a", encoding="utf-8")
    os.utime(left, (0, 0))
    change_settings(folder, {("plan", "promise"): 0.9})
    assert "promise = 0.9" in (folder / "shelf.toml").read_text(encoding="utf-8")
    assert (left.exists(), at_work.exists()) == (False, True)
