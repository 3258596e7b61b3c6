"""Spawning groups and what they are expected to lay."""

from __future__ import annotations

from shipping.tables.cells import Day, Key, Note, Positive, Row, Text


class Group(Row):
    """One row of ``groups``."""

    group: Key
    species: Key
    population: Text = ""
    eggs_a_day: Positive
    from_day: Day | None = None
    until_day: Day | None = None
    note: Note = ""
