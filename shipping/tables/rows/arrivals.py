"""What buyers reported."""

from __future__ import annotations

from shipping.tables.cells import Count, Day, Key, Note, Ordered, Row


class Arrival(Row):
    """One row of ``arrivals``: a line of a parcel as it was found; blank is not zero."""

    parcel: Key
    line: Ordered
    arrived_on: Day
    alive: Count
    hatched_alive: Count | None = None
    dead: Count | None = None
    missing: Count | None = None
    note: Note = ""
