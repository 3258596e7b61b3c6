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
        "order number|order no|order id|order|no|nr|number|bestellnummer|bestell nr|bestellnr|bestellung|"
        "auftragsnummer|auftrags nr|auftragsnr|auftrag|ordrenummer|"
        "commande|no commande|numero de commande|pedido no|pedido|no pedido|numero de pedido|ordine|"
        "numero ordine|sale no|sale id|sale number|sales record number|record number|reference|id|#"
    ),
    "placed_on": (
        "order date|placed on|date|created|created at|ordered|ordered on|date ordered|date sold|"
        "sold on|sale date|day|timestamp|datum|bestelldatum|dato|fecha|fecha de pedido|"
        "fecha pedido|date de commande|data"
    ),
    "paid_on": (
        "paid on|paid at|payment date|date paid|paid|payment received|bezahlt am|bezahlt|betalt|"
        "fecha de pago|fecha pago|pagado el|paye le|date de paiement|zahlungsdatum|zahlungseingang|"
        "betalt den|betaald op|pagato il"
    ),
    "cancelled_on": (
        "cancelled on|canceled on|cancelled at|canceled at|date cancelled|date canceled|refunded on|"
        "refunded at|date refunded|storniert am|anulado el|annule le"
    ),
    "addressee": (
        "ship to|recipient|full name|ship name|buyer|customer|name|who|member|empfanger|kaufer|besteller|"
        "kunde|mitglied|navn|nom|client|acheteur|destinataire|nombre|cliente|comprador|destinatario"
    ),
    "delivery_1": (
        "address|delivery address|shipping address|address 1|address line 1|street|street 1|"
        "ship address|strasse|strasse nr|strasse und hausnummer|adresse|direccion|calle|rue|indirizzo"
    ),
    "delivery_2": "address 2|address line 2|street 2|apartment|adresszusatz",
    "postcode": (
        "postcode|post code|postal code|zip|zip code|zipcode|plz|postnr|cp|codigo postal|code postal|cap"
    ),
    "town": "town|city|ort|stadt|by|ville|ciudad|poblacion|localidad|localite|citta",
    "region": "region|state|province|county|bundesland|provincia",
    "country": "country|land|pays|pais|paese|country code",
    "tel": "phone|telephone|tel|mobile|telefon|telefono",
    "mail": "e mail|email|mail|e mail address|email address|correo|courriel",
    mapping.WISH: (
        "item|item name|item title|listing title|items|product|title|what|wish|wishes|species|"
        "fish|fisch|artikel|vare|art|description|articulo|producto|pez|article|produit|poisson|articolo|prodotto"
    ),
    mapping.PACKS: (
        "quantity|qty|qty sold|quantity sold|units|anzahl|menge|stuckzahl|stuck|stk|antal|cantidad|"
        "unidades|uds|quantite|quantita|count"
    ),
    "eggs": "eggs|eier|anzahl eier|number of eggs|æg|œufs|huevos|uova",
    mapping.PRICE_EACH: (
        "unit price|price each|item price|price per egg|price egg|einzelpreis|stuckpreis|preis stk|"
        "preis stuck|preis pro stuck|preis je stuck|preis pro ei|preis je ei|precio unitario|prix unitaire"
    ),
    "price": (
        "total|amount|order total|price|sum|sold for|line total|preis|summe|betrag|gesamt|"
        "importe|montant|importo"
    ),
    "note": "note|notes|comment|comments|bemerkung|observaciones|remarques",
}
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
    "population": "population|locality|location|fundort|herkunft|localidad|localite|localita|lokalitet",
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
