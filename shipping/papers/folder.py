"""Files in one folder: names and bytes in, paths out; nothing outside is touched or half written."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Collection, Mapping
from pathlib import Path

from shipping.tables.files.whole_file import write_whole
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
