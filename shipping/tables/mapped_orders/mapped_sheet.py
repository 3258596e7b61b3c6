"""A sheet of other headers and its mapping in, a Sheet of orders out; the sheet itself is never changed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Literal

from shipping.tables.cells import as_text, eggs_within, numbers_meant, shortened
from shipping.tables.cells_as_typed import ReadAs, is_parted
from shipping.tables.checks.orders import is_a_sum
from shipping.tables.countries import codes_named
from shipping.tables.files.csv_file import bytes_of, is_there, sheet_from_csv
from shipping.tables.files.settings_reader import MAP_FILE
from shipping.tables.files.sheet import MOST_COLUMNS, BadSource, Sheet, Unreadable, notice, unreadable
from shipping.tables.files.workbook import sheets_of_book, titles_of_book
from shipping.tables.mapped_orders import combined_cells, mapping
from shipping.tables.mapped_orders.sheet_doubts import (
    NOT_YET,
    Doubts,
    UnreadCells,
    header_doubts,
    name_doubts,
    price_doubts,
)
from shipping.tables.mapped_orders.their_header import Places, places_of
from shipping.tables.one_spelling import FishNames, fish_names
from shipping.tables.row_reader import TableRows, read_rows, rows_named
from shipping.tables.rows.orders import FillFromFirstRow
from shipping.tables.rows.settings import ReadingRules
from shipping.tables.rows.species import Species
from shipping.tables.shelf import TABLE_BY_NAME
from shipping.tables.spelling import did_you_mean, folded_place, is_slip_of, nearest
from shipping.tables.typed_days import days_meant
from shipping.words.problems import Problem, Where
from shipping.words.sentence import either, say
from shipping.words.units import many

ORDERS = TABLE_BY_NAME["orders"]
_A_DATE = re.compile(
    r"([0-9]{1,4})[./ -]([0-9]{1,2})[./ -]([0-9]{1,4})(?:[ T,]+[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?.*)?"
)
_PACKS_OF = re.compile(r"([0-9]{1,3})\s*[x×*]\s*([0-9]{1,4})(?:\s*[x×*])?\s+(\S.*)")
_ISO_TIME = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[ T][0-9]{2}:[0-9]{2}.*")


@dataclass
class _Translation:
    """What gathers while one sheet is translated."""

    mapped: mapping.MappedSheet
    names: Mapping[str, str]
    doubts: Doubts
    fish: FishNames = field(default_factory=lambda: FishNames({}))
    places: Places = field(default_factory=lambda: Places({}, {}))
    left_out: list[int] = field(default_factory=list)
    footer: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    of_other_money: list[Problem] = field(default_factory=list)
    read_as: dict[str, ReadAs] = field(default_factory=dict)
    unknown_fish: dict[str, None] = field(default_factory=dict)
    placed_on: dict[str, object] = field(default_factory=dict)
    perhaps_parted: list[tuple[int, Problem]] = field(default_factory=list)
    narrowest: int = MOST_COLUMNS

    def label(self, column: str) -> str:
        """Our column and, in brackets, their header."""
        headers = self.mapped.columns.get(column)
        if not column:
            return ""
        return f"{column} ('{' + '.join(headers)}')" if headers else f"{column} ({MAP_FILE})"

    def problem(self, row: int, column: str, code: str, text: str, mend: str) -> None:
        self.problems.append(Problem(Where(self.mapped.source, row), self.label(column), code, text, mend))

    def note(self, row: int, column: str, written: str, read: str) -> None:
        """Keep what was read as something else: the first of a column, and of wishes each wording once."""
        key = f"{column} {written}" if column == mapping.WISH else column
        where = Where(self.mapped.source, row)
        self.read_as.setdefault(key, ReadAs(where, self.label(column), written, read))


def mapped_orders(
    folder: Path,
    mapped: mapping.MappedSheet,
    species: tuple[Species, ...],
    rules: ReadingRules | None = None,
    kept: combined_cells.KeptFish = frozenset(),
    currency: str = "",
) -> TableRows:
    """The rows of orders in one mapped sheet, with every problem of its header and cells."""
    meant = rules.meant if rules else ()
    work = _Translation(
        mapped,
        combined_cells.names_of_fish(mapped, species, kept),
        Doubts(mapped, meant, currency),
        fish_names(species),
    )
    try:
        sheet = open_mapped(folder, mapped, rules.encoding if rules else None)
        rows = list(_translated(work, sheet))
    except Unreadable as broken:
        return TableRows(ORDERS, mapped.source, problems=(*work.problems, broken.problem))
    work.problems += name_doubts(work.doubts, kept)
    header = _our_columns(mapped)
    of_a_wish = _wish_columns(mapped)
    ours = Sheet(
        mapped.source,
        iter([(1, list[object](header)), *rows]),
        separator=sheet.separator,
        notices=(*sheet.notices, *work.problems, *_left_out(work)),
        labels={column: work.label(mapping.WISH if column in of_a_wish else column) for column in header},
    )
    read = read_rows(ORDERS, ours, FillFromFirstRow(), _rules(mapped, rules))
    return replace(read, read_as=(*work.read_as.values(), *read.read_as), form=_form(mapped))


def unknown_fish(
    folder: Path,
    mapped: mapping.MappedSheet,
    species: tuple[Species, ...],
    rules: ReadingRules | None = None,
    kept: combined_cells.KeptFish = frozenset(),
) -> tuple[str, ...]:
    """Their words for fish that no name explains, each once; none where the sheet cannot be read."""
    work = _Translation(mapped, combined_cells.names_of_fish(mapped, species, kept), Doubts(mapped, ()))
    try:
        sum(1 for _ in _translated(work, open_mapped(folder, mapped, rules.encoding if rules else None)))
    except Unreadable:
        return ()
    return tuple(work.unknown_fish)


def orders_named(folder: Path, mapped: mapping.MappedSheet, encoding: str | None = None) -> tuple[str, ...]:
    """The number of every order in a sheet, of rows that are left out too; none where it cannot be read."""
    work = _Translation(mapped, {}, Doubts(mapped, ()))
    between = mapped.between.get("order", mapped.between.get("", " "))
    try:
        sheet = open_mapped(folder, mapped, encoding)
        places = places_of(mapped, sheet).columns.get("order", ())
        cells = (
            _joined([row[place] for place in places if place < len(row)], between) for _, row in sheet.rows
        )
        read = (
            as_text(_read(work, 0, "order", cell)) for cell in cells if isinstance(cell, str | int | float)
        )
        return tuple(dict.fromkeys(mapped.prefix + name for name in read))
    except Unreadable:
        return ()


def _left_out(work: _Translation) -> Iterator[Problem]:
    """The rows that the mapping leaves out, in one sentence."""
    if work.left_out:
        rows = rows_named(work.left_out)
        text = say("{rows} are left out by [sheet.leave_out].", rows)
        if len(work.left_out) == 1:
            text = say("{row} is left out by [sheet.leave_out].", rows)
        yield notice(work.mapped.source, work.left_out[0], "", "left-out", text)
    if work.footer:
        text = "this row and what follows names no fish: it is taken for the sheet's foot, and not read."
        yield notice(work.mapped.source, work.footer[0], "", "left-out", text)


def _rules(mapped: mapping.MappedSheet, rules: ReadingRules | None) -> ReadingRules:
    """How days and numbers are read here: as the mapping says, else as the shelf does."""
    days: dict[str, Literal["day first", "month first"]] = {"dmy": "day first", "mdy": "month first"}
    said = rules or ReadingRules()
    return ReadingRules(
        dates=days.get(mapped.dates or "", said.dates), decimals=mapped.decimals or said.decimals
    )


def _form(mapped: mapping.MappedSheet) -> str:
    """What the sheet was taken for, in words."""
    days = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}.get(mapped.dates or "", "as usual")
    return f"by {MAP_FILE}, dates {days}, decimal {mapped.decimals or 'as usual'}"


def open_mapped(folder: Path, mapped: mapping.MappedSheet, encoding: str | None = None) -> Sheet:
    """The sheet of a mapping, opened. Raises Unreadable if it is not there, or cannot be read."""
    path = folder / mapped.file
    if not is_there(path):
        mend = say("Put it in the folder, or mend {file}.", MAP_FILE)
        raise unreadable(mapped.source, 0, "no-table", "is missing.", mend)
    if mapped.file.casefold().endswith((".csv", ".txt", ".tsv")):
        return sheet_from_csv(path, comments=False, encoding=encoding)
    data = bytes_of(path, mapped.source)
    titles = titles_of_book(data, mapped.source)
    title = mapped.tab or (titles[0] if titles else "")
    if title not in titles:
        mend = did_you_mean(title, titles, say("Its sheets are {titles}.", ", ".join(titles)))
        raise unreadable(mapped.source, 0, "no-table", say("has no sheet '{title}'.", title), mend)
    sheet = sheets_of_book(data, mapped.file, {title: title}, comments=False)[title]
    if isinstance(sheet, Unreadable):
        raise sheet
    return sheet


def _wish_columns(mapped: mapping.MappedSheet) -> tuple[str, ...]:
    return ("species", "population", "eggs") if mapping.WISH in mapped.columns else ()


def _our_columns(mapped: mapping.MappedSheet) -> list[str]:
    """The columns of orders that the mapping fills, in the order of the table."""
    filled = {*mapped.columns, *mapped.always, *_wish_columns(mapped)}
    filled |= {"population"} if "species" in mapped.columns else set()
    filled |= set(mapping.ADDRESS_COLUMNS) if mapping.ADDRESS in mapped.columns else set()
    filled |= {"price"} if mapping.PRICE_EACH in mapped.columns else set()
    return [column for column in ORDERS.columns if column in filled]


def _translated(work: _Translation, sheet: Sheet) -> Iterator[tuple[int, list[object]]]:
    """Rows of our columns; a wish of several fish is several rows with one row number."""
    work.places = places_of(work.mapped, sheet)
    work.problems += header_doubts(work.doubts, work.places.number, work.places.unread)
    columns = _our_columns(work.mapped)
    unread = UnreadCells(work.doubts, work.places, work.names)
    for number, cells in _without_footer(work, _without_headers(work, sheet.rows)):
        if _is_left_out(work, number, cells):
            work.left_out.append(number)
            continue
        unread.look(number, cells)
        for line in _lines_of_row(work, number, cells):
            yield number, [line.get(column) for column in columns]
    work.problems += unread.problems()
    work.problems += [parted for width, parted in work.perhaps_parted if width > work.narrowest]


def _without_headers(
    work: _Translation, rows: Iterator[tuple[int, list[object]]]
) -> Iterator[tuple[int, list[object]]]:
    """The rows but for headers that stand again below, each with the title above it, which are said."""
    title: tuple[int, list[object]] | None = None
    for number, cells in rows:
        if work.places.is_header(cells):
            again = [*([title[0]] if title else []), number]
            text = say("{rows} hold the header again, and are not read.", rows_named(again))
            if not title:
                text = say("{row} is the header again, and is not read.", rows_named(again))
            work.problems.append(notice(work.mapped.source, number, "", "left-out", text))
            title = None
            continue
        if title:
            yield title
        title = (number, cells) if sum(_holds(cells, place) for place in range(len(cells))) == 1 else None
        if not title:
            yield number, cells
    if title:
        yield title


def _lines_of_row(work: _Translation, number: int, cells: list[object]) -> Iterator[dict[str, object]]:
    """What a row says in our terms, line by line; nothing where it cannot be told, which is said."""
    if any(as_text(cell) for cell in cells[len(work.places.header) :] if cell is not None):
        text = "has more cells than the header."
        mend = "Put quotes round a cell that holds the separator, or remove the cell."
        work.problem(number, "", "too-many-cells", text, mend)
        return
    work.narrowest = min(work.narrowest, len(cells))
    if len(cells) > len(work.places.header):
        work.perhaps_parted += _parted_prices(work, number, cells)
    ours: dict[str, object] = dict(work.mapped.always)
    for column, places in work.places.columns.items():
        between = work.mapped.between.get(column, work.mapped.between.get("", " "))
        value = _joined([cells[place] for place in places if place < len(cells)], between)
        if value is not None:
            if column in ("price", mapping.PRICE_EACH) and isinstance(value, str):
                _ask_about_money(work, number, column, value)
            ours[column] = (
                value if column in (mapping.WISH, mapping.ADDRESS) else _read(work, number, column, value)
            )
    if "order" in ours and work.mapped.prefix:
        ours["order"] = work.mapped.prefix + as_text(ours["order"])
    _with_payment(work, number, ours)
    if not _with_address(work, number, ours):
        return
    _with_population(work, number, ours)
    for line in _lines_of(work, number, ours):
        _count_packs(work, number, line)
        yield line


def _parted_prices(work: _Translation, number: int, cells: list[object]) -> Iterator[tuple[int, Problem]]:
    """Prices that their own comma may have parted into two cells of a longer row; with its width."""
    for column in ("price", mapping.PRICE_EACH):
        for place in work.places.columns.get(column, ()):
            price = ",".join(as_text(cell) for cell in cells[place : place + 2])
            if is_parted(price):
                text = "has more cells than the header."
                value = price.replace(",", ".")
                mend = say("Write {value}; or remove the comma at the end of the row.", value)
                where = Where(work.mapped.source, number)
                yield len(cells), Problem(where, work.label(column), "too-many-cells", text, mend)


#: What a column of yes and no says of a payment. Common usage.
_PAID = re.compile(
    r"y(?:es)?|ja|jo|oui|s[ií]m?|tak|ano|true|x|✓|✔|paid|bezahlt|betalt|betaald|betald|pagad?[oa]|pagato|"
    r"payée?|zaplaceno|zapłacon[eo]|opłacon[eo]",
    re.IGNORECASE,
)


def _with_payment(work: _Translation, number: int, ours: dict[str, object]) -> None:
    """A yes is a payment on the day the order was placed, as no other is known; a no is none."""
    placed_on = work.placed_on.setdefault(as_text(ours.get("order") or ""), ours.get("placed_on"))
    said = ours.get("paid_on")
    text = as_text(said) if isinstance(said, str | int) else ""
    if NOT_YET.fullmatch(text):
        ours["paid_on"] = None
    elif _PAID.fullmatch(text) and placed_on:
        ours["paid_on"] = placed_on
        work.note(number, "paid_on", text, as_text(placed_on))


def _ask_about_money(work: _Translation, number: int, column: str, text: str) -> None:
    """Asks about a price in other money than the shelf's, once a sheet."""
    if not work.of_other_money:
        work.of_other_money += price_doubts(work.doubts, number, work.label(column), text)
        work.problems += work.of_other_money


