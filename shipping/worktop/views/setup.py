"""The pages that make a shelf, open another, change its settings and say where else it is served."""

from __future__ import annotations

import _thread
import re
import threading
from collections.abc import Iterator, Mapping
from contextlib import suppress
from decimal import Decimal, InvalidOperation
from operator import itemgetter
from pathlib import Path

from flask import Flask, Response, abort, request

from shipping.papers.page.drawing import qr_svg
from shipping.papers.wording.language import paper_language
from shipping.tables.cells import BadCell
from shipping.tables.countries import in_text
from shipping.tables.country_parts import NEEDS_SUBDIVISION, calendar_parts, part_by_name, part_names
from shipping.tables.editing.settings_writer import Setting, change_settings
from shipping.tables.editing.starter import starter_tables, write_shelf
from shipping.tables.editing.workbook_to_csv import unfold_workbook
from shipping.tables.files.find_sheets import WORKBOOKS
from shipping.tables.rows.settings import Settings, parse_currency, parse_subdivision, promise_between
from shipping.words.problems import ShelfProblems
from shipping.words.sentence import say
from shipping.worktop.access import is_loopback
from shipping.worktop.context import Refused, View, Worktop, file_answer, go_to, refuse_long, refusing
from shipping.worktop.last_shelf import known_shelves, new_shelf_folder, remember_shelf
from shipping.worktop.page_language import countries_by_name, name_of_country, speak, spoken, tr
from shipping.worktop.parcel_cards import count_from

#: Settings of the page: section, key, what it is called, and how it is read.
_TEXTS = (
    ("sender", "name", "Your name, as on labels"),
    ("sender", "mail", "E-mail, for the offer and the slips"),
    ("sender", "tel", "Telephone"),
    ("plan", "currency", "Currency, such as EUR"),
    ("claims", "short_policy", "Your promise when a count falls short"),
    ("claims", "hatched_policy", "Your promise when eggs hatch on the way"),
)
#: The page that says it goes out before the serving ends [s].
_ANSWER_FIRST_S = 0.3
#: More parcels a day are a slip of the hand.
MOST_A_DAY = 1000
#: How days may be written, besides as 2026-11-30 and with the month's name.
_ORDERS_OF_DAYS = frozenset(("day first", "month first"))
#: The languages of the page, each by its own name.
LANGUAGE_NAMES = {"en": "English", "de": "Deutsch", "fr": "français", "es": "español"}


class TabletPage(View):
    """How another device comes in, and who can reach this page at all."""

    pages = (("/tablet", "tablet"), ("/tablet.svg", "tablet_code"))
    forms = (("/stop", "stop"),)

    def stop(self) -> Response:
        """Ends the serving, from this computer only; the page that says so goes out first."""
        if not is_loopback(request.remote_addr or ""):
            abort(403)
        threading.Timer(_ANSWER_FIRST_S, _thread.interrupt_main).start()
        return self.worktop.page("stopped.html", bare=True)

    def tablet(self) -> Response:
        now = self.worktop.elsewhere()
        return self.worktop.page("tablet.html", elsewhere=now, has_moved=now != self.worktop.told)

    def tablet_code(self) -> Response:
        now = self.worktop.elsewhere()
        if not now:
            abort(404)
        return file_answer(qr_svg(now[0]), "image/svg+xml")


