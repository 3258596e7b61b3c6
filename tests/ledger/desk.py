"""An invented plan and the counts behind it, for the ledger's tests."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import LotCounts

TODAY = date(2026, 11, 30)
WEEK = "2026-W49"


def draw(lot: str, pack: int, packing: str = "tube", stage: str = "eyed") -> dict[str, Any]:
    return {
        "lot": lot,
        "packing": packing,
        "units": 1,
        "pack": pack,
        "h_per_egg": 0.002,
        "h_any": 0.04,
        "v_per_egg": 0.93,
        "stage": stage,
        "look_first": False,
    }


def line(order: str, number: int, ordered: int, *draws: dict[str, Any]) -> dict[str, Any]:
    return {
        "order": order,
        "line": number,
        "species": "gardneri",
        "population": "Akure",
        "ordered": ordered,
        "pack": sum(one["pack"] for one in draws),
        "p_enough": 0.96,
        "expected_alive": 0.93 * sum(one["pack"] for one in draws),
        "draws": list(draws),
        "reasons": [],
    }


def parcel(name: str, addressee: str, *lines: dict[str, Any], service: str = "letter") -> dict[str, Any]:
    return {
        "parcel": name,
        "orders": sorted({one["order"] for one in lines}),
        "addressee": addressee,
        "to": "DK",
        "service": service,
        "dispatch_on": "2026-11-30",
        "arrive": {"p05": "2026-12-01", "p50": "2026-12-02", "p95": "2026-12-04"},
        "box": "small",
        "weight_g": 90.0,
        "postage": "12.50",
        "low_c": 8.0,
        "high_c": 16.0,
        "lines": list(lines),
    }


def plan(*parcels: dict[str, Any], week: str = WEEK) -> dict[str, Any]:
    return {
        "week": week,
        "today": TODAY.isoformat(),
        "parcels": list(parcels),
        "lines_out": [],
        "lots": [],
        "proof": {"value": 1.0, "bound": 1.0, "gap": 0.0, "loss": 0.1},
    }


def two_parcels() -> dict[str, Any]:
    """One parcel of one line from one lot; one of two lines, the second from two lots."""
    return plan(
        parcel("2026-W49-01", "Ida Holm", line("S10", 1, 20, draw("L1", 24))),
        parcel(
            "2026-W49-02",
            "Jørn Bøgh-Åkesson",
            line("S11", 1, 20, draw("L1", 23)),
            line("S11", 2, 30, draw("L2", 20), draw("L3", 16)),
        ),
    )


COUNTED = {
    "L1": LotCounts(60, date(2026, 11, 28)),
    "L2": LotCounts(40, date(2026, 11, 28)),
    "L3": LotCounts(16, date(2026, 11, 30)),
}


def ledger_with_two_parcels(folder: Path) -> Ledger:
    ledger = Ledger.open(folder, TODAY, create=True)
    ledger.keep_plan(two_parcels(), COUNTED)
    return ledger
