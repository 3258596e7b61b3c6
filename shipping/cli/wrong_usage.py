"""A command line that cannot be read in, one problem with what would mend it out."""

from __future__ import annotations

import difflib
from typing import Any

import typer

from shipping.words.problems import Problem, Where

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
    near = difflib.get_close_matches(word, sorted(getattr(context.command, "commands", {})), 1)
    return word, "There is no such command.", f"Did you mean {near[0]}?" if near else otherwise
