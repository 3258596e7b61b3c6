"""Every option considered for an order, and what ruled it out; for a person who asks why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

from shipping.options.option import Option
from shipping.options.option_factory import OptionFactory
from shipping.tables.rows.orders import Order, wish_of
from shipping.tables.rows.weather import Weather
from shipping.tables.shelf import Shelf
from shipping.week.choices import Choices
from shipping.week.plan import make_plan
from shipping.week.plan_data import LineOut, Parcel, Plan
from shipping.words.reasons import LASTING, Reason, nearest_first, over_limit
from shipping.words.units import told

#: A row of weather for so many days covers every trip of a week.
_AHEAD_D = 90


@dataclass(frozen=True)
class Considered:
    """All options of an order's lines, and where the order stands in the week's plan."""

    order: str
    week: str
    options: tuple[tuple[int, Option], ...]
    parcel: Parcel | None
    lines_out: tuple[LineOut, ...]
    service: str | None = None
    """The one service that the order names itself."""
    even_warm: tuple[tuple[int, float, tuple[Reason, ...]], ...] = ()
    """Of lines too cold on the way: the line, how cold its eggs bear [C], and what would still stop it if
    parcels there never felt colder."""

    def as_json(self) -> dict[str, object]:
        return told(self, "order week parcel lines_out") | {
            "even_warm": [
                {"line": line, "low_c": low, "reasons": [reason.as_json() for reason in reasons]}
                for line, low, reasons in self.even_warm
            ],
            "options": [_option_json(line, option) for line, option in self.options],
        }


def why(shelf: Shelf, order_name: str, week: str, plan: Plan | None = None) -> Considered:
    """Every option of an order in a week, passing ones first, then the nearest; ``plan``: if there is one."""
    order = shelf.order_by_name[order_name]
    plan = plan or make_plan(shelf, week)
    choices = Choices.of_week(OptionFactory(shelf), week)
    found = [
        (line.number, option)
        for line in order.lines
        for wish in ((line.species, line.population), *map(wish_of, line.instead))
        for option in choices.options_of(order, line, *wish, choices.days)
    ]
    lines_out = tuple(line for line in plan.lines_out if line.order == order_name)
    found.sort(key=lambda item: (item[0], *_distance(item[1])))
    return Considered(
        order=order_name,
        week=week,
        options=tuple(found),
        parcel=next((parcel for parcel in plan.parcels if order_name in parcel.orders), None),
        lines_out=lines_out,
        service=order.service,
        even_warm=tuple(_even_warm(shelf, order, lines_out, week)),
    )


def _distance(option: Option) -> tuple[object, ...]:
    """How far an option is from going: reasons, the sooner removed first, figures over limits, days."""
    reasons = sorted(option.reasons, key=lambda reason: reason.nearness)
    codes = tuple(reason.nearness for reason in reasons)
    return (len(reasons), codes, tuple(map(over_limit, reasons)), option.ride.leg.day)


def _even_warm(
    shelf: Shelf, order: Order, lines_out: tuple[LineOut, ...], week: str
) -> Iterator[tuple[int, float, tuple[Reason, ...]]]:
    """What would still stop lines too cold, were no day colder than they bear: eggs kept back hatch then."""
    for out in lines_out:
        cold = next((one for one in out.reasons if one.code == "too-cold"), None)
        if cold is None:
            continue
        there = OptionFactory(shelf).destination(order)
        low, line = float(str(cold.facts["limit_c"])), order.line(out.line)
        row = Weather.model_validate(
            {
                "to": "-".join(filter(None, (there.country, there.subdivision))),
                "from": shelf.today,
                "until": shelf.today + timedelta(days=_AHEAD_D),
                "low_c": low,
                "high_c": max(low, float(str(cold.facts["high_c"]))),
            }
        )
        mild = replace(shelf, weather=(*(one for one in shelf.weather if one.month), row))
        choices = Choices.of_week(OptionFactory(mild), week)
        options = choices.options_of(order, line, line.species, line.population, choices.days)
        blocked = [[one for one in option.blocks if one.code in LASTING] for option in options]
        nearest = min(blocked, key=len, default=[])
        if {one.code for one in nearest} - {one.code for one in out.reasons}:
            yield out.line, low, nearest_first(nearest)


def _option_json(line: int, option: Option) -> dict[str, object]:
    ride = option.ride
    return {
        "line": line,
        "lot": ride.lot_day.forecast.lot.lot,
        "packing": ride.packing.packing,
        "service": ride.leg.service.service,
        **option.figures(),
        "passes": option.passes,
        "reasons": [reason.as_json() for reason in option.reasons],
    }