#: A row at the end that fills no more of the mapped columns, and names no fish, is a total or a remark.
_FOOTER_CELLS = 2


def _without_footer(
    work: _Translation, rows: Iterator[tuple[int, list[object]]]
) -> Iterator[tuple[int, list[object]]]:
    """The rows but for totals and remarks behind the last that names a fish, which are said."""
    fish = work.places.columns.get(mapping.WISH) or work.places.columns.get("species", ())
    mapped = {place for places in work.places.columns.values() for place in places}
    waiting: list[tuple[int, list[object]]] = []
    for number, cells in rows:
        waiting.append((number, cells))
        if not fish or (any(_holds(cells, place) for place in fish) and not _is_sum(work, cells)):
            yield from waiting
            waiting = []
    for number, cells in waiting:
        if sum(_holds(cells, place) for place in mapped) > _FOOTER_CELLS and not _is_sum(work, cells):
            yield number, cells
        else:
            work.footer.append(number)


def _is_sum(work: _Translation, cells: list[object]) -> bool:
    days = work.places.columns.get("placed_on", ())
    is_dated = any(_holds(cells, place) for place in days)
    return not is_dated and any(is_a_sum(as_text(cell)) for cell in cells if cell is not None)


def _holds(cells: list[object], place: int) -> bool:
    """Does the row hold something there?"""
    return place < len(cells) and cells[place] is not None and as_text(cells[place]) != ""


