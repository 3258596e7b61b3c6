"""Rows in and out of one SQLite file, kept whole through a crash; what the rows mean is for others.

The only module that knows sqlite3. One file, a rollback journal (people copy this one file, so never WAL),
every commit forced to the disk, rows that can be added and never changed.
"""

from __future__ import annotations

import gzip
import os
import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from shipping.ledger.entries import chain_digest
from shipping.ledger.errors import LedgerError, NewerLedger, database_error, none_in
from shipping.ledger.journal.file_bytes import FileBytes
from shipping.tables.files.whole_file import force_names_to_disk, remove_leftovers
from shipping.words.sentence import say

#: How long to wait for another window that is writing [s].
PATIENCE_S = 10.0
#: No entry has a higher number.
_LAST = 2**62
_PRAGMAS = ("synchronous=FULL", "secure_delete=ON", "foreign_keys=ON", "fullfsync=ON", "trusted_schema=OFF")


@contextmanager
def _said_plainly(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        code = str(getattr(error, "sqlite_errorname", None) or "")
        raise database_error(code, str(error), path.name) from error
    except UnicodeDecodeError as error:
        raise database_error("", "its text is not text", path.name) from error


class Store:
    """One open file. Use `Store.at` to open it; close it when done."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        #: What the file holds; ask it inside `reading`. Of a compact copy these are the packed bytes.
        self.file = FileBytes(path)
        self._connection = connection

    @classmethod
    def at(cls, path: Path, *, create: bool = False, patience_s: float = PATIENCE_S) -> Store:
        """The file at ``path``, opened or made, of any version. Raises LedgerError if it is no ledger."""
        if path.is_dir():
            raise LedgerError("it is a folder, not a ledger.", "Move it away.", path.name)
        if not create and not path.is_file():
            raise none_in(path.parent)
        with _said_plainly(path):
            mode = "rwc" if create else "rw"
            connection = sqlite3.connect(
                f"file:{quote(str(path.resolve()))}?mode={mode}",
                uri=True,
                timeout=patience_s,
                isolation_level=None,
                check_same_thread=False,
            )
            store = cls(path, connection)
            try:
                store._set_up()
            except BaseException:
                store.close()
                raise
        return store

    @classmethod
    @contextmanager
    def of_copy(cls, path: Path) -> Iterator[Store]:
        """A copy opened to look and erase, a compact one in memory. Raises LedgerError if unreadable."""
        if path.suffix != ".gz":
            store = cls.at(path)
        else:
            with _said_plainly(path):
                try:
                    image = gzip.decompress(path.read_bytes())
                except (OSError, EOFError, zlib.error) as error:
                    raise LedgerError("it cannot be read.", "Remove this copy.", path.name) from error
                connection = sqlite3.connect(":memory:", isolation_level=None)
                store = cls(path, connection)
                try:
                    connection.deserialize(image)
                    store._set_up()
                except BaseException:
                    store.close()
                    raise
        try:
            yield store
        finally:
            store.close()

    def _set_up(self) -> None:
        for pragma in _PRAGMAS:
            self._connection.execute(f"PRAGMA {pragma}")
        mark = self._number("application_id")
        tables = self._connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if mark != APPLICATION_ID and (mark or tables):
            text = "this is a database of another program, not a ledger."
            raise LedgerError(text, "Move it away, and put the ledger back.", self.path.name)

    def _number(self, pragma: str) -> int:
        return int(self._connection.execute(f"PRAGMA {pragma}").fetchone()[0])

    def close(self) -> None:
        self._connection.close()
        self.file.close()

    # -- versions

    def version(self) -> int:
        """Migrations the file has had (0: empty). Raises LedgerError if a newer program made it."""
        with _said_plainly(self.path):
            version = self._number("user_version")
        if version > len(MIGRATIONS):
            text = say(
                "a newer version of the program wrote it (file version {version}, known up to {known}).",
                *(version, len(MIGRATIONS)),
            )
            raise NewerLedger(text, "Update the program; the file was not touched.", self.path.name)
        return version

    def migrate(self) -> None:
        """Bring the file to the newest version in one transaction; a copy first where it holds anything."""
        with self.writing():
            for statements in MIGRATIONS[self.version() :]:
                for statement in statements:
                    self._connection.execute(statement)
            self._connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
            self._connection.execute(f"PRAGMA user_version={len(MIGRATIONS)}")

    # -- transactions

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Everything inside is recorded together or not at all; nobody else writes meanwhile."""
        with _said_plainly(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                self._check_still_there()
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Everything inside sees one state of the file, and nobody changes it meanwhile."""
        with _said_plainly(self.path):
            self._connection.execute("BEGIN")
            try:
                self._connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
                yield
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")

    def _check_still_there(self) -> None:
        """A file that was moved or replaced while open must not swallow an entry."""
        try:
            stat = os.stat(self.path)
        except OSError:
            stat = None
        if stat is None or (stat.st_dev, stat.st_ino) != self.file.identity:
            text = "the file was moved or replaced while it was open; nothing was recorded."
            mend = "Put it back where it was, start again, and record this once more."
            raise LedgerError(text, mend, self.path.name)

    def remove_if_empty(self) -> None:
        """Remove the file again if nothing was ever recorded in it; nobody else writes meanwhile."""
        with self.writing():
            if self.head() == (0, ""):
                self.path.unlink()

    # -- rows

    def _ask(self, question: str, *values: object) -> list[tuple[Any, ...]]:
        with _said_plainly(self.path):
            return self._connection.execute(question, values).fetchall()

    def head(self) -> tuple[int, str]:
        """The number and digest of the last entry; (0, "") where there is none."""
        last = self._ask("SELECT seq, digest FROM entry ORDER BY seq DESC LIMIT 1")
        return (_whole(last[0][0]), _text(last[0][1])) if last else (0, "")

    def rows(self, after: int = 0, until: int = _LAST) -> tuple[EntryRow, ...]:
        """The entries after number ``after`` and up to ``until``, oldest first."""
        columns = "seq, day, kind, parcel, facts, personal, before, digest"
        between = f"SELECT {columns} FROM entry WHERE seq > ? AND seq <= ? ORDER BY seq"
        return tuple(map(row_of, self._ask(between, after, until)))

    def raw_rows(self) -> list[tuple[object, ...]]:
        """Every entry as the database gives it, oldest first: to be compared, or read by `row_of`."""
        return self._ask("SELECT * FROM entry ORDER BY seq")

    def digest_of(self, seq: int) -> str:
        """The digest of the entry of that number, or "" where there is none."""
        return "".join(
            _text(digest) for (digest,) in self._ask("SELECT digest FROM entry WHERE seq = ?", seq)
        )

    def persons(self, after: int = 0, until: int = _LAST) -> tuple[Person, ...]:
        """What is said of persons in entries after ``after`` and up to ``until``, by entry and part."""
        between = "FROM person WHERE seq > ? AND seq <= ? ORDER BY seq, part"
        rows = self._ask(f"SELECT seq, part, buyer, salt, facts {between}", after, until)
        return tuple(Person(_whole(row[0]), *map(_text, row[1:])) for row in rows)

    def personal_facts(self, seq: int, part: str) -> str:
        """What a part of an entry says about a person [JSON]; "" where nothing, or it was erased."""
        of_part = self._ask("SELECT facts FROM person WHERE seq = ? AND part = ?", seq, part)
        return "".join(_text(facts) for (facts,) in of_part)

    def personal_facts_of_all(self) -> dict[tuple[int, str], str]:
        """What every part of every entry says about a person [JSON]; "" where it was erased."""
        rows = self._ask("SELECT seq, part, facts FROM person")
        return {(_whole(seq), _text(part)): _text(facts) for seq, part, facts in rows}

    def add(self, row: EntryRow, persons: tuple[Person, ...]) -> None:
        """Add one entry and what it says about persons; call it inside `writing`."""
        self._connection.execute("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?, ?)", astuple(row))
        self._connection.executemany("INSERT INTO person VALUES (?, ?, ?, ?, ?)", map(astuple, persons))

    def blank(self, persons: tuple[tuple[int, str], ...]) -> None:
        """Erase what is said about persons in these (entry, part); call it inside `writing`."""
        blanks = "UPDATE person SET buyer = '', salt = '', facts = '' WHERE seq = ? AND part = ?"
        self._connection.executemany(blanks, persons)

    def sweep(self) -> None:
        """Write the file anew, so that no trace of erased text is left in it."""
        self._ask("VACUUM")

    # -- the file as a whole

    def image(self) -> bytes:
        """Every byte of the database, where it is only in memory, too; call it inside `reading`."""
        with _said_plainly(self.path):
            return self._connection.serialize()

    def expected_size(self) -> int:
        """How long the file should be by its own pages [bytes]."""
        with _said_plainly(self.path):
            return self._number("page_count") * self._number("page_size")

    def page_problems(self) -> tuple[str, ...]:
        """What the database itself finds wrong with its pages and references; empty where nothing is."""
        lines = [str(row[0]) for row in self._ask("PRAGMA integrity_check(20)")]
        lacking = self._ask("PRAGMA foreign_key_check")
        lines += [say("entry missing for person row {row}", row[1]) for row in lacking]
        return tuple(line for line in lines if line != "ok")

    def schema(self) -> tuple[str, ...]:
        """The statements that made the tables, sorted."""
        with _said_plainly(self.path):
            return _statements(self._connection)

    def copy_to(self, path: Path) -> None:
        """A whole copy at ``path``, there only when complete. Raises LedgerError if something is there."""
        if path.exists():
            text = say("{path} exists already.", path)
            raise LedgerError(text, "Name a file that does not exist yet.", self.path.name)
        part = path.with_name(f".{path.name}.{os.getpid()}-{id(self)}.part")
        try:
            part.touch()  # where it may not be written the system says why
            with _said_plainly(path), closing(sqlite3.connect(part, isolation_level=None)) as other:
                other.execute("PRAGMA synchronous=FULL")
                self._connection.backup(other)
            os.replace(part, path)
            remove_leftovers(path)
            force_names_to_disk(path.parent)
        except OSError as error:
            text = say("{path} could not be written ({strerror}).", path, error.strerror)
            raise LedgerError(text, "Choose another folder.", self.path.name) from error
        finally:
            with suppress(OSError):
                part.unlink()


def row_of(raw: Sequence[object]) -> EntryRow:
    """An entry of what the database gives."""
    return EntryRow(_whole(raw[0]), *map(_text, raw[1:]))


def _text(cell: object) -> str:
    """A cell of text; in a damaged file it may hold anything, which then differs from what was recorded."""
    return cell if isinstance(cell, str) else repr(cell)


def _whole(cell: object) -> int:
    return cell if isinstance(cell, int) else -1


def expected_schema() -> tuple[str, ...]:
    """The statements that make a file of the newest version, as the database keeps them, sorted."""
    with closing(sqlite3.connect(":memory:")) as blank:
        for statements in MIGRATIONS:
            for statement in statements:
                blank.execute(statement)
        return _statements(blank)


def _statements(connection: sqlite3.Connection) -> tuple[str, ...]:
    rows = connection.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")
    return tuple(sorted(str(row[0]) for row in rows))


#: Marks the file as ours ("Eggs" in ASCII).
APPLICATION_ID = 0x45676773
#: One tuple of statements a version; a file of version n has had the first n run on it.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """CREATE TABLE entry (
            seq INTEGER PRIMARY KEY,
            day TEXT NOT NULL,
            kind TEXT NOT NULL,
            parcel TEXT NOT NULL,
            facts TEXT NOT NULL,
            personal TEXT NOT NULL,
            before TEXT NOT NULL,
            digest TEXT NOT NULL
        ) STRICT""",
        """CREATE TABLE person (
            seq INTEGER NOT NULL REFERENCES entry (seq),
            part TEXT NOT NULL,
            buyer TEXT NOT NULL,
            salt TEXT NOT NULL,
            facts TEXT NOT NULL,
            PRIMARY KEY (seq, part)
        ) STRICT, WITHOUT ROWID""",
        """CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
            BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END""",
        """CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry
            BEGIN SELECT RAISE(ABORT, 'an entry is never removed'); END""",
        """CREATE TRIGGER entry_follows_the_last BEFORE INSERT ON entry
            WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM entry)
            BEGIN SELECT RAISE(ABORT, 'an entry follows the last one'); END""",
        """CREATE TRIGGER person_is_only_erased BEFORE UPDATE ON person
            WHEN NEW.seq <> OLD.seq OR NEW.part <> OLD.part OR NEW.buyer || NEW.salt || NEW.facts <> ''
            BEGIN SELECT RAISE(ABORT, 'personal data is only erased'); END""",
        """CREATE TRIGGER person_is_never_removed BEFORE DELETE ON person
            BEGIN SELECT RAISE(ABORT, 'the place of personal data is never removed'); END""",
    ),
)


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One entry as stored: ``facts`` and ``personal`` are JSON text, ``before`` is the last row's digest."""

    seq: int
    day: str
    kind: str
    parcel: str
    facts: str
    personal: str
    before: str
    digest: str


def first_unchained(rows: Iterable[EntryRow]) -> int:
    """The number of the first row that is not as it was recorded, or does not follow; 0 where all do."""
    before = ""
    for number, row in enumerate(rows, start=1):
        digest = chain_digest(before, number, row.day, row.kind, row.parcel, row.facts, row.personal)
        if (row.seq, row.before, row.digest) != (number, before, digest):
            return number
        before = row.digest
    return 0


@dataclass(frozen=True, slots=True)
class Person:
    """What an entry says about a person; all blank once erased."""

    seq: int
    part: str
    buyer: str
    salt: str
    facts: str

    @property
    def is_erased(self) -> bool:
        return not (self.buyer or self.salt or self.facts)


def persons_by_entry(persons: Iterable[Person]) -> dict[int, dict[str, Person]]:
    """What is said of persons, by entry and part."""
    by_entry: dict[int, dict[str, Person]] = {}
    for person in persons:
        by_entry.setdefault(person.seq, {})[person.part] = person
    return by_entry
