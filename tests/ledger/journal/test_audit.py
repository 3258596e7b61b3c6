"""Is the ledger whole? A changed byte, a missing entry and an older file are all noticed."""

from __future__ import annotations

import os
import shutil
import sqlite3
from datetime import date
from pathlib import Path

import pytest

from shipping.ledger.entries import Entry, Erased, LineReport, Undone
from shipping.ledger.errors import LedgerError, has_ledger
from shipping.ledger.journal.audit import _refers_back
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts
from tests.ledger.desk import TODAY, ledger_with_two_parcels
from tests.ledger.whole import audit


def a_week(folder: Path) -> bytes:
    """The bytes of a ledger in which something of every sort has happened."""
    with ledger_with_two_parcels(folder) as ledger:
        ledger.pack("2026-W49-01")
        ledger.send("2026-W49-01", item="RR473124829GB")
        ledger.arrive("2026-W49-01", [LineReport(order="S10", line=1, alive=20)], note="two days late")
        ledger.undo()
    return (folder / "ledger.sqlite").read_bytes()


def unguarded(folder: Path, *statements: str) -> None:
    """Change the file as a stranger would, guards taken down and put up again."""
    connection = sqlite3.connect(folder / "ledger.sqlite")
    guards = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        connection.execute(statement)
    for _, guard in guards:
        connection.execute(guard)
    connection.commit()
    connection.close()


def test_a_whole_ledger_has_no_problems(tmp_path: Path) -> None:
    a_week(tmp_path)
    assert audit(tmp_path) == ()


def test_a_change_of_any_byte_is_noticed(tmp_path: Path) -> None:
    """Every byte of the header, and one in 37 of the rest (all of them with SPAWNPOST_CRASHES set)."""
    whole = a_week(tmp_path)
    path = tmp_path / "ledger.sqlite"
    step = 1 if os.environ.get("SPAWNPOST_CRASHES") else 37
    for place in [*range(100), *range(100, len(whole), step)]:
        changed = bytearray(whole)
        changed[place] ^= (1 << (place % 8)) if place % 3 else 3 + place % 253
        path.write_bytes(changed)
        assert audit(tmp_path), f"byte {place} of {len(whole)} was changed, and nobody noticed"
    path.write_bytes(whole)
    assert audit(tmp_path) == ()


def test_a_flipped_bit_in_any_entry_is_noticed_without_the_seal(tmp_path: Path) -> None:
    whole = a_week(tmp_path)
    (tmp_path / "ledger.sqlite.checksum").unlink()
    path = tmp_path / "ledger.sqlite"
    for text in (
        b"2026-W49-01",
        b'"eggs":24',
        b"Ida Holm",
        b"two days late",
        b"RR473124829GB",
        b"entry_is_never",
    ):
        place = whole.index(text) + 1
        changed = bytearray(whole)
        changed[place] ^= 1
        path.write_bytes(changed)
        assert audit(tmp_path), f"{text!r} was changed, and nobody noticed"


def test_nothing_is_recorded_on_top_of_a_changed_file(tmp_path: Path) -> None:
    whole = bytearray(a_week(tmp_path))
    place = whole.index(b'"eggs":24') + 8
    whole[place] ^= 1
    (tmp_path / "ledger.sqlite").write_bytes(whole)
    with Ledger.open(tmp_path, TODAY) as ledger:
        with pytest.raises(LedgerError, match=r"entry 2 does not follow .* Run `spawnpost check --ledger`"):
            ledger.pack("2026-W49-02")
        assert audit(ledger.folder)


@pytest.mark.parametrize(
    ("statements", "words"),
    [
        (["UPDATE entry SET facts = replace(facts, '24', '23') WHERE seq = 2"], "is not as it was recorded"),
        (["DELETE FROM person WHERE seq = 5", "DELETE FROM entry WHERE seq = 5"], "its last entry is 4,"),
        (["DELETE FROM person WHERE seq = 3"], "personal data is not as it was recorded"),
        (
            ["UPDATE person SET facts = '{\"addressee\":\"Someone Else\"}' WHERE part <> ''"],
            "personal data is not",
        ),
        (["UPDATE person SET facts = '', salt = '', buyer = ''"], "erased, but no entry says so"),
        (["CREATE TABLE extra (x)"], "tables or their guards were changed"),
        (["UPDATE entry SET day = '2026-11-29' WHERE seq = 4"], "is not as it was recorded"),
    ],
)
def test_a_strangers_change_is_noticed_and_named(tmp_path: Path, statements: list[str], words: str) -> None:
    a_week(tmp_path)
    unguarded(tmp_path, *statements)
    assert any(words in problem.text for problem in audit(tmp_path)), audit(tmp_path)