def _is_left_out(work: _Translation, number: int, cells: list[object]) -> bool:
    """Does the row hold a word by which rows are left out? One that holds it within is asked about."""
    for place, words in work.places.leave_out.items():
        text = as_text(cells[place] or "") if place < len(cells) else ""
        said = combined_cells.plain_words(text)
        if said in words:
            return True
        if any(re.search(rf"\b{re.escape(word)}\b", said) for word in words if word):
            told = say("'{text}' holds a word of [sheet.leave_out], and is none of them.", shortened(text))
            mend = say("Add it there in {file}, or write it otherwise.", MAP_FILE)
            work.problem(number, "", "left-out", told, mend)
    return False


def _with_address(work: _Translation, number: int, ours: dict[str, object]) -> bool:
    """Puts the parts of an address in one cell where nothing is mapped; False where it cannot be told."""
    cell = ours.pop(mapping.ADDRESS, None)
    if cell is None or isinstance(cell, BadSource):
        if isinstance(cell, BadSource):
            work.problem(number, mapping.ADDRESS, "spreadsheet-error", cell.text, cell.mend)
        return cell is None
    text = as_text(cell)
    addressee, country = (as_text(ours.get(column) or "") for column in ("addressee", "country"))
    parts = combined_cells.address_parts(text, addressee, country, lambda name: _country_named(work, name))
    if parts is None:
        mend = say(
            "Write the country at its end, or map a column country, or name it below"
            " [sheet.always] or [sheet.countries] in {file}.",
            MAP_FILE,
        )
        told = say("'{text}' does not end with a country that is known.", shortened(text))
        work.problem(number, mapping.ADDRESS, "address-cell", told, mend)
        return False
    work.note(number, mapping.ADDRESS, text, ", ".join(f"{column} {part}" for column, part in parts.items()))
    for column, part in parts.items():
        ours.setdefault(column, part)
    return True


