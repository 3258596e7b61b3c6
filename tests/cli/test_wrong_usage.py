"""A command line that cannot be read is told in one line, with the word that is wrong and what to write."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from shipping.cli.app import main


def left(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str
) -> tuple[object, str, str]:
    """The exit code, and what was said on either stream."""
    monkeypatch.setattr(sys, "argv", ["spawnpost", *words])
    with pytest.raises(SystemExit) as end:
        main()
    said = capsys.readouterr()
    return end.value.code, said.out, said.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("ask", "A", "--to", "DE", "--eggs", "-5"),
            "--eggs: is out of range. Write a whole number from 1 to 100000.",
        ),
        (
            ("ask", "A", "--to", "DE", "--eggs", "few"),
            "--eggs: is not a whole number. Write a whole number from 1 to 100000.",
        ),
        (("margin", "20", "--loss", "nan"), "--loss: is not a number. Write a number from 0 to 0.99."),
        (("margin", "20", "--loss", "120%"), "--loss: is out of range. Write a number from 0 to 0.99."),
        (
            ("margin", "20", "--loss", "12"),
            "--loss: is out of range. Write 0.12, or 12 with a percent sign.",
        ),
        (("plan", "--limit", "0"), "--limit: is out of range. Write a number from 0.1 up."),
        (("why",), "order: is missing. Write it as in: spawnpost why D09"),
        (("ask", "FL-31"), "--to: is missing. Write it as in: spawnpost ask FL-31 --to DE"),
        (("why", "D03", "D04"), "D04: is more than the command takes. See spawnpost why --help."),
        (("plan", "--wek", "x"), "--wek: There is no such option of spawnpost plan. Did you mean --week?"),
        (("pairs", "-3"), "-3: There is no such option of spawnpost pairs. See spawnpost pairs --help."),
        (("offer", "--csv"), "--csv: needs a value behind it. See spawnpost --help."),
        (("forecasts",), "forecasts: There is no such command. Did you mean forecast?"),
        (("--quiet",), "Missing command. See spawnpost --help."),
    ],
)
def test_wrong_usage_is_one_line_that_mends_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    assert left(capsys, monkeypatch, *words) == (2, "", f"question: {said}\n")


def test_wrong_usage_is_told_to_machines_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, out, _ = left(capsys, monkeypatch, "pairs", "0", "--json")
    problem = json.loads(out)["problems"][0]
    assert (code, problem["column"], problem["code"]) == (2, "eggs", "usage")


@pytest.mark.parametrize(
    "words",
    [
        *(("new", ""), ("demo", " "), ("papers", "--to", ""), ("plan", "--calendar", "")),
        *(("offer", "--csv", ""), ("copy", ""), ("shortcut", ""), ("map", ""), ("--shelf", "", "check")),
    ],
    ids=lambda words: words[0],
)
def test_an_empty_name_is_no_folder_and_no_file(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    words: tuple[str, ...],
) -> None:
    monkeypatch.chdir(tmp_path)
    said = "question: path: The name is empty. Write one; the folder you are in is a dot: .\n"
    assert left(capsys, monkeypatch, *words) == (1, "", said)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("--today", "9999-12-31", "check"), ("--today", "0001-01-01", "check")])
def test_a_day_too_far_away_is_refused_before_anything_is_reckoned(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    code, _, err = left(capsys, monkeypatch, *words)
    assert code == 1
    assert err.endswith("is too far from now to reckon with. Write a day from 1970 to 2199.\n")
    assert len(err.splitlines()) == 1
