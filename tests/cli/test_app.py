"""The commands on the demo week: what stands on standard output, how they leave, what they never show and
never write.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sys
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shipping.cli.app import main
from shipping.tables.reader import read_shelf
from shipping.week import plan as plan_module
from shipping.week.plan_data import Plan
from shipping.words.reasons import CODES
from shipping.words.units import HIDDEN, shipped_folder
from tests.cli.conftest import Ran, Spawnpost

DEMO = shipped_folder("demo_orders")
TODAY = date.fromisoformat((DEMO / "today.txt").read_text(encoding="utf-8").strip())
MONEY = re.compile(r"-?[0-9]+\.[0-9]{2}")
#: Commands that only look, each with its arguments.
LOOKING: Mapping[str, tuple[str, ...]] = {
    "check": ("check",),
    "forecast": ("forecast",),
    "forecast-explained": ("forecast", "FL-31", "--explain"),
    "ask": ("ask", "GA-12", "--to", "DE"),
    "ask-on": ("ask", "FL-31", "--to", "DK", "--on", "2026-11-30", "--eggs", "10"),
    "margin": ("margin", "20", "--loss", "0.12"),
    "margin-route": ("margin", "20", "--packing", "tube 15 ml", "--service", "quick letter", "--to", "DK"),
    "plan": ("plan",),
    "why": ("why", "D09"),
    "why-out": ("why", "D22"),
    "rules": ("rules",),
    "pairs": ("pairs", "20"),
}


@pytest.fixture
def spawnpost(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Spawnpost:
    """Runs the command with words as they are typed."""
    monkeypatch.delenv("SPAWNPOST_SHELF", raising=False)

    def run(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["spawnpost", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            main()
        said = capsys.readouterr()
        return Ran(int(end.value.code or 0), said.out, said.err)

    return run


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A copy of the demo week's tables."""
    folder = tmp_path / "shelf"
    shutil.copytree(DEMO, folder)
    return folder


@pytest.fixture
def on_shelf(shelf: Path) -> tuple[object, ...]:
    """The global options that name the copy and the day."""
    return ("--shelf", shelf, "--today", TODAY)


@pytest.fixture(scope="module")
def buyers() -> frozenset[str]:
    """Every buyer's whole name."""
    reading = read_shelf(DEMO, TODAY)
    assert reading.shelf is not None
    return frozenset(order.address.addressee for order in reading.shelf.orders)


def files_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def is_day(value: object) -> bool:
    return isinstance(value, str) and date.fromisoformat(value).isoformat() == value


def are_days(value: object) -> bool:
    """Are these the 5, 50 and 95 % dates, each ISO or null, in their order?"""
    assert isinstance(value, dict)
    days = [value[name] for name in ("p05", "p50", "p95")]
    return all(day is None or is_day(day) for day in days) and (None in days or days == sorted(days))


def is_reason(value: object) -> bool:
    assert isinstance(value, dict)
    assert set(value) >= {"code", "text", "facts", "source"}
    return (
        value["code"] in CODES
        and bool(value["text"])
        and isinstance(value["facts"], dict)
        and bool(value["source"])
    )


def is_share(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and 0 <= value <= 1
        and round(value, 6) == value
    )


# --- for a person


@pytest.mark.parametrize("name", LOOKING)
def test_a_command_that_only_looks_says_something_and_writes_nothing(
    spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...], name: str
) -> None:
    before = files_in(shelf.parent)
    found = spawnpost(*on_shelf, *LOOKING[name])
    assert (found.code, found.err) == (0, "")
    assert found.out.strip()
    assert "\x1b" not in found.out
    assert files_in(shelf.parent) == before


@pytest.mark.parametrize("name", LOOKING)
def test_with_json_one_object_stands_on_standard_output_and_nothing_is_written(
    spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...], name: str
) -> None:
    before = files_in(shelf.parent)
    found = spawnpost(*on_shelf, "--json", *LOOKING[name])
    assert found.code == 0
    assert found.facts
    assert files_in(shelf.parent) == before


