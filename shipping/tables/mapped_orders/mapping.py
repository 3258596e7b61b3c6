"""The text of orders.toml in, how other sheets' columns become those of orders out."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationError

from shipping.tables.cells import BadCell, Key, OneWord, Text, as_text, shortened
from shipping.tables.files.csv_file import bytes_of, is_there, text_of
from shipping.tables.files.settings_reader import MAP_FILE, lines_of_keys, parsed_toml, problems_in_toml
from shipping.tables.files.sheet import Unreadable
from shipping.tables.rows.settings import Decimals, Section
from shipping.tables.shelf import ORDER_COLUMNS
from shipping.tables.spelling import did_you_mean
from shipping.words.problems import Problem, Where
from shipping.words.sentence import say

#: The column of a mapped sheet that says both how many and of what, as ``20 x gardneri``.
WISH = "wish"
#: How many packs of a wish (or of ``eggs``) were ordered, and what one of them costs.
PACKS = "packs"
PRICE_EACH = "price_each"
#: A whole address in one cell, and the columns it fills.
ADDRESS = "address"
_DELIVERY = tuple(f"delivery_{n}" for n in range(1, 5))
ADDRESS_COLUMNS = ("addressee", *_DELIVERY, "postcode", "town", "region", "country")
_EXAMPLE = 'Write file = "form.csv" and below [sheet.columns] order = "their header".'
#: Endings of the files that a mapping may name.
ENDINGS = (".csv", ".txt", ".tsv", ".xlsx", ".ods")


def parse_file_name(cell: object) -> str:
    """The name of a file that lies in the shelf itself."""
    text = as_text(cell)
    if not text.casefold().endswith(ENDINGS) or "/" in text or "\\" in text or text.startswith("."):
        raise BadCell(
            say("'{cell}' is no sheet of this folder", shortened(text)),
            "Write a name as form.csv, form.xlsx or form.ods.",
        )
    return text


def parse_headers(cell: object) -> tuple[str, ...]:
    """One header, or several whose cells are joined."""
    cells = cell if isinstance(cell, list | tuple) else [cell]
    headers = [" ".join(header.split()) for header in cells if isinstance(header, str)]
    if not headers or len(headers) < len(cells) or not all(headers):
        raise BadCell(say("is not a header"), 'Write "their header" or ["one", "two"].')
    return tuple(headers)


def parse_between(cell: object) -> dict[str, str]:
    """What stands between joined cells: one text for all columns (by ``""``), or one by column."""
    if isinstance(cell, dict):
        return {str(column): str(text) for column, text in cell.items()}
    return {"": str(cell)}


Between = Annotated[dict[str, str], BeforeValidator(parse_between)]
Headers = Annotated[tuple[str, ...], BeforeValidator(parse_headers)]
FileName = Annotated[str, BeforeValidator(parse_file_name)]
DateOrder = Annotated[Literal["dmy", "mdy", "ymd"], OneWord()]
Constant = Annotated[str, BeforeValidator(as_text)]


class MappedSheet(Section):
    """One ``[[sheet]]``: a file beside the shelf's tables, and what its columns are called there.

    ``columns`` has our column and their header (or several, whose cells are joined by ``between``: one text,
    or one by column); ``wish`` is a column that holds count and name, as ``20 x gardneri``, ``address`` one
    that holds a whole address. ``always`` are our columns that are the same
    on every row. ``names`` has their word for a fish and our ``species`` or ``species/population``;
    ``countries`` their word and the code. ``leave_out`` has a header of theirs and the words by which a row
    is no order (``Status = ["cancelled"]``).
    """

    file: FileName
    tab: Text = ""
    prefix: Key = ""
    dates: DateOrder | None = None
    decimals: Decimals | None = None
    between: Between = Field(default_factory=dict)
    columns: dict[str, Headers] = Field(default_factory=dict)
    always: dict[str, Constant] = Field(default_factory=dict)
    names: dict[str, Key | Text] = Field(default_factory=dict)
    countries: dict[str, Text] = Field(default_factory=dict)
    leave_out: dict[str, tuple[str, ...]] = Field(default_factory=dict)

    @property
    def source(self) -> str:
        """The sheet as messages and the seen rows name it."""
        return f"{self.file}[{self.tab}]" if self.tab else self.file

    def placed_in(self, text: str) -> str:
        """An ``orders.toml`` with this sheet in it: in place of its own block, else at the end."""
        blocks = re.split(r"(?m)^(?=\[\[sheet\]\])", text)
        kept = [block.rstrip("\n") + "\n" for block in blocks if block.strip() and not self._is_block(block)]
        return "\n".join([*kept, self.as_toml()])

    def _is_block(self, block: str) -> bool:
        named = dict(re.findall(r"""(?m)^\s*(file|tab)\s*=\s*["'](.*?)["']""", block))
        return named.get("file") == self.file and named.get("tab", "") == self.tab

    def as_toml(self) -> str:
        """The ``[[sheet]]`` that says the same in ``orders.toml``."""
        keys = ("file", "tab", "prefix", "dates", "decimals")
        lines = ["[[sheet]]", *(f"{key} = {_quoted(value)}" for key in keys if (value := getattr(self, key)))]
        for_all = self.between.get("")
        lines += [f"between = {_quoted(for_all)}"] if for_all is not None else []
        lines += ["", "[sheet.between]"] if self.between and for_all is None else []
        lines += [f"{_key(name)} = {_quoted(text)}" for name, text in self.between.items() if name]
        for section in ("columns", "always", "names", "countries", "leave_out"):
            pairs = getattr(self, section)
            lines += ["", f"[sheet.{section}]"] if pairs or section == "columns" else []
            lines += [f"{_key(name)} = {_value(section, value)}" for name, value in pairs.items()]
        return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)


