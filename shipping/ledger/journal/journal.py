"""The ledger as a list of entries that only grows: bodies in, numbered and chained entries out.

How far it is known to have been stands in the checksum beside it, in the newest copy, and in the user's own
state folder outside the shelf, so that a whole old folder put back, or the ledger of another shelf, is
noticed, too.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from pydantic_core import from_json

from shipping.ledger.entries import (
    Body,
    Entry,
    Erased,
    LedgerAccepted,
    PlanKept,
    Undone,
    canonical,
    chain_digest,
    from_facts,
    kind_of,
    parcel_of,
    person_digest,
    to_facts,
)
from shipping.ledger.errors import LEDGER_FILE, LedgerError
from shipping.ledger.journal import copies
from shipping.ledger.journal.copies import copies_in
from shipping.ledger.journal.file_bytes import checksum_of, is_broken, read_checksum, write_checksum
from shipping.ledger.journal.personal import Part, Wanted, parts_about, without_names
from shipping.ledger.journal.state_cache import KnownState, Numbers, read_state, write_state
from shipping.ledger.journal.store import EntryRow, Person, Store, persons_by_entry
from shipping.ledger.kept_parcel import numbers_in
from shipping.ledger.parcel_states import LedgerState
from shipping.tables.files.whole_file import write_whole
from shipping.tables.spelling import buyer_key
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: Names another state folder than the system's; tests set it.
STATE_VARIABLE = "SPAWNPOST_STATE"


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry somebody knows: its number, its digest, and who knows it."""

    entries: int
    digest: str
    known_by: str


def state_folder() -> Path:
    """Where this user's programs keep their state; nothing is made yet."""
    if named := os.environ.get(STATE_VARIABLE):
        return Path(named)
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "spawnpost"
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "spawnpost"
    return Path(os.environ.get("XDG_STATE_HOME") or home / ".local" / "state") / "spawnpost"


def _state_file(folder: Path, first: str) -> Path:
    """One file a place and ledger; without a first entry that of the ledger last used at the place."""
    key = hashlib.sha256(f"{_resolved(folder)}\n{first}".encode()).hexdigest()[:32]
    return state_folder() / "ledgers" / f"{key}.json"


@lru_cache(maxsize=16)
def _resolved(folder: Path) -> Path:
    return folder.resolve()


def keep_head(folder: Path, first: str, entries: int, digest: str) -> bool:
    """Write down outside the shelf how far the ledger is; ``first`` is its first entry's digest.

    False where the state folder cannot be written to: the ledger is none the worse, it is only less guarded.
    """
    known = json.dumps({"entries": entries, "head": digest, "first": first}).encode()
    try:
        path = _state_file(folder, first)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, known)
        write_whole(_state_file(folder, ""), known)
    except (OSError, RuntimeError):
        return False
    return True


def known_heads(folder: Path, first: str) -> Iterator[Head]:
    """Every head that is known beside the ledger itself."""
    checksum = read_checksum(folder / LEDGER_FILE)
    if checksum is not None:
        yield Head(checksum.entries, checksum.head, say("its checksum"))
    for begun in (first, "") if first else ():  # a ledger that is begun may follow on one that was removed
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, RuntimeError):
            known = json.loads(_state_file(folder, begun).read_text(encoding="utf-8"))
            yield Head(int(known["entries"]), str(known["head"]), say("your own state folder"))
    for path in copies_in(folder)[-1:]:
        with contextlib.suppress(LedgerError), Store.of_copy(path) as store:
            entries, digest = store.head()
            yield Head(entries, digest, say("the copy {name}", path.name))


def unlike(entries: int, digest_of: Callable[[int], str], heads: Iterator[Head]) -> Head | None:
    """The furthest head that is not one of the ledger's own entries; None where all are."""
    wrong = [
        head
        for head in heads
        if head.entries and (head.entries > entries or digest_of(head.entries) != head.digest)
    ]
    return max(wrong, key=lambda head: head.entries, default=None)


def check_heads(entries: int, digest_of: Callable[[int], str], heads: Iterator[Head]) -> None:
    """Raises LedgerError if anybody knows more entries than these digests tell, or others."""
    head = unlike(entries, digest_of, heads)
    if head is None:
        return
    if head.entries > entries:
        told = (entries, head.known_by, head.entries)
        what = say(
            "its last entry is {entries}, {known_by} knows {known}: it is older, or another ledger", *told
        )
    else:
        of = (head.entries, head.known_by)
        what = say("its entry {entries} is not the one that {known_by} knows: it is another ledger", *of)
    raise LedgerError(
        say("{what}. Nothing was recorded or planned.", what),
        "Go on from the newest copy: spawnpost copy --back; or say that this one is: spawnpost copy --right.",
    )


