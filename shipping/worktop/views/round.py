"""The page that opens: the tables and the ledger in, what this day needs, in its order, out."""

from __future__ import annotations

from flask import Flask, Response, abort, request

from shipping.week.objective import default_week
from shipping.words.units import iso_week, week_days
from shipping.worktop.context import Worktop, go_to
from shipping.worktop.kept_week import kept_parcels_now, lines_left_out
from shipping.worktop.late_parcel import outlooks
from shipping.worktop.round import Step, steps_of_the_day
from shipping.worktop.shelf_state import seen_mark


class RoundPage:
    """One screen: what is to be done today, each thing with the control that does it."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        self._steps: tuple[object, tuple[Step, ...]] = (None, ())

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/", "round", self.show)

    def show(self) -> Response:
        if week := request.args.get("week", ""):
            return go_to(f"/week?week={_named(week)}")
        shelf_state = self.worktop.shelf_state
        tables = shelf_state.readable_tables()
        week = default_week(tables.shelf)
        entries = shelf_state.entries()
        mark = (tables.stamp, seen_mark(entries))
        if self._steps[0] != mark:
            kept = kept_parcels_now(shelf_state)
            self._steps = (
                mark,
                steps_of_the_day(
                    tables.shelf,
                    shelf_state.left(),
                    kept,
                    lines_left_out(shelf_state, week),
                    self.worktop.hide_names,
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


def _named(week: str) -> str:
    """A week as addresses write it; a text that is none is no page."""
    try:
        return iso_week(week_days(week)[0])
    except ValueError:
        abort(404)
