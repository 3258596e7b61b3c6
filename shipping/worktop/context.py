"""What all pages share: the shelf_state, the planner, the guard; a page's facts in, an answer out."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import quote

from flask import Flask, Response, abort, make_response, redirect, render_template, request
from markupsafe import Markup, escape

from shipping.ledger.entries import Entry, EntryInWords, Undone, entries_in_words
from shipping.ledger.errors import LEDGER_FILE
from shipping.ledger.ledger import Ledger
from shipping.papers.wording.language import paper_language
from shipping.papers.wording.phrases import orders_in_words
from shipping.tables.cells import BadCell
from shipping.tables.shelf import TABLE_BY_NAME, Shelf
from shipping.words.problems import Problem, ShelfProblems
from shipping.words.sentence import LANGUAGES, Sentence
from shipping.words.units import iso_week, week_days
from shipping.worktop.access import Access
from shipping.worktop.background import Background, Going
from shipping.worktop.dropped_sheets import DropBox
from shipping.worktop.kept_week import Kept, WeekNow, kept_parcel_now, kept_parcels_now, last_plan_kept
from shipping.worktop.last_shelf import known_shelves
from shipping.worktop.page_language import (
    day_from_form,
    day_words,
    in_our_words,
    listed,
    page_name,
    reasons_wording,
    tr,
    with_parcels_named,
)
from shipping.worktop.planner import Planned
from shipping.worktop.shelf_state import ShelfState, entries_since, seen_mark
from shipping.worktop.table_words import LABELS, label_of

#: The pages by their address and name, in the order of a day's work.
PAGES = (
    ("/", "The round"),
    ("/week", "Week"),
    ("/packing", "Packing"),
    ("/arrivals", "Arrivals"),
    ("/tables/orders", "Orders"),
    ("/lots", "Lots"),
    ("/rules", "Rules"),
    ("/ask", "What if"),
    ("/tables", "More"),
)
#: The pages that are reached from one of these, by how their address begins; all others are reached from the
#: last.
_REACHED_FROM = {
    "/plan": "/week",
    "/parcels": "/week",
    "/tables/orders": "/tables/orders",
    "/orders": "/tables/orders",
    "/operators": "/rules",
    "/packing": "/packing",
    "/arrivals": "/arrivals",
    "/claims": "/arrivals",
    "/tables/lots": "/lots",
    "/tables/inspections": "/lots",
    "/buy": "/lots",
    "/offer": "/lots",
    "/sheets": "/tables/orders",
    "/tables/rules": "/rules",
}
#: Addresses, each with the name of the method that answers.
Addresses = tuple[tuple[str, str], ...]
#: What was written is spoken on the next page; so many sayings are kept for it.
_MOST_SAYINGS = 200


@dataclass(frozen=True, slots=True)
class Undo:
    """The form that takes back what was just done: where it is sent, and its cells."""

    address: str
    cells: Mapping[str, str]


@dataclass(frozen=True)
class Worktop:
    """One served page and what it stands on; ``aside``: is long work done beside the requests; ``hour_of``
    says the hour, "" where nobody knows it; ``open_shelf`` opens another shelf, and says what it stands on;
    ``elsewhere`` says its addresses, with the key, for others, asked anew, for the computer may have moved
    into another network; ``told`` are those of the start;
    ``next_pages`` reckon what the pages after the round show.
    """

    shelf_state: ShelfState
    planner: Background[Planned]
    access: Access
    aside: bool = True
    hour_of: Callable[[], str] = lambda: ""
    open_shelf: Callable[[Path], Worktop] | None = None
    elsewhere: Callable[[], tuple[str, ...]] = tuple
    told: tuple[str, ...] = ()
    sayings: OrderedDict[str, tuple[str, Undo | None]] = field(default_factory=OrderedDict)
    dropped: DropBox = field(default_factory=DropBox)
    next_pages: list[Callable[[], object]] = field(default_factory=list)

    @property
    def today(self) -> date:
        return self.shelf_state.today_of()

    def week_now(self, week: str, awhile: bool = False) -> WeekNow:
        """What the week's plan of tables and ledger of now says, else the kept one; waited for ``awhile``."""
        entries, kept = self.shelf_state.entries(), kept_parcels_now(self.shelf_state)
        last, fresh, is_reckoning = last_plan_kept(entries, week), None, False
        with suppress(ShelfProblems):  # the page of the plan says them
            fresh = self.planner.ask_awhile(week) if awhile else self.planner.ask(week)
            is_reckoning = fresh is None
        before = self.shelf_state.plan_facts(last.seq) if last else {}
        taken = frozenset(key for parcel in kept for key in parcel.parcel.line_keys)
        facts = fresh.plan.as_json() if fresh else {"lines_out": before.get("lines_out", ())}
        return WeekNow(facts, before if last else None, taken, is_reckoning)

    def get_ready(self) -> None:
        """While the first page is looked at, what the next ones show is reckoned, once for each state."""

        if self.aside:
            with suppress(ShelfProblems):  # the page itself will say them
                self.ready.ask()

    @cached_property
    def ready(self) -> Background[bool]:
        """The next pages made ready, for a state of the tables."""

        def reckon(name: str, going: Going) -> bool:
            for make_ready in self.next_pages:
                make_ready()
            return True

        def stamp(name: str) -> str:
            return self.shelf_state.readable_tables().stamp

        return Background("The next pages could not be made ready", stamp, reckon)

    def language(self) -> str:
        """The page's language: the first of the shelf's papers, else one the browser asks for."""
        try:
            papers = self.shelf_state.readable_tables().shelf.settings.papers
            return paper_language(next(iter(papers.languages), "en"))
        except (ShelfProblems, OSError):
            return request.accept_languages.best_match(LANGUAGES, "en")

    def dates(self) -> str | None:
        """How days such as 4/12/2026 are read, where the settings say so."""
        try:
            return self.shelf_state.readable_tables().shelf.settings.reading.dates
        except (ShelfProblems, OSError):
            return None

    def page(self, name: str, status: int = 200, **facts: Any) -> Response:
        """A whole page."""
        common = self.common()
        common["said"] = self._with_unsaid(common["said"])
        return make_response(render_template(page_name(name), **common, **facts), status)

    def common(self) -> dict[str, Any]:
        """What every page and card needs."""
        entries = self.shelf_state.entries()
        done = request.args.get("done", "")
        said, undo = self.sayings.get(request.args.get("told", ""), ("", None))
        return {
            "pages": PAGES,
            "here": request.path,
            "reached_from": reached_from(request.path),
            "token": self.access.token,
            "seen": seen_mark(entries),
            "today": self.today,
            "shelf_name": self.shelf_state.folder.name if self.open_shelf and known_shelves()[1:] else "",
            "near_days": [self.today + timedelta(days=n) for n in range(-10, 22)],
            "said": (
                said_of(entries, int(done)) if done.isascii() and done.isdigit() and len(done) < 9 else said
            ),
            "undo": undo,
            "at": request.args.get("at", ""),
        }

    def _with_unsaid(self, said: str) -> str:
        """What is said, behind what the ledger and moves left to say."""
        return " ".join(filter(None, (*map(tr, self.shelf_state.taken_notices()), said)))

    def told_at(self, address: str, said: str, at: str = "", undo: Undo | None = None) -> Response:
        """On to an address, at ``at``, where ``said`` is spoken once, and ``undo`` stands beside it."""
        last = next(reversed(self.sayings), "0").partition("-")[0]
        key = f"{int(last) + 1}-{self.access.token[:6]}"  # an address of a page served before says nothing
        self.sayings[key] = said, undo
        while len(self.sayings) > _MOST_SAYINGS:
            self.sayings.popitem(last=False)
        return go_to(f"{address}{'&' if '?' in address else '?'}told={key}{'#' + at if at else ''}")

    def card(self, name: str, said: str, status: int = 200, **facts: Any) -> Response:
        """One card for a page that asked by script, with what is to be spoken."""
        answer = make_response(render_template(page_name(name), **self.common(), **facts), status)
        answer.headers["X-Said"] = quote(orders_in_words(self._with_unsaid(said), reasons_wording()))
        answer.headers["X-Seen"] = seen_mark(self.shelf_state.entries())
        return answer

    def put_dropped(self) -> list[str]:
        """The names under which a form's sheets wait. Raises ShelfProblems if one cannot be read at all."""
        names: list[str] = []
        for file in request.files.getlist("sheets"):
            if file.filename:
                file.stream.seek(0)
                names += self.dropped.put(file.filename, file.read())
        return names

    @property
    def wants_card(self) -> bool:
        """Was this sent by the page's script, which puts one card in the place of the old?"""
        return request.headers.get("X-Card") == "1"

    def changed_since(self, parcel: str) -> tuple[str, ...] | None:
        """What was recorded about a parcel since its form was made; None where that was on another ledger."""
        entries = self.shelf_state.entries()
        since = entries_since(entries, request.form.get("seen", ""))
        if since is None:
            return None
        owner = {entry.seq: entry.parcel for entry in entries}
        about = {
            entry.seq
            for entry in since
            if parcel in (entry.parcel, isinstance(entry.body, Undone) and owner.get(entry.body.entry))
        }
        return tuple(
            tr("entry {entry} of {day}: {text}", entry=one.entry, day=one.day, text=one.text)
            for one in entries_in_words(entries, tr)
            if one.entry in about
        )


