"""What must hold whatever a file holds: nothing is raised, messages are one clean line, and no row disappears
without a word.

Each target takes any bytes; `TARGETS` are what the fuzzing driver and the property tests feed.
"""

from __future__ import annotations

import csv
import functools
import io
import re
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from shipping.tables.files.csv_file import CsvForm, Record, csv_form, sheet_from_text, text_of, value_of
from shipping.tables.files.settings_reader import settings_from_text
from shipping.tables.files.sheet import Unreadable
from shipping.tables.files.workbook import sheets_of_book
from shipping.tables.mapped_orders.mapping import MAP_FILE
from shipping.tables.reader import Reading, read_shelf
from shipping.tables.row_reader import TableRows, read_rows
from shipping.tables.rows.orders import FillFromFirstRow
from shipping.tables.shelf import TABLE_BY_NAME, TABLES, Table
from shipping.words.problems import Level, Problem
from tests.tables.mistakes import mistakes, shelf_with
from tests.tables.shelves import GOOD, TODAY

ODD_CELLS = (
    "",
    "0",
    "-1",
    "2.5",
    "1e999",
    "nan",
    "1,5",
    "1.234",
    "2026-11-20",
    "20.11.2026",
    "9999-12-31",
    "DK",
    "*",
    "yes",
    "water",
    "eyed",
    "gardneri",
    "G1",
    "A1",
    "letter",
    "tube",
    "#REF!",
    "#NV",
    "# no",
    "=1+1",
    "'=x",
    "'",
    '"',
    '""',
    "a;b",
    "a\tb",
    "../x",
    "A" * 300,
    "\u202e",
    "\u200b",
    "Mon-Fri",
    "a\nb",
    "\r",
    "\x1b[31m",
    "007",
    "NA",
    "\xa0",
    "é",
    "e\u0301",
    "\ud7ff",
    "😀",
)
_UNCLEAN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


@dataclass
class Draws:
    """Choices taken from bytes, one after the other; zeros once they have run out."""

    data: bytes
    place: int = 0

    def below(self, most: int) -> int:
        """A number from 0 to ``most`` - 1."""
        width = 1 if most <= 256 else 2
        taken = self.data[self.place : self.place + width]
        self.place += width
        return int.from_bytes(taken, "big") % most

    def one_of(self, choices: Sequence[str]) -> str:
        return choices[self.below(len(choices))]

    def text(self) -> str:
        """One of the odd cells, or text of the bytes themselves."""
        kind = self.below(8)
        if kind:
            return self.one_of(ODD_CELLS)
        length = self.below(12)
        taken = self.data[self.place : self.place + length]
        self.place += length
        return taken.decode("utf-8", errors="replace")

    def rest(self) -> bytes:
        return self.data[self.place :]


def table_of(draws: Draws) -> Table:
    return TABLES[draws.below(len(TABLES))]


def grid_of(draws: Draws, table: Table) -> list[list[str]]:
    """A header with the required columns and some others, and rows of odd cells."""
    more = [draws.one_of((*table.columns, "_own")) for _ in range(draws.below(4))]
    columns = list(dict.fromkeys([*table.required_columns, *more]))
    return [columns, *([draws.text() for _ in columns] for _ in range(draws.below(6)))]


def messages_are_clean(problems: Sequence[Problem]) -> None:
    for problem in problems:
        said = str(problem)
        assert not _UNCLEAN.search(said), repr(said)
        assert len(said) < 2_500, said
        assert problem.code
        assert problem.text


def every_row_is_told(read: TableRows, given: set[int]) -> None:
    """Each row is accepted, or reported, or named by a message (it waits for a row above, or its cells are
    parted otherwise than the header's), and only one of these; of a sheet that was not read to its end, or
    whose header is wrong, an error says why.
    """
    accepted = {row.at.row for row in read.rows}
    reported = {problem.where.row for problem in read.problems if problem.level is Level.ERROR}
    messages_are_clean(read.problems)
    named = {
        code: {
            int(row)
            for problem in read.problems
            if problem.code == code
            for row in re.findall("[0-9]+", problem.text)
        }
        for code in ("waits", "skipped-rows")
    }
    waiting = named["waits"] | (named["skipped-rows"] & given)
    parted = "".join(problem.text for problem in read.problems if problem.code == "separators")
    more = re.search(" and ([0-9]+) more", parted)  # rows that a message names only by how many they are
    named_there = {int(row) for row in re.findall("[0-9]+", parted[: more.start()] if more else parted)}
    of_a_header = {"no-column", "unknown-column", "column-twice", "no-header"}
    of_the_header = of_a_header & {one.code for one in read.problems}
    if read.complete:
        told = accepted | (reported & given) | waiting | (named_there & given)
        untold = int(more[1]) if more else 0
        is_told = told <= given and len(given - told) == untold
        assert of_the_header or is_told, (accepted, reported, waiting, given, read.problems)
        assert not accepted & named_there
        assert not accepted & reported
        assert not waiting & (accepted | reported)
    else:
        assert any(problem.level is Level.ERROR for problem in read.problems)


