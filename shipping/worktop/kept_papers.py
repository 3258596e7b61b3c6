"""The papers of kept parcels as the page gives them: in one file, without names where it hides them."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from shipping.ledger.kept_papers import PaperTables, parcel_for_papers
from shipping.papers.writing import write_papers
from shipping.week.plan_data import Parcel, Plan, Proof
from shipping.worktop.kept_week import Kept
from shipping.worktop.page_language import shown_name
from shipping.worktop.shelf_state import ShelfState


def papers_of(shelf_state: ShelfState, kept: Sequence[Kept], week: str, *, whole_day: bool) -> bytes:
    """One PDF of everything to print for one parcel, or for several in packing order with their pick list.
    Raises ShelfProblems if a parcel's papers cannot be set any more, or a text cannot be printed.
    """
    shelf = shelf_state.readable_tables().known
    with shelf_state.lock:
        parcels = tuple(shown_parcel(shelf_state, parcel) for parcel in kept)
    items = {parcel.name: parcel.parcel.item for parcel in kept if parcel.parcel.item}
    plan = Plan(week, shelf.today, parcels, (), (), Proof(0.0, 0.0, 0.0, 0.0))
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        only = None if whole_day else kept[0].name
        made = write_papers(
            plan, shelf, folder, parcel=only, items=items, shelf_folder=shelf_state.folder, processes=1
        )
        place = "print" if whole_day else "parcels"
        printed = [path for path in made if path.parent.name == place and not path.stem.endswith("-labels")]
        return printed[0].read_bytes()


def shown_parcel(shelf_state: ShelfState, kept: Kept) -> Parcel:
    """The parcel for its papers; names are hidden where the page hides them."""
    tables = shelf_state.readable_tables()
    known = PaperTables(tables.reckoner, tables.counted, kept.orders)
    parcel = parcel_for_papers(known, kept.parcel, kept.facts, shelf_state.today_of())
    address = replace(parcel.address, addressee=shown_name(parcel.address.addressee))
    return replace(parcel, address=address, tel=shown_name(parcel.tel, ""), mail=shown_name(parcel.mail, ""))
