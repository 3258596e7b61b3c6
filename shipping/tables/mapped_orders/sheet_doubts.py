"""What is asked of a mapped sheet, never refused: mapping, header, rows in; what is at odds or unread out."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from shipping.tables.cells import as_text, eggs_within, shortened
from shipping.tables.checks.misplaced_cells import called_off_in, sent_in
from shipping.tables.checks.row_problems import and_on, to_confirm
from shipping.tables.files.settings_reader import MAP_FILE
from shipping.tables.mapped_orders import mapping
from shipping.tables.mapped_orders.combined_cells import KeptFish, plain_words, split_wish
from shipping.tables.mapped_orders.mapping import WISH, MappedSheet
from shipping.tables.mapped_orders.their_header import Places, plain_header, sounds_like
from shipping.tables.spelling import folded
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import say


@dataclass(frozen=True)
class Doubts:
    """Questions about one mapped sheet; those that ``meant`` confirms are not asked.

    ``currency`` is the shelf's, "" where its prices are not asked about.
    """

    mapped: MappedSheet
    meant: Collection[str]
    currency: str = ""

    def asked(
        self, where: Where, column: str, cell: str, text: str, mend: str, level: Level = Level.NOTICE
    ) -> Iterator[Problem]:
        """A question about a cell or header, named as ``meant`` may have it."""
        named = f"{self.mapped.source} {column} {cell}".strip()
        if folded(named) not in map(folded, self.meant):
            yield to_confirm(Problem(where, column, "asked", text, mend, level), named)


_BILLED = re.compile(
    r"billing|bill to|invoice|rechnungs?|de facturación|facturación|de facturation|facturation|factuur|"
    r"fakturer(?:ings)?|fakturační|faktur\w*|de faturação|faturação|di fatturazione|fatturazione",
    re.IGNORECASE,
)
_SHIPPED = re.compile(
    r"shipping|ship to|delivery|deliver to|liefer|versand|de envío|envío|de entrega|entrega|de livraison|"
    r"livraison|(?:af)?lever(?:ings?|ans)?|bezorg|verzend|de envio|di spedizione|spedizione|di consegna|"
    r"consegna|dostawy|wysyłki|dodací|doručovací",
    re.IGNORECASE,
)
_SEVERAL = re.compile(
    r"\b(?:packs?|packets?|paquets?|paquetes?|packung(?:en)?|päckchen|bags?|beutel|tüten?|sachets?|bolsas?|"
    r"pairs?|paare?|parejas?|couples?|dozens?|dutzend|docenas?|douzaines?|portion(?:en|s|es)?|trios?)\b",
    re.IGNORECASE,
)
_EACH = re.compile(
    r"\b(?:unit|each|per (?:egg|pack|bag)|einzelpreis|stückpreis|unitaire|unitari[oa]|"
    r"(?:pro|je) (?:stück|ei)|la pièce|por huevo|par œuf)\b",
    re.IGNORECASE,
)
_WHOLE = frozenset(
    (
        *("total", "totale", "line total", "order total", "sum", "summe", "gesamt", "gesamtpreis", "betrag"),
        *("amount", "importe", "montant", "importo"),
    )
)
_CENTS = re.compile(r"\b(?:cents?|ct|centimes?|céntimos?|centavos?|öre|øre|pence|groszy)\b|¢", re.IGNORECASE)


def _first_day_unread(doubts: Doubts, where: Where, unread: Collection[str]) -> Iterator[Problem]:
    """A column of days from which eggs may be posted, that nothing reads: they would go before."""
    header = next((one for one in unread if _FROM.search(one) and _POSTED.search(one)), None)
    if header and not {"not_before", "not_after"} & doubts.mapped.columns.keys():
        text = say("'{header}' is not read, and eggs may go before.", header)
        mend = say('Write {column} = "{other}" in {file}', "not_before", header, MAP_FILE)
        yield from doubts.asked(where, "not_before", header, text, mend)


def header_doubts(doubts: Doubts, number: int, unread: Collection[str]) -> Iterator[Problem]:
    """Headers mapped to a column for which another header stands beside them, or that count otherwise."""
    where = Where(doubts.mapped.source, number)
    yield from _first_day_unread(doubts, where, unread)
    for column, headers in doubts.mapped.columns.items():
        for header in headers:
            if meant := _other_end(column, header):
                text = say("'{header}' is read as {column}, and sounds like {other}.", header, column, meant)
                mend = say('Write {column} = "{other}" in {file}', meant, header, MAP_FILE)
                yield from doubts.asked(where, column, header, text, mend)
            elif (told := _beside(column, header, unread) or _of_another_unit(column, header)) is not None:
                yield from doubts.asked(where, column, header, *told)


def _beside(column: str, header: str, unread: Collection[str]) -> tuple[str, str] | None:
    """The address of the bill beside one to send to; one column's name for another that stands there."""
    if column in (*mapping.ADDRESS_COLUMNS, mapping.ADDRESS) and _BILLED.search(header):
        rest = plain_header(_BILLED.sub("", header))
        other = next((o for o in unread if _SHIPPED.search(o) and _rest(o) == rest), None)
    else:
        mine = sounds_like(header)
        is_other = bool(mine) and column not in mine
        other = next((o for o in unread if is_other and column in sounds_like(o)), None)
    if other is None:
        return None
    text = say("'{header}' is read as {column}, and '{other}' is not read.", header, column, other)
    return text, say('Write {column} = "{other}" in {file}', column, other, MAP_FILE)


