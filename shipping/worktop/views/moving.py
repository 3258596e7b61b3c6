"""The page that moves a parcel: a day and a service in; what would come of it, and the week kept so, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from flask import Flask, Response, abort, request

from shipping.post.transit import services_to
from shipping.week.objective import default_week, dispatch_days
from shipping.words.problems import ShelfProblems
from shipping.worktop.context import Worktop, day_from, plain_problems, said_of
from shipping.worktop.days import ListedParcel, cause_text, listed_days
from shipping.worktop.kept_week import Kept, kept_parcel_now
from shipping.worktop.late_parcel import outlook
from shipping.worktop.moving import MoveWay, Outcome, Wish, move, outcome, ways_to_move
from shipping.worktop.page_language import day_words, tr
from shipping.worktop.views.week import digest_of


class MovingPage:
    """One parcel, and where else it might go."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/parcels/<name>/move", "moving", self.show)
        app.add_url_rule("/parcels/<name>/move", "move", self.act, methods=["POST"])

    def _kept(self, name: str) -> Kept:
        kept = kept_parcel_now(self.worktop.shelf_state, name)
        if kept is None or not kept.parcel.is_planned:
            abort(404)
        return kept

    def show(self, name: str) -> Response:
        return self._page(self._kept(name), None, None, "")

    def act(self, name: str) -> Response:
        """What would come of it; with the mark of that very plan, it is done."""
        shelf_state = self.worktop.shelf_state
        with shelf_state.lock:
            kept, wish = self._kept(name), self._wish(name)
            if wish is None:
                return self._page(kept, None, None, tr("Choose a day and a service of the lists."), 422)
            try:
                would = outcome(shelf_state, kept, wish)
                seen = request.form.get("digest", "")
                if not seen or seen != digest_of(would.plan.plan.as_json()):
                    trouble = tr("Not moved: something changed since. This is what would come of it now.")
                    return self._page(kept, wish, would, trouble if seen else "", 409 if seen else 200)
                entry = move(shelf_state, kept, wish)
            except ShelfProblems as refused:
                return self._page(kept, wish, None, tr("Not moved: {why}", why=plain_problems(refused)), 409)
        said = said_of(shelf_state.entries(), entry.seq)
        return self.worktop.told_at(f"/week?week={kept.parcel.week}", f"{tr('Moved.')} {said}")

    def _wish(self, name: str) -> Wish | None:
        day, service = day_from(request.form.get("day", "")), request.form.get("service", "")
        kept = self._kept(name)
        if day not in self._days(kept) or (service and service not in self._services(kept)):
            return None
        return Wish(day, service)

    def _days(self, kept: Kept) -> tuple[date, ...]:
        return dispatch_days(self.worktop.shelf_state.tables().shelf, kept.parcel.week)

    def _services(self, kept: Kept) -> list[str]:
        """The services that go where the parcel goes."""
        shelf = self.worktop.shelf_state.tables().shelf
        return sorted({row.service for row in services_to(shelf, kept.parcel.to)})

    def _page(
        self, kept: Kept, wish: Wish | None, would: Outcome | None, trouble: str, status: int = 200
    ) -> Response:
        shelf_state = self.worktop.shelf_state
        shelf, today = shelf_state.tables().shelf, self.worktop.today
        is_late = kept.parcel.is_overdue(today)
        days = self._days(kept)
        ways = ways_to_move(shelf_state, kept, days) if days else ()
        here = (kept.parcel.dispatch_on, kept.parcel.service)
        return self.worktop.page(
            "moving.html",
            status,
            kept=kept,
            now=self._listed([_without_chances(kept.facts) if is_late else kept.facts], kept)[0],
            then=self._listed(would.parcels, kept) if would else [],
            money=[(one["dispatch_on"], one["service"], one["postage"]) for one in would.parcels]
            if would
            else [],
            lines=would.left_out if would else (),
            others=would.others if would else (),
            digest=digest_of(would.plan.plan.as_json()) if would else "",
            going=[way for way in ways if not way.against and (way.day, way.service) != here],
            barred=_barred(ways),
            is_late=is_late,
            outlook=outlook(kept, shelf_state.readable_tables(), today),
            currency=shelf.settings.plan.currency,
            wish=wish,
            next_week=default_week(shelf),
            asked=would is not None,
            trouble=trouble,
        )

    def _listed(self, parcels: Sequence[Mapping[str, Any]], kept: Kept) -> list[ListedParcel]:
        shelf, states = self.worktop.shelf_state.tables().shelf, {kept.name: "planned"}
        days = listed_days(kept.parcel.week, parcels, states, shelf, self.worktop.hide_names)
        return [parcel for day in days for parcel in day.parcels]


def _without_chances(facts: Mapping[str, Any]) -> dict[str, Any]:
    """What a plan said of a parcel, less what it promised for a day that has passed."""
    lines = [{**line, "p_enough": None} for line in facts["lines"]]
    return {**facts, "lines": lines, "arrive": {"p50": None, "p95": None}}


def _barred(ways: Sequence[MoveWay]) -> list[tuple[str, str]]:
    """The services that go on none of the days, each with what stands in the way of the nearest."""
    going = {way.service for way in ways if not way.against}
    why: dict[str, str] = {}
    for way in ways:
        if way.against and way.service not in going:
            why.setdefault(way.service, f"{day_words(way.day)}: {cause_text(way.against[0])}")
    return sorted(why.items())