class SetupPage(View):
    """A shelf from nothing, another one, and the settings of one that is there."""

    pages = (("/first", "first"), ("/setup", "setup"))
    forms = (
        ("/first", "make_first"),
        ("/open", "open_known"),
        ("/setup", "change_settings"),
        ("/setup/unfold", "unfold"),
    )

    def add_to(self, app: Flask) -> None:
        app.before_request(self.lead_to_first)
        super().add_to(app)

    @property
    def _has_shelf(self) -> bool:
        return (self.shelf_state.folder / "shelf.toml").is_file()

    def lead_to_first(self) -> Response | None:
        """Where there is no shelf yet, every page leads to the making of one."""
        ours = ("/first", "/open", "/mark", "/worktop.css", "/worktop.js", "/favicon.ico")
        return None if self._has_shelf or request.path in ours else go_to("/first")

    # -- a first shelf, and others

    @property
    def _may_open(self) -> bool:
        """May the one who asks make or open a shelf? Only this computer names folders of its own."""
        is_more_than_one = self.worktop.open_shelf is not None or not self._has_shelf
        return is_more_than_one and is_loopback(request.remote_addr or "")

    def _opened(self, folder: Path) -> Worktop:
        """What another shelf's page stands on, which answers from here on."""
        remember_shelf(folder)
        open_shelf = self.worktop.open_shelf
        return open_shelf(folder) if open_shelf else self.worktop

    def open_known(self) -> Response:
        """Opens a shelf that was open on this computer before."""
        folder = Path(request.form.get("folder", ""))
        if not self._may_open or folder not in known_shelves():
            abort(404)
        return self._opened(folder).told_at("/", tr("This is your shelf in {folder}.", folder=folder))

    def first(self, trouble: str = "", status: int = 200, at: Mapping[str, str] | None = None) -> Response:
        if self._has_shelf and not self._may_open:
            return go_to("/")
        fish = next(table for table in starter_tables("DK", self.worktop.today) if table.name == "species")
        names = [column.name for column in fish.columns]
        return self.worktop.page(
            "first.html",
            status,
            folder=request.form.get("folder")
            or str(new_shelf_folder() if self._has_shelf else self.shelf_state.folder),
            is_another=self._has_shelf,
            others=[one for one in known_shelves() if one != self.shelf_state.folder],
            countries=[(name_of_country(code), code) for code in countries_by_name(())],
            fish=sorted(
                (dict(zip(names, row, strict=True)) for row in fish.rows), key=itemgetter("scientific_name")
            ),
            chosen=request.form.getlist("fish"),
            typed=request.form,
            trouble=trouble,
            wrong=at or {},
            bare=not self._has_shelf,
        )

    def make_first(self) -> Response:
        if not self._may_open:
            return go_to("/")
        try:
            with refusing("Not made: {why}", 422):
                sheets = self.worktop.put_dropped()
                folder = self._made()
        except Refused as refused:
            return self.first(refused.said, refused.status, refused.at)
        except OSError as error:
            said = tr("Not made: the folder cannot be written ({why}). Name another.", why=error.strerror)
            return self.first(said, 422)
        there = self._opened(folder)
        if there is not self.worktop:
            sheets = there.put_dropped()
        after = f"/sheets/{sheets[0]}" if sheets else "/"
        return there.told_at(after, tr("Your shelf is made, in {folder}.", folder=folder))

    def _made(self) -> Path:
        """The folder of a first shelf; nothing is written before all that was typed is read."""
        form = request.form
        country, typed = form.get("country", ""), form.get("subdivision", "")
        part = part_by_name(country, typed) or parse_subdivision(typed)
        folder = Path(form.get("folder", "").strip()).expanduser()
        against = dict((*_against_sender(), *_against_part(country, part), *_against_numbers()))
        if not folder.is_absolute():
            mend = tr("Write it whole, such as {folder}.", folder=new_shelf_folder())
            against["folder"] = f"{tr('The folder is not named whole.')} {mend}"
        if against:
            raise Refused(tr("Not made: look at what is marked."), at=against)
        write_shelf(folder, country, part, self.worktop.today, fish=frozenset(form.getlist("fish")) or None)
        change_settings(folder, _first_settings())
        return folder

    # -- settings

    def setup(self, trouble: str = "", status: int = 200) -> Response:
        folder = self.shelf_state.folder
        settings = self.shelf.settings
        values = {
            f"{section}.{key}": str(getattr(getattr(settings, section), key)) for section, key, _ in _TEXTS
        }
        return self.worktop.page(
            "setup.html",
            status,
            texts=_TEXTS,
            languages=LANGUAGE_NAMES,
            choices=_what_is_printed_on(),
            own_language=paper_language(next(iter(settings.papers.languages), "en")),
            values=values,
            settings=settings,
            typed=request.form,
            trouble=trouble,
            folder=str(folder),
            home=name_of_country(settings.home.country),
            part=part_names(settings.home.country).get(settings.home.subdivision, settings.home.subdivision),
            book=next((name for name in WORKBOOKS if (folder / name).exists()), ""),
        )

    def change_settings(self) -> Response:
        settings = self.shelf.settings
        try:
            meant = self._typed(settings)
            now = {key: getattr(getattr(settings, key[0]), key[1]) for key in meant}
            new = {key: value for key, value in meant.items() if value != _as_written(now[key])}
            if not new:
                return self.worktop.told_at("/setup", tr("Nothing was changed, so nothing is written."))
            copy = change_settings(self.shelf_state.folder, new)
        except Refused as refused:
            return self.setup(refused.said, refused.status)
        except ShelfProblems as refused_by:
            why = " ".join(f"{tr(problem.text)} {tr(problem.mend)}" for problem in refused_by.problems)
            return self.setup(tr("Not written: {why}", why=why), 422)
        speak(self.worktop.language())  # which may be another now
        small = tr("as it was: {place}", place=f"{copy.parent.name}/{copy.name}")
        return self.worktop.told_at("/setup", f"{tr('Settings written.')}\n{small}")

    def _typed(self, settings: Settings) -> dict[tuple[str, str], Setting]:
        """What the form says, by section and key; refused where it cannot be meant."""
        form = request.form
        names = {f"{section}.{key}": 200 for section, key, _ in _TEXTS}
        refuse_long("Not written: {why}", **names, address=400, parcels_per_day=4, promise=6)
        new: dict[tuple[str, str], Setting] = {
            (section, key): " ".join(_lines(form[f"{section}.{key}"])) or None
            for section, key, _ in _TEXTS
            if f"{section}.{key}" in form
        }
        if "address" in form:
            new["sender", "address"] = list(_lines(form["address"]))
        with suppress(BadCell):  # what is no currency is refused with the rest of the file
            if currency := new.get(("plan", "currency")):
                new["plan", "currency"] = parse_currency(currency)
        if not all(new.get(("sender", key), True) for key in ("name", "address")):
            raise _not_written(_no_sender())
        if wrong := _no_mail(str(new.get(("sender", "mail")) or "")):
            raise _not_written(wrong)
        if (language := form.get("language", "")) in LANGUAGE_NAMES:
            before = settings.papers.languages
            new["papers", "languages"] = [language, *(other for other in before if other != language)]
        new |= {
            ("papers", key): form[key]
            for key, (_, sizes) in _what_is_printed_on().items()
            if form.get(key) in sizes
        }
        if settings.reading.dates is None and (dates := form.get("dates")) in _ORDERS_OF_DAYS:
            # said once: said otherwise later, days already written would move
            new["reading", "dates"] = dates
        if "parcels_per_day" in form:
            text = form["parcels_per_day"].strip()
            new["plan", "parcels_per_day"] = _parcels_a_day(text) if text else None
            if text and new["plan", "parcels_per_day"] is None:
                raise _not_written(_no_parcels(text))
        if text := form.get("promise", "").strip():
            promise = _share(text)
            if promise is None:
                raise _not_written(
                    tr("'{typed}' is no promise. Write it in percent, such as 95.", typed=text)
                )
            new["plan", "promise"] = promise
        elif "promise" in form:
            new["plan", "promise"] = None
        if "dispatch_days" in form or "days" in form:
            new["plan", "dispatch_days"] = form.getlist("dispatch_days")
            if not new["plan", "dispatch_days"]:
                raise _not_written(tr("no day is chosen on which you post. Choose at least one."))
        return new

    def unfold(self) -> Response:
        try:
            with self.shelf_state.lock, refusing("Not unfolded: {why}"):
                aside, written = unfold_workbook(self.shelf_state.folder)
        except Refused as refused:
            return self.setup(refused.said, refused.status)
        said = tr(
            "{count} tables are files now. The workbook is kept as {place}.",
            count=len(written),
            place=f"{aside.parent.name}/{aside.name}",
        )
        return self.worktop.told_at("/setup", said)


