"""The tables of a shelf: their names, their row models, and which must be there."""

from __future__ import annotations

import math
import types
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from operator import attrgetter
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BeforeValidator

from shipping.tables.cells import Row, parse_note
from shipping.tables.rows.learned import Arrival, RateRow
from shipping.tables.rows.lots import Group, Look, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.packings import Box, Packing
from shipping.tables.rows.rules import Rule
from shipping.tables.rows.services import Postage, Service, Zone
from shipping.tables.rows.species import Species
from shipping.tables.rows.weather import Disruption, Weather

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
    def columns(self) -> tuple[str, ...]:
        """The headers it may have, in their order."""
        return tuple(field.alias or name for name, field in self.model.model_fields.items() if name != "at")

    @cached_property
    def required_columns(self) -> tuple[str, ...]:
        """The headers it must have."""
        fields = self.model.model_fields.items()
        return tuple(field.alias or name for name, field in fields if field.is_required() and name != "at")

    @property
    def key(self) -> str:
        """The column that others refer to: the first."""
        return self.columns[0]

    @cached_property
    def kinds(self) -> Mapping[str, frozenset[Any]]:
        """The plain types of each column: ``{"eggs": {int}, ..}``."""
        fields = [(field.alias or name, field.annotation) for name, field in self.model.model_fields.items()]
        return {
            column: frozenset(_plain_types(annotation)) for column, annotation in fields if column != "at"
        }

    @cached_property
    def numbers(self) -> frozenset[str]:
        """The columns that hold numbers."""
        return frozenset(column for column, kinds in self.kinds.items() if kinds & {int, float, Decimal})

    @cached_property
    def days(self) -> frozenset[str]:
        """The columns that hold days."""
        return frozenset(column for column, kinds in self.kinds.items() if date in kinds)

    @cached_property
    def notes(self) -> frozenset[str]:
        """The columns of free text that may run over several lines."""
        return frozenset(
            field.alias or name
            for name, field in self.model.model_fields.items()
            if any(isinstance(mark, BeforeValidator) and mark.func is parse_note for mark in field.metadata)
        )


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

#: Names that shelves made before gave to tables, each with its name of today.
FORMER_TABLES: Mapping[str, str] = {"rates": "learned"}
