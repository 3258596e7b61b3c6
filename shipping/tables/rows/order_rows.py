"""Rows of one order: blank cells of a later row take the first row's; what rows disagree on is left to the
checks.
"""

from __future__ import annotations

from shipping.tables.cells import BadCell, parse_key
from shipping.tables.rows.orders import ORDER_FIELDS


class FillFromFirstRow:
    """Fills an order's later rows from its first, and names the columns whose blank is the first row's
    fault.
    """

    def __init__(self) -> None:
        self._first_rows: dict[str, dict[str, object]] = {}
        self._a_name_was_lost = False

    def __call__(self, cells: dict[str, object]) -> frozenset[str]:
        name = str(cells.get("order", ""))
        if not _is_a_name(name):
            self._a_name_was_lost = True
            return frozenset(column for column in ORDER_FIELDS if column not in cells)
        first = self._first_rows.get(name)
        if first is None:
            self._first_rows[name] = {column: cells[column] for column in ORDER_FIELDS if column in cells}
            # the row above, whose name could not be read, may be the one that gives what is blank here
            follows, self._a_name_was_lost = self._a_name_was_lost, False
            return (
                frozenset(column for column in ORDER_FIELDS if column not in cells)
                if follows
                else frozenset()
            )
        blank = [column for column in ORDER_FIELDS if column not in cells]
        for column in blank:
            if column in first:
                cells[column] = first[column]
        return frozenset(blank)


def _is_a_name(name: str) -> bool:
    """Can the cell name an order?"""
    try:
        return bool(parse_key(name))
    except BadCell:
        return False
