"""What became here of the eggs left of a lot, from looks since they were packed."""

from __future__ import annotations

from datetime import date

from shipping.ledger.claims import fate_here
from shipping.tables.rows.lots import Look
from tests.ledger.invented import lot, shelf

PACKED = date(2026, 11, 20)


def test_looks_since_packing_are_added_up_and_earlier_ones_left_out() -> None:
    looks = (
        Look(lot="L1", on=date(2026, 11, 18), hatched=9, removed=9),
        Look(lot="L1", on=date(2026, 11, 22), hatched=2, removed=1, alive=40),
        Look(lot="L1", on=date(2026, 11, 25), hatched=30, stage="ready"),
    )
    place = shelf(lots=(lot("L1", keep_back=6),), looks=looks)
    assert (
        fate_here(place, "L1", PACKED)
        == "6 kept back; 40 alive, 32 hatched, 1 dead, seen ready by 2026-11-25"
    )


def test_what_nobody_looked_at_is_not_said_to_have_lived() -> None:
    assert fate_here(shelf(lots=(lot("L1"),)), "L1", PACKED) == "0 kept back; nobody has looked since"
    blank = (Look(lot="L1", on=date(2026, 11, 22)),)
    assert fate_here(shelf(lots=(lot("L1"),), looks=blank), "L1", PACKED).endswith(
        "seen, and nothing counted by 2026-11-22"
    )
    assert fate_here(shelf(), "L1", PACKED) == "the lot is no longer in the tables"


def test_a_look_on_the_day_of_packing_speaks_of_the_eggs_that_stayed() -> None:
    looks = tuple(Look(lot="L1", on=date(2026, 11, day), removed=day) for day in (19, 20))
    assert (
        fate_here(shelf(lots=(lot("L1"),), looks=looks), "L1", PACKED) == "0 kept back; 20 dead by 2026-11-20"
    )
