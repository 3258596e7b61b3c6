"""Every screen of the page, as it is answered: a shelf of the demo week in, a page of HTML for each out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from flask import template_rendered
from werkzeug.datastructures import FileStorage
from werkzeug.test import TestResponse

from shipping.ledger.entries import LineReport
from shipping.ledger.ledger import Ledger
from shipping.worktop.app import _HERE
from shipping.worktop.table_words import SHEETS
from tests.worktop.conftest import HOME, TODAY, Desk

#: What answers with no page: files, pictures, papers, a mark for the script, and what leads on to a page.
FILES = frozenset(
    ("file", "icon", "mark", "curve", "timeline", "copy_file", "parcel_papers", "day_papers", "tablet_code")
) | {"order"}
#: Every address that is a page, by its endpoint.
PATHS: dict[str, tuple[str, ...]] = {
    "todays_tasks": ("/",),
    "week": ("/week", "/week?week=2026-W50", "/week?find=FL-31"),
    "plan": ("/plan",),
    "moving": ("/parcels/2026-W49-07/move",),
    "packing": ("/packing", "/packing?day=2026-12-01", "/packing?find=D09"),
    "arrivals": ("/arrivals",),
    "lost": ("/arrivals/lost",),
    "tables": ("/tables",),
    "rows": tuple(f"/tables/{sheet.table}" for sheet in SHEETS if sheet.table != "orders"),
    "orders": ("/tables/orders",),
    "new_row": tuple(f"/tables/{sheet.table}/new" for sheet in SHEETS),
    "row": ("/tables/orders/2", "/tables/lots/2"),
    "region": ("/orders/D25/region",),
    "sheets": ("/sheets",),
    "sheet": ("/sheets/shop.csv",),
    "lots": ("/lots", "/lots?find=nothing"),
    "ask": ("/ask?lot=FL-31&to=DE", "/ask?lot=AU-20&to=DK"),
    "rules": ("/rules",),
    "operator": ("/operators/quick%20letter",),
    "tablet": ("/tablet",),
    "claims": ("/claims",),
    "taught": ("/taught",),
    "history": ("/history",),
    "copy": ("/copy",),
    "buy": ("/buy",),
    "offer": ("/offer",),
    "offer_file": ("/offer.html",),
    "setup": ("/setup",),
    **dict.fromkeys(("first", "pasted"), ()),  # where there is no shelf yet, and a mail: see below
}
#: A few cards of each kind show what all do, and take a fraction of the time to look at.
FEW = {"lots.MOST_CARDS": 3, "rows.MOST_ROWS": 6, "orders.MOST_ROWS": 6, "packing.MOST_CARDS": 4}
SHOP = b"Order no.;Date;Name;Country;Item;Quantity\nS-101;2026-11-24;Ina Example;Germany;Blue gardneri;20\n"
Screens = dict[str, str]


def screens_of(shelf: Path, empty: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Screens, set[str], Desk]:
    """Every screen by a name, the templates they came from, and the desk that has the files they ask for.

    ``shelf`` is the demo week, kept; ``empty`` a folder in which there is nothing.
    """
    for many, few in FEW.items():
        monkeypatch.setattr(f"shipping.worktop.views.{many}", few)
    _some_things_happen(shelf)
    desk, first = Desk(shelf), Desk(empty)
    screens: Screens = {}
    with _templates(desk) as seen, _templates(first) as seen_first:
        _drop(desk)
        for path in (path for paths in PATHS.values() for path in paths):
            screens[path] = _page(desk.get(path))
        screens |= {name: _page(answer) for name, answer in _refusals(desk, monkeypatch)}
        screens["/first"] = _page(first.get("/first"))
        screens["/first refused"] = _page(
            first.post("/first", {"token": first.worktop.access.token}, card=False, country="DK")
        )
    busy, waiting = _waiting(desk, monkeypatch)
    broken = _broken(desk)
    return screens | waiting | broken[0], seen | seen_first | busy | broken[1], desk


def _some_things_happen(shelf: Path) -> None:
    """A parcel packed, another sent, one that came short and is claimed."""
    with Ledger.open(shelf, TODAY) as ledger:
        for name in ("2026-W49-01", "2026-W49-02", "2026-W49-06"):
            ledger.pack(name)
        for name in ("2026-W49-02", "2026-W49-06"):
            ledger.send(name)
        order = ledger.parcel("2026-W49-02").lines[0].order
        ledger.arrive("2026-W49-02", [LineReport(order=order, line=1, alive=5)])


def _page(answer: TestResponse) -> str:
    assert answer.status_code not in (303, 500), answer.text
    assert "<!doctype html>" in answer.text[:40], answer.text[:200]
    return answer.text


@contextmanager
def _templates(desk: Desk) -> Iterator[set[str]]:
    """The names of the templates that are rendered meanwhile."""
    seen: set[str] = set()

    def saw(sender: object, template: Any, **more: object) -> None:
        seen.add(template.name.rpartition("/")[2].rpartition(":")[2])

    with template_rendered.connected_to(saw, desk.app):
        yield seen


def _drop(desk: Desk) -> None:
    sheet = FileStorage(BytesIO(SHOP), filename="shop.csv")
    data = {"token": desk.worktop.access.token, "sheets": sheet}
    answer = desk.client.post("/sheets", base_url=HOME, data=data, content_type="multipart/form-data")
    assert answer.status_code == 303, answer.text


def _refusals(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[str, TestResponse]]:
    """What is answered to forms that cannot be taken, and to those who may not come in."""
    token = {"token": desk.worktop.access.token}

    def post(path: str, **fields: str) -> TestResponse:
        return desk.post(path, token, card=False, **fields)

    mail = post("/orders/paste", text="20 gardneri Akure\nAda Example\nHavnegade 1\n8000 Aarhus C\nDenmark")
    yield "an order from a mail", desk.get(mail.headers["Location"])
    yield "an order that is refused", post("/tables/orders/new", order="D99", eggs="2.5")
    yield "a look that is refused", post("/lots/FL-31/look")
    yield "counts that are refused", desk.post("/packing/2026-W49-03/pack", card=False, u0="-5")
    counted = desk.post("/packing/2026-W49-03/count", card=False, u0="1")
    yield "a promise that fails", desk.get(counted.headers["Location"])
    yield "a report that is refused", desk.post("/arrivals/2026-W49-06", card=False, alive0="999")
    yield "an operator's answer that is refused", post("/operators/quick%20letter")
    yield "a region that is refused", post("/orders/D25/region")
    yield "settings that are refused", post("/setup", parcels_per_day="many")
    yield "bought eggs that are refused", post("/buy", lot="X")
    move = post("/parcels/2026-W49-07/move", day="2026-12-02", service=desk.parcel("2026-W49-07").service)
    yield "a move with what would come of it", move
    yield (
        "a form without its token",
        desk.client.post("/erase", base_url=HOME, data={"buyer": "Nobody"}, headers={"Origin": HOME}),
    )
    yield "no such page", desk.get("/nothing-here")
    elsewhere = {"REMOTE_ADDR": "192.168.1.7"}
    yield "a device without the key", Desk(desk.folder).client.get("/", base_url=HOME, environ_base=elsewhere)
    yield "a wrong key", desk.client.get("/?key=wrong", base_url=HOME, environ_base=elsewhere)
    monkeypatch.setattr("threading.Timer", _NoTimer)
    yield "stopped", post("/stop")


class _NoTimer:
    """A timer that never rings: nothing is to be ended."""

    def __init__(self, seconds: float, work: Callable[..., object], *more: object) -> None:
        self.daemon = True

    def start(self) -> None:
        pass


def _waiting(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> tuple[set[str], Screens]:
    """What is shown while something long is reckoned, which here does not even begin."""
    monkeypatch.setattr("shipping.worktop.background._AWHILE_S", 0.0)
    slow = Desk(desk.folder, aside=True)
    with _templates(slow) as seen:
        screens = {
            f"{path} while it is reckoned": _page(slow.get(path)) for path in ("/plan", "/offer", "/taught")
        }
    return seen, screens


def _broken(desk: Desk) -> tuple[Screens, set[str]]:
    """The rounds of other days and other shelves: new, done, with a row or all of it unreadable."""
    later = Desk(desk.folder, date(2027, 3, 1))
    screens = {"the round in spring": _page(later.get("/"))}
    orders = desk.folder / "orders.csv"
    whole = orders.read_bytes()
    orders.write_bytes(whole + b"D98,today\n")
    with _templates(desk) as seen:
        screens["a row that cannot be read"] = _page(desk.get("/"))
        (desk.folder / "shelf.toml").write_text("[plan", encoding="utf-8")
        screens["a shelf that cannot be read"] = _page(desk.get("/week"))
    return screens, seen


def pages_of(desk: Desk) -> set[str]:
    """The endpoints that answer a visit with a page."""
    rules = desk.app.url_map.iter_rules()
    return {rule.endpoint for rule in rules if "GET" in (rule.methods or ())} - FILES


def is_alike(name: str) -> bool:
    """Is it drawn as another screen that is looked at, with other words or more of the same?"""
    is_table = name.startswith("/tables/") and not name.startswith(("/tables/orders", "/tables/lots/2"))
    return is_table or name in ("/week", "/plan")


def whole_templates() -> set[str]:
    """The templates that are a page by themselves."""
    names = {path.name for path in (_HERE / "pages").glob("*.html")}
    return {name for name in names if not name.startswith("_")} - {"base.html"}
