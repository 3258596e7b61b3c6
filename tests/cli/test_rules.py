"""A rule that was looked up again gets its new day and source, and no other cell of the table changes."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest

from shipping.cli.app import main
from tests.cli.conftest import ran
from tests.tables.shelves import good_shelf, workbook_of_good_tables, xlsx_shelf

RULES = (
    b"to,taxon,verdict,source,checked_on,note\r\n"
    b"# looked up in winter\r\n"
    b'DE,*,open,"law, one",2026-01-05,\r\n'
    b"DK,*,open,own country,2026-01-06,\r\n"
    b"DK,Fundulopanchax,ask,board,2026-01-07,ask again\r\n"
    b"*,*,ask,nobody knows,2026-01-08,\r\n"
)


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    folder = good_shelf(tmp_path / "shelf")
    (folder / "rules.csv").write_bytes(RULES)
    return folder


def rules(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str
) -> tuple[int, str]:
    """The exit code and all that was said."""
    done = ran(folder, capsys, monkeypatch, "rules", *words)
    return done.code, done.out + done.err


def test_a_row_is_dated_again_and_nothing_else_changes(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, said = rules(
        shelf, capsys, monkeypatch, "--to", "DE", "--species", "gardneri", "--checked", "law, two"
    )
    assert code == 0, said
    assert "rules.csv:3 DE * (open): looked up 2026-11-30 (before: 2026-01-05), law, two" in said
    assert (shelf / "rules.csv").read_bytes() == RULES.replace(
        b'"law, one",2026-01-05', b'"law, two",2026-11-30'
    )
    assert (shelf / "table-copies" / "rules-000001.csv").read_bytes() == RULES


def test_an_answer_for_one_fish_is_a_row_of_its_own_and_opens_no_other(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A row that is named by its number is answered as it stands."""
    answer = ("--checked", "a letter", "--verdict", "open")
    code, said = rules(shelf, capsys, monkeypatch, "--to", "DK", "--species", "gardneri", *answer)
    assert code == 0, said
    assert "DK Fundulopanchax gardneri (open): a row of its own now, looked up 2026-11-30, a letter" in said
    assert "The row rules.csv:5 DK Fundulopanchax (ask) stays as it is for all else." in said
    own = b"DK,Fundulopanchax gardneri,open,a letter,2026-11-30,\r\n"
    assert (shelf / "rules.csv").read_bytes() == RULES + own
    again = ("--to", "DK", "--species", "gardneri", "--row", "7", "--checked", "a law", "--verdict", "closed")
    assert rules(shelf, capsys, monkeypatch, *again)[0] == 0
    now = own.replace(b"open,a letter", b"closed,a law")
    assert (shelf / "rules.csv").read_bytes() == RULES + now


