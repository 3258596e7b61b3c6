"""Rows of one order: blank cells of a later row take the first row's; the checks see what disagrees."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from shipping.tables.cells import BadCell, parse_key
from shipping.tables.files.sheet import Sheet, cleaned
from shipping.tables.rows.orders import ORDER_FIELDS
from shipping.tables.spelling import folded

_OF_THE_ORDER = frozenset(ORDER_FIELDS)


class FillFromFirstRow:
    """Fills an order's later rows from its first, and names columns that are the first row's fault."""

    def __init__(self) -> None:
        self._first_rows: dict[str, dict[str, object]] = {}
        self._names: dict[str, str] = {}
        self._as_written: dict[str, str] = {}
        self._a_name_was_lost = False

    def _one_name(self, written: str, cells: dict[str, object]) -> str:
        """The order's name as its first row spells it; blank where the cell can name no order."""
        first = self._as_written.get(written)
        if first is not None:
            if first != written:
                cells["order"] = first
            return first
        try:
            name = parse_key(written)
        except BadCell:
            return ""
        first = self._names.setdefault(folded(name), name)
        if first != name:
            cells["order"] = first
        self._as_written[written] = first
        return first

    def __call__(self, cells: dict[str, object]) -> frozenset[str]:
        name = self._one_name(str(cells.get("order", "")), cells)
        if not name:
            self._a_name_was_lost = True
            return _OF_THE_ORDER.difference(cells)
        first = self._first_rows.get(name)
        if first is None:
            self._first_rows[name] = cells.copy()
            # the row above, whose name could not be read, may be the one that gives what is blank here
            follows, self._a_name_was_lost = self._a_name_was_lost, False
            return _OF_THE_ORDER.difference(cells) if follows else frozenset()
        blank = _OF_THE_ORDER.difference(cells)
        for column in blank.intersection(first):
            cells[column] = first[column]
        return blank


def of_orders_alone(sheet: Sheet, orders: Collection[str]) -> Sheet:
    """The sheet with its header and the rows of these orders; what stands on other rows is not judged."""
    wanted = frozenset(map(folded, orders))

    def rows() -> Iterator[tuple[int, list[object]]]:
        header = next(sheet.rows, None)
        if header is None:
            return
        yield header
        names = [cleaned(str(cell or ""), keep_breaks=False)[0].casefold() for cell in header[1]]
        place = names.index("order") if "order" in names else None
        is_wanted: dict[object, bool] = {}
        for number, cells in sheet.rows:
            name = cells[place] if place is not None and place < len(cells) else None
            if isinstance(name, str) and name not in is_wanted:
                is_wanted[name] = folded(name) in wanted
            if not isinstance(name, str) or is_wanted[name]:
                yield number, cells

    return replace(sheet, rows=rows())
