"""The papers of kept parcels as the page gives them: in one file, without names where it hides them."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from shipping.ledger.kept_papers import PaperTables, parcel_for_papers
from shipping.papers.writing import letters_by_parcel, write_papers
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, Plan, Proof
from shipping.words.problems import ShelfProblems
from shipping.worktop.context import NotAllSet
from shipping.worktop.kept_week import Kept
from shipping.worktop.page_language import shown_name
from shipping.worktop.shelf_state import ShelfState


def papers_of(
    shelf_state: ShelfState, kept: Sequence[Kept], week: str, *, whole_day: bool, others: bool = False
) -> bytes:
    """One PDF of everything to print for one parcel, or for several in packing order with their pick list.

    Raises ShelfProblems if a parcel's papers cannot be set any more, or a text cannot be printed; where
    others of the day can, `NotAllSet`, and with ``others`` those are set without it.
    """
    shelf = shelf_state.readable_tables().known
    parcels, not_set = _settable(shelf_state, kept, shelf)
    if not_set and not (others and parcels):
        problems = tuple(problem for why in not_set.values() for problem in why.problems)
        raise NotAllSet(problems, tuple(not_set)) if parcels else ShelfProblems(problems)
    items = {parcel.name: parcel.parcel.item for parcel in kept if parcel.parcel.item}
    plan = Plan(week, shelf.today, parcels, (), (), Proof(0.0, 0.0, 0.0, 0.0))
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        only = None if whole_day else kept[0].name
        made = write_papers(
            *(plan, shelf, folder),
            parcel=only,
            items=items,
            shelf_folder=shelf_state.folder,
            processes=1,
            in_one=True,
        )
        place = "print" if whole_day else "parcels"
        return next(path for path in made if path.parent.name == place).read_bytes()


def _settable(
    shelf_state: ShelfState, kept: Sequence[Kept], shelf: Shelf
) -> tuple[tuple[Parcel, ...], dict[str, ShelfProblems]]:
    """The parcels whose papers can be set, and why the others' cannot, by name."""
    parcels, not_set = [], {}
    with shelf_state.lock:
        for parcel in kept:
            try:
                parcels.append(shown_parcel(shelf_state, parcel))
            except ShelfProblems as why:
                not_set[parcel.name] = why
    not_set |= letters_by_parcel(parcels, shelf)
    return tuple(parcel for parcel in parcels if parcel.parcel not in not_set), not_set


def shown_parcel(shelf_state: ShelfState, kept: Kept) -> Parcel:
    """The parcel for its papers; names are hidden where the page hides them."""
    tables = shelf_state.readable_tables()
    known = PaperTables(tables.factory, tables.counted, kept.orders)
    parcel = parcel_for_papers(known, kept.parcel, kept.facts, shelf_state.today_of())
    address = replace(parcel.address, addressee=shown_name(parcel.address.addressee))
    return replace(parcel, address=address, tel=shown_name(parcel.tel, ""), mail=shown_name(parcel.mail, ""))
