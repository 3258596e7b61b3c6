"""The first rows of another shop's sheet in, its header and where each mapped column stands out."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shipping.tables.cells import as_text
from shipping.tables.files.sheet import BadSource, Sheet, Unreadable, cleaned, did_you_mean
from shipping.tables.mapped_orders.combined_cells import plain_words
from shipping.tables.mapped_orders.mapping import PACKS, MappedSheet
from shipping.words.problems import Problem, Where
from shipping.words.sentence import say

#: A title may stand so many rows above the header.
_MOST_TITLES = 20
#: How sheets call a count of packs or eggs that must not stay unread.
_COUNTS = re.compile(
    r"qty|quantity|anzahl|menge|stück|antal|quantit|cantidad|unidades|\buds\b|ilo[śs][ćc]|packs?\b|\bcount\b|"
    r"number of|liczba|sztuk|\bszt\b|\bstuks|hoeveelheid|\bqtde?\b|množství|mnozstvi|počet|pocet|\bks\b|"
    r"\bqta\b|pezzi|kvantitet",
    re.I,
)
#: How sheets call what says which rows are paid, called off or no orders at all. Common usage.
_STATUS = re.compile(
    r"((order|payment|financial|fulfil?lment) )?status|(bestel+|zahlungs|ordre?|betaal|betal[in]+gs)status"
    r"|status (zamówienia|płatności|objednávky|platby)|stav( objednávky| platby)?|(is )?paid\??"
    r"|(estado|stato|statut)( (de|do|da|del|della) \w+| dell'ordine| ordine| pagamento)?"
    r"|bezahlt|betalt|betaald|betald|pagado|pago|pagato|zaplaceno|uhrazeno|zapłacono|opłacone"
    r"|(date )?(cancell?ed|storniert|refunded)( on| at| am)?|anulowano|stornováno|zrušeno|geannuleerd"
    r"|cancelado|annullato|avbeställd",
    re.I,
)


@dataclass(frozen=True)
class Places:
    """Where each mapped column stands (places of a row, from 0), and the words by which a row is left out."""

    columns: Mapping[str, tuple[int, ...]]
    leave_out: Mapping[int, frozenset[str]]
    number: int = 0
    header: tuple[str, ...] = ()
    unread: Mapping[str, int] = field(default_factory=dict)

    @property
    def of_status(self) -> dict[str, int]:
        """The columns by which rows are left out, or that are left out by their name, by header."""
        return {self.header[place]: place for place in self.leave_out}

    def is_header(self, cells: Sequence[object]) -> bool:
        """Is a row the header once more?"""
        return tuple(filter(None, headers_of(cells))) == tuple(filter(None, self.header))


def headers_of(cells: Sequence[object]) -> list[str]:
    """The cells of a header as they are compared."""
    names = ("" if cell is None or isinstance(cell, BadSource) else as_text(cell) for cell in cells)
    return [" ".join(cleaned(name, False)[0].split()) for name in names]


def must_be_read(header: str) -> bool:
    """Must a column so called be read, or be left out by its name: does it sound like a count or a status?"""
    return _COUNTS.search(header) is not None or sounds_like_a_status(header)


def sounds_like_a_status(header: str) -> bool:
    """Does a column so called say which rows are paid, or no orders?"""
    return _STATUS.fullmatch(" ".join(header.split())) is not None


def places_of(mapped: MappedSheet, sheet: Sheet) -> Places:
    """Where the columns stand in a sheet whose rows begin at its titles or its header. Raises Unreadable if a
    mapped header is not there, or there twice; or if a column that must be read is not.
    """
    number, theirs = _header_of(mapped, sheet)
    for column, headers in mapped.columns.items():
        for name in headers:
            if theirs.count(name) != 1:
                raise Unreadable(_not_once(mapped, number, column, name, theirs))
    for name, words in mapped.leave_out.items():
        if words and theirs.count(name) != 1:
            raise Unreadable(_not_once(mapped, number, "sheet.leave_out", name, theirs))
    used = {header for headers in mapped.columns.values() for header in headers} | set(mapped.leave_out)
    unread = {name: place for place, name in enumerate(theirs) if name and name not in used}
    _must_all_be_read(mapped, number, unread)
    leave_out = {
        theirs.index(name): frozenset(map(plain_words, words))
        for name, words in mapped.leave_out.items()
        if name in theirs
    }
    columns = {column: tuple(map(theirs.index, headers)) for column, headers in mapped.columns.items()}
    return Places(columns, leave_out, number, tuple(theirs), unread)


def _header_of(mapped: MappedSheet, sheet: Sheet) -> tuple[int, list[str]]:
    """The row that holds every mapped header: the first, or one below a title; else the first row."""
    rows: list[tuple[int, list[str]]] = []
    wanted = {header for headers in mapped.columns.values() for header in headers}
    for number, cells in itertools.islice(sheet.rows, _MOST_TITLES):
        rows.append((number, headers_of(cells)))
        if wanted <= set(rows[-1][1]):
            return rows[-1]
    return rows[0] if rows else (0, [])


def _not_once(mapped: MappedSheet, number: int, column: str, name: str, theirs: list[str]) -> Problem:
    text = say("'{name}' is not in the header.", name)
    if name in theirs:
        text = say("'{name}' is twice in the header.", name)
    known = [header for header in theirs if header]
    such_as = say("Its headers are {known}.", ", ".join(known)) if known else "Write a header."
    where = Where(mapped.source, number)
    return Problem(where, column, "no-column", text, did_you_mean(name, known, such_as))


def _must_all_be_read(mapped: MappedSheet, number: int, others: Iterable[str]) -> None:
    """A column that sounds like a count or a status must be mapped, or left out by its name."""
    unread = next(filter(must_be_read, others), None)
    if unread is None:
        return
    if sounds_like_a_status(unread):
        days = (
            "cancelled_on" if re.search("cancel|storn|refund|an+ul|zruš|avbest", unread, re.I) else "paid_on"
        )
        text = say(
            "'{unread}' sounds like what says which rows are paid or called off, and is not read.", unread
        )
        mend = say(
            'Write {days} = "{unread}" below [sheet.columns] if it holds days; else'
            ' "{unread}" = ["cancelled"] with its words for rows that do not go, or = [],'
            " below [sheet.leave_out].",
            *(days, unread),
        )
    else:
        text = say("'{unread}' sounds like a count and is not read.", unread)
        mend = say(
            'Write {packs} = "{unread}" or eggs = "{unread}" below [sheet.columns], or "{unread}" = []'
            " below [sheet.leave_out].",
            *(PACKS, unread),
        )
    raise Unreadable(Problem(Where(mapped.source, number), "", "unused-count", text, mend))
