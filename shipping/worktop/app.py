"""The worktop page as a web application: a shelf's folder in, an application for any server out."""

from __future__ import annotations

import hashlib
import math
import re
import traceback
from collections.abc import Callable
from datetime import date
from functools import lru_cache, partial
from pathlib import Path

from flask import Flask, Response, current_app, make_response, render_template, request
from werkzeug.exceptions import HTTPException

from shipping.papers.wording.phrases import is_one
from shipping.tables.editing.workbook_to_csv import was_cut_off
from shipping.tables.files.whole_file import is_no_room, not_written
from shipping.words.problems import ShelfProblems
from shipping.words.sentence import LANGUAGES
from shipping.words.units import ABOUT_SO_MANY, percent
from shipping.worktop.access import MOST_BODY, Access, host_names, is_loopback
from shipping.worktop.context import (
    PAGES,
    NotAllSet,
    Worktop,
    go_to,
    plain_problem,
    tidy,
    tidy_days,
    with_small_print,
)
from shipping.worktop.dropped_sheets import MOST_SHEETS_BODY
from shipping.worktop.page_language import (
    PageEnvironment,
    day_and_month,
    day_name,
    day_shown,
    day_words,
    in_our_words,
    keep_names,
    month_name,
    name_of_country,
    page_name,
    read_days_by,
    reasons_wording,
    shown,
    shown_name,
    speak,
    spoken,
    tell_time,
    texts_in,
    tr,
    translated_pages,
)
from shipping.worktop.planner import planner_of
from shipping.worktop.shelf_state import ASKING, ShelfState, seen_mark
from shipping.worktop.views.arrivals import ArrivalsPage
from shipping.worktop.views.ask import AskPage
from shipping.worktop.views.dropped_sheets import DroppedPage, answer_words
from shipping.worktop.views.lots import LotsPage
from shipping.worktop.views.moving import MovingPage, end_begun_move
from shipping.worktop.views.offer import OfferPage
from shipping.worktop.views.orders import OrdersPage
from shipping.worktop.views.packing import PackingPage
from shipping.worktop.views.record import RecordPage
from shipping.worktop.views.rows import RowsPage
from shipping.worktop.views.rules import OperatorsPage, RulesPage
from shipping.worktop.views.setup import SetupPage, TabletPage
from shipping.worktop.views.todays_tasks import TodaysTasksPage
from shipping.worktop.views.week import WeekPage

_HERE = Path(__file__).resolve().parent
#: What the script says stands in double quotes.
_SAYING = re.compile(r'"([^"\n]+)"')
_FILES = {"worktop.css": "text/css; charset=utf-8", "worktop.js": "text/javascript; charset=utf-8"}
_PAGES = (
    *(TodaysTasksPage, WeekPage, MovingPage, PackingPage, ArrivalsPage, RowsPage, OrdersPage, DroppedPage),
    *(LotsPage, AskPage, RulesPage, OperatorsPage, TabletPage, RecordPage, OfferPage, SetupPage),
)


