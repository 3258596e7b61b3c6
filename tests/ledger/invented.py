"""An invented shelf, and outcomes drawn from known truths with a fixed seed."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from shipping.learning.losses import Losses
from shipping.learning.outcomes import Outcome
from shipping.ledger.entries import Bought
from shipping.tables.rows.learned import Arrival, RateRow
from shipping.tables.rows.lots import Look, Lot
from shipping.tables.rows.packings import Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.settings import Settings
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf

TODAY = date(2026, 11, 30)
TUBE = Packing(
    packing="tube",
    kind="tube",
    media="water",
    eggs_max=30,
    hatch_ceiling=0.01,
    loss_handling=0.03,
    loss_per_day=0.01,
)
BAG = Packing(
    packing="bag",
    kind="damp bag",
    media="water moss",
    eggs_max=40,
    hatch_ceiling=0.05,
    loss_handling=0.02,
    loss_per_day=0.005,
)
LETTER = Service(
    service="letter",
    to="*",
    early_d=1,
    usual_d=2,
    late_d=5,
    hand_over="Mon-Fri",
    border_share=0.2,
    border_early_d=2,
    border_usual_d=4,
    border_late_d=9,
)
GARDNERI = Species(
    species="gardneri",
    scientific_name="Fundulopanchax gardneri",
    family="Nothobranchiidae",
    incubation="water",
    hatch_early_d=12,
    hatch_usual_d=15,
    hatch_late_d=20,
    incubation_c=24,
)


def lot(name: str = "L1", **cells: Any) -> Lot:
    plain = {
        "lot": name,
        "species": "gardneri",
        "population": "Akure",
        "laid_from": date(2026, 11, 10),
        "laid_to": date(2026, 11, 12),
        "medium": "water",
        "kept_at_c": 24,
        "eggs": 100,
        "counted_on": date(2026, 11, 14),
    }
    return Lot(**{**plain, **cells})


def bought(**cells: Any) -> Bought:
    """30 eggs of gardneri sent by letter in a tube on 26 November; 28 found alive today."""
    plain: dict[str, Any] = {
        "lot": "L9",
        "arrived_on": TODAY,
        "posted_on": date(2026, 11, 26),
        "sent": 30,
        "alive": 28,
        "species": "gardneri",
        "population": "Akure",
        "laid_from": date(2026, 11, 20),
        "laid_to": date(2026, 11, 21),
        "medium": "water",
        "kept_at_c": 24.0,
        "service": "letter",
        "packing": "tube",
    }
    return Bought(**{**plain, **cells})


def rate(what: str, for_: str, value: float, from_day: date, **cells: Any) -> RateRow:
    return RateRow(**{"what": what, "for": for_, "value": value, "from_day": from_day, **cells})


def shelf(
    *,
    lots: tuple[Lot, ...] = (),
    looks: tuple[Look, ...] = (),
    rates: tuple[RateRow, ...] = (),
    arrivals: tuple[Arrival, ...] = (),
    services: tuple[Service, ...] = (LETTER,),
) -> Shelf:
    settings = Settings.model_validate(
        {
            "home": {"country": "DK"},
            "sender": {"name": "Egg Room", "address": ["Havnegade 1", "8000 Aarhus C"]},
        }
    )
    return Shelf(
        today=TODAY,
        settings=settings,
        species={"gardneri": GARDNERI},
        lots=lots,
        looks=looks,
        orders=(),
        services=services,
        postage=(),
        packings=(TUBE, BAG),
        rules=(),
        rates=rates,
        arrivals=arrivals,
    )


def outcome(number: int, **cells: Any) -> Outcome:
    plain: dict[str, Any] = {
        "parcel": f"2026-W40-{number:05d}",
        "order": f"S{number}",
        "line": 1,
        "species": "gardneri",
        "population": "Akure",
        "packing": "tube",
        "medium": "water",
        "service": "letter",
        "to": "DK",
        "region": "",
        "sent_on": date(2026, 9, 28),
        "arrived_on": date(2026, 9, 30),
        "ordered": 20,
        "packed": 24,
        "p_enough": 0.95,
        "other_share": 1.0,
        "hatch_share": 1.0,
        "fertile_known": True,
        "living": 22,
    }
    return Outcome(**{**plain, **cells})


def drawn(
    count: int, truth: Losses, seed: int, other_share: float = 0.998, **cells: Any
) -> tuple[Outcome, ...]:
    """Outcomes whose living eggs are beta-binomial with the truth's losses, 1 to 8 days on the way."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        days = int(rng.integers(1, 9))
        packed = int(rng.integers(12, 40))
        v = float(np.exp(-truth.loss_handling - truth.loss_per_day * days)) * other_share
        share = rng.beta(v * truth.kappa, (1 - v) * truth.kappa)
        sent_on = date(2026, 9, 28) + timedelta(days=int(rng.integers(0, 5)))
        found.append(
            outcome(
                number,
                packed=packed,
                ordered=int(packed * 0.8),
                living=int(rng.binomial(packed, share)),
                sent_on=sent_on,
                arrived_on=sent_on + timedelta(days=days),
                other_share=other_share,
                hatch_share=other_share,
                **cells,
            )
        )
    return tuple(found)
