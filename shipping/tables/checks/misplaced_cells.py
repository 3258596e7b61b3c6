"""What stands in a wrong place: in a note, moved by a row, sorted alone, or day and month turned round."""

from __future__ import annotations

import math
import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain, pairwise
from operator import attrgetter
from statistics import median

from shipping.tables.cells import Row, values_of
from shipping.tables.checks.row_problems import asked
from shipping.tables.rows.lots import STAGES, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

#: Of so many orders one may stand out of the order of days, and one more of each so many.
LEAST_IN_ORDER, ONE_OF = 8, 20
#: So far from the days of the rows above and below it a day has its year, month or digits mistyped. Assumed.
FAR_FROM_BESIDE_D = 20


def orders_follow_by_day(draft: Draft) -> Iterator[Problem]:
    """A day weeks from those of the rows beside it, in a table that else runs from day to day."""
    for rows in grouped((row.at.file, row) for row in draft.first_rows).values():
        if len(rows) < LEAST_IN_ORDER:
            continue
        days = [row.placed_on.toordinal() for row in rows]
        if days[0] > days[-1]:  # the newest first
            rows, days = rows[::-1], days[::-1]
        standing = _longest_rising(days)
        if len(rows) - len(standing) > max(1, len(rows) // ONE_OF):
            continue
        for before, after in pairwise(standing):
            for odd in range(before + 1, after):
                if not days[before] - FAR_FROM_BESIDE_D <= days[odd] <= days[after] + FAR_FROM_BESIDE_D:
                    told = (rows[odd].placed_on, rows[before].placed_on, rows[after].placed_on)
                    text = say("{day} stands between rows of {before} and {after}.", *told)
                    yield from asked(draft, rows[odd], "placed_on", text, "Look at day, month and year")


def _longest_rising(values: Sequence[int]) -> list[int]:
    """The places of the most values that never fall, each after the one before it."""
    ends: list[int] = []
    places: list[int] = []
    before: list[int] = []
    for place, value in enumerate(values):
        at = bisect_right(ends, value)
        before.append(places[at - 1] if at else -1)
        ends[at : at + 1], places[at : at + 1] = [value], [place]
    found = []
    place = places[-1] if places else -1
    while place >= 0:
        found.append(place)
        place = before[place]
    return found[::-1]


#: A column of so many values that runs upwards beside another that does is no chance.
LEAST_SORTED = 10
_BY_NUMBER = re.compile(r"[0-9]+|[^0-9]+")


def columns_are_not_sorted_alone(draft: Draft) -> Iterator[Problem]:
    """Counts, prices, names or towns that run from the least up, beside names or days that do so too."""
    yield from _sorted_beside(draft, draft.lots, ("eggs",), lambda lot: _by_number(lot.lot))
    yield from _sorted_beside(draft, draft.order_rows, ("eggs", "price"), attrgetter("placed_on"))
    words = ("addressee", "postcode", "town")
    yield from _sorted_beside(draft, draft.first_rows, words, attrgetter("placed_on"))


def _sorted_beside(
    draft: Draft, every: Sequence[Row], columns: Sequence[str], key: Callable[..., object]
) -> Iterator[Problem]:
    for rows in grouped((row.at.file, row) for row in every).values():
        if not _runs_up([key(row) for row in rows]):
            continue
        for column in columns:
            values = [getattr(row, column) for row in rows if getattr(row, column)]
            values = [folded(value) if isinstance(value, str) else value for value in values]
            if _runs_up(values):
                text = say("all {count} rows run from the least up: was the column sorted alone?", len(rows))
                yield from asked(draft, rows[0], column, text, "Look at the row as a whole")


def _by_number(name: str) -> tuple[tuple[int, str], ...]:
    """A name so that ``G-10`` comes after ``G-9``."""
    parts = _BY_NUMBER.findall(folded(name))
    return tuple((int(part), "") if part.isdigit() else (-1, part) for part in parts)


def _runs_up(values: Sequence[object]) -> bool:
    """Are many different values in rising order, more than two orders by chance would be?"""
    some: Sequence[tuple[object, ...]] = [(value,) for value in values]
    return len(set(some)) >= LEAST_SORTED and all(one <= then for one, then in pairwise(some))


#: Of so many cells, each one more than the cell above it, the first was drawn down. Assumed.
LEAST_DRAWN = 5
_DRAWN = {"order_rows": ("eggs", "price"), "lots": ("eggs", "kept_at_c"), "postage": ("up_to_g", "price")}


def cells_are_not_drawn_down(draft: Draft) -> Iterator[Problem]:
    """Numbers of which each is one more than that above: a spreadsheet counted on from the first."""
    for table, columns in _DRAWN.items():
        every: tuple[Row, ...] = getattr(draft, table)
        for rows in grouped((row.at.file, row) for row in every).values():
            for column in columns:
                values = [float(getattr(row, column) or math.nan) for row in rows]
                begin = 0
                for n in range(1, len(rows) + 1):
                    if n < len(rows) and values[n] == values[n - 1] + 1:
                        continue
                    if n - begin >= LEAST_DRAWN:
                        text = say("{count} cells from here on are each one more than that above.", n - begin)
                        mend = say("Look whether the first was drawn down")
                        yield from asked(draft, rows[begin], column, text, mend)
                    begin = n


#: So many lines tell whether prices fit; of a moved column so large a share fits moved back, and so much more
#: than in its own rows. Assumed.
LEAST_PRICED, FITTING, FITTING_MORE = 8, 0.75, 0.3
#: Prices of an egg of one fish that differ by less fit each other. Assumed.
LIKE_PRICE = 0.15


def prices_stand_in_their_rows(draft: Draft) -> Iterator[Problem]:
    """Prices that fit the eggs of the row above or below, and not those of their own."""
    for rows in grouped((row.at.file, row) for row in draft.order_rows if row.price).values():
        prices = [float(row.price or 0) for row in rows]
        if len(rows) < LEAST_PRICED or (here := _fitting(rows, prices)) > 1 - FITTING_MORE:
            continue
        moved = {"below": [*prices[1:], prices[-1]], "above": [prices[0], *prices[:-1]]}
        best = max(moved, key=lambda where: _fitting(rows, moved[where]))
        if (there := _fitting(rows, moved[best])) >= max(FITTING, here + FITTING_MORE):
            text = say("{share:.0%} of the prices fit the eggs of another row: that above.", there)
            if best == "below":
                text = say("{share:.0%} of the prices fit the eggs of another row: that below.", there)
            yield from asked(draft, rows[0], "price", text, "Look at eggs and price")


def _fitting(rows: Sequence[OrderRow], prices: Sequence[float]) -> float:
    """The share of lines of which an egg costs about what it mostly does of that fish."""
    by_fish = grouped((row.species, price / row.eggs) for row, price in zip(rows, prices, strict=True))
    known = [(median(each), each) for each in by_fish.values() if len(each) > 1]
    fits = [abs(one - usual) <= LIKE_PRICE * usual for usual, each in known for one in each]
    return sum(fits) / len(fits) if len(fits) >= LEAST_PRICED else 0.0


#: Lots so far apart lie in two rooms [K].
TWO_ROOMS_C = 1.5
#: Of so many fish whose first lot is as warm as the lot above, the column is moved by a row.
LEAST_MOVED = 3


def temperatures_stand_in_their_rows(draft: Draft) -> Iterator[Problem]:
    """Two lots, each as warm as all others of the other's fish; first lots as warm as the fish above."""
    odd: dict[tuple[float, float], list[Lot]] = {}
    for of_fish in grouped((lot.species, lot) for lot in draft.lots).values():
        counts = Counter(lot.kept_at_c for lot in of_fish)
        for lot in of_fish if len(counts) == 2 else ():
            (usual,) = counts.keys() - {lot.kept_at_c}
            if counts[lot.kept_at_c] == 1 and abs(usual - lot.kept_at_c) >= TWO_ROOMS_C:
                odd.setdefault((lot.kept_at_c, usual), []).append(lot)
    pairs = [
        (one, other)
        for (here, usual), ones in odd.items()
        for one in ones[:2]
        for other in odd.get((usual, here), ())[:2]
        if one.species < other.species
    ]
    if len(pairs) == 1:
        one, other = pairs[0]
        text = say(
            "{here:g} °C, as other lots of '{fish}', and lot '{lot}' of it is kept at {there:g}.",
            *(one.kept_at_c, other.species, other.lot, other.kept_at_c),
        )
        yield from asked(draft, one, "kept_at_c", text, "Exchange the two, if they are turned")
    lots = draft.lots
    moved = [
        lots[n]
        for n in range(1, len(lots) - 1)
        if lots[n - 1].species != lots[n].species == lots[n + 1].species
        and lots[n - 1].kept_at_c == lots[n].kept_at_c != lots[n + 1].kept_at_c
    ]
    fitting = sum(
        lots[n - 1].species != lots[n].species == lots[n + 1].species
        and lots[n - 1].kept_at_c != lots[n].kept_at_c == lots[n + 1].kept_at_c
        for n in range(1, len(lots) - 1)
    )
    if len(moved) >= LEAST_MOVED and not fitting:
        text = say("the first lot of {count} fish is as warm as the lot above it.", len(moved))
        yield from asked(draft, moved[0], "kept_at_c", text, "Look whether the column was moved by a row")


#: What columns of a table hold, by the field of the draft; as a note it stands a column too far.
_WORDS_OF = {
    "lots": ["water", "moss", "peat", "coir", "counted", "estimated", *STAGES, "captive", "wild"],
    "looks": [*STAGES, "yes", "no"],
    "order_rows": ["usual", "together", "may split"],
    "rules": ["open", "papers", "closed"],
}
_A_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{1,2}[./][0-9]{1,2}[./][0-9]{2,4}")


def notes_are_no_cells(draft: Draft) -> Iterator[Problem]:
    """A note that is a day, or a word of another column, alone: the row was moved by a column."""
    for table, words in _WORDS_OF.items():
        rows: tuple[Lot | OrderRow, ...] = getattr(draft, table)
        for row in rows:
            if row.note and (folded(row.note) in words or _A_DAY.fullmatch(row.note)):
                text = "'{note}' stands in note, and belongs in a column of its own."
                yield from asked(draft, row, "note", text, "Look at the row as a whole", code="column")


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two columns of a table (a field of the draft) whose days mostly lie within ``near`` days, in their
    order; of more than ``far`` days one is a slip, if turned round they are near. Assumed.
    """

    table: str
    first: str
    then: str
    near: int
    far: int

    def is_near(self, first: date, then: date) -> bool:
        return 0 <= (then - first).days <= self.near


_PAIRS = (
    _Pair("first_rows", "placed_on", "paid_on", 10, 20),
    _Pair("lots", "laid_from", "laid_to", 21, 28),
    _Pair("lots", "wet_from", "wet_until", 100, 150),
    _Pair("disruptions", "from_", "until", 21, 28),
    _Pair("weather", "from_", "until", 21, 28),
)


def days_are_not_turned_round(draft: Draft) -> Iterator[Problem]:
    """A day whose month is another's day: an order of months ago comes first, a lot is older than it is."""
    for pair in _PAIRS:
        rows: tuple[Row, ...] = getattr(draft, pair.table)
        for row in rows:
            first, then = getattr(row, pair.first), getattr(row, pair.then)
            if first is not None and then is not None and (then - first).days > pair.far:
                yield from _turned(draft, row, pair, first, then)


def _turned(draft: Draft, row: Row, pair: _Pair, first: date, then: date) -> Iterator[Problem]:
    other_first, other_then = _turned_round(first), _turned_round(then)
    column, mend = pair.first, say("Write {day}", other_first)
    if pair.is_near(first, other_then):
        column, mend = pair.then, say("Write {day}", other_then)
    elif not pair.is_near(other_first, then):
        if not pair.is_near(other_first, other_then):
            return
        mend = say("Write {day}, and {other} in {column}", other_first, other_then, pair.then)
    told = (getattr(row, column), (then - first).days, first if column == pair.then else then)
    text = say("{day} is {days} days from {other}, and turned round, day for month, it is near.", *told)
    yield from asked(draft, row, column, text, mend)


def _turned_round(day: date) -> date:
    """The day with its month for its day; the same where there is none such."""
    return date(day.year, day.day, day.month) if day.day <= 12 else day


_CALLED_OFF = re.compile(
    r"\W*(?:order |is |was )*"
    r"(cancell?(?:ed|ation)(?! (?:an|his|her|the) ?other\b)|called off|refunded|erstattet|rembours[ée]e?|"
    r"ree?mbolsad[oa]|storn(?:o|iert)|"
    r"annull?\w+|annul[ée]e?|anulad[oa]|cancelad[oa]|geannuleerd|avbeställd|anulowan\w*|zrušeno|peruttu|"
    r"afbestilt|avbestilt|zurückgezogen|widerrufen)\b",
    re.IGNORECASE,
)
_HELD = re.compile(
    r"\W*(?:please |pls |bitte )?(?:(?:do not|don.t|dont|not to be) (?:send|ship|post|pack)\w*|"
    r"(?:on )?hold\b(?! (?:time|(?:the \w+ )?(?:flat|upright)))|nicht (?:senden|verschicken|versenden)|"
    r"ne pas envoyer|no enviar|chargeback|"
    r"refund\b|returned\b|disputed?\b|payment (?:failed|pending|declined|reversed)|not paid|unpaid|"
    r"wait(?:ing)? (?:for|until|till)\b|"
    r"cancel\b|stornier(?:en|e)\b|(?:veuillez )?annuler\b|(?:por favor,? )?(?:cancelar|anular)\b)",
    re.IGNORECASE,
)
#: Words for the same wherever they stand in a note: of money, and of days.
_IS_OF_DAYS = re.compile(
    r"\b(?:only after|after (?:christmas|new year|the holidays)|nach (?:weihnachten|neujahr|den feiertagen)|"
    r"après (?:noël|les fêtes)|después de (?:navidad|las fiestas)|"
    r"not (?:before|until|till)|(?:until|till|in) spring|away (?:from|until|till|[0-9])|"
    r"on holiday|nicht vor|erst (?:ab|nach)|im Urlaub|pas avant|no antes|not (?:at )?home|pas chez|"
    r"nicht (?:da|zu ?hause)|no est[aá] en casa|niet thuis|ikke hjemme|inte hemma)\b",
    re.IGNORECASE,
)
_IS_OF_MONEY = re.compile(
    r"\b(?:not (?:yet )?paid|unpaid|(?:noch )?nicht bezahlt|unbezahlt|pas (?:encore )?payée?|impayée?|"
    r"no (?:ha )?pagad[oa]|sin pagar|non pagato|niet betaald|ikke betalt|ej betald|nie zapłacon\w+|"
    r"(?:half|part(?:ly|ially)?) paid|paid (?:half|in part|partly|[0-9.,]+ of [0-9.,]+)|part payment|"
    r"balance (?:due|outstanding)|teilweise bezahlt|anzahlung|angezahlt|partiellement payée?|"
    r"payée? en partie|acompte|pago parcial|pagad[oa] en parte|pendiente de pago|falta pagar|"
    r"payment (?:is )?(?:outstanding|missing|due)|outstanding payment|"
    r"zahlung (?:ist )?(?:offen|ausstehend|fehlt))\b",
    re.IGNORECASE,
)
#: What is told of eggs that went, which would be sent again.
_IS_SENT = re.compile(
    r"\b(?:already|schon|bereits|déjà|ya(?: fue(?:ron)?)?|allerede|redan|reeds|al|już|già) (?:was |been )?"
    r"(?:sent|posted|shipped|mailed|delivered|handed over|verschickt|versandt|versendet|gesendet|geliefert|"
    r"abgeholt|envoyé|livré|expédié|remis|enviad[oa]|entregad[oa]|sendt|skickad|verzonden|verstuurd|"
    r"wysłan[eoy]|sped[iì]t[oi]|inviat[oi])(?:es|s|e)?\b|"
    r"^\W*(?:sent|posted|shipped|delivered|verschickt|versandt|envoyé|enviado|sendt|skickad) "
    r"(?:(?:on|am|le|el|den) )?[0-9]|\b(?:sent|posted|shipped|delivered) already\b|"
    r"\bdelivered (?:in person|by hand|at )",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"(?:sent|shipped|posted|dispatched|fulfilled|delivered|versandt|versendet|verschickt|geliefert|enviad[oa]|"
    r"entregad[oa]|expédiée?|envoyée?|livrée?|sendt|levert|skickad|levererad|verzonden|geleverd|inviat[oa]|"
    r"spedit[oa]|consegnat[oa]|entregue|wysłane|odesláno|retourn(?:ed|ée?|iert)|returned|devuelt[oa])",
    re.IGNORECASE,
)
_TEXTS = ("note", "message", "addressee")
_notes_of_row = values_of("note", "message")
_texts_of_row = values_of(*_TEXTS)


def called_off_in(text: str) -> bool:
    """Does a cell begin with a word for cancelled?"""
    return _CALLED_OFF.match(text) is not None


def sent_in(text: str) -> bool:
    """Does a cell say that the eggs have gone, or came back?"""
    return _GONE.fullmatch(text) is not None or _IS_SENT.search(text) is not None


def called_off_is_told_by_day(draft: Draft) -> Iterator[Problem]:
    """A row whose note, message or name begins with a word for cancelled, without its day, would be sent: it
    stops all until answered. Words for holding it, or for money gone back, are only said.
    """
    names = {row.addressee for row in draft.first_rows}
    notes = set(chain.from_iterable(map(_notes_of_row, draft.order_rows)))
    off = {text: match[1] for text in names | notes if (match := _CALLED_OFF.match(text))}
    held = {
        text: match[0].strip()
        for text in notes - set(off)
        if (
            match := _HELD.match(text)
            or _IS_OF_MONEY.search(text)
            or _IS_OF_DAYS.search(text)
            or _IS_SENT.search(text)
        )
    }
    for row in draft.order_rows if off or held else ():
        for column, text in zip(_TEXTS, _texts_of_row(row), strict=True):
            if row.cancelled_on is not None or text not in (off | held):
                continue
            if (row.not_before or row.not_after) and _IS_OF_DAYS.search(held.get(text, "")):
                continue
            said = say("says '{words}', and the row counts all the same.", off.get(text) or held[text])
            mend, level = say("Write the day in a column cancelled_on"), Level.ERROR
            if text in held:
                mend, level = say("Write not_before or cancelled_on, or empty paid_on"), Level.NOTICE
            yield from asked(draft, row, column, said, mend, level, code="called-off")


_MOVED = re.compile(
    r"\b(?:moved(?! (?:here|in)\b)|(?:new|wrong|other) address|(?:ship|send|deliver)\w* (?:it )?to|umgezogen|"
    r"neue (?:adresse|anschrift)|"
    r"nouvelle adresse|déménagé(?! (?:en|ici)\b)|nueva dirección|ny adresse|nieuw adres|nowy adres)\b",
    re.IGNORECASE,
)
_OTHER_COUNT = re.compile(
    r"\b(?:wants?|make it|instead of|not|statt|au lieu de|en vez de) [0-9]+\b(?! (?:pairs?|trios?)\b)"
    r"|\b[0-9]+ (?:more|eggs? please)\b"
    r"|\b(?:actually|in fact|eigentlich|en fait|en realidad)\b[^.;]{0,20}\b[0-9]+\b"
    r"|\b[0-9]+ \w+ (?:actually|in fact|eigentlich|en fait|en realidad)\b",
    re.IGNORECASE,
)
_FETCHED = re.compile(
    r"\b(?:fetch(?:es|ed)?|collects?|picks? (?:(?:it|them) )?up|pick-?up|abholung|selbstabhol\w+|"
    r"holt (?:sie |es )?(?:selbst )?ab|vien(?:t|dra) (?:les |la )?chercher|retrait|recoge|recogida|"
    r"afhalen|(?:henter|hämtar)(?! (?:ikke|inte)\b))\b",
    re.IGNORECASE,
)


def notes_stand_in_columns(draft: Draft) -> Iterator[Problem]:
    """A new address, another count, a fetching told in a note only: label and plan read columns."""
    fetched = {service.service for service in draft.services if service.is_collection}
    for row in draft.order_rows:
        if row.cancelled_on is not None:
            continue
        for column, text in (("note", row.note), ("message", row.message)):
            if text and (
                word := _MOVED.search(text) or _OTHER_COUNT.search(text) or _posted(row, text, fetched)
            ):
                said = say("says '{words}', and label and plan read the columns only.", word[0])
                yield from asked(draft, row, column, said, "Write it in its column, if it holds")


def _posted(row: OrderRow, text: str, fetched: set[str]) -> re.Match[str] | None:
    """What says that the buyer fetches a row that would be posted."""
    return None if row.service in fetched or not fetched else _FETCHED.search(text)
