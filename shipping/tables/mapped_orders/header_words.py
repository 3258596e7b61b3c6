"""What sheets call our columns, in several languages: a header in, the columns it sounds like out."""

from __future__ import annotations

import re
from collections.abc import Mapping

from shipping.tables.countries import plain_name
from shipping.tables.mapped_orders import mapping

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
        "paid on|paid at|payment date|date paid|paid|payment received|bezahlt am|bezahlt|betalt|"
        "fecha de pago|fecha pago|pagado el|paye le|date de paiement|zahlungsdatum|zahlungseingang|"
        "betalt den|betaald op|pagato il|data płatnosci|data zapłaty|data wpłaty|zapłacono|opłacono|"
        "betaald|betaaldatum|datum betaling|pago em|data de pagamento|pago|zaplaceno|zaplaceno dne|"
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
        "population|locality|location|fundort|herkunft|localidad|localite|localita|lokalitet|lokalita|"
        "pochodzenie|vindplaats|herkomst|provenienza|fyndort"
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