@pytest.mark.parametrize(
    "command",
    [
        *("check", "forecast", "ask", "margin", "plan", "why", "papers", "rules", "pairs", "new", "demo"),
        *("pack", "send", "arrive", "undo", "history", "copy", "erase", "learn"),
    ],
)
def test_help_shows_one_worked_example(spawnpost: Spawnpost, command: str) -> None:
    found = spawnpost(command, "--help")
    assert found.code == 0
    assert f"Example: spawnpost {command}" in " ".join(found.out.split())


@pytest.mark.parametrize("name", LOOKING)
def test_global_options_may_stand_after_the_command(spawnpost: Spawnpost, shelf: Path, name: str) -> None:
    before = spawnpost("--shelf", shelf, "--today", TODAY, "--json", *LOOKING[name])
    after = spawnpost(*LOOKING[name], "--json", f"--today={TODAY}", "--shelf", shelf)
    assert (after.code, after.facts) == (0, before.facts)


def test_the_shelf_is_named_by_the_environment_or_found_upward(
    spawnpost: Spawnpost, shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    named = spawnpost("--shelf", shelf, "--today", TODAY, "--json", "rules", "--to", "DE").facts
    (shelf / "papers" / "old").mkdir(parents=True)
    monkeypatch.chdir(shelf / "papers" / "old")
    assert spawnpost("--today", TODAY, "--json", "rules", "--to", "DE").facts == named
    monkeypatch.chdir(shelf.parent)
    monkeypatch.setenv("SPAWNPOST_SHELF", str(shelf))
    assert spawnpost("--today", TODAY, "--json", "rules", "--to", "DE").facts == named


def test_quiet_papers_say_one_line(spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...]) -> None:
    found = spawnpost(*on_shelf, "--quiet", "papers", "--only", "label")
    assert found.code == 0
    assert len(found.out.splitlines()) == 1


# --- for machines: the keys of the contract


def test_a_forecast_has_its_keys(spawnpost: Spawnpost, on_shelf: tuple[object, ...]) -> None:
    facts = spawnpost(*on_shelf, "forecast", "--json").facts
    assert facts["today"] == TODAY.isoformat()
    assert isinstance(facts["lots"], list)
    assert len(facts["lots"]) == 18
    for lot in facts["lots"]:
        keys = {
            "lot",
            "species",
            "stage",
            "degree_days",
            "hatch",
            "overdue",
            "misdated",
            "eggs_today",
            "free",
            "days",
            "safe",
        }
        assert set(lot) >= keys
        assert are_days(lot["hatch"])
        assert type(lot["overdue"]) is type(lot["misdated"]) is bool
        assert type(lot["eggs_today"]) is type(lot["free"]) is int
        assert 0 <= lot["free"] <= lot["eggs_today"]
        assert lot["days"]
        assert all(set(day) >= {"on", "eggs", "free"} and is_day(day["on"]) for day in lot["days"])
        for safe in lot["safe"]:
            assert set(safe) >= {"to", "service", "packing", "from", "until"}
            assert is_day(safe["from"])
            assert safe["until"] is None or is_day(safe["until"])
    overdue = [lot for lot in facts["lots"] if lot["overdue"]]
    assert [(lot["lot"], lot["free"], set(lot["hatch"].values())) for lot in overdue] == [
        ("CY-09", 0, {None})
    ]


def test_no_row_of_an_answer_says_go_where_a_region_is_to_be_named_first(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...]
) -> None:
    lines = spawnpost(*on_shelf, "ask", "KO-11", "--to", "GB").out.splitlines()
    assert lines[0] == "Lot KO-11 to GB: HOLD"
    rows = [line.split()[0] for line in lines if "30 Nov" in line]
    assert rows
    assert set(rows) == {"hold"}


def test_a_reply_has_its_keys(spawnpost: Spawnpost, on_shelf: tuple[object, ...]) -> None:
    facts = spawnpost(*on_shelf, "ask", "GA-12", "--to", "DE", "--json").facts
    assert set(facts) >= {"lot", "to", "on", "verdict", "last_safe_day", "options", "reasons"}
    assert (facts["lot"], facts["to"], facts["on"], facts["verdict"]) == ("GA-12", "DE", None, "go")
    assert is_day(facts["last_safe_day"])
    assert isinstance(facts["options"], list)
    verdicts = set()
    for option in facts["options"]:
        assert set(option) >= {
            *(
                "service",
                "packing",
                "dispatch_on",
                "arrive",
                "h_per_egg",
                "h_any",
                "v_per_egg",
                "pack",
                "p_enough",
            ),
            *("cost", "verdict", "reasons"),
        }
        assert is_day(option["dispatch_on"])
        assert are_days(option["arrive"])
        assert all(is_share(option[name]) for name in ("h_per_egg", "h_any", "v_per_egg", "p_enough"))
        assert option["cost"] is None or MONEY.fullmatch(option["cost"])
        assert all(is_reason(reason) for reason in option["reasons"])
        verdicts.add(option["verdict"])
    assert verdicts == {"go", "stop"}