def what_changed(entries: tuple[str, ...] | None) -> str:
    """What was recorded since a form was made, in the middle of a sentence."""
    if not entries:
        return tr("the ledger is another one")
    return tr("this was recorded: {entries}", entries=listed(entries))


class NotAllSet(ShelfProblems):
    """Papers of several parcels, of which those named cannot be set; the others can."""

    def __init__(self, problems: tuple[Problem, ...], parcels: tuple[str, ...]) -> None:
        super().__init__(problems)
        self.parcels = parcels


class Refused(Exception):
    """What is not done: what is said, the answer's status, and what is said ``at`` fields of the form."""

    def __init__(self, said: str, status: int = 422, at: Mapping[str, str] | None = None) -> None:
        super().__init__(said)
        self.said, self.status, self.at = said, status, at or {}


@contextmanager
def refusing(said: str, status: int = 409) -> Iterator[None]:
    """Problems of what is done within refuse it; ``said`` takes them at its field ``why``."""
    try:
        yield
    except ShelfProblems as problems:
        raise Refused(tr(said, why=plain_problems(problems)), status) from None


class View:
    """Some addresses of the page: for each, by its ``pages`` and ``forms``, the method that answers."""

    pages: ClassVar[Addresses] = ()
    forms: ClassVar[Addresses] = ()

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        self.shelf_state = worktop.shelf_state

    @property
    def shelf(self) -> Shelf:
        """The tables as far as they can be read."""
        return self.shelf_state.readable_tables().shelf

    def add_to(self, app: Flask) -> None:
        for verb, addresses in (("GET", self.pages), ("POST", self.forms)):
            for address, name in addresses:
                app.add_url_rule(address, name, getattr(self, name), methods=[verb])

    @contextmanager
    def recording(self, said: str = "Not recorded: {why}", create: bool = False) -> Iterator[Ledger]:
        """The ledger, for an entry; what troubles it refuses the entry, and is ``said``."""
        with refusing(said), self.shelf_state.ledger(create) as ledger:
            if ledger is None:
                abort(404)
            yield ledger

    def kept(self, name: str, states: Container[str] | None = None) -> Kept:
        """The kept parcel of that name; where there is none that stands so, there is no page."""
        kept = kept_parcel_now(self.shelf_state, name)
        if kept is None or (states is not None and kept.parcel.state not in states):
            abort(404)
        return kept

    def entry_about(self, parcel: str) -> int:
        """The entry that a form names to be taken back; it is refused if it is about another parcel."""
        text = request.form.get("entry", "")
        entries = self.shelf_state.entries()
        if text not in {str(entry.seq) for entry in entries if entry.parcel == parcel}:
            raise Refused(tr("Not taken back: there is no such entry about this parcel."), 409)
        return int(text)

    def said_of(self, entry: int) -> str:
        """An entry just recorded, as it is spoken."""
        return said_of(self.shelf_state.entries(), entry)


