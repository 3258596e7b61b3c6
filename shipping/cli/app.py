"""All commands: a command line in, what it leaves with out; what is wrong is told as a problem."""

from __future__ import annotations

import atexit
import contextlib
import gc
import os
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import cache
from importlib import import_module
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any

import typer
from typer import Option

from shipping.cli.global_options import (
    Edge,
    day_of,
    flush_or_drop,
    hour_now,
    json_text,
    path_option,
    ready_streams,
    wrong,
)
from shipping.tables.spelling import nearest
from shipping.words.problems import Problem, ShelfProblems, Where

#: Python looks for rubbish after so many new objects more than were dropped: a command keeps most of what it
#: makes.
GARBAGE_LOOKED_FOR_AFTER = 300_000
#: What a command leaves with that Ctrl-C stopped.
STOPPED = 130
#: Options of every command: those that take no value, and those that take one.
GLOBAL_FLAGS, GLOBAL_VALUES = ("--json", "--quiet", "--hide-names"), ("--shelf", "--today", "--encoding")
#: Every command, in the order in which they are listed: the module and the function it stands in.
COMMANDS: Mapping[str, str] = MappingProxyType(
    {
        "new": "tables.new",
        "demo": "week.demo",
        "check": "tables.check",
        "forecast": "ask.forecast",
        "ask": "ask.ask",
        "margin": "ask.margin",
        "pairs": "ask.pairs",
        "plan": "week.plan",
        "why": "week.why",
        "papers": "week.papers",
        "offer": "ask.offer",
        "map": "tables.map_sheet",
        "rules": "tables.rules",
        "pack": "ledger.pack",
        "send": "ledger.send",
        "arrive": "ledger.arrive",
        "drop": "ledger.drop",
        "undo": "ledger.undo",
        "history": "ledger.history",
        "copy": "ledger.copy",
        "erase": "ledger.erase",
        "learn": "ledger.learn",
        "worktop": "worktop.worktop",
        "shortcut": "worktop.shortcut",
        "claim": "claims.claim",
        "buy": "claims.buy",
    }
)


