"""The page of one operator: may live eggs travel by this service? What was said, into every row of it."""

from __future__ import annotations

from pathlib import Path

from flask import Flask, Response, abort, request

from shipping.tables.editing.row_writer import WrittenRow, change_row
from shipping.words.problems import ShelfProblems
from shipping.worktop.context import Worktop, day_from, plain_problems
from shipping.worktop.page_language import tr
from shipping.worktop.round import open_answers
from shipping.worktop.sheets import RowAsTyped, rows_as_typed
from shipping.worktop.table_row import change_tried, is_in_workbook, tables_folder_words

ANSWERS = {"yes": "yes, they may travel", "no": "no", "ask": "not answered yet"}


class OperatorsPage:
    """Who has to be asked about a service, and what was said."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/operators/<service>", "operator", self.show)
        app.add_url_rule("/operators/<service>", "operator_said", self.answer, methods=["POST"])

    def _rows(self, service: str) -> list[RowAsTyped]:
        rows = rows_as_typed(self.worktop.shelf_state.folder / "services.csv")
        return [row for row in rows if row.cells.get("service") == service]

    def show(self, service: str) -> Response:
        return self._page(service, "")

    def _page(self, service: str, trouble: str, status: int = 200) -> Response:
        rows, in_workbook = self._rows(service), is_in_workbook(self.worktop.shelf_state.folder, "services")
        if not rows and not in_workbook:
            abort(404)
        return self.worktop.page(
            "operator.html",
            status,
            service=service,
            places=", ".join(dict.fromkeys(row.cells.get("to", "") for row in rows)),
            before=rows[0].cells if rows else {},
            answers=ANSWERS,
            typed=request.form,
            trouble=trouble,
            in_workbook=in_workbook,
            left=len(list(open_answers(self.worktop.shelf_state.readable_tables().shelf))),
        )

    def answer(self, service: str) -> Response:
        said, who = request.form.get("live_eggs", ""), " ".join(request.form.get("answered_by", "").split())
        day = day_from(request.form.get("answered_on", ""))
        if said not in ANSWERS:
            return self._page(service, tr("Not written: say what the operator answered."), 422)
        if said != "ask" and (not who or day is None or day > self.worktop.today):
            return self._page(service, tr("Not written: say who answered, and on which day."), 422)
        if trouble := self.worktop.too_long(answered_by=200):
            return self._page(service, tr("Not written: {why}", why=trouble), 422)
        cells = {
            "live_eggs": said,
            "answered_by": who,
            "answered_on": day.isoformat() if day and said != "ask" else "",
        }
        rows = self._rows(service)

        def write(path: Path) -> WrittenRow:
            return [change_row(path, row.row, cells, {"service": service}) for row in rows][-1]

        if not rows:
            abort(404)
        try:
            written, _ = change_tried(self.worktop.shelf_state, "services", write)
        except ShelfProblems as refused:
            return self._page(service, tr("Not written: {why}", why=plain_problems(refused)), 409)
        shelf = self.worktop.shelf_state.readable_tables().shelf
        after = next((task.address for task in open_answers(shelf) if said != "ask"), "/")
        address, _, at = after.partition("#")
        return self.worktop.told_at(address, tables_folder_words(written), at)
