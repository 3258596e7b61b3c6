"""Situations of a breeder's week and what the terminal shows of them; `python -m` writes the screens anew."""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from shipping.cli.app import main
from shipping.words.units import shipped_folder

GOLDEN = Path(__file__).parent / "golden"
WIDTHS = (60, 80, 120, 160)
TODAY = "2026-11-30"


def as_it_is(_: Path) -> None:
    """The demo week."""


def nobody_paid(shelf: Path) -> None:
    """The demo week before anybody has paid: one cause over nearly every line."""
    orders = shelf / "orders.csv"
    paid = re.compile(r"^(D\d\d,[\d-]+),[\d-]+,", re.MULTILINE)
    orders.write_text(paid.sub(r"\1,,", orders.read_text("utf-8")), "utf-8")


def no_orders(shelf: Path) -> None:
    """A shelf with lots and nobody who wants them."""
    orders = shelf / "orders.csv"
    orders.write_text(orders.read_text("utf-8").splitlines()[0] + "\n", "utf-8")


@dataclass(frozen=True)
class Situation:
    """What is typed on a shelf made so."""

    words: tuple[str, ...]
    shelf: Callable[[Path], None] = as_it_is


SITUATIONS: Mapping[str, Situation] = {
    "plan": Situation(("plan",)),
    "plan-quiet": Situation(("--quiet", "plan")),
    "plan-nobody-paid": Situation(("plan",), nobody_paid),
    "plan-no-orders": Situation(("plan",), no_orders),
    "why-goes": Situation(("why", "D09")),
    "why-held": Situation(("why", "D26")),
    "why-by-one-service": Situation(("why", "D03")),
    "margin": Situation(
        ("margin", "20", "--packing", "tube in foam box", "--service", "express", "--to", "DE")
    ),
    "ask": Situation(("ask", "FL-31", "--to", "DK")),
    "forecast": Situation(("forecast",)),
    "rules": Situation(("rules",)),
    "offer": Situation(("offer", "--species", "gardneri")),
}


def screen(name: str, width: int, folder: Path) -> str:
    """What a situation shows in a window so wide; ``folder`` is an empty one to work in."""
    shelf = folder / "shelf"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    SITUATIONS[name].shelf(shelf)
    said = io.StringIO()
    words = ["spawnpost", "--shelf", str(shelf), "--today", TODAY, *SITUATIONS[name].words]
    with (
        mock.patch.object(sys, "argv", words),
        mock.patch.dict(os.environ, {"COLUMNS": str(width)}),
        contextlib.redirect_stdout(said),
        contextlib.suppress(SystemExit),
    ):
        main()
    return said.getvalue()


def write_all() -> None:
    GOLDEN.mkdir(exist_ok=True)
    for name in SITUATIONS:
        for width in WIDTHS:
            with tempfile.TemporaryDirectory() as folder:
                (GOLDEN / f"{name}-{width}.txt").write_text(screen(name, width, Path(folder)), "utf-8")


if __name__ == "__main__":
    write_all()
