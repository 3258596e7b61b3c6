"""A CSV file's bytes in, its text, its Sheet or its form (separator, line ends, where cells stand) out; rows
in, a new one's bytes out; no encoding is ever guessed.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from shipping.tables.files import sheet
from shipping.tables.files.sheet import cleaned, unreadable
from shipping.words.problems import Answer, Problem, Where
from shipping.words.sentence import either, joined, say

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}


def is_there(path: Path) -> bool:
    """Is there anything of that name? One that may not be looked at counts, so that opening it says why."""
    try:
        return path.exists() or path.is_symlink()
    except OSError:
        return True


def bytes_of(path: Path, file: str) -> bytes:
    """The bytes of a file, at most `MOST_BYTES`. Raises Unreadable if it cannot be opened or is larger."""
    try:
        if not path.is_file() and not path.is_dir():
            mend = "Put a file of that name there, or nothing."
            raise sheet.unreadable(file, 0, "cannot-open", "is no file.", mend)
        if path.stat().st_size > sheet.MOST_BYTES:
            mend = "Move old rows to another folder."
            raise sheet.unreadable(file, 0, "too-large", "is larger than 50 MB.", mend)
        return path.read_bytes()
    except OSError as error:
        why = (error.strerror or "the system refused").lower()
        mend = "If it is open in another program, close it there; else see that you may read it."
        raise sheet.unreadable(file, 0, "cannot-open", say("cannot be opened ({why}).", why), mend) from None


class _Lines:
    """Physical lines for the csv reader; a comment between rows is a blank line and keeps its number."""

    def __init__(self, text: str, comments: bool) -> None:
        self._lines = io.StringIO(text, newline="")
        self._comments = comments
        self.a_row_begins = True
        self.comment = ""

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        line = next(self._lines)
        self.comment = ""
        if self.a_row_begins and self._comments and "#" in line and is_comment(line):
            self.comment = line
            return "\n"
        self.a_row_begins = False
        return line


def is_comment(line: str) -> bool:
    """Does a line (or first cell) begin with ``#``, and not with a spreadsheet's error?"""
    text = line.lstrip(" \t")
    if not text.startswith("#"):
        return False
    error = sheet.ERROR_CELL.match(text)
    return not (error and text[error.end() : error.end() + 1] in ("", ",", ";", "\t", "\r", "\n"))


def separator_of(text: str, comments: bool = True) -> str:
    """The one of comma, semicolon and tab that stands most in the header, outside quotes."""
    for line in io.StringIO(text, newline=""):
        bare = line.strip(" ,;\t\r\n")
        if bare and not (comments and is_comment(line)):
            outside = re.sub(r'"[^"]*"', "", line)
            return max(SEPARATORS, key=outside.count)
    return ","


def sheet_from_text(text: str, file: str, comments: bool = True, encoding: str = "") -> sheet.Sheet:
    """A `Sheet` of a CSV file's text; without ``comments`` a row begun with ``#`` is like any other."""
    text = without_separator_line(text)
    separator = separator_of(text, comments)
    decimals = "decimal comma or point" if separator == ";" else "decimal point"
    form = f"{encoding}{SEPARATORS[separator]} between cells, {decimals}"
    skipped: list[int] = []
    rows = _rows(text, file, separator, comments, skipped)
    return sheet.Sheet(file, rows, separator, form=form, skipped=skipped, all_text=True)


def sheet_from_csv(path: Path, comments: bool = True, encoding: str | None = None) -> sheet.Sheet:
    """A `Sheet` of a CSV file; ``encoding`` is what the settings say of files that are not UTF-8. Raises
    Unreadable if it cannot be opened, is too large, or is not UTF-8.
    """
    data = bytes_of(path, path.name)
    told = (_told[0] if _told else None) or encoding
    return sheet_from_text(text_of(data, path.name, told), path.name, comments, _encoding_of(data, told))


