"""The edge: global options, the shelf they name, how facts are told, streams that may be closed or full."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import math
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from shipping.tables.spelling import folded, folded_place, nearest
from shipping.words.keys import OWED_AGAIN
from shipping.words.problems import Level, Problem, ShelfProblems, Where
from shipping.words.units import FIRST_YEAR, LAST_YEAR, iso_week

if TYPE_CHECKING:
    from shipping.ledger.ledger import Ledger
    from shipping.papers.charts.pictures import Sketch
    from shipping.tables.reader import Reading
    from shipping.tables.shelf import Shelf

#: So many lines are told at once: one by one they would take longer than the plan they tell of.
LINES_AT_ONCE = 1000


@dataclass(frozen=True)
class Edge:
    """The global options; ``hour`` is as 15:30, "" where the day was given."""

    folder: Path | None
    today: date
    as_json: bool
    quiet: bool
    hide_names: bool
    hour: str


def path_given(text: str | Path) -> Path:
    """A path as it was given. An empty one would be the folder one stands in, which nobody named."""
    if not str(text).strip():
        raise wrong("path", "The name is empty.", "Write one; the folder you are in is a dot: .")
    return Path(text)


def day_of(edge: Edge, text: str | None, option: str, ahead: bool = False) -> date | None:
    """The day that an option says, read as in tables; ``ahead``: a weekday is the next of that name."""
    if text is None:
        return None
    from shipping.tables.cells import BadCell
    from shipping.tables.typed_days import ISO_DAY, day_typed

    try:
        is_ours = ISO_DAY.fullmatch(text) is not None
        day = day_typed(text, None if is_ours else _dates(edge), edge.today, ahead)
    except BadCell as bad:
        raise wrong(option, f"{bad.text}.", bad.mend) from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        far = f"'{text}' is too far from now to reckon with."
        raise wrong(option, far, f"Write a day from {FIRST_YEAR} to {LAST_YEAR}.")
    return day


def _dates(edge: Edge) -> str | None:
    """How the settings of the shelf in question say that days are written, where there are such."""
    from shipping.tables.files.settings_reader import read_settings

    settings = None
    with contextlib.suppress(ShelfProblems):
        settings, _ = read_settings(folder_of(edge))
    return settings.reading.dates if settings else None


def number_option(low: float | None, high: float | None, help: str) -> Any:
    """An option that takes a number, read as the tables are: with a decimal comma or a percent sign too."""
    reads = _number_between(-math.inf if low is None else low, math.inf if high is None else high)
    return typer.Option(min=low, max=high, parser=reads, metavar="<number>", help=help)


def path_option(help: str) -> Any:
    """An option that takes a path as it was given."""
    return typer.Option(parser=path_given, metavar="<path>", help=help)


def _number_between(low: float, high: float) -> Callable[[str | float], float]:

    def number(text: str | float) -> float:
        from shipping.tables.cells import numbers_meant

        meant = numbers_meant(str(text))
        if len(meant) != 1:
            raise typer.BadParameter("not a valid number")
        if not low <= float(meant[0]) <= high:
            share = float(meant[0]) / 100
            is_percent = meant[0] in str(text) and high <= 1 < float(meant[0]) and low <= share <= high
            meant_so = f": Write {share:g}, or {meant[0]} with a percent sign." if is_percent else ""
            raise typer.BadParameter(f"out of range{meant_so}")
        return float(meant[0])

    return number


def hour_now() -> str:
    """The hour of this computer's clock, as 15:30."""
    return f"{datetime.now():%H:%M}"


def wrong(what: str, text: str, mend: str) -> ShelfProblems:
    return ShelfProblems((Problem(Where("question"), what, "question", text, mend),))


def folder_of(edge: Edge, mend: str = "Name it with --shelf, or make one: spawnpost new DIR.") -> Path:
    from shipping.tables.reader import find_shelf

    named = edge.folder or os.environ.get("SPAWNPOST_SHELF")
    folder = Path(named) if named else find_shelf(Path.cwd())
    if folder is None:
        raise wrong("--shelf", "No shelf here or in any folder above.", mend)
    if not folder.is_dir():
        raise wrong("--shelf", f"'{folder}' is not a folder.", "Name the folder that holds shelf.toml.")
    return folder


def shelf_of(edge: Edge) -> Shelf:
    """The shelf's tables, with the lots bought in and the orders owed again that its ledger adds."""
    if not has_ledger(edge):
        from shipping.tables.reader import read_shelf

        return shelf_read(read_shelf(folder_of(edge), edge.today))
    from shipping.ledger.whole_shelf import read_whole_shelf

    return shelf_read(read_whole_shelf(folder_of(edge), edge.today))


@contextmanager
def opened(edge: Edge, create: bool = False) -> Iterator[Ledger]:
    """The shelf's ledger."""
    from shipping.ledger.ledger import Ledger

    with Ledger.open(folder_of(edge), edge.today, create=create) as ledger:
        yield ledger


def has_ledger(edge: Edge) -> bool:
    from shipping.ledger.errors import has_ledger as was_begun

    return was_begun(folder_of(edge))


@contextmanager
def opened_if_begun(edge: Edge) -> Iterator[Ledger | None]:
    """The shelf's ledger; None, and nothing of it is loaded, where none was begun."""
    if not has_ledger(edge):
        yield None
        return
    with opened(edge) as ledger:
        yield ledger


def shelf_now(edge: Edge, week: str = "", read: Shelf | None = None) -> Shelf:
    """The shelf with learned rates, without what the ledger says is packed, held or on its way."""
    from shipping.ledger.planning_again import shelf_left

    shelf = read or shelf_of(edge)
    with opened_if_begun(edge) as ledger:
        return shelf_left(shelf, ledger, week)


