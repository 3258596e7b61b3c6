"""The guide shows the pictures that its script takes, and no other."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.browser.pictures import FOLDER, PICTURES
from tests.tools import tool

GUIDE = FOLDER.parent / "guide.md"


def test_every_picture_of_the_guide_is_taken_by_the_script_and_is_there() -> None:
    shown = set(re.findall(r"pictures/(\w+)\.png", GUIDE.read_text(encoding="utf-8")))
    assert shown == {name for name, _, _ in PICTURES}
    assert shown == {path.stem for path in FOLDER.glob("*.png")}


@pytest.mark.slow
def test_the_script_still_finds_every_page_and_button_it_shows(tmp_path: Path) -> None:
    tool("chromium")
    # in a process of its own: the library bears no second driver beside that of the other tests
    subprocess.run([sys.executable, "-m", "tests.browser.pictures", str(tmp_path)], check=True, timeout=600)
    assert {path.stem for path in tmp_path.glob("*.png")} == {name for name, _, _ in PICTURES}
