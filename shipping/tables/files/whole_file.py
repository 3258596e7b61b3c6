"""A file's content in, the file whole or as it was: never half of it, whatever stops the writing."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path


def write_whole(path: Path, content: bytes | Iterable[memoryview]) -> None:
    """A file with that content, or as it was: it is written beside, then put in place."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as file:
            file.writelines((content,) if isinstance(content, bytes) else content)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def force_names_to_disk(folder: Path) -> None:
    """Make a new name in a folder outlast a power cut, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
