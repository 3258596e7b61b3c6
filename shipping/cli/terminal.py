"""What a terminal shows: reasons and days in English, words and tables as lines that fit its window."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TextIO

import typer
from rich.cells import cell_len

from shipping.words.keys import grouped
from shipping.words.reasons import CODES, Note, Reason, Verdict, figure_and_limit, over_limit
from shipping.words.units import degrees, percent

#: Columns of a window that nobody asked for one: of a pipe, of a file.
USUAL_WIDTH = 80
#: Narrower windows are not filled line by line.
LEAST_WIDTH = 40
#: Where a table's last column of words stands alone in what is left of a line, it has at least so much.
_LEAST_WORDS = 10
#: So wide it is left where another column would fit beside it.
_ENOUGH_WORDS = 24
_GAP = "  "
#: A mark of colour.
_MARK = re.compile(r"\x1b\[[0-9;]*m")
#: Colour, and whether underlined, of words that say where something stands: nothing is said by colour alone.
_STYLES: dict[str, tuple[str | None, bool]] = {
    "go": ("green", False),
    "wait": ("cyan", False),
    "hold": ("yellow", False),
    "stop": ("red", False),
    "hand": (None, True),
    "head": (None, False),
}


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column of a table: where the window is too narrow the highest ``rank`` goes first; rank 0 never."""

    name: str
    rank: int = 0
    right: bool = False


@dataclass(frozen=True, slots=True)
class Window:
    """A window so many columns wide, with or without colour."""

    width: int = USUAL_WIDTH
    colour: bool = False

    @classmethod
    def of_output(cls) -> Window:
        """The window that standard output is shown in; a pipe has no colour."""
        width = shutil.get_terminal_size((USUAL_WIDTH, 24)).columns
        plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb" or not sys.stdout.isatty()
        return cls(max(LEAST_WIDTH, width), not plain)

    def mark(self, text: str, style: str) -> str:
        """The text in the style of a standing, ``head`` or ``hand``; as it is without colour."""
        colour, is_underlined = _STYLES[style]
        return typer.style(text, fg=colour, bold=True, underline=is_underlined) if self.colour else text

    def wrapped(self, text: str, first: str = "", rest: str | None = None) -> Iterator[str]:
        """The text in lines that fit the window, begun by ``first``, the others by ``rest``."""
        line, indent = first, first if rest is None else rest
        is_begun = False
        for word in text.split(" "):
            if is_begun and _wide(line) + 1 + _wide(word) > self.width:
                yield _plain(line)
                line, is_begun = indent, False
            line += (" " if is_begun else "") + word
            is_begun = True
        yield _plain(line)

    def heading(self, text: str) -> Iterator[str]:
        """The text as a heading; an empty one is an empty line."""
        yield from (self.mark(line, "head") if line else "" for line in self.wrapped(text, rest="  "))

    def table(
        self, columns: Sequence[TableColumn], rows: Iterable[Sequence[object] | str], indent: str = ""
    ) -> Iterator[str]:
        """The columns that fit, each as wide as it needs to be; the last one kept is wrapped at words where
        it must be. A row that is a text stands between the others as a heading, from the first column on.

        Where not even the columns of rank 0 fit, each row stands as lines of its own.
        """
        cells = [row if isinstance(row, str) else tuple(_cell(cell) for cell in row) for row in rows]
        widths = [
            max([_wide(column.name), *(_wide(row[n]) for row in cells if not isinstance(row, str))])
            for n, column in enumerate(columns)
        ]
        shown = self._fitting(columns, widths, len(indent))
        last = shown[-1]
        room = self.width - len(indent) - sum(widths[n] + len(_GAP) for n in shown[:-1])
        if widths[last] > room and room < min(_LEAST_WORDS, widths[last]):
            yield from self._stacked(columns, cells, shown, indent)
            return
        heads = tuple(column.name for column in columns)
        for number, row in enumerate((heads, *cells)):
            if isinstance(row, str):
                yield from self.heading(row)
                continue
            front = indent + "".join(_set(row[n], widths[n], columns[n].right) + _GAP for n in shown[:-1])
            tail = row[last] if widths[last] > room else _set(row[last], widths[last], columns[last].right)
            lines = Window(self.width).wrapped(tail, front, " " * _wide(front))
            yield from (self.mark(line.rstrip(), "head") if number == 0 else line.rstrip() for line in lines)

    def _fitting(self, columns: Sequence[TableColumn], widths: Sequence[int], taken: int) -> list[int]:
        shown = [n for n, column in enumerate(columns) if column.rank == 0]
        widths = [*widths[:-1], min(widths[-1], _ENOUGH_WORDS)] if shown[-1] == len(columns) - 1 else widths
        for n in sorted(range(len(columns)), key=lambda n: columns[n].rank)[len(shown) :]:
            wanted = sorted((*shown, n))
            if taken + sum(widths[m] for m in wanted) + len(_GAP) * (len(wanted) - 1) > self.width:
                break
            shown = wanted
        return shown

    def _stacked(
        self,
        columns: Sequence[TableColumn],
        cells: Iterable[tuple[str, ...] | str],
        shown: Sequence[int],
        indent: str,
    ) -> Iterator[str]:
        for row in cells:
            if isinstance(row, str):
                yield from self.heading(row)
                continue
            first, *others = shown
            if row[first]:
                yield from self.wrapped(row[first], indent, indent + "  ")
            others = [n for n in others if row[n]]
            text = "; ".join(f"{columns[n].name} {row[n]}".strip() for n in others)
            yield from self.wrapped(text, indent + "  ") if text else ()


