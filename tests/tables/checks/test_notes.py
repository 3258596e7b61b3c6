"""What notes say beside the columns is asked about, and what they only mention is not."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder
from tests.tables.mistakes import shelf_with

TODAY = date(2026, 11, 30)
LOOKED_AT = ("SC-07", "BA-08", "SO-02", "ME-05", "AU-20", "AU-21", "FL-31", "PP-03", "CH-14", "GJ-04")


def asked(folder: Path, lots: tuple[str, ...], looks: tuple[str, ...], orders: tuple[str, ...]) -> set[str]:
    """The notes that are asked about, each on a row of its own in the demo's tables."""
    edits = [f"lots {row} note = {note}" for row, note in enumerate(lots, start=2)]
    edits += [
        f"inspections + {lot},2026-11-30,,,,,,{note}" for lot, note in zip(LOOKED_AT, looks, strict=False)
    ]
    edits += [f"orders {row} note = {note}" for row, note in enumerate(orders, start=5)]
    reading = read_shelf(shelf_with(folder, " && ".join(edits), shipped_folder("demo_orders")), TODAY)
    told = [problem.answers[0].value for problem in reading.problems if problem.column == "note"]
    return {note for note in (*lots, *looks, *orders) if any(one.endswith(f" note {note}") for one in told)}


def test_a_note_that_goes_on_about_something_else_is_asked_nothing(tmp_path: Path) -> None:
    lots = (
        *(
            "sold 20 at the show",
            "dead eggs taken out daily",
            "gone through by lens",
            "lost label: surely Akure",
        ),
        *("verkauft wird nur die Hälfte", "discarded the white ones", "empty mop put back", "all eyed"),
        *("all hatched well last year", "died down in the tank", "vides de la rangée B", "all spoken for"),
    )
    looks = (
        *("hatching expected Friday", "fry tank prepared", "schlüpfen wohl Freitag", "bientôt l'éclosion"),
        *("rien d'éclos", "about to hatch", "Larven bewegen sich im Ei", "eclosión prevista el viernes"),
    )
    orders = (
        *("wants 2 pairs in the end", "hold the parcel flat", "cancelled another order in May", "pas pressé"),
        *("a déménagé en mai", "henter ikke selv", "moved here in 2024", "refuses nothing", "not in a hurry"),
    )
    assert asked(tmp_path / "right", lots, looks, orders) == set()


def test_a_note_that_tells_what_a_column_should_is_asked_about(tmp_path: Path) -> None:
    lots = (
        *("all sold", "died 24 Nov", "gone since Friday", "discarded 20.11.", "lost to fungus", "tous éclos"),
        *("alle geschlüpft am 24.", "verkauft", "not for sale", "fungus took all", "empty", "sold to D05"),
    )
    looks = (
        "about 20 fry",
        "12 fry moved to a tank",
        "éclos ce matin",
        "20 Larven",
        "60 dead",
        "3 tails out",
    )
    orders = ("wants 40", "hold please", "moved to Odense", "henter selv", "unpaid", "refund 20 on 24 Nov")
    assert asked(tmp_path / "slips", lots, looks, orders) == {*lots, *looks, *orders}
