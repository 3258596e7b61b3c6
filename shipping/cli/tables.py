"""The commands of the tables: made, checked, mapped, rules dated; arguments in, words out."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Argument, Option

from shipping.cli.global_options import (
    Edge,
    folder_of,
    one_of,
    path_given,
    place_of,
    print_answer,
    shelf_of,
    wrong,
)
from shipping.cli.ledger import accept_corrected_orders, audit_begun, read_with_waiting
from shipping.words.problems import Level, Problem

if TYPE_CHECKING:
    from shipping.ledger.kept_parcel import KeptParcel
    from shipping.tables.mapped_orders.proposal import Proposal

_ROWS_SHOWN = 5


def new(
    context: typer.Context,
    folder: Annotated[Path, Argument(help="A new or empty folder.", parser=path_given)],
    home: Annotated[str, Option(help="Your country, such as DK, or DE-BY where holidays differ.")] = "DK",
    xlsx: Annotated[bool, Option("--xlsx", help="One workbook instead of a CSV file a table.")] = False,
) -> None:
    """Make a shelf: every table with header and hints, packings, species, rules. Example: spawnpost new eggs
    --home DE-BY
    """
    from shipping.tables.cells import parse_country
    from shipping.tables.editing.starter import home_language, write_shelf

    edge: Edge = context.obj
    country, _, part = home.partition("-")
    written = write_shelf(folder, country, part, edge.today, workbook=xlsx)
    facts = {"folder": str(folder), "files": [path.name for path in written]}
    mend = f"Fill in lots and orders, then: spawnpost --shelf {folder} check"
    spoken = {"de": "German", "fr": "French", "es": "Spanish"}.get(home_language(parse_country(country)), "")
    told = (
        (f"Its page, and its papers at home, speak {spoken}: see languages in shelf.toml.",) if spoken else ()
    )
    print_answer(
        edge, facts, (f"Made {folder} with {', '.join(path.name for path in written)}.", *told, mend)
    )


def check(
    context: typer.Context,
    take: Annotated[
        bool, Option("--take", help="Accept changed rows of a mapped sheet read before.")
    ] = False,
    ledger: Annotated[
        bool,
        Option("--ledger", help="The ledger (what you packed and sent) and its copies too; fonts, wordings."),
    ] = False,
) -> None:
    """Read everything and list every problem, with what would mend it. Example: spawnpost check"""
    from shipping.ledger.errors import LedgerError
    from shipping.ledger.planning_again import overdue_lines, overdue_problems
    from shipping.papers.page.fonts import letters_of_orders
    from shipping.papers.wording.phrases import care_problems, wording_problems
    from shipping.questions.reckoned_checks import shelf_checks
    from shipping.tables.learned_values import applied, rate_problems
    from shipping.tables.reader import read_shelf
    from shipping.tables.row_reader import files_told
    from shipping.words.problems import lines_by_cause, worst_first

    edge: Edge = context.obj
    folder = folder_of(edge)
    every: list[Problem] = []
    waiting: tuple[KeptParcel, ...] = ()
    kept: Collection[str] = ()
    auditing = None
    try:
        if take:
            accept_corrected_orders(edge)
        auditing = audit_begun(folder) if ledger else None
        reading, waiting, kept = read_with_waiting(edge, take)
    except LedgerError as trouble:
        reading = read_shelf(folder, edge.today, take=take)
        every += [] if ledger else [trouble.problem]
    every += [*reading.problems, *wording_problems(folder)]
    if reading.shelf is not None:
        every += [*rate_problems(reading.shelf), *shelf_checks(applied(reading.shelf), kept)]
        every += letters_of_orders(reading.shelf)
        every += care_problems(folder, reading.shelf.species.values())
    if ledger:
        from shipping.ledger.installation import installation_problems
        from shipping.ledger.lot_counts import eggs_counted

        counted = eggs_counted(reading.shelf) if reading.shelf else {}
        every += (auditing or audit_begun(folder)).result().against(counted)
        every += installation_problems(reading.shelf)
    files = [file.file for file in reading.files]
    problems = [p for p in worst_first(every, files) if p.level is not Level.NOTICE]
    notes = [p for p in worst_first(every, files) if p.level is Level.NOTICE]
    notices = [*overdue_problems(waiting, edge.today), *notes]
    facts = {
        "problems": [p.as_json() for p in problems],
        "notices": [p.as_json() for p in notices],
        "files": [file.as_json() for file in reading.files],
        "read_as": [str(file) for file in reading.read_as],
    }
    to_read = f", but {len(notices)} thing{'s' * (len(notices) > 1)} to look at" if notices else ""
    lines = list(lines_by_cause(problems)) or [f"No problems in {folder}{to_read}."]
    if not edge.quiet:
        lines = [*overdue_lines(waiting, edge.today), *lines, *lines_by_cause(notes, "Note: ")]
        lines += [f"Note: {told}" for told in (*files_told(reading.files), *map(str, reading.read_as))]
    print_answer(edge, facts, lines)
    if problems:
        raise typer.Exit(1)


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
    from shipping.cli.terminal import Window
    from shipping.post.restrictions import rule_report
    from shipping.tables.countries import is_place
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
    if place is not None and (place not in spoken_of or is_place(place)):
        place = place_of(place, home=shelf.settings.home.country)
    dated = None
    if checked is not None:
        folder = folder_of(edge)
        dated = redate(shelf, folder, checked, place, species, row, verdict=verdict, papers=papers)
    if dated is not None:
        shelf = shelf_of(edge)
    report = rule_report(shelf, place, species)
    facts = report.as_json() | ({"checked": dated.as_json()} if dated else {})
    asked_about = (f" of {species}" if species else "") + (f" to {place}" if place else "")
    told = [] if dated and edge.quiet else rule_lines(report, Window.of_output(), asked_about)
    print_answer(edge, facts, [*(dated.lines() if dated else ()), *told])


def map_sheet(
    context: typer.Context,
    file: Annotated[Path, Argument(help="The sheet: .csv, .txt, .xlsx or .ods.", parser=path_given)],
    write: Annotated[
        bool, Option("--write", help="Write orders.toml into the shelf, where there is none.")
    ] = False,
) -> None:
    """What another shop's sheet seems to hold, and the orders.toml that would read it. Example: spawnpost map
    form.csv
    """
    from shipping.tables.files.settings_reader import MAP_FILE
    from shipping.tables.files.whole_file import write_file
    from shipping.tables.mapped_orders.proposal import proposal
    from shipping.tables.reader import fish_and_rules

    edge: Edge = context.obj
    folder = folder_of(edge)
    path = file if file.is_absolute() or file.exists() else folder / file
    proposed = proposal(path, *fish_and_rules(folder))
    facts, lines = proposed.as_json(), list(_lines(proposed, write))
    target = folder / MAP_FILE
    if write:
        if target.exists():
            raise wrong("--write", f"{target} is there already.", "Paste the new part into it yourself.")
        write_file(target, proposed.as_toml().encode())
        is_there = path.resolve().parent == folder.resolve()
        lines.append(f"Wrote {target}." + (f" Put {path.name} into {folder} too." if not is_there else ""))
    print_answer(edge, facts, lines)


def _lines(proposed: Proposal, is_written: bool) -> Iterator[str]:
    mapped, header = proposed.mapped, proposed.header_row
    yield f"{mapped.file}: the header is row {header}. Its columns seem to be (a guess):"
    for column, headers in mapped.columns.items():
        yield f"  {column:<12} {' + '.join(headers)}"
    if proposed.unused:
        yield f"Columns not read: {', '.join(proposed.unused)}. Name those you need below [sheet.columns]."
    yield from (f"Needed, and not found: {column}." for column in proposed.lacking)
    yield from (f"Say which: {question}" for question in (*proposed.asks_of_days, *proposed.asks))
    rows = proposed.read.rows[:_ROWS_SHOWN]
    if rows:
        yield "The first rows as they would be read:"
        for row in rows:
            values = row.model_dump(exclude_defaults=True, exclude={"at"})
            yield "  " + ", ".join(f"{name} {value}" for name, value in values.items())
    problems = proposed.read.problems[: 0 if proposed.lacking else _ROWS_SHOWN]
    yield from (f"Not read: {problem}" for problem in problems)
    yield "orders.toml:" if is_written else "orders.toml would be (nothing was written):"
    yield from ("  " + line for line in proposed.as_toml().splitlines())