def on_screen(lines: Iterable[str], stream: TextIO | None = None) -> Iterator[str]:
    """Lines too long for the terminal of a stream, wrapped; in a pipe or file each stays as it is."""
    if not (stream or sys.stdout).isatty():
        yield from lines
        return
    window = Window.of_output()
    for line in lines:
        yield from window.wrapped(line, rest="  ") if _wide(line) > window.width else (line,)


def _cell(value: object) -> str:
    return "" if value is None else str(value)


def _wide(text: str) -> int:
    """The columns a text takes; marks of colour take none."""
    return cell_len(_MARK.sub("", text))


def _set(text: str, width: int, right: bool) -> str:
    blank = " " * (width - _wide(text))
    return blank + text if right else text + blank


def _plain(line: str) -> str:
    """No-break spaces have held words together; on a screen they are spaces."""
    return line.replace("\u00a0", " ")


def reason_text(reason: Reason, lines: int = 1, offered: bool = False) -> str:
    """The reason as a breeder is told it, for so many lines; ``offered``: of an offer."""
    from shipping.papers.wording.phrases import cause, english

    return cause(reason, english(), lines, offered)


def step_text(reason: Reason, verdict: Verdict = Verdict.WAIT, offered: bool = False) -> str:
    """What to do about it where a line stands so, as a sentence begins."""
    from shipping.papers.wording.phrases import english, next_step

    step = next_step(reason, english(), verdict, offered)
    return step[:1].upper() + step[1:]


def in_short(reasons: Iterable[Reason]) -> str:
    """What speaks against an option, each in a few words, once; "" where nothing does."""
    return ", ".join(dict.fromkeys(map(_short, reasons)))


def _short(reason: Reason) -> str:
    is_refused = (reason.code, reason.facts.get("answer")) == ("ask-post", "no")
    if "since" in reason.facts:
        return "should have hatched"
    return "post said no" if is_refused else CODES[reason.code].short or reason.code


def with_figures(alike: Sequence[Iterable[Reason]]) -> str:
    """What speaks against options that the same codes speak against, each with its figures, the nearest to
    the farthest, and its limit: ``would hatch (13 % to 71 %, limit 5 %)``; "" where nothing does.
    """
    by_code = grouped((reason.code, reason) for reasons in alike for reason in reasons)
    return ", ".join(_with_figure(code, reasons) for code, reasons in by_code.items())


def _with_figure(code: str, reasons: Sequence[Reason]) -> str:
    short = _short(reasons[0])
    known = sorted((reason for reason in reasons if figure_and_limit(reason)), key=over_limit)
    if not known:
        return short
    ends = [_figure(known[0]), _figure(known[-1])]
    (first, limit), (last, _) = ends
    if known[0].facts.keys() & {"near", "since"}:
        return short
    return f"{short} ({first}{f' to {last}' if last != first else ''}, {limit})"


def _figure(reason: Reason) -> tuple[str, str]:
    """The figure that decides and its limit, as a breeder reads them; with a tenth where both are alike."""
    found = figure_and_limit(reason)
    assert found
    name, figure, limit = found
    if name in ("h_per_egg", "h_any"):
        said, most = percent(figure), percent(limit)
        said, most = (f"{figure * 100:.1f} %" if said == most else said), f"limit {most}"
    elif name == "inside_c":
        said, most = degrees(figure), f"limit {degrees(limit)}"
    else:
        unit = " h" if name == "hours" else ""
        said, most = f"{figure:.0f}{unit}", f"needs {limit:.0f}{unit}"
    return said.replace(" ", "\u00a0"), most.replace(" ", "\u00a0")


def note_line(note: Note) -> str:
    """What rows for just these days decided, in words."""
    from shipping.papers.wording.phrases import english, note_text

    return note_text(note, english())
