"""The mark of a move begun: a parcel, its wish and what was agreed to in; where it was stopped, out again."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

from shipping.tables.files.whole_file import write_whole

#: Beside the tables while a move is written, first into them, then into the ledger. It names no buyer.
_MARK = ".move-begun.json"


@dataclass(frozen=True, slots=True)
class BegunMove:
    """A parcel that goes to a day by a service (or "": any); ``entries`` were in the ledger then, ``agreed``
    is what else was seen to change, and ``by`` the device that is told of it ("": any).
    """

    parcel: str
    day: str
    service: str
    entries: int
    agreed: Sequence[str]
    by: str = ""


def is_begun(folder: Path) -> bool:
    """Was a move begun there that is not ended?"""
    return (folder / _MARK).exists()


def begin_move(folder: Path, move: BegunMove) -> None:
    write_whole(folder / _MARK, json.dumps(asdict(move)).encode())


def begun_move(folder: Path) -> BegunMove | None:
    """The move begun; None where its mark cannot be read, so that nothing of it was written."""
    try:
        move = BegunMove(**json.loads((folder / _MARK).read_text("utf-8")))
        date.fromisoformat(move.day)
    except (OSError, ValueError, TypeError):
        return None
    return move


def end_move(folder: Path) -> None:
    (folder / _MARK).unlink(missing_ok=True)
