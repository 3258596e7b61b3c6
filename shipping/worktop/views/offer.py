"""The page of the offer: tables and ledger in; what can still be sold, as a text and as a page, out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Response, render_template

from shipping.ledger.planning_again import shelf_left
from shipping.tables.rows.settings import INVENTED_SENDER
from shipping.tables.shelf import Shelf
from shipping.week.objective import default_week
from shipping.week.plan_data import Plan
from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.worktop.background import Background, Going
from shipping.worktop.context import View, Worktop, file_answer, go_to
from shipping.worktop.page_language import name_of_country, tr


@dataclass(frozen=True, slots=True)
class Offered:
    """What can still be sold, as a text for buyers, whether it was stopped, what to look at first, and
    the countries left out because their rules differ inside.
    """

    lines: tuple[str, ...]
    is_stopped: bool
    doubts: tuple[str, ...]
    unasked: tuple[str, ...]


class OfferPage(View):
    """What can go where, until when; names of nobody."""

    pages = (("/offer", "offer"), ("/offer.html", "offer_file"))
    forms = (("/offer/stop", "stop_offer"), ("/offer/again", "offer_again"))

    def __init__(self, worktop: Worktop) -> None:
        super().__init__(worktop)
        self._offers = Background("The offer could not be made", self._mark, self._reckon, worktop.aside)

    def _mark(self, name: str) -> tuple[str, str]:
        """What an offer rests on; it is refused to a breeder whose name and address are still invented."""
        if self.shelf_state.tables().shelf.settings.sender.is_invented:
            text, mend = INVENTED_SENDER
            raise ShelfProblems((Problem(Where("shelf.toml"), "", "sender", text, mend),))
        return self.shelf_state.mark()

    def _reckon(self, name: str, going: Going) -> Offered:
        from shipping.questions.offer import offer
        from shipping.questions.offer_text import doubts_of, offer_text, unasked_of

        shelf_state = self.shelf_state
        shelf = shelf_state.tables().shelf
        with shelf_state.ledger() as ledger:
            left = shelf_left(shelf, ledger)
            kept = dict(ledger.held_by_lot()) if ledger else {}
        plan = self._plan_beside(left, kept, going)

        def go_on(done: int, every: int) -> bool:
            going.tell(done, every)
            return not going.is_stopped

        offers = offer(left, plan, kept=kept, go_on=go_on)
        lines = tuple(offer_text(offers, shelf.settings.sender))
        unasked = tuple(str(one.facts["to"]) for one in unasked_of(offers))
        return Offered(lines, going.is_stopped, tuple(doubts_of(offers)), unasked)

    def _plan_beside(self, left: Shelf, kept: Mapping[str, int], going: Going) -> Plan:
        """What goes this week besides kept parcels, as `offer` plans it; else the week's plan."""
        from shipping.assignment.mip import ended_by
        from shipping.week.plan import make_plan

        week = default_week(left)
        if not kept:
            return self.worktop.planner.wait(week).plan
        with ended_by(going.asked_to_stop):
            return make_plan(left, week)

    def offer(self) -> Response:
        offered = self._offers.ask_awhile()
        if offered is None:
            return self.worktop.page("offering.html", how_far=self._offers.going())
        return self.worktop.page(
            "offer.html",
            offered=offered,
            text="\n".join(map(tr, offered.lines)),
            doubts=[*map(tr, offered.doubts), *map(_by_region, offered.unasked)],
        )

    def stop_offer(self) -> Response:
        """The populations asked about by now will do, on the best plan found by now."""
        self.worktop.planner.stop(default_week(self.shelf_state.tables().shelf))
        self._offers.stop()
        return go_to("/offer")

    def offer_again(self) -> Response:
        """An offer that was stopped is made to its end."""
        self._offers.forget()
        return go_to("/offer")

    def offer_file(self) -> Response:
        """One HTML file without a script, to be put on any site."""
        offered = self._offers.ask_awhile()
        if offered is None:
            return go_to("/offer")
        page = render_template("published.html", lines=list(map(tr, offered.lines)))
        place = 'attachment; filename="eggs-on-offer.html"'
        return file_answer(page, "text/html; charset=utf-8", Content_Disposition=place)


def _by_region(country: str) -> str:
    return tr(
        "Of {country} nothing is said here: its rules differ by region. Ask What if, with the region.",
        country=name_of_country(country),
    )
