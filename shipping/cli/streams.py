"""Standard streams in, streams that bear being closed, full or of an old encoding out."""

from __future__ import annotations

import contextlib
import io
import os
import sys


def ready_streams() -> None:
    """Opens a closed standard stream on nothing, and writes ``?`` for letters an encoding lacks."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8"))
        elif isinstance(stream, io.TextIOWrapper) and not has_every_letter(name):
            stream.reconfigure(errors="replace")


def has_every_letter(name: str = "stdout") -> bool:
    """Can every letter be written to the stream as it is?"""
    encoding = getattr(getattr(sys, name), "encoding", None) or "utf-8"
    return encoding.lower().replace("-", "").replace("_", "").startswith("utf")


def flush_or_drop() -> None:
    """Writes what waits for standard output; where the other end is closed or full, it goes nowhere instead.

    Without that the interpreter would try once more when it ends, and complain in many lines.
    """
    try:
        sys.stdout.flush()
    except OSError:
        with contextlib.suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)
