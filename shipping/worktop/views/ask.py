"""The page that asks about one lot: a destination, a day and a service in, verdict and risk curve out."""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from flask import Response, abort, request

from shipping.eggs.lot_forecast import lot_forecast
from shipping.ledger.planning_again import shelf_left
from shipping.papers.wording.phrases import note_text
from shipping.tables.cells import BadCell
from shipping.tables.climate import differs_by_part
from shipping.tables.countries import is_country
from shipping.tables.country_parts import regions_of
from shipping.tables.shelf import Shelf
from shipping.tables.typed_days import days_meant
from shipping.words.keys import grouped
from shipping.words.reasons import CODES, Reason, decisive
from shipping.words.units import LAST_YEAR, degrees, money_text, reckoned
from shipping.worktop.context import View, Worktop, svg_answer
from shipping.worktop.kept_week import fish_name, kept_parcels_now
from shipping.worktop.page_language import (
    countries_by_name,
    day_and_year,
    day_from_form,
    day_meant,
    day_words,
    in_our_words,
    name_of_country,
    name_of_place,
    reasons_wording,
    spoken,
    tr,
)
from shipping.worktop.running_list import NextStep, cause_text, step_for

if TYPE_CHECKING:
    from shipping.questions.can_it_ship import Asked, Reply

#: Answers are kept so long as the tables stay, and no more than so many.
_MOST_ANSWERS = 40
#: So many ways of an answer are shown.
_MOST_WAYS = 8
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
        parts = {"lot": self.lot, "to": self.to, "on": self.on or "", "service": self.service}
        return f"{page}?{urlencode({**parts, 'eggs': self.eggs})}"


def _with_parts(shelf: Shelf, country: str) -> Iterator[tuple[str, str]]:
    """A country to choose, and its parts where rules or weather differ by them, with their names."""
    name = name_of_country(country)
    yield country, name
    rows = [*(rule.to for rule in shelf.rules), *(row.to for row in shelf.weather)]
    if differs_by_part(country) or any(to.startswith(f"{country}-") for to in rows):
        for part, called in regions_of(country).items():
            yield f"{country}-{part}", f"{name}, {called}"


