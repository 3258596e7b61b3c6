"""A real browser on the served page; a request that leaves 127.0.0.1 is aborted and fails the test."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, Route, expect, sync_playwright

from tests.reckoned_once import reckoned_once as reckoned_once
from tests.tools import tool
from tests.worktop.conftest import demo_week_kept
from tests.worktop.served import LONGEST_S, ServedHere, ServedPage, own_port

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desk": (1440, 900)}

OpenPage = Callable[..., Page]
#: A busy machine is waited for: what comes at once costs no more for it.
expect.set_options(timeout=LONGEST_S * 1000)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    chromium = tool("chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=chromium,
            args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"],
            timeout=LONGEST_S * 1000,
        )
        try:
            yield started
        finally:
            started.close()


@pytest.fixture(scope="session")
def week_kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_week_kept(tmp_path_factory.mktemp("kept") / "week")


@pytest.fixture
def shelf(week_kept: Path, tmp_path: Path) -> Path:
    """The demo week, its plan kept."""
    return Path(shutil.copytree(week_kept, tmp_path / "week"))


@pytest.fixture
def served(shelf: Path) -> Iterator[ServedHere]:
    with ServedHere(shelf) as page:
        yield page


@pytest.fixture
def served_apart(shelf: Path) -> Iterator[ServedPage]:
    """Served by the command, which can be killed."""
    with ServedPage(shelf, port=own_port()) as page:
        yield page


def is_served(address: str) -> bool:
    """Does anything still answer there?"""
    try:
        socket.create_connection(("127.0.0.1", urlsplit(address).port or 80), LONGEST_S).close()
    except OSError:
        return False
    return True


@pytest.fixture
def open_page(browser: Browser) -> Iterator[OpenPage]:
    """Opens a page at one of the sizes; what it logs as an error, and every request elsewhere, fails the
    test. A page may say that it was not answered where the test itself has stopped its server.
    """
    strayed: list[str] = []
    errors: list[tuple[str, str]] = []
    contexts = []

    def check(route: Route) -> None:
        if urlsplit(route.request.url).hostname == "127.0.0.1":
            route.continue_()
        else:
            strayed.append(route.request.url)
            route.abort()

    def opened(address: str, size: str = "tablet", scripts: bool = True, dark: bool = False) -> Page:
        width, height = SIZES[size]
        context = browser.new_context(
            viewport={"width": width, "height": height},
            java_script_enabled=scripts,
            color_scheme="dark" if dark else "light",
            has_touch=True,
        )
        contexts.append(context)
        context.route("**/*", check)
        context.set_default_timeout(LONGEST_S * 1000)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append((address, str(error))))
        page.on(
            "console",
            lambda told: (
                errors.append((address, told.text))
                if told.type == "error" and "status of" not in told.text
                else None
            ),
        )
        page.goto(address)
        return page

    try:
        yield opened
    finally:
        for context in contexts:
            context.close()
    assert strayed == []
    assert [error for at, error in errors if "net::ERR_" not in error or is_served(at)] == []
