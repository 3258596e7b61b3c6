"""A sheet of other headers and its mapping in, a Sheet of orders out; the sheet itself is never changed."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Literal

from shipping.tables.as_meant import numbers_meant
from shipping.tables.cell_reader import ReadAs
from shipping.tables.cells import as_text, shortened
from shipping.tables.files.csv_reader import bytes_of, is_there, sheet_from_csv
from shipping.tables.files.ods_reader import sheets_from_ods, titles_of_ods
from shipping.tables.files.sheet import (
    BadSource,
    Sheet,
    Unreadable,
    cleaned,
    did_you_mean,
    nearest,
    unreadable,
)
from shipping.tables.files.xlsx_reader import sheets_from_xlsx, titles_of_xlsx
from shipping.tables.mapped_orders.mapping import MAP_FILE, PACKS, PRICE_EACH, WISH, MappedSheet
from shipping.tables.row_reader import TableRows, read_rows
from shipping.tables.rows.order_rows import FillFromFirstRow
from shipping.tables.rows.settings import ReadingRules
from shipping.tables.rows.species import Species
from shipping.tables.spelling import folded_place
from shipping.tables.table_list import TABLE_BY_NAME
from shipping.words.problems import Level, Problem, Where

ORDERS = TABLE_BY_NAME["orders"]
_DAYS = frozenset(column for column, kinds in ORDERS.kinds.items() if date in kinds)

_TIMES = r"(?:x|×|\*|pcs\.?|eggs(?:\s+of)?|of)"
_COUNT_FIRST = re.compile(rf"([0-9]{{1,7}})\s*(?:{_TIMES}\s+|{_TIMES}(?=[A-Z])|\s)\s*(\S.*)", re.IGNORECASE)
_COUNT_LAST = re.compile(rf"(\S.*?)\s*(?:\s|[x×*:])\s*([0-9]{{1,7}})(?:\s*{_TIMES})?", re.IGNORECASE)
_BETWEEN_LINES = re.compile(r"[;\n\r]+")
_BETWEEN_WISHES = re.compile(r"[,+]")
_A_DATE = re.compile(
    r"([0-9]{1,4})[./ -]([0-9]{1,2})[./ -]([0-9]{1,4})(?:[ T,]+[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?.*)?"
)
_ISO_TIME = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[ T][0-9]{2}:[0-9]{2}.*")


@dataclass
class _Translation:
    """What gathers while one sheet is translated."""

    mapped: MappedSheet
    names: Mapping[str, str]
    places: dict[str, tuple[int, ...]] = field(default_factory=dict)
    leave_out: dict[int, frozenset[str]] = field(default_factory=dict)
    left_out: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    read_as: dict[str, ReadAs] = field(default_factory=dict)
    unknown_fish: dict[str, None] = field(default_factory=dict)

    def label(self, column: str) -> str:
        """Our column and, in brackets, their header."""
        headers = self.mapped.columns.get(column)
        return f"{column} ('{' + '.join(headers)}')" if headers else f"{column} ({MAP_FILE})"

    def problem(self, row: int, column: str, code: str, text: str, mend: str) -> None:
        self.problems.append(Problem(Where(self.mapped.source, row), self.label(column), code, text, mend))

    def note(self, row: int, column: str, written: str, read: str) -> None:
        """Keep what was read as something else: the first of a column, and of wishes each wording once."""
        key = f"{column} {written}" if column == WISH else column
        where = Where(self.mapped.source, row)
        self.read_as.setdefault(key, ReadAs(where, self.label(column), written, read))


def mapped_orders(
    folder: Path, mapped: MappedSheet, species: tuple[Species, ...], rules: ReadingRules | None = None
) -> TableRows:
    """The rows of orders in one mapped sheet, with every problem of its header and cells."""
    work = _Translation(mapped, names_of_fish(mapped, species))
    try:
        sheet = open_mapped(folder, mapped, rules.encoding if rules else None)
        rows = list(_translated(work, sheet))
    except Unreadable as broken:
        return TableRows(ORDERS, mapped.source, problems=(*work.problems, broken.problem))
    header: list[object] = [*_our_columns(mapped)]
    ours = Sheet(
        mapped.source,
        iter([(1, header), *rows]),
        separator=sheet.separator,
        notices=(*sheet.notices, *work.problems, *_left_out(work)),
        labels={
            str(column): work.label(WISH if column in _wish_columns(mapped) else str(column))
            for column in header
        },
    )
    read = read_rows(ORDERS, ours, FillFromFirstRow(), _rules(mapped, rules))
    return TableRows(
        read.table,
        read.file,
        read.columns,
        read.rows,
        read.names,
        read.failed,
        read.problems,
        (*work.read_as.values(), *read.read_as),
        read.complete,
        read.labels,
        _form(mapped),
        read.other_days,
        read.comma_numbers,
    )


def unknown_fish(
    folder: Path, mapped: MappedSheet, species: tuple[Species, ...], rules: ReadingRules | None = None
) -> tuple[str, ...]:
    """Their words for fish that no name explains, each once, in the order of the sheet; none where it cannot
    be read.
    """
    work = _Translation(mapped, names_of_fish(mapped, species))
    try:
        sum(1 for _ in _translated(work, open_mapped(folder, mapped, rules.encoding if rules else None)))
    except Unreadable:
        return ()
    return tuple(work.unknown_fish)


def _left_out(work: _Translation) -> Iterator[Problem]:
    """The rows that the mapping leaves out, in one sentence."""
    if work.left_out:
        rows = ", ".join(map(str, work.left_out[:12])) + (" .." if len(work.left_out) > 12 else "")
        text = f"{len(work.left_out)} rows are left out by [sheet.leave_out]: {rows}."
        yield Problem(Where(work.mapped.source, work.left_out[0]), "", "left-out", text, "", Level.NOTICE)


def _rules(mapped: MappedSheet, rules: ReadingRules | None) -> ReadingRules:
    """How days and numbers are read here: as the mapping says, else as the shelf does."""
    days: dict[str, Literal["day first", "month first"]] = {"dmy": "day first", "mdy": "month first"}
    said = rules or ReadingRules()
    return ReadingRules(
        dates=days.get(mapped.dates or "", said.dates), decimals=mapped.decimals or said.decimals
    )


def _form(mapped: MappedSheet) -> str:
    """What the sheet was taken for, in words."""
    days = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}.get(mapped.dates or "", "as usual")
    return f"by {MAP_FILE}, dates {days}, decimal {mapped.decimals or 'as usual'}"


def names_of_fish(mapped: MappedSheet, species: tuple[Species, ...]) -> dict[str, str]:
    """What each name, without case, stands for: ``species`` or ``species/population``; the mapping's own
    names win.
    """
    names: dict[str, str] = {}
    for row in species:
        for name in (row.common_name, row.scientific_name, row.species):
            if name:
                names[_folded(name)] = row.species
    return names | {_folded(name): meant for name, meant in sorted(mapped.names.items())}


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def open_mapped(folder: Path, mapped: MappedSheet, encoding: str | None = None) -> Sheet:
    """The sheet of a mapping, opened.

    Raises
    ------
    Unreadable
        If it is not there, or cannot be read.
    """
    path = folder / mapped.file
    if not is_there(path):
        raise unreadable(
            mapped.source, 0, "no-table", "is missing.", f"Put it in the folder, or mend {MAP_FILE}."
        )
    if mapped.file.endswith((".csv", ".txt", ".tsv")):
        return sheet_from_csv(path, comments=False, encoding=encoding)
    titles_of, sheets_of = (
        (titles_of_xlsx, sheets_from_xlsx)
        if mapped.file.endswith(".xlsx")
        else (titles_of_ods, sheets_from_ods)
    )
    data = bytes_of(path, mapped.source)
    titles = titles_of(data, mapped.source)
    title = mapped.tab or (titles[0] if titles else "")
    if title not in titles:
        mend = did_you_mean(title, titles, f"Its sheets are {', '.join(titles)}.")
        raise unreadable(mapped.source, 0, "no-table", f"has no sheet '{title}'.", mend)
    sheet = sheets_of(data, mapped.file, {title: title}, comments=False)[title]
    if isinstance(sheet, Unreadable):
        raise sheet
    return sheet


def _wish_columns(mapped: MappedSheet) -> tuple[str, ...]:
    return ("species", "population", "eggs") if WISH in mapped.columns else ()


def _our_columns(mapped: MappedSheet) -> list[str]:
    """The columns of orders that the mapping fills, in the order of the table."""
    filled = {*mapped.columns, *mapped.always, *_wish_columns(mapped)}
    filled |= {"population"} if "species" in mapped.columns else set()
    filled |= {"price"} if PRICE_EACH in mapped.columns else set()
    return [column for column in ORDERS.columns if column in filled]


def _translated(work: _Translation, sheet: Sheet) -> Iterator[tuple[int, list[object]]]:
    """Rows of our columns; a wish of several fish is several rows with one row number."""
    _find_columns(work, *_header_of(work, sheet))
    columns = _our_columns(work.mapped)
    for number, cells in sheet.rows:
        if _is_left_out(work, cells):
            work.left_out.append(number)
            continue
        ours: dict[str, object] = dict(work.mapped.always)
        for column, places in work.places.items():
            value = _joined([cells[place] for place in places if place < len(cells)], work.mapped.between)
            if value is not None and column != WISH:
                ours[column] = _read(work, number, column, value)
            elif value is not None:
                ours[WISH] = value
        if "order" in ours and work.mapped.prefix:
            ours["order"] = work.mapped.prefix + as_text(ours["order"])
        _with_population(work, number, ours)
        for line in _lines_of(work, number, ours):
            _count_packs(work, number, line)
            yield number, [line.get(column) for column in columns]


#: A title may stand so many rows above the header.
_MOST_TITLES = 20


def _header_of(work: _Translation, sheet: Sheet) -> tuple[int, list[object]]:
    """The row that holds every mapped header: the first, or one below a title; else the first row."""
    rows: list[tuple[int, list[object]]] = []
    wanted = {header for headers in work.mapped.columns.values() for header in headers}
    for number, cells in itertools.islice(sheet.rows, _MOST_TITLES):
        if wanted <= set(headers_of(cells)):
            return number, cells
        rows.append((number, cells))
    return rows[0] if rows else (0, [])


def headers_of(cells: list[object]) -> list[str]:
    """The cells of a header as they are compared."""
    names = ("" if cell is None or isinstance(cell, BadSource) else as_text(cell) for cell in cells)
    return [" ".join(cleaned(name, False)[0].split()) for name in names]


def _is_left_out(work: _Translation, cells: list[object]) -> bool:
    """Does the row hold a word by which the mapping leaves rows out?"""
    return any(
        _folded(as_text(cells[place] or "")) in words
        for place, words in work.leave_out.items()
        if place < len(cells)
    )


def _with_population(work: _Translation, number: int, ours: dict[str, object]) -> None:
    """A name that stands for ``species/population`` gives both; another population beside it is a mistake."""
    named = ours.get("species")
    if not isinstance(named, str) or "/" not in named:
        return
    species, _, population = named.partition("/")
    ours["species"] = species
    beside = ours.setdefault("population", population)
    if folded_place(as_text(beside)) != folded_place(population):
        text = f"'{beside}' stands beside a name that means '{population}'."
        work.problem(
            number, "population", "disagree", text, f"Empty one, or mend [sheet.names] in {MAP_FILE}."
        )


def _count_packs(work: _Translation, number: int, line: dict[str, object]) -> None:
    """The eggs of so many packs, and their price where each pack's is given."""
    packs = _whole(line.pop(PACKS, None))
    each = line.pop(PRICE_EACH, None)
    eggs = _whole(line.get("eggs"))
    if packs is not None and eggs is not None and PACKS in work.mapped.columns:
        line["eggs"] = str(packs * eggs)
        work.note(number, PACKS, f"{packs} packs of {eggs}", f"{packs * eggs} eggs")
    meant = numbers_meant(as_text(each)) if each is not None else ()
    if len(meant) == 1:
        times = packs if PACKS in work.mapped.columns else eggs
        line["price"] = str(Decimal(meant[0]) * (times or 1))


