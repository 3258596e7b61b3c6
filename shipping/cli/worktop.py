"""The commands of the worktop page: a port in, a page served out; a launcher that opens it."""

from __future__ import annotations

import gc
import ipaddress
import os
import shlex
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Argument, Option

from shipping.cli.global_options import (
    Edge,
    folder_of,
    has_every_letter,
    hour_now,
    path_given,
    print_answer,
    wrong,
)

if TYPE_CHECKING:
    from shipping.worktop.serving import PageAddresses


def worktop(
    context: typer.Context,
    port: Annotated[int, Option(min=0, max=65535, help="The port; 0 is any that is free.")] = 8765,
    listen: Annotated[
        str, Option(help="The address to listen on; only this computer unless named.")
    ] = "127.0.0.1",
    open_: Annotated[
        bool, Option("--open", help="Open the browser, with the shelf last used or a first one.")
    ] = False,
) -> None:
    """Serve the week, the packing bench, arrivals, lots and rules as a page for the tablet. Example:
    spawnpost worktop
    """
    # nothing that is imported is ever rubbish, and looking for it would keep the first page waiting
    gc.disable()
    import secrets
    import webbrowser

    from shipping.papers.page.drawing import qr_lines
    from shipping.worktop.serving import serve

    edge: Edge = context.obj
    folder = _folder(edge, open_)
    try:
        ipaddress.ip_address(listen)
    except ValueError:
        raise wrong(
            "--listen", f"'{listen}' is not an address.", "Write it as 127.0.0.1, or 192.168.1.20."
        ) from None

    def tell(served: PageAddresses) -> None:
        lines = [
            f"The worktop is at {served.here}",
            "Every program on this computer can reach it there; other devices cannot.",
            "Stop it with Ctrl+C; nothing that was recorded is lost.",
        ]
        if served.elsewhere:
            lines += ["Whoever has this address may see names and record parcels; the way is not encrypted:"]
            lines += [f"  {address}" for address in served.elsewhere]
            lines[1] = "Every program on this computer can reach it there, and other devices with the key."
            if has_every_letter():
                lines += ["", *qr_lines(served.elsewhere[0])]
        if open_:
            webbrowser.open(served.here)
        print_answer(
            edge, {"here": served.here, "elsewhere": list(served.elsewhere), "port": served.port}, lines
        )
        sys.stdout.flush()
        gc.enable()

    is_named = edge.folder is not None or "SPAWNPOST_SHELF" in os.environ
    if open_ and not is_named and _is_served_already(port):
        webbrowser.open(f"http://127.0.0.1:{port}/")
        print_answer(edge, {"here": f"http://127.0.0.1:{port}/"}, ["It is open already; here it is again."])
        return
    today = None if context.parent is None else context.parent.params.get("today")
    today_of = date.today if today is None else lambda: edge.today
    hour_of = hour_now if today is None else lambda: ""

    def serve_at(number: int) -> None:
        left_to_say = serve(
            folder,
            today_of,
            secrets.token_urlsafe(32),
            address=listen,
            port=number,
            hide_names=edge.hide_names,
            hour_of=hour_of,
            tell=tell,
        )
        for notice in left_to_say:
            typer.echo(f"Note: {notice}", err=True)

    try:
        try:
            serve_at(port)
        except OSError:
            if not open_:
                raise
            serve_at(0)
    except OSError as trouble:
        text = f"{listen} port {port} cannot be had: {(trouble.strerror or str(trouble)).lower()}."
        raise wrong("--port", text, "Name another with --port, or stop what is served there.") from None


#: What helps where there is no shelf: the front door asks what a first one needs.
_NO_SHELF = "Name it with --shelf, or type spawnpost alone: its page makes a first one."


def _folder(edge: Edge, is_front_door: bool) -> Path:
    """The shelf's folder; as the front door also the one last used, else where a first one is to be made."""
    from shipping.tables.reader import find_shelf
    from shipping.worktop.last_shelf import known_shelves, new_shelf_folder, remember_shelf

    named = edge.folder or os.environ.get("SPAWNPOST_SHELF")
    if not is_front_door or named:
        folder = Path(named) if is_front_door and named else folder_of(edge, _NO_SHELF)
    else:
        folder = next(filter(None, (find_shelf(Path.cwd()), *known_shelves())), None) or new_shelf_folder()
    if (folder / "shelf.toml").is_file():
        remember_shelf(folder)
    return folder


def _is_served_already(port: int) -> bool:
    """Does a worktop of ours answer on that port of this computer?"""
    import http.client

    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=1)
    try:
        connection.request("GET", "/mark")
        answer = connection.getresponse()
        return answer.status == 200 and answer.getheader("Cross-Origin-Opener-Policy") == "same-origin"
    except OSError:
        return False
    finally:
        connection.close()


#: The name of the launcher by system, as `sys.platform` begins.
_NAMES = {"linux": "spawnpost.desktop", "darwin": "spawnpost.command", "win32": "spawnpost.bat"}
_SYSTEMS = {"linux": "linux", "macos": "darwin", "windows": "win32"}


def shortcut(
    context: typer.Context,
    folder: Annotated[Path | None, Argument(help="Where to; else your desktop.", parser=path_given)] = None,
    system: Annotated[str, Option("--for", help="linux, macos or windows; else this one.")] = "",
) -> None:
    """Write a launcher to double-click that opens the page. Example: spawnpost shortcut"""
    from shipping.tables.files.whole_file import write_file

    edge: Edge = context.obj
    if system and system not in _SYSTEMS:
        raise wrong("--for", f"There is no launcher for '{system}'.", f"Write one of: {', '.join(_SYSTEMS)}.")
    platform = _SYSTEMS.get(system, sys.platform if sys.platform in _NAMES else "linux")
    desktop = Path.home() / "Desktop"
    place = folder or (desktop if desktop.is_dir() else Path.home())
    if not place.is_dir():
        raise wrong("DIR", f"{place} is no folder.", "Name one that is there.")
    words = [sys.executable, "-m", "shipping"]
    words += ["--shelf", str(edge.folder.resolve())] if edge.folder else []
    path = place / _NAMES[platform]
    write_file(path, launcher(platform, words))
    if platform != "win32":
        path.chmod(0o755)
    print_answer(edge, {"launcher": str(path)}, [f"Wrote {path}. Double-click it to open the page."])


def launcher(platform: str, words: list[str]) -> bytes:
    """The text of a launcher: a desktop entry (freedesktop.org), a shell script, or a batch file in UTF-8."""
    if platform == "win32":
        line = " ".join(f'"{word}"' if " " in word or not word.isascii() else word for word in words)
        return f"@echo off\r\nchcp 65001 >nul\r\n{line}\r\nif errorlevel 1 pause\r\n".encode()
    if platform == "darwin":
        return f"#!/bin/sh\nexec {shlex.join(words)}\n".encode()
    line = " ".join(_entry_word(word) for word in words)
    lines = ("[Desktop Entry]", "Type=Application", "Name=spawnpost", f"Exec={line}", "Terminal=true")
    return ("\n".join((*lines, "Categories=Office;")) + "\n").encode()


def _entry_word(word: str) -> str:
    """A word as the Exec line of a desktop entry takes it: quoted, its marks escaped twice."""
    for mark in ("\\", '"', "`", "$"):
        word = word.replace(mark, f"\\{mark}")
    return '"' + word.replace("\\", "\\\\").replace("%", "%%") + '"'
