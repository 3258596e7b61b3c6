"""What fills each line, kept small: passing and shareable cells of a species' lines in; those of one line, as
views, out.

A line's options are reckoned elsewhere; here they are kept, many lines in one row of records, and sent
between processes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from shipping.options.journey import Ints
from shipping.options.option import Destination, Floats
from shipping.tables.rows.lots import Lot

#: (dispatch day, service)
Place = tuple[date, str]

Bools = NDArray[np.bool_]
Shorts = NDArray[np.int16]
Counts = NDArray[np.int32]
Records = NDArray[np.void]

_AT = [("lot", np.int32), ("place", np.int16), ("packing", np.int16)]
#: A passing cell: its lot, place and packing, eggs to pack in so many units, and the chance that they are
#: enough.
PASSING = np.dtype([*_AT, ("pack", np.int32), ("units", np.int32), ("p_enough", np.float64)])
#: A shareable cell: its lot, place and packing, eggs that alone would do, and how many of them may be drawn.
SHARED = np.dtype([*_AT, ("alone", np.int32), ("most", np.int32)])


@dataclass(frozen=True, eq=False, slots=True)
class LineChoices:
    """What fills one line this week, lines alike sharing it.

    ``lots``: names (L,), of which ``group`` numbers the population (L,) and ``later`` says that it may go for
    the line next week too (L,). ``places``: this week's days and services to where it goes. ``cells``:
    records of `PASSING` (n,), and ``shared``: of `SHARED` (m,), by lot, place and packing, which are numbers
    among ``lots``, ``places`` and the shelf's packings. ``passing``: options that pass this week, before
    those that another outclasses were left out. ``options_reckoned``: lots by legs by packings of all days,
    whether or not they pass.
    """

    lots: tuple[str, ...]
    group: Shorts
    later: Bools
    places: tuple[Place, ...]
    cells: Records
    shared: Records
    passing: int
    options_reckoned: int

    @property
    def is_fillable(self) -> bool:
        """Could the line go this week, by itself?"""
        return bool(self.cells.size or self.shared.size)

    @property
    def lot(self) -> Counts:
        return np.asarray(self.cells["lot"])

    @property
    def place(self) -> Shorts:
        return np.asarray(self.cells["place"])

    @property
    def packing(self) -> Shorts:
        return np.asarray(self.cells["packing"])

    @property
    def pack(self) -> Counts:
        return np.asarray(self.cells["pack"])

    @property
    def units(self) -> Counts:
        return np.asarray(self.cells["units"])

    @property
    def p_enough(self) -> Floats:
        return np.asarray(self.cells["p_enough"])


@dataclass(eq=False)
class SpeciesRows:
    """What fills lines, as it is added: a row for all lines alike, whose cells are parts of the arrays
    added.
    """

    lots: list[tuple[str, ...]] = field(default_factory=list)
    group: list[Shorts] = field(default_factory=list)
    places: list[tuple[Place, ...]] = field(default_factory=list)
    rows: list[tuple[int, ...]] = field(default_factory=list)
    later: list[Bools] = field(default_factory=lambda: [np.zeros(0, dtype=np.bool_)])
    cells: list[Records] = field(default_factory=lambda: [np.zeros(0, dtype=PASSING)])
    shared: list[Records] = field(default_factory=lambda: [np.zeros(0, dtype=SHARED)])
    _sizes: list[int] = field(default_factory=lambda: [0, 0, 0])
    _places: dict[Destination, int] = field(default_factory=dict)

    def add_lots(self, lots: Sequence[Lot]) -> int:
        """The number of a population's lots, now kept."""
        known: dict[str, int] = {}
        self.lots.append(tuple(lot.lot for lot in lots))
        self.group.append(
            np.array([known.setdefault(lot.population, len(known)) for lot in lots], dtype=np.int16)
        )
        return len(self.lots) - 1

    def add_places(self, to: Destination, places: Callable[[], tuple[Place, ...]]) -> int:
        """The number of the places to a destination, now kept."""
        if to not in self._places:
            self._places[to] = len(self.places)
            self.places.append(places())
        return self._places[to]

    def add_cells(self, cells: Records, shared: Records) -> tuple[int, int]:
        """Where the cells of each kind begin that are now kept."""
        start = (self._sizes[1], self._sizes[2])
        self.cells.append(cells)
        self.shared.append(shared)
        self._sizes[1] += cells.size
        self._sizes[2] += shared.size
        return start

    def add_later(self, later: Bools) -> int:
        """Where the flags of lots begin that are now kept."""
        self.later.append(later.ravel())
        self._sizes[0] += later.size
        return self._sizes[0] - later.size

    def add(
        self, population: int, places: int, passing: int, reckoned: int, ends: tuple[int, int, int, int, int]
    ) -> int:
        """The number of a row, now kept; ``ends``: where its flags begin, its cells begin and end, and its
        shareable ones.
        """
        self.rows.append((population, places, passing, reckoned, *ends))
        return len(self.rows) - 1

    def add_empty(self, population: int, places: int, lots: int, reckoned: int) -> int:
        """The number of a row of which nothing passes."""
        start = self.add_later(np.zeros(lots, dtype=bool))
        return self.add(population, places, 0, reckoned, (start, 0, 0, 0, 0))


@dataclass(frozen=True, eq=False, slots=True)
class SpeciesChoices:
    """What fills the lines that want one species: N different ones.

    ``lots``, ``group``: by number of population; ``places``: by number of destination. ``rows``: of each line
    its population, destination, passing options, options reckoned, and where its part begins of ``later``,
    begins and ends of ``cells`` and of ``shared`` (N, 9). ``free``: eggs of each lot on each of this week's
    ``days``.
    """

    lots: tuple[tuple[str, ...], ...]
    group: tuple[Shorts, ...]
    places: tuple[tuple[Place, ...], ...]
    rows: Ints
    later: Bools
    cells: Records
    shared: Records
    days: tuple[date, ...]
    free: Mapping[str, tuple[int, ...]]

    @classmethod
    def of(
        cls, rows: SpeciesRows, days: tuple[date, ...], free: Mapping[str, tuple[int, ...]]
    ) -> SpeciesChoices:
        """All that was added, in one."""
        return cls(
            lots=tuple(rows.lots),
            group=tuple(rows.group),
            places=tuple(rows.places),
            rows=np.array(rows.rows, dtype=np.int64).reshape(-1, 9),
            later=np.concatenate(rows.later),
            cells=np.concatenate(rows.cells),
            shared=np.concatenate(rows.shared),
            days=days,
            free=free,
        )

    def reckoned(self, number: int) -> int:
        """How many options of a line were reckoned."""
        return int(self.rows[number, 3])

    @property
    def fillable(self) -> Bools:
        """Could each line go this week, by itself? (N,)"""
        return np.asarray((self.rows[:, 6] > self.rows[:, 5]) | (self.rows[:, 8] > self.rows[:, 7]))

    def line(self, number: int) -> LineChoices:
        """One of the lines."""
        population, places, passing, reckoned, flags, a, b, c, d = self.rows[number].tolist()
        return LineChoices(
            lots=self.lots[population],
            group=self.group[population],
            later=self.later[flags : flags + len(self.lots[population])],
            places=self.places[places],
            cells=self.cells[a:b],
            shared=self.shared[c:d],
            passing=passing,
            options_reckoned=reckoned,
        )