def _whole(value: object) -> int | None:
    meant = numbers_meant(as_text(value)) if value is not None and not isinstance(value, BadSource) else ()
    return int(float(meant[0])) if len(meant) == 1 and float(meant[0]).is_integer() else None


def _find_columns(work: _Translation, number: int, header: list[object]) -> None:
    """Where each mapped header stands.

    Raises
    ------
    Unreadable
        If one is not there, or there twice.
    """
    theirs = headers_of(header)
    for column, headers in work.mapped.columns.items():
        for name in headers:
            if theirs.count(name) != 1:
                text = (
                    f"'{name}' is not in the header."
                    if name not in theirs
                    else f"'{name}' is twice in the header."
                )
                known = [one for one in theirs if one]
                mend = did_you_mean(
                    name, known, f"Its headers are {', '.join(known)}." if known else "Write a header."
                )
                problem = Problem(Where(work.mapped.source, number), column, "no-column", text, mend)
                work.problems.append(problem)
        if all(theirs.count(name) == 1 for name in headers):
            work.places[column] = tuple(theirs.index(name) for name in headers)
    if work.problems:
        raise Unreadable(work.problems.pop())
    for name, words in work.mapped.leave_out.items():
        if name in theirs:
            work.leave_out[theirs.index(name)] = frozenset(map(_folded, words))
    _name_unread_counts(work, number, theirs)