#: Words of a first day to post, and of a last one to arrive.
_FROM = re.compile(
    r"\b(?:from|after|not before|earliest|ab|frühestens|nicht vor|à partir|dès|pas avant|desde|a partir)\b",
    re.IGNORECASE,
)
_POSTED = re.compile(
    r"ship|post|send|deliver|versand|liefer|schick|envoi|envío|enviar|livr|entrega", re.IGNORECASE
)
_UNTIL = re.compile(
    r"\b(?:until|till|by|latest|not after|bis|spätestens|nicht nach|jusqu|au plus tard|hasta)\b",
    re.IGNORECASE,
)


def _other_end(column: str, header: str) -> str:
    """The column that a header of a wished day is meant for, where it is read as the other; "" else."""
    is_from, is_until = bool(_FROM.search(header)), bool(_UNTIL.search(header))
    meant = "not_before" if is_from else "not_after"
    return meant if is_from != is_until and column in {"not_before", "not_after"} - {meant} else ""


def _rest(header: str) -> str:
    return plain_header(_SHIPPED.sub("", header))


def _of_another_unit(column: str, header: str) -> tuple[str, str] | None:
    """A count of packs or pairs read as eggs, a price of one read as that of all, cents read as money."""
    if column in ("eggs", mapping.WISH) and (several := _SEVERAL.search(header)):
        mend = say('Write packs = "{header}", and how many eggs one holds as eggs', header)
        return say("'{header}' says '{word}', and is read as single eggs.", header, several[0]), mend
    if column == mapping.PACKS and sounds_like(header) == {"eggs"}:
        mend = say('Write eggs = "{header}"', header)
        return say("'{header}' counts eggs, and is read as a count of packs.", header), mend
    if column in ("price", mapping.PRICE_EACH) and (cents := _CENTS.search(header)):
        mend = say("Write the amounts in whole money")
        return say("'{header}' says '{word}', and is read as whole money.", header, cents[0]), mend
    if column == "price" and _EACH.search(header):
        mend = say('Write price_each = "{header}"', header)
        return say("'{header}' is the price of one, and is read as that of the whole line.", header), mend
    if column == mapping.PRICE_EACH and re.sub(r"[$€£]", "", plain_header(header)).strip() in _WHOLE:
        mend = say('Write price = "{header}"', header)
        return say("'{header}' is the price of the whole line, and is read as that of one.", header), mend
    return None


#: Signs and words for money, as regular expressions, and what they may stand for.
_MONEY = {
    r"€|\bEUR\b|\beuros?\b": "EUR",
    r"£|\bGBP\b": "GBP",
    r"\bUSD\b|\bUS ?\$": "USD",
    r"\$": "USD CAD AUD NZD SGD HKD MXN BRL CLP ARS COP",
    r"\bCHF\b|\bFr\.": "CHF",
    r"\bkr\b": "DKK SEK NOK ISK",
    r"\bzł|\bPLN\b": "PLN",
    r"\bKč|\bCZK\b": "CZK",
    r"¥|\bJPY\b": "JPY CNY",
}


