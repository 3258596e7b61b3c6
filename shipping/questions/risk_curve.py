"""The share of a lot that would hatch on the way, by dispatch day: the answer of `ask` in, lines of a curve
out.

How it is drawn is left to others; every figure is the one `ask` shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from shipping.questions.can_it_ship import Asked, Reply
from shipping.tables.rows.packings import KIND_BY_WORD
from shipping.words.reasons import Verdict
from shipping.words.sentence import say
from shipping.words.units import percent, rounded, short_day, told, weekday

#: More lines than these say nothing more to the eye.
MOST_LINES = 6
#: Bars on a terminal are so wide.
BAR_WIDTH = 40


@dataclass(frozen=True, slots=True)
class Point:
    """One dispatch day: the share that hatches on the way, and whether any of the packings may go."""

    day: date
    h_per_egg: float
    may_go: bool


@dataclass(frozen=True, slots=True)
class CurveLine:
    """One service with the packings that share its curve; ``ceilings`` is (kind of them, share allowed)."""

    service: str
    packings: tuple[str, ...]
    ceilings: tuple[tuple[str, float], ...]
    points: tuple[Point, ...]

    @property
    def kinds(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(kind for kind, _ in self.ceilings))

    @property
    def words(self) -> str:
        return f"{self.service}, {' or '.join(self.packings)}"

    @property
    def is_worth_showing(self) -> bool:
        """Is any day under any of its ceilings?"""
        most = max(ceiling for _, ceiling in self.ceilings)
        return any(point.h_per_egg <= most for point in self.points)

    def over(self, share: float) -> tuple[str, ...]:
        """The kinds of packing whose ceiling a share passes."""
        return tuple(dict.fromkeys(kind for kind, ceiling in self.ceilings if share > ceiling))


@dataclass(frozen=True, slots=True)
class RiskCurve:
    """The curve of one lot to one country; ``unsure_from`` is the first day the lot must be looked at, if
    any.

    ``left_out`` names the lines that are not shown, for there were too many.
    """

    lot: str
    to: str
    today: date
    on: date | None
    lines: tuple[CurveLine, ...]
    unsure_from: date | None
    left_out: tuple[str, ...]

    @property
    def days(self) -> tuple[date, ...]:
        return tuple(sorted({point.day for line in self.lines for point in line.points}))

    @property
    def ceilings(self) -> tuple[tuple[float, tuple[str, ...]], ...]:
        """The ceilings, lowest first, each with the kinds of packing that allow it."""
        found: dict[float, dict[str, None]] = {}
        for line in self.lines:
            for kind, ceiling in line.ceilings:
                found.setdefault(ceiling, {})[kind] = None
        return tuple(
            (ceiling, tuple(sorted(found[ceiling], key=list(KIND_BY_WORD).index)))
            for ceiling in sorted(found)
        )

    def as_json(self) -> dict[str, object]:
        return {
            "lines": [
                {
                    "service": line.service,
                    "packings": list(line.packings),
                    "ceilings": [{"kind": kind, "hatch_ceiling": ceiling} for kind, ceiling in line.ceilings],
                    "points": [
                        {"dispatch_on": p.day.isoformat(), **told(p, "h_per_egg may_go")} for p in line.points
                    ],
                }
                for line in self.lines
            ],
            **told(self, "unsure_from left_out"),
        }


def risk_curve(reply: Reply, today: date, on: date | None = None) -> RiskCurve:
    """The curve of an answer over several days; ``on`` is a day to be marked, where one was asked for."""
    doubtful = {a.option.ride.leg.day for a in reply.options if not a.option.ride.is_known}
    known = (a for a in reply.options if a.option.ride.is_known)
    certain = [a for a in known if "closed-day" not in {reason.code for reason in a.reasons}]
    lines = sorted(
        _lines(certain),
        key=lambda line: (
            not line.is_worth_showing,
            sum(point.h_per_egg for point in line.points) / len(line.points),
            line.service,
            line.kinds,
        ),
    )
    return RiskCurve(
        lot=reply.lot,
        to=reply.to,
        today=today,
        on=on,
        lines=tuple(lines[:MOST_LINES]),
        unsure_from=min(doubtful, default=None),
        left_out=tuple(line.words for line in lines[MOST_LINES:]),
    )


def _lines(options: Iterable[Asked]) -> Iterator[CurveLine]:
    """Packings of a service with the same shares on the same days are one line."""
    by_packing: dict[tuple[str, str], list[Asked]] = {}
    for asked in options:
        ride = asked.option.ride
        by_packing.setdefault((ride.leg.service.service, ride.packing.packing), []).append(asked)
    alike: dict[tuple[str, tuple[tuple[date, float], ...]], list[list[Asked]]] = {}
    for (service, _), own in sorted(by_packing.items()):
        curve = tuple((a.option.ride.leg.day, rounded(a.option.ride.h_per_egg)) for a in own)
        alike.setdefault((service, curve), []).append(own)
    for (service, curve), group in alike.items():
        packings = [own[0].option.ride.packing for own in group]
        ceilings = {(packing.kind, packing.hatch_ceiling) for packing in packings}
        going = {a.option.ride.leg.day for own in group for a in own if a.verdict is Verdict.GO}
        points = tuple(Point(day, share, day in going) for day, share in curve)
        by_kind = sorted(ceilings, key=lambda c: (list(KIND_BY_WORD).index(c[0]), c[1]))
        yield CurveLine(service, tuple(packing.packing for packing in packings), tuple(by_kind), points)


def height(share: float) -> float:
    """How high a share stands, 0 to 1: its square root, for the ceilings lie in the lowest twentieth."""
    return math.sqrt(max(0.0, share))


def curve_lines(curve: RiskCurve) -> Iterator[str]:
    """The curve as plain bars for a terminal, a block for each line."""
    yield f"Lot {curve.lot} to {curve.to}: share hatching on the way per egg, by dispatch day"
    yield "(bars on a square-root scale, full width 100 %; | is a packing's ceiling; * may go)"
    for line in curve.lines:
        allowed = ", ".join(f"{kind} allows {percent(ceiling)}" for kind, ceiling in line.ceilings)
        yield ""
        yield f"{line.words}: {allowed}"
        marks = {min(BAR_WIDTH - 1, round(BAR_WIDTH * height(ceiling))) for _, ceiling in line.ceilings}
        for point in line.points:
            long = max(round(BAR_WIDTH * height(point.h_per_egg)), 1 if point.h_per_egg > 0 else 0)
            bar = "".join("|" if n in marks else "#" if n < long else "." for n in range(BAR_WIDTH))
            over = line.over(point.h_per_egg)
            words = f"over the ceiling of {' and '.join(over)}" if over else "under every ceiling"
            sign = "*" if point.may_go else " "
            asked = "  <- the day asked for" if point.day == curve.on else ""
            yield (
                f"  {sign} {weekday(point.day)} {point.day}  {bar}  {percent(point.h_per_egg):>11} "
                f" {words}{asked}"
            )
    yield from curve_notes(curve)


def curve_notes(curve: RiskCurve) -> Iterator[str]:
    """What a reader should know of days and lines that are not there."""
    if curve.unsure_from:
        yield say(
            "From {day} the lot must be looked at first: no share is shown.", short_day(curve.unsure_from)
        )
    if curve.left_out:
        yield say("Not shown: {lines}.", "; ".join(curve.left_out))


def no_curve_text(reply: Reply) -> str:
    """Why an answer has no curve: its first reason, or that no day is posted."""
    why = next(iter(reply.reasons), say("No day of the next two weeks is posted."))
    return say("Lot {lot} to {to} has no curve to draw: {why}", reply.lot, reply.to, why)
