"""The pages of the record: what the ledger holds in; history, claims, lessons, copies and erasing out."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from flask import Response, abort, request

from shipping.learning.lesson import rate_shown
from shipping.ledger.disagreements import leaving_too_early
from shipping.ledger.entries import Arrived, Bought, Entry, entries_in_words
from shipping.ledger.erasing import erase_buyer
from shipping.ledger.errors import LedgerError
from shipping.ledger.journal.copies import put_back
from shipping.ledger.ledger import Ledger
from shipping.ledger.parcel_states import entry_to_undo
from shipping.ledger.whole_shelf import problems_of_lot, said_of_bought
from shipping.options.journey import lot_day
from shipping.tables.countries import is_country
from shipping.tables.learned_values import EVERYTHING, newest_rows
from shipping.tables.list_words import STAGE_WORDS
from shipping.words.keys import owed_order
from shipping.words.problems import ShelfProblems
from shipping.words.sentence import say
from shipping.words.units import percent
from shipping.worktop import context
from shipping.worktop.background import Background, Going
from shipping.worktop.kept_week import fish_name, kept_parcels_now
from shipping.worktop.page_language import countries_by_name, listed, name_of_country, shown_name, tr
from shipping.worktop.parcel_cards import count_from
from shipping.worktop.table_words import label_of

if TYPE_CHECKING:
    from shipping.learning.lesson import Learned, Lesson
    from shipping.learning.score import Scores
    from shipping.ledger.claims import Case
    from shipping.ledger.kept_parcel import KeptLine, KeptParcel
    from shipping.tables.rows.learned import RateRow

#: The newest entries are listed; any other is found by its number.
MOST_ENTRIES = 60


@dataclass(frozen=True, slots=True)
class Lessons:
    """What was learned, of how many lines, what it changes by route, doubts, and how promises held."""

    lesson: Lesson
    told: str
    change: str
    doubts: tuple[str, ...]
    margins: tuple[str, ...]
    held: tuple[tuple[str, tuple[tuple[str, str, str, int, str], ...]], ...]


@dataclass(frozen=True, slots=True)
class SeenCase:
    """A case at a glance: whose and of which fish; eggs ordered, packed and alive by the buyer's word (None:
    not told); the lots with eggs free to send again, and who has those of the others; the order that would
    send them; what the
    line cost, "" where nobody knows.
    """

    case: Case
    buyer: str
    fish: str
    ordered: int
    packed: int
    alive: int | None
    free: tuple[tuple[str, int], ...]
    taken: tuple[str, ...]
    again: str
    price: str


class RecordPage(context.View):
    """What was recorded, and what follows from it."""

    pages = (
        ("/history", "history"),
        ("/claims", "claims"),
        ("/taught", "taught"),
        ("/copy", "copy"),
        ("/copy/ledger.sqlite", "copy_file"),
        ("/buy", "buy"),
    )
    forms = (
        ("/history/<int:entry>/undo", "undo_entry"),
        ("/parcels/<name>/drop", "drop"),
        ("/claims/<name>/<order>/<int:line>", "settle"),
        ("/taught/keep", "keep_taught"),
        ("/taught/back", "take_taught_back"),
        ("/copy/back", "copy_back"),
        ("/copy/right", "copy_right"),
        ("/erase", "erase"),
        ("/buy", "bought"),
    )

    def __init__(self, worktop: context.Worktop) -> None:
        super().__init__(worktop)
        self._lessons = Background(
            "What it taught could not be reckoned",
            lambda name: self.shelf_state.mark(),
            self._reckon_lesson,
            worktop.aside,
        )

    # -- history

    def history(self) -> Response:
        entries, find = self.shelf_state.entries(), context.sought()
        every = [
            entry
            for entry in reversed(entries_in_words(entries, tr))
            if find.casefold() in f"{entry.entry} {entry.parcel} {entry.text}".casefold()
        ]
        shown = every[:MOST_ENTRIES]
        named = {entry.parcel for entry in shown}
        kept = [kept for kept in kept_parcels_now(self.shelf_state) if kept.name in named]
        return self.worktop.page(
            "history.html",
            shown=shown,
            every=len(every),
            back={entry.entry for entry in shown if not entry.undone and _may_go_back(entries, entry.entry)},
            find=find,
            plainly=context.plainly,
            ways={entry.seq: entry.body.how for entry in entries if isinstance(entry.body, Arrived)},
            buyers={parcel.name: shown_name(parcel.addressee, "") for parcel in kept},
        )

    def undo_entry(self, entry: int) -> Response:
        return self._recorded("/history", lambda ledger: ledger.undo(entry), can_undo=False)

    def drop(self, name: str) -> Response:
        def let_go(ledger: Ledger) -> Entry:
            context.refuse_long("Not recorded: {why}", note=500)
            return ledger.drop(name, context.typed("note"))

        address = "/plan" if request.form.get("after") == "plan" else f"/week?week={name[:8]}"
        return self._recorded(address, let_go)

    def _recorded(self, address: str, record: Callable[[Ledger], Entry], can_undo: bool = True) -> Response:
        """Does it, and says what was recorded, with the button that takes it back, or why not, on a page."""
        try:
            with self.recording() as ledger:
                entry = record(ledger)
        except context.Refused as refused:
            return self.worktop.told_at(address, refused.said)
        early = leaving_too_early((one.parcel for one in kept_parcels_now(self.shelf_state)), self.shelf)
        told = (context.tidy_days(f"{tr(problem.text)} {tr(problem.mend)}") for problem in early)
        undo = context.Undo(f"/history/{entry.seq}/undo", {}) if can_undo else None
        return self.worktop.told_at(address, " ".join((self.said_of(entry.seq), *told)), undo=undo)

    # -- claims

    def _cases(self) -> tuple[Case, ...]:
        from shipping.ledger.claims import cases

        shelf = self.shelf
        with self.shelf_state.ledger() as ledger:
            return tuple(cases(ledger.parcels(), shelf.settings.claims, shelf)) if ledger else ()

    def claims(self) -> Response:
        from shipping.ledger.claims import CLAIMS
        from shipping.ledger.kept_parcel import NOT_COME

        with self.shelf_state.ledger() as ledger:
            kept = {parcel.parcel: parcel for parcel in ledger.parcels()} if ledger else {}
        seen = [self._seen(case, kept[case.parcel]) for case in self._cases()]
        policy = self.shelf.settings.claims
        return self.worktop.page(
            "claims.html",
            cases=sorted(seen, key=lambda seen: seen.case.state == "settled"),
            about=CLAIMS,
            lines=[
                (parcel.parcel, line.order, line.line, ", ".join(filter(None, self._named(line))))
                for parcel in kept.values()
                if parcel.state in ("sent", "arrived", *NOT_COME)
                for line in parcel.lines
            ],
            currency=self.shelf.settings.plan.currency,
            is_unwritten=not (policy.short_policy and policy.hatched_policy),
        )

    def _seen(self, case: Case, parcel: KeptParcel) -> SeenCase:
        """A case with what its first look needs."""
        from shipping.ledger.claims import price_of

        line = parcel.line((case.order, case.line))
        report = parcel.reports.get(line.key)
        buyer, fish = self._named(line)
        return SeenCase(
            case=case,
            buyer=buyer,
            fish=fish,
            ordered=line.ordered,
            packed=parcel.packed_of(line.key),
            alive=report.living if report else None,
            free=self._free_of(line),
            taken=tuple(self._taken_of(line)),
            again=owed_order(line.key),
            price=price_of(line, self.shelf),
        )

    def _free_of(self, line: KeptLine) -> tuple[tuple[str, int], ...]:
        """The lots of a line's fish and population that have eggs free to pack today, and how many."""
        left = self.shelf_state.left()
        same = [lot for lot in left.lots if (lot.species, lot.population) == (line.species, line.population)]
        free = ((lot.lot, lot_day(left, lot.lot, left.today).free) for lot in same)
        return tuple((lot, eggs) for lot, eggs in free if eggs > 0)

    def _taken_of(self, line: KeptLine) -> Iterator[str]:
        """Why the lots of its fish and population have no egg free, lot by lot."""
        left, orders = self.shelf_state.left(), dict[str, dict[str, None]]()
        for kept in kept_parcels_now(self.shelf_state):
            for one in kept.parcel.lines if kept.parcel.is_planned else ():
                for draw in one.draws:
                    orders.setdefault(draw.lot, {})[one.order] = None
        for lot in left.lots:
            if (lot.species, lot.population) == (line.species, line.population):
                on = lot_day(left, lot.lot, left.today)
                forecast = on.forecast
                held = sum(eggs for _, eggs in forecast.held)
                why = []
                if held:
                    names = ", ".join(orders.get(lot.lot, ())) or ", ".join(forecast.held_for)
                    why.append(tr("{eggs} held for {orders}", eggs=held, orders=names))
                if on.look_first or forecast.doubts(left.today):
                    why.append(tr("none may go before a look"))
                elif lot.keep_back and forecast.eggs_on(left.today):
                    why.append(tr("{eggs} kept back", eggs=forecast.eggs_on(left.today)))
                yield tr("Lot {lot}: {what}.", lot=lot.lot, what=listed(why or [tr("none left")]))

    def _named(self, line: KeptLine) -> tuple[str, str]:
        """Whose line it is, as far as the tables still know, and of which fish."""
        shelf = self.shelf
        order = shelf.order_by_name.get(line.order)
        name = shown_name(order.address.addressee, "") if order else ""
        return name, fish_name(line.species, line.population, shelf)

    def settle(self, name: str, order: str, line: int) -> Response:
        """Opens a claim, or settles one: the same entries as the command's."""
        from shipping.ledger.claims import CLAIMS, ENDINGS, record_claim

        about, ending = request.form.get("about", ""), request.form.get("how", "")
        key = (name, order, line)
        case = next((case for case in self._cases() if (case.parcel, case.order, case.line) == key), None)

        def settled(ledger: Ledger) -> Entry:
            is_named = about or ending or case is None or case.state != "open"
            eggs = _count_if_told("eggs") or 0
            if about not in ("", *CLAIMS) or ending not in ("", *ENDINGS) or not is_named:
                raise context.Refused(tr("Not recorded: choose what it is about, and how it ends."))
            context.refuse_long("Not recorded: {why}", note=500, amount=20)
            amount, note = request.form.get("amount", ""), context.typed("note")
            told = (about, ending, eggs, amount, note, self.shelf)
            return record_claim(ledger, name, (order, line), case, *told)[-1]

        return self._recorded("/claims", settled)

    # -- what it taught

    def _reckon_lesson(self, name: str, going: Going) -> Lessons:
        from shipping.learning.lesson import learn
        from shipping.learning.next_margins import (
            learning_report,
            margin_lines,
            margin_sentence,
            told_sentence,
        )
        from shipping.learning.score import scores

        shelf = self.shelf_state.tables().shelf
        with self.shelf_state.ledger() as ledger:
            if ledger is None:
                return Lessons(learn(shelf, ()), "", "", (), (), ())
            taught = learning_report(shelf, ledger)
        doubts = (
            taught.one_line,
            *taught.orders,
            taught.mishaps,
            taught.left_out,
            *taught.silence,
            taught.fry,
        )
        return Lessons(
            taught.lesson,
            told_sentence(taught.lesson),
            margin_sentence(taught.margins) if taught.outcomes else "",
            tuple(filter(None, doubts)),
            tuple(margin_lines(taught.margins)),
            tuple(_promises_held(scores(taught.outcomes))) if taught.outcomes else (),
        )

    def taught(self) -> Response:
        taught = self._lessons.ask_awhile()
        if taught is None:
            return self.worktop.page("learning.html", how_far=self._lessons.going())
        rows = [_rate_row(rate) for rate in taught.lesson.rates]
        changed = [row for row in rows if row["before"] != row["now"]]
        standing = [row for row in newest_rows(self.shelf, learned=True) if row.basis == "learned"]
        return self.worktop.page(
            "taught.html",
            standing=[_standing_row(row) for row in standing],
            last=max((row.from_day for row in standing), default=None),
            lesson=taught.lesson,
            taught=taught,
            changed=[row for row in changed if row["n"]],
            followed=[row for row in changed if not row["n"]],
            same=[row for row in rows if row["before"] == row["now"]],
        )

    def keep_taught(self) -> Response:
        from shipping.learning.lesson import add_rates
        from shipping.learning.next_margins import kept_sentence

        lesson = self._lessons.wait().lesson
        try:
            with context.refusing("Not kept: {why}"):
                known = self.shelf.rates
                path, gained = add_rates(self.shelf_state.folder, lesson.rows(self.worktop.today), known)
        except context.Refused as refused:
            return self.worktop.told_at("/taught", refused.said)
        return self.worktop.told_at("/taught", tr(kept_sentence(path.name, gained)))

    def take_taught_back(self) -> Response:
        from shipping.learning.lesson import take_back
        from shipping.learning.next_margins import taken_back_sentence

        try:
            with context.refusing("Not taken back: {why}"):
                path, gone = take_back(self.shelf_state.folder, self.shelf.rates)
        except context.Refused as refused:
            return self.worktop.told_at("/taught", refused.said)
        return self.worktop.told_at("/taught", tr(taken_back_sentence(path.name, gone)))

    # -- copies and erasing

    def copy(self, trouble: str = "", status: int = 200) -> Response:
        is_kept = bool(self.shelf_state.entries())
        return self.worktop.page("copy.html", status, is_kept=is_kept, trouble=trouble, typed=request.form)

    def copy_file(self) -> Response:
        with self.shelf_state.ledger() as ledger, tempfile.TemporaryDirectory() as place:
            if ledger is None:
                abort(404)
            content = ledger.copy(Path(place) / "ledger.sqlite").read_bytes()
        place = f'attachment; filename="ledger-{self.worktop.today.isoformat()}.sqlite"'
        return context.file_answer(content, "application/vnd.sqlite3", Content_Disposition=place)

    def copy_back(self) -> Response:
        """The furthest whole copy becomes the ledger; the file before it is put aside."""
        shelf_state = self.shelf_state
        with shelf_state.lock:
            shelf_state.close()
            done = put_back(shelf_state.folder)
        said = tr("The ledger is {copy} again, up to entry {entries}.", copy=done.copy, entries=done.entries)
        aside = tr("The file before it lies in {place}.", place=done.before) if done.before else ""
        return self._accepted(" ".join(filter(None, (said, aside, tr(done.missing())))))

    def copy_right(self) -> Response:
        """The ledger as it is is right, though others know more."""
        return self._accepted("")

    def _accepted(self, said: str) -> Response:
        with self.shelf_state.ledger() as ledger:
            if ledger is None:
                abort(404)
            entry = ledger.accept()
        missing = tr("What was recorded after it is not in it: record that again.") if entry else ""
        nothing = "" if entry or said else tr("Nothing else knows of any other entry.")
        return self.worktop.told_at("/history", " ".join(filter(None, (said, missing, nothing))))

    def erase(self) -> Response:
        shelf_state = self.shelf_state
        try:
            context.refuse_long("Not erased: {why}", buyer=200)
            with shelf_state.lock:
                shelf_state.close()
                erased = erase_buyer(
                    shelf_state.folder, self.worktop.today, request.form.get("buyer", "").strip()
                )
        except context.Refused as refused:
            return self.copy(refused.said, refused.status)
        except LedgerError as trouble:
            return self.copy(tr("Not erased: {why}", why=context.plain_problem(trouble.problem)), 422)
        said = tr(
            "Erased. Of the ledger: {parts}; of its copies: {copies}; of papers and files here: {papers}."
            " Printed papers and copies elsewhere are yours to clear.",
            parts=erased.parts,
            copies=len(erased.copies),
            papers=len(erased.papers),
        )
        left = (*erased.copies_left, *erased.papers_left, *erased.left)
        by_hand = tr("NOT erased, remove by hand: {files}.", files=", ".join(left)) if left else ""
        tables = tr(
            "Your own tables still hold the name, and are yours to change: {files}.",
            files=", ".join(erased.tables),
        )
        counted = tr(
            "The same words stand in {files} as another buyer's name, or a lot's, fish's or place's:"
            " they stay.",
            files=", ".join(erased.counted),
        )
        shown = (said, by_hand, counted if erased.counted else "", tables if erased.tables else "")
        return self.worktop.told_at("/copy", " ".join(filter(None, shown)))

    # -- eggs bought in

    def buy(self, trouble: str = "", status: int = 200) -> Response:
        shelf = self.shelf_state.tables().shelf
        return self.worktop.page(
            "buy.html",
            status,
            species=shelf.species,
            countries=[(code, name_of_country(code)) for code in countries_by_name(())],
            services=sorted({row.service for row in shelf.services}),
            packings=sorted(shelf.packing_by_name),
            stages=STAGE_WORDS,
            typed=request.form,
            trouble=trouble,
        )

    def bought(self) -> Response:
        try:
            body = self._bought_typed()
            with context.refusing("Not recorded: {why}"):
                if problems := problems_of_lot(self.shelf_state.folder, self.worktop.today, body):
                    raise ShelfProblems(problems)
            with self.recording(create=True) as ledger:
                entry = ledger.buy(body, self.shelf_state.tables().shelf)
        except context.Refused as refused:
            return self.buy(refused.said, 422)
        said = self.said_of(entry.seq)
        told = said_of_bought(self.shelf_state.folder, self.worktop.today, entry.seq)
        if told:
            said = " ".join([tr("Written, but look:"), *map(context.plain_problem, told), said])
        return self.worktop.told_at(f"/lots?at={body.lot}", said, f"h-{body.lot}")

    def _bought_typed(self) -> Bought:
        """The eggs of the form; refused where a count, a day or a warmth cannot be read."""
        form = request.form
        context.refuse_long("Not recorded: {why}", note=500, from_whom=200, lot=60, population=100)
        try:
            kept_at = float(form.get("kept_at_c", "").replace(",", "."))
        except ValueError:
            raise _not_recorded(tr("say at how many °C the eggs are kept, such as 21.")) from None
        arrived = _day("arrived_on") or self.worktop.today
        first = _day("laid_from")
        if first is None:
            raise _not_recorded(tr("say from which day on they may have been laid, such as 2026-11-20."))
        return Bought(
            lot=form.get("lot", "").strip(),
            arrived_on=arrived,
            sent=_count("sent"),
            alive=_count("alive"),
            species=form.get("species", ""),
            population=form.get("population", "").strip(),
            laid_from=first,
            laid_to=_day("laid_to") or first,
            medium=form.get("medium", ""),
            kept_at_c=kept_at,
            stage=form.get("stage", ""),
            posted_on=_day("posted_on"),
            hatched_alive=_count_if_told("hatched"),
            dead=_count_if_told("dead"),
            keep_back=_count_if_told("keep_back") or 0,
            origin=_country("origin"),
            service=form.get("service", ""),
            packing=form.get("packing", ""),
            from_whom=form.get("from_whom", "").strip(),
            note=context.typed("note"),
        )