#: How sheets call a count of packs or eggs that must not stay unread.
_COUNTS = re.compile(
    r"qty|quantity|anzahl|menge|stück|antal|quantit|cantidad|ilość|packs?|count|number of", re.I
)


def sounds_like_a_count(header: str) -> bool:
    """Must a column so called be read, or be left out by its name?"""
    return _COUNTS.search(header) is not None


def _name_unread_counts(work: _Translation, number: int, theirs: list[str]) -> None:
    """A column that sounds like a count and is not read must be mapped, or left out by its name."""
    used = {header for headers in work.mapped.columns.values() for header in headers}
    unused = [name for name in theirs if name and name not in used | set(work.mapped.leave_out)]
    counts = [name for name in unused if sounds_like_a_count(name)]
    if counts:
        text = f"'{counts[0]}' sounds like a count and is not read."
        mend = (
            f'Write {PACKS} = "{counts[0]}" or eggs = "{counts[0]}" below [sheet.columns],'
            f' or "{counts[0]}" = [] below [sheet.leave_out].'
        )
        raise Unreadable(Problem(Where(work.mapped.source, number), "", "unused-count", text, mend))


def _joined(cells: list[object], between: str) -> object:
    """The cells that hold something, joined; one alone as it is."""
    full = [cell for cell in cells if cell is not None and (isinstance(cell, BadSource) or as_text(cell))]
    if len(full) <= 1 or any(isinstance(cell, BadSource) for cell in full):
        return full[0] if full else None
    return between.join(as_text(cell) for cell in full)


