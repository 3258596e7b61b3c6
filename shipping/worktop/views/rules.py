"""The pages of what somebody else has to answer: rules and operators; the answer into the table out."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from flask import Response, abort, request

from shipping.post.restrictions import AUTHORITY, RuleNeeded, is_nobodys, rule_report, rules_needed
from shipping.tables.countries import is_country
from shipping.tables.editing.row_writer import WrittenRow, change_rows
from shipping.tables.rows.rules import RULE_WORDS
from shipping.tables.shelf import Shelf
from shipping.week.objective import default_week
from shipping.worktop.context import Refused, View, day_typed_in, go_to, refuse_long, refusing, typed
from shipping.worktop.page_language import day_and_month, name_of_country, reasons_wording, tr
from shipping.worktop.parcel_cards import count_from
from shipping.worktop.table_row import (
    add_checked_row,
    change_checked_row,
    change_tried,
    is_in_workbook,
    written_words,
)
from shipping.worktop.table_words import RowAsTyped, rows_as_typed
from shipping.worktop.todays_tasks import answers_to_get, open_answers

VERDICT_WORDS = {
    "open": "open: nothing more is needed",
    "papers": "papers: only with the papers named",
    "ask": "ask: not answered yet",
    "closed": "closed: it may not go",
}
#: An answer that is too old, as it is told.
OLD_ANSWERS = {"open": "yes", "papers": "yes, with papers", "ask": "to ask first", "closed": "no"}
#: What an operator may say of live eggs.
ANSWERS = {"yes": "yes, they may travel", "no": "no", "ask": "not answered yet"}


@dataclass(frozen=True, slots=True)
class RuleCard:
    """One rule to look up; ``places`` and ``taxa`` are for a new row, the country asked about first."""

    id: str
    place: str
    country: str
    home: str
    fish: str
    needed: RuleNeeded
    places: tuple[str, ...]
    taxa: tuple[str, ...]
    today: date

    @property
    def place_names(self) -> dict[str, str]:
        """The places, and how each is shown: a country by its name."""
        return {
            code: f"{name_of_country(code)} ({code})" if is_country(code) else code for code in self.places
        }

    @property
    def what(self) -> str:
        if self.needed.row is None or is_nobodys(self.needed.row):
            return tr("Nobody has looked this up.")
        if not self.needed.stale:
            return tr("Your rule says to ask first, and nobody has answered yet.")
        day = self.needed.row.checked_on  # a rule may be older than a year
        return tr(
            "The last answer, of {day}, said {verdict}; that is too long ago to count.",
            day=day_and_month(day, with_year=True) if day else "",
            verdict=tr(OLD_ANSWERS[self.needed.verdict]),
        )

    @property
    def whom(self) -> str:
        """Whom to ask: who is in charge there."""
        if self.home == self.country:
            return tr("Ask the post, and the authority for animals at home.")
        return tr(
            "Ask the post, and the authority for imports at the destination: {country}.", country=self.country
        )

    @property
    def named(self) -> str:
        """Where the rule at hand is from; "" where there is none, or the starter's row of home asks."""
        row = self.needed.row
        is_of_home = row is not None and self.home == self.country and is_nobodys(row)
        if row is None or is_of_home or self.needed.ask == AUTHORITY:
            return ""
        return tr("Your rule is from: {source}.", source=reasons_wording().parts_said(self.needed.ask))

    @property
    def subject(self) -> str:
        return tr("Eggs of {fish}, destination: {country}", fish=self.fish, country=self.country)

    @property
    def question(self) -> str:
        """The question, to be sent as it stands."""
        if self.home == self.country:
            return tr(
                "May a private keeper sell living, fertilised eggs of {fish} and send them by post inside"
                " the country ({country})? Which papers or registration does it take? Please answer in"
                " writing.",
                fish=self.fish,
                country=self.country,
            )
        return tr(
            "May living, fertilised eggs of {fish} be sent by post to a private keeper abroad"
            " ({home} to {country})? Which papers must go with them, and who must have them before? Please"
            " answer in writing.",
            fish=self.fish,
            home=self.home,
            country=self.country,
        )


