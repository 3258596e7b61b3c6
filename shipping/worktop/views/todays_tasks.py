"""The page that opens: the tables and the ledger in, what this day needs, in its order, out."""

from __future__ import annotations

from flask import Response, request

from shipping.ledger.disagreements import held_short
from shipping.week.objective import default_week
from shipping.worktop.context import View, Worktop, go_to, week_from
from shipping.worktop.kept_week import kept_parcels_now
from shipping.worktop.promise import outlooks
from shipping.worktop.todays_tasks import Step, steps_of_the_day


class TodaysTasksPage(View):
    """One screen: what is to be done today, each thing with the control that does it."""

    pages = (("/", "todays_tasks"),)

    def __init__(self, worktop: Worktop) -> None:
        super().__init__(worktop)
        self._steps: tuple[object, tuple[Step, ...]] = (None, ())

    def todays_tasks(self) -> Response:
        if week := request.args.get("week", ""):
            return go_to(f"/week?week={week_from(week)}")
        shelf_state = self.shelf_state
        tables = shelf_state.readable_tables()
        week = default_week(tables.shelf)
        now = self.worktop.week_now(week, awhile=True)
        hour = self.worktop.hour_of()
        past = sum(bool(row.cut_off and row.cut_off <= hour) for row in tables.shelf.services)
        mark = (shelf_state.mark(readable=True), now.is_reckoning, past)
        if self._steps[0] != mark:
            kept = kept_parcels_now(shelf_state)
            would = outlooks(kept, shelf_state)
            with shelf_state.ledger() as ledger:
                short = tuple(held_short(ledger, tables.counted)) if ledger else ()
            steps = steps_of_the_day(tables.shelf, shelf_state.left(), kept, now, would, short)
            self._steps = (mark, steps)
        self.worktop.get_ready()
        return self.worktop.page(
            "todays_tasks.html",
            steps=self._steps[1],
            week=week,
            is_reckoning=now.is_reckoning,
            left_out=tables.left_out,
            is_new=not tables.shelf.lots and not tables.shelf.orders,
        )