def _what_is_printed_on() -> dict[str, tuple[str, dict[str, str]]]:
    """Settings of the papers that are chosen: what each is called, and its values with their words."""
    labels = {
        "A6": tr("A6, four on a sheet"),
        "102x152": tr("102 × 152 mm, from a label printer"),
        "4x6": tr("4 × 6 inches, from a label printer"),
        "flat": tr("A7, eight on a sheet, for small boxes"),
    }
    papers = {"A4": tr("A4"), "letter": tr("US letter")}
    return {"paper": (tr("Paper"), papers), "label": (tr("Address labels"), labels)}


def _first_settings() -> dict[tuple[str, str], Setting]:
    """What the form of a first shelf says beside its home."""
    form = request.form
    settings: dict[tuple[str, str], Setting] = {
        ("sender", "name"): form["name"].strip(),
        ("sender", "address"): _lines(form["address"]),
    }
    if mail := form.get("mail", "").strip():
        settings["sender", "mail"] = mail
    settings["papers", "languages"] = list(dict.fromkeys((spoken(), "en")))
    if currency := form.get("currency", "").strip():
        settings["plan", "currency"] = parse_currency(currency)
    if text := form.get("parcels_per_day", "").strip():
        settings["plan", "parcels_per_day"] = _parcels_a_day(text)
    if (dates := form.get("dates")) in _ORDERS_OF_DAYS:
        settings["reading", "dates"] = dates
    return settings


