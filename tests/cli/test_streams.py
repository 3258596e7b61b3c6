"""Standard output that is closed, full, left early or of an old encoding breaks no command."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from shipping.__main__ import run
from shipping.words.units import shipped_folder
from tests.cli.conftest import Spawnpost

DEMO = shipped_folder("demo_orders")
START = "import sys; from shipping.cli.app import main; sys.argv[0] = 'spawnpost'; sys.exit(main())"


def ran(words: str, shell_end: str, tmp_path: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """A command as a shell runs it, with what the shell does to its streams behind it."""
    today = (DEMO / "today.txt").read_text(encoding="utf-8").strip()
    line = f'"$PYTHON" -c "$START" --shelf "$SHELF" --today {today} {words} {shell_end}'
    environment = {
        **os.environ,
        "PYTHON": sys.executable,
        "START": START,
        "SHELF": str(DEMO),
        "SAID": str(tmp_path / "said"),
        **more,
    }
    return subprocess.run(["bash", "-c", line], capture_output=True, text=True, env=environment, check=False)


def test_a_pipe_left_after_a_line_is_no_failure(tmp_path: Path) -> None:
    done = ran("ask FL-31 --to AT", "| head -1; exit ${PIPESTATUS[0]}", tmp_path)
    assert (done.returncode, done.stderr, done.stdout) == (0, "", "Lot FL-31 to AT: STOP\n")


@pytest.mark.parametrize("closed", [">&-", "2>&- >/dev/null", "<&-"])
def test_a_closed_stream_is_no_failure(tmp_path: Path, closed: str) -> None:
    done = ran("ask FL-31 --to DE", closed, tmp_path)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("form", ["", "--json"])
def test_a_full_disk_is_said_in_one_line(tmp_path: Path, form: str) -> None:
    done = ran(f"{form} ask FL-31 --to DE", ">/dev/full", tmp_path)
    assert done.returncode == 1
    assert done.stderr.splitlines() == ["file: No space left on device. Make room on the disk and try again."]


def test_an_old_encoding_loses_letters_and_not_the_answer(tmp_path: Path) -> None:
    done = ran("plan", '>"$SAID"', tmp_path, PYTHONIOENCODING="cp1252")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Ay?e" in (tmp_path / "said").read_text(encoding="cp1252")


def test_an_old_encoding_loses_nothing_of_what_machines_read(tmp_path: Path) -> None:
    done = ran("--json plan", '>"$SAID"', tmp_path, PYTHONIOENCODING="cp1252")
    assert (done.returncode, done.stderr) == (0, "")
    facts = json.loads((tmp_path / "said").read_text(encoding="cp1252"))
    assert "Ayşe Örnek-Schönbeispiel" in {parcel["addressee"] for parcel in facts["parcels"]}


class Pressed:
    """Ctrl+C while the program's first module is looked for."""

    def find_spec(self, name: str, *more: object) -> None:
        if name == "shipping.cli.app":
            raise KeyboardInterrupt


def test_ctrl_c_while_it_is_still_being_loaded_is_no_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "shipping.cli.app", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Pressed(), *sys.meta_path])
    with pytest.raises(SystemExit) as left:
        run()
    assert left.value.code == 130


def test_ctrl_c_before_there_is_an_answer_is_said_in_one_line(
    spawnpost: Spawnpost, monkeypatch: pytest.MonkeyPatch
) -> None:
    def pressed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("shipping.cli.ask.shelf_now", pressed)
    done = spawnpost("ask", "FL-31", "--to", "DE")
    assert (done.code, done.out, done.err) == (130, "", "Stopped by Ctrl-C before it was done.\n")
