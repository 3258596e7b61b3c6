"""The shelves that were used on this computer: a folder in, kept in the user's state folder, and out."""

from __future__ import annotations

import os
import sys
from itertools import chain, count
from pathlib import Path

#: So many shelves are offered again.
_MOST_SHELVES = 12


def known_shelves() -> list[Path]:
    """The folders of the shelves opened that are still there, the last one first."""
    try:
        lines = (_state_folder() / "last-shelf").read_text(encoding="utf-8").splitlines()
    except OSError:
        return []
    return [folder for line in lines if (folder := Path(line.strip())) and (folder / "shelf.toml").is_file()]


def remember_shelf(folder: Path) -> None:
    """Keeps which shelf was opened; where that cannot be kept, it is asked for again next time."""
    opened = folder.resolve()
    every = [opened, *(other for other in known_shelves() if other != opened)]
    try:
        place = _state_folder()
        place.mkdir(parents=True, exist_ok=True)
        (place / "last-shelf").write_text("\n".join(map(str, every[:_MOST_SHELVES])), encoding="utf-8")
    except OSError:
        return


def new_shelf_folder() -> Path:
    """Where a shelf is made unless a place is named: in the documents, else at home; numbered if need be."""
    home = Path.home()
    documents = _named_documents() or home / "Documents"
    first = (documents if documents.is_dir() else home) / "Killifish eggs"
    numbered = (first.with_name(f"{first.name} {n}") for n in count(2))
    return next(one for one in chain((first,), numbered) if not (one / "shelf.toml").is_file())


def _named_documents() -> Path | None:
    """The folder of documents as the desktop calls it in its own language (freedesktop user-dirs)."""
    config = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "user-dirs.dirs"
    try:
        lines = config.read_text(encoding="utf-8").splitlines()
    except OSError:
        return None
    for line in lines:
        name, _, value = line.partition("=")
        if name.strip() == "XDG_DOCUMENTS_DIR":
            return Path(value.strip().strip('"').replace("$HOME", str(Path.home())))
    return None


def _state_folder() -> Path:
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "spawnpost"
    return Path(os.environ.get("XDG_STATE_HOME") or home / ".local" / "state") / "spawnpost"