#: Says what to record, from what stands at that moment; it may refuse by raising LedgerError.
Compose = Callable[[], Body]
#: Says whether the tables allow it, from what stands and what is to be recorded; it refuses by raising
#: LedgerError.
Guard = Callable[[LedgerState, Any], None]
#: After so many questions about persons, what all entries say of them is read at once.
ASKED_ONE_BY_ONE = 50
_DAMAGED = "Run `spawnpost check --ledger`; go on from the newest copy that is whole: spawnpost copy --back."


def entry_from(row: EntryRow, persons: Mapping[str, Person]) -> Entry:
    """The entry of a stored row, erased parts blank. Raises LedgerError if the row cannot be read."""
    try:
        facts = from_json(row.facts)
        mine = persons.get("")
        personal = json.loads(mine.facts) if mine and not mine.is_erased else {}
        body = from_facts(row.kind, facts, personal)
        names = {
            part: json.loads(person.facts).get("addressee", "")
            for part, person in persons.items()
            if part and not person.is_erased
        }
        return Entry(row.seq, date.fromisoformat(row.day), body, names)
    except (ValueError, TypeError, AttributeError) as error:
        if isinstance(error, LedgerError):
            raise
        raise LedgerError(say("entry {seq} cannot be read.", row.seq), _DAMAGED) from error


