"""What confirms a cell can be written into shelf.toml as it is told, and is understood there."""

from __future__ import annotations

import csv
import re
import shutil
import tomllib
from datetime import date
from pathlib import Path

from shipping.tables.reader import read_shelf
from shipping.words.units import shipped_folder

TODAY = date(2026, 11, 30)


def test_a_cell_of_several_lines_and_quotes_is_confirmed_by_the_line_that_is_told(tmp_path: Path) -> None:
    shelf = Path(shutil.copytree(shipped_folder("demo_orders"), tmp_path / "shelf"))
    table = shelf / "inspections.csv"
    rows = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    rows[-1]["note"] = 'counted 28\nby "lamplight", çà et là'
    with table.open("w", encoding="utf-8", newline="") as file:
        written = csv.DictWriter(file, rows[-1].keys())
        written.writeheader()
        written.writerows(rows)

    def asked() -> list[str]:
        return [one.mend for one in read_shelf(shelf, TODAY).problems if one.column == "note"]

    (mend,) = asked()
    (line,) = re.findall(r"meant = \[.*\]", mend)
    assert tomllib.loads(line)
    settings = shelf / "shelf.toml"
    settings.write_text(settings.read_text(encoding="utf-8") + f"\n[reading]\n{line}\n", encoding="utf-8")
    assert asked() == []