class AskPage(View):
    """Can this lot still go there, and until when?"""

    pages = (("/ask", "ask"), ("/ask.svg", "curve"))

    def __init__(self, worktop: Worktop) -> None:
        super().__init__(worktop)
        self._answers: OrderedDict[tuple[object, ...], tuple[Reply, Reply]] = OrderedDict()

    def _question(self, shelf: Shelf) -> Question | None:
        """The question of the address: only what the tables know; None where no lot or country is named."""
        lot, to = request.args.get("lot", ""), request.args.get("to", "").strip().upper()
        if not lot or not to:
            return None
        service, eggs = request.args.get("service", ""), request.args.get("eggs", "")
        if lot not in shelf.lot_by_name or not is_country(to.partition("-")[0]):
            abort(404)
        if service and service not in {row.service for row in shelf.services}:
            abort(404)
        return Question(lot, to, _day(shelf.today), service, _eggs(eggs) or _EGGS_ASKED)

    def _reply(self, shelf: Shelf, question: Question) -> tuple[Reply, Reply]:
        """The answer, and the same over all days for the curve."""
        from shipping.options.option import Destination
        from shipping.questions.can_it_ship import ask

        key = (self.shelf_state.tables().stamp, len(self.shelf_state.entries()), question)
        with self.shelf_state.lock:
            if key not in self._answers:
                country, _, part = question.to.partition("-")
                there, service = Destination.of(country, part), question.service or None
                asked = partial(ask, shelf, question.lot, there, service=service, eggs=question.eggs)
                every = asked()
                self._answers[key] = (asked(on=question.on) if question.on else every, every)
                while len(self._answers) > _MOST_ANSWERS:
                    self._answers.popitem(last=False)
            return self._answers[key]

    def _shelf(self) -> Shelf:
        with self.shelf_state.ledger() as ledger:
            return shelf_left(self.shelf_state.tables().shelf, ledger)

    def ask(self) -> Response:
        shelf = self._shelf()
        question, typed = self._question(shelf), request.args.get("eggs", "")
        wrong_eggs = tr(
            "'{typed}' is no whole number from 1 to {most}: {eggs} are reckoned with.",
            typed=typed,
            most=_EGGS_MOST,
            eggs=_EGGS_ASKED,
        )
        on = _day(shelf.today)
        codes = countries_by_name({order.country for order in shelf.orders})
        return self.worktop.page(
            "ask.html",
            question=question,
            asked_on=day_and_year(on) if on else _typed_day(),
            wrong_day="" if on or not _typed_day() else _wrong_day(_typed_day()),
            wrong_eggs=wrong_eggs if typed and not _eggs(typed) else "",
            lots=[lot.lot for lot in shelf.lots],
            lot=request.args.get("lot", ""),
            places=[place for code in codes for place in _with_parts(shelf, code)],
            services=sorted({row.service for row in shelf.services}),
            days=[shelf.today + timedelta(days=n) for n in range(_DAYS)],
            **(self._answered(shelf, question) if question else {}),
        )

    def _posted(self) -> Counter[str]:
        """How many parcels each day has that are kept."""
        return Counter(day_words(kept.parcel.dispatch_on) for kept in kept_parcels_now(self.shelf_state))

    def _answered(self, shelf: Shelf, question: Question) -> dict[str, Any]:
        from shipping.questions.risk_curve import no_curve_text, risk_curve

        reply, every = self._reply(shelf, question)
        passing, ways, barred = _ways(reply, shelf.settings.plan.currency)
        limit, posted = shelf.settings.plan.parcels_per_day, self._posted()
        curve, lot = risk_curve(every, shelf.today, question.on), shelf.lot_by_name[reply.lot]
        return {
            "reply": reply,
            "ways": ways[:_MOST_WAYS],
            "full": {way.day: posted[way.day] for way in ways if limit and posted[way.day] >= limit},
            "barred": () if reply.is_hatched_by_then else barred[:_MOST_WAYS],
            "hatching": _hatching(passing[0]) if passing else "",
            "lot_row": lot,
            "free": lot_forecast(shelf, reply.lot).free_on(shelf.today),
            "fish": fish_name(lot.species, lot.population, shelf),
            "picture": question.address("/ask.svg") if curve.lines else "",
            "no_curve": "" if curve.lines else no_curve_text(every),
            "curve": curve,
            "until": _until(reply, shelf.today),
            "ask_first": ", ".join(reply.to_ask_first),
            "steps": [_step(reason, reply.to) for reason in _deciding_first(reply)],
            "place": name_of_place(reply.to),
        }

    def curve(self) -> Response:
        """The risk curve, the same drawing as on paper."""
        from shipping.papers.charts.pictures import risk_picture, svg_bytes
        from shipping.questions.risk_curve import risk_curve

        shelf = self._shelf()
        question = self._question(shelf)
        if question is None:
            abort(404)
        curve = risk_curve(self._reply(shelf, question)[1], shelf.today, question.on)
        if not curve.lines:
            abort(404)
        return svg_answer(svg_bytes(risk_picture(curve, spoken(), tr)))


VERDICTS = {
    "wait": "Not on these days, but on another.",
    "hold": "Not before someone has answered or looked.",
    "stop": "It does not go there.",
}


def _typed_day() -> str:
    """The day of the address, as it was typed."""
    return request.args.get("on", "").strip()


def _day(today: date) -> date | None:
    """The day asked about; None where it is past, too far ahead, or no day."""
    day = day_meant(_typed_day(), ahead=True)
    return day if day and today <= day <= date(LAST_YEAR, 12, 31) else None


def _wrong_day(typed: str) -> str:
    """Why no day is asked about: what was typed may be several, or is none from today on."""
    if len({*days_meant(typed).values()}) > 1:
        try:
            day_from_form(typed, ahead=True)
        except BadCell as bad:
            return f"{tr(bad.text)}. {tr(bad.mend)}"
    return tr("'{typed}' is no day from today on: any day is reckoned with.", typed=typed)


def _eggs(text: str) -> int | None:
    """The eggs ordered, or None where the text is no such number."""
    number = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
    return number if 0 < number <= _EGGS_MOST else None


@dataclass(frozen=True, slots=True)
class DayAndService:
    """A service on a day, by its packings, the cheapest first; ``why`` it does not go, "" where it does."""

    day: str
    service: str
    there: str
    packings: tuple[str, ...]
    hour: str
    why: str
    this_week: str


