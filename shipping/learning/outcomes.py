"""What came of each line sent or lot bought: parcels, reports and a shelf in, an outcome each out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from datetime import date
from operator import attrgetter
from typing import TYPE_CHECKING

from shipping.ledger.added_rows import FERTILE_STAGES
from shipping.ledger.disagreements import lines_by_number, reported_in
from shipping.ledger.entries import Bought, Entry, LineReport
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.lot_counts import eggs_counted
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.words.problems import ShelfProblems

if TYPE_CHECKING:
    import pandas

    from shipping.ledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Outcome:
    """One line of a parcel that was sent: what was promised, and what was found (None: not told).

    ``living``: live eggs and live fry. ``other_share``: what hatching on the way and, where no look had shown
    them fertile, infertile eggs were reckoned to leave of every egg packed; losses come on top.
    ``hatch_share``: the part of it that hatching leaves. ``fertile_known``: had a look shown them fertile?
    ``bought_from``: the country that eggs bought in came from; "" for our own parcels. ``is_lost``: it was
    given up. ``came_back``: the post returned it. ``late_on``: by when 95 in 100 such parcels arrive.
    ``part``: of the country, as the order's address tells.
    """

    parcel: str
    order: str
    line: int
    species: str
    population: str
    packing: str
    medium: str
    service: str
    to: str
    region: str
    sent_on: date
    arrived_on: date | None
    ordered: int
    packed: int
    p_enough: float
    other_share: float
    hatch_share: float
    fertile_known: bool
    low_c: float | None = None
    high_c: float | None = None
    lots: tuple[tuple[str, int], ...] = ()
    living: int | None = None
    hatched_alive: int | None = None
    dead: int | None = None
    missing: int | None = None
    bought_from: str = ""
    is_lost: bool = False
    came_back: bool = False
    late_on: date | None = None
    day_untold: bool = False
    part: str = ""

    @property
    def other_end(self) -> tuple[str, str]:
        """The place away from home: a country, and the part of it where that is known."""
        return (self.bought_from, "") if self.bought_from else (self.to, self.part)

    @property
    def was_bought(self) -> bool:
        """Did somebody else send it to us? Then we promised nothing."""
        return bool(self.bought_from)

    @property
    def is_reported(self) -> bool:
        """Was it told how many live? A line that was not is censored, never counted as lost."""
        return self.living is not None and self.arrived_on is not None

    def is_silent(self, today: date) -> bool:
        """Should its buyer have told by now, and did not? Not of one lost, returned or still under way."""
        is_due = self.late_on is None or self.late_on < today
        return is_due and not (self.was_bought or self.is_reported or self.is_lost or self.came_back)

    @property
    def days(self) -> int:
        """Whole calendar days on the way; 0 where it was not told."""
        return (self.arrived_on - self.sent_on).days if self.arrived_on else 0

    @property
    def held(self) -> bool | None:
        """Did at least the eggs ordered arrive alive? None where it was not told."""
        return None if self.living is None else self.living >= self.ordered


def outcomes(parcels: Iterable[KeptParcel], shelf: Shelf) -> tuple[Outcome, ...]:
    """An outcome for every line of every parcel sent, by parcel and line.

    Reports of the ledger come first; where a line has none there, a row of ``arrivals`` speaks for it. Such a
    row's ``line`` is the line's number within its order, or, where the parcel joins orders, its place in the
    parcel.
    """
    told = {(arrival.parcel, arrival.line): arrival for arrival in shelf.arrivals}
    sent: list[Outcome] = []
    for parcel in sorted(parcels, key=lambda parcel: parcel.parcel):
        for number, line in lines_by_number(parcel).items():
            row = told.get((parcel.parcel, number))
            report = parcel.reports.get(line.key)
            if not parcel.is_handed_over and row is None:
                continue
            outcome = _sent(parcel, line, shelf)
            if report is not None:
                outcome = _with_report(outcome, report, parcel.reported[line.key][0])
                outcome = replace(outcome, day_untold=parcel.day_untold)
            elif row is not None:
                outcome = _with_report(outcome, reported_in(row, line.key), row.arrived_on)
            sent.append(outcome)
    return tuple(sent)


def _with_report(outcome: Outcome, report: LineReport, arrived_on: date) -> Outcome:
    living = report.living
    return replace(
        outcome,
        arrived_on=max(arrived_on, outcome.sent_on),
        living=None if living is None else min(living, outcome.packed),
        hatched_alive=report.hatched_alive,
        dead=report.dead,
        missing=report.missing,
    )


def _sent(parcel: KeptParcel, line: KeptLine, shelf: Shelf) -> Outcome:
    counts = parcel.packed_from(line.key) or {draw.lot: draw.pack for draw in line.draws}
    packed = sum(counts.values())
    packing = shelf.packing_by_name.get(line.draws[0].packing) if line.draws else None
    fry_live = packing.fry_live if packing else 0.0
    hatch = other = 0.0
    for draw in line.draws:
        weight = counts.get(draw.lot, 0) / packed if packed else 0.0
        left = 1.0 - draw.h_per_egg * (1.0 - fry_live)
        fertile = 1.0 if _is_fertile(draw.stage, draw.look_first) else shelf.settings.plan.fertile_share
        hatch += weight * left
        other += weight * left * fertile
    order = shelf.order_by_name.get(line.order)
    return Outcome(
        parcel=parcel.parcel,
        order=line.order,
        line=line.line,
        species=line.species,
        population=line.population,
        packing=line.draws[0].packing if line.draws else "",
        medium=medium_of(packing) or _medium(counts, shelf),
        service=parcel.service,
        to=parcel.to,
        region=order.address.region if order else "",
        sent_on=parcel.left_on,
        arrived_on=None,
        ordered=line.ordered,
        packed=packed,
        p_enough=parcel.chance_of(line),
        other_share=other,
        hatch_share=hatch,
        fertile_known=all(_is_fertile(draw.stage, draw.look_first) for draw in line.draws),
        low_c=parcel.low_c,
        high_c=parcel.high_c,
        lots=tuple(sorted(counts.items())),
        is_lost=parcel.state == "lost",
        came_back=parcel.state == "returned",
        late_on=parcel.p95,
        part=order.address.part if order else "",
    )


def _is_fertile(stage: str, look_first: bool) -> bool:
    return look_first or stage in ("fertile", "eyed", "ready")


def medium_of(packing: Packing | None) -> str:
    """The medium in which eggs travel in a packing, or "" where it does not say one."""
    if packing and (packing.medium or len(packing.media) == 1):
        return packing.medium or packing.media[0]
    return ""


def _medium(counts: dict[str, int], shelf: Shelf) -> str:
    """The medium that most of the eggs are kept in, or "" where the tables no longer say."""
    eggs = Counter[str]()
    for lot, count in counts.items():
        if lot in shelf.lot_by_name:
            eggs[shelf.lot_by_name[lot].medium] += count
    return max(sorted(eggs), key=lambda medium: eggs[medium], default="")


def frame(outcomes: Iterable[Outcome]) -> pandas.DataFrame:
    """The reported outcomes as a table, a column a field, with ``days`` and ``held``, sorted."""
    import pandas as pd

    names = [field.name for field in fields(Outcome) if field.name != "lots"]
    reported = sorted(
        (outcome for outcome in outcomes if outcome.is_reported),
        key=attrgetter("parcel", "order", "line", "sent_on"),
    )
    columns = {name: [getattr(outcome, name) for outcome in reported] for name in (*names, "days", "held")}
    return pd.DataFrame(columns)


def all_outcomes(shelf: Shelf, ledger: Ledger) -> tuple[Shelf, tuple[Outcome, ...], tuple[KeptParcel, ...]]:
    """The shelf with the eggs packed from it, what came of lines sent and lots bought in, parcels that wait.
    Raises ShelfProblems if a row of arrivals is wrong: nothing is learned beside it.
    """
    if wrong_rows := tuple(problem for problem in shelf.notices if problem.code == "arrival"):
        raise ShelfProblems(wrong_rows)
    packed = ledger.packed_by_lot(eggs_counted(shelf))
    every = (*outcomes(ledger.parcels(), shelf), *bought_outcomes(ledger.bought_entries(), shelf))
    return replace(shelf, packed=packed), every, ledger.waiting()


def bought_outcomes(entries: Iterable[Entry], shelf: Shelf) -> tuple[Outcome, ...]:
    """An outcome for every lot bought in whose day of posting is known; by lot.

    Notes
    -----
    Nobody here forecast them, so they count in no score. Where fry were found, how many of the dead had
    hatched is not known: such a lot teaches the service's days and nothing of the packing.
    """
    bought = (entry.body for entry in entries if isinstance(entry.body, Bought) and entry.body.posted_on)
    return tuple(sorted((_outcome(lot, shelf) for lot in bought), key=lambda outcome: outcome.parcel))


def _outcome(bought: Bought, shelf: Shelf) -> Outcome:
    home = shelf.settings.home
    says_losses = not bought.hatched_alive and bought.packing
    return Outcome(
        parcel=bought.lot,
        order="",
        line=1,
        species=bought.species,
        population=bought.population,
        packing=bought.packing,
        medium=medium_of(shelf.packing_by_name.get(bought.packing)) or bought.medium,
        service=bought.service,
        to=home.country,
        region=home.subdivision,
        sent_on=bought.posted_on or bought.arrived_on,
        arrived_on=bought.arrived_on,
        ordered=bought.sent,
        packed=bought.sent,
        p_enough=0.0,
        other_share=1.0 if bought.stage in FERTILE_STAGES else shelf.settings.plan.fertile_share,
        hatch_share=1.0,
        fertile_known=bought.stage in FERTILE_STAGES,
        living=bought.alive if says_losses else None,
        hatched_alive=bought.hatched_alive,
        dead=bought.dead,
        bought_from=bought.origin or home.country,
    )