def test_a_chain_made_anew_over_a_contradiction_is_noticed(tmp_path: Path) -> None:
    """Rows that follow each other in digests, but not in sense: sent before packed."""
    from shipping.ledger.entries import Sent
    from shipping.ledger.parcel_states import LedgerState

    with ledger_with_two_parcels(tmp_path) as ledger:
        entry, row, persons = ledger._written_out(Sent(parcel="2026-W49-01", on=TODAY, service="letter"))
        with ledger.store.writing():
            ledger.store.add(row, persons)
    (problem,) = audit(tmp_path)
    assert "contradict each other" in problem.text
    assert entry.kind == "sent"
    assert isinstance(ledger.state, LedgerState)


def test_an_older_file_put_back_is_noticed(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    older = (tmp_path / "ledger.sqlite").read_bytes()
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.pack("2026-W49-01")
    with Ledger.open(tmp_path, date(2026, 12, 1)) as ledger:
        ledger.send("2026-W49-01")
    (tmp_path / "ledger.sqlite").write_bytes(older)
    (problem,) = audit(tmp_path)
    assert "its last entry is 1, its checksum knows 3: it is older, or another ledger" in problem.text
    (tmp_path / "ledger.sqlite.checksum").unlink()
    (problem,) = audit(tmp_path)
    assert "your own state folder knows 3" in problem.text


@pytest.mark.parametrize("told", [b'"pack":24', b'"Ida Holm"'])
def test_a_damaged_copy_is_named_and_stops_nothing(tmp_path: Path, told: bytes) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    with Ledger.open(tmp_path, TODAY) as ledger:
        ledger.pack("2026-W49-01")
    (copy,) = (tmp_path / "ledger-copies").iterdir()
    whole = bytearray(copy.read_bytes())
    whole[whole.index(told) + 7] ^= 1
    copy.write_bytes(whole)
    (problem,) = audit(tmp_path)
    assert str(problem.where) == f"ledger-copies/{TODAY}.sqlite"
    assert problem.level.value == "notice"


def test_more_packed_than_counted_is_noticed(tmp_path: Path) -> None:
    with ledger_with_two_parcels(tmp_path) as ledger:
        ledger.pack("2026-W49-01")
        (problem,) = audit(ledger.folder, {"L1": LotCounts(20, TODAY)})
    assert problem.text == "24 eggs were packed from lot L1 since 20 were counted on 2026-11-30."


def test_a_ledger_that_is_gone_or_empty_is_a_problem_not_a_crash(tmp_path: Path) -> None:
    assert "there is none" in audit(tmp_path)[0].text
    (tmp_path / "ledger.sqlite").touch()
    assert "empty" in audit(tmp_path)[0].text
    (tmp_path / "ledger.sqlite").unlink()
    (tmp_path / "ledger.sqlite").mkdir()
    assert has_ledger(tmp_path)
    assert "it is a folder, not a ledger." in audit(tmp_path)[0].text


def test_copies_that_cannot_be_read_are_told_and_stop_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with ledger_with_two_parcels(tmp_path):
        pass
    copies, exists = tmp_path / "ledger-copies", Path.exists

    def not_there(path: Path) -> bool:
        if path.parent == copies:
            raise PermissionError(13, "Permission denied")
        return exists(path)

    with monkeypatch.context() as patched, Ledger.open(tmp_path, TODAY) as ledger:
        patched.setattr(Path, "exists", not_there)
        ledger.pack("2026-W49-01")
    assert "could not be written (Permission denied)" in ledger.notices[-1]
    shutil.rmtree(copies)
    copies.touch()
    (problem,) = audit(tmp_path)
    assert (problem.text, problem.level.value) == (
        "the folder of copies cannot be read (Not a directory).",
        "notice",
    )


def test_a_copy_of_another_ledger_is_not_taken_for_the_newer_file(tmp_path: Path) -> None:
    mine, other = tmp_path / "mine", tmp_path / "other"
    for folder in (mine, other):
        folder.mkdir()
    a_week(other)
    with ledger_with_two_parcels(mine):
        pass
    copy = mine / "ledger-copies" / "another.sqlite"
    shutil.copy(other / "ledger.sqlite", copy)
    (problem,) = audit(mine)
    assert str(problem.where) == "ledger-copies/another.sqlite:5"
    assert problem.text.startswith("this copy is of another ledger")
    copy.rename(copy.with_name("2099-01-01.sqlite"))
    (problem,) = audit(mine)
    assert "knows 5: it is older, or another ledger" in problem.text


def test_a_file_cut_short_at_any_page_is_noticed(tmp_path: Path) -> None:
    whole = a_week(tmp_path)
    for length in range(0, len(whole), 1024):
        (tmp_path / "ledger.sqlite").write_bytes(whole[:length])
        assert audit(tmp_path), length
    shutil.rmtree(tmp_path / "ledger-copies", ignore_errors=True)


@pytest.mark.parametrize(("entry", "is_earlier"), [(0, False), (1, True), (4, True), (5, False)])
def test_an_entry_takes_back_or_erases_only_what_stands_before_it(entry: int, is_earlier: bool) -> None:
    for body in (Undone(entry=entry), Erased(parts=((1, ""), (entry, "")))):
        assert _refers_back(Entry(5, TODAY, body)) is is_earlier