def _read(work: _Translation, number: int, column: str, value: object) -> object:
    """A value in our terms: days in the one order the mapping names, countries by its words, species by its
    names.
    """
    if not isinstance(value, str):
        return value
    text = value.strip()
    read = text
    if column in _DAYS and work.mapped.dates:
        read = day_in_order(text, work.mapped.dates)
    elif column == "country":
        read = {_folded(name): code for name, code in work.mapped.countries.items()}.get(_folded(text), text)
    elif column == "species":
        read = work.names.get(_folded(text), text)
        if text and _folded(text) not in work.names:
            work.unknown_fish[text] = None
    elif column in ("eggs", "price") and len(meant := numbers_meant(text)) == 1:
        read = meant[0]
    if read != text:
        work.note(number, column, text, read)
    return read


def day_in_order(text: str, order: str) -> str:
    """A date as ISO, its parts taken in one fixed order (``dmy``, ``mdy``, ``ymd``); other text as it is.

    A year first is always a year; a year of two digits is of this century.
    """
    if match := _ISO_TIME.fullmatch(text):
        return match[1]
    match = _A_DATE.fullmatch(text)
    if not match:
        return text
    if len(match[1]) == 4:
        order = "ymd"
    parts = dict(zip(order, match.groups()[:3], strict=True))
    if len(parts["y"]) not in (2, 4):
        return text
    year = int(parts["y"]) + (2000 if len(parts["y"]) == 2 else 0)
    try:
        return datetime(year, int(parts["m"]), int(parts["d"])).date().isoformat()
    except ValueError:
        return text


