"""A home country and a day in, a new shelf of starter tables out; the workbook form is drawn by starter_book.

The starter's own data lies in ``templates/starter``. Columns there that begin with ``_`` are instructions:
``_home`` (a row for a home ``EU`` or ``outside`` of it; blank for any), ``_scope`` (``import`` rows are not
written for the home country itself, ``abroad`` rows for no part of it, ``keeping`` rows are), ``_text_of``
(the day of the source's text; blank where it has none or was not read) and ``_basis`` (what was read of it).
"""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from shipping.tables.cells import BadCell, WordParser, parse_country
from shipping.tables.checks.as_published import Cells, starter_rows
from shipping.tables.countries import country_mend, is_country, main_language_of, money_of
from shipping.tables.files.csv_file import defused
from shipping.tables.files.whole_file import write_file
from shipping.tables.rows.rules import NEVER, is_of_coming_home
from shipping.tables.rows.settings import LETTER_PAPER, parse_subdivision
from shipping.tables.shelf import TABLE_BY_NAME, TABLES
from shipping.tables.typed_days import days_at
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import LANGUAGES, say
from shipping.words.units import shipped_folder

#: Words in the starter's place columns that stand for countries.
HOME_WORD = "HOME"


@dataclass(frozen=True, slots=True)
class ShelfColumn:
    """One column of a table: ``words`` are those its cells may hold (none where they are free)."""

    name: str
    required: bool
    kind: Literal["text", "whole", "number", "day"]
    words: tuple[str, ...]
    hint: str

    @property
    def note(self) -> str:
        """The hint, and whether a cell may be blank."""
        return f"{self.hint} (needed)".strip() if self.required else self.hint


@dataclass(frozen=True, slots=True)
class StarterTable:
    """One table of a new shelf: its columns, and its rows as text, each as wide as the columns."""

    name: str
    columns: tuple[ShelfColumn, ...]
    rows: tuple[tuple[str, ...], ...]


#: Columns of names that stand on papers: a new shelf has them in the language of its home.
_NAMES = frozenset({"service", "packing", "box"})


def starter_columns(table: str) -> tuple[ShelfColumn, ...]:
    """The columns of a table, in the order of its row model, with their hints."""
    hints = {row["column"]: row["hint"] for row in starter_rows("hints") if row["table"] == table}
    fields = TABLE_BY_NAME[table].fields
    return tuple(_column(table, name, field, hints) for name, field in fields.items())


def _column(table: str, name: str, field: FieldInfo, hints: dict[str, str]) -> ShelfColumn:
    types = TABLE_BY_NAME[table].kinds[name]
    words = tuple(word for each in types if get_origin(each) is Literal for word in get_args(each))
    parsers = [getattr(part, "func", None) for part in field.metadata]
    words = words or tuple(word for each in parsers if isinstance(each, WordParser) for word in each.words)
    if bool in types:
        words = ("yes", "no")
    kind: Literal["text", "whole", "number", "day"] = "text"
    if date in types:
        kind = "day"
    elif int in types:
        kind = "whole"
    elif types & {float, Decimal}:
        kind = "number"
    return ShelfColumn(name, field.is_required(), kind, words, hints.get(name, ""))


def starter_tables(home_country: str, today: date, subdivision: str = "") -> tuple[StarterTable, ...]:
    """All tables of a new shelf for a breeder who hands over in ``home_country``."""
    zones = {row["zone"]: tuple(row["countries"].split()) for row in starter_rows("zones")}
    rows = {
        "zones": [  # without the home country, so that what is said of abroad is not said of home
            {**row, "countries": " ".join(code for code in row["countries"].split() if code != home_country)}
            for row in starter_rows("zones")
        ],
        "rules": [_home_rule(home_country), *_rules(home_country, subdivision, zones, today)],
    }
    language = home_language(home_country)
    names = {row["en"]: row[language] for row in starter_rows("names")}
    for name in ("species", "services", "postage", "packings", "boxes"):
        suiting = (row for row in starter_rows(name) if _suits(row, home_country, zones))
        at_home = ({**row, "to": home_country} if row.get("to") == HOME_WORD else row for row in suiting)
        rows[name] = [{**row, **{key: names[row[key]] for key in _NAMES & row.keys()}} for row in at_home]
    tables = []
    for table in TABLES:
        columns = starter_columns(table.name)
        of_table = rows.get(table.name, [])
        cells = tuple(tuple(row.get(column.name, "") for column in columns) for row in of_table)
        tables.append(StarterTable(table.name, columns, cells))
    return tuple(tables)


