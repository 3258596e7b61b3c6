"""A deed done in a process of its own, which is killed before its n-th write: nothing of it is cleared up."""

from __future__ import annotations

import builtins
import io
import os
import re
import signal
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

#: What of a database's statements changes a file, or is about to.
_CHANGES = re.compile(r"\s*(BEGIN|COMMIT|INSERT|UPDATE|DELETE|CREATE|VACUUM|PRAGMA (user|application))")
_OF_FILES = frozenset(
    ("os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.truncate", "os.link", "shutil.copyfile")
)


def done_until_killed(place: Path, at: int, deed: Callable[[], None]) -> bool:
    """Was the deed done whole? It is killed before its write number ``at`` under a folder, counted from 1."""
    child = os.fork()
    if child == 0:
        # an error leaves with 1, never into the test that forked
        try:
            sys.stdout = sys.stderr = io.StringIO()
            _killed_at(place, at)
            deed()
            os._exit(0)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert killed or status == 0, f"before write {at} it ended otherwise than by being killed: {status}"
    return not killed


def _killed_at(place: Path, at: int) -> None:
    under = str(place.resolve())
    left = at

    def step() -> None:
        nonlocal left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def is_here(path: object) -> bool:
        return isinstance(path, str | bytes | os.PathLike) and os.path.abspath(os.fsdecode(path)).startswith(
            under
        )

    def heard(event: str, of: tuple[Any, ...]) -> None:
        if event in _OF_FILES and any(map(is_here, of)):
            step()

    opened = io.open

    def watched_open(path: Any, mode: str = "r", *rest: Any, **more: Any) -> Any:
        """Before a file is opened to be written, and once it is empty."""
        is_written = bool(set(mode) & set("wax+")) and is_here(path)
        if is_written:
            step()
        file = opened(path, mode, *rest, **more)
        if is_written:
            step()
        return file

    forced = os.fsync

    def watched_fsync(handle: int) -> None:
        step()
        forced(handle)

    connected = sqlite3.connect

    def watched_connect(database: Any, *rest: Any, **more: Any) -> sqlite3.Connection:
        connection = connected(database, *rest, **more)
        if under in str(database):
            connection.set_trace_callback(lambda said: step() if _CHANGES.match(said) else None)
        return connection

    io.open = builtins.open = watched_open
    os.fsync = watched_fsync
    sqlite3.connect = watched_connect
    sys.addaudithook(heard)