def _not_recorded(why: str) -> context.Refused:
    return context.Refused(tr("Not recorded: {why}", why=why))


def _count(name: str) -> int:
    count = count_from(request.form.get(name, ""))
    if count is None:
        raise _not_recorded(tr("a count is no count of eggs. Write digits only."))
    return count


def _count_if_told(name: str) -> int | None:
    return _count(name) if request.form.get(name, "").strip() else None


def _country(name: str) -> str:
    code = request.form.get(name, "").strip().upper()
    if code and not is_country(code):
        raise _not_recorded(
            tr("'{code}' is not a country code. Write the two letters of ISO 3166, such as DE.", code=code)
        )
    return code


def _day(name: str) -> date | None:
    return context.day_typed_in(name, "Not recorded: {why}")


def _rate_row(rate: Learned) -> dict[str, object]:
    """A learned value in the trade's words: shares as percent, days as days."""
    return {
        **_named_rate(rate.what, rate.for_),
        "before": rate_shown(rate.what, rate.unit, rate.before),
        "now": rate_shown(rate.what, rate.unit, rate.after),
        "n": rate.n,
        "overruled": rate.overruled,
    }


def _promises_held(found: Scores) -> Iterator[tuple[str, tuple[tuple[str, str, str, int, str], ...]]]:
    """How often promises held, a heading and rows: of what, promised, held, of how many, what it allows."""
    from shipping.learning.score import verdict_of

    of_all = ((say("all lines"), (found.all,)),) if found.all else ()
    for head, scores in (*of_all, *found.groups):
        yield head, tuple((s.name, percent(s.promised), percent(s.kept), s.n, verdict_of(s)) for s in scores)


def _standing_row(row: RateRow) -> dict[str, object]:
    value = rate_shown(row.what, row.unit, row.value)
    return {**_named_rate(row.what, row.for_), "now": value, "since": row.from_day}


def _named_rate(what: str, whose: str) -> dict[str, object]:
    named = tr("all lots") if whose == EVERYTHING else ", ".join(map(tr, whose.split("/")))
    return {"what": tr(label_of(what)), "whose": named}


def _may_go_back(entries: tuple[Entry, ...], entry: int) -> bool:
    """Does nothing rest on an entry, so that it may be taken back?"""
    try:
        entry_to_undo(entries, entry)
    except LedgerError:
        return False
    return True
