"""The pages of the week: the running list by day, the plan that may be kept, and the timeline of the lots."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from flask import Flask, Response, abort, make_response, request

from shipping.ledger.entries import canonical
from shipping.ledger.journal.store import LEDGER_FILE
from shipping.ledger.plan_account import overdue_problems
from shipping.week.objective import default_week
from shipping.words.problems import ShelfProblems
from shipping.words.units import iso_week, week_days
from shipping.worktop.context import Worktop, go_to, plain_problems
from shipping.worktop.days import listed_days, listed_lines
from shipping.worktop.kept_week import Kept, facts_as_counted, kept_parcels_now, last_plan_kept, of_week
from shipping.worktop.planner import Planned
from shipping.worktop.timeline import TimelineMaker


class WeekPage:
    """What goes this week, what does not, and why."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        self.timeline = TimelineMaker(worktop.shelf_state)

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/week", "week", self.show)
        app.add_url_rule("/plan", "plan", self.plan)
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
        states = {one.name: one.parcel.state for one in kept}
        taken = frozenset(key for one in kept for key in one.parcel.line_keys)
        days = listed_days(week, parcels, states, shelf, self.worktop.hide_names)
        return self.worktop.page(
            "week.html",
            week=week,
            days=days,
            week_days=week_days(week),
            lines=listed_lines(plan.get("lines_out", ()), shelf, taken),
            kept_as=last.seq if last else 0,
            is_ready=bool(plan),
            changes=changes_of(fresh, kept) if last and fresh else (),
            before=iso_week(week_days(week)[0] - timedelta(days=7)),
            after=iso_week(week_days(week)[0] + timedelta(days=7)),
            notices=[
                *overdue_problems((one.parcel for one in every), shelf.today, LEDGER_FILE),
                *(problem for problem in shelf.notices if problem.level.value == "lot"),
            ],
        )

    def plan(self) -> Response:
        """The plan of this moment, to be kept or not."""
        week = self.week()
        return self._plan_page(week, self.worktop.planner.wait(week), "")

    def _plan_page(self, week: str, fresh: Planned, trouble: str, status: int = 200) -> Response:
        shelf_state = self.worktop.shelf_state
        shelf, last = shelf_state.tables().shelf, last_plan_kept(shelf_state.entries(), week)
        kept = of_week(kept_parcels_now(shelf_state), week)
        facts: Mapping[str, Any] = fresh.plan.as_json()
        return self.worktop.page(
            "plan.html",
            status,
            week=week,
            days=listed_days(week, facts["parcels"], {}, shelf, self.worktop.hide_names),
            lines=listed_lines(facts["lines_out"], shelf, frozenset()),
            proof=facts["proof"],
            currency=shelf.settings.plan.currency,
            digest=digest_of(facts),
            kept_as=last.seq if last else 0,
            changes=changes_of(fresh, kept) if last else (),
            done_already=[one for one in kept if one.parcel.state != "planned"],
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
            said = (
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
            return self._plan_page(week, found, f"Not kept. {plain_problems(trouble)}", 409)
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


def digest_of(plan: Mapping[str, Any]) -> str:
    """What marks a plan, so that none is kept unseen."""
    return hashlib.sha256(canonical(plan).encode()).hexdigest()[:16] if plan else ""


def changes_of(fresh: Planned, kept: tuple[Kept, ...]) -> tuple[str, ...]:
    """What a new plan would change of the parcels kept and not yet packed, a sentence a line."""

    def way(service: str, day: object, pack: int) -> str:
        return f"{pack} eggs by {service} on {day}"

    before = {
        line.key: way(one.parcel.service, one.parcel.dispatch_on, line.pack)
        for one in kept
        if one.parcel.state == "planned"
        for line in one.parcel.lines
    }
    gone = {key for one in kept if one.parcel.state != "planned" for key in one.parcel.line_keys}
    now = {
        (line.order, line.line): way(parcel.service, parcel.dispatch_on, line.pack)
        for parcel in fresh.plan.parcels
        for line in parcel.lines
        if (line.order, line.line) not in gone
    }
    return tuple(
        f"{key[0]} line {key[1]}: {before.get(key, 'not in the plan kept')}, now"
        f" {now.get(key, 'not in the plan')}."
        for key in sorted(before.keys() | now.keys())
        if before.get(key) != now.get(key)
    )
