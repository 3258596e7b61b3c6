"""The commands: arguments in, words out; every rule and formula lives in the rooms above."""

from __future__ import annotations

import contextlib
import gc
import json
import os
import sys
from datetime import date
from pathlib import Path
from typing import Annotated

import typer
from typer import Argument, Option

from shipping.cli.ask import app as ask_app
from shipping.cli.claims import app as claims_app
from shipping.cli.global_options import Edge, day_of, folder_of, json_text, problem_of, say, wrong
from shipping.cli.ledger import accept_corrected_orders, audit_begun, read_with_overdue
from shipping.cli.ledger import app as ledger_app
from shipping.cli.map import app as map_app
from shipping.cli.offer import app as offer_app
from shipping.cli.rules import app as rules_app
from shipping.cli.shortcut import app as shortcut_app
from shipping.cli.streams import flush_or_drop, ready_streams
from shipping.cli.week import app as week_app
from shipping.cli.week import plan_of, shown
from shipping.cli.worktop import app as worktop_app
from shipping.cli.wrong_usage import UsageError, usage_problem
from shipping.words.problems import Level, Problem, ShelfProblems, Where

#: Python looks for rubbish after so many new objects more than were dropped: a command keeps most of what it
#: makes.
GARBAGE_LOOKED_FOR_AFTER = 300_000

#: Options of every command that take no value.
GLOBAL_FLAGS = ("--json", "--quiet", "--hide-names")

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help=(
        "Which lot of live fish eggs serves which order, on which day, packed how, and why. Example:"
        " spawnpost demo"
    ),
)


@app.callback()
def globals_(
    context: typer.Context,
    shelf: Annotated[
        Path | None, Option(help="The shelf's folder; else SPAWNPOST_SHELF, else the nearest upward.")
    ] = None,
    today: Annotated[str | None, Option(help="Reckon as if it were this day, such as 2026-11-30.")] = None,
    as_json: Annotated[
        bool, Option("--json", help="The same facts for machines, on standard output.")
    ] = False,
    quiet: Annotated[bool, Option(help="Say less.")] = False,
    hide_names: Annotated[bool, Option(help="Show no buyer's name.")] = False,
    encoding: Annotated[str | None, Option(help="Of CSV files that are not UTF-8, such as cp1252.")] = None,
) -> None:
    """Options for every command; they stand before it."""
    from shipping.tables.files.csv_text import OLD_ENCODINGS, tell_encoding

    try:
        tell_encoding(encoding)
    except ValueError:
        mend = f"Write one of {', '.join(OLD_ENCODINGS)}."
        raise wrong("--encoding", f"'{encoding}' is not known.", mend) from None
    context.obj = Edge(shelf, day_of(today, "--today") or date.today(), as_json, quiet, hide_names)


for _commands in (ask_app, week_app, offer_app, map_app, rules_app, ledger_app, worktop_app, shortcut_app):
    app.add_typer(_commands)
app.add_typer(claims_app)
Context = typer.Context


@app.command()
def new(
    context: Context,
    folder: Annotated[Path, Argument(help="A new or empty folder.")],
    home: Annotated[str, Option(help="Your country, such as DK, or DE-BY where holidays differ.")] = "DK",
    xlsx: Annotated[bool, Option("--xlsx", help="One workbook instead of a CSV file a table.")] = False,
) -> None:
    """Make a shelf: every table with header and hints, packings, species, rules. Example: spawnpost new eggs
    --home DE-BY
    """
    from shipping.tables.editing.starter import write_shelf

    edge: Edge = context.obj
    country, _, part = home.partition("-")
    written = write_shelf(folder, country, part, edge.today, workbook=xlsx)
    facts = {"folder": str(folder), "files": [path.name for path in written]}
    mend = f"Fill in lots and orders, then: spawnpost --shelf {folder} check"
    say(edge, facts, (f"Made {folder} with {', '.join(path.name for path in written)}.", mend))


