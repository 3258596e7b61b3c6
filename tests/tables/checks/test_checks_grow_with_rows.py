"""No check looks at each row beside each other row: four times the rows are about four times the work."""

from __future__ import annotations

import string
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from shipping.tables.cells import Row
from shipping.tables.checks.all_checks import CHECKS
from shipping.tables.reader import read_shelf
from shipping.tables.shelf import TABLES, Draft
from shipping.words.problems import Where
from tests.tables.shelves import TODAY, good_shelf

FEW, TIMES = 12, 4
#: A sort of four times the rows is five times the work, looking at each beside each sixteen times.
MOST = 8
KEYS = {"species": "species", "lots": "lot", "zones": "zone", "packings": "packing", "boxes": "box"}
KEYS |= {"order_rows": "order", "services": "service", "groups": "group", "arrivals": "parcel"}


def letters(n: int) -> str:
    return string.ascii_lowercase[n // 26] + string.ascii_lowercase[n % 26]


def alike(row: Row, n: int, key: str) -> dict[str, Any]:
    """The same row under another name."""
    return {key: f"{getattr(row, key)}{n}"} if key else {}


def unlike(row: Row, n: int, key: str) -> dict[str, Any]:
    """A row that shares no name, count or price with another; its words and days stay."""
    told = ("addressee", "delivery_1", "postcode", "town", "mail", "tel", "population", "note", "source", key)
    changed = {name: f"{letters(n)}{getattr(row, name, '') or ''}" for name in told if hasattr(row, name)}
    counts = ("eggs", "price", "alive", "up_to_g", "weight_g", "tare_g", "eggs_max")
    return changed | {name: (getattr(row, name, None) or 0) + n for name in counts if hasattr(row, name)}


def of_one_order(row: Row, n: int, key: str) -> dict[str, Any]:
    """Rows of one name that differ in all else: a column drawn down."""
    return {name: value for name, value in unlike(row, n, key).items() if name != key}


SHAPES = (alike, unlike, of_one_order)


def grown(draft: Draft, count: int, shape: Callable[[Row, int, str], dict[str, Any]]) -> Draft:
    """Of each table so many rows, made of those it has."""
    fields: dict[str, Any] = {}
    for table in TABLES:
        rows, key = getattr(draft, table.field), KEYS.get(table.field, "")
        fields[table.field] = tuple(
            row.model_copy(update=shape(row, n, key) | {"at": Where(f"{table.name}.csv", n + 2)})
            for n, row in enumerate(rows[n % len(rows)] for n in range(count if rows else 0))
        )
    return replace(draft, **fields)


def steps_of(check: Callable[[Draft], Iterator[object]], draft: Draft) -> int:
    """How many steps of Python a check takes: opcodes of its own modules, no clock."""
    steps = 0

    def tracing(frame: FrameType, event: str, _: object) -> Any:
        nonlocal steps
        if "checks" not in frame.f_code.co_filename:
            return None
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        steps += event == "opcode"
        return tracing

    before = sys.gettrace()
    sys.settrace(tracing)
    try:
        sum(1 for _ in check(draft))
    finally:
        sys.settrace(before)
    return steps


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Draft:
    folder: Path = good_shelf(tmp_path_factory.mktemp("good"))
    drafts: list[Draft] = []

    def kept(draft: Draft) -> Draft:
        drafts.append(draft)
        return draft

    read_shelf(folder, TODAY, join=kept)
    return drafts[0]


@pytest.mark.parametrize("shape", SHAPES)
def test_four_times_the_rows_are_about_four_times_the_steps(
    good: Draft, shape: Callable[[Row, int, str], dict[str, Any]]
) -> None:
    few, many = grown(good, FEW, shape), grown(good, TIMES * FEW, shape)
    steep = {}
    for check in CHECKS:
        steps = steps_of(check, few), steps_of(check, many)
        if steps[1] > MOST * steps[0]:
            steep[check.__name__] = steps
    assert not steep


def test_a_check_that_looks_at_each_row_beside_each_is_seen(good: Draft) -> None:
    def each_beside_each(draft: Draft) -> Iterator[object]:
        return (lot for lot in draft.lots if [other for other in draft.lots if other is lot])

    few, many = grown(good, FEW, alike), grown(good, TIMES * FEW, alike)
    assert steps_of(each_beside_each, many) > MOST * steps_of(each_beside_each, few)
