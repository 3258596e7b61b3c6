"""The command of the rules table: what it says and lacks, and a row dated again; arguments in, words out."""

from __future__ import annotations

from typing import Annotated

import typer
from typer import Option

from shipping.cli.global_options import Edge, folder_of, one_of, place_of, say, shelf_of, wrong

app = typer.Typer()


@app.command()
def rules(
    context: typer.Context,
    to: Annotated[str | None, Option(help="Only this country.")] = None,
    species: Annotated[str | None, Option(help="Only this species.")] = None,
    checked: Annotated[
        str | None, Option(help="The row was looked up today, in this source: date it so.")
    ] = None,
    verdict: Annotated[
        str | None, Option(help="With --checked: the answer, open, papers, closed or ask.")
    ] = None,
    papers: Annotated[str | None, Option(help="With --checked: the papers it asks for, ; between.")] = None,
    row: Annotated[
        int | None, Option(min=2, help="With --checked: the row, where several are meant.")
    ] = None,
) -> None:
    """What the rules table says, what is stale, what is missing for the orders in hand. Example: spawnpost
    rules --to DE
    """
    from shipping.cli.print_answers import rule_lines
    from shipping.cli.window import Window
    from shipping.questions.rule_report import rule_report
    from shipping.tables.editing.rule_dating import redate

    edge: Edge = context.obj
    shelf = shelf_of(edge)
    if species is not None:
        one_of(species, shelf.species, "species")
    with_source = {"--row": row, "--verdict": verdict, "--papers": papers}
    alone = next((flag for flag, given in with_source.items() if given is not None), None)
    if alone and checked is None:
        what = "says which row was looked up." if alone == "--row" else "answers a row that was looked up."
        raise wrong(alone, what, "Write it with --checked and the source.")
    spoken_of = {place for rule in shelf.rules for place in (rule.to, *rule.places)}
    place = to.strip() if to is not None else None
    if place is not None and place not in spoken_of:
        place = place_of(place, "--to")
    dated = None
    if checked is not None:
        folder = folder_of(edge)
        dated = redate(shelf, folder, checked, place, species, row, verdict=verdict, papers=papers)
    if dated is not None:
        shelf = shelf_of(edge)
    report = rule_report(shelf, place, species)
    facts = report.as_json() | ({"checked": dated.as_json()} if dated else {})
    told = (
        [] if dated and edge.quiet else rule_lines(report, Window.of_output(), _asked_about(place, species))
    )
    say(edge, facts, [*(dated.lines() if dated else ()), *told])


def _asked_about(place: str | None, species: str | None) -> str:
    """Which orders a report speaks of, where not of all: `` of gardneri to DE``."""
    return (f" of {species}" if species else "") + (f" to {place}" if place else "")
