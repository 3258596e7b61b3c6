"""A parcel is moved only after what would come of it was seen, and the week is kept so."""

from __future__ import annotations

import html
import re
from datetime import date

import pytest

from shipping.worktop.table_words import rows_as_typed
from shipping.worktop.views import moving
from tests.worktop.conftest import Desk, plain

NAME, ORDER = "2026-W49-08", "D34"
MOVE = f"/parcels/{NAME}/move"
WEDNESDAY, THERE_BY = "2026-12-02", "2026-12-09"


def wishes(desk: Desk) -> list[tuple[str, ...]]:
    rows = rows_as_typed(desk.folder / "orders.csv")
    return [
        (row.cells["not_before"], row.cells["not_after"], row.cells["service"])
        for row in rows
        if row.cells["order"] == ORDER
    ]


def test_a_parcel_goes_on_another_day_once_its_consequences_were_seen(desk: Desk) -> None:
    token = {"token": desk.worktop.access.token}
    before, entries = wishes(desk), desk.entries()
    page = desk.text(MOVE)
    assert "As it is planned" in page
    assert "Wed 2 Dec by tracked parcel there about " in page
    service = desk.parcel(NAME).service
    seen = desk.post(MOVE, token, card=False, day=WEDNESDAY, service=service)
    assert "Wed 2 Dec by tracked parcel , postage" in plain(seen.text).partition("As it would be")[2]
    assert "almost surely by Wed 9 Dec" in plain(seen.text)
    assert (wishes(desk), desk.entries()) == (before, entries)
    digest = re.search(r'name="digest" value="(\w+)"', seen.text)
    assert digest
    moved = desk.post(MOVE, token, card=False, day=WEDNESDAY, service=service, digest=digest[1])
    assert moved.status_code == 303, plain(moved.text)
    assert set(wishes(desk)) == {(WEDNESDAY, THERE_BY, service)}
    with desk.worktop.shelf_state.ledger() as ledger:
        assert ledger is not None
        days = {line.order: one.dispatch_on for one in ledger.parcels() for line in one.lines}
        assert days[ORDER] == date(2026, 12, 2)
        assert ledger.parcel_states().get(NAME) is None
    assert desk.entries() == entries + 1
    page = desk.get(moved.headers["Location"]).text
    form = re.search(r'(?s)<form method="post" action="([^"]*)" id="undo">(.*?)</form>', page)
    assert form
    cells = {name: html.unescape(cell) for name, cell in re.findall(r'name="(\w+)" value="([^"]*)"', form[2])}
    taken = desk.post(form[1], cells, card=False)
    assert "The move is taken back: parcel 08 goes as before." in desk.text(taken.headers["Location"])
    assert (wishes(desk), desk.entries()) == (before, entries + 2)
    assert desk.parcel(NAME).dispatch_on == date(2026, 12, 1)
    assert "Not taken back" in desk.text(desk.post(form[1], cells, card=False).headers["Location"])
    assert desk.post(form[1], {**cells, "before": "{}x"}, card=False).status_code == 404


def test_a_move_whose_plan_alone_is_taken_back_says_what_its_order_says(desk: Desk) -> None:
    token, service = {"token": desk.worktop.access.token}, desk.parcel(NAME).service
    seen = desk.post(MOVE, token, card=False, day=WEDNESDAY, service=service)
    digest = re.search(r'name="digest" value="(\w+)"', seen.text)
    assert digest
    desk.post(MOVE, token, card=False, day=WEDNESDAY, service=service, digest=digest[1])
    back = desk.post(f"/history/{desk.entries()}/undo", token, card=False)
    said = plain(desk.get(back.headers["Location"]).text)
    assert f"{NAME} is to go on Tue 1 Dec, and order {ORDER} must not leave before Wed 2 Dec." in said


@pytest.mark.parametrize(
    ("stopped_at", "since", "said"),
    [
        ("keep_plan", "", "to Wed 2 Dec when this page was stopped: it is done now. Recorded: kept"),
        ("keep_plan", "an order is not paid", "its order says so, and the plan does not yet. Move it again."),
        ("change_tried", "", "to Wed 2 Dec when this page was stopped: nothing of it was written."),
    ],
)
def test_a_move_that_was_stopped_between_table_and_ledger_is_done_to_its_end_by_the_next_page(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, stopped_at: str, since: str, said: str
) -> None:
    """The order said another day than the parcel, until somebody sent the same form again."""
    marks = {"token": desk.worktop.access.token, "day": WEDNESDAY, "service": desk.parcel(NAME).service}
    seen = desk.post(MOVE, marks, card=False)
    digest = re.search(r'name="digest" value="(\w+)"', seen.text)
    assert digest
    with monkeypatch.context() as killed:
        killed.setattr(moving, stopped_at, _killed)
        killed.setattr(moving, "end_move", lambda _: None)
        with pytest.raises(KeyboardInterrupt):
            desk.post(MOVE, marks, card=False, digest=digest[1])
    assert desk.entries() == 1
    if since:  # a table was changed in a spreadsheet meanwhile, and the move would come to something else
        orders = desk.folder / "orders.csv"
        unpaid = re.sub(r"(?m)^(D35,[\d-]+),[\d-]+,", r"\1,,", orders.read_text("utf-8"))
        orders.write_text(unpaid, "utf-8")
    again = Desk(desk.folder)
    page = again.text("/packing")
    assert said in page
    assert "was to be moved" not in again.text("/packing")
    assert desk.entries() == 1 + ("done now" in said)
    assert (wishes(desk)[0][0] == WEDNESDAY) == (stopped_at == "keep_plan")


def _killed(*_: object) -> None:
    raise KeyboardInterrupt


def test_what_was_seen_of_another_state_moves_nothing(desk: Desk) -> None:
    token = {"token": desk.worktop.access.token}
    answer = desk.post(MOVE, token, card=False, day=WEDNESDAY, service="", digest="0123456789abcdef")
    assert answer.status_code == 409
    assert "Not moved: something changed since" in plain(answer.text)
    assert desk.parcel(NAME).state == "planned"


def test_a_day_that_is_not_in_the_list_is_refused(desk: Desk) -> None:
    token = {"token": desk.worktop.access.token}
    assert desk.post(MOVE, token, card=False, day="2026-12-25", service="").status_code == 422


def test_what_would_not_go_on_that_day_says_why(desk: Desk) -> None:
    token = {"token": desk.worktop.access.token}
    seen = desk.post("/parcels/2026-W49-07/move", token, card=False, day=WEDNESDAY, service="tracked parcel")
    assert "Would not go. D25, line 1: No hand-over of tracked parcel on Wed" in plain(seen.text)


def test_a_late_parcel_shows_no_promise_of_a_day_that_has_passed(desk: Desk) -> None:
    page = Desk(desk.folder, date(2026, 12, 5)).text("/parcels/2026-W49-07/move")
    assert "Late: it was due on Tue 1 Dec It is not packed: its eggs are still in the lot." in page
    assert "36 Nothobranchius korthausae, Mafia Island from KO-11, for 30 ordered in D25." in page
    assert "No posting day is left in week 49. Not this week: plan it for week 50" in page
    assert "arrive alive" not in page
    assert "there about" not in page


def test_what_is_not_sent_this_week_is_free_for_the_next_plan(desk: Desk) -> None:
    late = Desk(desk.folder, date(2026, 12, 5))
    token = {"token": late.worktop.access.token}
    answer = late.post("/parcels/2026-W49-07/drop", token, card=False, after="plan")
    assert (answer.status_code, answer.headers["Location"].partition("?")[0]) == (303, "/plan")
    assert "Plan for week 50" in late.text("/plan")
