"""The pages of the week: the running list by day, the plan that may be kept, and the timeline of the lots."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from flask import Response, abort, request

from shipping.ledger.disagreements import address_marks
from shipping.ledger.entries import Entry, canonical
from shipping.ledger.planning_again import shelf_left
from shipping.week.objective import default_week
from shipping.words.units import is_over, iso_week, week_days
from shipping.worktop import context
from shipping.worktop.kept_week import facts_as_counted, kept_parcels_now, last_plan_kept, of_week
from shipping.worktop.page_language import spoken, tr
from shipping.worktop.planner import Planned, changes_of, plan_now
from shipping.worktop.promise import outlooks
from shipping.worktop.running_list import (
    STATE_WORDS,
    ListedDay,
    ListedLine,
    help_told_once,
    left_groups,
    listed_days,
    listed_lines,
    proposed_lines,
    why_lines_stay,
)
from shipping.worktop.shelf_state import ShelfState
from shipping.worktop.todays_tasks import late_parcels


class WeekPage(context.View):
    """What goes this week, what does not, and why."""

    pages = (("/week", "week"), ("/plan", "plan"), ("/lots.svg", "timeline"))
    forms = (("/plan/stop", "stop_plan"), ("/plan/again", "plan_again"), ("/plan/keep", "keep"))

    def __init__(self, worktop: context.Worktop) -> None:
        super().__init__(worktop)
        self._drawing = threading.Lock()
        self._drawn: tuple[tuple[str, int, str], bytes | None] | None = None

    def _week(self) -> str:
        """The week named in the address, else the one that is planned now."""
        named = request.args.get("week") or request.form.get("week")
        return context.week_from(named) if named else default_week(self.shelf_state.tables().shelf)

    def week(self) -> Response:
        shelf_state, week = self.shelf_state, self._week()
        shelf, entries = shelf_state.tables().shelf, shelf_state.entries()
        every, last = kept_parcels_now(shelf_state), last_plan_kept(entries, week)
        kept = of_week(every, week)
        fresh = self.worktop.planner.ask(week)
        plan: Mapping[str, Any] = (
            shelf_state.plan_facts(last.seq) if last else fresh.plan.as_json() if fresh else {}
        )
        parcels = [facts_as_counted(parcel) for parcel in kept] if last else plan.get("parcels", ())
        at = {parcel.name: parcel.parcel.state for parcel in kept}
        find = context.sought()
        days = listed_days(week, parcels, at, shelf)
        now = self.worktop.week_now(week)
        is_past = is_over(week, shelf.today)
        out = listed_lines(plan.get("lines_out", ()) if is_past else now.lines_out, shelf, now.taken)
        lines = [
            line
            for line in (*(proposed_lines(now.proposed, shelf, week) if last and not is_past else ()), *out)
            if find.casefold() in f"{line.order} {line.fish} {line.to}".casefold()
        ]
        would = outlooks(every, shelf_state)
        late = tuple(late_parcels(every, would, shelf))
        late_days = {
            parcel.parcel.dispatch_on
            for parcel in every
            if parcel.parcel.is_overdue(shelf.today)
            and not (parcel.name in would and would[parcel.name].is_barred)
        }
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
            is_over=is_past,
            is_reckoning=now.is_reckoning and bool(last) and not is_past,
            changes=changes_of(fresh, kept) if last and fresh and not is_past else (),
            before=iso_week(week_days(week)[0] - timedelta(days=7)),
            after=iso_week(week_days(week)[0] + timedelta(days=7)),
            late=[task for task in late if not task.is_barred],
            barred=[task for task in late if task.is_barred],
            notices=[problem for problem in shelf.notices if problem.level.value == "lot"],
        )

    def plan(self) -> Response:
        """The plan of this moment, to be kept or not; while it is reckoned, how far it is."""
        week, planner = self._week(), self.worktop.planner
        fresh = planner.ask_awhile(week)
        if fresh is None:
            return self.worktop.page("planning.html", week=week, how_far=planner.going(week))
        return self._plan_page(week, fresh, "")

    def stop_plan(self) -> Response:
        """The best plan found so far will do."""
        week = self._week()
        self.worktop.planner.stop(week)
        return context.go_to(f"/plan?week={week}")

    def plan_again(self) -> Response:
        """A plan that was stopped is reckoned to its end."""
        week = self._week()
        self.worktop.planner.forget(week)
        return context.go_to(f"/plan?week={week}")

    def _plan_page(self, week: str, fresh: Planned, trouble: str, status: int = 200) -> Response:
        shelf_state = self.shelf_state
        shelf, last = shelf_state.tables().shelf, last_plan_kept(shelf_state.entries(), week)
        kept = of_week(kept_parcels_now(shelf_state), week)
        facts: Mapping[str, Any] = fresh.plan.as_json()
        return self.worktop.page(
            "plan.html",
            status,
            week=week,
            **_in_sight(listed_days(week, facts["parcels"], {}, shelf, fresh.shelf.parcels_made), ""),
            **_left_out(listed_lines(facts["lines_out"], shelf, frozenset())),
            week_days=week_days(week),
            proof=facts["proof"],
            is_stopped=fresh.is_stopped,
            digest=digest_of(facts),
            kept_as=last.seq if last else 0,
            is_over=is_over(week, shelf.today),
            changes=changes_of(fresh, kept) if last else (),
            done_already=[parcel for parcel in kept if not parcel.parcel.is_planned],
            trouble=trouble,
        )

    def keep(self) -> Response:
        """Keeps the plan that was seen; if tables or ledger changed since, the new one is shown."""
        week = self._week()
        fresh = self.worktop.planner.wait(week)
        if fresh.entries != len(self.shelf_state.entries()):  # anything was recorded since
            fresh = plan_now(self.shelf_state, week)
        facts = fresh.plan.as_json()
        try:
            if request.form.get("digest") != digest_of(facts):
                raise context.Refused(
                    tr(
                        "Not kept: the tables or the ledger changed since this plan was shown. Here is the"
                        " plan of now."
                    ),
                    409,
                )
            with context.refusing("Not kept: {why}"):
                entry = keep_plan(self.shelf_state, facts)
        except context.Refused as refused:
            return self._plan_page(week, fresh, refused.said, refused.status)
        return context.go_to(f"/week?week={week}&done={entry.seq}")

    def timeline(self) -> Response:
        """The timeline of the lots, the same drawing as on paper, drawn once for a state of the shelf."""
        key = (self.shelf_state.tables().stamp, self.shelf_state.plan_mark(), spoken())
        with self._drawing:  # whoever asks meanwhile waits for the same one
            if self._drawn is None or self._drawn[0] != key:
                self._drawn = (key, _drawn_timeline(self.shelf_state))
            drawing = self._drawn[1]
        if drawing is None:
            abort(404)
        cache = "private, max-age=3600" if request.args.get("of") else "private, no-cache"
        return context.svg_answer(drawing, Cache_Control=cache)


def _drawn_timeline(shelf_state: ShelfState) -> bytes | None:
    """The timeline as SVG; None where there is no lot."""
    from shipping.papers.charts.lot_picture import lot_picture
    from shipping.papers.charts.pictures import svg_bytes
    from shipping.questions.forecast import lot_timeline
    from shipping.questions.forecast import outlooks as forecasts

    with shelf_state.ledger() as ledger:
        shelf = shelf_left(shelf_state.tables().shelf, ledger)
    timeline = lot_timeline(forecasts(shelf), shelf)
    return svg_bytes(lot_picture(timeline, spoken(), tr)) if timeline.rows else None


def _in_sight(days: Sequence[ListedDay], find: str) -> dict[str, Any]:
    """The days with the parcels looked for, their number, the day drawn whole, lines out drawn whole."""
    named = context.day_from(request.args.get("day", ""))
    shown = [
        replace(day, parcels=tuple(parcel for parcel in day.parcels if parcel.has_text(find))) for day in days
    ]
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
    return {
        "lines": list(help_told_once(lines)),
        "groups": left_groups(lines),
        "why_stay": why_lines_stay(lines),
    }


def keep_plan(shelf_state: ShelfState, facts: Mapping[str, Any]) -> Entry:
    """Keeps a plan's JSON; the entry of it, which is the last one where that kept this very plan."""
    with shelf_state.ledger(create=True) as ledger:
        assert ledger is not None
        tables = shelf_state.tables()
        placed = {order.order: order.placed_on for order in tables.shelf.orders}
        return ledger.keep_plan(facts, tables.counted, placed, address_marks(tables.shelf.orders))


def digest_of(plan: Mapping[str, Any]) -> str:
    """What marks a plan, so that none is kept unseen."""
    return hashlib.sha256(canonical(plan).encode()).hexdigest()[:16] if plan else ""