def _lines_of(work: _Translation, number: int, ours: dict[str, object]) -> Iterator[dict[str, object]]:
    """One line, or the lines of a wish."""
    if WISH not in work.mapped.columns:
        yield ours
        return
    wish = ours.pop(WISH, None)
    wishes = _wishes(as_text(wish), work.names) if isinstance(wish, str) else []
    if isinstance(wish, BadSource):
        work.problem(number, WISH, "spreadsheet-error", wish.text, wish.mend)
    elif not wishes:
        work.problem(number, WISH, "blank", "is blank.", "Write count and name, as 20 x gardneri.")
    for part in wishes:
        found = split_wish(part, work.names)
        if found is None:
            if counted := _COUNT_FIRST.fullmatch(part):
                work.unknown_fish[counted[2]] = None
            elif counted := _COUNT_LAST.fullmatch(part):
                work.unknown_fish[counted[1]] = None
            known = sorted(work.names)
            like = nearest(_folded(re.sub(r"[0-9]+", "", part).strip(" x×*")), known)
            mend = f"Did you mean '{like}'? Else a" if like else "A"
            text = f"'{shortened(part)}' is not a count and a known name."
            work.problem(number, WISH, "wish", text, f"{mend}dd the name below [sheet.names] in {MAP_FILE}.")
            continue
        eggs, meant = found
        species, _, population = meant.partition("/")
        if part != f"{eggs} {meant}":
            work.note(number, WISH, part, f"{eggs} {meant}")
        yield (
            ours
            | {"eggs": str(eggs), "species": species}
            | ({"population": population} if population else {})
        )


def _wishes(text: str, names: Mapping[str, str]) -> list[str]:
    """The single wishes of a cell; a comma or plus parts them only where the whole is not one known name."""
    found: list[str] = []
    for part in _BETWEEN_LINES.split(text):
        known = split_wish(part.strip(), names) is not None
        found += [part] if known else _BETWEEN_WISHES.split(part)
    return [part.strip() for part in found if part.strip()]


def split_wish(text: str, names: Mapping[str, str]) -> tuple[int, str] | None:
    """(count, ``species`` or ``species/population``) of ``20 x gardneri`` or ``gardneri x 20``; None where it
    is neither.
    """
    if (first := _COUNT_FIRST.fullmatch(text)) and _folded(first[2]) in names:
        return int(first[1]), names[_folded(first[2])]
    if (last := _COUNT_LAST.fullmatch(text)) and _folded(last[1]) in names:
        return int(last[2]), names[_folded(last[1])]
    return None
