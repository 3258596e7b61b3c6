"""What stands on the screen: the answer first, in a breeder's words, in any window; golden screens of each
situation.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from rich.cells import cell_len

from shipping.cli.terminal import TableColumn, Window
from shipping.words.units import shipped_folder
from tests.cli import a_screen
from tests.cli.a_screen import GOLDEN, SITUATIONS, TODAY, WIDTHS, Situation, screen
from tests.tools import tool
from tests.worktop.served import LONGEST_S

#: Words of the model that no breeder has to know; names of columns and options may be like them.
MODELS_WORDS = re.compile(r"\b(kappa|h|v|K|bound|Brier|basis|gap|bernoulli|quantile|C-d)\b(?! MB)")


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SITUATIONS)
def test_a_situation_shows_its_golden_screen(name: str, width: int, tmp_path: Path) -> None:
    assert screen(name, width, tmp_path) == (GOLDEN / f"{name}-{width}.txt").read_text("utf-8")


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SITUATIONS)
def test_a_screen_fits_its_window_and_speaks_no_word_of_the_model(name: str, width: int) -> None:
    lines = (GOLDEN / f"{name}-{width}.txt").read_text("utf-8").splitlines()
    assert [line for line in lines if cell_len(line) > width and " " in line.strip()] == []
    assert [line for line in lines if MODELS_WORDS.search(re.sub(r"\d+ h\b", "", line))] == []


def test_of_many_ways_each_is_told_with_its_service(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows of two services looked alike in a window of 80 columns."""
    asked = {"ask-all": Situation(("ask", "GA-12", "--to", "DE", "--all"))}
    monkeypatch.setattr(a_screen, "SITUATIONS", asked)
    said = screen("ask-all", 80, tmp_path)
    rows = [line for line in said.splitlines() if line.startswith(("go  ", "stop"))]
    assert len(rows) > 20
    assert all("express" in row or "tracked parcel" in row or "quick letter" in row for row in rows)


@pytest.mark.parametrize(
    "width", [60, 160, *(pytest.param(width, marks=pytest.mark.slow) for width in (80, 120))]
)
def test_a_terminal_shows_what_a_pipe_shows(width: int, tmp_path: Path) -> None:
    shelf = shipped_folder("demo_orders")
    command = (
        f"{sys.executable} -c 'from shipping.cli.app import main; main()' --shelf {shelf} --today {TODAY}"
        " plan --quiet"
    )
    socket = [tool("tmux"), "-u", "-S", str(tmp_path / "socket")]  # UTF-8 whatever the locale
    environment = {key: value for key, value in os.environ.items() if key != "COLUMNS"}
    new = ["new-session", "-d", "-x", str(width), "-y", "50", "sh", "-c", f"{command}; cat"]
    golden = (GOLDEN / f"plan-quiet-{width}.txt").read_text("utf-8").strip()
    subprocess.run([*socket, *new], check=True, env=environment)
    try:
        assert shown_in_the_end([*socket, "capture-pane", "-p"], golden) == golden
    finally:
        subprocess.run([*socket, "kill-server"], check=False)


def shown_in_the_end(capture: list[str], golden: str) -> str:
    """What the terminal shows once that is the golden screen, or when it has been waited for long enough."""
    end = time.monotonic() + LONGEST_S
    while True:
        shown = subprocess.run(capture, check=True, capture_output=True, text=True).stdout.strip()
        if shown == golden or time.monotonic() > end:
            return shown
        time.sleep(0.1)


def test_colour_marks_only_what_a_word_says_too() -> None:
    plain, coloured = Window(80), Window(80, colour=True)
    for style in ("go", "wait", "hold", "stop", "hand", "head"):
        assert plain.mark("word", style) == "word"
        assert "word" in coloured.mark("word", style) != "word"


def test_a_table_drops_the_columns_that_do_not_fit_and_stacks_where_none_do() -> None:
    columns = (
        TableColumn("lot"),
        TableColumn("eggs", 1, right=True),
        TableColumn("why", 2),
        TableColumn("to"),
    )
    rows = [("AU-20", 12, "it is due", "Søren Eksempel, DK")]
    assert list(Window(80).table(columns, rows)) == [
        "lot    eggs  why        to",
        "AU-20    12  it is due  Søren Eksempel, DK",
    ]
    assert list(Window(31).table(columns, rows)) == [
        "lot    eggs  to",
        "AU-20    12  Søren Eksempel, DK",
    ]
    assert list(Window(24).table(columns, rows)) == ["lot    to", "AU-20  Søren Eksempel,", "       DK"]
    assert list(Window(16).table(columns, rows)) == ["AU-20", "  to Søren", "  Eksempel, DK"]
    more = [*rows, ("", 12, "it is due", "the same")]
    assert list(Window(16).table(columns, more))[3:] == ["  to the same"], "it belongs to the row above"


def test_no_word_is_broken_and_none_is_lost() -> None:
    text = "Bundesinfektionsschutzverordnung und noch 2\u00a0% mehr"
    lines = list(Window(20).wrapped(text, "- ", "  "))
    assert lines == ["- Bundesinfektionsschutzverordnung", "  und noch 2 % mehr"]
