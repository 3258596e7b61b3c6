"""From an empty folder to a printed slip on the page alone, with few inputs beside the lot and the order."""

from __future__ import annotations

import html
import re
from datetime import date
from pathlib import Path

import pytest

from tests.worktop.conftest import Desk, plain

#: Inputs beside the order and the lot themselves, at the most.
MOST_INPUTS = 25
LOT = {
    "lot": "GA-01",
    "species": "gardneri",
    "population": "Akure",
    "laid_from": "2026-06-03",
    "laid_to": "2026-06-05",
    "medium": "water",
    "kept_at_c": "24",
    "eggs": "80",
    "counted_on": "2026-06-15",
    "stage": "eyed",
    "stage_on": "2026-06-15",
}
ORDER = {
    "order": "1",
    "placed_on": "2026-06-14",
    "paid_on": "2026-06-14",
    "addressee": "Bo Example",
    "delivery_1": "Vej 2",
    "postcode": "5000",
    "town": "Odense",
    "country": "DK",
    "species": "gardneri",
    "population": "Akure",
    "eggs": "20",
}


def test_the_first_right_slip_takes_few_inputs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    desk = Desk(tmp_path / "shelf", date(2026, 6, 15))
    token = {"token": desk.worktop.access.token}
    inputs = 0

    def write(path: str, **fields: str) -> None:
        nonlocal inputs
        answer = desk.post(path, token, card=False, **fields)
        assert answer.status_code == 303, f"{path}: {plain(answer.text)[-600:]}"
        inputs += len(fields) + 1

    write(
        "/first",
        folder=str(tmp_path / "shelf"),
        name="Ada Example",
        address="Havnegade 1\n8000 Aarhus C",
        country="DK",
        currency="DKK",
        parcels_per_day="6",
    )
    before = inputs
    write("/tables/lots/new", **LOT)
    write("/tables/orders/new", **ORDER)
    inputs = before
    card = re.search(r'action="/rules/(\w+)"', desk.get("/rules").text)
    assert card
    rule = {"verdict": "open", "source": "letter of the authority", "to": "DK"}
    write(f"/rules/{card[1]}", **rule, taxon="Fundulopanchax gardneri", checked_on="2026-06-15")
    services = (desk.folder / "services.csv").read_text(encoding="utf-8-sig").splitlines()
    row = next(n for n, text in enumerate(services, 1) if text.startswith("parcel;DK;"))
    page = desk.get(f"/tables/services/{row}").text
    token |= dict(re.findall(r'name="(was-[^"]+)" value="([^"]*)"', page))
    write(f"/tables/services/{row}", live_eggs="yes", answered_on="2026-06-15", answered_by="letter of today")
    held = desk.get("/plan").text
    warmth = re.search(r'href="(/tables/weather/new\?[^"]*)"', held)
    assert warmth, plain(held)[-1200:]
    form = desk.get(html.unescape(warmth[1])).text
    assert [value in form for value in ('value="DK"', 'value="6"')] == [True] * 2
    felt = {"low_c": "16", "high_c": "24", "source": "a logger in last June's parcels"}
    write("/tables/weather/new", to="DK", month="6", **felt)
    inputs -= 2  # The place and the month stand in the form that the hold leads to.
    plan = desk.get("/plan").text
    digest = re.search(r'name="digest" value="(\w+)"', plan)
    week = re.search(r'name="week" value="([\w-]+)"', plan)
    assert digest
    assert week
    write("/plan/keep", digest=digest[1], week=week[1])
    name = re.search(r'id="p-([\w-]+)"', desk.get("/packing").text)
    assert name, desk.text("/week")[:1500]
    paper = desk.get(f"/papers/{name[1]}.pdf")
    assert paper.headers["Content-Type"] == "application/pdf"
    assert inputs <= MOST_INPUTS