def _country_named(work: _Translation, name: str) -> str | None:
    """The code of a country by the mapping's word or any of its names; None where it is none, or several."""
    codes = codes_named(name)
    return _codes_of(work.mapped).get(combined_cells.plain_words(name)) or (
        codes[0] if len(codes) == 1 else None
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
        text = say("'{beside}' stands beside a name that means '{population}'.", beside, population)
        mend = say("Empty one, or mend [sheet.names] in {file}.", MAP_FILE)
        work.problem(number, "population", "disagree", text, mend)


def _count_packs(work: _Translation, number: int, line: dict[str, object]) -> None:
    """The eggs and the price of so many packs; what is no number is a mistake, and takes the count along."""
    packs, each = line.pop(mapping.PACKS, None), line.pop(mapping.PRICE_EACH, None)
    eggs = _whole(line.get("eggs"))
    count = _whole(packs)
    if mapping.PACKS in work.mapped.columns and eggs is not None:
        if count is None:
            _no_number(work, number, mapping.PACKS, packs, say("a whole number of packs"))
        line["eggs"] = str((1 if count is None else count) * eggs)
        if count is not None:
            eggs_in_all = many(count * eggs, "egg")
            work.note(number, mapping.PACKS, f"{many(count, 'pack')} of {eggs}", eggs_in_all)
    if each is not None:
        prices = numbers_meant(as_text(each)) if not isinstance(each, BadSource) else ()
        if len(prices) != 1:
            _no_number(work, number, mapping.PRICE_EACH, each, say("one amount of money"))
        else:
            times = count if mapping.PACKS in work.mapped.columns else eggs
            line["price"] = str(Decimal(prices[0]) * (times or 1))


def _no_number(work: _Translation, number: int, column: str, cell: object, what: str) -> None:
    if isinstance(cell, BadSource):
        work.problem(number, column, "spreadsheet-error", cell.text, cell.mend)
    elif cell is None:
        work.problem(number, column, "blank", "is blank.", "Write a whole number.")
    else:
        text = as_text(cell)
        meant = [meaning for meaning in numbers_meant(text) if column != mapping.PACKS or meaning.isdigit()]
        mend = say("Write {value}.", either(meant)) if meant else "Write the number in digits."
        work.problem(number, column, "cell", say("'{cell}' is not {what}.", shortened(text), what), mend)


def _whole(value: object) -> int | None:
    """A whole number that text surely means; None where it means none, or several."""
    if value is None or isinstance(value, BadSource):
        return None
    text = as_text(value)
    meant = numbers_meant(text) or tuple(filter(None, (eggs_within(text),)))
    return int(float(meant[0])) if len(meant) == 1 and float(meant[0]).is_integer() else None


def _joined(cells: list[object], between: str) -> object:
    """The cells that hold something, joined; one alone as it is."""
    full = [cell for cell in cells if cell is not None and (isinstance(cell, BadSource) or as_text(cell))]
    if len(full) <= 1 or any(isinstance(cell, BadSource) for cell in full):
        return full[0] if full else None
    return between.join(as_text(cell) for cell in full)


def _read(work: _Translation, number: int, column: str, value: object) -> object:
    """A value in our terms: days in the mapping's order, countries by its words, species by its names."""
    if not isinstance(value, str):
        return value
    text = value.strip()
    read = text
    if column in ORDERS.days:
        sure = days_meant(text)
        read = sure["named"].isoformat() if set(sure) == {"named"} else text
        read = day_in_order(read, work.mapped.dates) if work.mapped.dates else read
    elif column == "order":
        read = re.sub(r"[/\\]", "-", text)
    elif column == "country":
        read = _codes_of(work.mapped).get(combined_cells.plain_words(text), text)
    elif column == "species":
        read = work.names.get(combined_cells.plain_words(text), text)
        if text and combined_cells.plain_words(text) not in work.names:
            work.unknown_fish[text] = None
    elif column in ("eggs", "price") and len(meant := numbers_meant(text)) == 1:
        read = meant[0]
    if read != text:
        work.note(number, column, text, read)
    return read


def _codes_of(mapped: mapping.MappedSheet) -> dict[str, str]:
    """The code of each country by the mapping's word for it."""
    return {combined_cells.plain_words(name): code for name, code in mapped.countries.items()}


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
    if mapping.WISH not in work.mapped.columns:
        yield ours
        return
    wish = ours.pop(mapping.WISH, None)
    wishes = combined_cells.wishes_in(as_text(wish), work.names) if isinstance(wish, str) else []
    if isinstance(wish, BadSource):
        work.problem(number, mapping.WISH, "spreadsheet-error", wish.text, wish.mend)
    elif not wishes:
        work.problem(number, mapping.WISH, "blank", "is blank.", "Write count and name, as 20 x gardneri.")
    price = as_text(ours.get("price") or "")
    if len(wishes) > 1 and price and not any(one.column == work.label("price") for one in work.problems):
        text = say("'{price}' is read as the price of each of {count} lines.", price, len(wishes))
        mend = say("Take price out of {file}, if it is that of all", MAP_FILE)
        where = Where(work.mapped.source, number)
        work.problems += work.doubts.asked(where, work.label("price"), price, text, mend)
    for part in wishes:
        counted = combined_cells.split_wish(part, work.names)
        if counted is None:
            _say_unknown_wish(work, number, part)
            continue
        eggs, meant = counted
        species, _, population = meant.partition("/")
        if part != f"{eggs} {meant}":
            work.note(number, mapping.WISH, part, f"{eggs} {meant}")
        place = {"population": population} if population else {}
        yield ours | {"eggs": str(eggs), "species": species} | place


def _say_unknown_wish(work: _Translation, number: int, wish: str) -> None:
    if written := combined_cells.fish_written(wish):
        work.unknown_fish[written] = None
    named = combined_cells.plain_words(re.sub(r"[^\w'.-]|[0-9]|\bx\b", " ", wish))
    slips = [
        known for known in sorted(work.names) if f" {known} " in f" {named} " or is_slip_of(named, known)
    ]
    mend = say("Add the name below [sheet.names] in {file}.", MAP_FILE)
    if like := nearest(named, slips) or work.fish.likely(named):
        told = (like, MAP_FILE)
        mend = say("Did you mean '{name}'? Else add the name below [sheet.names] in {file}.", *told)
    packs = _PACKS_OF.fullmatch(wish)
    if packs and (name := packs[3].strip()) and combined_cells.plain_words(name) in work.names:
        eggs = int(packs[1]) * int(packs[2])
        mend = say(
            "Write {eggs} x {name}, if {packs} packs of {each} are meant.", eggs, name, packs[1], packs[2]
        )
    text = say("'{part}' is not a count and a known name.", shortened(wish))
    work.problem(number, mapping.WISH, "wish", text, mend)