def test_a_region_is_told_its_countrys_row_and_a_row_nobody_looked_up_has_no_day(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (shelf / "rules.csv").write_bytes(
        RULES + b"US,*,ask,authority,2000-01-01,\r\nUS-HI,*,closed,law,2026-01-05,\r\n"
    )
    code, said = rules(shelf, capsys, monkeypatch, "--to", "US-NY")
    assert code == 0, said
    rows = [line.split() for line in said.splitlines() if line.startswith("any")]
    assert [row[-1] for row in rows] == ["*", "US"]
    assert " ".join(rows[1]) == "any ask by nobody yet authority US"
    code, said = rules(shelf, capsys, monkeypatch, "--to", "US", "--checked", "a letter")
    assert "looked up 2026-11-30 (nobody had before), a letter" in said


def test_where_several_rows_are_meant_all_are_listed_and_none_is_changed(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("--to", "DK", "--species", "gardneri", "--checked", "the board's page")
    code, said = rules(shelf, capsys, monkeypatch, *words)
    assert code == 1
    assert "2 rows speak to DK and for gardneri" in said
    assert "rules.csv:4 DK * (open)" in said
    assert "rules.csv:5 DK Fundulopanchax (ask)" in said
    assert (shelf / "rules.csv").read_bytes() == RULES
    code, said = rules(shelf, capsys, monkeypatch, *words, "--row", "5")
    assert code == 0, said
    assert (shelf / "rules.csv").read_bytes() == RULES.replace(
        b"board,2026-01-07", b"the board's page,2026-11-30"
    )


def test_a_row_for_everywhere_is_not_taken_for_a_country_without_one(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, said = rules(shelf, capsys, monkeypatch, "--to", "SE", "--checked", "board")
    assert code == 1
    assert "no row of rules speaks to SE" in said
    assert (shelf / "rules.csv").read_bytes() == RULES


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--to", "DE", "--checked", " "), "--checked: is blank."),
        (("--to", "DE", "--row", "3"), "--row: says which row was looked up."),
        (("--to", "DE", "--checked", "law", "--row", "5"), "row 5 is not among the rows to DE"),
        (("--checked", "law"), "4 rows are in the table"),
    ],
)
def test_a_question_that_cannot_be_answered_changes_nothing(
    shelf: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    told: str,
) -> None:
    code, said = rules(shelf, capsys, monkeypatch, *words)
    assert code == 1
    assert told in said
    assert (shelf / "rules.csv").read_bytes() == RULES


def test_in_a_workbook_it_says_what_to_type_where(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = xlsx_shelf(tmp_path / "book", workbook_of_good_tables())
    before = (shelf / "shelf.xlsx").read_bytes()
    code, said = rules(shelf, capsys, monkeypatch, "--to", "DE", "--checked", "law")
    assert code == 1
    assert "never written to. Type into its sheet rules, row " in said
    assert "source law, checked_on 2026-11-30" in said
    assert (shelf / "shelf.xlsx").read_bytes() == before


def test_the_facts_for_machines_hold_the_row_before_and_after(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.rmtree(shelf / "table-copies", ignore_errors=True)
    monkeypatch.setattr(
        sys,
        "argv",
        [
            "spawnpost",
            "--json",
            "--shelf",
            str(shelf),
            "--today",
            "2026-11-30",
            "rules",
            "--to",
            "DE",
            "--checked",
            "law",
        ],
    )
    with pytest.raises(SystemExit):
        main()
    facts = json.loads(capsys.readouterr().out)
    assert facts["checked"]["row"] == 3
    assert facts["checked"]["before"] == {"checked_on": "2026-01-05", "source": "law, one"}
    assert facts["checked"]["after"] == {"checked_on": "2026-11-30", "source": "law"}
    assert [(rule["to"], rule["checked_on"]) for rule in facts["rules"] if rule["to"] == "DE"] == [
        ("DE", "2026-11-30")
    ]


@pytest.mark.parametrize(
    ("place", "mend"),
    [("ZZ", "Write the two letters of ISO 3166, such as DK."), ("UK", "Did you mean 'GB'?")],
)
def test_a_place_that_is_none_is_refused_and_not_said_to_lack_nothing(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, place: str, mend: str
) -> None:
    code, said = rules(shelf, capsys, monkeypatch, "--to", place)
    assert (code, said) == (1, f"question: --to: '{place}' is no country of ISO 3166. {mend}\n")


def test_a_country_may_be_asked_about_by_its_name(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert rules(shelf, capsys, monkeypatch, "--to", "Germany") == rules(
        shelf, capsys, monkeypatch, "--to", "DE"
    )


def test_a_row_that_says_ask_is_answered(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = ("--to", "DK", "--row", "5", "--checked", "the board, in writing")
    code, said = rules(shelf, capsys, monkeypatch, *place)
    assert (code, "still says ask" in said) == (0, True), said
    code, said = rules(shelf, capsys, monkeypatch, *place, "--verdict", "open")
    assert code == 0, said
    assert "It said ask and says open now." in said
    row = b'DK,Fundulopanchax,open,"the board, in writing",2026-11-30,ask again'
    assert row in (shelf / "rules.csv").read_bytes()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--verdict", "papers"), "names no paper"),
        (("--verdict", "maybe"), "'maybe' is no verdict"),
        (("--verdict", "open", "--papers", "a certificate"), "for a row that asks for none"),
    ],
)
def test_an_answer_that_is_none_changes_nothing(
    words: tuple[str, ...],
    told: str,
    shelf: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    code, said = rules(shelf, capsys, monkeypatch, "--to", "DK", "--row", "5", "--checked", "it", *words)
    assert (code, told in said) == (1, True), said
    assert (shelf / "rules.csv").read_bytes() == RULES


def test_an_answer_without_a_source_is_wrong_usage(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert rules(shelf, capsys, monkeypatch, "--to", "DK", "--verdict", "open")[0] in (1, 2)
    assert (shelf / "rules.csv").read_bytes() == RULES


def test_an_answer_for_one_country_of_a_zone_is_a_row_of_its_own_unless_the_row_is_named(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    table = b"to,taxon,verdict,source,checked_on\nUNION,*,ask,board,2026-01-05\n"
    (shelf / "rules.csv").write_bytes(table)
    with (shelf / "zones.csv").open("ab") as zones:
        zones.write(b"UNION,DE FI\n")
    assert "board" in rules(shelf, capsys, monkeypatch, "--to", "FI")[1]
    answer = ("--to", "FI", "--checked", "a letter", "--verdict", "open")
    code, said = rules(shelf, capsys, monkeypatch, *answer)
    assert code == 0, said
    assert "FI * (open): a row of its own now" in said
    assert "The row rules.csv:2 UNION * (ask) stays as it is" in said
    assert (shelf / "rules.csv").read_bytes() == table + b"FI,*,open,a letter,2026-11-30\n"
    code, said = rules(shelf, capsys, monkeypatch, *answer, "--row", "2")
    assert code == 0, said
    assert "This row speaks to 2 countries or parts" in said


def test_an_answer_is_one_to_the_row_that_asks_and_not_to_a_ban_that_names_the_country(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    table = (
        b"to,taxon,verdict,source,checked_on\nUNION,*,ask,board,2026-01-05\n"
        b"DE FI,Fundulus heteroclitus,closed,law,2026-01-05\n"
    )
    (shelf / "rules.csv").write_bytes(table)
    with (shelf / "zones.csv").open("ab") as zones:
        zones.write(b"UNION,DE FI\n")
    answer = ("--to", "DE", "--checked", "a letter", "--verdict", "open")
    code, said = rules(shelf, capsys, monkeypatch, *answer)
    assert code == 0, said
    assert (shelf / "rules.csv").read_bytes() == table + b"DE,*,open,a letter,2026-11-30\n"


def test_a_country_that_only_the_row_for_everywhere_speaks_to_is_answered_by_a_row_of_its_own(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = ("--to", "SE", "--checked", "board", "--verdict", "open")
    code, said = rules(shelf, capsys, monkeypatch, *answer)
    assert code == 0, said
    assert (shelf / "rules.csv").read_bytes() == RULES + b"SE,*,open,board,2026-11-30,\r\n"


def test_an_answer_for_one_of_several_countries_of_a_row_says_so_before(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    table = b"to,taxon,verdict,source,checked_on\nDE FI,*,ask,board,2026-01-05\n"
    (shelf / "rules.csv").write_bytes(table)
    answer = ("--to", "FI", "--checked", "a letter", "--verdict", "open")
    code, said = rules(shelf, capsys, monkeypatch, *answer)
    assert (code, (shelf / "rules.csv").read_bytes()) == (1, table)
    assert "row 2 speaks to 2 countries or parts, and nothing was changed" in said
    assert rules(shelf, capsys, monkeypatch, *answer, "--row", "2")[0] == 0


def test_the_next_step_asks_for_the_country_and_not_for_its_whole_zone(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with (shelf / "zones.csv").open("ab") as zones:
        zones.write(b"UNION,DE FI\n")
    table = "to,taxon,verdict,source,checked_on\nUNION,*,ask,board,2026-11-05\n"
    (shelf / "rules.csv").write_text(table, encoding="utf-8")
    done = ran(shelf, capsys, monkeypatch, "why", "A1")
    said = " ".join((done.out + done.err).split())
    assert "spawnpost rules --to DE --checked" in said


def test_an_answer_for_everywhere_is_said_to_be_one(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    code, said = rules(shelf, capsys, monkeypatch, "--to", "*", "--checked", "a letter", "--verdict", "open")
    assert code == 0, said
    assert "This row speaks to every country" in said


def test_a_zone_is_told_of_the_orders_in_it_and_the_row_named_is_one_that_can_be_dated(
    shelf: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (shelf / "zones.csv").write_text("zone,countries\nnear,DE SE NO\n", encoding="utf-8")
    head = "to,taxon,verdict,source,checked_on\n"
    rows = f"{head}DE NO,guentheri,closed,a law,2026-01-05\nnear,*,ask,board,2026-11-01\n"
    (shelf / "rules.csv").write_text(rows, encoding="utf-8")
    code, said = rules(shelf, capsys, monkeypatch, "--to", "near")
    said = " ".join(said.split())
    assert code == 0
    assert "DE, gardneri (to be asked, row 3): orders A1." in said
    assert "spawnpost rules --row ROW --checked SOURCE --verdict ANSWER" in said
    words = ("--row", "3", "--checked", "the board, in writing", "--verdict", "open")
    code, said = rules(shelf, capsys, monkeypatch, *words)
    assert (code, "It said ask and says open now." in said) == (0, True)