def _ways(reply: Reply, currency: str) -> tuple[list[Asked], list[DayAndService], list[DayAndService]]:
    """Options that pass, earliest and cheapest first; ways they make; of each other service the nearest."""

    def key(asked: Asked) -> tuple[date, str]:
        leg = asked.option.ride.leg
        return leg.day, leg.service.service

    by_day_and_cost = sorted(reply.options, key=lambda asked: (key(asked)[0], asked.cost or 0.0))
    may_go = [asked for asked in by_day_and_cost if key(asked)[1] not in reply.to_ask_first]
    passing = [asked for asked in may_go if not asked.reasons and reply.verdict.value != "stop"]
    ways = grouped((key(asked), asked) for asked in passing)
    going = [_way(every, currency) for every in ways.values()]
    barred = [_way([asked], "") for asked in reply.nearest_by_service if asked.reasons]
    return passing, going, barred


def _way(every: Sequence[Asked], currency: str) -> DayAndService:
    asked = every[0]
    leg = asked.option.ride.leg
    return DayAndService(
        day_words(leg.day),
        leg.service.service,
        _there(leg.arrivals.p50, leg.arrivals.p95),
        tuple(_packing(packed, currency) for packed in every)
        if currency
        else (asked.option.ride.packing.packing,),
        leg.service.cut_off or "",
        " ".join(map(cause_text, asked.reasons)),
        " ".join(note_text(note, reasons_wording()) for note in asked.minded),
    )


def _deciding_first(reply: Reply) -> list[Reason]:
    """Its reasons, the one first that decides the verdict."""
    first = decisive(reply.verdict, reply.told) if reply.told else None
    return sorted(reply.told, key=lambda reason: reason is not first)


def _step(reason: Reason, to: str) -> NextStep:
    """What stands in the way, the mend, where, and its button's words; of a question nothing of an order."""
    if CODES[reason.code].mend in ("order", "region"):
        return NextStep(cause_text(reason, offered=True), code=reason.code)
    found = step_for(reason, "", to)
    return found._replace(address="") if found.address.startswith("/ask") else found  # this page


def _there(usual: date, late: date) -> str:
    if usual == late:
        return tr("there on {day}", day=day_words(usual))
    return tr("there about {day}, almost surely by {late}", day=day_words(usual), late=day_words(late))


def _packing(asked: Asked, currency: str) -> str:
    cost = "-" if asked.cost is None else f"{in_our_words(money_text(asked.cost, currency))} {currency}"
    said = tr(
        "{packing}: pack {pack}, {cost}, {share} hatching on the way",
        packing=asked.option.ride.packing.packing,
        pack=asked.option.pack or "-",
        cost=cost,
        share=reckoned(asked.option.ride.h_per_egg),
    )
    return said[:1].upper() + said[1:]


def _hatching(asked: Asked) -> str:
    """When a lot hatches here, on the way and at the buyer's; "" for eggs without dates, or waiting."""
    from shipping.week.draws import hatch_at_buyer

    ride = asked.option.ride
    forecast, leg = ride.lot_day.forecast, ride.leg
    here, there = forecast.days_hatched((0.05, 0.5)), hatch_at_buyer(ride)
    if forecast.lot.kept_damp or None in here or None in there[:2]:
        return ""
    kept, low, high = forecast.kept_at_c(leg.day), leg.warmth.low_c, leg.warmth.high_c
    kept_at = degrees(kept)
    days = {"first": day_words(here[0]), "half": day_words(here[1])}
    is_alike = tuple(here) == there[:2]
    said = (
        tr(
            "Kept here at {kept} or sent, it hatches from {first}, half by {half}: the way is too"
            " short to change the day.",
            kept=kept_at,
            **days,
        )
        if is_alike
        else tr("Kept here at {kept}, it hatches from {first}, half by {half}.", kept=kept_at, **days)
    )
    if not is_alike and not leg.service.is_collection:
        way = {"low": degrees(low), "high": degrees(high)}
        said += " " + (
            tr("On the way, at {low} to {high}, the eggs develop more slowly.", **way)
            if (low + high) / 2 < kept
            else tr("On the way, at {low} to {high}, the eggs develop faster.", **way)
        )
    if is_alike:
        return said
    days = {"first": day_words(there[0]), "half": day_words(there[1])}
    return said + " " + tr("With the buyer it hatches from {first}, half by {half}.", **days)


def _until(reply: Reply, today: date) -> str:
    """What stands beside the verdict."""
    if reply.verdict.value != "go":
        return tr(VERDICTS[reply.verdict.value])
    if reply.last_safe_day is None:
        return tr("No last day within 60 days.")
    if reply.last_safe_day == today:
        return tr("Today is the last day.")
    return tr("The last day is {day}.", day=day_words(reply.last_safe_day))
