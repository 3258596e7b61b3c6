"""Eggs reckoned from an old count are shown as a guess wherever nearly all of them are drawn or offered."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from shipping.cli.print_offer import offer_lines
from shipping.cli.print_plan import plan_lines
from shipping.cli.terminal import Window, reason_text
from shipping.papers.writing import write_papers
from shipping.questions.offer import offer
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import Shelf
from shipping.week.plan import make_plan
from shipping.words.units import shipped_folder
from tests.papers.reading import words_of

TODAY = date(2026, 11, 30)
ROW = "SC-07,scheeli,Korup,2026-11-20,2026-11-21,water,23,56,2026-11-30"


def shelf_with(folder: Path, row: str) -> Shelf:
    """The demo's shelf with another count of lot SC-07 on another day."""
    shutil.copytree(shipped_folder("demo_orders"), folder)
    for name, old, new in (("lots", ROW, row), ("inspections", "SC-07,2026-11-25,fertile,,,3,,\n", "")):
        table = folder / f"{name}.csv"
        text = table.read_text(encoding="utf-8")
        assert old in text
        table.write_text(text.replace(old, new), encoding="utf-8")
    shelf = read_shelf(folder, TODAY).shelf
    assert shelf is not None
    return shelf


@pytest.mark.parametrize(("count", "is_marked"), [("84,2026-11-21", True), ("76,2026-11-30", False)])
def test_a_lot_nearly_all_drawn_by_an_old_count_is_to_be_counted_before_packing(
    count: str, is_marked: bool, tmp_path: Path
) -> None:
    """At 1 % a day 8 of 84 are reckoned gone after nine days; of the 76 left 72 are drawn."""
    shelf = shelf_with(tmp_path / "shelf", ROW.replace("56,2026-11-30", count))
    plan = make_plan(shelf, "2026-W49")
    lines = [line for parcel in plan.parcels for line in parcel.lines if line.draws[0].lot == "SC-07"]
    assert sum(line.pack for line in lines) == 72
    said = "\n".join(plan_lines(plan, shelf, Window(200), hide_names=False))
    assert [draw.count_first for line in lines for draw in line.draws] == [is_marked] * 3
    assert ("; count before packing SC-07;" in said, "SC-07 count" in said) == (is_marked, is_marked)
    assert ("count lot SC-07 before packing" in reason_text(lines[0].reasons[0])) is is_marked
    write_papers(plan, shelf, tmp_path / "papers", only=("pick-list",))
    bench = words_of(tmp_path / "papers" / "print" / "2026-W49-pick-list.pdf")
    assert ("a good part of its last count is reckoned gone" in bench) is is_marked


@pytest.mark.parametrize(("fish", "lots"), [("nigripinnis", ("NI-06",)), ("korthausae", ())])
def test_an_offer_names_the_lots_whose_count_is_old(fish: str, lots: tuple[str, ...]) -> None:
    """NI-06 was counted ten days ago, so that 12 of its 120 eggs are reckoned gone; KO-11 three days ago."""
    shelf = read_shelf(shipped_folder("demo_orders"), TODAY).shelf
    assert shelf is not None
    found = offer(shelf, None, species=fish)
    assert any(one.is_offered for one in found.offers)
    said = "\n".join(offer_lines(found, Window(200)))
    assert found.count_first == lots
    assert ("reckoned gone, of NI-06" in said) is bool(lots)
