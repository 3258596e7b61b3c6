"""The ledger's tables, version by version, and a row of each; running them is store's."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shipping.ledger.entries import chain_digest

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
class Row:
    """One entry as stored: ``facts`` and ``personal`` are JSON text, ``before`` is the last row's digest."""

    seq: int
    day: str
    kind: str
    parcel: str
    facts: str
    personal: str
    before: str
    digest: str


def first_unchained(rows: Iterable[Row]) -> int:
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
