"""One row is added or changed in a breeder's own CSV file, and not a byte beside it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipping.tables.editing import row_writer
from shipping.tables.editing.row_writer import append_row, change_row, change_rows, refuse_a_workbook
from shipping.tables.files.csv_file import csv_form, defused, raw_of, sheet_from_text, value_of
from shipping.words.problems import ShelfProblems

RULES = (
    "\ufeff# the rules as I looked them up\r\n"
    "to;Taxon;verdict;source;checked_on;_mine\r\n"
    '"DE";*;open;"one; two\r\nthree";2026-01-01;x\r\n'
    "\r\n"
    "# Sweden next\r\n"
    "SE; * ;open;board of farming;2026-01-02"
)


def written(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def test_a_changed_row_leaves_every_other_byte_as_it_stood(tmp_path: Path) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    done = change_row(path, 6, {"checked_on": "2026-11-30", "source": "said; again"})
    was, now = "board of farming;2026-01-02", '"said; again";2026-11-30'
    assert path.read_bytes() == RULES.replace(was, now).encode()
    assert done.copy is not None
    assert done.copy.read_bytes() == RULES.encode()


def test_several_rows_are_changed_in_one_step_or_none(tmp_path: Path) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    done = change_rows(path, {3: {"source": "a longer one"}, 6: {"source": "said"}})
    now = RULES.replace('"one; two\r\nthree"', "a longer one").replace("board of farming", "said")
    assert path.read_bytes() == now.encode()
    assert [copy.read_bytes() for copy in (tmp_path / "table-copies").iterdir()] == [RULES.encode()]
    assert done.row == 3
    with pytest.raises(ShelfProblems):
        change_rows(path, {3: {"source": "no"}, 6: {"source": "no"}}, {"checked_on": "2026-01-02"})
    assert path.read_bytes() == now.encode()


def test_a_row_with_a_line_break_inside_is_one_row(tmp_path: Path) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    change_row(path, 3, {"checked_on": "2026-11-30"})
    assert path.read_bytes() == RULES.replace("2026-01-01", "2026-11-30").encode()


def test_a_short_row_grows_to_the_column_that_is_written(tmp_path: Path) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    change_row(path, 6, {"_mine": "y"})
    assert path.read_bytes() == RULES.encode() + b";y"


def test_a_column_of_the_table_that_is_lacking_is_added_at_the_end_of_the_header(tmp_path: Path) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    done = change_row(path, 6, {"papers": "letter"})
    with_it = RULES.replace("_mine", "_mine;papers") + ";;letter"
    assert path.read_bytes() == with_it.encode()
    assert done.copy is not None
    assert done.copy.read_bytes() == RULES.encode()
    change_row(path, 6, {"papers": ""})
    assert path.read_bytes() == with_it.removesuffix("letter").encode()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_row_is_added_in_the_form_of_the_file(tmp_path: Path, encoding: str, end: str) -> None:
    text = f"lot\ton\tnote{end}G1\t2026-11-20\tså{end}"
    path = written(tmp_path, "inspections.csv", text.encode(encoding))
    done = append_row(path, {"lot": "G1", "on": "2026-11-30", "note": 'two\t"three"', "stage": ""})
    assert path.read_bytes() == (text + f'G1\t2026-11-30\t"two\t""three"""{end}').encode(encoding)
    assert done.row == 3


def test_a_row_is_added_after_a_last_line_that_does_not_end(tmp_path: Path) -> None:
    path = written(tmp_path, "inspections.csv", b"lot,on\nG1,2026-11-20")
    append_row(path, {"lot": "G2", "on": "2026-11-30"})
    assert path.read_bytes() == b"lot,on\nG1,2026-11-20\nG2,2026-11-30\n"


def test_a_table_that_is_not_there_is_begun_with_its_header(tmp_path: Path) -> None:
    done = append_row(
        tmp_path / "arrivals.csv", {"parcel": "P1", "line": "1"}, header=("parcel", "line", "note")
    )
    assert (tmp_path / "arrivals.csv").read_bytes() == "\ufeffparcel,line,note\r\nP1,1,\r\n".encode()
    assert (done.row, done.copy) == (2, None)


