"""The worktop served from this computer: a folder and an address in, a server until it is stopped out."""

from __future__ import annotations

import ipaddress
import signal
import socket
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from flask import Flask
from waitress.server import create_server

from shipping.words.problems import ShelfProblems
from shipping.worktop.access import is_loopback
from shipping.worktop.app import make_app
from shipping.worktop.context import Worktop
from shipping.worktop.dropped_sheets import MOST_SHEETS_BODY

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

#: Requests answered at once; each change still waits for its turn at the ledger.
_THREADS = 6
#: So many visitors may wait to be taken in.
_WAITING = 64


@dataclass(frozen=True, slots=True)
class PageAddresses:
    """Where the page is: for this computer, and, where others may come in, for them with the key."""

    here: str
    elsewhere: tuple[str, ...]
    port: int


class ServedShelves:
    """The shelves opened while the page is served, each an application of its own, by a WSGI server: what is
    asked, the one opened last answers.
    """

    def __init__(self, make: Callable[..., Flask]) -> None:
        self._make = make
        self._apps: dict[Path, Flask] = {}

    def open(self, folder: Path) -> Worktop:
        """Opens a shelf, as it was left if it was open before; what it stands on."""
        folder = folder.resolve()
        if folder not in self._apps:
            self._apps[folder] = self._make(folder, open_shelf=self.open)
        self._last = self._apps[folder]
        return _worktop_of(self._last)

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        return self._last(environ, start_response)

    def close(self) -> tuple[str, ...]:
        """What the ledgers have left to say."""
        notices: list[str] = []
        for worktop in map(_worktop_of, self._apps.values()):
            worktop.shelf_state.close()
            worktop.dropped.close()
            notices += worktop.shelf_state.taken_notices(of_all=True)
        return tuple(notices)


def _worktop_of(app: Flask) -> Worktop:
    worktop = app.extensions["worktop"]
    assert isinstance(worktop, Worktop)
    return worktop


def serve(
    folder: Path,
    today_of: Callable[[], date],
    secret: str,
    *,
    address: str = "127.0.0.1",
    port: int = 8765,
    hide_names: bool = False,
    hour_of: Callable[[], str] = lambda: "",
    tell: Callable[[PageAddresses], None],
) -> tuple[str, ...]:
    """Serves the page of a shelf until it is interrupted or told to end; ``tell`` is told where, once it can
    be opened. What the ledger then left to say is given back. Raises OSError if the address or port cannot
    be had.
    """
    listening = _listening(address, port)
    number = int(listening.getsockname()[1])
    is_everywhere = ipaddress.ip_address(address).is_unspecified
    make = partial(
        make_app,
        today_of=today_of,
        secret=secret,
        port=number,
        addresses=(address,),
        any_number=is_everywhere,
        hide_names=hide_names,
        hour_of=hour_of,
        addresses_now=lambda key: _served(address, number, key).elsewhere,
    )
    shelves = ServedShelves(make)
    worktop = shelves.open(folder)
    server = create_server(
        shelves,
        sockets=[listening],
        threads=_THREADS,
        ident=None,
        max_request_body_size=MOST_SHEETS_BODY + 100_000,
        clear_untrusted_proxy_headers=True,
    )
    # while the browser opens
    threading.Thread(target=_read_ahead, args=(worktop,), daemon=True).start()
    before = signal.signal(signal.SIGTERM, _ended)
    try:
        tell(_served(address, number, worktop.access.key))
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        signal.signal(signal.SIGTERM, before)
        server.close()
        notices = shelves.close()
    return notices


def _read_ahead(worktop: Worktop) -> None:
    """The tables are read before the first page asks for them, which says what is wrong with them."""
    with suppress(ShelfProblems, OSError):
        worktop.shelf_state.left()


def _ended(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _listening(address: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen(_WAITING)
    except OSError:
        listening.close()
        raise
    return listening


def _served(address: str, port: int, key: str) -> PageAddresses:
    if is_loopback(address):
        host = f"[{address}]" if ":" in address else address
        return PageAddresses(f"http://{host}:{port}/", (), port)
    others = _own_addresses() if ipaddress.ip_address(address).is_unspecified else (address,)
    hosts = tuple(f"[{one}]" if ":" in one else one for one in others)
    here = "127.0.0.1" if ipaddress.ip_address(address).is_unspecified else hosts[0]
    mine = f"http://{here}:{port}/" + ("" if here == "127.0.0.1" else f"?key={key}")
    return PageAddresses(mine, tuple(f"http://{host}:{port}/?key={key}" for host in hosts), port)


def _own_addresses() -> tuple[str, ...]:
    """This computer's addresses in its own network; nothing is sent to find them."""
    found: set[str] = set()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            found.add(str(probe.getsockname()[0]))
        except OSError:
            pass
    return tuple(sorted(one for one in found if not is_loopback(one))) or ("THIS-COMPUTER",)