def test_a_margin_has_its_keys(spawnpost: Spawnpost) -> None:
    facts = spawnpost("margin", "20", "--loss", "0.12", "--json").facts
    assert set(facts) >= {"ordered", "pack", "extra", "p_enough", "expected_alive", "promise"}
    # 20 of 27 at 12 % loss and kappa 40: betabinom(27, 35.2, 4.8).sf(19) = 0.9588 and of 26 under 0.95
    # (scipy)
    assert (facts["ordered"], facts["pack"], facts["extra"], facts["promise"]) == (20, 27, 7, 0.95)
    assert facts["p_enough"] == pytest.approx(0.9588, abs=5e-5)
    assert facts["expected_alive"] == pytest.approx(27 * 0.88)


def test_a_plan_has_its_keys(spawnpost: Spawnpost, on_shelf: tuple[object, ...]) -> None:
    facts = spawnpost(*on_shelf, "plan", "--json").facts
    assert set(facts) >= {"week", "today", "parcels", "lines_out", "lots", "proof"}
    assert (facts["week"], facts["today"]) == ("2026-W49", "2026-11-30")
    assert isinstance(facts["parcels"], list)
    assert [parcel["parcel"] for parcel in facts["parcels"]] == [
        f"2026-W49-{number:02d}" for number in range(1, len(facts["parcels"]) + 1)
    ]
    for parcel in facts["parcels"]:
        assert set(parcel) >= {
            *(
                "parcel",
                "orders",
                "addressee",
                "to",
                "service",
                "dispatch_on",
                "arrive",
                "box",
                "weight_g",
                "postage",
                "lines",
            ),
        }
        assert re.fullmatch("[A-Z]{2}", parcel["to"])
        assert is_day(parcel["dispatch_on"])
        assert are_days(parcel["arrive"])
        assert MONEY.fullmatch(parcel["postage"])
        for line in parcel["lines"]:
            keys = {
                "order",
                "line",
                "species",
                "population",
                "ordered",
                "pack",
                "p_enough",
                "draws",
                "reasons",
            }
            assert set(line) >= keys
            assert {"chosen", "extra"} <= {reason["code"] for reason in line["reasons"]}
            assert all(is_reason(reason) for reason in line["reasons"])
            assert line["line"] >= 1
            assert is_share(line["p_enough"])
            assert line["pack"] == sum(draw["pack"] for draw in line["draws"])
            for draw in line["draws"]:
                assert set(draw) >= {
                    *(
                        "lot",
                        "packing",
                        "units",
                        "pack",
                        "h_per_egg",
                        "h_any",
                        "v_per_egg",
                        "stage",
                        "look_first",
                    ),
                }
                assert all(is_share(draw[name]) for name in ("h_per_egg", "h_any", "v_per_egg"))
                assert type(draw["look_first"]) is bool


def test_a_plan_says_what_stays_behind_what_is_left_and_its_proof(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...]
) -> None:
    facts = spawnpost(*on_shelf, "plan", "--json").facts
    assert isinstance(facts["lines_out"], list)
    assert isinstance(facts["lots"], list)
    assert isinstance(facts["proof"], dict)
    for line in facts["lines_out"]:
        assert set(line) >= {"order", "line", "verdict", "until", "reasons"}
        assert line["verdict"] in ("wait", "hold", "stop")
        assert line["until"] is None or is_day(line["until"])
        assert line["reasons"]
        assert all(is_reason(reason) for reason in line["reasons"])
    for lot in facts["lots"]:
        assert set(lot) >= {"lot", "eggs", "keep_back", "drawn", "left"}
        assert lot["left"] == lot["free"] - lot["drawn"]
    assert set(facts["proof"]) >= {"value", "bound", "gap", "loss"}
    assert "seconds" not in facts["proof"]