def typed(name: str) -> str:
    """One line of text of a form."""
    return " ".join(request.form.get(name, "").split())


def day_typed_in(name: str, said: str) -> date | None:
    """A field's day, None where blank; one that cannot be read refuses: ``said`` has why as ``why``."""
    text = typed(name)
    try:
        return day_from_form(text) if text else None
    except BadCell as bad:
        raise Refused(tr(said, why=f"{tr(bad.text)}. {tr(bad.mend)}")) from None


def sought() -> str:
    """What is looked for on a page."""
    return " ".join(request.args.get("find", "").split())


def refuse_long(said: str, **most: int) -> None:
    """Refuses a form in which a text is longer than is taken: none is ever cut."""
    for name, letters in most.items():
        length = len(request.form.get(name, ""))
        if length > letters:
            why = tr(
                "one of the texts is {length} letters long, and {most} are taken. Shorten it.",
                length=length,
                most=letters,
            )
            raise Refused(tr(said, why=why))


def reached_from(path: str) -> str:
    """The page of the day's work from which an address is reached: itself, if it is one."""
    if any(path == address for address, _ in PAGES):
        return path
    begins = (page for begin, page in _REACHED_FROM.items() if path.startswith(begin))
    return next(begins, PAGES[-1][0])


def said_of(entries: Sequence[Entry], seq: int) -> str:
    """An entry as it is spoken after it was recorded; "" where there is none."""
    found = next((one for one in entries if one.seq == seq), None)
    if found is None:
        return ""
    text = words_of(entries, seq)
    if not found.parcel:
        return tr("Recorded: {text}.", text=text)
    return tr("Parcel {number}: {text}.", number=found.parcel[9:], text=text)


