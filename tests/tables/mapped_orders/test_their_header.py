"""Headers of sheets in other languages are known by name; what is not known is asked for, never guessed."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.tables.mapped_orders.proposal import Proposal, proposal
from shipping.tables.mapped_orders.their_header import HEADERS
from shipping.tables.rows.settings import ReadingRules
from tests.post.a_shelf import a_species

#: A sheet a language: its header, and what our columns are taken from, column by column.
SHEETS = {
    "Polish": (
        "Numer zamówienia;Data zamówienia;Imię i nazwisko;Ulica;Nr domu;Kod pocztowy;Miasto;Kraj;Telefon;"
        "Produkt;Ilość;Cena jednostkowa;Data płatności;Uwagi",
        "order placed_on addressee delivery_1 delivery_1 postcode town country tel species eggs"
        " price_each paid_on note",
    ),
    "Dutch": (
        "Bestelnummer;Besteldatum;Voornaam;Achternaam;Straat;Huisnummer;Postcode;Woonplaats;Land;E-mailadres;"
        "Productnaam;Aantal;Stukprijs;Betaald op;Opmerkingen",
        "order placed_on addressee addressee delivery_1 delivery_1 postcode town country mail species eggs"
        " price_each paid_on note",
    ),
    "Portuguese": (
        "N.º encomenda;Data da encomenda;Nome;Apelido;Morada;Código postal;Localidade;País;Telemóvel;Artigo;"
        "Quantidade;Preço unitário;Data de pagamento;Observações",
        "order placed_on addressee addressee delivery_1 postcode town country tel species eggs"
        " price_each paid_on note",
    ),
    "Czech": (
        "Číslo objednávky;Datum objednávky;Jméno;Příjmení;Ulice;Číslo popisné;PSČ;Město;Země;Telefon;Zboží;"
        "Množství;Cena za kus;Zaplaceno;Poznámka",
        "order placed_on addressee addressee delivery_1 delivery_1 postcode town country tel species eggs"
        " price_each paid_on note",
    ),
    "Italian": (
        "Numero ordine;Data ordine;Nome;Cognome;Indirizzo;CAP;Città;Provincia;Nazione;Cellulare;Prodotto;"
        "Quantità;Prezzo unitario;Data pagamento;Note",
        "order placed_on addressee addressee delivery_1 postcode town region country tel species eggs"
        " price_each paid_on note",
    ),
    "Swedish": (
        "Ordernummer;Orderdatum;Förnamn;Efternamn;Gatuadress;Postnummer;Ort;Land;E-post;Artikel;Antal;À-pris;"
        "Betald;Kommentar",
        "order placed_on addressee addressee delivery_1 postcode town country mail species eggs price_each"
        " paid_on note",
    ),
}


def proposed(folder: Path, header: str, row: str = "") -> Proposal:
    path = folder / "shop.csv"
    path.write_text(f"{header}\n{row}\n", encoding="utf-8")
    return proposal(path, (a_species(),), ReadingRules())


@pytest.mark.parametrize("language", SHEETS)
def test_the_headers_of_a_shops_sheet_are_known(tmp_path: Path, language: str) -> None:
    header, ours = SHEETS[language]
    counted = ";".join("20" if column == "eggs" else "x" for column in ours.split())
    found = proposed(tmp_path, header, counted)
    columns = {theirs: column for column, said in found.mapped.columns.items() for theirs in said}
    assert [columns.get(theirs, "") for theirs in header.split(";")] == ours.split()
    assert (found.unused, found.lacking) == ((), ())


def test_a_name_and_a_street_in_two_columns_are_joined(tmp_path: Path) -> None:
    header, _ = SHEETS["Dutch"]
    row = "7;2026-11-20;Ida;Exempel;Droomplein;5;1011 AB;Amsterdam;Nederland;;Gardneri;20;1;;"
    read = proposed(tmp_path, header, row).read.rows[0]
    assert (read.addressee, read.delivery_1) == ("Ida Exempel", "Droomplein 5")


def test_what_is_not_known_or_may_be_either_is_asked_for(tmp_path: Path) -> None:
    header = "Bestelnummer;Besteldatum;Naam;Land;Vis;Aantal;Leverdatum;Zeepsop;Betaalstatus"
    found = proposed(tmp_path, header, "7;2026-11-20;Ida;Nederland;Gardneri;20;2026-12-20;x;betaald")
    assert found.unused == ("Leverdatum", "Zeepsop", "Betaalstatus")
    assert list(map(str, found.asks)) == [
        "Betaalstatus holds betaald: which of them do not go?",
        "Leverdatum may be not_after or not_before.",
    ]


def test_no_header_is_a_name_of_two_columns() -> None:
    every = [name for names in HEADERS.values() for name in names.split("|")]
    assert len(every) == len(set(every))
