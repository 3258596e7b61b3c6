"""The pages of dropped sheets: files in; what they are, which column is what, and the shelf with them out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeVar

from flask import Response, abort, request
from pydantic import ValidationError

from shipping.tables.cells import BadCell
from shipping.tables.files.csv_file import OLD_ENCODINGS
from shipping.tables.files.sheet import Unreadable
from shipping.tables.mapped_orders.mapped_sheet import mapped_orders, unknown_fish
from shipping.tables.mapped_orders.mapping import ADDRESS, PACKS, PRICE_EACH, WISH, MappedSheet
from shipping.tables.mapped_orders.proposal import Proposal, known_mapping, proposal
from shipping.tables.mapped_orders.their_header import must_be_read
from shipping.tables.reader import fish_and_rules
from shipping.tables.shelf import ORDER_COLUMNS, TABLE_BY_NAME
from shipping.words.problems import Answer, Problem, ShelfProblems, Where
from shipping.words.sentence import Sentence, say
from shipping.worktop.context import Refused, View, go_to, plain_problem, refusing, typed
from shipping.worktop.dropped_sheets import (
    Taking,
    Tried,
    is_of_orders,
    table_meant,
    take,
    titles_of,
    tried,
)
from shipping.worktop.page_language import tr
from shipping.worktop.table_words import SHEET_BY_TABLE, SHEETS, label_of

#: So many rows are shown as read, and so many mistakes.
_ROWS_SHOWN, _MISTAKES_SHOWN = 5, 8
#: What their columns may be beside those of orders.
_MORE_COLUMNS = {
    WISH: "How many and of what, in one cell",
    PACKS: "How many packs",
    PRICE_EACH: "Price of one",
    ADDRESS: "The whole address, in one cell",
}
#: Columns that no shop's sheet has; a mapping typed by hand may name them.
_RARE = frozenset(
    ["local_1", "local_2", "local_3", "local_4", "delivery_4", "instead", "overpack", "parts", "importer_ref"]
)
#: Columns that may be the same on every row of a sheet that lacks them.
_ALWAYS = ("country", "species", "eggs", "placed_on", "language")
_READING = {
    "dates": {"day first": "the day stands first", "month first": "the month stands first"},
    "decimals": {"point": "12.5 with a point", "comma": "12,5 with a comma"},
    "encoding": OLD_ENCODINGS,
}
_ORDERS_OF_DAYS: Mapping[str, Literal["dmy", "mdy"]] = {"day first": "dmy", "month first": "mdy"}
_DECIMALS: Mapping[str, Literal["point", "comma"]] = {"point": "point", "comma": "comma"}
_LONGEST = 200
T = TypeVar("T")


@dataclass(frozen=True)
class SeenSheet:
    """One sheet as it is understood so far: what it would be taken as, and what is still to be asked."""

    name: str
    taking: Taking | None = None
    proposed: Proposal | None = None
    rows: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    asks_of_days: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def header(self) -> tuple[str, ...]:
        return self.proposed.header if self.proposed else ()


class DroppedPage(View):
    """Sheets that a breeder keeps already: orders of a shop, or tables like ours."""

    pages = (("/sheets", "sheets"), ("/sheets/<name>", "sheet"))
    forms = (("/sheets", "drop_sheets"), ("/sheets/<name>", "take_sheet"))

    def sheets(self, trouble: str = "", status: int = 200) -> Response:
        return self.worktop.page("sheets.html", status, waiting=self.worktop.dropped.names(), trouble=trouble)

    def drop_sheets(self) -> Response:
        try:
            with refusing("Not read: {why}", 422):
                names = self.worktop.put_dropped()
        except Refused as refused:
            return self.sheets(refused.said, refused.status)
        if not names:
            return self.sheets(tr("Nothing was dropped. Choose a file first."), 422)
        return go_to(f"/sheets/{names[0]}")

    def _path_of(self, name: str) -> Any:
        if name not in self.worktop.dropped.names():
            abort(404)
        return self.worktop.dropped.folder / name

    # -- looking

    def sheet(self, name: str) -> Response:
        return self._page(self._looked_at(name), None, "")

    def _reading(self) -> dict[str, str]:
        """Answers about days, decimals and letters, as far as the form gives any."""
        return {
            key: value for key, words in _READING.items() if (value := request.form.get(key, "")) in words
        }

    def _looked_at(self, name: str) -> SeenSheet:
        path, answered = self._path_of(name), self._reading()
        species, rules, kept = fish_and_rules(self.shelf_state.folder)
        rules = rules.model_copy(update=answered)
        new = {key: value for key, value in answered.items() if key == "encoding"}
        try:
            known = known_mapping(self.shelf_state.folder, path, rules.encoding)
            tab = typed("tab") or (known.tab if known else "") or _tab_first(titles_of(path))
            table = request.form.get("what", "")
            if "what" not in request.form:
                table = table_meant(path, rules.encoding, tab)
            if table in TABLE_BY_NAME:
                always = _always_said(TABLE_BY_NAME[table].columns)
                taking = Taking(path, table, None, answered, always, tab)
                shown = (", ".join(row.values()) for row in taking.rows[:_ROWS_SHOWN])
                return SeenSheet(name, taking, rows=tuple(shown))
            found = proposal(path, species, rules, kept, tab)
        except Unreadable as broken:
            return SeenSheet(name, problems=(broken.problem,))
        except ShelfProblems as broken:
            return SeenSheet(name, problems=broken.problems)
        try:
            mapped = self._mapped(found, known if known and known.tab == tab else None)
        except ValidationError as wrong:
            cause = wrong.errors()[0].get("ctx", {}).get("error")
            text, mend = (
                (say("{text}.", cause.text), cause.mend)
                if isinstance(cause, BadCell)
                else (f"{wrong.errors()[0]['msg']}.", tr("Write it otherwise."))
            )
            problem = Problem(Where(name), "", "form", text, mend)
            return SeenSheet(name, None, found, (), found.asks, found.asks_of_days, (), (problem,))
        here = mapped.model_copy(update={"file": name})
        read = mapped_orders(path.parent, here, species, rules, kept)
        rows = (
            ", ".join(str(value) for value in row.model_dump(exclude_defaults=True, exclude={"at"}).values())
            for row in read.rows[:_ROWS_SHOWN]
        )
        asks_of_days = found.asks_of_days if mapped.dates is None else ()
        used = {*mapped.leave_out, *(header for headers in mapped.columns.values() for header in headers)}
        asks = tuple(one for one in found.asks if not (isinstance(one, Sentence) and used & set(one.values)))
        unknown = unknown_fish(path.parent, here, species, rules, kept)
        taking = Taking(path, "", mapped, new)
        return SeenSheet(name, taking, found, tuple(rows), asks, asks_of_days, unknown, read.problems)

    def _mapped(self, found: Proposal, known: MappedSheet | None) -> MappedSheet:
        """The mapping of the form; of a sheet seen for the first time the one known, else the guess."""
        file = _file_in_shelf(found.mapped.file)
        if request.form.get("columns") != (found.mapped.tab or "1"):  # none, or those of another page
            return known or found.mapped.model_copy(update={"file": file})
        columns: dict[str, tuple[str, ...]] = {}
        for n, header in enumerate(found.header):
            column = request.form.get(f"c{n}", "")
            if column in ORDER_COLUMNS or column in _MORE_COLUMNS:
                columns[column] = (*columns.get(column, ()), header)
        used = {header for headers in columns.values() for header in headers}
        left: dict[str, tuple[str, ...]] = {
            header: () for header in found.header if header not in used and must_be_read(header)
        }
        if (header := request.form.get("out", "")) in found.header and request.form.get("out_words"):
            left[header] = tuple(word.strip() for word in typed("out_words").split(";") if word.strip())
        said: Any = {"prefix": value} if (value := typed("prefix")) else {}
        return MappedSheet(
            **said,
            tab=found.mapped.tab,
            file=known.file if known else file,
            dates=_chosen("dates", _ORDERS_OF_DAYS),
            decimals=_chosen("decimals", _DECIMALS),
            columns=columns,
            always=_always_said(_ALWAYS),
            names={**(dict(known.names) if known else {}), **_names_answered()},
            countries=dict(known.countries) if known else {},
            leave_out=left,
        )

    # -- doing

    def take_sheet(self, name: str) -> Response:
        do = request.form.get("do", "")
        self._path_of(name)
        if any(len(value) > _LONGEST for value in request.form.values()):
            return self._page(
                self._looked_at(name), None, tr("A text is longer than {most} letters.", most=_LONGEST), 422
            )
        if do == "leave":
            self.worktop.dropped.leave(name)
            return self.worktop.told_at(
                "/sheets", tr("Nothing was taken; {name} is left as it is.", name=name)
            )
        look = self._looked_at(name)
        if look.taking is None or do not in ("take", "take-changes"):
            return self._page(look, None, "")
        if look.taking.table and set(look.taking.lacking) - look.taking.always.keys():
            return self._page(look, None, tr("Not taken yet; nothing was written."), 409)
        shelf_state = self.shelf_state
        with shelf_state.lock, shelf_state.ledger() as ledger:
            would = tried(shelf_state.folder, self.worktop.today, ledger, look.taking)
            if would.errors or (would.changes and do != "take-changes"):
                return self._page(look, would, tr("Not taken yet; nothing was written."), 409)
            shelf_state.close()
            done = take(shelf_state.folder, self.worktop.today, look.taking)
        said = f"{tr(done)}\n{look.taking.written_to}"
        self.worktop.dropped.leave(name)
        waiting = self.worktop.dropped.names()
        return self.worktop.told_at(f"/sheets/{waiting[0]}" if waiting else "/", said)

    def _page(self, look: SeenSheet, would: Tried | None, trouble: str, status: int = 200) -> Response:
        problems = (
            *(would.errors if would else ()),
            *(one for one in look.problems if one.code != "left-out"),
        )
        mapped = look.taking.mapped if look.taking else look.proposed.mapped if look.proposed else None
        columns = {
            header: column for column, said in (mapped.columns if mapped else {}).items() for header in said
        }
        species, *_ = fish_and_rules(self.shelf_state.folder)
        path = self.worktop.dropped.folder / look.name
        table = look.taking.table if look.taking else request.form.get("what", "")
        lacks = look.taking.lacking if look.taking and table else ()
        return self.worktop.page(
            "sheet.html",
            status,
            look=look,
            trouble=trouble,
            table=table,
            table_name=tr(SHEET_BY_TABLE[table].name) if table in SHEET_BY_TABLE else table,
            tab=look.taking.tab if look.taking and table else mapped.tab if mapped else "",
            mapped=mapped,
            columns=columns,
            choices=[(name, label_of(name)) for name in ORDER_COLUMNS if name not in _RARE]
            + list(_MORE_COLUMNS.items()),
            always_said=look.taking.always if look.taking and table else mapped.always if mapped else {},
            sheets=SHEETS,
            titles=titles_of(path),
            species=[(row.species, row.scientific_name or row.species) for row in species],
            questions=_questions(problems),
            lacking=_lacking(mapped) or [_said_short(name) for name in lacks],
            called=[_said_short(name) for name in TABLE_BY_NAME[table].columns] if lacks else (),
            always=[(name, label_of(name)) for name in (lacks if table else _ALWAYS)],
            changes=[plain_problem(one) for one in (would.changes if would else ())],
            mistakes=[plain_problem(_mended_here(one)) for one in problems[:_MISTAKES_SHOWN]],
            more=max(0, len(problems) - _MISTAKES_SHOWN),
            reading=_READING,
            typed=request.form,
            waiting=[name for name in self.worktop.dropped.names() if name != look.name],
        )


def _mended_here(problem: Problem) -> Problem:
    """The problem with what mends it on this page, where the file of the mapping does elsewhere."""
    if "[sheet." not in problem.mend:
        return problem
    return replace(problem, mend=tr("Say below what is meant, and read it again."))


def _chosen(name: str, words: Mapping[str, T]) -> T | None:
    """What is meant by the word chosen in a form, None where none is."""
    return words.get(request.form.get(name, ""))


def _tab_first(titles: list[str]) -> str:
    """The sheet of a workbook that is looked at first: of several the orders, else the first."""
    return next(filter(is_of_orders, titles), titles[0]) if len(titles) > 1 else ""


def _always_said(columns: Iterable[str]) -> dict[str, str]:
    """What the form says that columns hold on every row."""
    return {name: value for name in columns if (value := typed(f"always-{name}"))}


def _names_answered() -> dict[str, str]:
    """Their words for fish, and which fish of ours each is, with its population where one was typed."""
    found = {}
    for n in range(_LONGEST):
        if not (word := typed(f"word-{n}")):
            break
        if species := typed(f"meant-{n}"):
            population = typed(f"population-{n}")
            found[word] = f"{species}/{population}" if population else species
    return found


def _file_in_shelf(name: str) -> str:
    """What a shop's sheet is called in the shelf: never like a table of ours."""
    stem = name.rpartition(".")[0].casefold()
    return f"shop-{name}" if stem in TABLE_BY_NAME or stem in ("shelf", "orders.seen") else name


def _questions(problems: tuple[Problem, ...]) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """What is asked once for all cells: the key, the question, and the answers that fit."""
    questions: dict[str, tuple[str, str, list[tuple[str, str]]]] = {}
    for problem in problems:
        answers = [answer for answer in problem.answers if answer.key in _READING]
        for key in [answer.key for answer in answers[:1]]:
            questions.setdefault(key, (key, tr(problem.text), [_worded(answer) for answer in answers]))
    return list(questions.values())


def answer_words(answer: Answer) -> str:
    """What stands on the button that gives an answer."""
    return tr("It is right as it stands") if answer.key == "meant" else tr(_worded(answer)[1])


def _worded(answer: Answer) -> tuple[str, str]:
    return answer.value, _READING[answer.key].get(answer.value, answer.value)


def _said_short(column: str) -> str:
    return tr(label_of(column)).partition(",")[0]


def _lacking(mapped: MappedSheet | None) -> list[str]:
    """What an order needs and no column gives."""
    if mapped is None:
        return []
    have = {*mapped.columns, *mapped.always}
    needed = ["order", "placed_on", "addressee", "country"]
    needed += [] if WISH in have else ["species", "eggs"]
    return [tr(label_of(name)) for name in needed if name not in have]
