"""The page that opens: the tables and the ledger in, what this day needs, in its order, out."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from flask import Response, request

from shipping.week.objective import default_week
from shipping.words.problems import ShelfProblems
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

    def _all_left_out(self, week: str) -> list[Mapping[str, Any]] | None:
        """The lines that a plan of no parcels leaves out; None where some go, or none is reckoned yet."""
        with suppress(ShelfProblems):
            fresh = self.worktop.planner.at_hand(week)
            if fresh is not None and not fresh.plan.parcels:
                facts: Mapping[str, Any] = fresh.plan.as_json()
                return list(facts["lines_out"])
        return None

    def round(self) -> Response:
        if week := request.args.get("week", ""):
            return go_to(f"/week?week={week_from(week)}")
        shelf_state = self.shelf_state
        tables = shelf_state.readable_tables()
        week = default_week(tables.shelf)
        lines_out = lines_left_out(shelf_state, week)
        if lines_out is None:
            lines_out = self._all_left_out(week)
        mark = (shelf_state.mark(readable=True), lines_out is None)
        if self._steps[0] != mark:
            kept = kept_parcels_now(shelf_state)
            would = outlooks(kept, shelf_state)
            steps = steps_of_the_day(tables.shelf, shelf_state.left(), kept, lines_out, would)
            self._steps = (mark, steps)
        self.worktop.get_ready()
        return self.worktop.page(
            "round.html",
            steps=self._steps[1],
            week=week,
            left_out=tables.left_out,
            is_new=not tables.shelf.lots and not tables.shelf.orders,
        )
