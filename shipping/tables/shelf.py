"""The tables of one working folder: what they are, their rows as read, and as checked once and for all."""

from __future__ import annotations

import math
import types
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cache, cached_property
from operator import attrgetter
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BeforeValidator, TypeAdapter
from pydantic.fields import FieldInfo

from shipping.tables.cells import NumberParser, Row, parse_note
from shipping.tables.rows.learned import Arrival, RateRow
from shipping.tables.rows.lots import Group, Look, Lot
from shipping.tables.rows.orders import Order, OrderRow, whole_row
from shipping.tables.rows.packings import Box, Packing
from shipping.tables.rows.rules import Rule
from shipping.tables.rows.services import Postage, Service, Zone
from shipping.tables.rows.settings import Settings
from shipping.tables.rows.species import Species
from shipping.tables.rows.weather import Disruption, Weather
from shipping.words.keys import grouped
from shipping.words.problems import Problem

#: Rules of one place, fish and medium may stand side by side, so what else they say parts them.
RULE_ORDER = (
    *("to", "taxon", "medium", "verdict"),
    *("from_", "until", "checked_on", "papers", "source", "note"),
)
DISRUPTION_ORDER = ("to", "service", "from_", "until", "days", "stopped", "source")


@dataclass(frozen=True)
class Table:
    """A table's name, the model of its rows, and whether a shelf must have it.

    ``field`` is where its rows stand in the draft and on the shelf; ``order`` are the fields they are sorted
    by there, so that the order of rows in a file never matters.
    """

    name: str
    model: type[Row]
    field: str
    order: tuple[str, ...]
    required: bool = False

    def sorted(self, rows: Iterable[Row]) -> tuple[Row, ...]:
        """The rows by ``order``; of what is blank, text comes first and a number (no limit) last."""
        needed = all(self.model.model_fields[name].is_required() for name in self.order)
        return tuple(sorted(rows, key=attrgetter(*self.order) if needed else self._place))

    def _place(self, row: Row) -> tuple[Any, ...]:
        values = ((name, getattr(row, name)) for name in self.order)
        return tuple(
            (math.inf if name in self.numbers else "")
            if value is None
            else value.isoformat()
            if isinstance(value, date)
            else value
            for name, value in values
        )

    @cached_property
    def fields(self) -> Mapping[str, FieldInfo]:
        """The field of the model behind each header it may have, in their order."""
        return {field.alias or name: field for name, field in self.model.model_fields.items() if name != "at"}

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """The headers it may have, in their order."""
        return tuple(self.fields)

    @cached_property
    def required_columns(self) -> tuple[str, ...]:
        """The headers it must have."""
        return tuple(column for column, field in self.fields.items() if field.is_required())

    @property
    def key(self) -> str:
        """The column that others refer to: the first."""
        return self.columns[0]

    @cached_property
    def kinds(self) -> Mapping[str, frozenset[Any]]:
        """The plain types of each column: ``{"eggs": {int}, ..}``."""
        return {column: frozenset(_plain_types(field.annotation)) for column, field in self.fields.items()}

    def most(self, column: str) -> float:
        """The largest number that a cell of the column may hold."""
        return next((parser.high for parser in self._number_parsers(column)), math.inf)

    def unit(self, column: str) -> str:
        """What the numbers of a column count, such as ``degrees Celsius``; "" where it is not said."""
        return next((parser.what for parser in self._number_parsers(column)), "")

    def _number_parsers(self, column: str) -> list[NumberParser]:
        marks = _marks(self.fields[column].annotation, self.fields[column].metadata)
        return [mark for mark in marks if isinstance(mark, NumberParser)]

    def parsed(self, column: str, cell: object) -> object:
        """The value of one cell alone. Raises ValidationError where it is bad."""
        return self._parsers(column).validate_python(cell)

    @cached_property
    def _parsers(self) -> Callable[[str], TypeAdapter[Any]]:
        @cache
        def parser(column: str) -> TypeAdapter[Any]:
            field = self.fields[column]
            kind: Any = field.annotation
            marked: Any = Annotated
            return TypeAdapter(marked[kind, *field.metadata] if field.metadata else kind)

        return parser

    @cached_property
    def numbers(self) -> frozenset[str]:
        """The columns that hold numbers."""
        return frozenset(column for column, kinds in self.kinds.items() if kinds & {int, float, Decimal})

    @cached_property
    def fractions(self) -> frozenset[str]:
        """Those of them that need not be whole."""
        return frozenset(column for column in self.numbers if self.kinds[column] & {float, Decimal})

    @cached_property
    def days(self) -> frozenset[str]:
        """The columns that hold days."""
        return frozenset(column for column, kinds in self.kinds.items() if date in kinds)

    @cached_property
    def notes(self) -> frozenset[str]:
        """The columns of free text that may run over several lines."""
        return frozenset(
            column
            for column, field in self.fields.items()
            if any(isinstance(mark, BeforeValidator) and mark.func is parse_note for mark in field.metadata)
        )