class Journal:
    """An open ledger file and all its entries. ``today`` is the day new entries are recorded on."""

    def __init__(self, store: Store, folder: Path, today: date, created: bool = False) -> None:
        self.store = store
        self.folder = folder
        self.today = today
        self._forget()
        self.damage = ""
        #: What did not stop anything but should be said, such as a daily copy that could not be made.
        self.notices: list[str] = []
        self.created = created
        self._written = False
        self._checked = False
        self._checked_heads = False
        self._look_beside()

    def _forget(self) -> None:
        self.count, self.head = 0, ""
        self.last_day: date | None = None
        self.state = LedgerState()
        #: Every number a parcel ever had, and the lines it had then.
        self.known_numbers: Numbers = {}
        self._unread = 0
        self._entries: list[Entry] = []
        self._forget_persons()

    def _forget_persons(self) -> None:
        self._asked = 0
        self._persons: Mapping[Part, str] | None = None

    def _look_beside(self) -> None:
        """Begin with what stands beside the ledger, where it was made from these very bytes."""
        with self.store.reading():
            known = read_state(self.store.path, self.store.file.sha256, self)
        if known is not None:
            self.count = self._unread = known.entries
            self.head, self.last_day, self.state = known.head, known.last_day, known.state
            self.known_numbers = known.numbers
            self._checked = True  # they are the bytes that were left when it was last closed

    def refresh(self) -> None:
        """Read what was recorded since the last look, here or by another window."""
        rows = self.store.rows(after=self.count)
        if not rows:
            return
        if self.count and any(row.kind in ("undone", "erased") for row in rows):
            self._forget()
            rows = self.store.rows()
        for row in rows:
            self._follow(row)
        self._take(self._read(rows))

    def _read(self, rows: Sequence[EntryRow]) -> list[Entry]:
        """The entries of rows that follow one another."""
        persons = persons_by_entry(self.store.persons(after=rows[0].seq - 1) if rows else ())
        return [entry_from(row, persons.get(row.seq, {})) for row in rows]

    @property
    def every_entry(self) -> list[Entry]:
        """Every entry, oldest first; those that were not needed for what stands are read now."""
        if self._unread:
            self._entries[:0] = self._read(self.store.rows(until=self._unread))
            self._unread = 0
        return self._entries

    def entry(self, seq: int) -> Entry:
        """The entry of that number, which is there."""
        if 0 < (place := seq - self._unread) <= len(self._entries):
            return self._entries[place - 1]
        (row,) = self.store.rows(after=seq - 1, until=seq)
        persons = {person.part: person for person in self.store.persons(after=seq - 1, until=seq)}
        return entry_from(row, persons)

    def personal(self, seq: int, part: str) -> Mapping[str, Any]:
        """What a part of an entry says of a person; nothing where it says none, or was erased."""
        self._asked += 1
        if self._asked > ASKED_ONE_BY_ONE:
            facts = self.personal_of_all().get((seq, part), "")
        else:
            facts = self.store.personal_facts(seq, part)
        told: Mapping[str, Any] = from_json(facts) if facts else {}
        return told

    def personal_of_all(self) -> Mapping[Part, str]:
        """What parts of entries say of persons [JSON]; "" where it was erased."""
        if self._persons is None:
            self._persons = self.store.personal_facts_of_all()
        return self._persons

    def digest_of(self, seq: int) -> str:
        """The digest of an entry, which is there."""
        return self.store.digest_of(seq)

    def _follow(self, row: EntryRow) -> None:
        expected = chain_digest(self.head, row.seq, row.day, row.kind, row.parcel, row.facts, row.personal)
        if (row.before, row.digest) != (self.head, expected):
            self.damage = self.damage or say("entry {seq} does not follow from the one before it.", row.seq)
        self.head = row.digest

    def check_newest(self) -> None:
        """Raises LedgerError if checksum, copies or state folder know other entries than these."""
        with self.store.reading():
            self.refresh()
            check_heads(self.count, self.digest_of, self._heads())

    def newest_problem(self) -> Problem | None:
        """What `check_newest` would refuse, for those who only look."""
        try:
            self.check_newest()
        except LedgerError as trouble:
            return trouble.problem
        return None

    def _heads(self) -> Iterator[Head]:
        return known_heads(self.folder, self._first())

    def _first(self) -> str:
        return self.digest_of(1) if self.count else ""

    def _unlike(self, heads: Iterator[Head]) -> Head | None:
        return unlike(self.count, self.digest_of, heads)

    def accept(self) -> Entry | None:
        """Record that this ledger is right, whatever else is known; copies of other entries are set aside,
        and what only they have is among the notices.
        """
        head = self._unlike(self._heads())
        self._checked_heads = True
        entry = None
        only_there: dict[str, EntryRow] = {}
        while head is not None:
            for path in copies.copies_in(self.folder):
                if self._is_other(path):
                    for row in copies.entries_without(path, self.store.path):
                        only_there[row.digest] = row
                    copies.set_aside(path, self.folder)
            entry = self.record(partial(LedgerAccepted, entries=head.entries))
            self._keep_checksum()
            head = self._unlike(self._heads())
        if only_there:
            self.notices.append(copies.to_record_again(tuple(only_there.values())))
        return entry

    def _is_other(self, copy: Path) -> bool:
        """Does a copy end in an entry that is not one of these?"""
        with contextlib.suppress(LedgerError), Store.of_copy(copy) as store:
            return self._unlike(iter([Head(*store.head(), copy.name)])) is not None
        return False

    def _take(self, fresh: list[Entry]) -> None:
        try:
            if not self.count or any(isinstance(entry.body, Undone) for entry in fresh):
                self.state = LedgerState.after([*self.every_entry, *fresh])
            else:
                for entry in fresh:
                    self.state.take(entry)
        except KeyError as error:
            text = say("its entries contradict each other at {error}.", error)
            raise LedgerError(text, _DAMAGED) from error
        self._entries.extend(fresh)
        self._forget_persons()
        self.count += len(fresh)
        for entry in fresh:
            self.last_day = max(entry.day, self.last_day or entry.day)
            if isinstance(entry.body, PlanKept):
                self.known_numbers.update(numbers_in(entry.body.plan))

    # -- recording

    def record(self, compose: Compose, guard: Guard | None = None) -> Entry:
        """The entry recorded, in one transaction. Raises LedgerError if it cannot be; then nothing was."""
        with self.store.writing():
            self.refresh()
            self._check_undamaged()
            self._mind_the_clock()
            body = compose()
            entry, row, persons = self._written_out(body)
            self.state.check(entry)
            if guard is not None:
                guard(self.state, body)
            self.store.add(row, persons)
        self._written = True
        self.head = row.digest
        self._take([entry])
        keep_head(self.folder, self._first(), self.count, self.head)
        return entry

    def _written_out(self, body: Body) -> tuple[Entry, EntryRow, tuple[Person, ...]]:
        seq = self.count + 1
        names: dict[str, str] = {}
        if isinstance(body, PlanKept):
            plan, names = without_names(body.plan)
            body = replace(body, plan=plan)
        facts, personal = to_facts(body)
        persons = [self._person(seq, part, name, {"addressee": name}) for part, name in sorted(names.items())]
        if personal:
            persons.append(self._person(seq, "", self._owner(body), personal))
        try:
            texts = canonical(facts), canonical({person.part: self._digest(person) for person in persons})
        except ValueError as error:
            mend = "Plan again; this is a mistake of ours."
            raise LedgerError("a number in it is not finite.", mend) from error
        day, kind, parcel = self.today.isoformat(), kind_of(body), parcel_of(body)
        digest = chain_digest(self.head, seq, day, kind, parcel, *texts)
        row = EntryRow(seq, day, kind, parcel, *texts, self.head, digest)
        return Entry(seq, self.today, body, names), row, tuple(persons)

    def _owner(self, body: Body) -> str:
        """Whose an entry's personal part is: the parcel's buyer, else the parcel or the seller."""
        parcel = self.state.parcels.get(parcel_of(body))
        if parcel and parcel.buyer:
            return parcel.buyer
        return parcel_of(body) or str(getattr(body, "from_whom", "") or getattr(body, "addressee", ""))

    @staticmethod
    def _person(seq: int, part: str, owner: str, facts: dict[str, Any]) -> Person:
        """A salt is random on purpose: a guessed name must not be found again from the digest that stays."""
        return Person(seq, part, buyer_key(owner), secrets.token_hex(16), canonical(facts))

    @staticmethod
    def _digest(person: Person) -> str:
        return person_digest(person.salt, person.buyer, person.facts)

    def _check_undamaged(self) -> None:
        if not self._checked:
            if is_broken(read_checksum(self.store.path), self.store.file, self.head):
                changed = "its bytes were changed by something else since it was last closed."
                self.damage = self.damage or changed
            self._checked = True
        if self.damage:
            text = say("{damage} Nothing was recorded.", self.damage)
            raise LedgerError(text, _DAMAGED, self.store.path.name)
        if not self._checked_heads:
            check_heads(self.count, self.digest_of, self._heads())
            self._checked_heads = True

    def _mind_the_clock(self) -> None:
        """A day before that of the last entry is said: this machine's clock may be wrong."""
        last = self.last_day
        if last is not None and self.today < last:
            told = (self.today, last)
            self._notice(
                say("Today is {today}, but the ledger has an entry of {last}: is this clock right?", *told)
            )

    def _notice(self, text: str) -> None:
        """Said once, however often it was met."""
        self.notices = [*(notice for notice in self.notices if notice != text), text]

    # -- erasing

    def blank(self, wanted: Wanted) -> int:
        """How many parts about a buyer were blanked. Raises LedgerError if they cannot be."""
        with self.store.writing():
            self.refresh()
            self._check_undamaged()
            parts = tuple(sorted(parts_about(wanted, self.store.persons(), self.store.rows())))
            if parts:
                _, row, _ = self._written_out(Erased(parts=parts))
                self.store.blank(parts)
                self.store.add(row, ())
        if not parts:
            return 0
        self._written = True
        self._forget()
        self.refresh()
        keep_head(self.folder, self._first(), self.count, self.head)
        try:
            self.store.sweep()
        except LedgerError as trouble:
            text = say("Erased, but traces may be left in the file; erase again. {mend}", trouble.mend)
            self.notices.append(text)
        return len(parts)

    def buyers(self) -> frozenset[str]:
        """Every buyer of whom something is kept, as buyers are looked up by."""
        return frozenset(person.buyer for person in self.store.persons() if person.buyer)

    def blanked_parts(self) -> frozenset[Part]:
        """All (entry, part) whose personal data was erased."""
        return frozenset((person.seq, person.part) for person in self.store.persons() if person.is_erased)

    def close(self) -> None:
        """Close the file; after writing, keep its checksum and the copy of the day."""
        try:
            self.save()
            if self.created and not self.count:
                self.store.remove_if_empty()
        except LedgerError:
            pass  # The older checksum speaks of an older state, and is left out of account.
        finally:
            self.store.close()

    def notes(self) -> tuple[str, ...]:
        """What should be said beside all that was recorded, its copy made."""
        self.save()
        return tuple(self.notices)

    def taken_notices(self) -> tuple[str, ...]:
        """The notices so far, which are told then."""
        told, self.notices = tuple(self.notices), []
        return told

    def copy_first_of_day(self) -> None:
        """As `save`, where this day has no copy yet; what it cannot write is written with the next entry."""
        if self._written and not copies.has_copy_of(self.folder, self.today):
            with contextlib.suppress(LedgerError):
                self.save()

    def save(self) -> None:
        """After writing, keep the file's checksum and the copy of the day; a copy that fails is noticed."""
        if self._written and not self.damage:
            self._keep_checksum()
            self._written = False

    def _keep_checksum(self) -> None:
        with self.store.reading():
            self.refresh()
            checksum = checksum_of(self.store.file, self.count, self.head)
            write_checksum(self.store.path, checksum)
            standing = KnownState(self.count, self.head, self.last_day, self.state, self.known_numbers)
            write_state(self.store.path, checksum.sha256, standing)
            try:
                copies.copy_of_day(self.store, self.folder, self.today)
            except LedgerError as trouble:
                told = (trouble.text, trouble.mend)
                self._notice(say("Today's copy could not be made: {text} {mend}", *told))