def test_numbers_in_a_file_with_semicolons_get_its_decimal_comma(tmp_path: Path) -> None:
    path = written(tmp_path, "inspections.csv", b"lot;on;kept_at_c;note\n")
    append_row(path, {"lot": "G1", "on": "2026-11-30", "kept_at_c": "23.5", "note": "at 23.5"})
    assert path.read_bytes() == b"lot;on;kept_at_c;note\nG1;2026-11-30;23,5;at 23.5\n"


def test_text_that_a_spreadsheet_would_work_out_is_guarded(tmp_path: Path) -> None:
    path = written(tmp_path, "inspections.csv", b"lot,on,note\n")
    append_row(path, {"lot": "G1", "on": "2026-11-30", "note": "=1+1"})
    assert path.read_bytes().endswith(b"G1,2026-11-30,'=1+1\n")


@pytest.mark.parametrize("row", [1, 2, 4, 5, 7])
def test_a_header_a_blank_row_and_a_comment_are_no_rows_to_change(tmp_path: Path, row: int) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    with pytest.raises(ShelfProblems, match="is no row of the table"):
        change_row(path, row, {"checked_on": "2026-11-30"})
    assert path.read_bytes() == RULES.encode()


def test_a_row_that_says_something_else_by_now_is_not_changed(tmp_path: Path) -> None:
    path = written(tmp_path, "rules.csv", RULES.encode())
    with pytest.raises(ShelfProblems, match="says 'SE' and no longer 'NO'"):
        change_row(path, 6, {"checked_on": "2026-11-30"}, was={"to": "NO"})
    assert path.read_bytes() == RULES.encode()


def test_a_column_is_not_added_where_a_row_has_more_cells_than_the_header(tmp_path: Path) -> None:
    """What stands beyond the header would be taken for it."""
    path = written(tmp_path, "inspections.csv", b"lot,on\nG1,2026-11-20,what is this\n")
    with pytest.raises(ShelfProblems, match="has no column alive"):
        append_row(path, {"lot": "G1", "on": "2026-11-30", "alive": "60"})


def test_a_column_that_is_not_there_is_named_with_the_nearest(tmp_path: Path) -> None:
    path = written(tmp_path, "inspections.csv", b"lot,on,notes\n")
    with pytest.raises(ShelfProblems, match=r"has no column note\. Did you mean 'notes'\?"):
        append_row(path, {"lot": "G1", "on": "2026-11-30", "note": "x"})


def test_a_workbook_is_never_written_to_and_says_what_to_type(tmp_path: Path) -> None:
    written(tmp_path, "shelf.xlsx", b"PK")
    cells = {"lot": "G1", "on": "2026-11-30", "note": ""}
    for call in (
        lambda: append_row(tmp_path / "inspections.csv", cells, header=("lot", "on")),
        lambda: change_row(tmp_path / "inspections.csv", 2, cells),
        lambda: refuse_a_workbook(tmp_path, "inspections", cells),
    ):
        with pytest.raises(
            ShelfProblems, match=r"Type into .*its sheet inspections.*: lot G1, on 2026-11-30\."
        ):
            call()
    assert [path.name for path in tmp_path.iterdir()] == ["shelf.xlsx"]


def test_a_table_open_in_a_spreadsheet_is_not_written_to(tmp_path: Path) -> None:
    path = written(tmp_path, "inspections.csv", b"lot,on\n")
    written(tmp_path, ".~lock.inspections.csv#", b"")
    with pytest.raises(ShelfProblems, match="is open in a spreadsheet"):
        append_row(path, {"lot": "G1", "on": "2026-11-30"})


def test_a_crash_before_the_last_step_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path, "inspections.csv", b"lot,on\nG1,2026-11-20\n")

    def power_cut(source: object, target: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "replace", power_cut)
    with pytest.raises(ShelfProblems, match="it is as it was"):
        append_row(path, {"lot": "G1", "on": "2026-11-30"})
    assert path.read_bytes() == b"lot,on\nG1,2026-11-20\n"
    monkeypatch.undo()
    append_row(path, {"lot": "G1", "on": "2026-11-30"})
    assert path.read_bytes() == b"lot,on\nG1,2026-11-20\nG1,2026-11-30\n"


