"""All tables of one working folder, cross-checked once; after this nothing is re-checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from shipping.tables.rows.learned import Arrival, RateRow
from shipping.tables.rows.lots import Group, Look, Lot
from shipping.tables.rows.orders import Order
from shipping.tables.rows.packings import Box, Packing
from shipping.tables.rows.rules import Rule
from shipping.tables.rows.services import Postage, Service
from shipping.tables.rows.settings import Settings
from shipping.tables.rows.species import Species
from shipping.tables.rows.weather import Disruption, Weather
from shipping.words.problems import Problem


@dataclass(frozen=True)
class Shelf:
    """Immutable, and the same whatever the order of rows: every table is sorted by its key.

    ``packed`` is what the ledger says has left each lot since its count (lot -> day -> eggs); empty without a
    ledger. ``packed_between`` (lot -> eggs) was packed after the lot's own count and before a recount of that
    very day. ``populations`` are species as rates describe one of their populations, by "species/population".
    ``cancelled`` are the lines (order, number) of rows with a day of cancelling, which are in no order.
    ``parcels_made`` are parcels already packed for a day, which count against its limit. ``notices`` are the
    problems that stop nothing or one lot only; ``lots_stopped`` are those lots, each with the first problem
    that leaves it out (code ``recount`` or ``closed``).
    """

    today: date
    settings: Settings
    species: Mapping[str, Species]
    lots: tuple[Lot, ...]
    looks: tuple[Look, ...]
    orders: tuple[Order, ...]
    services: tuple[Service, ...]
    postage: tuple[Postage, ...]
    packings: tuple[Packing, ...]
    rules: tuple[Rule, ...]
    zones: Mapping[str, frozenset[str]] = field(default_factory=dict)
    boxes: tuple[Box, ...] = ()
    weather: tuple[Weather, ...] = ()
    disruptions: tuple[Disruption, ...] = ()
    groups: tuple[Group, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    rates: tuple[RateRow, ...] = ()
    packed: Mapping[str, Mapping[date, int]] = field(default_factory=dict)
    packed_between: Mapping[str, int] = field(default_factory=dict)
    parcels_made: Mapping[date, int] = field(default_factory=dict)
    populations: Mapping[str, Species] = field(default_factory=dict)
    notices: tuple[Problem, ...] = ()
    lots_stopped: Mapping[str, Problem] = field(default_factory=dict)
    cancelled: frozenset[tuple[str, int]] = frozenset()

    @cached_property
    def lot_by_name(self) -> Mapping[str, Lot]:
        return {lot.lot: lot for lot in self.lots}

    def lots_of(self, species: str, population: str = "") -> tuple[Lot, ...]:
        """The lots of a species, and of that population where one is named, whatever its case."""
        return self._lots_by_kind.get((species, population.casefold()), ())

    @cached_property
    def _lots_by_kind(self) -> Mapping[tuple[str, str], tuple[Lot, ...]]:
        by_kind: dict[tuple[str, str], list[Lot]] = {}
        for lot in self.lots:
            for population in sorted({"", lot.population.casefold()}):
                by_kind.setdefault((lot.species, population), []).append(lot)
        return {kind: tuple(lots) for kind, lots in by_kind.items()}

    def zones_of(self, country: str) -> tuple[str, ...]:
        """The zones that a country lies in, by name."""
        return self._zones_by_country.get(country, ())

    @cached_property
    def _zones_by_country(self) -> Mapping[str, tuple[str, ...]]:
        by_country: dict[str, list[str]] = {}
        for zone in sorted(self.zones):
            for country in self.zones[zone]:
                by_country.setdefault(country, []).append(zone)
        return {country: tuple(zones) for country, zones in by_country.items()}

    @cached_property
    def looks_by_lot(self) -> Mapping[str, tuple[Look, ...]]:
        """The looks at each lot that has any, oldest first."""
        looks: dict[str, list[Look]] = {}
        for look in self.looks:
            looks.setdefault(look.lot, []).append(look)
        return {lot: tuple(sorted(of_lot, key=lambda look: look.on)) for lot, of_lot in looks.items()}

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
