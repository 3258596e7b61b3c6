"""The commands for claims and for eggs bought in: facts side by side and entries of the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Argument, Option

from shipping.cli.global_options import (
    Edge,
    day_of,
    folder_of,
    number_option,
    one_of,
    opened,
    path_option,
    place_of,
    print_answer,
    shelf_of,
    whole_names,
    wrong,
)
from shipping.cli.ledger import told_entry
from shipping.words.problems import ShelfProblems, lines_by_cause

if TYPE_CHECKING:
    from shipping.ledger.claims import Case
    from shipping.ledger.kept_parcel import KeptParcel
    from shipping.ledger.ledger import Ledger
    from shipping.tables.shelf import Shelf


def claim(
    context: typer.Context,
    parcel: Annotated[str | None, Argument(help="The parcel; none lists every case.")] = None,
    line: Annotated[str, Option(help="ORDER:LINE, where the parcel has several.")] = "",
    about: Annotated[str, Option(help="Open a claim: short, hatched, late, lost or returned.")] = "",
    settle: Annotated[str, Option(help='How it ended: "send again", refund or nothing.')] = "",
    eggs: Annotated[int, Option(min=0, max=100_000, help="Eggs to send again; else those that are due.")] = 0,
    amount: Annotated[str, Option(help="Money given back, such as 12.50.")] = "",
    photo: Annotated[Path | None, path_option("Is this the photo taken at packing?")] = None,
    note: Annotated[str, Option(help="What the buyer said.")] = "",
) -> None:
    """Short, hatched, lost or returned parcels as cases, facts side by side; settle one. Example: spawnpost
    claim 2026-W49-01 --settle refund
    """

    edge: Edge = context.obj
    shelf = shelf_of(edge)
    if parcel is None and (line or about or settle or photo):
        raise wrong("claim", "No parcel is named.", "Write its name after claim, such as 2026-W49-01.")
    facts: dict[str, object] = {}
    lines: list[str] = []
    with opened(edge) as ledger:
        if parcel is not None:
            (parcel,) = whole_names(ledger.parcel_names(), (parcel,), edge.today)
        kept = ledger.parcels() if parcel is None else (ledger.parcel(parcel),)
        if photo is not None:
            facts["photo_matches"] = is_it = _is_photo_of(photo, kept[0])
            what = "the photo" if is_it else "NOT the photo"
            lines.append(f"{photo} is {what} whose digest was kept at packing.")
        if about or settle:
            facts["entries"] = _recorded(ledger, kept[0], shelf, line, about, settle, eggs, amount, note)
            lines += [f"Note: {notice}" for notice in ledger.notes()]
            kept = (ledger.parcel(kept[0].parcel),)
        cases = _cases(kept, shelf, line)
        orders = {order.order for order in shelf_of(edge).orders}
        stuck = [owed for owed in ledger.waiting_owed() if owed.order not in orders]
    facts["cases"] = [case.as_json() for case in cases]
    facts["stuck"] = [owed.order for owed in stuck]
    lines += [text for case in cases for text in (*case.lines(), "")]
    if not cases:
        lines.append("No line came short or hatched, and none is claimed for.")
    lines += [
        f"{owed.order} cannot go: put the rows of order {owed.of[0]} back as they were." for owed in stuck
    ]
    print_answer(edge, facts, lines)


def _cases(kept: Iterable[KeptParcel], shelf: Shelf, line: str) -> tuple[Case, ...]:
    from shipping.ledger.claims import cases

    every = cases(kept, shelf.settings.claims, shelf)
    return tuple(case for case in every if line in ("", f"{case.order}:{case.line}"))


def _is_photo_of(photo: Path, kept: KeptParcel) -> bool:
    from shipping.cli.typed_counts import photo_digest

    if kept.photo_sha256 is None:
        mend = "Take one at packing: spawnpost pack P --photo."
        raise wrong("--photo", f"No photo was kept with parcel {kept.parcel}.", mend)
    return photo_digest(photo) == kept.photo_sha256


def _recorded(
    ledger: Ledger,
    kept: KeptParcel,
    shelf: Shelf,
    line: str,
    about: str,
    settle: str,
    eggs: int,
    amount: str,
    note: str,
) -> list[int]:
    """The numbers of the entries recorded: a claim opened where none is, settled where asked for."""
    from shipping.ledger.claims import CLAIMS, ENDINGS, record_claim

    key = _line_meant(kept, shelf, line)
    ending = (settle or "").replace("-", " ")
    if ending and ending not in ENDINGS:
        mend = f"Write one of: {', '.join(ENDINGS)}."
        raise wrong("--settle", f"There is no way to settle '{settle}'.", mend)
    if about:
        one_of(about, CLAIMS, "claim")
    case = next((case for case in _cases((kept,), shelf, "") if (case.order, case.line) == key), None)
    recorded = record_claim(ledger, kept.parcel, key, case, about, ending, eggs, amount, note, shelf)
    return [entry.seq for entry in recorded]


def _line_meant(kept: KeptParcel, shelf: Shelf, line: str) -> tuple[str, int]:
    """The line named, or the only one there is, or the only one that makes a case."""
    if line:
        named = {f"{line.order}:{line.line}": line.key for line in kept.lines}
        return named[one_of(line, named, "line")]
    keys = [line.key for line in kept.lines]
    if len(keys) > 1:
        keys = [(case.order, case.line) for case in _cases((kept,), shelf, "")]
    if len(keys) != 1:
        names = ", ".join(f"{line.order}:{line.line}" for line in kept.lines)
        raise wrong("--line", f"Parcel {kept.parcel} has several lines.", f"Name one of {names}.")
    return keys[0]


def buy(
    context: typer.Context,
    lot: Annotated[str, Argument(help="The new lot's name.")],
    species: Annotated[str, Option(help="The species, by its key in your table.")],
    sent: Annotated[int, Option(min=1, max=1_000_000, help="Eggs sent, extra eggs too.")],
    alive: Annotated[int, Option(min=0, max=1_000_000, help="Eggs found alive; they become the lot.")],
    laid_from: Annotated[str, Option(help="The first day they may have been laid.")],
    medium: Annotated[str, Option(help="water, moss, peat or coir: what they are kept in now.")],
    kept_at: Annotated[float, number_option(None, None, "Degrees C at which they are kept now.")],
    laid_to: Annotated[str, Option(help="The last day; else the first.")] = "",
    population: Annotated[str, Option(help="Locality or collection code.")] = "",
    stage: Annotated[str, Option(help="laid, fertile, eyed or ready, as seen on arrival.")] = "",
    hatched: Annotated[int | None, Option(min=0, help="Fry found alive.")] = None,
    dead: Annotated[int | None, Option(min=0, help="Dead eggs found.")] = None,
    arrived: Annotated[str | None, Option(help="The day they arrived; else today.")] = None,
    posted: Annotated[
        str | None, Option(help="The day they were posted; it teaches the service's days.")
    ] = None,
    service: Annotated[str, Option(help="The service, if it is one of yours.")] = "",
    packing: Annotated[str, Option(help="The packing, if it is like one of yours.")] = "",
    origin: Annotated[str, Option(help="The country they came from; else home.")] = "",
    from_whom: Annotated[str, Option("--from", help="Who sold them; personal, and can be erased.")] = "",
    keep_back: Annotated[int, Option(min=0, help="Eggs of it that are not for sale.")] = 0,
    note: Annotated[str, Option(help="Anything else.")] = "",
) -> None:
    """Record eggs bought in: they become a lot. Example: spawnpost buy B-01 --species gardneri ..."""
    from shipping.ledger.added_rows import shown_lot
    from shipping.ledger.entries import Bought
    from shipping.ledger.whole_shelf import problems_of_lot, said_of_bought
    from shipping.tables.list_words import meant_in_list
    from shipping.tables.one_spelling import fish_names
    from shipping.tables.rows.lots import DAMP_MEDIA, STAGES

    edge: Edge = context.obj
    first = day_of(edge, laid_from, "--laid-from")
    arrived_on = day_of(edge, arrived, "--arrived") or edge.today
    shelf = shelf_of(edge)
    bought = Bought(
        lot=lot,
        arrived_on=arrived_on,
        sent=sent,
        alive=alive,
        species=fish_names(shelf.species.values()).key_of(species) or species,
        population=population,
        laid_from=first or arrived_on,
        laid_to=day_of(edge, laid_to or laid_from, "--laid-to") or arrived_on,
        medium=meant_in_list(medium, ("water", *DAMP_MEDIA)) or medium,
        kept_at_c=kept_at,
        stage=meant_in_list(stage, STAGES) or stage,
        keep_back=keep_back,
        posted_on=day_of(edge, posted, "--posted"),
        hatched_alive=hatched,
        dead=dead,
        origin=place_of(origin, "--origin")[:2] if origin else "",
        service=service,
        packing=packing,
        from_whom=from_whom,
        note=note,
    )
    if problems := problems_of_lot(folder_of(edge), edge.today, bought):
        raise ShelfProblems(problems)
    with opened(edge, create=True) as ledger:
        entry = ledger.buy(bought, shelf)
        facts, lines = told_entry(ledger, entry.seq)
    told = lines_by_cause(said_of_bought(folder_of(edge), edge.today, entry.seq), "Note: ")
    print_answer(edge, facts, [*lines, *shown_lot(bought), *told])
