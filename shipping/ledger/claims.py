"""A short or hatched parcel as a case: kept parcels and the seller's policy in, facts side by side out.

It says what was promised, packed and found, and what the seller's own policy says; who is right is for people.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from shipping.ledger.entries import ClaimOpened, ClaimSettled, LineReport
from shipping.ledger.kept import KeptLine, KeptParcel
from shipping.tables.settings import Claims
from shipping.words.units import percent

NOT_TOLD = "not told"


@dataclass(frozen=True, slots=True)
class Fact:
    """One row of a case: what it is about, what our records say, what the buyer says."""

    what: str
    ours: str
    theirs: str

    def as_json(self) -> dict[str, str]:
        return {"what": self.what, "ours": self.ours, "theirs": self.theirs}


@dataclass(frozen=True, slots=True)
class Case:
    """A line that came short (``short_by`` eggs), hatched (``hatched`` fry), or that the buyer claims for.

    ``state`` is new, open or settled. ``in_time`` is None where no day was told.
    """

    parcel: str
    order: str
    line: int
    about: tuple[str, ...]
    short_by: int
    hatched: int
    in_time: bool | None
    state: str
    facts: tuple[Fact, ...]
    policy: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "parcel": self.parcel,
            "order": self.order,
            "line": self.line,
            "about": list(self.about),
            "short_by": self.short_by,
            "hatched": self.hatched,
            "in_time": self.in_time,
            "state": self.state,
            "facts": [fact.as_json() for fact in self.facts],
            "policy": list(self.policy),
        }


def cases(parcels: Iterable[KeptParcel], settings: Claims) -> tuple[Case, ...]:
    """A case for every line that came short, arrived with fry, or is claimed for; by parcel and line."""
    found: list[Case] = []
    for parcel in sorted(parcels, key=lambda parcel: parcel.parcel):
        for line in parcel.lines:
            case = _case(parcel, line, settings)
            if case.about:
                found.append(case)
    return tuple(found)


def _case(parcel: KeptParcel, line: KeptLine, settings: Claims) -> Case:
    report = parcel.reports.get(line.key, LineReport(order=line.order, line=line.line))
    claims = [claim for claim in parcel.claims if (claim.order, claim.line) == line.key]
    short_by = max(0, line.ordered - report.living) if report.living is not None else 0
    hatched = report.hatched_alive or 0
    about = [word for word, is_so in (("short", short_by), ("hatched", hatched)) if is_so]
    about += sorted({claim.about for claim in claims if isinstance(claim, ClaimOpened)} - set(about))
    days = parcel.reported.get(line.key)
    in_time = (days[1] - days[0]).days <= settings.report_within_days if days else None
    state = "new" if not claims else "settled" if isinstance(claims[-1], ClaimSettled) else "open"
    return Case(
        parcel=parcel.parcel,
        order=line.order,
        line=line.line,
        about=tuple(about),
        short_by=short_by,
        hatched=hatched,
        in_time=in_time,
        state=state,
        facts=_facts(parcel, line, report, days),
        policy=_policy(about, settings),
    )


def _facts(parcel: KeptParcel, line: KeptLine, report: LineReport, days: tuple[date, date] | None) -> tuple[Fact, ...]:
    packed = parcel.packed_of(line.key)
    v = sum(draw.v_per_egg * draw.pack for draw in line.draws) / max(1, line.pack)
    h = sum(draw.h_per_egg * draw.pack for draw in line.draws) / max(1, line.pack)
    rows = [
        Fact("eggs", f"{line.ordered} ordered, {packed} packed", _counts(report)),
        Fact("alive", f"{v * packed:.1f} expected; {percent(line.p_enough)} for enough", _said(report.living)),
        Fact("hatched", f"{percent(h)} of the eggs expected on the way", _said(report.hatched_alive)),
        Fact("packed", _day(parcel.packed_on) + (", with a photo" if parcel.photo_sha256 else ""), ""),
        Fact("sent", f"{_day(parcel.sent_on)} by {parcel.service}" + (f", {parcel.item}" if parcel.item else ""), ""),
        Fact(
            "arrived",
            f"expected {_day(parcel.p50)}, at the latest {_day(parcel.p95)} (95 %)",
            _day(days[0] if days else None),
        ),
        Fact("reported", "", _day(days[1] if days else None)),
        Fact("warmth", _warmth(parcel), ""),
    ]
    return tuple(rows)


def _counts(report: LineReport) -> str:
    return ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in report.told.items()) or NOT_TOLD


def _said(count: int | None) -> str:
    return NOT_TOLD if count is None else str(count)


def _day(day: date | None) -> str:
    return day.isoformat() if day else NOT_TOLD


def _warmth(parcel: KeptParcel) -> str:
    if parcel.low_c is None or parcel.high_c is None:
        return NOT_TOLD
    return f"{parcel.low_c:.0f} to {parcel.high_c:.0f} C expected"


def _policy(about: list[str], settings: Claims) -> tuple[str, ...]:
    lines = [f"To be reported within {settings.report_within_days} days of arrival."]
    if "short" in about:
        lines.append(settings.short_policy or "The settings say nothing of short parcels (short_policy).")
    if "hatched" in about:
        lines.append(settings.hatched_policy or "The settings say nothing of hatched parcels (hatched_policy).")
    return tuple(lines)