def test_a_week_that_is_over_is_said_to_be(spawnpost: Spawnpost, on_shelf: tuple[object, ...]) -> None:
    ran = spawnpost(*on_shelf, "plan", "--week", "2026-W40")
    assert ran.code == 0
    assert f"2026-W40 is over on {TODAY}" in ran.err


def test_a_check_lists_problems_with_their_keys(
    spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...]
) -> None:
    assert spawnpost(*on_shelf, "check", "--json").facts["problems"] == []
    (shelf / "orders.csv").write_text(
        (shelf / "orders.csv").read_text("utf-8").replace(",20,16.00,", ",2.5,16.00,"), "utf-8"
    )
    found = spawnpost(*on_shelf, "check", "--json")
    assert found.code == 1
    problems = found.facts["problems"]
    assert isinstance(problems, list)
    assert [set(problem) >= {"file", "row", "column", "code", "text", "mend"} for problem in problems] == [
        True,
        True,
    ]
    assert [(problem["file"], problem["row"], problem["column"]) for problem in problems] == [
        ("orders.csv", 2, "eggs"),
        ("orders.csv", 12, "eggs"),
    ]


# --- how it leaves


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("forecast", "FL-13"), "There is no lot 'FL-13'. Did you mean FL-31?"),
        (("why", "K99"), "There is no order 'K99'. Your table ends with D"),
        (("ask", "FL-31", "--to", "Nowhere"), "'Nowhere' is no country of ISO 3166."),
        (("ask", "FL-31", "--to", "OH"), "'OH' is no country of ISO 3166. Did you mean US-OH (Ohio)?"),
        (("offer", "--to", "Ohio"), "'Ohio' is neither a zone nor a country. Did you mean US-OH (Ohio)?"),
        (("ask", "FL-31", "--to", "DE", "--on", "2026-11-29"), "2026-11-29 is past."),
        (
            ("ask", "FL-31", "--to", "DE", "--on", "11.01.27"),
            "'11.01.27' may be several days. Write 2027-01-11 or 2027-11-01.",
        ),
        (
            ("ask", "FL-31", "--to", "DE", "--on", "28.11.26"),
            "2026-11-28 is past.",
        ),
        (
            ("ask", "FL-31", "--to", "DE", "--on", "someday"),
            "'someday' is not a day. Write the day as 2026-11-30.",
        ),
        (("plan", "--week", "49"), "'49' is not an ISO week. Write it as 2026-W49."),
        (("plan", "--week", "50"), "'50' is not an ISO week. Write it as 2026-W50."),
        (("papers", "--parcel", "2026-W49-99"), "'2026-W49-99' is not a parcel of the plan."),
        (("papers", "--only", "poster"), "'poster' is not a kind of paper."),
        (("margin", "20"), "Say either a loss or a route."),
        (("rules", "--species", "gardnerri"), "Did you mean gardneri?"),
    ],
)
def test_a_question_with_a_problem_leaves_with_1_and_says_it_in_one_line(
    spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...], words: tuple[str, ...], said: str
) -> None:
    before = files_in(shelf.parent)
    found = spawnpost(*on_shelf, *words)
    assert (found.code, found.out) == (1, "")
    assert said in found.err
    assert len(found.err.splitlines()) == 1
    assert files_in(shelf.parent) == before


def test_without_a_shelf_it_leaves_with_1_and_says_how_to_name_one(
    spawnpost: Spawnpost, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    found = spawnpost("plan")
    assert found.code == 1
    assert "Name it with --shelf, or make one: spawnpost new DIR." in found.err


@pytest.mark.parametrize(
    "words",
    [
        ("plann",),
        ("plan", "--wek", "2026-W49"),
        ("ask", "FL-31"),
        ("pairs", "many"),
        ("margin", "0", "--loss", "0.1"),
    ],
)
def test_wrong_usage_leaves_with_2(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...], words: tuple[str, ...]
) -> None:
    found = spawnpost(*on_shelf, *words)
    assert (found.code, found.out) == (2, "")
    assert "Traceback" not in found.err


