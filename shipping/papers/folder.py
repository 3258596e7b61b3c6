"""Files in one folder: names and bytes in, paths out; nothing outside the folder is touched, nothing is half
written.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Collection, Mapping
from pathlib import Path

from shipping.words.problems import Problem, ShelfProblems, Where

MANIFEST = "manifest.json"


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
    """The names of files that are changed, new or removed, by what manifests listed; the first papers of all
    are not new.
    """
    return {
        "changed": sorted(
            name for name in before if name in after and before[name]["sha256"] != after[name]["sha256"]
        ),
        "new": sorted(name for name in after if before and name not in before),
        "removed": sorted(name for name in before if name not in after),
    }


class OutFolder:
    """A folder that papers are written into; it keeps the SHA-256 of what it wrote."""

    def __init__(self, folder: Path) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as wrong:
            raise _not_written(folder, wrong, "Choose another folder.") from None
        self.folder = folder.resolve()

    def write(self, name: str, content: bytes) -> tuple[Path, str]:
        """The path of the file and its SHA-256; written beside under another name first, then put in
        place.
        """
        from shipping.papers.documents.bundle import safe_name

        stem, _, suffix = name.rpartition(".")
        path = self.folder / f"{safe_name(stem)}.{safe_name(suffix)}"
        beside = self.folder / f".{path.name}.{os.getpid()}.part"
        try:
            beside.write_bytes(content)
            os.replace(beside, path)
        except OSError as wrong:
            raise _not_written(
                path, wrong, "Close it where it is open, or make room, and print again."
            ) from None
        finally:
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)
        return path, hashlib.sha256(content).hexdigest()

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
        from shipping.papers.documents.bundle import safe_name

        for name, entry in before.items():
            path = self.folder / safe_name(name)
            if (
                name in now
                or entry.get("of") in packed
                or not name.startswith(f"{week}-")
                or path.name != name
                or not path.is_file()
            ):
                continue
            if hashlib.sha256(path.read_bytes()).hexdigest() == entry.get("sha256"):
                path.unlink()

    def write_manifest(self, week: str, today: str, files: Mapping[str, Mapping[str, str]]) -> Path:
        """The list of all files with their SHA-256, sorted by name."""
        entries = [dict(files[name]) for name in sorted(files) if (self.folder / name).is_file()]
        text = json.dumps(
            {"week": week, "today": today, "files": entries}, indent=1, ensure_ascii=False, sort_keys=True
        )
        return self.write(MANIFEST, (text + "\n").encode("utf-8"))[0]