def test_the_last_copies_are_kept_and_no_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(row_writer, "KEEP_COPIES", 3)
    path = written(tmp_path, "inspections.csv", b"lot,on\n")
    for day in range(10, 17):
        append_row(path, {"lot": "G1", "on": f"2026-11-{day}"})
    copies = sorted(one.name for one in (tmp_path / "table-copies").iterdir())
    assert copies == ["inspections-000005.csv", "inspections-000006.csv", "inspections-000007.csv"]
    assert (tmp_path / "table-copies" / copies[-1]).read_bytes().count(b"G1") == 6


@given(
    values=st.lists(
        st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=8),
        min_size=2,
        max_size=5,
    ),
    separator=st.sampled_from([",", ";", "\t"]),
)
def test_what_is_written_is_what_is_read(values: list[str], separator: str) -> None:
    header = separator.join(f"c{place}" for place in range(len(values)))
    text = header + "\n" + separator.join(raw_of(value, separator) for value in values) + "\n"
    rows = [[str(cell) for cell in cells] for _, cells in sheet_from_text(text, "x.csv").rows]
    form = csv_form(text.encode(), "x.csv")
    record = form.records[-1]
    mine = [value_of(form.text[start:end]) for start, end in record.cells]
    if any(value.strip() for value in values):
        assert rows[1] == mine
        assert mine == [defused(value, separator) for value in values]


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("=1+1", "'=1+1"),
        ("-1+HYPERLINK(0)", "'-1+HYPERLINK(0)"),
        ("+1+1", "'+1+1"),
        ("@SUM(1)", "'@SUM(1)"),
        (" =1+1", "' =1+1"),
        ("x;=1+1", "x;'=1+1"),
        ("x,=1+1", '"x,\'=1+1"'),
        ("+45 20 30 40 50", "+45 20 30 40 50"),
        ("+4520304050", "+4520304050"),
        ("-5", "-5"),
        ("-5.5", "-5.5"),
        ("two, -three", '"two,\' -three"'),
        ("a=b", "a=b"),
    ],
)
def test_no_spreadsheet_runs_what_was_typed_and_numbers_stay(typed: str, written: str) -> None:
    assert raw_of(typed, ",") == written


def test_a_day_is_written_as_the_column_writes_days(tmp_path: Path) -> None:
    written(tmp_path, "shelf.toml", SETTINGS.encode())
    path = written(tmp_path, "lots.csv", b"lot;laid_from;counted_on\r\nA;5/10/2026;\r\n")
    append_row(path, {"lot": "B", "laid_from": "2026-11-02", "counted_on": "2026-12-04"})
    change_row(path, 2, {"counted_on": "2026-11-21"})
    assert path.read_bytes().split(b"\r\n")[1:3] == [b"A;5/10/2026;21/11/2026", b"B;2/11/2026;4/12/2026"]


SETTINGS = """
[home]
country = "PT"
[sender]
name = "Casa"
address = ["Rua 1", "3000-123 Coimbra"]
[reading]
dates = "day first"
"""


@pytest.mark.parametrize("is_there", [True, False])
def test_what_another_program_wrote_meanwhile_is_not_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_there: bool
) -> None:
    path, theirs = tmp_path / "rules.csv", RULES.replace("one; two", "theirs").encode()
    if is_there:
        path.write_bytes(RULES.encode())
    write = row_writer._write_to_the_disk

    def write_and_be_beaten(beside: Path, data: bytes) -> None:
        write(beside, data)
        path.write_bytes(theirs)

    monkeypatch.setattr(row_writer, "_write_to_the_disk", write_and_be_beaten)
    with pytest.raises(ShelfProblems, match="was changed by another program just now; nothing was written"):
        append_row(path, {"to": "FI", "verdict": "open"}, ("to", "verdict"))
    assert path.read_bytes() == theirs
    assert not list(tmp_path.glob(".*.new"))