def _value(section: str, value: str | tuple[str, ...]) -> str:
    """One text, or a list of them; a column of one header is that header alone."""
    if isinstance(value, str) or (section == "columns" and len(value) == 1):
        return _quoted(value if isinstance(value, str) else value[0])
    return f"[{', '.join(map(_quoted, value))}]"


class Elsewhere(Section):
    """All of ``orders.toml``."""

    sheet: tuple[MappedSheet, ...]


def read_map(folder: Path) -> tuple[tuple[MappedSheet, ...], tuple[Problem, ...]]:
    """The sheets that ``orders.toml`` maps (none without the file), and its problems."""
    path = folder / MAP_FILE
    if not is_there(path):
        return (), ()
    try:
        text = text_of(bytes_of(path, MAP_FILE), MAP_FILE)
    except Unreadable as broken:
        return (), (broken.problem,)
    keys, problem = parsed_toml(text, MAP_FILE)
    if problem:
        return (), (problem,)
    lines = lines_of_keys(text)
    try:
        sheets = Elsewhere.model_validate(keys).sheet
    except ValidationError as error:
        mends = {"sheet": say("Write [[sheet]]. {example}", say(_EXAMPLE)), "sheet.file": _EXAMPLE}
        return (), tuple(problems_in_toml(error, Elsewhere, lines, MAP_FILE, mends))
    problems = tuple(problem for sheet in sheets for problem in _problems_of(sheet, lines))
    return (() if problems else sheets), problems


def _problems_of(sheet: MappedSheet, lines: Mapping[str, int]) -> Iterator[Problem]:
    """Columns that are none of ours, and what a line of an order needs and is not mapped."""
    ours = (WISH, PACKS, PRICE_EACH, ADDRESS)
    known = [*ORDER_COLUMNS, *ours]
    for section, columns in (("columns", sheet.columns), ("always", sheet.always)):
        for column in columns:
            if column not in known or (section == "always" and column in ours):
                name = f"sheet.{section}.{column}"
                text = "is no column of orders."
                mend = did_you_mean(column, known, say("Its columns are {known}.", ", ".join(known)))
                yield Problem(Where(MAP_FILE, lines.get(name, 0)), name, "unknown-column", text, mend)
    mapped = {*sheet.columns, *sheet.always}
    where = Where(MAP_FILE, lines.get("sheet", 0))
    if WISH in mapped and mapped & {"eggs", "species"}:
        text = say("{source}: wish stands beside eggs or species.", sheet.source)
        mend = "Map either wish, or both eggs and species."
        yield Problem(where, "sheet.columns", "columns-clash", text, mend)
    needed = {"order", "placed_on", "addressee", "country", *(() if WISH in mapped else ("species", "eggs"))}
    mapped |= {"addressee", "country"} if ADDRESS in mapped else set()
    for column in (column for column in ORDER_COLUMNS if column in needed - mapped):
        text = say("{source}: {column} is not mapped.", sheet.source, column)
        mend = say(
            'Write {column} = "their header" below [sheet.columns], or a value below [sheet.always].', column
        )
        yield Problem(where, "sheet.columns", "no-column", text, mend)
    for column in sorted(set(sheet.columns) & set(sheet.always)):
        text = say("{source}: {column} stands in columns and in always.", sheet.source, column)
        yield Problem(where, f"sheet.always.{column}", "columns-clash", text, "Remove one of the two.")
