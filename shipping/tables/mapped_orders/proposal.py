"""A sheet of another shop in, the mapping that would read it out, guessed by its headers and cells."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Literal

from shipping.tables.cells import as_text, eggs_within, numbers_meant, shortened
from shipping.tables.files.sheet import BadSource, Unreadable, unreadable
from shipping.tables.mapped_orders import mapping
from shipping.tables.mapped_orders.combined_cells import KeptFish, names_of_fish, split_wish
from shipping.tables.mapped_orders.mapped_sheet import mapped_orders, open_mapped
from shipping.tables.mapped_orders.their_header import (
    FAMILY_NAMES,
    FIRST_NAMES,
    HEADERS,
    HOUSE_NUMBERS,
    POPULATIONS,
    WHOSE,
    headers_of,
    plain_header,
    sounds_like,
    sounds_like_a_status,
)
from shipping.tables.one_spelling import FishNames, fish_names
from shipping.tables.row_reader import TableRows
from shipping.tables.rows.settings import ReadingRules
from shipping.tables.rows.species import Species
from shipping.tables.typed_days import days_meant
from shipping.words.sentence import either, say

_is_iso = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}").fullmatch
_ROWS_LOOKED_AT = 200
_TITLES = 20
_WORDS_SHOWN = 6
#: Columns that a header may stand for, and is asked about.
_NOT_GUESSED = frozenset({"not_before", "not_after", "population"})


@dataclass(frozen=True)
class Proposal:
    """What a sheet seems to hold: the mapping, what each of its columns is taken for, and rows as read; what
    is asked of it, and ``asks_of_days``: in which order they are written.
    """

    mapped: mapping.MappedSheet
    header_row: int
    unused: tuple[str, ...]
    lacking: tuple[str, ...]
    read: TableRows
    header: tuple[str, ...]
    asks: tuple[str, ...] = ()
    asks_of_days: tuple[str, ...] = ()
    statuses: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def as_toml(self) -> str:
        """The text of an ``orders.toml`` that reads the sheet so."""
        lacking = "".join(f'# {column} = "their header"   # needed\n' for column in self.lacking)
        return self.mapped.as_toml() + lacking + ("".join(map(_status_lines, self.statuses)))

    def as_json(self) -> dict[str, object]:
        return {
            "file": self.mapped.file,
            "header_row": self.header_row,
            "columns": {column: list(headers) for column, headers in self.mapped.columns.items()},
            "unused": list(self.unused),
            "lacking": list(self.lacking),
            "questions": [*self.asks_of_days, *self.asks],
            "problems": [problem.as_json() for problem in self.read.problems],
            "orders_toml": self.as_toml(),
        }


def proposal(
    path: Path,
    species: tuple[Species, ...],
    rules: ReadingRules,
    kept: KeptFish = frozenset(),
    tab: str = "",
) -> Proposal:
    """The mapping that a sheet, or the one of a workbook called ``tab``, seems to want by its headers. Raises
    Unreadable if it cannot be read.
    """
    if not path.name.casefold().endswith(mapping.ENDINGS) or path.name.startswith("."):
        text = "is no sheet that can be read."
        raise unreadable(path.name, 0, "workbook", text, "Save it as .csv, .xlsx or .ods.")
    blank = mapping.MappedSheet(file=path.name, tab=tab)
    sheet = open_mapped(path.parent, blank, rules.encoding)
    rows = list(islice(sheet.rows, _ROWS_LOOKED_AT))
    number, header, guessed = _best_header(rows)
    cells = _cells_below(rows, number, header)
    columns = _with_address(_with_counts(guessed, cells, names_of_fish(blank, species, kept)), cells)
    order, asks_of_days = _order_of_days(columns, cells)
    headers = _with_parts(columns, header)
    mapped = mapping.MappedSheet(file=path.name, tab=tab, dates=order, columns=headers)
    named = tuple(name for name in header if name)
    used = {name for theirs in headers.values() for name in theirs}
    unused = tuple(name for name in named if name not in used)
    needed = ["order", "placed_on", *([] if mapping.ADDRESS in columns else ["addressee", "country"])]
    needed += [] if mapping.WISH in columns else ["species", "eggs"]
    statuses = tuple(
        (name, tuple(dict.fromkeys(cells[name]))[:_WORDS_SHOWN])
        for name in unused
        if sounds_like_a_status(name)
    )
    asks = [
        say("{name} holds {words}: which of them do not go?", name, ", ".join(words))
        for name, words in statuses
    ]
    asks += _of_cells(unused, cells, fish_names(species))
    asks += (
        say("{name} may be {columns}.", name, either(sorted(may)))
        for name in unused
        if (may := _NOT_GUESSED & sounds_like(name) - headers.keys())
    )
    lacking = tuple(column for column in needed if column not in headers)
    read = mapped_orders(path.parent, mapped, species, rules, kept)
    return Proposal(mapped, number, unused, lacking, read, named, tuple(asks), asks_of_days, statuses)


def _status_lines(status: tuple[str, tuple[str, ...]]) -> str:
    """What would leave rows out by a column of their status, for the breeder to choose from."""
    name, words = status
    section = (
        mapping.MappedSheet(file="x.csv", leave_out={name: words}).as_toml().partition("[sheet.leave_out]")
    )
    return "".join(f"# {line}\n" for line in f"{section[1]}{section[2]}".splitlines())


def _best_header(rows: Sequence[tuple[int, list[object]]]) -> tuple[int, list[str], dict[str, str]]:
    """The row among the first whose cells are most like headers we know, with what each is taken for."""
    best: tuple[int, list[str], dict[str, str]] = (0, [], {})
    for number, cells in rows[:_TITLES]:
        header = headers_of(cells)
        guessed = _guessed(header)
        if not best[1] or len(guessed) > len(best[2]):
            best = (number, header, guessed)
    return best


def _guessed(header: Sequence[str]) -> dict[str, str]:
    """Our columns by their headers: as they stand, else without a word that says whose it is."""
    theirs: dict[str, str] = {}
    for name in header:
        theirs.setdefault(plain_header(name), name)
    for name in header:
        theirs.setdefault(WHOSE.sub("", plain_header(name)), name)
    columns: dict[str, str] = {}
    for column, names in HEADERS.items():
        taken = next((theirs[name] for name in names.split("|") if name in theirs), None)
        if taken and taken not in columns.values():
            columns[column] = taken
    return columns


def _with_parts(columns: Mapping[str, str], header: Sequence[str]) -> dict[str, mapping.Headers]:
    """The guess with what stands in two columns: first name and family name, a street and its number."""
    headers: dict[str, mapping.Headers] = {column: (theirs,) for column, theirs in columns.items()}
    free = [name for name in header if name not in columns.values()]

    def named(words: str) -> mapping.Headers:
        known, plain = frozenset(words.split("|")), ((name, plain_header(name)) for name in free)
        return tuple(name for name, said in plain if {said, WHOSE.sub("", said)} & known)[:1]

    whole, first, family = headers.get("addressee", ()), named(FIRST_NAMES), named(FAMILY_NAMES)
    if parts := (first or whole) + (family or whole) if first or family else ():
        headers["addressee"] = tuple(dict.fromkeys(parts))
    if "delivery_1" in headers:
        headers["delivery_1"] += named(HOUSE_NUMBERS)
    if "species" in headers and (population := named(POPULATIONS)):
        headers["population"] = population
    return headers


def _of_cells(unused: Sequence[str], cells: Mapping[str, list[str]], fish: FishNames) -> Iterator[str]:
    """What columns that stay unread seem to hold: a count of eggs, or a fish a column."""
    for name in unused:
        text = next((text for text in cells[name] if eggs_within(text)), None)
        if text is not None:
            yield say("{name} holds '{text}': is the count of eggs in it?", name, shortened(text))
    columns = [name for name in unused if fish.key_of(name) or fish.key_of(name.partition(" ")[0])]
    if len(columns) > 1:
        yield say(
            "{columns} are fish: a column a fish cannot be read. Write a row a fish.", ", ".join(columns)
        )


def _cells_below(
    rows: Sequence[tuple[int, list[object]]], number: int, header: Sequence[str]
) -> dict[str, list[str]]:
    """The cells below each header that hold something, as text."""
    texts: dict[str, list[str]] = {name: [] for name in header if name}
    for row, cells in rows:
        for name, cell in zip(header, cells, strict=False) if row > number else ():
            if name and cell is not None and not isinstance(cell, BadSource) and as_text(cell):
                texts[name].append(as_text(cell))
    return texts


def _with_counts(
    guessed: Mapping[str, str], cells: Mapping[str, list[str]], names: Mapping[str, str]
) -> dict[str, str]:
    """The guess with what the cells say: an item with its count is a wish, else its count is beside it."""
    columns = dict(guessed)
    items = cells.get(columns.get(mapping.WISH, ""), [])
    counted = [item for item in items if split_wish(item, names) is not None or item[:1].isdigit()]
    if mapping.WISH in columns and len(counted) * 2 < len(items):
        columns["species"] = columns.pop(mapping.WISH)
        unused = {name: texts for name, texts in cells.items() if name not in columns.values()}
        counts_eggs = [name for name, texts in unused.items() if texts and all(map(eggs_within, texts))]
        if counts_eggs:
            columns.setdefault("eggs", counts_eggs[0])
        if "eggs" not in columns and mapping.PACKS in columns:
            columns["eggs"] = columns.pop(mapping.PACKS)
    if mapping.WISH in columns and "eggs" in columns:
        columns.setdefault(mapping.PACKS, columns.pop("eggs"))
    counts = cells.get(columns.get(mapping.PACKS, ""), [])
    if mapping.PACKS in columns and not any(len(numbers_meant(count)) == 1 for count in counts):
        del columns[mapping.PACKS]
    if mapping.PRICE_EACH in columns:
        columns.pop("price", None)
    return columns


def _with_address(columns: dict[str, str], cells: Mapping[str, list[str]]) -> dict[str, str]:
    """The guess, with a street whose cells mostly have three parts as a whole address."""
    name = columns.get("delivery_1", "")
    whole = [text for text in cells.get(name, []) if len(re.split(r"[\n;,]+", text.strip(" \n;,"))) > 2]
    if whole and len(whole) * 2 > len(cells[name]) and "town" not in columns:
        del columns["delivery_1"]
        columns[mapping.ADDRESS] = name
    return columns


def _order_of_days(
    columns: Mapping[str, str], cells: Mapping[str, list[str]]
) -> tuple[Literal["dmy", "mdy"] | None, tuple[str, ...]]:
    """``dmy`` or ``mdy`` where a cell tells; None, with a question, where every day may be read both ways."""
    days = [text for column in ("placed_on", "paid_on") for text in cells.get(columns.get(column, ""), [])]
    meant = [set(days_meant(text)) & {"day first", "month first"} for text in days]
    single = {next(iter(orders)) for orders in meant if len(orders) == 1}
    if days and not any(meant) and any("named" in days_meant(text) and not _is_iso(text) for text in days):
        return "dmy", ()  # months with names are read the same by either
    if single == {"day first"}:
        return "dmy", ()
    if single == {"month first"}:
        return "mdy", ()
    unsure = next((text for text, orders in zip(days, meant, strict=True) if len(orders) == 2), None)
    if unsure is None:
        return None, ()
    first, second = days_meant(unsure).values()
    told = (unsure, first, second)
    return None, (say('\'{unsure}\': is it {day} (dates = "dmy") or {other} (dates = "mdy")?', *told),)


def known_mapping(folder: Path, path: Path, encoding: str | None) -> mapping.MappedSheet | None:
    """How a sheet of this name, else one with the same headers, is read already; None where none is."""
    maps, _ = mapping.read_map(folder)
    for mapped in maps:
        if mapped.file == path.name:
            return mapped
    try:
        sheet = open_mapped(path.parent, mapping.MappedSheet(file=path.name), encoding)
    except Unreadable:
        return None
    first = itertools.islice(sheet.rows, _TITLES)  # a title may stand above the header
    header = {name for _, cells in first for name in headers_of(cells) if name}
    fitting = (one for one in maps if {name for said in one.columns.values() for name in said} <= header)
    return next(fitting, None)