def _suits(row: Cells, home: str, zones: dict[str, tuple[str, ...]]) -> bool:
    """Is a starter row meant for a breeder at this home?"""
    return row.get("_home", "") in ("", "EU" if home in zones["EU"] else "outside")


#: The source of the starter's rule of home, which the breeder asks.
NOT_ASKED = "the authority for animals at home, not asked yet"


def _home_rule(home: str) -> dict[str, str]:
    return {
        "to": home,
        "taxon": "*",
        "verdict": "ask",
        "source": NOT_ASKED,
        "checked_on": NEVER.isoformat(),
        "note": "ask what may be kept, sold and posted at home, and what may leave the country; not read;"
        " verify before use",
    }


def _rules(
    home: str, subdivision: str, zones: dict[str, tuple[str, ...]], today: date
) -> Iterator[dict[str, str]]:
    """The starter's rules for this home with their days; a zone's ban by its countries, whose rows win."""
    for row in starter_rows("rules"):
        if not _suits(row, home, zones) or is_of_coming_home(row, home, subdivision):
            continue
        keeping = (place for name in row["to"].split() for place in zones.get(name, (name,)))
        to = " ".join(keeping) if row["_scope"] == "keeping" else row["to"]
        note = f"{row['note']}; {row['_basis']}; verify before use"
        day = min(row["_text_of"] or NEVER.isoformat(), today.isoformat())
        yield {**row, "to": to, "checked_on": day, "note": note}


def write_shelf(
    folder: Path,
    home_country: str,
    subdivision: str,
    today: date,
    workbook: bool = False,
    fish: Collection[str] | None = None,
) -> tuple[Path, ...]:
    """The files written: every table with its header and hints, and ``shelf.toml``; nothing is ever
    overwritten.

    With ``workbook`` the tables are the sheets of one ``shelf.xlsx``, else a CSV file each. Rules have been
    looked up on the day they name, or stand there to be looked up: every one says "verify before use".
    ``fish``: only these species, by their keys; all where None. Raises ShelfProblems if the folder already
    holds a shelf, or the home country is no country code.
    """
    country, part = _home(home_country, subdivision)
    _refuse_to_overwrite(folder)
    tables = tuple(_with_fish(table, fish) for table in starter_tables(country, today, part))
    folder.mkdir(parents=True, exist_ok=True)
    settings = _as_at_home(settings_text(country, part), country, today)
    contents = {"shelf.toml": settings.encode()}
    if workbook:
        from shipping.tables.editing.starter_book import book_bytes

        contents["shelf.xlsx"] = book_bytes(tables, today)
    else:
        separator = separator_at(country)
        contents |= {f"{table.name}.csv": csv_text(table, separator).encode("utf-8-sig") for table in tables}
    written: list[Path] = []
    try:
        for name, content in contents.items():
            write_file(folder / name, content)
            written.append(folder / name)
    except ShelfProblems:  # a shelf that lacks tables would be in the way of the next try
        for path in written:
            path.unlink(missing_ok=True)
        raise
    return tuple(written)


