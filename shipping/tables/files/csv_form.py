"""The bytes of a CSV file in, its form out: encoding, separator, line ends and where every cell stands; rows
in, the bytes of a new one out.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from shipping.tables.files.csv_reader import is_comment, separator_of, text_of, without_separator_line
from shipping.tables.files.sheet import cleaned, unreadable

_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_LINE_END = re.compile(r"\r\n|\r|\n")
_WOULD_RUN = re.compile(r" *[=+\-@]")
_SIGNED_NUMBER = re.compile(r" *[+-][0-9 ]+(?:[.,][0-9]+)? *")
_QUOTED = re.compile(r' *"(?:[^"]|"")*+"')


@dataclass(frozen=True, slots=True)
class Record:
    """One row as it stands in the text: its number as the spreadsheet shows it, where its cells are, where it
    ends.

    ``cells`` are (start, end) in the text, quotes included; ``end`` is before the line end, ``next`` after
    it. Comments have no cells.
    """

    number: int
    cells: tuple[tuple[int, int], ...]
    end: int
    next: int


@dataclass(frozen=True)
class CsvForm:
    """A CSV file as it is written. ``header`` is the record of the header, ``names`` its cells, cleaned."""

    text: str
    mark: bytes
    encoding: str
    separator: str
    line_end: str
    records: tuple[Record, ...]
    header: Record
    names: tuple[str, ...]

    def bytes_with(self, text: str) -> bytes:
        """Another text in the same encoding, with the same mark."""
        return self.mark + text.encode(self.encoding)

    def is_blank(self, record: Record) -> bool:
        return not any(value_of(self.text[start:end]).strip() for start, end in record.cells)


def csv_form(data: bytes, file: str) -> CsvForm:
    """The form of a CSV file that has a header. Raises Unreadable if it is not UTF-8 or marked UTF-16, has no
    header, or its quotes do not close.
    """
    text = text_of(data, file)
    mark, encoding = next(((mark, name) for mark, name in _MARKS if data.startswith(mark)), (b"", "utf-8"))
    separator = separator_of(without_separator_line(text))
    records = tuple(_records(text, separator, file))
    line_end = next((end[0] for record in records if (end := _LINE_END.match(text, record.end))), "\n")
    for record in records:
        cells = tuple(value_of(text[start:end]) for start, end in record.cells)
        if any(cell.strip() for cell in cells):
            names = tuple(cleaned(cell, keep_breaks=False)[0].casefold() for cell in cells)
            return CsvForm(text, mark, encoding, separator, line_end, records, record, names)
    raise unreadable(file, 0, "no-header", "has no header.", "Write its header in the first row.")


def value_of(raw: str) -> str:
    """What a cell as it stands in the text says."""
    bare = raw.lstrip(" ")
    is_quoted = len(bare) > 1 and bare.startswith('"') and bare.endswith('"')
    return bare[1:-1].replace('""', '"') if is_quoted else bare


def raw_of(value: str, separator: str) -> str:
    """A value as it stands in the text: quoted where it must be, and never taken for a formula."""
    value = defused(value, separator)
    if separator in value or re.search(r'["\r\n]', value) or value != value.strip() or value.startswith("#"):
        return '"' + value.replace('"', '""') + '"'
    return value


def defused(value: str, separator: str) -> str:
    """The value with ``'`` before what a spreadsheet would run: at its beginning, or where a spreadsheet that
    parts cells at another mark would begin a cell. Signed numbers and telephone numbers stay as they are.
    """
    if value.startswith("\t"):
        return f"'{value}"
    parts = re.split(f"([{re.escape(separator)};\t\r\n])", value)
    return "".join(
        f"'{part}" if _WOULD_RUN.match(part) and not _SIGNED_NUMBER.fullmatch(part) else part
        for part in parts
    )


def csv_of(rows: Sequence[Sequence[object]]) -> bytes:
    """Rows as a CSV file's bytes for a spreadsheet: UTF-8 with mark, and nothing in it runs."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    for cells in rows:
        writer.writerow([defused(_plain_text(cell), ",") for cell in cells])
    return out.getvalue().encode("utf-8-sig")


def _plain_text(cell: object) -> str:
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return repr(int(cell)) if cell.is_integer() else repr(cell)
    return "" if cell is None else str(cell)


def _records(text: str, separator: str, file: str) -> Iterator[Record]:
    """Every row, blank ones and comments too, numbered as the reader numbers them."""
    plain = re.compile(f"[^{separator}\r\n]*")
    number = 0
    place = len(text) - len(without_separator_line(text))
    if place:
        yield Record(0, (), place, place)
    while place < len(text):
        number += 1
        line = _LINE_END.search(text, place)
        if is_comment(text[place : line.end() if line else len(text)]):
            yield Record(number, (), line.start() if line else len(text), line.end() if line else len(text))
            place = line.end() if line else len(text)
            continue
        cells: list[tuple[int, int]] = []
        while True:
            cell = _QUOTED.match(text, place) or plain.match(text, place)
            assert cell is not None
            cells.append(cell.span())
            place = cell.end()
            if text.startswith(separator, place):
                place += len(separator)
                continue
            break
        end = _LINE_END.match(text, place)
        if end is None and place < len(text):
            wrong = 'a quote (") is not closed as it should be.'
            raise unreadable(file, number, "quotes", wrong, "Close it, or remove it.")
        yield Record(number, tuple(cells), place, end.end() if end else place)
        place = end.end() if end else place