def _against_sender() -> Iterator[tuple[str, str]]:
    form = request.form
    if not form.get("name", "").strip() or not _lines(form.get("address", "")):
        yield "name", _no_sender()
    if wrong := _no_mail(form.get("mail", "").strip()):
        yield "mail", wrong


def _no_mail(typed: str) -> str:
    """What is wrong with an e-mail address; "" where nothing is, or none is typed."""
    is_one = not typed or re.fullmatch(r"[^@\s]+@[^@\s]+", typed)
    return "" if is_one else tr("'{typed}' is no e-mail address.", typed=typed)


def _against_numbers() -> Iterator[tuple[str, str]]:
    """What cannot be meant of a first shelf's currency and parcels a day."""
    if currency := request.form.get("currency", "").strip():
        try:
            parse_currency(currency)
        except BadCell as bad:
            yield "currency", f"{tr(bad.text)}. {tr(bad.mend)}"
    if (text := request.form.get("parcels_per_day", "").strip()) and _parcels_a_day(text) is None:
        yield "parcels_per_day", _no_parcels(text)


def _against_part(country: str, part: str) -> Iterator[tuple[str, str]]:
    """Why a country's holidays cannot be told by the part typed; a page could not be shown before it is."""
    parts = calendar_parts(country)
    if not part and country in NEEDS_SUBDIVISION:
        text = say("is blank, and public holidays differ within {country}.", in_text(country))
    elif part and parts and part not in parts:
        text = say(
            "'{subdivision}' is no part of {country} with holidays of its own.", part, in_text(country)
        )
    else:
        return
    names = part_names(country)
    mend = say("Write one of {parts}.", ", ".join(_named(code, names) for code in parts if code in names))
    yield "subdivision", f"{tr(text)} {tr(mend)}"


def _named(code: str, names: Mapping[str, str]) -> str:
    return code if names[code] == code else f"{code} ({names[code]})"


def _parcels_a_day(text: str) -> int | None:
    """The parcels typed; None where that is no number of parcels a day."""
    a_day = count_from(text)
    return a_day if a_day and a_day <= MOST_A_DAY else None


def _no_parcels(text: str) -> str:
    return tr("'{typed}' is no number of parcels. Write one such as 6, or leave it blank.", typed=text)


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _as_written(value: object) -> object:
    """A setting as the form would write it."""
    return list(value) if isinstance(value, tuple) else value if value != "" else None


def _share(text: str) -> float | None:
    """A promise typed in percent, or as a share of 1; None where it is neither, or no promise can be so."""
    try:
        number = Decimal(text.removesuffix("%").strip().replace(",", "."))
        share = float(number / 100 if number > 1 else number)
        promise_between(share)
    except (InvalidOperation, BadCell):
        return None
    return share


def _no_sender() -> str:
    return " ".join((tr("Your name and address are printed on every label."), tr("Write both.")))


def _not_written(why: str) -> Refused:
    return Refused(tr("Not written: {why}", why=why))
