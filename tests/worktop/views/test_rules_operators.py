"""An operator's answer is a row with who gave it and when, and the next open answer comes up."""

from __future__ import annotations

from shipping.worktop.table_words import rows_as_typed
from tests.worktop.conftest import Desk, plain


def unasked(desk: Desk) -> str:
    """A service of the shelf whose operator has said nothing, in all its rows."""
    path = desk.folder / "services.csv"
    name = rows_as_typed(path)[0].cells["service"]
    text = path.read_text(encoding="utf-8-sig").replace(",yes,2026-", ",ask,2026-")
    path.write_text(text, encoding="utf-8")
    return name


def test_an_answer_is_written_into_every_row_of_its_service_and_leads_to_the_next(desk: Desk) -> None:
    name = unasked(desk)
    assert f"/operators/{name.replace(' ', '%20')}" in desk.get("/").text
    asked = desk.text(f"/operators/{name}")
    assert "travel by this service (Denmark), in closed tubes" in asked
    assert "owed; this is one" in asked
    fields = {
        "live_eggs": "yes",
        "answered_by": "customer office, by letter",
        "answered_on": "Sat 28 Nov 2026",
    }
    token = {"token": desk.worktop.access.token}
    answer = desk.post(f"/operators/{name}", token, card=False, **fields)
    assert answer.status_code == 303, plain(answer.text)
    assert answer.headers["Location"].startswith(("/operators/", "/rules"))
    rows = [row.cells for row in rows_as_typed(desk.folder / "services.csv") if row.cells["service"] == name]
    assert "owed" not in desk.text(f"/operators/{name}")
    assert {(row["live_eggs"], row["answered_by"], row["answered_on"]) for row in rows} == {
        ("yes", "customer office, by letter", "2026-11-28")
    }
    assert name in {row.service for row in desk.worktop.shelf_state.tables().shelf.services}


def test_an_answer_without_who_gave_it_is_refused(desk: Desk) -> None:
    name, before = unasked(desk), (desk.folder / "services.csv").read_bytes()
    token = {"token": desk.worktop.access.token}
    answer = desk.post(f"/operators/{name}", token, card=False, live_eggs="yes", answered_on="2026-11-28")
    assert answer.status_code == 422
    assert "say who answered" in plain(answer.text)
    assert (desk.folder / "services.csv").read_bytes() == before