def price_doubts(doubts: Doubts, number: int, column: str, text: str) -> Iterator[Problem]:
    """A price with the sign of another money than the shelf's."""
    money = next((codes for sign, codes in _MONEY.items() if re.search(sign, text, re.IGNORECASE)), "")
    if doubts.currency and money and doubts.currency not in money.split():
        told = say("'{price}' is read as {currency}.", text, doubts.currency)
        mend = say("Write what it is in {currency}", doubts.currency)
        yield from doubts.asked(Where(doubts.mapped.source, number), column, text, told, mend)


def name_doubts(doubts: Doubts, kept: KeptFish) -> Iterator[Problem]:
    """Names of fish that hold one population and stand for another, or for a fish of which none is kept."""
    fish_of: dict[str, set[str]] = {}
    for species, population in kept:
        if population:
            fish_of.setdefault(plain_words(population), set()).add(species)
    where = Where(MAP_FILE)
    yield from _names_of_one_fish(doubts, kept)
    for theirs, meant in doubts.mapped.names.items():
        species, _, population = meant.partition("/")
        own, words = plain_words(population), plain_words(theirs)
        held = [name for name in fish_of if re.search(rf"\b{re.escape(name)}\b", words)]
        mend = say("Look at fish and population")
        if held and own not in held and not (own and own in words):
            text = say("'{name}' names '{population}', and stands for '{meant}'.", theirs, held[0], meant)
            yield from doubts.asked(where, "sheet.names", theirs, text, mend)
        elif own in fish_of and species not in fish_of[own]:
            other = min(fish_of[own])
            text = say("'{population}' is a population of '{other}' elsewhere.", population, other)
            yield from doubts.asked(where, "sheet.names", theirs, text, mend)


def _names_of_one_fish(doubts: Doubts, kept: KeptFish) -> Iterator[Problem]:
    """Two names that stand for one fish and locality, while a locality that is kept has no name of theirs."""
    meant = {theirs: folded(fish) for theirs, fish in doubts.mapped.names.items()}
    named = set(meant.values())
    without = sorted(
        f"{species}/{population}"
        for species, population in kept
        if population and not {folded(species), folded(f"{species}/{population}")} & named
    )
    for theirs, fish in meant.items():
        others = [other for other, its in meant.items() if its == fish and other != theirs]
        if others and len(without) == 1 and list(meant).index(others[0]) < list(meant).index(theirs):
            told = (theirs, others[0], without[0])
            text = say("'{name}' and '{other}' stand for one fish, and no name for '{fish}'.", *told)
            mend = say("Look at fish and population")
            yield from doubts.asked(Where(MAP_FILE), "sheet.names", theirs, text, mend)


#: How sheets call a column that is filled when an order has gone. Common usage.
_IS_GONE = re.compile(
    r"(?:date )?(?:shipped|sent|posted|dispatched|fulfilled|done|erledigt|verschickt|versendet|versandt|"
    r"abgeholt|enviado|entregado|envoyée?|expédiée?|livrée?|sendt|skickad|verzonden|inviato|spedito|wysłan[oey]|"
    r"nadan[oey]|odeslán[oa]|bezorgd|levererad|consegnato|entregue)"
    r"(?: (?:at|on|am|le|el|op|il|den))?\??",
    re.IGNORECASE,
)
NOT_YET = re.compile(r"-|no?|nein|non|n[eo]j|nee|nie|ne|não|nei|false|0|offen|open|pending", re.IGNORECASE)
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
        if sent_in(text) or (_IS_GONE.fullmatch(name) and not NOT_YET.fullmatch(text)):
            return _GONE
        if name in self.places.of_status:
            return ""
        if WISH in self.doubts.mapped.columns and split_wish(text, self.names) is not None:
            return _WISHED
        return _EGGS if eggs_within(text) else ""

    def _blank(self, name: str, texts: list[str]) -> str:
        """A day of payment that is blank on the first row of an order, where no such day is read."""
        mapped = self.doubts.mapped
        is_left = not mapped.leave_out.get(name, (name,))
        is_read = "paid_on" in {*mapped.columns, *mapped.always} or is_left
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
