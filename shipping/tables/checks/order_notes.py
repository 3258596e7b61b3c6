"""What notes and messages of orders say beside the columns: called off, not paid, sent, moved, fetched."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain

from shipping.tables.cells import values_of
from shipping.tables.checks.row_problems import asked
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.words.problems import Level, Problem
from shipping.words.sentence import say

_CALLED_OFF = re.compile(
    r"\W*(?:order |is |was )*"
    r"(cancell?(?:ed|ation)|called off|refunded|erstattet|rembours[ée]e?|ree?mbolsad[oa]|storn(?:o|iert)|"
    r"annull?\w+|annul[ée]e?|anulad[oa]|cancelad[oa]|geannuleerd|avbeställd|anulowan\w*|zrušeno|peruttu|"
    r"afbestilt|avbestilt|zurückgezogen|widerrufen)\b",
    re.IGNORECASE,
)
_HELD = re.compile(
    r"\W*(?:please |pls |bitte )?(?:(?:do not|don.t|dont|not to be) (?:send|ship|post|pack)\w*|"
    r"(?:on )?hold\b|nicht (?:senden|verschicken|versenden)|ne pas envoyer|no enviar|chargeback|"
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
    r"nouvelle adresse|déménagé|nueva dirección|ny adresse|nieuw adres|nowy adres)\b",
    re.IGNORECASE,
)
_OTHER_COUNT = re.compile(
    r"\b(?:wants?|make it|instead of|not|statt|au lieu de|en vez de) [0-9]+\b"
    r"|\b[0-9]+ (?:more|eggs? please)\b"
    r"|\b(?:actually|in fact|eigentlich|en fait|en realidad)\b[^.;]{0,20}\b[0-9]+\b"
    r"|\b[0-9]+ \w+ (?:actually|in fact|eigentlich|en fait|en realidad)\b",
    re.IGNORECASE,
)
_FETCHED = re.compile(
    r"\b(?:fetch(?:es|ed)?|collects?|picks? (?:(?:it|them) )?up|pick-?up|abholung|selbstabhol\w+|"
    r"holt (?:sie |es )?(?:selbst )?ab|vien(?:t|dra) (?:les |la )?chercher|retrait|recoge|recogida|"
    r"afhalen|henter|hämtar)\b",
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
