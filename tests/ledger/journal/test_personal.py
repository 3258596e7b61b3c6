"""Which parts of entries are a buyer's, and in which forms a name is looked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.ledger.journal.personal import Wanted, erase_in, parts_about
from shipping.ledger.journal.store import EntryRow, Person, Store

KEPT = (("2026-W49-01", "Ida Holm"), ("2026-W49-02", "Per Dam"))
IDA = Wanted.of("IDA  holm", KEPT)


def a_row(seq: int, parcel: str = "") -> EntryRow:
    return EntryRow(seq, "2026-11-30", "packed", parcel, "{}", "{}", "", "")


@pytest.mark.parametrize(
    ("person", "parcel", "is_hers"),
    [
        (Person(1, "", "ida holm", "salt", "{}"), "", True),
        (Person(1, "2026-W49-01", "", "salt", "{}"), "", True),
        (Person(1, "", "", "salt", "{}"), "2026-W49-01", True),
        (Person(1, "", "per dam", "salt", '{"note": "left at Ida Holm, next door"}'), "2026-W49-02", True),
        (Person(1, "", "per dam", "salt", '{"note": "left at Ida Holmgren"}'), "2026-W49-02", False),
        (Person(1, "2026-W49-02", "", "salt", "{}"), "2026-W49-02", False),
        (Person(1, "", "", "", ""), "2026-W49-01", False),
    ],
)
def test_a_part_is_a_buyers_by_its_buyer_its_parcel_its_entrys_parcel_or_a_name_in_its_text(
    person: Person, parcel: str, is_hers: bool
) -> None:
    assert parts_about(IDA, [person], [a_row(1, parcel)]) == (
        {(person.seq, person.part)} if is_hers else frozenset()
    )


def test_a_parcel_stands_for_its_buyer_and_all_of_the_buyers_parcels() -> None:
    also = (*KEPT, ("2026-W50-03", "ida HOLM"))
    found = Wanted.of("2026-w49-01", also)
    assert (found.names, found.parcels) == ({"ida holm"}, {"2026-W49-01", "2026-W50-03"})
    assert found.typed == {"Ida Holm", "ida HOLM"}


@pytest.mark.parametrize(("name", "is_told"), [("Bodil", True), ("Bodo", False), ("Bo Li", True)])
def test_a_single_word_of_four_letters_is_too_little_to_be_looked_for_in_texts(
    name: str, is_told: bool
) -> None:
    wanted = Wanted.of(name, ())
    assert wanted.is_named_in(f"left with {name.upper()}, next door") is is_told
    assert bool(wanted.forms()) is is_told


@pytest.mark.parametrize(
    "form",
    [
        "Zoë Prøve".encode(),
        "Zoe\u0308 Prøve".encode(),
        "Zoë Prøve".encode("utf-16-le"),
        "Zoë Prøve".encode("utf-16-be"),
        "Zoë Prøve".encode("cp1252"),
        b"Zo\\u00eb Pr\\u00f8ve",
        "zoë prøve".encode(),
    ],
)
def test_a_name_is_looked_for_as_every_kind_of_file_writes_it(form: bytes) -> None:
    assert form in Wanted.of("Zoë  Prøve", ()).forms()


def test_in_a_file_in_which_nothing_was_recorded_nothing_is_erased(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "new.sqlite", create=True)
    assert erase_in(store, IDA, [(1, "")]) is False
    store.close()
