"""Answers about lots and orders in, the lines that a person reads out; no rule lives here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from shipping.questions.can_it_ship import Reply
from shipping.questions.forecast import LotOutlook
from shipping.questions.why import Considered
from shipping.week.plan_data import Dates
from shipping.words.reasons import Reason
from shipping.words.units import money_text, percent, weekday

#: A list of options is cut after so many; all are in --json.
MOST_OPTIONS = 24


def table(header: tuple[str, ...], rows: Iterable[tuple[object, ...]]) -> Iterator[str]:
    """Columns as wide as they need to be."""
    cells = [header, *(tuple("" if cell is None else str(cell) for cell in row) for row in rows)]
    widths = [max(len(row[n]) for row in cells) for n in range(len(header))]
    for number, row in enumerate(cells):
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        if number == 0:
            yield "  ".join("-" * width for width in widths)


def range_of(dates: Dates) -> str:
    """Three dates on one line: early, usual, late."""
    return " / ".join(day.strftime("%d %b") if day else "never" for day in (dates.p05, dates.p50, dates.p95))


def reasons(found: Iterable[Reason], indent: str = "    ") -> Iterator[str]:
    for reason in found:
        yield f"{indent}{reason.code}: {reason.text}"


def forecast_lines(outlooks: tuple[LotOutlook, ...]) -> Iterator[str]:
    """Stage, dates and eggs of each lot, then what to look at."""
    rows = []
    for one in outlooks:
        forecast = one.forecast
        dates = range_of(one.hatch) if forecast.has_dates else "look first"
        if forecast.lot.kept_damp and forecast.has_dates:
            start, end = one.wet_from, one.wet_until
            dates = (
                f"wet {start:%d %b %Y} to {end:%d %b %Y} ({one.wet_basis})"
                if start and end
                else "never, as kept"
            )
        ahead = " ".join(str(free) for _, _, free in one.days)
        name = f"{forecast.lot.species} {forecast.lot.population}".strip()
        mean = f"{forecast.clock.mean_degree_days(forecast.x(forecast.today)):.0f}"
        rows.append(
            (forecast.lot.lot, name, forecast.stage, mean, dates, forecast.eggs_on(forecast.today), ahead)
        )
    yield from table(
        ("lot", "species", "stage", "C-d", "hatch 5 / 50 / 95 %", "eggs", "free today and 7 days ahead"), rows
    )
    for one in outlooks:
        yield from reasons(one.doubts, "  ")


def reply_lines(reply: Reply, currency: str) -> Iterator[str]:
    """One verdict, the last safe day, every option."""
    yield f"Lot {reply.lot} to {reply.to}: {reply.verdict.value.upper()}"
    if reply.no_last_day:
        yield "Last safe day: none within 60 days ends it."
    else:
        yield f"Last safe day: {reply.last_safe_day or 'none'}; earliest: {reply.first_safe_day or 'none'}."
    yield from reasons(reply.reasons, "  ")
    yield ""
    rows = []
    ranked = sorted(reply.options, key=lambda a: (bool(a.reasons), a.option.ride.leg.day, a.cost or 0))
    for asked in ranked[:MOST_OPTIONS]:
        ride, option = asked.option.ride, asked.option
        arrivals = ride.leg.arrivals
        rows.append(
            (
                asked.verdict.value,
                f"{weekday(ride.leg.day)} {ride.leg.day}",
                ride.leg.service.service,
                ride.packing.packing,
                range_of(Dates(arrivals.p05, arrivals.p50, arrivals.p95)),
                percent(ride.h_per_egg),
                percent(option.h_any),
                percent(ride.v_per_egg),
                option.pack or "-",
                "-" if asked.cost is None else money_text(asked.cost),
                " ".join(reason.code for reason in asked.reasons),
            )
        )
    header = (
        "",
        "dispatch",
        "service",
        "packing",
        "arrives 5 / 50 / 95 %",
        "hatch/egg",
        "any",
        "alive",
        "pack",
        currency,
        "why not",
    )
    yield from table(header, rows)
    if len(ranked) > MOST_OPTIONS:
        yield f"({len(ranked) - MOST_OPTIONS} more; all of them with --json)"
    for safe in reply.safe:
        end = "no end within 60 days" if safe.no_last_day else f"until {safe.until}"
        yield f"  {safe.service}, {safe.packing}: from {safe.from_} {end}"


def why_lines(found: Considered) -> Iterator[str]:
    """Where the order stands, then every option, passing ones first."""
    if found.parcel:
        yield f"Order {found.order} goes in parcel {found.parcel.parcel} on {found.parcel.dispatch_on}."
        for line in found.parcel.lines:
            if line.order == found.order:
                yield from reasons(line.reasons, "  ")
    for out in found.lines_out:
        yield f"Order {found.order} line {out.line}: {out.verdict.value}" + (
            f", until {out.until}" if out.until else ""
        )
        yield from reasons(out.reasons, "  ")
    yield ""
    yield f"{len(found.options)} options were considered in {found.week}:"
    for number, option in found.options:
        ride = option.ride
        yield (
            f"  line {number}: lot {ride.lot_day.forecast.lot.lot}, {ride.packing.packing},"
            f" {ride.leg.service.service}, {weekday(ride.leg.day)} {ride.leg.day}: "
            + (f"passes, {option.pack} eggs, {percent(option.p_enough)}" if option.passes else "ruled out")
        )
        yield from reasons(option.reasons, "      ")