def shelf_read(reading: Reading) -> Shelf:
    """The shelf that was read; where it cannot be, its errors are told."""
    if reading.shelf is None:
        raise ShelfProblems(tuple(p for p in reading.problems if p.level is Level.ERROR))
    return reading.shelf


def print_answer(edge: Edge, facts: Any, lines: Iterable[str]) -> None:
    """The same facts, for machines or a person; a reader who leaves early stops only the telling."""
    from shipping.cli.terminal import on_screen

    try:
        if edge.as_json:
            sys.stdout.write(json_text(facts))
        else:
            every = on_screen(lines)
            while some := list(itertools.islice(every, LINES_AT_ONCE)):
                typer.echo("\n".join(some))
        sys.stdout.flush()
    except BrokenPipeError:
        flush_or_drop()


def json_text(facts: Any) -> str:
    """JSON, one object; letters as escapes where standard output cannot write them all."""
    return json.dumps(facts, indent=1, ensure_ascii=not has_every_letter()) + "\n"


def place_of(text: str, option: str = "--to", home: str = "") -> str:
    """The place asked about, as ``DE`` or ``DE-BY``; a country may be written by its name. Letters that are
    those of a part of the ``home`` country, too, are told.
    """
    from shipping.tables.cells import BadCell, parse_country
    from shipping.tables.countries import country_mend, is_place, name_of
    from shipping.tables.country_parts import part_meant

    named = text.strip()
    place = named.upper()
    if not is_place(place):
        try:
            place = parse_country(named)
        except BadCell:
            place = ""
    if not is_place(place):
        part = part_meant(named, home)
        mend = f"Did you mean {part[0]} ({part[1]})?" if part else country_mend(named, [])
        raise wrong(option, f"'{text}' is no country of ISO 3166.", mend)
    if (
        len(place) == 2
        and place != home
        and (part := part_meant(named, home))
        and part[0].startswith(f"{home}-")
    ):
        typer.echo(f"{place} is {name_of(place)}; {part[1]} is {part[0]}.", err=True)
    return place


def drawable(name: str | None, option: str) -> None:
    """Stops where a picture cannot be drawn to a file of that name; ``-`` is the terminal."""
    from shipping.papers.charts.pictures import kind_of

    if name not in (None, "-") and kind_of(str(name)) is None:
        mend = "Name a file that ends in .svg or .pdf, or - for the terminal."
        raise wrong(option, f"'{name}' is neither .svg nor .pdf.", mend)


def drawn(sheets: Sequence[Sketch], name: str) -> tuple[str, ...]:
    """Writes a picture, in a PDF of as many pages as it has sheets, and the line that says so."""
    from shipping.papers.charts.pictures import kind_of, pdf_bytes, svg_bytes
    from shipping.tables.files.whole_file import write_file

    write_file(Path(name), svg_bytes(sheets[0]) if kind_of(name) == "svg" else pdf_bytes(sheets))
    return (f"Drew {name}.",)


#: So many names are listed where none is like the one typed.
MOST_NAMED = 6


def one_of(name: str, known: Iterable[str], what: str) -> str:
    """The name if known, or as people write it (``d 13``), or of the one that begins so; else a problem."""
    names = list(known)
    for plain in (folded, folded_place):
        alike = [known for known in names if plain(known) == plain(name)]
        if name not in names and len(alike) == 1:
            return alike[0]
    if name not in names and what in ("lot", "species"):
        begun = [known for known in names if name and known.casefold().startswith(name.casefold())]
        if len(begun) == 1:
            return begun[0]
    if name not in names:
        near = nearest(name, names)
        typed = [known for known in names if not OWED_AGAIN.search(known)]
        if what == "order":  # sorted as text, O10 before O9
            typed.sort(key=lambda known: [part.zfill(9) for part in re.split("([0-9]+)", known)])
        some = ", ".join(typed[-MOST_NAMED:])
        mend = f"Your table ends with {some}." if some else "There is none in your table yet."
        mend = f"Did you mean {near}?" if near else mend
        raise wrong(what, f"There is no {what} '{name}'.", mend)
    return name


def whole_names(kept: Sequence[str], typed: Iterable[str], today: date) -> list[str]:
    """The parcels meant: ``1`` is the first of this week, or of the nearest week with one; else as typed."""
    return [_whole_name(kept, name, today) for name in typed]


def _whole_name(kept: Sequence[str], typed: str, today: date) -> str:
    if not (typed.isascii() and typed.isdigit()):
        return typed
    named = {name.rpartition("-")[0]: name for name in kept if _number(name) == int(typed)}
    weeks = sorted(named)
    ahead = [week for week in weeks if week >= iso_week(today)]
    nearest = ahead[:1] or weeks[-1:]
    return named[nearest[0]] if nearest else typed


def _number(name: str) -> int:
    number = name.rpartition("-")[2]
    return int(number) if number.isascii() and number.isdigit() else 0


def ready_streams() -> None:
    """Opens a closed standard stream on nothing, and writes ``?`` for letters an encoding lacks."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8"))
        elif isinstance(stream, io.TextIOWrapper) and not has_every_letter(name):
            stream.reconfigure(errors="replace")


def has_every_letter(name: str = "stdout") -> bool:
    """Can every letter be written to the stream as it is?"""
    encoding = getattr(getattr(sys, name), "encoding", None) or "utf-8"
    return encoding.lower().replace("-", "").replace("_", "").startswith("utf")


def flush_or_drop() -> None:
    """Writes what waits for standard output; where the other end is closed or full, it goes nowhere instead.

    Without that the interpreter would try once more when it ends, and complain in many lines.
    """
    try:
        sys.stdout.flush()
    except OSError:
        with contextlib.suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)
