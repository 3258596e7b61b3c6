"""The page that asks about one lot: a destination, a day and a service in, the verdict and the risk curve
out.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Container
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from flask import Flask, Response, abort, make_response, request

from shipping.ledger.planning_again import shelf_left
from shipping.papers.wording.catalogue import note_text
from shipping.post.countries import countries, is_country
from shipping.tables.shelf import Shelf
from shipping.words.units import money_text, reckoned
from shipping.worktop.context import Worktop, day_from
from shipping.worktop.days import cause_text, place_of_step, step_text
from shipping.worktop.page_language import day_words, name_of_country, reasons_wording, tr

if TYPE_CHECKING:
    from shipping.questions.can_it_ship import Asked, Reply

#: Answers are kept so long as the tables stay, and no more than so many.
_MOST_ANSWERS = 40
#: So many options of an answer are shown.
_MOST_OPTIONS = 8
#: Days that may be asked for, from today.
_DAYS = 14
#: Eggs ordered, unless the question says otherwise.
_EGGS_ASKED, _EGGS_MOST = 20, 2000


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked; "" and None are any."""

    lot: str
    to: str
    on: date | None
    service: str
    eggs: int

    def address(self, page: str) -> str:
        parts = [
            ("lot", self.lot),
            ("to", self.to),
            ("on", self.on.isoformat() if self.on else ""),
            ("service", self.service),
        ]
        return f"{page}?{urlencode([*parts, ('eggs', str(self.eggs))])}"


class AskPage:
    """Can this lot still go there, and until when?"""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        self._answers: OrderedDict[tuple[object, ...], tuple[Reply, Reply]] = OrderedDict()

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/ask", "ask", self.show)
        app.add_url_rule("/ask.svg", "curve", self.picture)

    def question(self, shelf: Shelf) -> Question | None:
        """The question of the address: only what the tables know; None where no lot or country is named."""
        lot, to = request.args.get("lot", ""), request.args.get("to", "").strip().upper()
        if not lot or not to:
            return None
        service, eggs = request.args.get("service", ""), request.args.get("eggs", "")
        if lot not in shelf.lot_by_name or not is_country(to.partition("-")[0]):
            abort(404)
        if service and service not in {row.service for row in shelf.services}:
            abort(404)
        day = day_from(request.args.get("on", ""))
        return Question(
            lot, to, day if day and day >= shelf.today else None, service, _eggs(eggs) or _EGGS_ASKED
        )

    def _reply(self, shelf: Shelf, question: Question) -> tuple[Reply, Reply]:
        """The answer, and the same over all days for the curve."""
        from shipping.options.option import Destination
        from shipping.questions.can_it_ship import ask

        shelf_state = self.worktop.shelf_state
        key = (shelf_state.tables().stamp, len(shelf_state.entries()), question)
        with shelf_state.lock:
            if key not in self._answers:
                country, _, part = question.to.partition("-")
                there = Destination.of(country, part)
                service = question.service or None
                every = ask(shelf, question.lot, there, service=service, eggs=question.eggs)
                one = every
                if question.on:
                    one = ask(shelf, question.lot, there, on=question.on, service=service, eggs=question.eggs)
                self._answers[key] = (one, every)
                while len(self._answers) > _MOST_ANSWERS:
                    self._answers.popitem(last=False)
            return self._answers[key]

    def _shelf(self) -> Shelf:
        with self.worktop.shelf_state.ledger() as ledger:
            return shelf_left(self.worktop.shelf_state.tables().shelf, ledger)

    def show(self) -> Response:
        from shipping.questions.risk_curve import no_curve_text, risk_curve

        shelf = self._shelf()
        question = self.question(shelf)
        facts: dict[str, Any] = {}
        if question is not None:
            reply, every = self._reply(shelf, question)
            curve = risk_curve(every, shelf.today, question.on)
            facts = {
                "reply": reply,
                "options": [_option_row(asked) for asked in _best_first(reply)[:_MOST_OPTIONS]],
                "picture": question.address("/ask.svg") if curve.lines else "",
                "no_curve": "" if curve.lines else no_curve_text(every),
                "curve": curve,
                "verdict": tr(VERDICTS[reply.verdict.value]),
                "steps": [
                    (
                        cause_text(reason),
                        step_text(reason.code, reason.facts),
                        place_of_step(reason.code, reason.facts, to=reply.to),
                    )
                    for reason in reply.reasons
                ],
                "currency": shelf.settings.plan.currency,
                "place": name_of_country(reply.to[:2]) + (f" ({reply.to})" if reply.to[2:] else ""),
            }
        eggs = request.args.get("eggs", "")
        return self.worktop.page(
            "ask.html",
            question=question,
            wrong_eggs=(
                tr(
                    "'{typed}' is no whole number from 1 to {most}: {eggs} are reckoned with.",
                    typed=eggs,
                    most=_EGGS_MOST,
                    eggs=_EGGS_ASKED,
                )
                if eggs and not _eggs(eggs)
                else ""
            ),
            lots=[lot.lot for lot in shelf.lots],
            lot=request.args.get("lot", ""),
            countries=[
                (code, name_of_country(code)) for code in _by_name({order.country for order in shelf.orders})
            ],
            services=sorted({row.service for row in shelf.services}),
            days=[shelf.today + timedelta(days=n) for n in range(_DAYS)],
            **facts,
        )

    def picture(self) -> Response:
        """The risk curve, the same drawing as on paper."""
        from shipping.papers.charts.pictures import picture_bytes
        from shipping.papers.charts.risk_picture import risk_picture
        from shipping.questions.risk_curve import risk_curve

        shelf = self._shelf()
        question = self.question(shelf)
        if question is None:
            abort(404)
        curve = risk_curve(self._reply(shelf, question)[1], shelf.today, question.on)
        if not curve.lines:
            abort(404)
        answer = make_response(picture_bytes(risk_picture(curve), "svg"))
        answer.headers["Content-Type"] = "image/svg+xml"
        answer.headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'"
        return answer


VERDICTS = {
    "go": "It may go.",
    "wait": "Not on these days, but on another.",
    "hold": "Not before someone has answered or looked.",
    "stop": "It does not go there.",
}


def _by_name(wanted: Container[str]) -> list[str]:
    """Every country, those that orders go to first."""
    return sorted(countries(), key=lambda code: (code not in wanted, name_of_country(code)))


def _eggs(text: str) -> int | None:
    """The eggs ordered, or None where the text is no such number."""
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
    return number if 0 < number <= _EGGS_MOST else None


def _best_first(reply: Reply) -> list[Asked]:
    return sorted(
        reply.options, key=lambda one: (bool(one.reasons), one.option.ride.leg.day, one.cost or 0.0)
    )


def _option_row(asked: Asked) -> dict[str, str]:
    ride, option = asked.option.ride, asked.option
    return {
        "verdict": asked.verdict.value,
        "day": day_words(ride.leg.day),
        "way": f"{ride.leg.service.service}, {ride.packing.packing}",
        "arrive": tr(
            "{day}, 95 % by {late}",
            day=day_words(ride.leg.arrivals.p50),
            late=day_words(ride.leg.arrivals.p95),
        ),
        "hatch": reckoned(ride.h_per_egg),
        "pack": str(option.pack) if option.pack else "-",
        "cost": "-" if asked.cost is None else money_text(asked.cost),
        "why": "; ".join(cause_text(reason) for reason in asked.reasons[:1]),
        "this_week": " ".join(note_text(note, reasons_wording()) for note in asked.this_week),
    }