def globals_(
    context: typer.Context,
    shelf: Annotated[
        Path | None, path_option("The shelf's folder; else SPAWNPOST_SHELF, else the nearest upward.")
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
    from shipping.tables.files.csv_file import OLD_ENCODINGS, tell_encoding

    try:
        tell_encoding(encoding)
    except ValueError:
        mend = f"Write one of {', '.join(OLD_ENCODINGS)}."
        raise wrong("--encoding", f"'{encoding}' is not known.", mend) from None
    now = Edge(shelf, date.today(), as_json, quiet, hide_names, "" if today else hour_now())
    context.obj = replace(now, today=day_of(now, today, "--today") or now.today)


@cache
def program(*names: str) -> typer.Typer:
    """The program with some of its commands, or all: each costs time to load and to look through."""
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
    app.callback()(globals_)
    for name in names or COMMANDS:
        module, _, function = COMMANDS[name].partition(".")
        app.command(name)(getattr(import_module(f"shipping.cli.{module}"), function))
    return app


def parted(arguments: list[str]) -> tuple[list[str], list[str]]:
    """Global options, which may stand anywhere before a lone ``--``, and the rest: a command with its own.

    Without a command, and with no form of an answer asked for, that of the page.
    """
    end = arguments.index("--") if "--" in arguments else len(arguments)
    front: list[str] = []
    rest: list[str] = []
    words = iter(arguments[:end])
    for word in words:
        if word in GLOBAL_FLAGS or word.startswith(tuple(f"{option}=" for option in GLOBAL_VALUES)):
            front.append(word)
        elif word in GLOBAL_VALUES:
            front += [word, *([value] if (value := next(words, None)) is not None else [])]
        else:
            rest.append(word)
    rest += arguments[end:]
    is_bare = not rest and not {"--json", "--quiet"} & set(front)
    return front, ["worktop", "--open"] if is_bare else rest


def main() -> None:
    """Run a command; problems leave with 1, wrong usage with 2, our own mistake with 3 and a short report."""
    ready_streams()
    gc.set_threshold(GARBAGE_LOOKED_FOR_AFTER)
    # when the interpreter ends it need not look for rubbish among all that was made
    atexit.register(gc.freeze)
    # no product here is large: threads for them cost more than they give, and sum in an order of theirs
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # no plugin of another program changes how rows are read, so none is looked for among all packages
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    try:
        front, rest = parted(sys.argv[1:])
        app = program(*(name for name in rest[:1] if name in COMMANDS))
        sys.exit(_code_of(app, [*front, *rest]))
    finally:
        flush_or_drop()


def _code_of(app: typer.Typer, arguments: list[str]) -> int:
    """What a command leaves with, whatever came of it told."""
    try:
        code = app(arguments, prog_name="spawnpost", standalone_mode=False)
        sys.stdout.flush()
        if code == STOPPED:  # a command that was stopped and has said so leaves by itself
            with contextlib.suppress(OSError):
                typer.echo("Stopped by Ctrl-C before it was done.", err=True)
    except ShelfProblems as wrong:
        _print_problems(wrong.problems)
        return 1
    except UsageError as wrong:
        _print_problems((usage_problem(wrong),))
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        return STOPPED
    except typer.Abort:
        return 1
    except OSError as trouble:
        from shipping.tables.files.whole_file import way_out

        where, text = Where(str(trouble.filename or "file")), f"{trouble.strerror or trouble}."
        _print_problems((Problem(where, "", "file", text, way_out(trouble)),))
        return 1
    except Exception as bug:
        _report(bug)
        return 3
    return code if isinstance(code, int) else 0


def _print_problems(problems: tuple[Problem, ...]) -> None:
    if "--json" in sys.argv:
        with contextlib.suppress(OSError):
            sys.stdout.write(json_text({"problems": [p.as_json() for p in problems]}))
            sys.stdout.flush()
    from shipping.cli.terminal import on_screen
    from shipping.words.problems import lines_by_cause

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


#: The library's exception for a command line that cannot be read: missing, unknown or misspelt words.
UsageError: type[Exception] = typer.BadParameter.__mro__[1]


def usage_problem(error: Exception) -> Problem:
    """What is wrong with the command line: the word, what is wrong with it, and what to write."""
    told: Any = error
    context = getattr(told, "ctx", None)
    path = context.command_path if context is not None else "spawnpost"
    mend = f"See {path} --help."
    text = told.format_message()
    kind = type(error).__name__
    word = ""
    if kind == "MissingParameter":
        word, text, mend = _name_of(told.param), "is missing.", _example(context, mend)
    elif kind == "BadParameter" and told.param is not None:
        word, text, mend = _name_of(told.param), *_out_of_bounds(told, mend)
    elif kind == "NoSuchOption":
        near = list(told.possibilities or ())
        word, text = told.option_name, f"There is no such option of {path}."
        mend = f"Did you mean {' or '.join(near)}?" if near else mend
    elif kind == "BadOptionUsage":
        word, text = told.option_name, "needs a value behind it."
    elif text.startswith("Got unexpected extra argument"):
        word, text = text.partition("(s) (")[2].rstrip(".)"), "is more than the command takes."
    elif text.startswith("No such command") and context is not None:
        word, text, mend = _unknown_command(text, context, mend)
    return Problem(Where("question"), word, "usage", text if text.endswith((".", "?")) else f"{text}.", mend)


def _name_of(parameter: Any) -> str:
    return str(parameter.opts[0])


def _example(context: Any, otherwise: str) -> str:
    """The example that a command's own help ends with."""
    help_text = context.command.help if context is not None else ""
    _, has_one, example = (help_text or "").partition("Example:")
    return f"Write it as in: {' '.join(example.split())}" if has_one else otherwise


def _out_of_bounds(told: Any, otherwise: str) -> tuple[str, str]:
    """What is wrong with a value, and between which bounds it should lie."""
    message = str(told.message)
    wrong, _, meant = message.partition(": ")
    if meant and wrong == "out of range":
        return f"is {wrong}.", meant
    low, high = getattr(told.param, "min", None), getattr(told.param, "max", None)
    described = getattr(told.param, "type_descriptor", None)
    whole = getattr(described, "annotation", None) is int or "integer" in message
    number = "a whole number" if whole else "a number"
    if "parse" in message or "valid" in message:
        text = f"is not {number}." if low is not None or "number" in message or whole else f"{message}."
    else:
        text = "is out of range." if low is not None or high is not None else f"{message}."
    if low is None and high is None:
        return text, f"Write {number}." if "number" in text else otherwise
    bounds = [f"from {low}" if low is not None else "", f"to {high}" if high is not None else "up"]
    return text, f"Write {number} {' '.join(part for part in bounds if part)}."


def _unknown_command(text: str, context: Any, otherwise: str) -> tuple[str, str, str]:
    """The word that is no command, and the nearest that is one."""
    word = text.split("'")[1]
    near = nearest(word, [*getattr(context.command, "commands", {})])
    return word, "There is no such command.", f"Did you mean {near}?" if near else otherwise