def make_app(
    folder: Path,
    today_of: Callable[[], date],
    secret: str,
    *,
    port: int = 8765,
    addresses: tuple[str, ...] = (),
    any_number: bool = False,
    hide_names: bool = False,
    aside: bool = True,
    hour_of: Callable[[], str] = lambda: "",
    open_shelf: Callable[[Path], Worktop] | None = None,
    addresses_now: Callable[[str], tuple[str, ...]] = lambda key: (),
) -> Flask:
    """The application for one shelf.

    Parameters
    ----------
    today_of, hour_of: say which day and hour it is, asked anew for each request; "" where no hour is known.
    secret: text that nobody else knows, drawn anew whenever the page is served.
    addresses, any_number: what the page may be called besides this computer's own names, and whether by any
    IP address. aside: whether long work is done beside the requests, or while one waits.
    open_shelf: opens another shelf in this one's place; None where this one alone is served.
    addresses_now: this page's addresses for other devices, with the key it is given.
    """
    shelf_state = ShelfState(folder, today_of)
    access = Access(secret, host_names(addresses, port), port, any_number, str(shelf_state.folder))
    elsewhere = partial(addresses_now, access.key)
    planner = planner_of(shelf_state, aside)
    worktop = Worktop(shelf_state, planner, access, aside, hour_of, open_shelf, elsewhere, elsewhere())
    app = Flask("shipping.worktop", static_folder=None, template_folder=str(_HERE / "pages"))
    app.config.update(MAX_CONTENT_LENGTH=MOST_BODY, MAX_FORM_MEMORY_SIZE=MOST_BODY, MAX_FORM_PARTS=1000)
    app.jinja_environment = PageEnvironment
    app.jinja_env.loader = translated_pages(_HERE / "pages")
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.finalize = in_our_words
    app.jinja_env.filters.update(
        answer=answer_words,
        country=name_of_country,
        day=lambda day: tidy(day_words(day)),
        days=tidy_days,
        dayname=day_name,
        daymonth=day_and_month,
        dayfield=day_shown,
        month=month_name,
        name=shown_name,
        one=is_one,
        parts_said=lambda text: reasons_wording().parts_said(text),
        percent=percent,
        small=with_small_print,
        problem=plain_problem,
        shown=shown,
        tidy=tidy,
        tr=tr,
    )
    app.jinja_env.globals |= {"about_so_many": ABOUT_SO_MANY, "file_mark": _file_mark, "language": spoken}
    app.extensions["worktop"] = worktop
    _Door(worktop, hide_names).add_to(app)
    for page in _PAGES:
        page(worktop).add_to(app)
    return app


@lru_cache(maxsize=8)
def _file_mark(name: str) -> str:
    """What changes in a file's address when the file does."""
    return hashlib.sha256((_HERE / name).read_bytes()).hexdigest()[:8]


def _in_language(script: str) -> str:
    """The script with what it says in the language that its address names."""
    texts = texts_in(request.args.get("in", "en")) if request.args.get("in") in LANGUAGES else {}

    def said(found: re.Match[str]) -> str:
        bare = found[1].strip()
        return f'"{found[1].replace(bare, texts.get(bare, bare))}"'

    return _SAYING.sub(said, script) if texts else script


