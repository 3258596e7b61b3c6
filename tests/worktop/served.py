"""The page served by its command in a process of its own, or beside the test in this one, and a client that
speaks plain HTTP with it.
"""

from __future__ import annotations

import contextlib
import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import threading
from dataclasses import dataclass
from datetime import date
from email.message import Message
from pathlib import Path
from types import TracebackType
from typing import Self
from urllib.parse import urlencode

from werkzeug.serving import WSGIRequestHandler, make_server

from shipping.worktop.app import make_app
from shipping.worktop.context import Worktop

START = "import sys; from shipping.cli.app import main; sys.argv[0] = 'spawnpost'; sys.exit(main())"
TODAY = "2026-11-30"


#: Nothing is waited for longer [s].
LONGEST_S = 120


def command(shelf: Path, *words: str, today: str = TODAY) -> list[str]:
    return [sys.executable, "-c", START, "--shelf", str(shelf), "--today", today, "worktop", *words]


def own_port() -> int:
    """A free port that the system gives to nobody by itself: it can be had again after a server on it is
    gone. Workers, whose numbers stand side by side, look far from each other.
    """
    first = os.getpid() * 97 % 10_000
    for port in (20_000 + (first + step) % 10_000 for step in range(10_000)):
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    raise AssertionError("no port is free")


class ServedPage:
    """The served page of a shelf; it is ended when the ``with`` is left."""

    def __init__(self, shelf: Path, *words: str, port: int = 0, today: str = TODAY) -> None:
        self.process = subprocess.Popen(
            [*command(shelf, "--port", str(port), today=today), *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.told = ""
        self.ended: int | None = None
        assert self.process.stdout is not None
        too_late = threading.Timer(LONGEST_S, self.process.kill)
        too_late.start()
        while not (found := re.search(r"http://[^\s\"]+", self.told)):
            line = self.process.stdout.readline()
            if not line:
                too_late.cancel()
                raise AssertionError(f"it was not served: {self.process.communicate()[1]}")
            self.told += line
        too_late.cancel()
        self.address = found[0]
        self.port = int(self.address.rstrip("/").rpartition(":")[2])

    @staticmethod
    def run(shelf: Path, *words: str) -> subprocess.CompletedProcess[str]:
        """The command where it is expected to leave by itself."""
        return subprocess.run(
            command(shelf, *words), capture_output=True, text=True, check=False, timeout=LONGEST_S
        )

    def kill(self) -> None:
        """As a power cut would."""
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.communicate(timeout=LONGEST_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.terminate()
        try:
            self.process.communicate(timeout=LONGEST_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.communicate(timeout=LONGEST_S)
            raise
        self.ended = self.process.returncode


class _Silent(WSGIRequestHandler):
    """Requests are not told on the terminal."""

    def log(self, type: str, message: str, *more: object) -> None:
        pass


class ServedHere:
    """The page of a shelf served by a thread of this process: for tests that ask nothing of the command."""

    def __init__(self, shelf: Path, today: str = TODAY) -> None:
        self._server = make_server(
            "127.0.0.1", 0, lambda environ, start: [], threaded=True, request_handler=_Silent
        )
        self.port = self._server.port
        self.address = f"http://127.0.0.1:{self.port}/"
        self._app = make_app(shelf, lambda: date.fromisoformat(today), "a secret", port=self.port)
        self._server.app = self._app
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *why: object) -> None:
        self._server.shutdown()
        self._thread.join(LONGEST_S)
        self._server.server_close()
        worktop = self._app.extensions["worktop"]
        assert isinstance(worktop, Worktop)
        worktop.shelf_state.close()
        worktop.dropped.close()


@dataclass(frozen=True)
class Answer:
    status: int
    headers: Message
    text: str


class Client:
    """One browser without a window: it keeps the cookie and names its origin."""

    def __init__(self, page: ServedPage) -> None:
        self.page = page
        self.cookie = ""
        self.get("/mark")

    def get(self, path: str) -> Answer:
        return self._ask("GET", path, None)

    def marks(self) -> dict[str, str]:
        """What a form of the packing page carries now."""
        text = self.get("/packing").text
        found = {
            name: re.search(rf'name="{name}" value="([^"]*)"', text) for name in ("token", "seen", "plan")
        }
        return {name: value[1] for name, value in found.items() if value}

    def post(self, path: str, fields: dict[str, str]) -> Answer:
        return self._ask("POST", path, urlencode(fields))

    def _ask(self, method: str, path: str, body: str | None) -> Answer:
        connection = http.client.HTTPConnection("127.0.0.1", self.page.port, timeout=LONGEST_S)
        headers = {"Cookie": self.cookie, "X-Card": "1"}
        if body is not None:
            headers |= {
                "Content-Type": "application/x-www-form-urlencoded",
                "Origin": f"http://127.0.0.1:{self.page.port}",
            }
        try:
            connection.request(method, path, body, headers)
            answer = connection.getresponse()
            if "Set-Cookie" in answer.headers:
                self.cookie = str(answer.headers["Set-Cookie"]).partition(";")[0]
            return Answer(answer.status, answer.headers, answer.read().decode("utf-8", "replace"))
        finally:
            connection.close()