def words_of(entries: Sequence[Entry], seq: int) -> str:
    """What an entry says; "" where there is none."""
    found = next((one for one in entries_in_words(entries, tr) if one.entry == seq), None)
    if found is None:
        return ""
    return tidy_days(plainly(found).partition(";")[0] if found.kind == "packed" else plainly(found))


#: A line of an order and the eggs packed for it, as entries are told: ``D02:1 23``.
_OF_A_LINE = re.compile(r"(\S+):(\d+) (?=\d)")
_WEEK = re.compile(r"\b\d{4}-W(\d\d)\b(?!-)")


def plainly(entry: EntryInWords) -> str:
    """An entry in words; of a parcel packed its orders are named once, behind the eggs of each lot."""
    text = _WEEK.sub(lambda week: tr("week {number}", number=int(week[1])), entry.text)
    orders = dict.fromkeys(order for order, _ in _OF_A_LINE.findall(text))
    if orders and entry.kind == "packed":
        return f"{_OF_A_LINE.sub('', text)}; {tr('order {order}', order=', '.join(orders))}"
    said = "{order}, line {line}: {why}"
    return _OF_A_LINE.sub(lambda found: tr(said, order=found[1], line=found[2], why=""), text)


def go_to(address: str) -> Response:
    """On to another address, by GET."""
    return make_response(redirect(address, code=303))


def file_answer(content: bytes | str, kind: str, **headers: str) -> Response:
    """A file of that media type; headers by their names with _ for -."""
    answer = make_response(content)
    answer.headers["Content-Type"] = kind
    answer.headers.update({name.replace("_", "-"): value for name, value in headers.items()})
    return answer


def svg_answer(drawing: bytes, **headers: str) -> Response:
    """A drawing, which runs nothing."""
    policy = "default-src 'none'; style-src 'unsafe-inline'"
    return file_answer(drawing, "image/svg+xml", Content_Security_Policy=policy, **headers)


