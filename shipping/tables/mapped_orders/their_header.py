"""The first rows of another shop's sheet in, its header, where columns stand and what each may be out."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shipping.tables.cells import as_text
from shipping.tables.countries import plain_name
from shipping.tables.files.sheet import BadSource, Sheet, Unreadable, cleaned
from shipping.tables.mapped_orders import mapping
from shipping.tables.mapped_orders.combined_cells import plain_words
from shipping.tables.mapped_orders.mapping import PACKS, MappedSheet
from shipping.tables.spelling import did_you_mean
from shipping.words.problems import Problem, Where
from shipping.words.sentence import say

#: What sheets call our columns, in several languages, without accents; the first that a sheet has is taken.
#: Common usage.
HEADERS: Mapping[str, str] = {
    "order": (
        "order number|order no|order id|order|bestellnummer|bestell nr|bestellnr|bestellung|"
        "auftragsnummer|auftrags nr|auftragsnr|auftrag|ordrenummer|commande|no commande|"
        "numero de commande|pedido no|pedido|no pedido|numero de pedido|ordine|numero ordine|sale no|"
        "sale id|sale number|sales record number|record number|numer zamowienia|nr zamowienia|zamowienie|"
        "id zamowienia|bestelnummer|bestelnr|bestelling|ordernummer|ordernr|order nr|numero da encomenda|"
        "encomenda|n encomenda|n o encomenda|numero do pedido|n o pedido|cislo objednavky|objednavka|"
        "c objednavky|id objednavky|n ordine|n o ordine|id ordine|bestallningsnummer|bestallning|ordrenr|"
        "bestillingsnummer|bestilling|no|nr|number|numer|nummer|cislo|numero|reference|id|#"
    ),
    "placed_on": (
        "order date|placed on|created|created at|ordered|ordered on|date ordered|date sold|sold on|"
        "sale date|bestelldatum|fecha de pedido|fecha pedido|date de commande|data zamowienia|"
        "data złozenia|data zakupu|besteldatum|orderdatum|datum bestelling|besteld op|data da encomenda|"
        "data do pedido|data de compra|datum objednavky|datum vytvoreni|objednano|data ordine|"
        "data dell'ordine|data di acquisto|ordinato il|bestallningsdatum|ordredato|bestillingsdato|date|"
        "day|timestamp|datum|dato|fecha|data"
    ),
    "paid_on": (
        "paid on|paid at|is paid|payment date|date paid|paid|payment received|bezahlt am|bezahlt|betalt|"
        "fecha de pago|fecha pago|pagado el|pagado|paye le|paye|date de paiement|zahlungsdatum|"
        "zahlungseingang|betalt den|betaald op|pagato il|data płatnosci|data zapłaty|data wpłaty|zapłacono|"
        "opłacono|betaald|betaaldatum|datum betaling|pago em|data de pagamento|pago|zaplaceno|zaplaceno dne|"
        "datum platby|datum uhrady|uhrazeno|data pagamento|data di pagamento|pagato|betald|betald den|"
        "betaldatum|betalningsdatum|betalingsdato"
    ),
    "cancelled_on": (
        "cancelled on|canceled on|cancelled at|canceled at|date cancelled|date canceled|refunded on|"
        "refunded at|date refunded|storniert am|anulado el|annule le|anulowano|data anulowania|"
        "geannuleerd op|cancelado em|data de cancelamento|stornovano|datum storna|annullato il|"
        "data annullamento|avbestalld den|annulleret den"
    ),
    "addressee": (
        "ship to|recipient|full name|ship name|buyer|customer|name|who|member|empfanger|kaufer|besteller|"
        "kunde|mitglied|navn|nom|client|acheteur|destinataire|nombre|cliente|comprador|destinatario|"
        "odbiorca|kupujacy|klient|imie i nazwisko|nabywca|ontvanger|klant|koper|naam|klantnaam|"
        "volledige naam|nome completo|nome|prijemce|zakaznik|kupujici|jmeno a prijmeni|jmeno|acquirente|"
        "nominativo|nome e cognome|mottagare|kund|kopare|namn|kundnamn|modtager|mottaker|køber|kjøper"
    ),
    "delivery_1": (
        "delivery address|shipping address|address|address 1|address line 1|street|street 1|ship address|"
        "strasse|strasse nr|strasse und hausnummer|adresse|direccion|calle|rue|indirizzo|adres dostawy|"
        "adres wysyłki|ulica i numer|ulica i nr|ulica|afleveradres|verzendadres|bezorgadres|"
        "straat en huisnummer|straat|adres|morada de entrega|endereco de entrega|morada|endereco|rua|"
        "dodaci adresa|dorucovaci adresa|ulice a cislo|ulice|adresa|indirizzo di spedizione|"
        "indirizzo di consegna|via e numero|via|leveransadress|gatuadress|adress|leveringsadresse|gade|"
        "gate"
    ),
    "delivery_2": (
        "address 2|address line 2|street 2|apartment|adresszusatz|adres 2|toevoeging|morada 2|endereco 2|"
        "adresa 2|indirizzo 2|adress 2|c o adress"
    ),
    "postcode": (
        "postcode|post code|postal code|zip|zip code|zipcode|plz|postnr|cp|codigo postal|code postal|cap|"
        "kod pocztowy|cep|psc|codice postale|postnummer"
    ),
    "town": (
        "town|city|ort|stadt|by|ville|ciudad|poblacion|localidad|localite|citta|miasto|miejscowosc|"
        "plaats|woonplaats|cidade|localidade|mesto|obec|comune|postort|poststed"
    ),
    "region": ("region|state|province|county|bundesland|provincia|wojewodztwo|provincie|distrito|regione"),
    "country": "country|land|pays|pais|paese|country code|kraj|zeme|stat|nazione",
    "tel": (
        "phone|telephone|tel|mobile|telefon|telefono|nr telefonu|numer telefonu|telefoon|telefoonnummer|"
        "telefone|telemovel|telefonni cislo|cellulare|telefonnummer|mobil|mobilnummer|mobiel|gsm"
    ),
    "mail": (
        "e mail|email|mail|e mail address|email address|correo|courriel|adres e mail|e mailadres|"
        "mailadres|correio eletronico|posta elettronica|e post|epost|e postadress"
    ),
    mapping.WISH: (
        "item|item name|item title|listing title|items|product|title|what|wish|wishes|species|fish|fisch|"
        "artikel|vare|art|description|articulo|producto|pez|article|produit|poisson|articolo|prodotto|"
        "produkt|nazwa produktu|towar|gatunek|ryba|nazwa|vis|soort|productnaam|omschrijving|artigo|"
        "produto|peixe|especie|descricao|nazev produktu|zbozi|nazev zbozi|polozka|druh|nazev|pesce|"
        "specie|descrizione|fisk|vara|benamning|produktnamn"
    ),
    mapping.PACKS: (
        "quantity|qty|qty sold|quantity sold|units|anzahl|menge|stuckzahl|stuck|stk|antal|cantidad|"
        "unidades|uds|quantite|quantita|count|ilosc|liczba sztuk|liczba|sztuk|szt|aantal|stuks|"
        "hoeveelheid|quantidade|qtd|qtde|mnozstvi|pocet kusu|pocet|ks|kusu|qta|pezzi|pz|kvantitet"
    ),
    "eggs": (
        "eggs|eier|anzahl eier|number of eggs|æg|œufs|huevos|uova|liczba jaj|ilosc jaj|jaja|ikra|"
        "ilosc ikry|eieren|aantal eieren|ovos|numero de ovos|n o de ovos|jikry|pocet jiker|numero uova|"
        "numero di uova|agg|antal agg|rom|romkorn|antal romkorn|antal æg"
    ),
    mapping.PRICE_EACH: (
        "unit price|price each|item price|price per egg|price egg|einzelpreis|stuckpreis|preis stk|"
        "preis stuck|preis pro stuck|preis je stuck|preis pro ei|preis je ei|precio unitario|"
        "prix unitaire|cena jednostkowa|cena za sztuke|cena szt|cena za szt|stukprijs|prijs per stuk|"
        "eenheidsprijs|preco unitario|valor unitario|jednotkova cena|cena za kus|cena za ks|cena ks|"
        "prezzo unitario|prezzo cadauno|styckpris|a pris|pris per st|stykpris|stkpris"
    ),
    "price": (
        "total|amount|order total|price|sum|sold for|line total|preis|summe|betrag|gesamt|importe|"
        "montant|importo|cena|kwota|razem|suma|wartosc|prijs|bedrag|totaalbedrag|totaalprijs|totaal|"
        "preco|valor|montante|castka|cena celkem|celkem|prezzo|totale|pris|belopp|summa|totalt|beløb|"
        "beløp|i alt"
    ),
    "note": (
        "note|notes|comment|comments|bemerkung|observaciones|remarques|uwagi|komentarz|opmerking|"
        "opmerkingen|observacoes|obs|notas|nota|poznamka|poznamky|commenti|osservazioni|kommentar|"
        "anmarkning|meddelande|bemærkning"
    ),
}
#: Columns in which sheets keep one of ours in two parts: a name, and a street and its number.
FIRST_NAMES = (
    "first name|given name|vorname|prenom|nombre de pila|voornaam|imie|krestni jmeno|fornamn|fornavn|"
)
FAMILY_NAMES = (
    "last name|surname|family name|nachname|familienname|nom de famille|apellidos|apellido|achternaam|"
    "nazwisko|prijmeni|cognome|apelido|sobrenome|efternamn|etternavn|efternavn|"
)
HOUSE_NUMBERS = (
    "house number|house no|hausnummer|hausnr|haus nr|huisnummer|huisnr|nr domu|numer domu|"
    "cislo popisne|cislo domu|numero civico|civico|numero de porta|husnummer|husnr|"
)
#: Headers that are a fish's population and nothing else, where its name stands in a column of its own.
POPULATIONS = (
    "population|fundort|fundortcode|fundort code|sammelcode|collection code|collecting code|"
    "code de collecte|codigo de recoleccion|vindplaats|fyndort|findested"
)
#: Words in front of a header that say whose it is.
WHOSE = re.compile(
    r"^(?:buyer|customer|recipient|client|ship(?:ping)?(?: to)?|deliver(?:y|ed)(?: to)?|post to) (?!by$)(?=.)"
)
#: Headers that are no proposal: a day for which something is wanted may be the first or the last, and a
#: locality the buyer's town.
_BESIDE = {
    "not_before": (
        "delivery date|date of delivery|wanted on|wanted by|liefertermin|lieferdatum|wunschtermin|"
        "fecha entrega|fecha de entrega|date de livraison|leveringsdato|leverdatum|data di consegna"
    ),
    "population": (
        "locality|location|herkunft|localidad|localite|localita|lokalitet|lokalita|pochodzenie|herkomst|"
        f"provenienza|{POPULATIONS}"
    ),
}
_COLUMNS = {column: frozenset(names.split("|")) for column, names in (*HEADERS.items(), *_BESIDE.items())}


def sounds_like(header: str) -> frozenset[str]:
    """The columns of ours that a header is a name of; several where it may be either."""
    plain = re.sub(r"[$€£]", "", plain_header(header)).strip()
    columns = {column for column, names in _COLUMNS.items() if {plain, WHOSE.sub("", plain)} & names}
    return frozenset(columns | ({"not_after"} if "not_before" in columns else set()))


def plain_header(name: str) -> str:
    """A header without accents, case, what stands in brackets, and signs."""
    return plain_name(re.sub(r"\(.*?\)|[.:?*/_-]", " ", name)).replace("ß", "ss")


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
            'Write {days} = "{unread}" below [sheet.columns] if it holds days, or yes and no; else'
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
