"""The command `offer`: what can still be sold; arguments in, words out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Option

from shipping.cli.global_options import Edge, one_of, opened_if_begun, say, shelf_now, wrong

if TYPE_CHECKING:
    from shipping.questions.offer import Place
    from shipping.tables.shelf import Shelf


def offer(
    context: typer.Context,
    to: Annotated[list[str] | None, Option(help="Only this zone or country; may be given again.")] = None,
    species: Annotated[str | None, Option(help="Only this species.")] = None,
    csv: Annotated[Path | None, Option(help="Write the offers to this CSV file too.")] = None,
    limit: Annotated[
        float | None, Option(min=0.1, help="Seconds to spend on the week's plan at the most.")
    ] = None,
    text: Annotated[bool, Option("--text", help="A short text to paste into a forum or a mail.")] = False,
) -> None:
    """What can still be sold, to where, and until which day. Example: spawnpost offer --to NORTH --species
    gardneri
    """
    from shipping.cli.print_offer import offer_csv, offer_lines
    from shipping.cli.window import Window
    from shipping.questions.offer import offer as offers_of
    from shipping.questions.offer_text import offer_text
    from shipping.tables.rows.settings import INVENTED_SENDER
    from shipping.week.objective import default_week
    from shipping.week.plan import make_plan

    edge: Edge = context.obj
    shelf = shelf_now(edge)
    if species is not None:
        one_of(species, shelf.species, "species")
    there = tuple(_place(shelf, name) for name in dict.fromkeys(to or ()))
    if csv is not None:
        _may_write(csv)
    plan = make_plan(shelf, default_week(shelf), seconds=limit)
    with opened_if_begun(edge) as ledger:
        held = dict(ledger.held_by_lot()) if ledger else {}
    offers = offers_of(shelf, plan, to=there, species=species, kept=held)
    facts = offers.as_json()
    sender = shelf.settings.sender
    if text and sender.is_invented:
        raise wrong("sender", *INVENTED_SENDER)
    lines = list(offer_text(offers, sender) if text else offer_lines(offers, Window.of_output()))
    if text:
        facts["text"] = "\n".join(lines)
    if csv is not None:
        csv.write_bytes(offer_csv(offers))
        facts["csv"] = str(csv)
        lines += [] if text or edge.quiet else ["", f"Wrote {csv}."]
    say(edge, facts, lines)


def _place(shelf: Shelf, name: str) -> Place:
    """The zone of that name, or the country, with its subdivision where one is named."""
    from shipping.options.option import Destination
    from shipping.post.countries import is_country
    from shipping.questions.offer import Place, places

    known = {place.name.casefold(): place for place in places(shelf)}
    if name.casefold() in known:
        return known[name.casefold()]
    country, _, part = name.upper().partition("-")
    if not is_country(country):
        zones = ", ".join(place.name for place in known.values())
        mend = f"Write two letters of ISO 3166, or one of: {zones}."
        raise wrong("--to", f"'{name}' is neither a zone nor a country.", mend)
    return Place(name.upper(), (Destination.of(country, part),))


def _may_write(path: Path) -> None:
    """Stops where a file stands that is no offer: tables are never written over."""
    from shipping.cli.print_offer import COLUMNS

    written = path.read_bytes().removeprefix(b"\xef\xbb\xbf") if path.is_file() else b""
    if path.exists() and not written.startswith(",".join(COLUMNS).encode()):
        raise wrong("--csv", f"{path} is there already, and is no offer.", "Name another file.")
