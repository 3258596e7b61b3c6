"""What silence may mean: lines sent in; how far only bad news is told, and what promises say, out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from shipping.learning.estimate import Estimate, Floats
from shipping.learning.losses import LOSS_DOUBT
from shipping.learning.outcomes import Outcome
from shipping.tables.shelf import Shelf
from shipping.words.sentence import say
from shipping.words.three_point import Z95
from shipping.words.units import percent

#: More than this share of what was told broke a promise, where only bad news seems to be told (assumed).
_BROKEN_AT_LEAST = 0.6
#: Days on the way of a line of which nothing is told, where no other line tells them (assumed).
_USUAL_DAYS = 4
_STEP = 0.02
#: So large a share due to hatch on the way makes fry worth asking for (assumed).
FRY_DUE = 0.02


@dataclass(frozen=True, slots=True)
class Silence:
    """Lines sent by us: how many were told of, how many of those broke a promise, how many are silent."""

    told: int
    broken: int
    silent: int

    @property
    def weight(self) -> float:
        """How far silent lines are read as kept, from 0, where no more are silent than told of, towards 1.

        It never grows with what was told, so that one more bad report cannot make the others count less.
        """
        return max(0.0, (self.silent - self.told) / max(1, self.silent + self.told))

    @property
    def is_one_sided(self) -> bool:
        """Does it look as if only bad news were told?"""
        return self.weight > 0.0 and self.broken > _BROKEN_AT_LEAST * self.told

    @property
    def text(self) -> str:
        """What is known by silence, for a person; it names nobody."""
        sent = self.told + self.silent
        if not self.silent:
            return ""
        if not self.is_one_sided:
            return say(
                "Silent: {silent} of {sent} (lines that should have arrived). Ask those buyers too, also"
                " whether they count fry.",
                *(self.silent, sent),
            )
        return say(
            "{told} of {sent} lines that should have arrived were told of, and {broken} of those broke their"
            " promise: perhaps only bad news is told. So what was told counts in part: {share}, less the"
            " fewer tell. Ask some of the {silent} silent ones: if they were like those told,"
            " more eggs have to be added.",
            *(self.told, sent, self.broken, percent(1.0 - self.weight), self.silent),
        )


def fry_question(outcomes: Sequence[Outcome]) -> str:
    """Whether fry were counted, where eggs were due to hatch and reports do not tell; else ""."""
    told = [outcome for outcome in outcomes if outcome.is_reported and not outcome.was_bought]
    untold = [
        outcome for outcome in told if outcome.hatched_alive is None and outcome.hatch_share < 1.0 - FRY_DUE
    ]
    if not untold:
        return ""
    return say(
        "Lines told of without a word of fry: {silent} of {told}. Of each, more than"
        " {share} of the eggs were due to hatch on the way. Were fry counted? Ask, and"
        " record their number, 0 for none: fry nobody tells of are learned as"
        " losses.",
        *(len(untold), len(told), percent(FRY_DUE)),
    )


def silence(outcomes: Sequence[Outcome], today: date) -> Silence:
    """What was told and what not of the lines we sent that should have arrived."""
    told = [outcome for outcome in outcomes if outcome.is_reported and not outcome.was_bought]
    silent = sum(outcome.is_silent(today) for outcome in outcomes)
    return Silence(len(told), sum(outcome.held is False for outcome in told), silent)


def scale_of_promises(shelf: Shelf, outcomes: Sequence[Outcome]) -> Estimate:
    """The likeliest factor on the table's losses where a silent line means a promise kept.

    Notes
    -----
    Maximises ``sum log P(at least the eggs ordered live, or fewer)`` of the lines sent, less the prior of the
    log of the factor, normal with `LOSS_DOUBT`; the interval is the normal approximation at the maximum.
    """
    lines = [
        outcome
        for outcome in outcomes
        if (outcome.is_silent(shelf.today) or (outcome.is_reported and not outcome.was_bought))
        and outcome.packing in shelf.packing_by_name
        and outcome.packed
    ]
    if not lines:
        return Estimate.of_table(1.0)
    days = [outcome.days for outcome in lines if outcome.arrived_on]
    usual = float(np.median(days)) if days else float(_USUAL_DAYS)
    packings = [shelf.packing_by_name[outcome.packing] for outcome in lines]
    rows = []
    for outcome, packing in zip(lines, packings, strict=True):
        loss = packing.loss_handling + packing.loss_per_day * (outcome.days if outcome.arrived_on else usual)
        counts, other = (outcome.packed, outcome.ordered), round(outcome.other_share, 4)
        rows.append((*counts, loss, other, packing.kappa, outcome.held is False))
    distinct, times = np.unique(np.array(rows, dtype=float), axis=0, return_counts=True)

    def cost(x: float) -> float:
        return 0.5 * (x / LOSS_DOUBT) ** 2 - float(times @ _log_told(distinct, math.exp(x)))

    from scipy.optimize import minimize_scalar

    best = float(minimize_scalar(cost, bounds=(-2.0, 3.0), method="bounded", options={"xatol": 1e-5}).x)
    bend = (cost(best + _STEP) - 2 * cost(best) + cost(best - _STEP)) / _STEP**2
    off = Z95 / math.sqrt(max(bend, 1.0 / LOSS_DOUBT**2))
    return Estimate(math.exp(best), math.exp(best - off), math.exp(best + off))


def _log_told(rows: Floats, factor: float) -> Floats:
    """The log of the chance of what each row tells: kept, or broken (lines,)."""
    from scipy.stats import betabinom

    packed, ordered, loss, other, kappa, broken = rows.T
    v = np.clip(np.exp(-factor * loss) * other, 1e-9, 1 - 1e-9)
    kept = betabinom.sf(ordered - 1, packed, v * kappa, (1 - v) * kappa)
    return np.asarray(np.log(np.clip(np.where(broken > 0, 1 - kept, kept), 1e-12, 1.0)))