def csv_bytes(data: bytes) -> None:
    """Any bytes as a table; what rows there are is found out a second way."""
    draws = Draws(data)
    table = table_of(draws)
    every_row_of_csv_is_told(table, draws.rest())


def csv_behind_a_header(data: bytes) -> None:
    """Any bytes behind the header that the table wants."""
    draws = Draws(data)
    table = table_of(draws)
    separator = draws.one_of((",", ";", "\t"))
    every_row_of_csv_is_told(table, separator.join(table.required_columns).encode() + b"\n" + draws.rest())


def csv_cells(data: bytes) -> None:
    """Odd cells in a table that is well formed."""
    draws = Draws(data)
    table = table_of(draws)
    out = io.StringIO(newline="")
    form = csv.writer(
        out,
        delimiter=draws.one_of((",", ";", "\t")),
        quoting=csv.QUOTE_ALL,
        lineterminator=draws.one_of(("\n", "\r\n", "\r")),
    )
    form.writerows(grid_of(draws, table))
    encoding = draws.one_of(("utf-8", "utf-8-sig", "utf-16"))
    every_row_of_csv_is_told(table, out.getvalue().encode(encoding, errors="replace"))


def every_row_of_csv_is_told(table: Table, data: bytes) -> None:
    """The rows of these bytes as a table, found a second way."""
    file = f"{table.name}.csv"
    try:
        text = text_of(data, file)
    except Unreadable as broken:
        messages_are_clean([broken.problem])
        return
    read = read_rows(table, sheet_from_text(text, file), _fill(table))
    try:
        form = csv_form(data, file)
    except Unreadable:
        assert not read.complete
        return
    below = (one for one in form.records if one.number > form.header.number and not form.is_blank(one))
    every_row_is_told(read, {one.number for one in below if not _is_a_hint(form, one)})


def _is_a_hint(form: CsvForm, record: Record) -> bool:
    """Is it one of our own hints, quoted by a spreadsheet: ``# ..`` in the first cell and nothing beside?"""
    first, *others = (value_of(form.text[start:end]) for start, end in record.cells)
    return first.lstrip().startswith("# ") and not any(other.strip() for other in others)


def _fill(table: Table) -> FillFromFirstRow | None:
    """What fills later rows of an order, as the reader of a shelf does."""
    return FillFromFirstRow() if table.name == "orders" else None


def xlsx_bytes(sheet: str) -> bytes:
    """A workbook of one sheet, ``table``, with that XML inside its ``sheetData``."""
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    rels = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    office = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    parts = {
        "[Content_Types].xml": (
            f'<Types xmlns="{package}/content-types"><Default Extension="rels"'
            ' ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override'
            f' PartName="/xl/workbook.xml" ContentType="{office}.sheet.main+xml"/><Override'
            f' PartName="/xl/worksheets/sheet1.xml" ContentType="{office}.worksheet+xml"/></Types>'
        ),
        "_rels/.rels": (
            f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
            f'Type="{rels}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
        ),
        "xl/workbook.xml": (
            f'<workbook xmlns="{main}" xmlns:r="{rels}"><sheets><sheet name="table" sheetId="1" r:id="r1"/>'
            "</sheets></workbook>"
        ),
        "xl/_rels/workbook.xml.rels": (
            f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" '
            f'Type="{rels}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>'
        ),
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{main}"><sheetData>{sheet}</sheetData></worksheet>',
    }
    return _zipped(parts)


def ods_bytes(rows: str) -> bytes:
    """A workbook of one sheet, ``table``, with that XML inside its ``table:table``."""
    office, table, text = (
        f"urn:oasis:names:tc:opendocument:xmlns:{name}:1.0" for name in ("office", "table", "text")
    )
    content = (
        f'<office:document-content xmlns:office="{office}" xmlns:table="{table}" xmlns:text="{text}" '
        'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"><office:body>'
        "<office:spreadsheet><table:table"
        f' table:name="table">{rows}</table:table></office:spreadsheet></office:body>'
        "</office:document-content>"
    )
    return _zipped({"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": content})


