"""A buyer taken out of all that the program wrote under a shelf: a name or parcel in, what was done out.

Papers go first, then copies, then the ledger: whatever is still known of the buyer stands in what comes last,
so that erasing that was cut short is finished by erasing again.
"""

from __future__ import annotations

import contextlib
import csv
import gzip
import io
import json
import os
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from shipping.ledger.errors import LEDGER_FILE, LedgerError
from shipping.ledger.journal.personal import Wanted, erase_in
from shipping.ledger.journal.store import APPLICATION_ID, Store
from shipping.ledger.ledger import Ledger
from shipping.papers.printed_files import MANIFEST, listed_in, name_digest, read_index, safe_name, write_index
from shipping.tables.editing.row_writer import COPIES_FOLDER as TABLE_COPIES
from shipping.tables.files.find_sheets import SEEN_FILE
from shipping.tables.files.whole_file import write_whole
from shipping.tables.spelling import buyer_key
from shipping.words.sentence import say
from shipping.words.units import many

#: What the breeder keeps and we never change.
_TABLES = frozenset({".csv", ".tsv", ".toml", ".xlsx", ".ods"})
_LETTERS = frozenset({".txt", ".html", ".eml"})
#: Files that hold papers of a whole week or day, by the week.
_PILE = r"{}-(\d{{4}}-\d\d-\d\d|(?!\d|order-))"
_PART = re.compile(r"\..+\.(\d+)[^/]*\.part")
_SQLITE = b"SQLite format 3\0"
#: No larger file of another kind is looked through for a name [bytes].
_LARGEST = 200_000_000


@dataclass(slots=True)
class ErasedData:
    """What was erased, and what could not be; every file by its place in the shelf.

    ``parts`` is how many parts of entries were blanked in the ledger, ``copies`` those cleaned, ``papers``
    the files removed; ``left`` are files that still hold the name and are not ours to change or could not be
    changed, ``tables`` the breeder's own that hold it, ``counted`` ledgers and copies that hold the same
    words as another buyer's, a lot's or a place's.
    """

    parts: int = 0
    copies: list[str] = field(default_factory=list)
    copies_left: list[str] = field(default_factory=list)
    papers: list[str] = field(default_factory=list)
    papers_left: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    tables: list[str] = field(default_factory=list)
    counted: list[str] = field(default_factory=list)

    @property
    def weeks(self) -> tuple[str, ...]:
        """The weeks of which a file was removed that holds other buyers' papers too."""
        piles = (re.match(_PILE.format(r"(\d{4}-W\d\d)"), Path(name).name) for name in self.papers)
        return tuple(sorted({pile[1] for pile in piles if pile}))

    @property
    def is_nothing(self) -> bool:
        copies, papers = (*self.copies, *self.copies_left), (*self.papers, *self.papers_left)
        return not (self.parts or copies or papers or self.left)


def erase_buyer(folder: Path, today: date, whom: str) -> ErasedData:
    """Erase a buyer's personal data from papers, copies and ledger; counts stay, and the chain still holds.

    ``whom`` is the addressee's whole name, whatever its case and the form of its letters, or a parcel's name,
    which stands for its buyer. Without a ledger, papers are erased all the same. Raises LedgerError if
    nothing is kept about that buyer, only a part of a name was given, or the ledger may not be written to.
    """
    if not whom.strip():
        raise LedgerError("no buyer was named.", "Give the addressee's name as on the order.")
    path, wanted = folder / LEDGER_FILE, Wanted.of(whom, ())
    if not path.is_file() or not path.stat().st_size:
        done = _erase_files(folder, wanted, frozenset(), path)
    else:
        with Ledger.open(folder, today) as ledger:
            kept = tuple((parcel.parcel, parcel.buyer) for parcel in ledger.parcels())
            wanted = Wanted.of(whom, kept)
            _check_whole(whom, wanted, ledger.buyers())
            done = _erase_files(folder, wanted, ledger.blanked_parts(), path)
            done.parts = ledger.blank(wanted)
    _sweep(folder, wanted, done)
    if done.is_nothing:
        text = say("nothing is held about '{whom}'.", whom)
        raise LedgerError(text, "Give the addressee's name as on the order.")
    return done


