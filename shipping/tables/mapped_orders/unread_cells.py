"""Rows of a sheet in, what its unread columns hold that would change an order out: said once a column."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from shipping.tables.cells import as_text, eggs_within, shortened
from shipping.tables.checks.order_notes import called_off_in, sent_in
from shipping.tables.checks.row_problems import and_on
from shipping.tables.mapped_orders.combined_cells import plain_words, split_wish
from shipping.tables.mapped_orders.header_doubts import Doubts
from shipping.tables.mapped_orders.header_words import sounds_like
from shipping.tables.mapped_orders.mapping import WISH
from shipping.tables.mapped_orders.their_header import Places
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say

#: How sheets call a column that is filled when an order has gone. Common usage.
_IS_GONE = re.compile(
    r"(?:date )?(?:shipped|sent|posted|dispatched|fulfilled|done|erledigt|verschickt|versendet|versandt|"
    r"abgeholt|enviado|entregado|envoyée?|expédiée?|livrée?|sendt|skickad|verzonden|inviato|spedito|wysłan[oey]|"
    r"nadan[oey]|odeslán[oa]|bezorgd|levererad|consegnato|entregue)"
    r"(?: (?:at|on|am|le|el|op|il|den))?\??",
    re.IGNORECASE,
)
_NOT_YET = re.compile(r"-|no?|nein|non|n[eo]j|nee|nie|ne|não|nei|false|0|offen|open|pending", re.IGNORECASE)
#: A column that must tell, in which no row of so many holds anything, was emptied or moved.
LEAST_ROWS = 3
_OFF, _GONE, _WISHED, _EGGS, _UNPAID = "off", "gone", "wished", "eggs", "unpaid"


@dataclass
class UnreadCells:
    """What gathers while the rows of one sheet go by: (row, rows, cell) by column and kind of it."""

    doubts: Doubts
    places: Places
    names: Mapping[str, str]
    rows: int = 0
    filled: set[int] = field(default_factory=set)
    seen: dict[tuple[str, str], tuple[int, int, str]] = field(default_factory=dict)

    def look(self, number: int, cells: list[object]) -> None:
        """See one row that is read as an order."""
        texts = ["" if cell is None else as_text(cell) for cell in cells]
        self.rows += 1
        self.filled |= {place for place, text in enumerate(texts) if text}
        for name, place in {**self.places.unread, **self.places.of_status}.items():
            text = texts[place] if place < len(texts) else ""
            kind = self._kind(name, text) if text else self._blank(name, texts)
            if kind:
                first, count, cell = self.seen.get((name, kind), (number, 0, shortened(text)))
                self.seen[name, kind] = (first, count + 1, cell)

    def _kind(self, name: str, text: str) -> str:
        words = self.places.leave_out.get(self.places.of_status.get(name, -1), frozenset())
        if any(word in plain_words(text) for word in words if word):
            return ""  # asked about by itself
        if called_off_in(text):
            return _OFF
        if sent_in(text) or (_IS_GONE.fullmatch(name) and not _NOT_YET.fullmatch(text)):
            return _GONE
        if name in self.places.of_status:
            return ""
        if WISH in self.doubts.mapped.columns and split_wish(text, self.names) is not None:
            return _WISHED
        return _EGGS if eggs_within(text) else ""

    def _blank(self, name: str, texts: list[str]) -> str:
        """A day of payment that is blank on the first row of an order, where no such day is read."""
        mapped = self.doubts.mapped
        is_read = "paid_on" in {*mapped.columns, *mapped.always} or name in self.places.of_status
        is_first = any(place < len(texts) and texts[place] for place in self.places.columns.get("order", ()))
        return _UNPAID if not is_read and is_first and "paid_on" in sounds_like(name) else ""

    def problems(self) -> Iterator[Problem]:
        """What was seen, once a column and kind of it; a column that must tell and is blank throughout."""
        for (name, kind), (number, count, cell) in self.seen.items():
            where = Where(self.doubts.mapped.source, number)
            if kind in (_EGGS, _WISHED):
                text = say("'{name}' holds '{cell}' and is not read.", name, cell)
                yield Problem(where, "", "unused-count", text, _to_read(kind, name), Level.NOTICE)
                continue
            level = (
                Level.ERROR
                if kind == _OFF and self.places.leave_out.get(self.places.of_status.get(name, -1))
                else Level.NOTICE
            )
            yield from self.doubts.asked(where, name, cell, *_told(kind, name, cell, count), level)
        for place in self._must_tell() if self.rows >= LEAST_ROWS else ():
            if place not in self.filled:
                name, where = self.places.header[place], Where(self.doubts.mapped.source, self.places.number)
                text, mend = say("is blank on every row."), say("Look whether it was emptied or moved")
                yield from self.doubts.asked(where, name, "", text, mend)

    def _must_tell(self) -> Iterator[int]:
        yield from self.places.columns.get("population", ())
        yield from (place for place, words in self.places.leave_out.items() if words)


def _to_read(kind: str, name: str) -> str:
    if kind == _WISHED:
        mend = 'Add "{name}" to wish below [sheet.columns], or write "{name}" = [] below [sheet.leave_out].'
        return say(mend, name)
    return say('Write eggs = "{name}" below [sheet.columns], or "{name}" = [] below [sheet.leave_out].', name)


def _told(kind: str, name: str, cell: str, count: int) -> tuple[str, str]:
    if kind == _UNPAID:
        text = and_on(say("is blank and not read: the order counts as paid"), count)
        return text, say('Write paid_on = "{name}" below [sheet.columns]', name)
    text = and_on(say("says '{words}', and the row counts all the same", cell), count)
    return text, say('Add "{cell}" to "{name}" below [sheet.leave_out]', cell, name)
