"""The page of the rules: what is missing or stale for the orders in hand, whom to ask, and the answer into
the table.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date

from flask import Flask, Response, abort, request

from shipping.post.restrictions import AUTHORITY, RuleNeeded, rules_needed
from shipping.questions.rule_report import rule_report
from shipping.tables.rows.rules import RULE_WORDS
from shipping.tables.shelf import Shelf
from shipping.week.objective import default_week
from shipping.words.problems import ShelfProblems
from shipping.worktop.context import Worktop, day_from, go_to, plain_problems
from shipping.worktop.kept_week import lines_left_out
from shipping.worktop.page_language import day_and_month, name_of_country, tr
from shipping.worktop.round import answers_to_get
from shipping.worktop.table_row import add_checked_row, is_in_workbook, tables_folder_words

VERDICT_WORDS = {
    "open": "open: nothing more is needed",
    "papers": "papers: only with the papers named",
    "ask": "ask: not answered yet",
    "closed": "closed: it may not go",
}
#: An answer that is too old, as it is told.
OLD_ANSWERS = {
    "open": "yes",
    "papers": "yes, with papers",
    "ask": "to ask first",
    "closed": "no",
}


@dataclass(frozen=True, slots=True)
class RuleCard:
    """One rule to look up; ``places`` and ``taxa`` are what a new row may name, the nearest to what was
    missing first.
    """

    id: str
    place: str
    country: str
    home: str
    fish: str
    needed: RuleNeeded
    places: tuple[str, ...]
    taxa: tuple[str, ...]

    @property
    def what(self) -> str:
        if self.needed.row is None:
            return tr("Nobody has looked this up.")
        if not self.needed.stale:
            return tr("Your rule says to ask first, and nobody has answered yet.")
        return tr(
            "The last answer, of {day}, said {verdict}; that is too long ago to count.",
            day=_whole_day(self.needed.row.checked_on),
            verdict=tr(OLD_ANSWERS[self.needed.verdict]),
        )

    @property
    def whom(self) -> str:
        """Whom to ask: who is in charge there."""
        return tr("Ask the post, and the authority for imports of {country}.", country=self.country)

    @property
    def named(self) -> str:
        """Where the rule at hand is from; "" where there is none."""
        if self.needed.row is None or self.needed.ask == AUTHORITY:
            return ""
        return tr("Your rule is from: {source}.", source=self.needed.ask)

    @property
    def subject(self) -> str:
        return tr("Eggs of {fish} to {country}", fish=self.fish, country=self.country)

    @property
    def question(self) -> str:
        """The question, to be sent as it stands."""
        return tr(
            "May living, fertilised eggs of {fish} be sent by post from {home} to {country}, to a private"
            " keeper? Which papers must go with them, and who must have them before? Please answer in"
            " writing.",
            fish=self.fish,
            home=self.home,
            country=self.country,
        )


def _whole_day(day: date | None) -> str:
    """``20 April 2026``: a rule may be older than a year."""
    return f"{day_and_month(day)} {day.year}" if day else ""


class RulesPage:
    """What has to be asked before parcels go."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        self._wrote = ""

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/rules", "rules", self.show)
        app.add_url_rule("/rules/<card_id>", "answer", self.answer, methods=["POST"])

    def cards(self, shelf: Shelf) -> tuple[RuleCard, ...]:
        """A card for each rule that an order in hand needs."""
        return tuple(rule_card(one, shelf) for one in rules_needed(shelf, with_asked=True))

    def show(self) -> Response:
        return self._page({})

    def _page(self, troubles: dict[str, str], status: int = 200) -> Response:
        shelf = self.worktop.shelf_state.tables().shelf
        report = rule_report(shelf, None, None)
        answers = answers_to_get(
            shelf, lines_left_out(self.worktop.shelf_state, default_week(shelf)), self.worktop.hide_names
        )
        return self.worktop.page(
            "rules.html",
            status,
            cards=self.cards(shelf),
            owed=len(answers),
            others=[task for task in answers if not task.address.startswith("/rules")],
            rows=sorted(report.rows, key=lambda row: (not row[2], row[0].to, row[0].taxon)),
            verdicts=VERDICT_WORDS,
            troubles=troubles,
            typed=request.form,
            wrote=self._wrote if "wrote" in request.args else "",
            in_workbook=is_in_workbook(self.worktop.shelf_state.folder, "rules"),
        )

    def answer(self, card_id: str) -> Response:
        with self.worktop.shelf_state.lock:
            shelf = self.worktop.shelf_state.tables().shelf
            card = next((one for one in self.cards(shelf) if one.id == card_id), None)
            if card is None:
                abort(404)
            if too_long := self.worktop.too_long(papers=500, source=500, note=500):
                return self._tell(card, "", tr("Not written: {why}", why=too_long), 422)
            typed = {
                name: " ".join(request.form.get(name, "").split()) for name in ("papers", "source", "note")
            }
            day = day_from(request.form.get("checked_on", ""))
            place, taxon, verdict = (request.form.get(name, "") for name in ("to", "taxon", "verdict"))
            trouble = self._trouble(
                card, typed, place, taxon, verdict, day is not None and day <= shelf.today
            )
            if trouble or day is None:
                return self._tell(card, "", tr("Not written: {why}", why=trouble), 422)
            medium = card.needed.row.medium if card.needed.row and card.needed.row.medium else ""
            cells = {
                "to": place,
                "taxon": taxon,
                "medium": medium,
                "verdict": verdict,
                "checked_on": day.isoformat(),
                **typed,
            }
            try:
                written, _ = add_checked_row(self.worktop.shelf_state, "rules", cells)
            except ShelfProblems as found:
                return self._tell(card, "", tr("Not written: {why}", why=plain_problems(found)), 409)
            said = tables_folder_words(written)
            if any(one.id == card_id for one in self.cards(self.worktop.shelf_state.tables().shelf)):
                older = f" ({card.needed.row.at})" if card.needed.row else ""
                said += " " + tr(
                    "But a stricter row{older} still counts: write its last day in its until, if it no longer"
                    " holds.",
                    older=older,
                )
            self._wrote = said
            return self._tell(card, said, "", 200)

    @staticmethod
    def _trouble(
        card: RuleCard, typed: dict[str, str], place: str, taxon: str, verdict: str, has_day: bool
    ) -> str:
        """What is missing in an answer, "" where nothing is."""
        if verdict not in RULE_WORDS:
            return tr("say what the rule is: open, papers, ask or closed.")
        if not typed["source"]:
            return tr("say who answered or where it stands: an authority, a law, a page.")
        if verdict == "papers" and not typed["papers"]:
            return tr("name the papers, parted by semicolons.")
        if place not in card.places or taxon not in card.taxa:
            return tr("choose the place and the fish from the lists.")
        if has_day:
            return ""
        return tr("write the day it was looked up, such as 2026-11-30; not a day to come.")

    def _tell(self, card: RuleCard, said: str, trouble: str, status: int) -> Response:
        if self.worktop.wants_card:
            is_open = any(one.id == card.id for one in self.cards(self.worktop.shelf_state.tables().shelf))
            facts = {
                "card": card,
                "verdicts": VERDICT_WORDS,
                "trouble": trouble,
                "typed": request.form if trouble else {},
            }
            in_book = is_in_workbook(self.worktop.shelf_state.folder, "rules")
            return self.worktop.card(
                "_rule_card.html",
                trouble or said,
                status,
                said_here=said,
                is_first=True,
                is_open=is_open,
                in_workbook=in_book,
                **facts,
            )
        if trouble:
            return self._page({card.id: trouble}, status)
        return go_to("/rules?wrote=1#wrote")


def rule_card(needed: RuleNeeded, shelf: Shelf) -> RuleCard:
    """The card of one rule to look up."""
    species = shelf.species[needed.species]
    place = f"{needed.country}-{needed.subdivision}" if needed.subdivision else needed.country
    row = needed.row
    places = [*(one for one in (row.places if row else ()) if one != "*"), needed.country, place]
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
    )