class RulesPage(View):
    """What has to be asked before parcels go."""

    pages = (("/rules", "rules"),)
    forms = (("/rules/<card_id>", "answer"),)
    _wrote = ""

    def _cards(self) -> tuple[RuleCard, ...]:
        """A card for each rule that an order in hand needs."""
        shelf = self.shelf_state.tables().shelf
        return tuple(rule_card(needed, shelf) for needed in rules_needed(shelf))

    def rules(self, trouble_of: str = "", trouble: str = "", status: int = 200) -> Response:
        shelf = self.shelf_state.tables().shelf
        now = self.worktop.week_now(default_week(shelf), awhile=True)
        others = [task for task in answers_to_get(shelf, now) if not task.address.startswith("/rules")]
        cards = self._cards()
        rows = rule_report(shelf, None, None).rows
        return self.worktop.page(
            "rules.html",
            status,
            cards=cards,
            rules=len(cards),
            more=len(others),
            is_reckoning=now.is_reckoning,
            others=others,
            rows=sorted(rows, key=lambda row: (not row[2], row[0].to, row[0].taxon)),
            verdicts=VERDICT_WORDS,
            troubles={trouble_of: trouble},
            typed=request.form,
            wrote=self._wrote if "wrote" in request.args else "",
            in_workbook=is_in_workbook(self.shelf_state.folder, "rules"),
        )

    def answer(self, card_id: str) -> Response:
        with self.shelf_state.lock:
            card = next((card for card in self._cards() if card.id == card_id), None)
            if card is None:
                abort(404)
            try:
                self._wrote = self._written(card)
            except Refused as refused:
                if self.worktop.wants_card:
                    return self._answer(card, refused.said, refused.status, trouble=refused.said)
                return self.rules(card_id, refused.said, refused.status)
            if self.worktop.wants_card:
                return self._answer(card, self._wrote, said_here=self._wrote)
            return go_to("/rules?wrote=1#wrote")

    def _written(self, card: RuleCard) -> str:
        """Writes the answer of the form, and says so."""
        refuse_long("Not written: {why}", papers=500, source=500, note=500)
        cells = {name: request.form.get(name, "") for name in ("to", "taxon", "verdict")}
        cells |= {name: typed(name) for name in ("papers", "source", "note")}
        day = day_typed_in("checked_on", "Not written: {why}")
        if trouble := _lacking(card, cells, day):
            raise Refused(tr("Not written: {why}", why=trouble))
        row = card.needed.row
        cells |= {"checked_on": str(day)}
        is_answer_to_row = row is not None and (cells["to"], cells["taxon"]) == (row.to, row.taxon)
        with refusing("Not written: {why}"):
            if row is not None and is_answer_to_row:  # as the command: two rows of one place would both count
                was = {"to": cells.pop("to"), "taxon": cells.pop("taxon")}
                cells = {name: text for name, text in cells.items() if text}
                written, _ = change_checked_row(self.shelf_state, "rules", row.at.row, cells, was)
                said = written_words(written, cells)
            else:
                cells["medium"] = row.medium or "" if row else ""
                written, _ = add_checked_row(self.shelf_state, "rules", cells)
                said = written_words(written)
        if not self._is_open(card):
            return said
        stricter = tr(
            "But a stricter row{older} still counts: write its last day in its until, if it no longer holds.",
            older=f" ({row.at})" if row else "",
        )
        said, line, small = said.partition("\n")
        return f"{said} {stricter}{line}{small}"

    def _is_open(self, card: RuleCard) -> bool:
        return any(other.id == card.id for other in self._cards())

    def _answer(
        self, card: RuleCard, said: str, status: int = 200, trouble: str = "", said_here: str = ""
    ) -> Response:
        return self.worktop.card(
            "_rule_answer.html",
            said,
            status,
            rules=len(self._cards()),
            more=count_from(request.form.get("more", "")) or 0,
            card=card,
            verdicts=VERDICT_WORDS,
            trouble=trouble,
            typed=request.form,
            said_here=said_here,
            is_first=True,
            is_open=self._is_open(card),
            in_workbook=is_in_workbook(self.shelf_state.folder, "rules"),
        )


