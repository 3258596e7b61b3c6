"""The commands' own help in, the page of all commands out; `python -m` this module prints it."""

from __future__ import annotations

import sys

import typer

from shipping.cli.app import program

TITLE = """# The commands

Written by `python -m tests.command_page` from each command's `--help`; a test fails where it is stale.
`spawnpost` alone opens the page, on which the same is done. Global options (`--shelf`, `--today`, `--json`,
`--quiet`, `--hide-names`, `--encoding`) may stand anywhere.
"""


def command_page() -> str:
    """The page as Markdown text: a section a command, in the order of their names."""
    group = typer.main.get_command(program())
    commands = vars(group)["commands"]
    return "\n".join([TITLE, *(_section(name, commands[name]) for name in sorted(commands))])


def _section(name: str, command: object) -> str:
    """One command: what it does, its example, and what it takes."""
    said = " ".join(str(getattr(command, "help", "")).split())
    what, _, example = said.partition(" Example: ")
    rows = []
    for param in getattr(command, "params", ()):
        names = (
            ", ".join(f"`{option}`" for option in param.opts)
            if param.param_type_name == "option"
            else (f"`{(param.metavar or param.name).upper()}`")
        )
        rows.append(f"| {names} | {' '.join((getattr(param, 'help', '') or '').split())} |")
    table = ["", "| takes | |", "| --- | --- |", *rows] if rows else []
    shown = ["", f"    {example}"] if example else []
    return "\n".join([f"## {name}", "", what, *shown, *table, ""])


if __name__ == "__main__":
    sys.stdout.write(command_page())