@app.command()
def demo(context: Context, folder: Annotated[Path, Argument(help="A new folder.")] = Path("demo")) -> None:
    """The main job on the demo week: a shelf, its plan, its papers, and where to look. Example: spawnpost
    demo
    """
    import shutil

    from shipping.cli.print_plan import plan_lines
    from shipping.cli.window import Window
    from shipping.papers.writing import write_papers
    from shipping.tables.reader import read_shelf
    from shipping.words.units import shipped_folder

    edge: Edge = context.obj
    source = shipped_folder("demo_orders")
    today = date.fromisoformat((source / "today.txt").read_text(encoding="utf-8").strip())
    shelf_folder = folder / "shelf"
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise wrong("DIR", f"{folder} is not empty.", "Name a new folder, or remove it first.")
    shutil.copytree(source, shelf_folder)
    reading = read_shelf(shelf_folder, today)
    if reading.shelf is None:
        raise ShelfProblems(reading.problems)
    plan = plan_of(reading.shelf, None)
    lines = list(plan_lines(plan, reading.shelf, Window(), edge.hide_names))
    (folder / "plan.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "plan.json").write_text(
        json.dumps(shown(edge, plan), ensure_ascii=False, indent=1) + "\n", encoding="utf-8"
    )
    papers = write_papers(plan, reading.shelf, folder / "papers", shelf_folder=shelf_folder)
    look = (
        "",
        "Where to look:",
        f"  the plan with every reason   {folder / 'plan.txt'}",
        f"  a file a day to print        {folder / 'papers' / 'print'}",
        f"  a message a buyer, to send   {folder / 'papers' / 'mail'}",
        f"  the tables it came from      {shelf_folder} (what each order shows: README.md there)",
        f"  ask it something             spawnpost --shelf {shelf_folder} --today {today} why D09",
    )
    facts = {
        "folder": str(folder),
        "week": plan.week,
        "today": today.isoformat(),
        "papers": [path.relative_to((folder / "papers").resolve()).as_posix() for path in papers],
    }
    say(edge, facts, [*lines, *look])


@app.command()
def check(
    context: Context,
    take: Annotated[
        bool, Option("--take", help="Accept changed rows of a mapped sheet read before.")
    ] = False,
    ledger: Annotated[
        bool,
        Option("--ledger", help="The ledger too: its chain and copies; fonts, calendars, wordings."),
    ] = False,
) -> None:
    """Read everything and list every problem, with what would mend it. Example: spawnpost check"""
    from shipping.ledger.errors import LedgerError
    from shipping.papers.wording.phrases import wording_problems
    from shipping.questions.checks import shelf_checks
    from shipping.tables.checks.by_cause import lines_by_cause
    from shipping.tables.checks.worst_first import worst_first
    from shipping.tables.learned_values import applied, rate_problems
    from shipping.tables.reader import read_shelf
    from shipping.tables.row_reader import files_told

    edge: Edge = context.obj
    folder = folder_of(edge)
    every: list[Problem] = []
    overdue: tuple[Problem, ...] = ()
    auditing = None
    try:
        if take:
            accept_corrected_orders(edge)
        auditing = audit_begun(folder) if ledger else None
        reading, overdue = read_with_overdue(edge, take)
    except LedgerError as trouble:
        reading = read_shelf(folder, edge.today, take=take)
        every += [] if ledger else [problem_of(trouble)]
    every += [*reading.problems, *wording_problems(folder)]
    if reading.shelf is not None:
        every += [*rate_problems(reading.shelf), *shelf_checks(applied(reading.shelf))]
    if ledger:
        from shipping.ledger.lot_counts import eggs_counted
        from shipping.ledger.surroundings import surrounding_problems

        counted = eggs_counted(reading.shelf) if reading.shelf else {}
        every += (auditing or audit_begun(folder)).result().against(counted)
        every += surrounding_problems(reading.shelf)
    files = [file.file for file in reading.files]
    problems = [p for p in worst_first(every, files) if p.level is not Level.NOTICE]
    notices = [*overdue, *(p for p in worst_first(every, files) if p.level is Level.NOTICE)]
    facts = {
        "problems": [p.as_json() for p in problems],
        "notices": [p.as_json() for p in notices],
        "files": [file.as_json() for file in reading.files],
        "read_as": [str(file) for file in reading.read_as],
    }
    lines = list(lines_by_cause(problems)) or [f"No problems in {folder}."]
    if not edge.quiet:
        lines = [*(f"Overdue: {p.text} {p.mend}" for p in overdue), *lines]
        lines += lines_by_cause(notices[len(overdue) :], "Note: ")
        lines += [f"Note: {told}" for told in (*files_told(reading.files), *map(str, reading.read_as))]
    say(edge, facts, lines)
    if problems:
        raise typer.Exit(1)