class _Door:
    """What every request passes: who may ask, the two files of the page, and how troubles are told."""

    def __init__(self, worktop: Worktop, hide_names: bool) -> None:
        self.worktop = worktop
        self.hide_names = hide_names

    def add_to(self, app: Flask) -> None:
        app.before_request(self.let_in)
        app.before_request(lambda: end_begun_move(self.worktop.shelf_state))
        app.after_request(lambda response: self.worktop.access.seal(request, response))
        app.register_error_handler(ShelfProblems, self.tell_problems)
        app.register_error_handler(HTTPException, self.tell_refusal)
        app.register_error_handler(Exception, self.tell_bug)
        app.add_url_rule("/<any('worktop.css', 'worktop.js'):name>", "file", self.file)
        app.add_url_rule("/mark", "mark", self.mark)
        app.add_url_rule("/favicon.ico", "icon", lambda: make_response("", 204))

    def let_in(self) -> Response | None:
        access = self.worktop.access
        ASKING.set(request.remote_addr or "")
        speak(self.worktop.language())
        tell_time(self.worktop.today, self.worktop.hour_of())
        read_days_by(self.worktop.dates())
        keep_names(self.hide_names)
        if not access.knows_host(request.host):
            return self.refuse(
                403,
                tr("This address is not one of the worktop's."),
                tr("Open the address that the terminal shows."),
            )
        if request.path.lstrip("/") in _FILES and request.method == "GET":
            return None
        if "key" in request.args and (refused := self.refuse_key()):
            return refused
        if not access.lets_in(request):
            return self.refuse(
                403,
                tr("This device has not named the key."),
                tr("Open the whole address that the terminal shows."),
            )
        if request.method in ("GET", "HEAD", "OPTIONS"):
            if "key" in request.args and access.names_key(request):
                return go_to(request.path)
            return None
        most = MOST_SHEETS_BODY if request.path in ("/sheets", "/first") else MOST_BODY
        request.max_content_length = most
        if request.content_length is None or request.content_length > most:
            return self.refuse(
                413, tr("That is more than a form of this page can hold."), tr("Nothing was recorded.")
            )
        if access.is_from_elsewhere(request):
            return self.refuse(403, tr("That was sent by another site's page."), tr("Nothing was recorded."))
        if not (access.has_cookie(request) and access.has_token(request)):
            return self.ask_again()
        return None

    def refuse_key(self) -> Response | None:
        """A refusal where a device names a wrong key, or names one too soon after; None where it is right."""
        access, address = self.worktop.access, request.remote_addr or ""
        if is_loopback(address):
            return None
        wait = access.wrong_keys.wait_s(address)
        if wait > 0:
            mend = tr(
                "Wait {seconds} seconds, then open the whole address that the terminal shows.",
                seconds=math.ceil(wait),
            )
            answer = self.refuse(429, tr("A wrong key was named from this device just now."), mend)
            answer.headers["Retry-After"] = str(math.ceil(wait))
            return answer
        if access.names_key(request):
            access.wrong_keys.forget(address)
            return None
        tries = access.wrong_keys.count(address)
        current_app.logger.warning("A wrong key from %s, the %d. of its wrong keys", address, tries)
        return self.refuse(
            403,
            tr("That is not the key of this worktop."),
            tr("Open the whole address that the terminal shows."),
        )

    def ask_again(self) -> Response:
        """A form without token or cookie is not recorded; our own page's is shown again, whole."""
        if not self.worktop.access.is_surely_ours(request):
            return self.refuse(
                403,
                tr("The form has no token of this page."),
                tr("Open the page again. Nothing was recorded."),
            )
        typed = [(name, value) for name, value in request.form.items(multi=True) if name != "token"]
        page = render_template(
            page_name("again.html"), typed=typed, action=request.path, **self.worktop.common()
        )
        answer = make_response(page, 403)
        answer.headers["X-Token"] = self.worktop.access.token
        return answer

    def refuse(self, status: int, text: str, mend: str) -> Response:
        is_in = self.worktop.access.knows_host(request.host) and self.worktop.access.lets_in(request)
        facts = {"text": text, "mend": mend, "status": status, "is_in": is_in}
        return make_response(
            render_template(page_name("refused.html"), pages=PAGES if is_in else (), **facts), status
        )

    def file(self, name: str) -> Response:
        answer = make_response(_in_language((_HERE / name).read_text(encoding="utf-8")))
        answer.headers["Content-Type"] = _FILES[name]
        answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return answer

    def mark(self) -> Response:
        """How far the ledger is, for a page that was asleep."""
        answer = make_response(seen_mark(self.worktop.shelf_state.entries()))
        answer.headers["Content-Type"] = "text/plain; charset=utf-8"
        return answer

    def tell_problems(self, found: Exception) -> Response:
        problems = found.problems if isinstance(found, ShelfProblems) else ()
        return make_response(
            render_template(
                page_name("problems.html"),
                problems=problems,
                not_set=found.parcels if isinstance(found, NotAllSet) else (),
                half_unfolded=any(problem.code == "table-twice" for problem in problems)
                and was_cut_off(self.worktop.shelf_state.folder),
                pages=PAGES,
                here=request.path,
                token=self.worktop.access.token,
            ),
            503,
        )

    def tell_refusal(self, error: Exception) -> Response:
        code = error.code if isinstance(error, HTTPException) and error.code else 500
        text = {404: tr("There is no such page, parcel or lot."), 405: tr("That cannot be done here.")}.get(
            code, tr("That is refused.")
        )
        if code == 404 and request.method in ("GET", "HEAD"):
            mend = tr("It may have been renamed or taken back. Go on with one of these.")
            return self.refuse(code, text, mend)
        return self.refuse(code, text, tr("Nothing was recorded."))

    def tell_bug(self, bug: Exception) -> Response:
        if isinstance(bug, OSError) and is_no_room(bug):
            return self.tell_problems(not_written(Path(bug.filename or "file"), bug))
        last = traceback.extract_tb(bug.__traceback__)[-1]
        where = f"{Path(last.filename).name}:{last.lineno} in {last.name}"
        current_app.logger.error("Our own mistake: %s: %s at %s", type(bug).__name__, str(bug)[:300], where)
        text = tr(
            "This is our own mistake, not yours: {kind} at {where}.", kind=type(bug).__name__, where=where
        )
        return self.refuse(500, text, tr("Nothing more was recorded. Please report it with what you did."))