def _encoding_of(data: bytes, told: str | None) -> str:
    """The encoding in words, with a comma behind."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "UTF-16, "
    try:
        is_utf8 = b"\x00" not in data and bool(data.decode("utf-8") or True)
    except UnicodeDecodeError:
        is_utf8 = False
    return "UTF-8, " if is_utf8 or told is None else f"{told} as told, "


def _rows(
    text: str, file: str, separator: str, comments: bool, skipped: list[int]
) -> Iterator[tuple[int, list[object]]]:
    lines = _Lines(text, comments)
    reader = csv.reader(lines, delimiter=separator, strict=True, skipinitialspace=True)
    number = kept = width = 0
    while True:
        lines.a_row_begins = True
        number += 1
        try:
            cells: list[str] = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise _quotes(file, number, str(error)) from None
        if not "".join(cells).strip():
            if _may_be_a_row(lines.comment, separator, width):
                skipped.append(number)
            continue
        if comments and "# " in cells[0] and cells[0].lstrip().startswith("# "):
            if any(cell.strip() for cell in cells[1:]):
                skipped.append(number)
            continue  # a hint that a spreadsheet put quotes round, as it holds the separator
        kept += 1
        width = width or len(cells)
        if kept > sheet.MOST_ROWS + 1:
            text = say("has more than {most} rows.", sheet.MOST_ROWS)
            raise sheet.unreadable(file, number, "too-large", text, "Move old rows elsewhere.")
        if len(cells) > sheet.MOST_COLUMNS and any(cell.strip() for cell in cells[sheet.MOST_COLUMNS :]):
            text = say("has more than {most} columns.", sheet.MOST_COLUMNS)
            raise sheet.unreadable(file, number, "too-large", text, "Remove what is not part of the table.")
        yield number, list(cells)


def _may_be_a_row(comment: str, separator: str, width: int) -> bool:
    """May a line begun with ``#`` be a row: as long as one, or begun by a name such as ``#D03``?"""
    marks = comment.count(separator)
    return width > 2 and (marks >= width - 1 or (marks > 0 and re.match(r"\s*#\w", comment) is not None))


def _quotes(file: str, row: int, error: str) -> sheet.Unreadable:
    if "field larger" in error:
        text = say("a cell is longer than {most} characters.", sheet.LONGEST_CELL)
        return sheet.unreadable(file, row, "too-large", text, "Shorten it.")
    if "unexpected end" in error:
        text = 'a quote (") opens here and never closes.'
        return sheet.unreadable(file, row, "quotes", text, "Close it, or remove it.")
    text = 'a closing quote (") is followed by more text.'
    return sheet.unreadable(file, row, "quotes", text, 'Write a quote inside a cell as "".')


#: Encodings that a breeder may name for files that are not UTF-8, and what they are called.
OLD_ENCODINGS = {
    "cp1252": "Western",
    "cp1250": "Central European",
    "mac_roman": "Macintosh",
    "cp1251": "Cyrillic",
    "cp1253": "Greek",
    "cp1254": "Turkish",
    "cp1257": "Baltic",
    "cp850": "DOS",
    "cp932": "Japanese",
    "iso8859-15": "Latin-9",
    "utf-16-le": "UTF-16 without its mark",
    "utf-16-be": "UTF-16 without its mark, the other way round",
}
#: Those shown side by side where a file is not UTF-8.
_SHOWN = ("cp1252", "cp1250", "mac_roman")
_SAVE_AS = "In the spreadsheet, save it as CSV UTF-8."
#: How files of other kinds begin, and what to do with them.
_OTHER_KINDS = (
    (
        b"PK\x03\x04",
        "is a workbook, not text.",
        "Save its sheet as CSV UTF-8, or name the workbook shelf.xlsx or shelf.ods.",
    ),
    (b"\xd0\xcf\x11\xe0", "is an old workbook, not text.", "Save its sheet as CSV UTF-8."),
    (b"%PDF", "is a PDF, not text.", "Save the table as CSV UTF-8 in the spreadsheet it came from."),
)
_told: list[str] = []


def tell_encoding(name: str | None) -> None:
    """From now on in this process, CSV files that are not UTF-8 are read as ``name``; None: they are asked
    about. Raises ValueError if it is none of `OLD_ENCODINGS`.
    """
    if name is not None and name not in OLD_ENCODINGS:
        raise ValueError(name)
    _told[:] = [] if name is None else [name]


