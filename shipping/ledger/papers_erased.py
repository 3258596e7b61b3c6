"""Papers that name an erased buyer: a folder of printed weeks in, the files removed out; what was printed is
the breeder's.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from shipping.ledger.entries import buyer_key
from shipping.papers.folder import MANIFEST, listed_in

#: Where `papers` writes, a folder a week.
PAPERS_FOLDER = "papers"
_TEXTS = frozenset({".eml", ".txt", ".html", ".md", ".csv", ".json"})


@dataclass(frozen=True, slots=True)
class ErasedData:
    """How many parts of entries were blanked; which copies were cleaned and papers removed, or could not
    be.
    """

    parts: int
    copies: tuple[str, ...]
    copies_left: tuple[str, ...]
    papers: tuple[str, ...] = ()
    papers_left: tuple[str, ...] = ()


def erase_papers(
    folder: Path, parcels: Collection[str], buyer: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The papers removed, and those that could not be, named from the shelf's folder.

    Removed are papers of the buyer's parcels, the piles of their weeks (they hold the same pages; print them
    again), and letters that name the buyer. Papers written elsewhere with ``--to`` are not found.
    """
    removed: list[str] = []
    left: list[str] = []
    for week in sorted(path for path in (folder / PAPERS_FOLDER).glob("*") if path.is_dir()):
        listed = listed_in(week)
        gone = sorted(
            {name for name, entry in listed.items() if _names_buyer(week / name, entry, parcels, buyer)}
        )
        for name in gone:
            try:
                (week / name).unlink(missing_ok=True)
                removed.append(f"{PAPERS_FOLDER}/{week.name}/{name}")
            except OSError:
                left.append(f"{PAPERS_FOLDER}/{week.name}/{name}")
        if gone:
            _unlist(week, frozenset(gone))
    return tuple(removed), tuple(left)


def _names_buyer(path: Path, entry: dict[str, str], parcels: Collection[str], buyer: str) -> bool:
    of = entry.get("of", "")
    is_pile = any(parcel.startswith(f"{of}-") for parcel in parcels)
    return of in parcels or bool(of and is_pile) or _says(path, buyer)


def _says(path: Path, buyer: str) -> bool:
    """Does a letter or list name the buyer?"""
    if path.suffix not in _TEXTS or path.name == MANIFEST:
        return False
    with contextlib.suppress(OSError):
        return buyer_key(buyer) in buyer_key(path.read_text(encoding="utf-8", errors="replace"))
    return False


def _unlist(week: Path, gone: frozenset[str]) -> None:
    """Take removed papers out of the week's list of files."""
    path = week / MANIFEST
    with contextlib.suppress(OSError, ValueError, KeyError):
        known = json.loads(path.read_text(encoding="utf-8"))
        known["files"] = [entry for entry in known["files"] if entry["file"] not in gone]
        path.write_text(
            json.dumps(known, indent=1, ensure_ascii=False, sort_keys=True) + "\n", encoding="utf-8"
        )


def parcels_named(
    parts: Collection[tuple[int, str]], whom: str, kept: Iterable[tuple[str, str]]
) -> frozenset[str]:
    """The parcels of a buyer: those of the parts erased, those kept for that buyer, and the one named
    itself.
    """
    named = {part for _, part in parts if part}
    named |= {
        parcel
        for parcel, buyer in kept
        if buyer_key(buyer) == buyer_key(whom) or buyer_key(parcel) == buyer_key(whom)
    }
    return frozenset(named)