def _lacking(card: RuleCard, cells: dict[str, str], day: date | None) -> str:
    """What is missing in an answer, "" where nothing is."""
    if cells["verdict"] not in RULE_WORDS:
        return tr("say what the rule is: open, papers, ask or closed.")
    if not cells["source"]:
        return tr("say who answered or where it stands: an authority, a law, a page.")
    if cells["verdict"] == "papers" and not cells["papers"]:
        return tr("name the papers, parted by semicolons.")
    if cells["to"] not in card.places or cells["taxon"] not in card.taxa:
        return tr("choose the place and the fish from the lists.")
    if day is None or day > card.today:
        return tr("write the day it was looked up, such as 2026-11-30; not a day to come.")
    return ""


class OperatorsPage(View):
    """Who has to be asked about a service, and what was said."""

    pages = (("/operators/<service>", "operator"),)
    forms = (("/operators/<service>", "operator_said"),)

    def _rows(self, service: str) -> list[RowAsTyped]:
        rows = rows_as_typed(self.shelf_state.folder / "services.csv")
        return [row for row in rows if row.cells.get("service") == service]

    def operator(self, service: str, trouble: str = "", status: int = 200) -> Response:
        rows, in_workbook = self._rows(service), is_in_workbook(self.shelf_state.folder, "services")
        if not rows and not in_workbook:
            abort(404)
        return self.worktop.page(
            "operator.html",
            status,
            service=service,
            places=", ".join(dict.fromkeys(name for row in rows for name in _named_places(row))),
            before=rows[0].cells if rows else {},
            answers=ANSWERS,
            typed=request.form,
            trouble=trouble,
            in_workbook=in_workbook,
            left=len(list(open_answers(self.shelf))),
        )

    def operator_said(self, service: str) -> Response:
        try:
            written = self._written(service)
        except Refused as refused:
            return self.operator(service, refused.said, refused.status)
        is_answered = request.form.get("live_eggs") != "ask"
        left = open_answers(self.shelf) if is_answered else ()
        address, _, at = next((task.address for task in left), "/").partition("#")
        return self.worktop.told_at(address, written_words(written, ("live_eggs",)), at)

    def _written(self, service: str) -> WrittenRow:
        """Writes the answer of the form into every row of the service."""
        said, who = request.form.get("live_eggs", ""), typed("answered_by")
        day = day_typed_in("answered_on", "Not written: {why}")
        if said not in ANSWERS:
            raise Refused(tr("Not written: say what the operator answered."))
        if said != "ask" and (not who or day is None or day > self.worktop.today):
            raise Refused(tr("Not written: say who answered, and on which day."))
        refuse_long("Not written: {why}", answered_by=200)
        on = day.isoformat() if day and said != "ask" else ""
        cells, rows = {"live_eggs": said, "answered_by": who, "answered_on": on}, self._rows(service)
        if not rows:
            abort(404)

        def write(path: Path) -> WrittenRow:
            return change_rows(path, {row.row: cells for row in rows}, {"service": service})

        with refusing("Not written: {why}"):
            return change_tried(self.shelf_state, "services", write)[0]


def rule_card(needed: RuleNeeded, shelf: Shelf) -> RuleCard:
    """The card of one rule to look up."""
    species = shelf.species[needed.species]
    place, row = needed.place, needed.row
    named = row.places if row else ()
    own = place if place in named else needed.country  # as near as the old row: a wider one would not win
    places = [own, needed.country, place, *(wider for wider in named if wider != "*")]
    taxa = [species.scientific_name, *([row.taxon] if row else []), species.genus, species.family, "*"]
    mark = "|".join((place, needed.species, str(row.at) if row else ""))
    return RuleCard(
        id=hashlib.sha256(mark.encode()).hexdigest()[:12],
        place=place,
        country=name_of_country(needed.country),
        home=name_of_country(shelf.settings.home.country),
        fish=species.scientific_name,
        needed=needed,
        places=tuple(dict.fromkeys(places)),
        taxa=tuple(dict.fromkeys(name for name in taxa if name)),
        today=shelf.today,
    )


def _named_places(row: RowAsTyped) -> list[str]:
    """Where a service goes, countries by their names; nothing where it goes everywhere."""
    places = row.cells.get("to", "").split()
    return [name_of_country(place) if is_country(place) else place for place in places if place != "*"]