def _marks(annotation: Any, metadata: Iterable[Any] = ()) -> list[Any]:
    """What parses the cells of a field, within the kinds it may be of."""
    if get_origin(annotation) is Annotated:
        kind, *metadata = get_args(annotation)
        return _marks(kind, metadata)
    parts = get_args(annotation) if get_origin(annotation) in (Union, types.UnionType) else ()
    return [*(getattr(mark, "func", mark) for mark in metadata), *(m for part in parts for m in _marks(part))]


def _plain_types(annotation: Any) -> list[Any]:
    if get_origin(annotation) is Annotated:
        return _plain_types(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        return [kind for part in get_args(annotation) for kind in _plain_types(part)]
    return [annotation]


TABLES = (
    Table("species", Species, "species", ("species",), required=True),
    Table("lots", Lot, "lots", ("lot",), required=True),
    Table("inspections", Look, "looks", ("lot", "on")),
    Table("orders", OrderRow, "order_rows", ("order",), required=True),
    Table("services", Service, "services", ("service", "to"), required=True),
    Table("postage", Postage, "postage", ("service", "to", "up_to_g", "up_to_mm"), required=True),
    Table("zones", Zone, "zones", ("zone",)),
    Table("packings", Packing, "packings", ("packing",), required=True),
    Table("boxes", Box, "boxes", ("box",)),
    Table("rules", Rule, "rules", RULE_ORDER, required=True),
    Table("weather", Weather, "weather", ("to", "month", "from_", "until")),
    Table("disruptions", Disruption, "disruptions", DISRUPTION_ORDER),
    Table("groups", Group, "groups", ("group",)),
    Table("arrivals", Arrival, "arrivals", ("parcel", "line")),
    Table("learned", RateRow, "rates", ("what", "for_", "from_day")),
)
TABLE_BY_NAME: Mapping[str, Table] = {table.name: table for table in TABLES}
ORDER_COLUMNS = TABLE_BY_NAME["orders"].columns
#: Names that shelves made before gave to tables, each with its name of today.
FORMER_TABLES: Mapping[str, str] = {"rates": "learned"}


@dataclass(frozen=True, kw_only=True)
class _Tables:
    """The tables whose rows are the same before and after the checks."""

    today: date
    lots: tuple[Lot, ...] = ()
    looks: tuple[Look, ...] = ()
    services: tuple[Service, ...] = ()
    postage: tuple[Postage, ...] = ()
    packings: tuple[Packing, ...] = ()
    boxes: tuple[Box, ...] = ()
    rules: tuple[Rule, ...] = ()
    weather: tuple[Weather, ...] = ()
    disruptions: tuple[Disruption, ...] = ()
    groups: tuple[Group, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    rates: tuple[RateRow, ...] = ()

    @cached_property
    def lot_by_name(self) -> Mapping[str, Lot]:
        return {lot.lot: lot for lot in self.lots}

    @cached_property
    def looks_by_lot(self) -> Mapping[str, tuple[Look, ...]]:
        """The looks at each lot that has any, oldest first."""
        looks = grouped((look.lot, look) for look in self.looks)
        return {lot: tuple(sorted(of_lot, key=lambda look: look.on)) for lot, of_lot in looks.items()}


@dataclass(frozen=True, kw_only=True)
class Draft(_Tables):
    """The rows that could be read, table by table.

    ``names`` holds the keys of all rows of a table, those with mistakes too; a table is in ``complete`` if it
    was read to its end (or is absent and may be), so that a name missing there is really missing; ``failed``
    holds the keys of its rows with mistakes. ``packed`` and ``came_back`` are days and eggs that the ledger
    says were packed and came back, by lot.
    """

    settings: Settings | None
    names: Mapping[str, frozenset[str]]
    complete: frozenset[str]
    failed: Mapping[str, frozenset[str]] = field(default_factory=dict)
    species: tuple[Species, ...] = ()
    order_rows: tuple[OrderRow, ...] = ()
    packed: Mapping[str, Mapping[date, int]] = field(default_factory=dict)
    came_back: Mapping[str, tuple[tuple[date, int], ...]] = field(default_factory=dict)
    zones: tuple[Zone, ...] = ()

    @cached_property
    def species_by_name(self) -> Mapping[str, Species]:
        return {species.species: species for species in self.species}

    @cached_property
    def rows_by_order(self) -> Mapping[str, list[OrderRow]]:
        """The rows of each order, as they stand."""
        return grouped((row.order, row) for row in self.order_rows)

    @cached_property
    def first_rows(self) -> tuple[OrderRow, ...]:
        """The first row of each order that has all that any of its rows says of the whole."""
        return tuple(map(whole_row, self.rows_by_order.values()))

    @cached_property
    def choosy_rows(self) -> tuple[OrderRow, ...]:
        """The rows of orders that name a population, or what may go instead."""
        return tuple(row for row in self.order_rows if row.population or row.instead)

    @cached_property
    def zone_countries(self) -> Mapping[str, tuple[str, ...]]:
        return {zone.zone: zone.countries for zone in self.zones}

    def countries_of(self, place: str) -> tuple[str, ...]:
        """The countries of a place: of a zone all, of a part of a country that one."""
        return self.zone_countries.get(place, (place.partition("-")[0],))

    def knows_fish(self, name: str) -> bool:
        """Is it a key of the species table? A row of another fish is told of by itself."""
        return name in self.names.get("species", frozenset())

    def lacks(self, table: str, name: str) -> bool:
        """Is there surely no row of that name?"""
        return table in self.complete and name not in self.names.get(table, frozenset())


@dataclass(frozen=True, kw_only=True)
class Shelf(_Tables):
    """Immutable, and the same whatever the order of rows: every table is sorted by its key.

    ``packed`` is what the ledger says has left each lot since its count (lot -> day -> eggs); empty without a
    ledger. ``held`` (lot -> day -> eggs) are to leave it on that day or are not to go at all,
    ``held_for`` (lot -> names) in these parcels.
    ``packed_between`` (lot -> eggs) was packed after the lot's own count and before a recount of that very
    day; ``came_back`` are the days on which eggs came back, by lot, and how many. ``populations`` are
    species as rates describe one of their populations, by "species/population". ``cancelled`` are the lines
    (order, number) of rows with a day of cancelling, which are in no order. ``parcels_made`` are parcels
    already packed for a day, which count against its limit. ``notices`` are the problems that stop nothing
    or one lot only; ``lots_stopped`` are those lots, each with the first problem that leaves it out (code
    ``recount`` or ``closed``). ``is_partly_read``: rows that cannot be read were left out, so that what is
    not here may stand in the tables.
    """

    settings: Settings
    species: Mapping[str, Species]
    orders: tuple[Order, ...]
    zones: Mapping[str, frozenset[str]] = field(default_factory=dict)
    packed: Mapping[str, Mapping[date, int]] = field(default_factory=dict)
    held: Mapping[str, Mapping[date, int]] = field(default_factory=dict)
    held_for: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    packed_between: Mapping[str, int] = field(default_factory=dict)
    came_back: Mapping[str, tuple[tuple[date, int], ...]] = field(default_factory=dict)
    parcels_made: Mapping[date, int] = field(default_factory=dict)
    populations: Mapping[str, Species] = field(default_factory=dict)
    notices: tuple[Problem, ...] = ()
    lots_stopped: Mapping[str, Problem] = field(default_factory=dict)
    cancelled: frozenset[tuple[str, int]] = frozenset()
    is_partly_read: bool = False

    def lots_of(self, species: str, population: str = "") -> tuple[Lot, ...]:
        """The lots of a species, and of that population where one is named, whatever its case."""
        return self._lots_by_kind.get((species, population.casefold()), ())

    @cached_property
    def _lots_by_kind(self) -> Mapping[tuple[str, str], tuple[Lot, ...]]:
        populations = ((lot, {"", lot.population.casefold()}) for lot in self.lots)
        by_kind = grouped(((lot.species, name), lot) for lot, names in populations for name in names)
        return {kind: tuple(lots) for kind, lots in by_kind.items()}

    def place_of(self, to: str, orders: Iterable[str]) -> tuple[str, str]:
        """Where in a country a parcel of these orders goes, as `Order.place` has it."""
        known = (self.order_by_name[name].place for name in orders if name in self.order_by_name)
        return next((place for place in known if place[0] == to), (to, ""))

    def zones_of(self, country: str) -> tuple[str, ...]:
        """The zones that a country lies in, by name."""
        return self._zones_by_country.get(country, ())

    @cached_property
    def _zones_by_country(self) -> Mapping[str, tuple[str, ...]]:
        by_country = grouped((country, zone) for zone in sorted(self.zones) for country in self.zones[zone])
        return {country: tuple(zones) for country, zones in by_country.items()}

    def species_of(self, species: str, population: str) -> Species:
        """The species, as rates describe that population where they do."""
        return self.populations.get(f"{species}/{population}", self.species[species])

    @cached_property
    def packing_by_name(self) -> Mapping[str, Packing]:
        return {packing.packing: packing for packing in self.packings}

    @cached_property
    def box_by_name(self) -> Mapping[str, Box]:
        return {box.box: box for box in self.boxes}

    @cached_property
    def order_by_name(self) -> Mapping[str, Order]:
        return {order.order: order for order in self.orders}