def plain_problems(found: ShelfProblems) -> str:
    """All problems in one paragraph, as a form says them: columns by what the form calls them."""
    return " ".join(in_labels(plain_problem(mended_here(problem))) for problem in found.problems)


def mended_here(problem: Problem) -> Problem:
    """The problem with what mends it among the page's own settings, where that stands in a file else."""
    if problem.code != "dates" or not problem.answers:
        return problem
    mend: str = tr(
        "Write each day with the name of its month, or choose among the settings, under More, how days are"
        " written."
    )
    if isinstance(problem.mend, Sentence) and problem.mend.template.startswith("Write {value}. Or"):
        value = problem.mend.values[0]
        mend = tr(
            "Write {value}. For all, choose among the settings, under More, how days are written.",
            value=value,
        )
    return replace(problem, mend=mend)


#: A column as tables name it, which is two words at least, or a text in quotes, which is a cell or a setting.
_COLUMNS = frozenset(LABELS).union(*(table.columns for table in TABLE_BY_NAME.values()))
_COLUMN = re.compile(r'"[^"]*"|\b[a-z]+(?:_[a-z0-9]+)+\b')


def in_labels(text: str) -> str:
    """The text with columns of the tables as the page's forms call them."""
    return _COLUMN.sub(lambda found: tr(label_of(found[0])) if found[0] in _COLUMNS else found[0], text)


def of_cell(problem: Problem) -> str:
    """A problem as it is said where its cell is in sight or named already."""
    return in_labels(f"{tr(problem.text)} {tr(problem.mend)}".strip())


#: A file or a sheet by its name, which a sentence without a row may be about.
_OF_THE_SHELF = re.compile(r"\.[a-z]+$|\]$", re.IGNORECASE)


def plain_problem(problem: Problem) -> str:
    """A problem as the page says it: what and how to mend it, and where, if that is a row or a column of a
    file, or a file that is spoken of, as in ``is missing``.
    """
    said = with_parcels_named(f"{tr(problem.text)} {tr(problem.mend)}".strip())
    is_spoken_of = problem.text[:1].islower() or problem.column
    of_file = problem.where.row or (is_spoken_of and _OF_THE_SHELF.search(problem.where.file))
    if not of_file or problem.where.file == LEDGER_FILE:
        return said[:1].upper() + said[1:]
    ours, space, theirs = problem.column.partition(" ")
    called = tr(label_of(ours)).partition(",")[0] if ours in _COLUMNS else in_our_words(ours)
    column = f"{called}{space}{theirs}: " if problem.column else ""
    return f"{problem.where}: {column}{said}"


#: ``Mon 30 Nov`` in any of the languages, and a day as the tables write it.
_DAY = re.compile(r"\b(\w{2,4}\.?) (\d{1,2}\.?) (?=[^\W\d]{3})")
_ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")


def tidy(text: str) -> str:
    """The text with figures that stay beside their sign at the end of a line, and days that stay whole."""
    said = str(in_our_words(text)).replace(" %", "\u00a0%").replace(" \u00b0C", "\u00a0\u00b0C")
    return _DAY.sub("\\1\u00a0\\2\u00a0", said)


def with_small_print(text: str) -> Markup:
    """What is said as HTML, small what stands in a second line of it."""
    said, _, rest = orders_in_words(text or "", reasons_wording()).partition("\n")
    return Markup("{}<small>{}</small>").format(said, rest) if rest else Markup(escape(said))


def tidy_days(text: str) -> str:
    """The same with the days of tables and commands as the page writes days."""
    return tidy(_ISO_DAY.sub(lambda found: day_words(found[0]), str(in_our_words(text))))


def day_from(text: str) -> date | None:
    """A day as a form or an address writes it, or None."""
    try:
        return date.fromisoformat(text) if len(text) == 10 else None
    except ValueError:
        return None


def week_from(text: str) -> str:
    """A week as addresses write it; a text that is none is no page."""
    try:
        return iso_week(week_days(text)[0])
    except ValueError:
        abort(404)