def _check_whole(whom: str, wanted: Wanted, buyers: Collection[str]) -> None:
    """Nothing, unless what was named is nobody's whole name and a part of somebody's."""
    if wanted.names.isdisjoint(buyers) and any(map(wanted.is_named_in, buyers)):
        text = say("'{whom}' is only a part of a buyer's name.", whom)
        raise LedgerError(text, "Give the addressee's whole name as on the order.")


def _erase_files(
    folder: Path, wanted: Wanted, blanked: Collection[tuple[int, str]], ledger: Path
) -> ErasedData:
    done = ErasedData()
    for path in _files(folder):
        if _is_abandoned(path):
            _remove(path, folder, done)
    _erase_papers(folder, wanted, done)
    _erase_table_copies(folder, wanted, done)
    for path in _files(folder):
        is_ours = path.parent.resolve() == ledger.parent.resolve() and path.name == ledger.name
        if is_ours or path.name.endswith((".sqlite-journal", ".sqlite-wal", ".sqlite-shm")):
            continue
        if _is_ledger(path):
            _erase_copy(path, folder, wanted, blanked, done)
    return done


def _files(folder: Path) -> Iterator[Path]:
    """Every file under a folder, links not followed, by name."""
    for place, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            path = Path(place, name)
            if path.is_file() and not path.is_symlink():
                yield path


def _name(path: Path, folder: Path) -> str:
    return path.relative_to(folder).as_posix()


