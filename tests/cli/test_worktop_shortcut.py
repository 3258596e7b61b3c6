"""A launcher opens the page on every system, whatever folders are called; so does the command alone."""

from __future__ import annotations

import gc
import http.client
import os
import re
import subprocess
import sys
import webbrowser
from pathlib import Path

import pytest

from shipping.cli import worktop as worktop_command
from shipping.cli.app import main, parted
from shipping.cli.worktop import launcher
from shipping.worktop import serving
from tests.worktop.served import LONGEST_S

WORDS = ["/opt/Mein Python/bin/python", "-m", "shipping", "--shelf", '/srv/ä b/50% "eggs" $1']


def test_a_shell_takes_the_words_of_the_script_apart_as_they_were() -> None:
    script = launcher("darwin", WORDS).decode()
    asked = script.replace("exec ", "printf '%s\\n' ", 1)
    done = subprocess.run(["sh", "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == WORDS


def test_a_desktop_entry_quotes_each_word() -> None:
    text = launcher("linux", WORDS).decode()
    line = next(line for line in text.splitlines() if line.startswith("Exec="))
    assert line.startswith('Exec="/opt/Mein Python/bin/python" "-m" "shipping"')
    assert line.endswith('"/srv/ä b/50%% \\\\"eggs\\\\" \\\\$1"')


def test_a_batch_file_is_utf_8_and_says_so() -> None:
    text = launcher("win32", WORDS[:2]).decode("utf-8")
    assert text.splitlines()[:3] == ["@echo off", "chcp 65001 >nul", '"/opt/Mein Python/bin/python" -m']


@pytest.mark.parametrize(
    ("typed", "opens"),
    [
        ([], True),
        (["--today", "2026-11-30"], True),
        (["--help"], False),
        (["plan"], False),
        (["--hide-names"], True),
        (["--quiet"], False),
        (["--json"], False),
    ],
)
def test_without_a_command_the_page_is_opened(typed: list[str], opens: bool) -> None:
    assert (parted(typed)[1] == ["worktop", "--open"]) == opens


@pytest.mark.slow
def test_the_command_alone_opens_a_first_shelf_in_the_documents(tmp_path: Path) -> None:
    (tmp_path / "Documents").mkdir()
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "SPAWNPOST"))
    } | {"HOME": str(tmp_path), "BROWSER": "true"}
    command = [sys.executable, "-m", "shipping", "--today", "2026-11-30", "worktop", "--open", "--port", "0"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env=environment, cwd=tmp_path
    ) as served:
        try:
            assert served.stdout is not None
            told = served.stdout.readline()
            found = re.search(r"127\.0\.0\.1:(\d+)", told)
            assert found, told
            connection = http.client.HTTPConnection("127.0.0.1", int(found[1]), timeout=LONGEST_S)
            connection.request("GET", "/first")
            page = connection.getresponse().read().decode()
            connection.close()
        finally:
            served.terminate()
    assert str(tmp_path / "Documents" / "Killifish eggs") in page


def test_a_page_without_a_shelf_names_the_way_to_a_first_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SPAWNPOST_SHELF", raising=False)
    monkeypatch.setattr(sys, "argv", ["spawnpost", "worktop"])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 1
    assert "type spawnpost alone: its page makes a first one." in capsys.readouterr().err


@pytest.mark.parametrize(("named", "is_served_anew"), [([], False), (["--shelf", "another"], True)])
def test_a_page_that_is_open_is_shown_again_unless_another_shelf_is_named(
    named: list[str], is_served_anew: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    served: list[Path] = []
    opened: list[str] = []
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("SPAWNPOST_SHELF", raising=False)
    monkeypatch.setattr(worktop_command, "_is_served_already", lambda port: True)

    def serve(folder: Path, *_: object, **__: object) -> list[str]:
        served.append(folder)
        return []

    monkeypatch.setattr(serving, "serve", serve)
    monkeypatch.setattr(webbrowser, "open", opened.append)
    monkeypatch.setattr(sys, "argv", ["spawnpost", *named, "worktop", "--open"])
    try:
        with pytest.raises(SystemExit) as left:
            main()
    finally:
        gc.enable()
    assert left.value.code == 0
    assert served == ([Path("another")] if is_served_anew else [])
    assert opened == ([] if is_served_anew else ["http://127.0.0.1:8765/"])
