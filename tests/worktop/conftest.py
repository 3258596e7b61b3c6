"""The demo week on a page: a shelf whose plan is kept, made once and copied for each test, and a client that
posts forms.
"""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from types import CodeType
from typing import ClassVar
from urllib.parse import unquote

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from shipping.ledger.kept_parcel import KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.words.units import shipped_folder
from shipping.worktop.app import make_app
from shipping.worktop.context import Worktop
from tests.reckoned_once import reckoned_once as reckoned_once

TODAY = date(2026, 11, 30)
HOME = "http://127.0.0.1:8765"
FIRST = "2026-W49-01"


class _CompiledOnce(BytecodeCache):
    """Templates that any page of this process has compiled serve every other, as long as their text is the
    same.
    """

    def __init__(self) -> None:
        self.known: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self.known.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.known[bucket.key, bucket.checksum] = bucket.code


Flask.jinja_options = {"bytecode_cache": _CompiledOnce()}


class _RuleCompiledOnce(Rule):
    """An address that any page of this process has compiled serves every other."""

    known: ClassVar[dict[tuple[str, str], dict[str, object]]] = {}

    def compile(self) -> None:
        key = (self.endpoint, self.rule)
        if key not in self.known:
            super().compile()
            self.known[key] = dict(vars(self))
        vars(self).update({**self.known[key], "map": self.map})


Flask.url_rule_class = _RuleCompiledOnce


class Desk:
    """A client of the page of one shelf; every form it posts carries the marks of the page it was taken
    from.
    """

    def __init__(
        self,
        folder: Path,
        today: date = TODAY,
        hide_names: bool = False,
        secret: str = "a secret",
        aside: bool = False,
        hour: str = "",
    ) -> None:
        self.folder = folder
        self.app = make_app(
            folder, lambda: today, secret, hide_names=hide_names, aside=aside, hour_of=lambda: hour
        )
        self.client: FlaskClient = self.app.test_client()
        self.client.get("/mark", base_url=HOME)

    @property
    def worktop(self) -> Worktop:
        worktop = self.app.extensions["worktop"]
        assert isinstance(worktop, Worktop)
        return worktop

    def get(self, path: str, **more: str) -> TestResponse:
        return self.client.get(path, base_url=HOME, query_string=more or None)

    def text(self, path: str) -> str:
        answer = self.get(path)
        assert answer.status_code == 200, plain(answer.text)
        return plain(answer.text)

    def marks(self) -> dict[str, str]:
        """What a form of a page loaded now carries, without the page; a test of packing sets both side by
        side.
        """
        marks = {"token": self.worktop.access.token, "seen": self.get("/mark").text}
        with self.worktop.shelf_state.ledger() as ledger:
            kept = ledger.parcels() if ledger else ()
        return marks | ({"plan": str(kept[0].plan_entry)} if kept else {})

    def post(
        self, path: str, marks: Mapping[str, str] | None = None, card: bool = True, **fields: str
    ) -> TestResponse:
        data = {**(self.marks() if marks is None else marks), **fields}
        return self.client.post(path, base_url=HOME, data=data, headers={"X-Card": "1"} if card else {})

    def pack(self, name: str = FIRST, marks: Mapping[str, str] | None = None, **counts: str) -> TestResponse:
        return self.post(f"/packing/{name}/pack", marks, **counts)

    def parcel(self, name: str = FIRST) -> KeptParcel:
        with Ledger.open(self.folder, TODAY) as ledger:
            return ledger.parcel(name)

    def entries(self) -> int:
        with Ledger.open(self.folder, TODAY) as ledger:
            return len(ledger.entries())


def plain(page: str) -> str:
    """A page as it reads: no tags, one space between words."""
    return " ".join(
        html.unescape(re.sub(r"<[^>]*>", " ", re.sub(r"</?bdi>", "", page))).replace("\u00a0", " ").split()
    )


def said(answer: TestResponse) -> str:
    return unquote(answer.headers.get("X-Said", ""))


def demo_week_kept(folder: Path) -> Path:
    """The demo shelf in a new folder, its plan kept by the page's own form."""
    shutil.copytree(shipped_folder("demo_orders"), folder)
    desk = Desk(folder)
    page = desk.get("/plan").text
    digest = re.search(r'name="digest" value="(\w+)"', page)
    assert digest, plain(page)
    answer = desk.post("/plan/keep", {"token": desk.worktop.access.token}, week="2026-W49", digest=digest[1])
    assert answer.status_code == 303, plain(answer.text)
    desk.worktop.shelf_state.close()
    return folder


@pytest.fixture(scope="session")
def week_kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_week_kept(tmp_path_factory.mktemp("kept") / "week")


@pytest.fixture
def shelf(week_kept: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(week_kept, tmp_path / "week"))


@pytest.fixture
def desk(shelf: Path) -> Desk:
    return Desk(shelf)
