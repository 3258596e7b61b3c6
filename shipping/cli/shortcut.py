"""The command that writes a launcher: a folder in, a file to double-click that opens the page out."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import Annotated

import typer
from typer import Argument, Option

from shipping.cli.global_options import Edge, say, wrong

app = typer.Typer()
#: The name of the launcher by system, as `sys.platform` begins.
_NAMES = {"linux": "spawnpost.desktop", "darwin": "spawnpost.command", "win32": "spawnpost.bat"}
_SYSTEMS = {"linux": "linux", "macos": "darwin", "windows": "win32"}


@app.command()
def shortcut(
    context: typer.Context,
    folder: Annotated[Path | None, Argument(help="Where to; else your desktop.")] = None,
    system: Annotated[str, Option("--for", help="linux, macos or windows; else this one.")] = "",
) -> None:
    """Write a launcher to double-click that opens the page. Example: spawnpost shortcut"""
    edge: Edge = context.obj
    if system and system not in _SYSTEMS:
        raise wrong("--for", f"There is no launcher for '{system}'.", f"Write one of: {', '.join(_SYSTEMS)}.")
    platform = _SYSTEMS.get(system, sys.platform if sys.platform in _NAMES else "linux")
    place = folder or _desktop()
    if not place.is_dir():
        raise wrong("DIR", f"{place} is no folder.", "Name one that is there.")
    words = [sys.executable, "-m", "shipping"]
    words += ["--shelf", str(edge.folder.resolve())] if edge.folder else []
    path = place / _NAMES[platform]
    path.write_bytes(launcher(platform, words))
    if platform != "win32":
        path.chmod(0o755)
    say(edge, {"launcher": str(path)}, [f"Wrote {path}. Double-click it to open the page."])


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


def _desktop() -> Path:
    desktop = Path.home() / "Desktop"
    return desktop if desktop.is_dir() else Path.home()
