"""The shelf that was last used on this computer: a folder in, kept in the user's state folder, and out."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def last_shelf() -> Path | None:
    """The folder of the shelf last opened, if it is still one."""
    try:
        folder = Path((_state_folder() / "last-shelf").read_text(encoding="utf-8").strip())
    except OSError:
        return None
    return folder if (folder / "shelf.toml").is_file() else None


def remember_shelf(folder: Path) -> None:
    """Keeps which shelf was opened; where that cannot be kept, it is asked for again next time."""
    try:
        place = _state_folder()
        place.mkdir(parents=True, exist_ok=True)
        (place / "last-shelf").write_text(str(folder.resolve()), encoding="utf-8")
    except OSError:
        return


def new_shelf_folder() -> Path:
    """Where a first shelf is made unless another place is named: in the documents, else at home."""
    home = Path.home()
    documents = _named_documents() or home / "Documents"
    return (documents if documents.is_dir() else home) / "Killifish eggs"


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