def text_of(data: bytes, file: str, told: str | None = None) -> str:
    """The text of UTF-8 (with or without mark) or marked UTF-16 bytes; others in the encoding ``told``, else
    asked about. Raises Unreadable if the bytes are neither, or not text of what was told.
    """
    for beginning, text, mend in _OTHER_KINDS:
        if data.startswith(beginning):
            raise sheet.unreadable(file, 0, "encoding", text, mend)
    if data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        raise sheet.unreadable(file, 0, "encoding", "is UTF-32, which no spreadsheet reads.", _SAVE_AS)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise sheet.unreadable(file, 0, "encoding", "begins like UTF-16 but is not.", _SAVE_AS) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if told is not None:
            return _as_told(data, file, told)
        if b"\x00" in data:
            raise _with_nulls(file) from None
        shown, encodings = _two_readings(data)
        raise sheet.Unreadable(_encoding_question(file, shown, encodings)) from None
    if "\x00" in text:
        if told is not None and told.startswith("utf-16"):
            return _as_told(data, file, told)
        raise _with_nulls(file)
    return text.rstrip("\x1a")


def _encoding_question(file: str, shown: str, encodings: Sequence[str]) -> Problem:
    keys = either(f'encoding = "{encoding}"' for encoding in encodings)
    flags = either(f"--encoding {encoding}" for encoding in encodings)
    which = say("Say which with {flags}, or write {keys} below [reading] in shelf.toml.", flags, keys)
    text = say("is not UTF-8: is it {readings}.", shown) if shown else say("is not UTF-8.")
    answers = tuple(Answer("encoding", encoding) for encoding in encodings)
    mend = joined((which, say(_SAVE_AS)) if encodings else (say(_SAVE_AS),))
    return Problem(Where(file), "", "encoding", text, mend, answers=answers)


def _with_nulls(file: str) -> sheet.Unreadable:
    return sheet.unreadable(
        file, 0, "encoding", "holds null bytes, as UTF-16 without its mark does.", _SAVE_AS
    )


def _as_told(data: bytes, file: str, told: str) -> str:
    try:
        text = data.decode(told)
    except UnicodeDecodeError:
        text = "\x00"
    if "\x00" in text:
        wrong = say("is not {encoding} ({name}) either.", told, say(OLD_ENCODINGS[told]))
        raise sheet.unreadable(file, 0, "encoding", wrong, _SAVE_AS)
    return text.rstrip("\x1a")


def _two_readings(data: bytes) -> tuple[str, tuple[str, ...]]:
    """Up to three words of the file in two old encodings that differ on it; and those encodings."""
    shown: list[str] = []
    encodings: dict[str, None] = {}
    for word in re.findall(rb"[A-Za-z\x80-\xff' .-]*[\x80-\xff][A-Za-z\x80-\xff' .-]*", data):
        readings: dict[str, str] = {}
        for encoding in _SHOWN:
            reading = " ".join(word[:40].decode(encoding, errors="replace").split())
            if reading.isprintable() and "\ufffd" not in reading and reading not in readings.values():
                readings[encoding] = reading
        first_two = list(readings.items())[:2]
        sentence = either(
            say("'{reading}' ({name})", reading, say(OLD_ENCODINGS[encoding]))
            for encoding, reading in first_two
        )
        if sentence and sentence not in shown:
            shown.append(sentence)
            encodings |= dict.fromkeys(encoding for encoding, _ in first_two)
        if len(shown) == 3:
            break
    if not shown:
        return "", ()
    return joined(shown, "; "), tuple(encodings)


def without_separator_line(text: str) -> str:
    """The text without a first line ``sep=;``, a hint that spreadsheets neither show nor count."""
    match = _SEPARATOR_LINE.match(text)
    return text[match.end() :] if match else text


_SEPARATOR_LINE = re.compile(r'"?sep=[,;\t]"?[,;\t]*(?:\r\n|\r|\n)', re.IGNORECASE)


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
    """The form of a CSV file. Raises Unreadable if its bytes, its header or its quotes cannot be read."""
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
