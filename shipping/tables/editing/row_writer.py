"""Rows for a CSV table of the breeder's in, the same file with them added or changed out, a copy first.

All else stays as it stands, byte for byte: encoding and mark, separator, line ends, comments, quotes, other
cells. What a row should say is left to the callers; a workbook is never written to.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import threading
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from shipping.tables.files.csv_file import (
    CsvForm,
    Record,
    bytes_of,
    csv_form,
    raw_of,
    sheet_from_text,
    value_of,
)
from shipping.tables.files.find_sheets import WORKBOOKS
from shipping.tables.files.settings_reader import read_settings
from shipping.tables.files.sheet import cleaned
from shipping.tables.files.whole_file import force_names_to_disk, not_written
from shipping.tables.row_reader import what_to_write
from shipping.tables.shelf import TABLE_BY_NAME
from shipping.tables.spelling import did_you_mean, nearest
from shipping.tables.typed_days import ISO_DAY, day_written_like, days_at
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import say

#: Beside the tables; each table keeps its last `KEEP_COPIES` there.
COPIES_FOLDER = "table-copies"
KEEP_COPIES = 20
_one_at_a_time = threading.RLock()


@dataclass(frozen=True, slots=True)
class WrittenRow:
    """What was done: the file, the row as the spreadsheet shows it, and the copy of the file before."""

    path: Path
    row: int
    copy: Path | None


def append_row(path: Path, cells: Mapping[str, str], header: Sequence[str] = ()) -> WrittenRow:
    """As `append_rows`, for one row."""
    return append_rows(path, (cells,), header)


def append_rows(path: Path, rows: Sequence[Mapping[str, str]], header: Sequence[str] = ()) -> WrittenRow:
    """The file with rows more at its end, one or several, in one step; blank cells of columns that it lacks
    are let go, and where one is filled the header gets the column at its end. The row that is given back is
    the first new one.

    Where there is no such file it is begun with ``header``, as UTF-8 with mark; without ``header`` that is a
    problem. Raises ShelfProblems if the table is a sheet of a workbook, is open in a spreadsheet, lacks a
    column, or cannot be read or written.
    """
    with _one_at_a_time:
        if not path.exists() and header:
            _refuse_beside_a_workbook(path, rows[0])
            new = "\ufeff" + ",".join(raw_of(name, ",") for name in header) + "\r\n"
            form = csv_form(new.encode("utf-8"), path.name)
            data = None
        else:
            data, form = _opened(path, rows[0])
            form = _wide_enough(form, path, rows)
        text = form.text
        if text and not text.endswith(("\n", "\r")):
            text += form.line_end
        first = form.records[-1].number + 1
        rows = _with_days_as_there(form, path, rows)
        text += "".join(_new_row(form, path, cells) for cells in rows)
        return _written(path, form, text, range(first, first + len(rows)), data)


def column_names(path: Path) -> tuple[str, ...]:
    """The names in the header of a table that may be written to. Raises ShelfProblems as `append_rows`."""
    return _opened(path, {})[1].names


def change_row(
    path: Path, row_number: int, cells: Mapping[str, str], was: Mapping[str, str] | None = None
) -> WrittenRow:
    """As `change_rows`, for one row."""
    return change_rows(path, {row_number: cells}, was)


def change_rows(
    path: Path, changes: Mapping[int, Mapping[str, str]], was: Mapping[str, str] | None = None
) -> WrittenRow:
    """The file with some cells of one row or several changed in one step, by the numbers of their rows as the
    spreadsheet shows them (the header is mostly 1); the first of them is given back.

    ``was``: what cells of each row must still say, so that a row that has moved is not taken for another.
    Raises ShelfProblems as `append_rows`, or if there is no such row, or it no longer says what it did.
    """
    first = min(changes)
    with _one_at_a_time:
        data, form = _opened(path, changes[first], first)
        before = form = _wide_enough(form, path, changes.values())
        written = _with_days_as_there(form, path, changes.values())
        for number, cells in zip(changes, written, strict=True):
            record = _record_of(form, path, number)
            for column, value in (was or {}).items():
                if (said := _cell_of(form, record, column)) != value:
                    text = say("says '{cell}' and no longer '{value}'; nothing was changed.", said, value)
                    raise _refused(path, number, "changed", text, "Look at the row, then try again.", column)
            form = csv_form(form.bytes_with(_with_cells(form, path, record, cells)), path.name)
        return _written(path, before, form.text, sorted(changes), data)


def _record_of(form: CsvForm, path: Path, number: int) -> Record:
    """The row of that number below the header, which holds something."""
    for record in form.records:
        if record.number == number > form.header.number and record.cells and not form.is_blank(record):
            return record
    mend = "Read the table again and name another row."
    raise _refused(path, number, "no-row", "is no row of the table.", mend)


def take_row_back(path: Path, row_number: int, was: Mapping[str, str]) -> WrittenRow:
    """The file with one row made a comment; all others keep their numbers. Raises as `change_row`."""
    return take_rows_back(path, {row_number: was})


def take_rows_back(path: Path, rows: Mapping[int, Mapping[str, str]]) -> WrittenRow:
    """The same for rows by their number, with what each still has to say: all of them or none."""
    with _one_at_a_time:
        data, form = _opened(path, {}, min(rows))
        text = form.text
        for number in sorted(rows, reverse=True):
            record = _record_of(form, path, number)
            for column, value in rows[number].items():
                if _cell_of(form, record, column) != value:
                    why = say("no longer says '{value}'; nothing was changed.", value)
                    raise _refused(path, number, "changed", why, "Look at the row, then try again.", column)
            cells = [(name, _cell_of(form, record, name)) for name in form.names if name]
            told = " | ".join(f"{name} {value}" for name, value in cells if value)
            comment = "# taken back: " + " ".join(told.split())
            text = text[: record.cells[0][0]] + comment + text[record.end :]
        return _written(path, form, text, sorted(rows), data, is_gone=True)


def refuse_a_workbook(folder: Path, table: str, cells: Mapping[str, str]) -> None:
    """Nothing for a CSV file, or none. Raises ShelfProblems for a sheet of a workbook: what to type there."""
    path = folder / f"{table}.csv"
    if not path.exists():
        _refuse_beside_a_workbook(path, cells)


def _refuse_beside_a_workbook(path: Path, cells: Mapping[str, str], row: int = 0) -> None:
    book = next((name for name in WORKBOOKS if (path.parent / name).exists()), None)
    if book:
        typed = ", ".join(f"{column} {value}" for column, value in cells.items() if value)
        text = say("{book} is a workbook, which is never written to.", book)
        where = say("a new row of its sheet {table}:", path.stem)
        if row:
            where = say("its sheet {table}, row {row}:", path.stem, row)
        mend = say("Type into {where} {typed}.", where, typed)
        raise _refused(path.parent / book, row, "workbook", text, mend)


def _opened(path: Path, cells: Mapping[str, str], row: int = 0) -> tuple[bytes, CsvForm]:
    """The file's bytes and form, if it may be written to."""
    if not path.exists():
        _refuse_beside_a_workbook(path, cells, row)
        raise _refused(path, 0, "no-table", "is missing.", "Write it with its header first.")
    lock = path.with_name(f".~lock.{path.name}#")
    if lock.exists():
        text = "is open in a spreadsheet, which would write over the change."
        mend = say("Close it there; if it is closed, remove {name}.", lock.name)
        raise _refused(path, 0, "cannot-open", text, mend)
    data = bytes_of(path, path.name)
    return data, csv_form(data, path.name)


