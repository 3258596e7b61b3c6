"""A week's plan: a shelf and a week in, parcels, lines left out and a proof out, always verified."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from shipping.assignment.instance import Chosen, Drawn, ParcelColumn
from shipping.assignment.search import Tell
from shipping.assignment.solve import allocate
from shipping.eggs.lot_forecast import lot_forecast
from shipping.options.option import Destination, Leg, Ride
from shipping.options.option_factory import OptionFactory
from shipping.post.quote import quote
from shipping.post.transit import Holiday, moved_by
from shipping.tables.learned_values import packing_keys
from shipping.tables.rows.orders import Line, Order
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices, columns_of_choices
from shipping.week.draws import Settling, draw_of, enough, with_bench_notes
from shipping.week.left_out.queue import lines_out
from shipping.week.plan_data import Draw, LotUse, Parcel, Plan, PlannedLine, Proof, of_leg, units_packed
from shipping.week.verify import verify_plan
from shipping.words.keys import LineKey
from shipping.words.long_work import of_two_halves
from shipping.words.reasons import Reason
from shipping.words.units import percent, reckoned, weekday

#: What a species' source may call assumed and a plan rests on; its zero and its oxygen have a basis of their
#: own.
_TOPICS = ("hatch days", "spread", "temperature", "eyes show at", "keep range")
_SETTINGS = ("look_spread", "shelf_loss_per_day", "settle_d")
_LOSSES = ("loss_handling", "loss_per_day", "kappa")


def assumed_values(parcels: Iterable[Parcel], shelf: Shelf) -> tuple[str, ...]:
    """The assumed values behind some parcels, sorted: defaults that nobody set, values of species whose
    source says so, losses of packings that no arrival or row of ``learned`` taught, and climate normals.
    """
    found: set[str] = set()
    for parcel in parcels:
        found |= {f"{name} (shelf.toml)" for name in _settings(parcel, shelf)}
        found |= {f"{name} of {parcel.service}" for name in _of_service(parcel, shelf)}
        if parcel.warmth_basis == "assumed" and not _is_fetched(parcel, shelf):
            found.add(f"what a parcel to {parcel.address.country} feels")
        for draw in (draw for line in parcel.lines for draw in line.draws):
            found |= set(_of_draw(draw, shelf))
    return tuple(sorted(found))


def _services(parcel: Parcel, shelf: Shelf) -> list[Service]:
    return [row for row in shelf.services if row.service == parcel.service]


def _is_fetched(parcel: Parcel, shelf: Shelf) -> bool:
    return all(row.is_collection for row in _services(parcel, shelf))


def _settings(parcel: Parcel, shelf: Shelf) -> Iterator[str]:
    plan, warmth = shelf.settings.plan, shelf.settings.warmth
    yield from (name for name in _SETTINGS if name not in plan.model_fields_set)
    if any(draw.unfit_chance is not None for line in parcel.lines for draw in line.draws):
        yield from {"fertile_share"} - plan.model_fields_set
    if not _is_fetched(parcel, shelf):
        wanted = {"trip_spread_c"}
        if parcel.warmth_basis == "assumed":
            wanted |= {"hot_margin_c", "cold_margin_c"}
        yield from wanted - warmth.model_fields_set


def _of_service(parcel: Parcel, shelf: Shelf) -> Iterator[str]:
    for row in _services(parcel, shelf):
        if not row.is_collection:
            yield from {"exposed_h", "parcel_lost_share"} - row.model_fields_set


def _of_draw(draw: Draw, shelf: Shelf) -> Iterator[str]:
    lot, packing = shelf.lot_by_name[draw.lot], shelf.packing_by_name[draw.packing]
    species = shelf.species_of(lot.species, lot.population)
    yield from (f"{name} of {species.species}" for name in _of_species(species, packing))
    yield from (f"{name} of {packing.packing}" for name in _of_packing(packing, lot.kept_damp, shelf))


def _of_species(species: Species, packing: Packing) -> Iterator[str]:
    """Its zero and, in a sealed unit, its oxygen by their basis; the rest by what its source says of each."""
    if species.zero_basis == "assumed":
        yield "zero_c"
    if packing.is_a.is_sealed and species.o2_basis == "assumed":
        yield "o2_ug_egg_h"
    if species.is_damp and "ready_keeps_d" not in species.model_fields_set:
        yield "ready_keeps_d"
    said = dict(part.partition(":")[::2] for part in species.source.split("; "))
    yield from (topic for topic in _TOPICS if "assumed" in said.get(topic, ""))


def _of_packing(packing: Packing, damp: bool, shelf: Shelf) -> Iterator[str]:
    known = {
        row.what
        for row in shelf.rates
        if row.for_ in packing_keys(packing) and row.from_day <= shelf.today and row.basis != "assumed"
    }
    yield from (name for name in (*_LOSSES, *(("hatch_held",) if damp else ())) if name not in known)


def make_plan(
    shelf: Shelf, week: str, *, seconds: float | None = None, gap: float = 0.0, tell: Tell | None = None
) -> Plan:
    """The best plan of an ISO week, verified against the tables; ``tell`` is told of value and bound on the
    way. Raises ValueError if ``week`` is no ISO week. Raises NotAsPromised if the plan breaks a limit: our
    own mistake.
    """
    choices = Choices.of_week(OptionFactory(shelf), week)
    choices.reckon()
    chosen = _allocated(choices, seconds, gap, tell)
    plan = _PlanWriter(choices, chosen, week).plan()
    verify_plan(plan, shelf)
    return plan


def _allocated(choices: Choices, seconds: float | None, gap: float, tell: Tell | None) -> Chosen:
    """The best choice whose lines keep their promise; a line whose draws do by no count is shared no more."""
    while True:
        chosen = allocate(columns_of_choices(choices), seconds, gap, tell)
        settling = Settling(choices.factory, dict(chosen.drawn))

        def ride(key: LineKey, lot: str, drawn: Mapping[LineKey, Drawn] = chosen.drawn) -> Ride:
            return choices.ride(key, drawn[key].departure, drawn[key].packing, lot)

        unsettled = settling.settle(ride)
        if not unsettled:
            return replace(chosen, drawn=settling.drawn)
        choices.share_no_more(unsettled)


#: The draws of lines that go.
_Draws = Mapping[LineKey, tuple[Draw, ...]]


@dataclass(eq=False)
class _PlanWriter:
    """Turns what was chosen into parcels, reasons and counts."""

    choices: Choices
    chosen: Chosen
    week: str
    _holidays: dict[tuple[str, Destination, date], tuple[Holiday, ...]] = field(default_factory=dict)

    @property
    def shelf(self) -> Shelf:
        return self.choices.shelf

    def plan(self) -> Plan:
        parcels = self._parcels()
        drawn: dict[str, int] = {}
        for parcel in parcels:
            for line in parcel.lines:
                for draw in line.draws:
                    drawn[draw.lot] = drawn.get(draw.lot, 0) + draw.pack
        value, bound = self.chosen.value, self.chosen.bound
        gap = max(0.0, bound - value) / bound if bound > 0 else 0.0
        is_waited_for = len(self.chosen.drawn) < sum(len(order.lines) for order in self.shelf.orders)
        return Plan(
            week=self.week,
            today=self.shelf.today,
            parcels=parcels,
            lines_out=lines_out(self.choices, parcels) if is_waited_for else (),
            lots=tuple(self._lot_use(lot.lot, drawn.get(lot.lot, 0)) for lot in self.shelf.lots),
            proof=Proof(value, bound, gap, self._loss(parcels), self.chosen.cheapest),
            notices=self.shelf.notices,
            assumed=assumed_values(parcels, self.shelf),
        )

    def _lot_use(self, lot: str, drawn: int) -> LotUse:
        forecast = lot_forecast(self.shelf, lot)
        today = self.shelf.today
        return LotUse(lot, forecast.eggs_on(today), forecast.lot.keep_back, forecast.free_on(today), drawn)

    def _parcels(self, processes: int = 2) -> tuple[Parcel, ...]:
        """The parcels in packing order, written lot by lot: clocks are reckoned once."""
        columns = sorted(self.chosen.columns, key=self._packing_order)
        by_lot = sorted(enumerate(columns), key=lambda one: (self._lot(one[1].travel_modes[0][0]), one[0]))
        made = dict(both for part in of_two_halves(by_lot, self._some_parcels, processes) for both in part)
        return tuple(made[n] for n in range(len(columns)))

    def _packing_order(self, column: ParcelColumn) -> tuple[date, str, str, tuple[str, ...]]:
        """Day by day: what must be handed over first, then what is taken from the same lot."""
        day, service = column.departure
        offered = (row.cut_off for row in self.shelf.services if row.service == service and row.cut_off)
        lots = [lot for mode in column.travel_modes for lot, _ in self.chosen.drawn[mode[0]].draws]
        return day, min(offered, default="99:99"), min(lots), column.orders

    def _some_parcels(self, columns: Sequence[tuple[int, ParcelColumn]]) -> list[tuple[int, Parcel]]:
        draws = self._draws([travel_mode[0] for _, column in columns for travel_mode in column.travel_modes])
        made = [(n, self._parcel(f"{self.week}-{n + 1:02d}", column, draws)) for n, column in columns]
        self.choices.factory.forget_rides()
        return made

    def _lot(self, key: LineKey) -> tuple[str, str, str]:
        """The first lot drawn for a line; lots alike sort together."""
        lot = self.shelf.lot_by_name[self.chosen.drawn[key].draws[0][0]]
        return lot.species, lot.population, lot.lot

    def _draws(self, keys: Iterable[LineKey]) -> _Draws:
        """The draws of some lines that go, reckoned lot after lot."""
        drawn = {key: self.chosen.drawn[key] for key in keys}
        by_lot = sorted(
            (self._lot(key), lot, one.departure, key) for key, one in drawn.items() for lot, _ in one.draws
        )
        rides = {(key, lot): self._ride(key, lot, drawn[key]) for _, lot, _, key in by_lot}
        eggs = {key: dict(sorted(one.draws)) for key, one in drawn.items()}
        made = {
            (key, lot): draw_of(
                rides[key, lot], eggs[key][lot], self.shelf, count_first=lot in self._lots_to_count
            )
            for _, lot, _, key in by_lot
        }
        return {key: tuple(made[key, lot] for lot in eggs[key]) for key in drawn}

    @cached_property
    def _lots_to_count(self) -> frozenset[str]:
        """The lots whose old count may prove too few for all that is drawn of them."""
        drawn: dict[str, tuple[int, date]] = {}
        for one in self.chosen.drawn.values():
            for lot, eggs in one.draws:
                before, last = drawn.get(lot, (0, date.min))
                drawn[lot] = (before + eggs, max(last, one.departure[0]))
        found = ((lot_forecast(self.shelf, lot), *both) for lot, both in drawn.items())
        return frozenset(
            one.lot.lot for one, eggs, day in found if one.is_guess(day, one.free_on(day) - eggs)
        )

    def _parcel(self, name: str, column: ParcelColumn, draws: _Draws) -> Parcel:
        orders = [self.shelf.order_by_name[order] for order in column.orders]
        going = {travel_mode[0] for travel_mode in column.travel_modes}
        lines = tuple(
            self._line(order, line, self.chosen.drawn[line.key], draws[line.key])
            for order in orders
            for line in order.lines
            if line.key in going
        )
        first_line = min(going)
        leg = self._ride(first_line, draws[first_line][0].lot, self.chosen.drawn[first_line]).leg
        packed = units_packed(lines, self.shelf)
        asked = quote(self.shelf, packed, leg.service, *orders[0].place)
        rides_of = {
            (line.order, line.line): self._rides(line, self.chosen.drawn[(line.order, line.line)])
            for line in lines
        }
        lines = with_bench_notes(lines, rides_of, self.shelf, asked.box.name)
        return Parcel(
            **of_leg(leg, orders),
            parcel=name,
            dispatch_on=leg.day,
            arrive=leg.arrivals.spread,
            box=asked.box.name,
            weight_g=asked.weight_g,
            postage=asked.postage,
            lines=lines,
            thick_mm=asked.box.thick_mm,
            holidays=self._holidays_of(leg),
            bottle_ml=asked.box.bottle_ml,
            warm_h=round(asked.box.warm_h, 6),
            parcel_lost_share=leg.service.parcel_lost_share,
        )

    def _holidays_of(self, leg: Leg) -> tuple[Holiday, ...]:
        key = (leg.service.service, leg.destination, leg.day)
        if key not in self._holidays:
            to = leg.destination
            self._holidays[key] = moved_by(
                leg.service, leg.day, to.country, to.calendar_part, longer_d=leg.longer_d
            )
        return self._holidays[key]

    def _ride(self, line: tuple[str, int], lot: str, drawn: Drawn) -> Ride:
        return self.choices.ride(line, drawn.departure, drawn.packing, lot)

    def _rides(self, line: PlannedLine, drawn: Drawn) -> dict[str, Ride]:
        return {draw.lot: self._ride((line.order, line.line), draw.lot, drawn) for draw in line.draws}

    def _line(self, order: Order, line: Line, drawn: Drawn, made: tuple[Draw, ...]) -> PlannedLine:
        rides = {draw.lot: self._ride(line.key, draw.lot, drawn) for draw in made}
        draws = tuple((draw.lot, draw.pack) for draw in made)
        chance = enough(draws, rides, line.eggs)
        lot = rides[draws[0][0]].lot_day.forecast.lot
        pack = sum(eggs for _, eggs in draws)
        changed = (lot.species, lot.population) if line.key in self.choices.instead else None
        return PlannedLine(
            order=order.order,
            line=line.number,
            species=lot.species,
            population=lot.population,
            ordered=line.eggs,
            pack=pack,
            p_enough=chance,
            expected_alive=sum(draw.pack * draw.v_per_egg for draw in made),
            draws=made,
            reasons=tuple(self._why(line, made, chance, rides[draws[0][0]], changed)),
            price=line.price,
            instead_of=line.named if changed else "",
            message=line.message,
        )

    def _why(
        self, line: Line, draws: tuple[Draw, ...], chance: float, ride: Ride, changed: tuple[str, str] | None
    ) -> Iterator[Reason]:
        """Why a line goes so: what was chosen, what goes instead, who looks first, and the eggs added."""
        yield self._chosen(line, draws, ride)
        if changed:
            text = (
                f"{changed[0]} {changed[1]} goes instead of {line.species} {line.population}, as the order"
                " allows."
            )
            facts: dict[str, object] = {"ordered": line.species, "sent": changed[0]}
            yield Reason("instead", text.replace("  ", " "), facts, line.row.cited)
        if any(draw.look_first for draw in draws):
            yield _look_first(draws)
        yield self._extra(line, draws, chance, ride.packing)

    def _chosen(self, line: Line, draws: tuple[Draw, ...], ride: Ride) -> Reason:
        leg = ride.leg
        text = (
            f"Lot {' and '.join(draw.lot for draw in draws)} in {ride.packing.packing} by"
            f" {leg.service.service} on {weekday(leg.day)} {leg.day}:"
            f" hatching on the way {reckoned(draws[0].h_per_egg)} (allowed"
            f" {percent(ride.packing.hatch_ceiling)}), arrival {leg.arrivals.p50} (95 % by"
            f" {leg.arrivals.p95})."
        )
        facts: dict[str, object] = {
            "lots": [draw.lot for draw in draws],
            "packing": ride.packing.packing,
            "service": leg.service.service,
            "on": leg.day.isoformat(),
            "passing_options": self.choices.passing_options(line.key),
            "hatch_ceiling": ride.packing.hatch_ceiling,
            "warmth": ride.leg.warmth.source,
            "this_week": [f"{note.facts['source'] or note.facts['row']}" for note in leg.this_week],
        }
        if unsure := [draw.lot for draw in draws if draw.count_first]:
            text += (
                f" Count lot {' and '.join(unsure)} before packing: a good part of its last count is reckoned"
                " gone."
            )
            facts["count_first"] = unsure
        return Reason("chosen", text, facts, "plan")

    def _extra(self, line: Line, draws: tuple[Draw, ...], chance: float, packing: Packing) -> Reason:
        pack = sum(draw.pack for draw in draws)
        text = (
            f"{pack} packed for {line.eggs} ordered: {percent(draws[0].v_per_egg)} of the eggs are expected"
            f" alive, and the chance of at least {line.eggs} is {percent(chance)}."
        )
        if line.overpack == "none":
            text = (
                f"{pack} packed as ordered, without extra: the chance that all arrive alive is"
                f" {percent(chance)}."
            )
        facts: dict[str, object] = {
            "ordered": line.eggs,
            "pack": pack,
            "p_enough": round(chance, 6),
            "p_short": round(1 - chance, 6),
            "promise": self.shelf.settings.plan.promise,
            "loss_handling": packing.loss_handling,
            "loss_per_day": packing.loss_per_day,
            "kappa": packing.kappa,
        }
        return Reason("extra", text, facts, packing.cited)

    def _loss(self, parcels: tuple[Parcel, ...]) -> float:
        """The expected loss of the plan as it stands (the second goal)."""
        total = 0.0
        worth = self.choices.egg_value
        for parcel in parcels:
            box = self.shelf.box_by_name.get(parcel.box)
            total += float(parcel.postage) + (float(box.cost) if box else 0.0)
            total += sum(
                float(packing.cost) * units for packing, units in units_packed(parcel.lines, self.shelf)
            )
            for planned in parcel.lines:
                order = self.shelf.order_by_name[planned.order]
                line = order.line(planned.line)
                total += planned.extra * worth + self.choices.short_cost(line) * (1.0 - planned.p_enough)
                total += self.choices.lost_cost(line, parcel.service)
                for draw in planned.draws:
                    total += draw.pack * self.choices.later_cost(line, draw.lot)
        return total


def _look_first(draws: tuple[Draw, ...]) -> Reason:
    """That somebody has to see eyes before eggs of some of the lots are packed."""
    lots = [draw.lot for draw in draws if draw.look_first]
    text = (
        f"Nobody has seen eyes in lot {' and '.join(lots)} yet: look before packing, and pack only eggs that"
        " show them."
    )
    if unfit := max(draw.unfit_chance or 0.0 for draw in draws):
        text += (
            f" Unseen, a unit would hold an infertile egg, which funguses, with {percent(unfit)}: use small"
            " units."
        )
    return Reason("look-first", text, {"lots": lots, "unfit_chance": round(unfit, 6)}, "clock")
