"""Papers in one folder: names and bytes in, whole files out, a list of them, and digests of for whom."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from shipping.tables.files.whole_file import not_written, write_whole
from shipping.tables.spelling import buyer_key
from shipping.week.plan_data import Plan
from shipping.words.problems import Problem, ShelfProblems, Where

MANIFEST = "manifest.json"


def safe_name(text: str) -> str:
    """The text as part of a file's name: letters, digits, ``.``, ``_``, ``-``; never empty or hidden."""
    return re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip(".-") or "x"


def _not_written(path: Path, wrong: OSError, mend: str) -> ShelfProblems:
    text = f"It cannot be written: {wrong.strerror or wrong}."
    return ShelfProblems((Problem(Where(str(path)), "", "folder", text, mend),))


def listed_in(folder: Path) -> dict[str, dict[str, str]]:
    """What the manifest of a folder lists, by file name; empty without one that can be read."""
    try:
        known = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        return {str(entry["file"]): {k: str(v) for k, v in entry.items()} for entry in known["files"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def since_last_printed(
    before: Mapping[str, Mapping[str, str]], after: Mapping[str, Mapping[str, str]]
) -> dict[str, list[str]]:
    """Files and parcels changed, new or removed, by manifests; the first papers of all are not new."""
    old, now = _stands(before), _stands(after)
    return {
        "changed": sorted(name for name in old if name in now and old[name] != now[name]),
        "new": sorted(name for name in now if old and name not in old),
        "removed": sorted(name for name in old if name not in now),
    }


def _stands(listed: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """What stands of each file, and of each parcel in the files of whole days."""
    stands = {name: entry["sha256"] for name, entry in listed.items()}
    for entry in listed.values():
        stands |= dict(part.partition("=")[::2] for part in entry.get("parcels", "").split())
    return stands


class OutFolder:
    """A folder that papers are written into; it keeps the SHA-256 of what it wrote."""

    def __init__(self, folder: Path) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as wrong:
            raise _not_written(folder, wrong, "Choose another folder.") from None
        self.folder = folder.resolve()

    def write(self, name: str, content: bytes) -> tuple[str, str]:
        """The file's name below the folder and its SHA-256; written beside under another name first, then put
        in place. ``name`` may have one folder in front: ``print/2026-W49-week.pdf``.
        """
        path = self._path_of(name)
        try:
            path.parent.mkdir(exist_ok=True)
            write_whole(path, content)
        except OSError as wrong:
            mend = "Close it where it is open, or make room, and print again."
            raise _not_written(path, wrong, mend) from None
        return path.relative_to(self.folder).as_posix(), hashlib.sha256(content).hexdigest()

    def _path_of(self, name: str) -> Path:
        """Where a file of that name stands: never outside the folder, never hidden."""
        *front, last = name.split("/")
        parts = [safe_name(part) for part in front[:1]]
        stem, _, suffix = last.rpartition(".")
        return self.folder.joinpath(*parts, f"{safe_name(stem)}.{safe_name(suffix)}")

    def listed(self) -> dict[str, dict[str, str]]:
        """What the manifest lists, by file name; empty without one that can be read."""
        return listed_in(self.folder)

    def remove_stale(
        self,
        before: Mapping[str, Mapping[str, str]],
        now: Mapping[str, object],
        week: str,
        packed: Collection[str],
    ) -> None:
        """Remove papers of the same week that an earlier run wrote, nobody changed, and this run no longer
        needs.

        Papers of parcels that are ``packed`` stay: they are in the box.
        """
        for name, entry in before.items():
            path = self._path_of(name)
            if (
                name in now
                or entry.get("of") in packed
                or not name.rpartition("/")[2].startswith(f"{week}-")
                or path.relative_to(self.folder).as_posix() != name
                or not path.is_file()
            ):
                continue
            if hashlib.sha256(path.read_bytes()).hexdigest() == entry.get("sha256"):
                path.unlink()

    def write_manifest(self, week: str, today: str, files: Mapping[str, Mapping[str, str]]) -> Path:
        """The list of all files with their SHA-256, sorted by name."""
        entries = [dict(files[name]) for name in sorted(files) if (self.folder / name).is_file()]
        listed = {"week": week, "today": today, "files": entries}
        text = json.dumps(listed, indent=1, ensure_ascii=False, sort_keys=True)
        self.write(MANIFEST, (text + "\n").encode("utf-8"))
        return self.folder / MANIFEST


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
