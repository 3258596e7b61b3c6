"""What was printed for whom: digests of names by folder and paper, kept before papers are written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from shipping.tables.files.whole_file import not_written, write_whole
from shipping.tables.spelling import buyer_key
from shipping.week.plan_data import Plan
from shipping.words.problems import ShelfProblems

#: The index, beside the tables: folder -> what papers are of (parcel, week, order) -> digests of names.
INDEX_FILE = "papers-index.json"
Index = dict[str, dict[str, list[str]]]


def name_digest(name: str) -> str:
    """What stands for a name in the index; whoever knows the name finds it, and nobody reads it there."""
    return hashlib.sha256(f"spawnpost papers {buyer_key(name)}".encode()).hexdigest()[:32]


def read_index(shelf_folder: Path) -> Index:
    """The index of a shelf; empty where there is none that can be read."""
    try:
        index = json.loads((shelf_folder / INDEX_FILE).read_text(encoding="utf-8"))
        return {
            str(place): {str(of): list(map(str, who)) for of, who in listed.items()}
            for place, listed in index.items()
        }
    except (OSError, ValueError, AttributeError, TypeError):
        return {}


def write_index(shelf_folder: Path, index: Index) -> None:
    """Put the index in place, whole; an empty one is none. Raises ShelfProblems if it cannot be written."""
    path = shelf_folder / INDEX_FILE
    kept = {
        place: {of: sorted(set(who)) for of, who in listed.items() if who} for place, listed in index.items()
    }
    kept = {place: listed for place, listed in kept.items() if listed}
    if not kept:
        path.unlink(missing_ok=True)
        return
    try:
        write_whole(path, (json.dumps(kept, indent=1, sort_keys=True) + "\n").encode("utf-8"))
    except OSError as error:
        raise not_written(path, error) from None


@contextmanager
def noted_as_printed(shelf_folder: Path, out: Path, plan: Plan, buyers: Mapping[str, str]) -> Iterator[None]:
    """Note for whom papers of a plan are written inside; where none may be written, nothing is noted."""
    before = read_index(shelf_folder)
    note_printed(shelf_folder, out, plan, buyers)
    try:
        yield
    except ShelfProblems:
        with suppress(ShelfProblems):  # what kept the papers from being written keeps this, too
            write_index(shelf_folder, before)
        raise


def note_printed(shelf_folder: Path, out: Path, plan: Plan, buyers: Mapping[str, str]) -> None:
    """Note for whom papers of a plan are about to be written to a folder; ``buyers`` by order."""
    index = read_index(shelf_folder)
    listed = index.setdefault(_place(shelf_folder, out), {})
    everyone = {parcel.parcel: parcel.address.addressee for parcel in plan.parcels}
    everyone |= {line.order: buyers[line.order] for line in plan.lines_out if line.order in buyers}
    for of, name in everyone.items():
        _add(listed, of, [name])
    _add(listed, plan.week, everyone.values())
    write_index(shelf_folder, index)


def _place(shelf_folder: Path, out: Path) -> str:
    """The folder as the index names it: from the shelf where it is in it."""
    shelf, place = shelf_folder.resolve(), out.resolve()
    return place.relative_to(shelf).as_posix() if place.is_relative_to(shelf) else str(place)


def _add(listed: dict[str, list[str]], of: str, names: Iterable[str]) -> None:
    listed[of] = sorted({*listed.get(of, ()), *(name_digest(name) for name in names)})