@pytest.mark.parametrize("words", [("plan",), ("--json", "plan"), ("papers",)])
def test_a_bug_of_ours_leaves_with_3_and_a_short_report(
    spawnpost: Spawnpost,
    shelf: Path,
    on_shelf: tuple[object, ...],
    words: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError("a lot that is not there")

    monkeypatch.setattr("shipping.week.plan.make_plan", broken)
    before = files_in(shelf)
    found = spawnpost(*on_shelf, *words)
    assert (found.code, found.out) == (3, "")
    assert "This is our own mistake, not yours." in found.err
    assert "KeyError: 'a lot that is not there'" in found.err
    assert "test_app.py:" in found.err
    assert "Traceback" not in found.err
    assert len(found.err.splitlines()) <= 5
    assert files_in(shelf) == before


# --- what is never shown


def on_a_terminal(words: list[str], environment: Mapping[str, str]) -> str:
    """What a command writes to a terminal."""
    import pty
    import subprocess

    ours, theirs = pty.openpty()
    code = "from shipping.cli.app import main; main()"
    run = subprocess.Popen(
        [sys.executable, "-c", code, *words], stdout=theirs, stderr=theirs, stdin=theirs, env=environment
    )
    os.close(theirs)
    said = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:  # how Linux says that the other end is closed
            break
        if not part:
            break
        said += part
    os.close(ours)
    assert run.wait() in (0, 1, 2)
    return said.decode()


@pytest.mark.parametrize(
    "words", [["forecast"], ["forecast", "FL-99"], ["forecast", "--help"], ["forecasts"]]
)
def test_no_color_is_honoured_on_a_terminal(words: list[str]) -> None:
    environment = {**os.environ, "TERM": "xterm-256color", "NO_COLOR": "1"}
    environment.pop("FORCE_COLOR", None)
    said = on_a_terminal(["--shelf", str(DEMO), "--today", TODAY.isoformat(), *words], environment)
    assert said.strip()
    # Bold and underline are no colour; a colour is one of SGR 30-38, 40-48, 90-97 and 100-107 (ECMA-48,
    # 8.3.117).
    assert re.findall(r"\x1b\[[0-9;]*(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])[0-9;]*m", said) == []


@pytest.mark.parametrize("form", [(), ("--json",)])
@pytest.mark.parametrize("name", LOOKING)
def test_no_buyers_name_is_shown_where_names_are_hidden(
    spawnpost: Spawnpost,
    on_shelf: tuple[object, ...],
    buyers: frozenset[str],
    form: tuple[str, ...],
    name: str,
) -> None:
    found = spawnpost(*on_shelf, "--hide-names", *form, *LOOKING[name])
    assert found.code == 0
    assert [buyer for buyer in sorted(buyers) if buyer in found.out + found.err] == []


def test_the_plan_shows_names_unless_they_are_hidden(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...], buyers: frozenset[str]
) -> None:
    assert any(buyer in spawnpost(*on_shelf, "plan").out for buyer in buyers)
    assert HIDDEN in spawnpost(*on_shelf, "plan", "--hide-names").out


def test_the_list_of_papers_shows_no_buyers_name(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...], buyers: frozenset[str]
) -> None:
    found = spawnpost(*on_shelf, "--hide-names", "papers", "--only", "slip")
    assert found.code == 0
    assert [buyer for buyer in sorted(buyers) if buyer in found.out + found.err] == []


# --- commands that write


def test_papers_are_written_where_they_are_asked_for_and_all_listed(
    spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...], tmp_path: Path
) -> None:
    before = files_in(shelf)
    facts = spawnpost(
        *(
            *on_shelf,
            "--json",
            "papers",
            "--parcel",
            "1",
            "--item",
            "1=RR473124829GB",
            "--to",
            tmp_path / "out",
        )
    ).facts
    assert facts["folder"] == str(tmp_path / "out")
    assert isinstance(facts["files"], list)
    out = tmp_path / "out"
    files = [path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()]
    assert sorted(files) == sorted(facts["files"])
    assert any("2026-W49-01" in name for name in files), "the parcel numbered 1, as pack and send name it"
    # beside the tables there is only the index that tells an erasing what was printed for whom, in digests
    assert {name: text for name, text in files_in(shelf).items() if name != "papers-index.json"} == before


