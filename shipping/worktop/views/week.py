"""The pages of the week: the running list by day, the plan that may be kept, and the timeline of the lots."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from flask import Flask, Response, abort, make_response, request

from shipping.ledger.entries import canonical
from shipping.week.objective import default_week
from shipping.words.problems import ShelfProblems
from shipping.words.units import iso_week, week_days
from shipping.worktop.context import Worktop, day_from, go_to, plain_problems
from shipping.worktop.days import (
    STATE_WORDS,
    ListedDay,
    ListedLine,
    left_groups,
    listed_days,
    listed_lines,
    why_lines_stay,
)
from shipping.worktop.kept_week import facts_as_counted, kept_parcels_now, last_plan_kept, of_week
from shipping.worktop.late_parcel import outlooks
from shipping.worktop.page_language import tr
from shipping.worktop.planner import Planned, changes_of
from shipping.worktop.round import late_parcels
from shipping.worktop.timeline import TimelineMaker


class WeekPage:
    """What goes this week, what does not, and why."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        self.timeline = TimelineMaker(worktop.shelf_state)

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/week", "week", self.show)
        app.add_url_rule("/plan", "plan", self.plan)
        app.add_url_rule("/plan/stop", "stop_plan", self.stop, methods=["POST"])
        app.add_url_rule("/plan/again", "plan_again", self.again, methods=["POST"])
        app.add_url_rule("/plan/keep", "keep", self.keep, methods=["POST"])
        app.add_url_rule("/lots.svg", "timeline", self.picture)

    def week(self) -> str:
        """The week named in the address, else the one that is planned now."""
        named = request.args.get("week") or request.form.get("week")
        if not named:
            return default_week(self.worktop.shelf_state.tables().shelf)
        try:
            return iso_week(week_days(named)[0])
        except ValueError:
            abort(404)

    def show(self) -> Response:
        shelf_state, week = self.worktop.shelf_state, self.week()
        shelf, entries = shelf_state.tables().shelf, shelf_state.entries()
        every = kept_parcels_now(shelf_state)
        kept = of_week(every, week)
        last = last_plan_kept(entries, week)
        fresh = self.worktop.planner.ask(week)
        plan: Mapping[str, Any] = (
            shelf_state.plan_facts(last.seq) if last else fresh.plan.as_json() if fresh else {}
        )
        parcels = [facts_as_counted(one) for one in kept] if last else plan.get("parcels", ())
        at = {one.name: one.parcel.state for one in kept}
        taken = frozenset(key for one in kept for key in one.parcel.line_keys)
        find = " ".join(request.args.get("find", "").split())
        days = listed_days(week, parcels, at, shelf, self.worktop.hide_names)
        lines = [
            line
            for line in listed_lines(plan.get("lines_out", ()), shelf, taken)
            if not find or find.casefold() in f"{line.order} {line.fish} {line.to}".casefold()
        ]
        late = late_parcels(every, self.worktop.hide_names, outlooks(every, shelf_state), shelf.today)
        late_days = {one.parcel.dispatch_on for one in every if one.parcel.is_overdue(shelf.today)}
        return self.worktop.page(
            "week.html",
            week=week,
            late_day=next(iter(late_days)) if len(late_days) == 1 else None,
            open_count=sum(day.open for day in days),
            next_day=next((day for day in days if day.open and day.day >= shelf.today), None),
            **_in_sight(days, find),
            **_left_out(lines),
            week_days=week_days(week),
            kept_as=last.seq if last else 0,
            is_ready=bool(plan),
            changes=changes_of(fresh, kept) if last and fresh else (),
            before=iso_week(week_days(week)[0] - timedelta(days=7)),
            after=iso_week(week_days(week)[0] + timedelta(days=7)),
            late=tuple(late),
            notices=[problem for problem in shelf.notices if problem.level.value == "lot"],
        )

    def plan(self) -> Response:
        """The plan of this moment, to be kept or not; while it is reckoned, how far it is."""
        week, planner = self.week(), self.worktop.planner
        fresh = planner.ask_awhile(week)
        if fresh is None:
            currency = self.worktop.shelf_state.tables().shelf.settings.plan.currency
            how_far = planner.progress(week)
            return self.worktop.page("planning.html", week=week, how_far=how_far, currency=currency)
        return self._plan_page(week, fresh, "")

    def stop(self) -> Response:
        """The best plan found so far will do."""
        week = self.week()
        self.worktop.planner.stop(week)
        return go_to(f"/plan?week={week}")

    def again(self) -> Response:
        """A plan that was stopped is reckoned to its end."""
        week = self.week()
        self.worktop.planner.forget(week)
        return go_to(f"/plan?week={week}")

    def _plan_page(self, week: str, fresh: Planned, trouble: str, status: int = 200) -> Response:
        shelf_state = self.worktop.shelf_state
        shelf, last = shelf_state.tables().shelf, last_plan_kept(shelf_state.entries(), week)
        kept = of_week(kept_parcels_now(shelf_state), week)
        facts: Mapping[str, Any] = fresh.plan.as_json()
        return self.worktop.page(
            "plan.html",
            status,
            week=week,
            **_in_sight(listed_days(week, facts["parcels"], {}, shelf, self.worktop.hide_names), ""),
            **_left_out(listed_lines(facts["lines_out"], shelf, frozenset())),
            week_days=week_days(week),
            proof=facts["proof"],
            is_stopped=fresh.is_stopped,
            digest=digest_of(facts),
            kept_as=last.seq if last else 0,
            changes=changes_of(fresh, kept) if last else (),
            done_already=[one for one in kept if not one.parcel.is_planned],
            trouble=trouble,
        )

    def keep(self) -> Response:
        """Keeps the very plan that was seen; if the tables or the ledger changed since, the new one is shown
        first.
        """
        week = self.week()
        found = self.worktop.planner.now(week)
        facts = found.plan.as_json()
        if request.form.get("digest") != digest_of(facts):
            said = tr(
                "Not kept: the tables or the ledger changed since this plan was shown. Here is the plan of"
                " now."
            )
            return self._plan_page(week, found, said, 409)
        shelf_state = self.worktop.shelf_state
        try:
            with shelf_state.ledger(create=True) as ledger:
                assert ledger is not None
                tables = shelf_state.tables()
                placed = {order.order: order.placed_on for order in tables.shelf.orders}
                entry = ledger.keep_plan(facts, tables.counted, placed)
        except ShelfProblems as trouble:
            return self._plan_page(week, found, tr("Not kept: {why}", why=plain_problems(trouble)), 409)
        return go_to(f"/week?week={week}&done={entry.seq}")

    def picture(self) -> Response:
        """The timeline of the lots, the same drawing as on paper."""
        drawn = self.timeline.svg()
        if drawn is None:
            abort(404)
        answer = make_response(drawn)
        answer.headers["Content-Type"] = "image/svg+xml"
        answer.headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'"
        answer.headers["Cache-Control"] = (
            "private, max-age=3600" if request.args.get("of") else "private, no-cache"
        )
        return answer


def _in_sight(days: Sequence[ListedDay], find: str) -> dict[str, Any]:
    """The days with the parcels looked for, how many there are, the day that is drawn whole where there are
    many, and of which lines out all are.
    """
    named = day_from(request.args.get("day", ""))
    shown = [replace(day, parcels=tuple(one for one in day.parcels if one.has_text(find))) for day in days]
    shown = [day for day in shown if day.parcels or not find]
    return {
        "days": shown,
        "find": find,
        "every": sum(len(day.parcels) for day in days),
        "parcels_in_all": sum(len(day.parcels) for day in shown),
        "whole_day": named or next((day.day for day in shown if day.open), None),
        "states": STATE_WORDS,
        "all_of": request.args.get("all", ""),
    }


def _left_out(lines: Sequence[ListedLine]) -> dict[str, Any]:
    """The lines that do not go, and their groups."""
    return {"lines": lines, "groups": left_groups(lines), "why_stay": why_lines_stay(lines)}


def digest_of(plan: Mapping[str, Any]) -> str:
    """What marks a plan, so that none is kept unseen."""
    return hashlib.sha256(canonical(plan).encode()).hexdigest()[:16] if plan else ""
