"""Is the ledger whole? A folder in, everything found wrong out, as problems with what would mend them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from shipping.ledger.entries import Entry, Erased, PlanKept, Undone, person_digest
from shipping.ledger.errors import COPIES_FOLDER, LEDGER_FILE, LedgerError
from shipping.ledger.journal.copies import copies_folder, copies_in
from shipping.ledger.journal.file_bytes import has_whole_header, is_broken, read_checksum
from shipping.ledger.journal.journal import check_heads, entry_from, known_heads
from shipping.ledger.journal.state_cache import Numbers, state_path, state_text, text_beside
from shipping.ledger.journal.store import (
    EntryRow,
    Person,
    Store,
    expected_schema,
    first_unchained,
    persons_by_entry,
    row_of,
)
from shipping.ledger.kept_parcel import numbers_in
from shipping.ledger.lot_counts import LotCounts, PackedEggs, packed_beyond, packings_by_name
from shipping.ledger.parcel_states import LedgerState
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

_MEND = "Go on from the newest copy that is whole: spawnpost copy --back; this file is set aside."


@dataclass(frozen=True, slots=True)
class Audited:
    """What is wrong with a ledger and its copies, and what was packed of each lot by its entries."""

    problems: tuple[Problem, ...]
    packed: Mapping[str, tuple[PackedEggs, ...]]

    def against(self, counted: Mapping[str, LotCounts]) -> tuple[Problem, ...]:
        """All that is wrong, and each lot from which more was packed than it held; ``counted`` by lot."""
        return (*self.problems, *packed_beyond(packings_by_name(self.packed, counted), counted))


def audited(folder: Path) -> Audited:
    """Everything found wrong with the ledger and its copies, the lots' counts left to `Audited.against`.

    Notes
    -----
    Looked at: pages and references (the database's own check), the tables' statements, the file's size and
    header, the SHA-256 chain over all entries, the salted digests of personal data, that every entry could
    follow the ones before it, the checksum over all bytes, that what stands beside it is what the entries
    say, and that every copy is a beginning of the ledger.
    """
    path = folder / LEDGER_FILE
    try:
        store = Store.at(path)
    except LedgerError as trouble:
        return Audited((_problem(path.name, 0, trouble.text, trouble.mend),), {})
    problems: list[Problem] = []
    state = LedgerState()
    try:
        if store.version() == 0:
            return Audited((_problem(path.name, 0, "the file is empty.", _MEND),), {})
        with store.reading():
            raw = store.raw_rows()
            rows = tuple(map(row_of, raw))
            persons = store.persons()
            problems += _pages(store, rows)
        problems += _chain(path.name, rows)
        problems += _persons(path.name, rows, persons)
        if not problems:
            problems += _story(store, rows, persons, state)
        if not problems:
            problems += _copies(folder, rows, raw, persons)
    except LedgerError as trouble:
        problems.append(_problem(path.name, 0, trouble.text, trouble.mend))
    finally:
        store.close()
    return Audited(tuple(problems), dict(state.packed))


def _problem(file: str, row: int, text: str, mend: str, level: Level = Level.ERROR) -> Problem:
    return Problem(Where(file, row), "", "ledger", text, mend, level)


def _pages(store: Store, rows: tuple[EntryRow, ...]) -> list[Problem]:
    """What is wrong with the file as a file; call it inside `reading`."""
    wrong = [(say("the file is damaged: {line}.", line), _MEND) for line in store.page_problems()]
    if store.schema() != expected_schema():
        wrong.append(("its tables or their guards were changed.", _MEND))
    if not has_whole_header(store.file) or store.file.size() != store.expected_size():
        wrong.append(("its header or its length was changed.", _MEND))
    if is_broken(read_checksum(store.path), store.file, rows[-1].digest if rows else ""):
        wrong.append(("its bytes were changed by something else since it was last closed.", _MEND))
    else:
        try:
            heads = known_heads(store.path.parent, rows[0].digest if rows else "")
            check_heads(len(rows), lambda seq: rows[seq - 1].digest, heads)
        except LedgerError as trouble:
            wrong.append((trouble.text, trouble.mend))
    return [_problem(store.path.name, 0, text, mend) for text, mend in wrong]


def _chain(file: str, rows: tuple[EntryRow, ...]) -> list[Problem]:
    number = first_unchained(rows)
    text = "the entry is not as it was recorded, or one is missing."
    return [_problem(file, number, text, _MEND)] if number else []


def _persons(file: str, rows: tuple[EntryRow, ...], persons: tuple[Person, ...]) -> list[Problem]:
    """Personal data that is missing, whose digest does not fit, or that no entry says was blanked."""
    problems: list[Problem] = []
    promised: dict[tuple[int, str], str] = {}
    erased: set[tuple[int, str]] = set()
    for row in rows:
        try:
            if row.personal != "{}":
                promised |= {(row.seq, part): digest for part, digest in json.loads(row.personal).items()}
            if row.kind == "erased":
                erased |= {(seq, part) for seq, part in json.loads(row.facts)["parts"]}
        except (ValueError, TypeError, KeyError, AttributeError):
            problems.append(_problem(file, row.seq, "the entry cannot be read.", _MEND))
    there = {(person.seq, person.part): person for person in persons}
    for key in sorted(promised.keys() | there.keys()):
        person = there.get(key)
        if person is not None and person.is_erased and key in promised:
            if key not in erased:
                text = "personal data was erased, but no entry says so."
                mend = "This happens in a copy; else use the newest copy."
                problems.append(_problem(file, key[0], text, mend))
        elif person is None or promised.get(key) != person_digest(person.salt, person.buyer, person.facts):
            problems.append(_problem(file, key[0], "its personal data is not as it was recorded.", _MEND))
    return problems


def _story(
    store: Store, rows: tuple[EntryRow, ...], persons: tuple[Person, ...], state: LedgerState
) -> list[Problem]:
    """Entries that cannot follow from one another; ``state`` becomes what stands after them all."""
    file, parts = store.path.name, persons_by_entry(persons)
    problems: list[Problem] = []
    numbers: Numbers = {}
    try:
        taken_back = {json.loads(row.facts)["entry"] for row in rows if row.kind == "undone"}
        for row in rows:  # one by one: all plans at once would fill the memory
            entry = entry_from(row, parts.get(row.seq, {}))
            if entry.parcel != row.parcel or not _refers_back(entry):
                problems.append(_problem(file, row.seq, "the entry's own columns disagree.", _MEND))
            if isinstance(entry.body, PlanKept):
                numbers.update(numbers_in(entry.body.plan))
            if row.seq not in taken_back:
                state.check(entry)
                state.take(entry)
    except (LedgerError, KeyError, ValueError, TypeError) as error:
        return [_problem(file, 0, say("its entries contradict each other ({error}).", error), _MEND)]
    return [*problems, *_beside(store, state, numbers)]


def _beside(store: Store, state: LedgerState, numbers: Numbers) -> list[Problem]:
    """What stands beside the ledger, made from these very bytes, and is not what its entries say."""
    with store.reading():
        beside = text_beside(store.path, store.file.sha256)
    if beside is None or beside[1] == state_text(state, numbers):
        return []
    name = state_path(store.path).name
    return [_problem(name, 0, "it is not what the entries say.", "Remove this file; it is made again.")]


def _refers_back(entry: Entry) -> bool:
    body = entry.body
    if isinstance(body, Undone):
        return 0 < body.entry < entry.seq
    return not isinstance(body, Erased) or all(0 < seq < entry.seq for seq, _ in body.parts)


def _copies(
    folder: Path, rows: tuple[EntryRow, ...], ours: list[tuple[object, ...]], persons: tuple[Person, ...]
) -> list[Problem]:
    """Copies damaged, ahead of the ledger, or with what it erased; ``ours``: the ledger's rows."""
    by_part = {(person.seq, person.part): person for person in persons}
    problems: list[Problem] = []
    try:
        next(copies_folder(folder).iterdir(), None)
    except FileNotFoundError:
        return []
    except OSError as error:
        text = say("the folder of copies cannot be read ({strerror}).", error.strerror)
        return [_problem(COPIES_FOLDER, 0, text, "Make it readable, or move it away.", Level.NOTICE)]
    for path in copies_in(folder):
        name = f"{COPIES_FOLDER}/{path.name}"
        try:
            with Store.of_copy(path) as store:
                problems += _of_copy(name, store, rows, ours, by_part)
        except LedgerError as trouble:
            problems.append(_problem(name, 0, trouble.text, "Remove this copy.", Level.NOTICE))
    return problems


def _of_copy(
    name: str,
    store: Store,
    rows: tuple[EntryRow, ...],
    ours: list[tuple[object, ...]],
    persons: Mapping[tuple[int, str], Person],
) -> list[Problem]:
    """What is wrong with one copy; ``ours`` are the ledger's rows as the database gives them."""
    if store.version() == 0:
        return []
    raw = store.raw_rows()
    is_beginning = raw == ours[: len(raw)]
    theirs = rows[: len(raw)] if is_beginning else store.rows()
    told = [person for person in store.persons() if not person.is_erased]
    both = [(person, persons.get((person.seq, person.part), person)) for person in told]
    is_changed = any(not mine.is_erased and mine != person for person, mine in both)
    if (is_beginning and is_changed) or store.page_problems() or (not is_beginning and _chain(name, theirs)):
        return [_problem(name, 0, "this copy is damaged.", "Remove it.", Level.NOTICE)]
    shared = min(len(theirs), len(rows))
    if shared and theirs[shared - 1].digest != rows[shared - 1].digest:
        text = "this copy is of another ledger, or the ledger was rewritten."
        return [_problem(name, len(theirs), text, _MEND)]
    if len(theirs) > len(rows):
        text = say(
            "the last entry of this copy is {entries}, of the ledger only {here}.", len(theirs), len(rows)
        )
        return [_problem(name, 0, text, "An older file was put back as the ledger; look for the newer one.")]
    if any(mine.is_erased for _, mine in both):
        text = "this copy still holds personal data that was erased."
        return [_problem(name, 0, text, "Run `spawnpost erase` for that buyer again.")]
    return []
