"""The page that opens: the tables and the ledger in, what this day needs, in its order, out."""

from __future__ import annotations

from flask import Response, request

from shipping.week.objective import default_week
from shipping.worktop.context import View, Worktop, go_to, week_from
from shipping.worktop.kept_week import kept_parcels_now, lines_left_out
from shipping.worktop.promise import outlooks
from shipping.worktop.round import Step, steps_of_the_day


class RoundPage(View):
    """One screen: what is to be done today, each thing with the control that does it."""

    pages = (("/", "round"),)

    def __init__(self, worktop: Worktop) -> None:
        super().__init__(worktop)
        self._steps: tuple[object, tuple[Step, ...]] = (None, ())

    def round(self) -> Response:
        if week := request.args.get("week", ""):
            return go_to(f"/week?week={week_from(week)}")
        shelf_state = self.shelf_state
        tables = shelf_state.readable_tables()
        week = default_week(tables.shelf)
        mark = shelf_state.mark(readable=True)
        if self._steps[0] != mark:
            kept = kept_parcels_now(shelf_state)
            self._steps = (
                mark,
                steps_of_the_day(
                    tables.shelf,
                    shelf_state.left(),
                    kept,
                    lines_left_out(shelf_state, week),
                    outlooks(kept, shelf_state),
                ),
            )
        self.worktop.get_ready()
        return self.worktop.page(
            "round.html",
            steps=self._steps[1],
            week=week,
            left_out=tables.left_out,
            is_new=not tables.shelf.lots and not tables.shelf.orders,
        )
