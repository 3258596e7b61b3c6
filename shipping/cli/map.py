"""The command `map`: what another shop's sheet seems to hold; arguments in, words out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Argument, Option

from shipping.cli.global_options import Edge, folder_of, say, wrong
from shipping.words.problems import ShelfProblems

if TYPE_CHECKING:
    from shipping.tables.mapped_orders.proposal import Proposal

app = typer.Typer()
_ROWS_SHOWN = 5


@app.command("map")
def map_sheet(
    context: typer.Context,
    file: Annotated[Path, Argument(help="The sheet: .csv, .txt, .xlsx or .ods.")],
    write: Annotated[
        bool, Option("--write", help="Write orders.toml into the shelf, where there is none.")
    ] = False,
) -> None:
    """What another shop's sheet seems to hold, and the orders.toml that would read it. Example: spawnpost map
    form.csv
    """
    from shipping.tables.files.settings_reader import MAP_FILE
    from shipping.tables.files.sheet import Unreadable
    from shipping.tables.mapped_orders.proposal import proposal
    from shipping.tables.reader import species_and_rules

    edge: Edge = context.obj
    folder = folder_of(edge)
    path = file if file.is_absolute() or file.exists() else folder / file
    try:
        proposed = proposal(path, *species_and_rules(folder))
    except Unreadable as broken:
        raise ShelfProblems((broken.problem,)) from None
    facts, lines = proposed.as_json(), list(_lines(proposed))
    target = folder / MAP_FILE
    if write:
        if target.exists():
            raise wrong("--write", f"{target} is there already.", "Paste the new part into it yourself.")
        target.write_text(proposed.as_toml(), encoding="utf-8")
        lines.append(f"Wrote {target}. Put {path.name} into {folder} too.")
    say(edge, facts, lines)


def _lines(proposed: Proposal) -> Iterator[str]:
    mapped, header = proposed.mapped, proposed.header_row
    yield f"{mapped.file}: the header is row {header}. Its columns seem to be (a guess):"
    for column, headers in mapped.columns.items():
        yield f"  {column:<12} {' + '.join(headers)}"
    if proposed.unused:
        yield f"Not used: {', '.join(proposed.unused)}."
    yield from (f"Needed, and not found: {column}." for column in proposed.lacking)
    yield from (f"Say which: {question}" for question in proposed.asks)
    rows = proposed.read.rows[:_ROWS_SHOWN]
    if rows:
        yield "The first rows as they would be read:"
        for row in rows:
            values = row.model_dump(exclude_defaults=True, exclude={"at"})
            yield "  " + ", ".join(f"{name} {value}" for name, value in values.items())
    problems = proposed.read.problems[: 0 if proposed.lacking else _ROWS_SHOWN]
    yield from (f"Not read: {problem}" for problem in problems)
    yield "orders.toml would be (nothing was written):"
    yield from ("  " + line for line in proposed.as_toml().splitlines())