def _wide_enough(form: CsvForm, path: Path, rows: Iterable[Mapping[str, str]]) -> CsvForm:
    """The form with the columns of the table at its header's end that filled cells need and it lacks.

    None is added where the header has a name like it that is no column, which it may be meant for, or where a
    row has more cells than the header.
    """
    table = TABLE_BY_NAME.get(path.stem)
    columns = table.columns if table else ()
    strange = [name for name in form.names if name and name not in columns]
    filled = dict.fromkeys(column for cells in rows for column, value in cells.items() if value)
    lacking = [column for column in filled if column in columns and column not in form.names]
    lacking = [column for column in lacking if nearest(column, strange) is None]
    if not lacking or any(len(record.cells) > len(form.names) for record in form.records):
        return form
    end = form.header.end
    wider = form.text[:end] + "".join(form.separator + column for column in lacking) + form.text[end:]
    return csv_form(form.bytes_with(wider), path.name)


def _new_row(form: CsvForm, path: Path, cells: Mapping[str, str]) -> str:
    row = [""] * len(form.names)
    for place, raw in _raw_cells(form, path, cells):
        row[place] = raw
    if row[0] == "" and len(row) == 1:
        row[0] = '""'
    return form.separator.join(row) + form.line_end


def _with_cells(form: CsvForm, path: Path, record: Record, cells: Mapping[str, str]) -> str:
    """The whole text with some cells of a record in place of what stood there."""
    text = form.text
    late_first = sorted(_raw_cells(form, path, cells), reverse=True)
    missing = [(place, raw) for place, raw in late_first if place >= len(record.cells)]
    if missing:
        more = [""] * (missing[0][0] + 1 - len(record.cells))
        for place, raw in missing:
            more[place - len(record.cells)] = raw
        text = text[: record.end] + form.separator + form.separator.join(more) + text[record.end :]
    for place, raw in late_first:
        if place < len(record.cells):
            start, end = record.cells[place]
            text = text[:start] + raw + text[end:]
    return text


def _raw_cells(form: CsvForm, path: Path, cells: Mapping[str, str]) -> list[tuple[int, str]]:
    """Where each cell goes and how it is written there."""
    table = TABLE_BY_NAME.get(path.stem)
    placed: list[tuple[int, str]] = []
    for column, value in cells.items():
        if column.casefold() not in form.names:
            if not value:
                continue
            text = say("the header has no column {column}.", column)
            add = say("Add the column {column} to it.", column)
            mend = did_you_mean(column, [name for name in form.names if name], add)
            raise _refused(path, form.header.number, "no-column", text, mend, column)
        if form.separator == ";" and table and column in table.numbers:
            value = value.replace(".", ",")
        placed.append((form.names.index(column.casefold()), raw_of(value, form.separator)))
    return placed


