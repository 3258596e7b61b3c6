"""Counts as the breeder types them: text in, eggs packed or reported by line and lot out."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from itertools import chain
from pathlib import Path

from shipping.ledger.entries import LineCount, LineReport
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.tables.cells import MOST_EGGS

_BETWEEN = re.compile(r"[,;\n]+")


def counts_from_text(texts: str | Sequence[str], parcel: KeptParcel) -> tuple[LineCount, ...]:
    """The eggs packed for each line and lot of a parcel: what the plan says, with what was typed in its
    place.

    A text is ``S10:1=25`` (order, line, eggs), or ``S10:1/L-07=25`` where the line draws on several lots;
    several are parted by commas. A parcel of one line and one lot takes a bare ``25``. No text at all is the
    plan's own. Raises LedgerError if a text cannot be read, or names a line or lot the parcel does not have.
    """
    counts = {(count.order, count.line, count.lot): count for count in parcel.planned_counts()}
    counts |= {(count.order, count.line, count.lot): count for count in back_from_text(texts, parcel)}
    return tuple(counts.values())


def back_from_text(texts: str | Sequence[str], parcel: KeptParcel) -> tuple[LineCount, ...]:
    """The eggs typed for lines and lots, as `counts_from_text` reads them, and no others."""
    counts: dict[tuple[str, int, str], LineCount] = {}
    for text in _parts(texts):
        line, lot, eggs = _read(text, parcel)
        key = (line.order, line.line, _lot_meant(text, line, lot))
        if key in counts:
            raise LedgerError(f"'{text}' is a second count for the same line and lot.", "Give one of them.")
        counts[key] = LineCount(order=key[0], line=key[1], lot=key[2], eggs=eggs)
    return tuple(counts.values())


def reports_from_text(name: str, texts: str | Sequence[str], parcel: KeptParcel) -> tuple[LineReport, ...]:
    """What was found, a report for each line named: ``name`` is alive, hatched_alive, dead or missing.

    A text is ``S10:1=22``; a parcel of one line takes a bare ``22``. Raises LedgerError if a text cannot be
    read, or names a line the parcel does not have.
    """
    reports: dict[tuple[str, int], LineReport] = {}
    for text in _parts(texts):
        line, lot, eggs = _read(text, parcel)
        if lot or line.key in reports:
            raise LedgerError(
                f"'{text}' is not one count for one line.", f"Write {line.order}:{line.line}={eggs}."
            )
        reports[line.key] = LineReport(order=line.order, line=line.line, **{name: eggs})
    return tuple(reports.values())


def joined_reports(*told: Sequence[LineReport]) -> tuple[LineReport, ...]:
    """One report a line from several, each of another count (alive, dead ..)."""
    reports: dict[tuple[str, int], LineReport] = {}
    for report in chain.from_iterable(told):
        key = (report.order, report.line)
        reports[key] = reports[key].with_more(report) if key in reports else report
    return tuple(reports[key] for key in sorted(reports))


def photo_digest(path: Path) -> str:
    """The SHA-256 of a photo's file [64 hex digits]. Raises LedgerError if it cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        text = f"the photo {path} cannot be read ({error.strerror})."
        raise LedgerError(text, "Give the path of a file.") from error


#: Counts of several lines name their lines, so that a number alone behind a comma is none.
_DECIMAL_COMMA = re.compile(r"(?:^|=)\s*[0-9]+\s*,\s*[0-9]+\s*(?:,|$)")


def _parts(texts: str | Sequence[str]) -> list[str]:
    whole = [texts] if isinstance(texts, str) else list(texts)
    for text in whole:
        if _DECIMAL_COMMA.search(text):
            wrong = f"'{text}' is not a whole number of eggs."
            raise LedgerError(wrong, "Write one number; counts of several lines as S10:1=25,S10:2=20.")
    return [part.strip() for text in whole for part in _BETWEEN.split(text) if part.strip()]


def _read(text: str, parcel: KeptParcel) -> tuple[KeptLine, str, int]:
    """The line, the lot ("" where none is named) and the eggs of one text."""
    head, _, number = (part.strip() for part in text.rpartition("="))
    if not re.fullmatch(r"[0-9]{1,7}", number) or int(number) > MOST_EGGS:
        raise LedgerError(f"'{text}' does not end in a whole number of eggs.", "Write it as S10:1=25.")
    eggs = int(number)
    mend = f"Write {_example(parcel, eggs)}."
    if not head:
        if len(parcel.lines) > 1:
            raise LedgerError(f"'{text}' does not say which line.", mend)
        return parcel.lines[0], "", eggs
    for line in parcel.lines:
        name = f"{line.order}:{line.line}"
        if head == name:
            return line, "", eggs
        if head.startswith(f"{name}/"):
            return line, head[len(name) + 1 :].strip(), eggs
    raise LedgerError(f"'{text}' names no line of parcel {parcel.parcel}.", mend)


def _lot_meant(text: str, line: KeptLine, lot: str) -> str:
    lots = [draw.lot for draw in line.draws]
    if lot in lots:
        return lot
    if not lot and len(lots) == 1:
        return lots[0]
    examples = ", ".join(f"{line.order}:{line.line}/{name}=.." for name in lots)
    what = "does not say from which lot"
    if lot:
        what = f"names lot {lot}, which the plan does not use for that line"
    raise LedgerError(f"'{text}' {what}.", f"Write {examples}.")


def _example(parcel: KeptParcel, eggs: int) -> str:
    """How the count given is written for one line; never what was packed, which copied would hide a loss."""
    line = parcel.lines[0]
    return f"{line.order}:{line.line}={eggs}"
