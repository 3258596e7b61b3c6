"""A file's content in, the file whole or as it was: never half of it, whatever stops the writing."""

from __future__ import annotations

import contextlib
import errno
import glob
import os
from collections.abc import Iterable
from pathlib import Path

from shipping.words.problems import Problem, ShelfProblems, Where
from shipping.words.sentence import say

#: The disk has no room, or no more that this user may fill.
_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT})

#: What was touched so lately before a file was put in place may still be written by another program [s].
_AT_WORK_S = 60


def not_written(path: Path, error: OSError) -> ShelfProblems:
    """That a file could not be written, why, and what helps."""
    why = (error.strerror or "").lower() or say("the system refused")
    text = say("cannot be written ({strerror}); it is as it was.", why)
    return ShelfProblems((Problem(Where(path.name), "", "cannot-write", text, way_out(error)),))


def is_no_room(error: OSError) -> bool:
    """Is the disk full?"""
    return error.errno in _NO_ROOM


def way_out(error: OSError) -> str:
    """What helps against what the system said of a file."""
    if is_no_room(error):
        return say("Make room on the disk and try again.")
    return say("If it is open in another program, close it there; else see that you may write it.")


def write_whole(path: Path, content: bytes | Iterable[memoryview]) -> None:
    """A file with that content, or as it was: it is written beside, then put in place."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as file:
            file.writelines((content,) if isinstance(content, bytes) else content)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def write_file(path: Path, content: bytes) -> None:
    """The same, or to a stream such as /dev/stdout. Raises ShelfProblems if it cannot be written."""
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(content)
        else:
            write_whole(path, content)
    except OSError as error:
        raise not_written(path, error) from error


def remove_leftovers(path: Path) -> None:
    """Removes what writings of a file left beside it that were killed a while before it was last written."""
    written = path.stat().st_mtime
    for part in path.parent.glob(f".{glob.escape(path.name)}.*.part"):
        with contextlib.suppress(OSError):
            if part.stat().st_mtime < written - _AT_WORK_S:
                part.unlink()


def force_names_to_disk(folder: Path) -> None:
    """Make a new name in a folder outlast a power cut, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
