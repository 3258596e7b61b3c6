"""What eggs bought in teach: entries of the ledger and a shelf in, one outcome a lot out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from shipping.learning.outcomes import Outcome, medium_of, outcomes
from shipping.ledger.claims.incoming import FERTILE_STAGES
from shipping.ledger.entries import Bought, Entry
from shipping.ledger.kept import KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.ledger.lot_counts import eggs_counted
from shipping.tables.shelf import Shelf
from shipping.words.problems import ShelfProblems


def all_outcomes(shelf: Shelf, ledger: Ledger) -> tuple[Shelf, tuple[Outcome, ...], tuple[KeptParcel, ...]]:
    """The shelf with the eggs packed from it, what came of lines sent and lots bought in, parcels that wait.

    Raises
    ------
    ShelfProblems
        If a row of arrivals is wrong: nothing is learned beside it.
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
