"""An invented season: parcels whose losses come of journeys all share, of kinds of packing alike and of each
packing; reporters who tell all, only bad news or nothing; fry not told, disasters, lost parcels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from scipy import stats

from shipping.learning.losses import Losses
from shipping.learning.outcomes import Outcome
from shipping.post.transit import arrivals
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from tests.ledger.invented import BAG, LETTER, TODAY, TUBE, outcome, shelf

FOAM = TUBE.model_copy(update={"packing": "tube in foam box"})
BREATHING = TUBE.model_copy(
    update={"packing": "breathing bag", "kind": "breathing bag", "hatch_ceiling": 0.05}
)
PACKINGS = (TUBE, FOAM, BREATHING, BAG)
POST = LETTER.model_copy(update={"border_share": 0.0})
WEEKS, A_WEEK = 15, 28


@dataclass(frozen=True)
class Season:
    """A shelf of four packings, their true losses, and what was told of one season's parcels."""

    shelf: Shelf
    truth: dict[str, Losses]
    found: tuple[Outcome, ...]


def season(seed: int, used: tuple[str, ...] = ("tube",), worse: float = 1.0) -> Season:
    """Fifteen weeks of parcels in some of the packings, from one seed; ``worse``: about how many doublings
    of the table's losses the journeys bring.
    """
    rng = np.random.default_rng(seed)
    shared = rng.normal([0.7 * worse, 1.0 * worse], 0.15)
    kinds = {kind: rng.normal(0, 0.1, 2) for kind in ("tube", "breathing bag", "damp bag")}
    truth = {}
    for packing in PACKINGS:
        off = shared + kinds[packing.kind] + rng.normal(0, 0.05, 2)
        table = np.array([packing.loss_handling, packing.loss_per_day])
        truth[packing.packing] = Losses(*(table * np.exp(off)).tolist(), 18.0)
    place = replace(shelf(services=(POST,)), packings=PACKINGS)
    found = [
        _sent(rng, n, next(p for p in PACKINGS if p.packing == used[n % len(used)]), truth)
        for n in range(WEEKS * A_WEEK)
    ]
    return Season(place, truth, tuple(found))


def _sent(rng: np.random.Generator, number: int, packing: Packing, truth: dict[str, Losses]) -> Outcome:
    """One line as its buyer tells of it: all (6 of 10), only if it fell short (2 of 10), or never."""
    sent_on = date(2026, 8, 3) + timedelta(days=7 * (number // A_WEEK) + int(rng.integers(0, 4)))
    chances = arrivals(POST, sent_on, "DK", "")
    arrived_on = chances.dates[int(rng.choice(len(chances.dates), p=chances.chances))]
    packed, losses = int(rng.integers(18, 31)), truth[packing.packing]
    v = float(np.exp(-losses.loss_handling - losses.loss_per_day * (arrived_on - sent_on).days))
    living = int(rng.binomial(packed, rng.beta(v * losses.kappa, (1 - v) * losses.kappa)))
    if rng.random() < 0.01:
        living = 0  # frozen or crushed
    if rng.random() < 0.03:
        living = max(0, living - 1)  # a fry that was not counted
    made = outcome(
        number,
        packing=packing.packing,
        medium=packing.medium or packing.media[0],
        sent_on=sent_on,
        arrived_on=arrived_on,
        packed=packed,
        ordered=round(packed * 0.8),
        living=living,
    )
    teller = rng.random()
    is_told = teller < 0.6 or (teller < 0.8 and made.held is False)
    if rng.random() < 0.01:
        return replace(made, living=None, arrived_on=None, is_lost=True)
    return made if is_told else replace(made, living=None, arrived_on=None)


def true_chance(truth: Losses, pack: int, ordered: int = 20) -> float:
    """The chance that so many eggs packed today keep a promise, by the truth."""
    chances = arrivals(POST, TODAY, "DK", "")
    days = np.array([(day - TODAY).days for day in chances.dates])
    v = np.exp(-truth.loss_handling - truth.loss_per_day * days)
    kept = stats.betabinom.sf(ordered - 1, pack, v * truth.kappa, (1 - v) * truth.kappa)
    return float(chances.chances @ kept)