def _is_abandoned(path: Path) -> bool:
    """Is it half a file of ours, left by a process that is no more?"""
    match = _PART.fullmatch(path.name)
    if match is None:
        return False
    try:
        os.kill(int(match[1]), 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return int(match[1]) == os.getpid()


def _is_ledger(path: Path) -> bool:
    """Is it a ledger or a copy of one, whatever its name?"""
    try:
        with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as file:
            head = file.read(72)
    except (OSError, EOFError):
        return path.name.endswith(".sqlite.gz")
    return head.startswith(_SQLITE) and int.from_bytes(head[68:72], "big") == APPLICATION_ID


def _erase_copy(
    path: Path, folder: Path, wanted: Wanted, blanked: Collection[tuple[int, str]], done: ErasedData
) -> None:
    name = path.name if path.parent == folder / "ledger-copies" else _name(path, folder)
    try:
        with Store.of_copy(path) as store:
            is_erased = erase_in(store, wanted, blanked)
            if is_erased and path.suffix == ".gz":
                with store.reading():
                    image = store.image()
                write_whole(path, gzip.compress(image, 6, mtime=0))
        if is_erased:
            done.copies.append(name)
    except (LedgerError, OSError):
        done.copies_left.append(name)


def _erase_papers(folder: Path, wanted: Wanted, done: ErasedData) -> None:
    """Remove papers of the buyer, by the index of what was printed and by each folder's own list of files."""
    index = read_index(folder)
    digests = {name_digest(name) for name in wanted.names}
    lists = {path.parent for path in _files(folder) if path.name == MANIFEST}
    places = {place: Path(place) if Path(place).is_absolute() else folder / place for place in index}
    for place in sorted(lists | set(places.values())):
        known = next((index[name] for name, path in places.items() if path == place), {})
        mine = {of for of, who in known.items() if digests & set(who)} | wanted.parcels
        if place.is_dir():
            _erase_folder(place, folder, wanted, mine, known.keys(), done)
    kept = {
        place: {of: [d for d in who if d not in digests] for of, who in stems.items()}
        for place, stems in index.items()
    }
    if kept != index and not done.papers_left:
        write_index(folder, kept)


def _erase_folder(
    place: Path, folder: Path, wanted: Wanted, mine: Collection[str], known: Collection[str], done: ErasedData
) -> None:
    listed = listed_in(place)
    weeks = {of for of in mine if re.fullmatch(r"\d{4}-W\d\d", of)}
    weeks |= {of.rpartition("-")[0] for of in mine if re.fullmatch(r"\d{4}-W\d\d-\d+", of)}
    gone: list[str] = []
    for path in tuple(_files(place)):
        name, base = _name(path, place), path.name
        of = listed.get(name, {}).get("of", "")
        is_ours = bool(of) or any(_is_of(base, stem) for stem in known)
        is_mine = of in mine or of in weeks or any(_is_of(base, stem) for stem in set(mine) - weeks)
        is_pile = any(re.match(_PILE.format(re.escape(week)), base) for week in weeks)
        says = path.suffix in _LETTERS and is_ours and _says(path, wanted)
        if base != MANIFEST and is_ours and (is_mine or is_pile or says):
            _remove(path, folder, done)
            gone.append(name)
    if gone:
        _unlist(place, frozenset(gone))


def _is_of(name: str, stem: str) -> bool:
    """Is a file one of the papers of a parcel or an order?"""
    return bool(re.match(rf"(\d{{4}}-W\d\d-order-)?{re.escape(safe_name(stem))}[-.]", name))


def _says(path: Path, wanted: Wanted) -> bool:
    with contextlib.suppress(OSError):
        return wanted.is_named_in(path.read_text(encoding="utf-8", errors="replace"))
    return False


def _unlist(place: Path, gone: frozenset[str]) -> None:
    """Take removed papers out of the folder's list of files."""
    path = place / MANIFEST
    with contextlib.suppress(OSError, ValueError, KeyError):
        known = json.loads(path.read_text(encoding="utf-8"))
        known["files"] = [entry for entry in known["files"] if entry["file"] not in gone]
        write_whole(path, (json.dumps(known, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode())


def _erase_table_copies(folder: Path, wanted: Wanted, done: ErasedData) -> None:
    """Remove our own copies of tables that name the buyer, and the buyer's rows of sheets as read."""
    for path in _files(folder / TABLE_COPIES) if (folder / TABLE_COPIES).is_dir() else ():
        if _holds(path, wanted):
            _remove(path, folder, done)
    seen = folder / SEEN_FILE
    with contextlib.suppress(OSError, UnicodeDecodeError):
        rows = list(csv.reader(io.StringIO(seen.read_bytes().decode("utf-8-sig"), newline="")))
        kept = [row for row in rows if not any(buyer_key(cell.lstrip("'")) in wanted.names for cell in row)]
        if kept != rows:
            text = io.StringIO(newline="")
            csv.writer(text).writerows(kept)
            write_whole(seen, text.getvalue().encode("utf-8-sig"))
            done.papers.append(f"{many(len(rows) - len(kept), 'row')} of {SEEN_FILE}")


def _remove(path: Path, folder: Path, done: ErasedData) -> None:
    name = _name(path, folder) if path.is_relative_to(folder) else str(path)
    try:
        path.unlink(missing_ok=True)
        done.papers.append(name)
    except OSError:
        done.papers_left.append(name)


def _sweep(folder: Path, wanted: Wanted, done: ErasedData) -> None:
    """Name every file under the shelf that still holds a name: the breeder's tables, and any other.

    A ledger that was cleaned holds the same words in what is nobody's or another's.
    """
    known = {*done.copies_left, *done.papers_left}
    for path in _files(folder):
        name = _name(path, folder)
        if name in known or path.name in known or not _holds(path, wanted):
            continue
        is_cleaned = name == f"{LEDGER_FILE}.state" or _is_ledger(path)
        there = done.tables if path.suffix.lower() in _TABLES else done.left
        (done.counted if is_cleaned else there).append(name)


def _holds(path: Path, wanted: Wanted) -> bool:
    """Does a file hold one of the names, in any of its forms, or in other case as text?"""
    forms = wanted.forms()
    try:
        if not forms or path.stat().st_size > _LARGEST:
            return False
        content = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    except (OSError, EOFError):
        return False
    return any(form in content for form in forms) or wanted.is_named_in(content.decode("utf-8", "ignore"))
