"""The page of the offer: tables and ledger in; what can still be sold, as a text and as a page, out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Flask, Response, make_response, render_template

from shipping.ledger.planning_again import shelf_left
from shipping.tables.rows.settings import INVENTED_SENDER
from shipping.week.objective import default_week
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.worktop.context import Worktop

if TYPE_CHECKING:
    from shipping.questions.offer_data import Offers


class OfferPage:
    """What can go where, until when; names of nobody."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/offer", "offer", self.show)
        app.add_url_rule("/offer.html", "offer_file", self.file)

    def _offers(self) -> Offers:
        from shipping.questions.offer import offer

        shelf_state = self.worktop.shelf_state
        tables = shelf_state.tables()
        planned = self.worktop.planner.wait(default_week(tables.shelf))
        with shelf_state.ledger() as ledger:
            left = shelf_left(tables.shelf, ledger)
            kept = dict(ledger.held_by_lot()) if ledger else {}
        if tables.shelf.settings.sender.is_invented:
            text, mend = INVENTED_SENDER
            raise ShelfProblems((Problem(Where("shelf.toml"), "", "sender", text, mend),))
        return offer(left, planned.plan, kept=kept)

    def show(self) -> Response:
        from shipping.questions.offer_text import offer_text

        found = self._offers()
        sender = self.worktop.shelf_state.tables().shelf.settings.sender
        return self.worktop.page("offer.html", text="\n".join(offer_text(found, sender)), offers=found)

    def file(self) -> Response:
        """One HTML file without a script, to be put on any site."""
        from shipping.questions.offer_text import offer_text

        sender = self.worktop.shelf_state.tables().shelf.settings.sender
        lines = list(offer_text(self._offers(), sender))
        answer = make_response(render_template("published.html", lines=lines, today=self.worktop.today))
        answer.headers["Content-Disposition"] = 'attachment; filename="eggs-on-offer.html"'
        return answer