def _zipped(parts: Mapping[str, str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content.encode("utf-8", errors="replace"))
    return out.getvalue()


_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _xml_text(draws: Draws) -> str:
    return _NOT_XML.sub("", draws.text())


def _xlsx_cell(draws: Draws) -> tuple[str, bool]:
    """The XML of one cell, and whether it surely holds something."""
    kind = draws.below(8)
    if kind == 1:
        return f"<c><v>{draws.below(60_000)}</v></c>", True
    if kind == 2:
        return f'<c t="b"><v>{draws.below(2)}</v></c>', True
    if kind == 3:
        return f'<c t="e"><v>{draws.one_of(("#REF!", "#DIV/0!", "#N/A"))}</v></c>', True
    if kind == 4:
        return "<c><f>1+1</f></c>", True
    if kind == 5:
        return f"<c><v>{draws.below(60_000) / 7}</v></c>", True
    text = _xml_text(draws)
    return f'<c t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>', bool(text.strip())


def _ods_cell(draws: Draws) -> tuple[str, bool]:
    kind = draws.below(8)
    if kind == 1:
        number = draws.below(60_000)
        return (
            (
                '<table:table-cell office:value-type="float"'
                f' office:value="{number}"><text:p>{number}</text:p></table:table-cell>'
            ),
            True,
        )
    if kind == 2:
        return (
            (
                '<table:table-cell office:value-type="boolean"'
                ' office:boolean-value="true"><text:p>TRUE</text:p></table:table-cell>'
            ),
            True,
        )
    if kind == 3:
        error = draws.one_of(("#REF!", "#DIV/0!", "Err:502"))
        shape = (
            'table:formula="of:=1/0" office:value-type="string" office:string-value=""'
            ' calcext:value-type="error"'
        )
        return f"<table:table-cell {shape}><text:p>{error}</text:p></table:table-cell>", True
    if kind == 4:
        return '<table:table-cell table:formula="of:=1+1"/>', True
    if kind == 5:
        day = draws.one_of(("2026-11-30", "2026-11-30T12:00:00"))
        return (
            (
                '<table:table-cell office:value-type="date"'
                f' office:date-value="{day}"><text:p>x</text:p></table:table-cell>'
            ),
            True,
        )
    text = _xml_text(draws)
    return (
        f'<table:table-cell office:value-type="string"><text:p>{escape(text)}</text:p></table:table-cell>',
        bool(text.strip()),
    )


def _workbook_cells(
    data: bytes,
    cell_of: Callable[[Draws], tuple[str, bool]],
    row_of: Callable[[str], str],
    header_of: Callable[[str], str],
    book_of: Callable[[str], bytes],
    file: str,
) -> None:
    """Odd cells in a workbook that is well formed; rows that surely hold something are accepted or
    reported.
    """
    draws = Draws(data)
    table = table_of(draws)
    columns = table.required_columns
    rows = [row_of("".join(header_of(column) for column in columns))]
    given: set[int] = set()
    for number in range(2, 2 + draws.below(6)):
        cells = [cell_of(draws) for _ in columns]
        rows.append(row_of("".join(xml for xml, _ in cells)))
        if any(holds for _, holds in cells):
            given.add(number)
    sheet = sheets_of_book(book_of("".join(rows)), file, {"table": table.name})["table"]
    assert not isinstance(sheet, Unreadable)
    read = read_rows(table, sheet, _fill(table))
    comments = {number for number in given if _begins_a_comment(rows[number - 1])}
    every_row_is_told(read, given - comments)


def _begins_a_comment(row: str) -> bool:
    """Is the first text of a row ``# no``, the one odd cell that makes a comment of it, or text of that
    kind?
    """
    texts = re.sub(r"<[^>]*>", "\x00", row).split("\x00")
    first = next((text.strip() for text in texts if text.strip()), "")
    return first.startswith("#") and not re.fullmatch(r"#(REF!|NV|DIV/0!|N/A)", first)


def xlsx_cells(data: bytes) -> None:
    def header(column: str) -> str:
        return f'<c t="inlineStr"><is><t>{column}</t></is></c>'

    _workbook_cells(data, _xlsx_cell, lambda cells: f"<row>{cells}</row>", header, xlsx_bytes, "shelf.xlsx")


def ods_cells(data: bytes) -> None:
    def header(column: str) -> str:
        return f'<table:table-cell office:value-type="string"><text:p>{column}</text:p></table:table-cell>'

    def row(cells: str) -> str:
        return f"<table:table-row>{cells}</table:table-row>"

    _workbook_cells(data, _ods_cell, row, header, ods_bytes, "shelf.ods")


def xlsx_markup(data: bytes) -> None:
    """Any text where the rows of a workbook stand."""
    shelf_holds(
        {"shelf.xlsx": xlsx_bytes(data.decode("utf-8", errors="replace")).replace(b'"table"', b'"learned"')}
    )


def ods_markup(data: bytes) -> None:
    shelf_holds(
        {"shelf.ods": ods_bytes(data.decode("utf-8", errors="replace")).replace(b'"table"', b'"learned"')}
    )


def settings_text(data: bytes) -> None:
    read, problems = settings_from_text(data.decode("utf-8", errors="replace"))
    assert (read is None) == bool(problems)
    messages_are_clean(problems)


def any_file(data: bytes) -> None:
    """Any bytes in the place of one file of a good shelf."""
    draws = Draws(data)
    names = (
        *(f"{table.name}.csv" for table in TABLES),
        "shelf.toml",
        "shelf.xlsx",
        "shelf.ods",
        MAP_FILE,
        "orders.seen.csv",
    )
    shelf_holds({draws.one_of(names): draws.rest()})


def good_file_with_slips(data: bytes) -> None:
    """A file of a good shelf, some of its bytes taken out and others put in."""
    draws = Draws(data)
    names = sorted(path.name for path in GOOD.iterdir())
    name = draws.one_of(names)
    text = bytearray((GOOD / name).read_bytes())
    for _ in range(1 + draws.below(3)):
        place = draws.below(len(text) + 1)
        piece = draws.text().encode("utf-8", errors="replace")
        text[place : place + draws.below(8)] = piece
    shelf_holds({name: bytes(text)})


@functools.cache
def _folder() -> tempfile.TemporaryDirectory[str]:
    """A copy of the good shelf that stays for all examples."""
    folder = tempfile.TemporaryDirectory()
    shutil.copytree(GOOD, folder.name, dirs_exist_ok=True)
    return folder


def shelf_holds(files: Mapping[str, bytes]) -> Reading:
    """A good shelf with files in its place: there is a shelf exactly if no problem is an error, and nothing
    is written.
    """
    folder = Path(_folder().name)
    try:
        for file, data in files.items():
            (folder / file).write_bytes(data)
        reading = read_shelf(folder, TODAY)
        assert {file: (folder / file).read_bytes() for file in files} == dict(files)
    finally:
        for file in files:
            (folder / file).unlink()
            if (GOOD / file).exists():
                shutil.copy(GOOD / file, folder / file)
    assert (reading.shelf is None) == any(problem.level is Level.ERROR for problem in reading.problems)
    messages_are_clean(reading.problems)
    return reading


TARGETS: tuple[Callable[[bytes], None], ...] = (
    csv_bytes,
    csv_behind_a_header,
    csv_cells,
    xlsx_cells,
    ods_cells,
    xlsx_markup,
    ods_markup,
    settings_text,
    any_file,
    good_file_with_slips,
)


def any_target(data: bytes) -> None:
    """The first byte chooses the target, the rest is for it."""
    if data:
        TARGETS[data[0] % len(TARGETS)](data[1:])


@functools.lru_cache(maxsize=1)
def first_examples() -> tuple[bytes, ...]:
    """Where to begin from: the good files and the broken ones, each behind the bytes that choose its
    target.
    """
    examples = list(_examples_of(GOOD))
    for mistake in mistakes():
        with tempfile.TemporaryDirectory() as name:
            examples += _examples_of(shelf_with(Path(name), mistake.edit))
    return tuple(dict.fromkeys(examples))


def _examples_of(shelf: Path) -> Iterator[bytes]:
    """The text files of a shelf, each behind the bytes that choose its target."""
    tables = [table.name for table in TABLES]
    for path in sorted(shelf.glob("*.csv")):
        if path.stem in TABLE_BY_NAME:
            table = bytes([tables.index(path.stem)])
            yield bytes([TARGETS.index(csv_bytes)]) + table + path.read_bytes()[:2_000]
    for path in sorted(shelf.glob("shelf.toml")):
        yield bytes([TARGETS.index(settings_text)]) + path.read_bytes()
    for path in sorted(shelf.glob(MAP_FILE)):
        yield bytes([TARGETS.index(any_file), len(TABLES) + 3]) + path.read_bytes()