def _home(home_country: str, subdivision: str) -> tuple[str, str]:
    part = parse_subdivision(subdivision)
    try:
        if not re.fullmatch(r"[A-Z0-9]{0,3}", part):
            text = say("'{cell}' is not a subdivision", subdivision)
            raise BadCell(text, "Write its ISO 3166-2 code, such as GB-ENG.")
        country = parse_country(home_country)
        if not is_country(country):
            text = say("'{country}' is no country of ISO 3166", home_country)
            raise BadCell(text, country_mend(country, []))
        return country, part
    except BadCell as bad:
        problem = Problem(Where("question"), "--home", "bad-cell", say("{text}.", bad.text), bad.mend)
        raise ShelfProblems((problem,)) from None


def _with_fish(table: StarterTable, fish: Collection[str] | None) -> StarterTable:
    """The table of species with only those chosen; any other as it is."""
    if fish is None or table.name != "species":
        return table
    return StarterTable(table.name, table.columns, tuple(row for row in table.rows if row[0] in fish))


def _refuse_to_overwrite(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        text = say("{folder} is a file, not a folder.", folder)
    else:
        ours = {"shelf.toml", "shelf.xlsx", "shelf.ods", "ledger.sqlite"}
        ours |= {f"{table.name}.csv" for table in TABLES}
        there = sorted(ours.intersection(os.listdir(folder))) if folder.is_dir() else []
        if not there:
            return
        text = say("{folder} already holds {found}; nothing was written.", folder, ", ".join(there))
    raise ShelfProblems((Problem(Where(str(folder)), "", "not-empty", text, "Name a new or empty folder."),))


def settings_text(country: str, subdivision: str) -> str:
    """The text of ``shelf.toml``: every key, those with a default as comments."""
    template = (shipped_folder("templates") / "starter" / "shelf.toml").read_text(encoding="utf-8")
    return template.format(country=country, subdivision=subdivision)


def _as_at_home(text: str, country: str, today: date) -> str:
    """The text of a ``shelf.toml`` with money, language, order of days and paper of a home with others."""
    for money in money_of(country, today, today)[:1]:
        text = text if money == "EUR" else _with_own(text, "currency", f'"{money}"')
    if (language := home_language(country)) != "en":
        text = _with_own(text, "languages", f'["{language}", "en"]')
    if order := days_at(country)[0]:
        text = _with_own(text, "dates", f'"{order}"')
    return _with_own(text, "paper", '"letter"') if country in LETTER_PAPER else text


def _with_own(text: str, key: str, value: str) -> str:
    """The starter's settings with a default that stands in a comment set in its place."""
    return re.sub(rf"(?m)^# {key} = .*?(  +#.*)?$", rf"{key} = {value}\1", text, count=1)


def home_language(country: str) -> str:
    """The language that papers and page of a new shelf begin with: the home's, if they are worded in it."""
    language = main_language_of(country)
    return language if language in LANGUAGES else "en"


def separator_at(country: str) -> str:
    """What spreadsheets of a country part the cells of a CSV file by: a semicolon where its numbers have
    decimal commas (Unicode CLDR), else a comma.
    """
    from babel import Locale, UnknownLocaleError

    try:
        locale = Locale.parse(f"{main_language_of(country)}_{country}")
    except (UnknownLocaleError, ValueError):
        return ","
    symbols = locale.number_symbols.get("latn", {})
    return ";" if symbols.get("decimal") == "," else ","


def csv_text(table: StarterTable, separator: str = ",") -> str:
    """A table as text: header, a comment line a hint, rows; beside semicolons numbers have decimal commas."""
    if separator == ";":
        is_number = [column.kind == "number" for column in table.columns]
        rows = (zip(row, is_number, strict=True) for row in table.rows)
        with_commas = (
            tuple(cell.replace(".", ",") if number else cell for cell, number in row) for row in rows
        )
        table = replace(table, rows=tuple(with_commas))
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    writer.writerow([column.name for column in table.columns])
    for column in table.columns:
        if column.note:
            out.write(f"# {column.name}: {column.note}\n")
    writer.writerows([[defused(cell, separator) for cell in row] for row in table.rows])
    return out.getvalue()