def test_a_new_shelf_has_no_problem_of_spelling_and_is_never_laid_over_another(
    spawnpost: Spawnpost, tmp_path: Path
) -> None:
    made = spawnpost("--today", TODAY, "--json", "new", tmp_path / "eggs", "--home", "DE-BY")
    assert made.code == 0
    assert made.facts["folder"] == str(tmp_path / "eggs")
    before = files_in(tmp_path)
    again = spawnpost("--today", TODAY, "new", tmp_path / "eggs")
    assert again.code == 1
    assert files_in(tmp_path) == before


def test_the_demo_makes_a_shelf_a_plan_and_papers_and_hides_names(
    spawnpost: Spawnpost, tmp_path: Path, buyers: frozenset[str]
) -> None:
    found = spawnpost("--hide-names", "demo", tmp_path / "demo")
    assert found.code == 0
    plan = (tmp_path / "demo" / "plan.txt").read_text(encoding="utf-8")
    facts = json.loads((tmp_path / "demo" / "plan.json").read_text(encoding="utf-8"))
    assert plan in found.out
    assert facts["week"] == "2026-W49"
    assert (
        (tmp_path / "demo" / "papers" / "print" / "2026-W49-2026-11-30.pdf").read_bytes().startswith(b"%PDF-")
    )
    shown = found.out + plan + json.dumps(facts, ensure_ascii=False)
    assert [buyer for buyer in sorted(buyers) if buyer in shown] == []
    assert spawnpost("demo", tmp_path / "demo").code == 1


def test_a_plan_that_ctrl_c_ended_is_shown_and_not_kept(
    spawnpost: Spawnpost, shelf: Path, on_shelf: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = plan_module.make_plan

    def pressed(*what: Any, **how: Any) -> Plan:
        os.kill(os.getpid(), signal.SIGINT)
        return whole(*what, **how)

    monkeypatch.setattr(plan_module, "make_plan", pressed)
    done = spawnpost(*on_shelf, "plan", "--keep")
    assert (done.code, (shelf / "ledger.sqlite").exists()) == (130, False)
    said = " ".join(done.out.split())
    assert re.search(r"Nothing is kept, .*: spawnpost plan --week 2026-W49 --limit [0-9]+ --keep$", said)


@pytest.mark.parametrize("words", [("papers",), ("why", "D09")])
def test_papers_and_answers_of_a_plan_that_ctrl_c_ended_say_so(
    spawnpost: Spawnpost,
    on_shelf: tuple[object, ...],
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
) -> None:
    whole = plan_module.make_plan

    def pressed(*what: Any, **how: Any) -> Plan:
        os.kill(os.getpid(), signal.SIGINT)
        return whole(*what, **how)

    assert "You stopped the planning" not in spawnpost(*on_shelf, *words).out
    monkeypatch.setattr(plan_module, "make_plan", pressed)
    assert "You stopped the planning" in spawnpost(*on_shelf, *words).out


def test_options_of_an_order_of_several_lines_name_their_line_in_any_window(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    (head,) = (line for line in spawnpost(*on_shelf, "why", "D02").out.splitlines() if "hand over  " in line)
    assert head.split()[:2] == ["line", "lot"]
    (head,) = (line for line in spawnpost(*on_shelf, "why", "D09").out.splitlines() if "hand over  " in line)
    assert head.split()[0] == "lot"
    every = spawnpost(*on_shelf, "why", "D02", "--all").out
    assert "line 1, " in every
    assert "line 2, " in every


def test_every_option_of_a_question_has_the_figures_of_what_speaks_against_it(
    spawnpost: Spawnpost, on_shelf: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    said = spawnpost(*on_shelf, "ask", "KO-11", "--to", "NL", "--on", "2026-12-01", "--all").out
    assert "too cold (5.9 °C, limit 10 °C)" in said


def test_letters_of_a_country_that_are_also_a_state_at_home_are_told(
    spawnpost: Spawnpost, tmp_path: Path
) -> None:
    spawnpost("new", tmp_path / "eggs", "--home", "US-OH")
    on_shelf = ("--shelf", tmp_path / "eggs", "--today", TODAY)
    for to, told in {"DE": "DE is Germany; Delaware is US-DE.", "US-DE": "", "FR": "", "Germany": ""}.items():
        asked = spawnpost(*on_shelf, "rules", "--to", to)
        assert (asked.code, asked.err.strip()) == (0, told)