def _with_days_as_there(
    form: CsvForm, path: Path, rows: Iterable[Mapping[str, str]]
) -> list[Mapping[str, str]]:
    """The rows with each day as its column writes days, or its table, or as the settings say."""
    every, table = list(rows), TABLE_BY_NAME.get(path.stem)
    of_days = table.days.intersection(*([frozenset().union(*every)] if every else ())) if table else ()
    settings, _ = read_settings(path.parent) if of_days else (None, ())
    if table is None or settings is None or settings.reading.dates is None:
        return every
    dates, (_, mark) = settings.reading.dates, days_at(settings.home.country)
    there = [record for record in form.records if record.cells and record.number > form.header.number]
    days = {name: [_cell_of(form, record, name) for record in there] for name in table.days}
    all_days = [cell for cells in days.values() for cell in cells]
    return [
        {
            name: day_written_like(date.fromisoformat(value), days[name], all_days, dates, mark)
            if name in of_days and ISO_DAY.fullmatch(value)
            else value
            for name, value in cells.items()
        }
        for cells in every
    ]


def _cell_of(form: CsvForm, record: Record, column: str) -> str:
    place = form.names.index(column.casefold()) if column.casefold() in form.names else len(record.cells)
    if place >= len(record.cells):
        return ""
    start, end = record.cells[place]
    return cleaned(value_of(form.text[start:end]), keep_breaks=True)[0]


def _written(
    path: Path, form: CsvForm, text: str, rows: Sequence[int], before: bytes | None, is_gone: bool = False
) -> WrittenRow:
    """Puts the text in the place of the file in one step, a copy of the file as it was beside it."""
    _surely_no_other_differs(path, form, text, rows, is_gone)
    try:
        target = path.resolve()
        copy = copied(path, before) if before is not None else None
        for old in _copies(path)[:-KEEP_COPIES] if copy else ():
            old.unlink(missing_ok=True)
        beside = target.with_name(f".{target.name}.new")
        _write_to_the_disk(beside, form.bytes_with(text))
        if before is not None:
            shutil.copymode(target, beside)
        if (target.read_bytes() if target.exists() else None) != before:
            beside.unlink()
            changed = "was changed by another program just now; nothing was written."
            raise _refused(path, 0, "changed", changed, "Try again.")
        os.replace(beside, target)
        with contextlib.suppress(OSError):
            force_names_to_disk(target.parent)
    except OSError as error:
        raise not_written(path, error) from None
    return WrittenRow(path, rows[0], copy)


def _surely_no_other_differs(
    path: Path, form: CsvForm, text: str, rows: Sequence[int], is_gone: bool
) -> None:
    """Reads both texts as the program will: every other row is the same, and these are there (or gone)."""
    before = dict(sheet_from_text(form.text, path.name).rows)
    before = {number: cells for number, cells in before.items() if number not in rows}
    after = dict(sheet_from_text(text, path.name).rows)
    others = {number: cells for number, cells in after.items() if number not in rows}
    if not is_gone:
        _refuse_blank_rows(path, form, text, [row for row in rows if row not in after])
    if any((row not in after) != is_gone for row in rows) or others != before:
        raise RuntimeError(f"writing row {rows[0]} of {path.name} would have changed other rows")


def _refuse_blank_rows(path: Path, form: CsvForm, text: str, unread: Sequence[int]) -> None:
    """Raises ShelfProblems with what to type, where a row that would not be read has nothing in it."""
    new = csv_form(form.bytes_with(text), path.name) if unread else form
    for record in new.records if unread else ():
        cells = (cleaned(value_of(text[start:end]), keep_breaks=True)[0] for start, end in record.cells)
        if record.number in unread and not any(cells):
            table, where = TABLE_BY_NAME[path.stem], Where(path.name, record.number)
            raise ShelfProblems(
                tuple(
                    Problem(where, column, "blank", "is blank.", what_to_write(table.kinds[column]))
                    for column in table.required_columns
                )
            )


def copied(path: Path, data: bytes) -> Path:
    """A copy of what the file held, in `COPIES_FOLDER` beside it, numbered upwards."""
    earlier = _copies(path)
    number = int(earlier[-1].stem.rpartition("-")[2]) + 1 if earlier else 1
    copy = path.parent / COPIES_FOLDER / f"{path.stem}-{number:06d}{path.suffix}"
    copy.parent.mkdir(exist_ok=True)
    _write_to_the_disk(copy, data)
    return copy


def _copies(path: Path) -> list[Path]:
    """The copies of a file, oldest first."""
    return sorted((path.parent / COPIES_FOLDER).glob(f"{path.stem}-{'[0-9]' * 6}{path.suffix}"))


def _write_to_the_disk(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _refused(path: Path, row: int, code: str, text: str, mend: str, column: str = "") -> ShelfProblems:
    return ShelfProblems((Problem(Where(path.name, row), column, code, text, mend),))