def globals_first(arguments: list[str]) -> list[str]:
    """The same arguments with the global options in front: they may stand anywhere before a lone ``--``."""
    end = arguments.index("--") if "--" in arguments else len(arguments)
    front: list[str] = []
    rest: list[str] = []
    words = iter(arguments[:end])
    for word in words:
        if word in GLOBAL_FLAGS or word.startswith(("--shelf=", "--today=", "--encoding=")):
            front.append(word)
        elif word in ("--shelf", "--today", "--encoding"):
            front += [word, *([value] if (value := next(words, None)) is not None else [])]
        else:
            rest.append(word)
    return front + rest + arguments[end:]


def main() -> None:
    """Run a command; problems leave with 1, wrong usage with 2, our own mistake with 3 and a short report."""
    ready_streams()
    gc.set_threshold(GARBAGE_LOOKED_FOR_AFTER)
    # no product here is large: threads for them cost more than they give, and sum in an order of theirs
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        sys.exit(_code_of(globals_first(sys.argv[1:])))
    finally:
        flush_or_drop()


def _code_of(arguments: list[str]) -> int:
    """What a command leaves with, whatever came of it told."""
    try:
        code = app(_opening(arguments), prog_name="spawnpost", standalone_mode=False)
        sys.stdout.flush()
    except ShelfProblems as wrong:
        _print_problems(wrong.problems)
        return 1
    except UsageError as wrong:
        _print_problems((usage_problem(wrong),))
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        return 130
    except typer.Abort:
        return 1
    except OSError as trouble:
        where, text = Where(str(trouble.filename or "file")), f"{trouble.strerror or trouble}."
        _print_problems((Problem(where, "", "file", text, "Mend that and try again."),))
        return 1
    except Exception as bug:
        _report(bug)
        return 3
    return code if isinstance(code, int) else 0


def _opening(arguments: list[str]) -> list[str]:
    """The arguments; where they name no command and no form of an answer, that of the page."""
    words = iter(arguments)
    for word in words:
        if word in ("--shelf", "--today", "--encoding"):
            next(words, None)
        elif not word.startswith(("--shelf=", "--today=", "--encoding=")) and word != "--hide-names":
            return arguments
    return [*arguments, "worktop", "--open"]


def _print_problems(problems: tuple[Problem, ...]) -> None:
    if "--json" in sys.argv:
        with contextlib.suppress(OSError):
            sys.stdout.write(json_text({"problems": [p.as_json() for p in problems]}))
            sys.stdout.flush()
    from shipping.cli.window import on_screen
    from shipping.tables.checks.by_cause import lines_by_cause

    for line in on_screen(lines_by_cause(problems), sys.stderr):
        typer.echo(line, err=True)


def _report(bug: Exception) -> None:
    """Where it happened, in four lines; no traceback."""
    import traceback

    last = traceback.extract_tb(bug.__traceback__)[-1]
    typer.echo("This is our own mistake, not yours. Nothing was changed.", err=True)
    typer.echo(f"  what:  {type(bug).__name__}: {str(bug)[:300]}", err=True)
    typer.echo(f"  where: {Path(last.filename).name}:{last.lineno} in {last.name}", err=True)
    typer.echo("  Please report these lines with the command you ran.", err=True)
