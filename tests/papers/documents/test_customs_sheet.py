"""The customs data sheet names its fields in English and French, ticks one box and stays on a page."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from pypdf import PdfReader

from shipping.papers.documents.contents import PaperInputs
from shipping.papers.documents.customs_sheet import _categories, customs_sheet, parcel_declaration
from shipping.papers.writing import write_papers
from shipping.post.customs import LONG_FORM, Goods, missing_facts
from shipping.tables.rows.orders import OrderRow, OwedRow, orders_from_rows
from tests.papers import sample
from tests.papers.reading import outside_margins, story_words, words_of


def long_form(paper: str, folder: Path) -> Path:
    """The sheet of the first parcel where no rate for SDR is set, which takes the longer form."""
    settings = sample.SHELF.settings
    update = {
        "customs": settings.customs.model_copy(update={"sdr": None}),
        "papers": settings.papers.model_copy(update={"paper": paper}),
    }
    shelf = replace(sample.SHELF, settings=settings.model_copy(update=update))
    write_papers(sample.PLAN, shelf, folder, only=("customs",), items=sample.ITEMS)
    return folder / "parcels" / "2026-W49-01-customs.pdf"


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_the_longer_form_is_one_page_and_names_every_field_in_english_and_french(
    paper: str, tmp_path: Path
) -> None:
    sheet = long_form(paper, tmp_path)
    words = words_of(sheet)
    for english, french in (
        ("Detailed description of contents", "Désignation détaillée du contenu"),
        ("Net weight", "Poids net"),
        ("Total gross weight", "Poids brut total"),
        ("HS number", "N° SH"),
        ("From", "De"),
        ("Importer's reference", "Référence de l'importateur"),
        ("Postal charges", "Frais de port"),
        ("Category of item", "Catégorie de l'envoi"),
        ("Invoice", "Facture"),
        ("Date of posting", "Date de dépôt"),
    ):
        assert english in words
        assert french in words
    assert len(PdfReader(sheet).pages) == 1
    assert outside_margins(sheet) == []


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_twelve_goods_take_two_pages_that_say_so_and_what_is_signed_stands_over_the_signature(
    paper: str, tmp_path: Path
) -> None:
    settings = sample.SHELF.settings
    papers = settings.papers.model_copy(update={"paper": paper})
    shelf = replace(sample.SHELF, settings=settings.model_copy(update={"papers": papers}))
    parcel = sample.PARCELS[0]
    plan = replace(sample.PLAN, parcels=(replace(parcel, lines=parcel.lines * 12),))
    (sheet, *_) = write_papers(plan, shelf, tmp_path, only=("customs",))
    first, last = (" ".join(page.extract_text().split()) for page in PdfReader(sheet).pages)
    assert first.endswith("page 1/2")
    assert last.endswith("page 2/2")
    assert last.index("The particulars given here") < last.index("Date and sender's signature")


def test_one_box_is_ticked_in_each_language_and_it_is_the_sale(each_paper: Path) -> None:
    words = words_of(each_paper / "parcels" / "2026-W49-01-customs.pdf")
    assert words.count("\u2611") == 2
    assert words.count("\u2610") == 10
    assert "\u2611 sale of goods" in words
    assert "\u2611 vente de marchandises" in words


@pytest.mark.parametrize(
    ("language", "said"),
    [
        (
            "de",
            "Zolldatenblatt|CN 22: der Wert liegt unter 300 SZR (353,10 EUR)|Gefragt ist|setzt der Schalter",
        ),
        (
            "fr",
            "Données pour la douane|CN 22: la valeur est inférieure à 300 DTS (353,10 EUR)|Demandé",
        ),
        (
            "es",
            "Datos para la aduana|CN 22: el valor es inferior a 300 DEG (353,10 EUR)|Se pide|la ventanilla",
        ),
    ],
)
def test_the_breeder_is_told_in_his_own_language_what_to_write_in_english(
    inputs: PaperInputs, language: str, said: str
) -> None:
    settings = inputs.shelf.settings
    papers = settings.papers.model_copy(update={"languages": (language,)})
    update = {"papers": papers, "sender": settings.sender.model_copy(update={"tel": "", "mail": ""})}
    shelf = replace(inputs.shelf, settings=settings.model_copy(update=update))
    sheet = customs_sheet(sample.PARCELS[0], replace(inputs, shelf=shelf))
    assert sheet is not None
    words = f"{sheet.title} {sheet.below} {story_words(sheet.story)}"
    for part in said.split("|"):
        assert part in words
    assert "Fertile fish eggs for hatching" in words
    for english in ("Asks for", "counter", "neither telephone", "A sheet to copy", "the value is"):
        assert english not in words


@pytest.mark.parametrize(
    ("item", "service", "longer"),
    [
        ("RR123456785DK", "letter", False),
        ("CP123456785DK", "letter", True),
        ("EE123456785DK", "letter", True),
        ("", "island parcel", True),
    ],
)
def test_parcel_post_and_express_take_the_longer_form(
    inputs: PaperInputs, item: str, service: str, longer: bool
) -> None:
    parcel = replace(sample.PARCELS[0], service=service)
    made = parcel_declaration(parcel, replace(inputs, items={parcel.parcel: item}))
    assert (made.form.form == LONG_FORM) == longer


def test_customs_reads_the_address_in_latin_letters_alone(inputs: PaperInputs) -> None:
    address = replace(
        sample.PARCELS[0].address, delivery=("vul. Vyhadana 12", "вул. Вигадана 12"), country="UA"
    )
    sheet = customs_sheet(replace(sample.PARCELS[0], address=address), inputs)
    assert sheet is not None
    said = story_words(sheet.story)
    assert "vul. Vyhadana 12" in said
    assert "Вигадана" not in said


def test_nothing_is_said_of_breeding_and_origin_that_the_lot_does_not_say(inputs: PaperInputs) -> None:
    parcel = sample.PARCELS[0]

    def said(**cells: object) -> str:
        lots = (sample.LOTS[0].model_copy(update=cells), *sample.LOTS[1:])
        settings = inputs.shelf.settings
        long = settings.customs.model_copy(update={"sdr": None})
        shelf = replace(inputs.shelf, lots=lots, settings=settings.model_copy(update={"customs": long}))
        sheet = customs_sheet(parcel, replace(inputs, shelf=shelf))
        assert sheet is not None
        return story_words(sheet.story)

    assert "captive" not in said()
    assert "in aquaria, captive-bred." in said(bred="captive")
    assert "0511.91 DK" in said()
    assert "0511.91 CZ" in said(origin="a friend", origin_country="CZ")
    bought = said(origin="a friend")
    assert "0511.91 ?" in bought
    assert "country of origin of a lot that was bought in is not known" in bought


def test_fields_stand_in_the_order_of_the_form_with_room_for_certificates(inputs: PaperInputs) -> None:
    settings = inputs.shelf.settings
    long = settings.customs.model_copy(update={"sdr": None})
    shelf = replace(inputs.shelf, settings=settings.model_copy(update={"customs": long}))
    sheet = customs_sheet(sample.PARCELS[0], replace(inputs, shelf=shelf))
    assert sheet is not None
    said = story_words(sheet.story)
    names = ["From", "To", "Item number", "Office of origin", "Date of posting", "(1) Detailed", "9 Postal"]
    names += ["10 Category", "11 Comments", "12 Licence", "13 Certificate", "14 Invoice", "(15) Date and"]
    places = [said.index(f"{name}") for name in names]
    assert places == sorted(places)
    assert "13 Certificate Certificat No. ......" in said


def test_a_certificate_has_room_under_13_and_any_other_paper_under_12(inputs: PaperInputs) -> None:
    held = {"papers": frozenset({"health certificate", "import notice"})}
    orders = (replace(sample.ORDERS[0], **held), *sample.ORDERS[1:])
    sheet = customs_sheet(sample.PARCELS[0], replace(inputs, shelf=replace(inputs.shelf, orders=orders)))
    assert sheet is not None
    said = story_words(sheet.story)
    assert "12 Licence Licence import notice: No. ................ 13 Certificate" in said
    assert "13 Certificate Certificat health certificate: No. ................ 14 Invoice" in said


def test_the_short_form_has_its_own_numbers_and_the_category_above_the_contents(inputs: PaperInputs) -> None:
    """India Post prints CN 22 with these: contents 1, weight 2, value 3, tariff 4, origin 5, totals 6, 7."""
    sheet = customs_sheet(sample.PARCELS[0], inputs)
    assert sheet is not None
    assert sheet.below.startswith("CN 22")
    said = story_words(sheet.story)
    names = ["From", "To", "Category of item", "(1) Detailed", "(1) Quantity", "(2) Net weight", "(3) Value"]
    names += [
        "(4) HS number",
        "(5) Origin",
        "(6) Total gross weight, (7) total value",
        "(8) Date and sender's",
    ]
    places = [said.index(name) for name in names]
    assert places == sorted(places)
    assert said.count("Category of item") == 1
    assert "(10)" not in said


@pytest.mark.parametrize("service", ["tracked parcel", "express", "Kurier", "Colis suivi", "Paket"])
def test_whatever_is_named_like_parcel_post_or_express_takes_the_long_form(
    inputs: PaperInputs, service: str
) -> None:
    sheet = customs_sheet(replace(sample.PARCELS[0], service=service), inputs)
    assert sheet is not None
    assert sheet.below.startswith("CN 23")


@pytest.mark.parametrize(("currency", "total"), [("EUR", "40.00"), ("JPY", "40")])
def test_money_without_a_smaller_coin_is_whole_on_the_form(
    inputs: PaperInputs, currency: str, total: str
) -> None:
    settings = inputs.shelf.settings
    plan = settings.plan.model_copy(update={"currency": currency})
    shelf = replace(inputs.shelf, settings=settings.model_copy(update={"plan": plan}))
    sold = replace(sample.PARCELS[0].lines[0], price=Decimal(40))
    sheet = customs_sheet(replace(sample.PARCELS[0], lines=(sold,)), replace(inputs, shelf=shelf))
    assert sheet is not None
    assert f" {total} " in story_words(sheet.story)


def of_two_lots(inputs: PaperInputs, first: dict[str, object], other: dict[str, object]) -> Goods:
    """What is declared of a line from two lots, the other's eggs in a tube of a weight of its own."""
    parcel, tube = sample.PARCELS[0], sample.SHELF.packing_by_name["tube 15 ml"]
    (line,) = parcel.lines
    draws = (line.draws[0], replace(line.draws[0], lot="other", packing="another tube"))
    weight_g = {"packing": "another tube", "weight_g": other.pop("weight_g", 10.0)}
    shelf = replace(
        inputs.shelf,
        lots=(
            sample.LOTS[0].model_copy(update=first),
            sample.LOTS[0].model_copy(update={"lot": "other", **other}),
        ),
        packings=(tube, tube.model_copy(update=weight_g)),
    )
    (goods,) = parcel_declaration(
        replace(parcel, lines=(replace(line, draws=draws),)), replace(inputs, shelf=shelf)
    ).goods
    return goods


def test_of_two_lots_only_what_is_known_of_both_is_declared(inputs: PaperInputs) -> None:
    here, bought = {"origin_country": "CZ"}, {"origin_country": "PL"}
    assert [of_two_lots(inputs, here, dict(other)).origin for other in (here, bought)] == ["CZ", ""]
    bred, silent = {"bred": "captive"}, {"bred": None}
    pairs = ((bred, bred), (bred, silent), (silent, bred))
    assert [of_two_lots(inputs, one, dict(other)).is_captive for one, other in pairs] == [True, False, False]
    each = 2 * sample.SHELF.packing_by_name["tube 15 ml"].weight_g
    assert of_two_lots(inputs, {}, {"weight_g": 10.0}).net_weight_g == each + 2 * 10
    assert of_two_lots(inputs, {}, {"weight_g": 0.0}).net_weight_g is None


def test_papers_of_every_order_of_a_parcel_go_on_its_form(inputs: PaperInputs) -> None:
    parcel = replace(sample.PARCELS[0], orders=("1001", "1003"))
    held = {"1001": frozenset({"import notice"}), "1003": frozenset({"health certificate"})}
    orders = tuple(replace(one, papers=held.get(one.order, frozenset())) for one in sample.ORDERS)
    made = parcel_declaration(parcel, replace(inputs, shelf=replace(inputs.shelf, orders=orders)))
    assert made.papers == ("health certificate", "import notice")
    assert made.form.form == "CN 23"


@pytest.mark.parametrize(("rows_are", "category"), [(OwedRow, "other"), (OrderRow, "sale of goods")])
def test_eggs_sent_again_for_nothing_are_no_sale_to_customs(
    inputs: PaperInputs, rows_are: type[OrderRow], category: str
) -> None:
    parcel = sample.PARCELS[0]
    rows = tuple(rows_are(**dict(row)) for row in sample.ORDER_ROWS if row.order in parcel.orders)
    orders = orders_from_rows(rows, has_paid_on=False)
    made = parcel_declaration(parcel, replace(inputs, shelf=replace(inputs.shelf, orders=orders)))
    assert made.category == category
    ticked = _categories(made.category)[0].partition("\u2611")[2].replace("\u00a0", " ")
    assert ticked.strip().startswith(category)


@pytest.mark.parametrize("value", [Decimal("6.00"), None])
def test_eggs_sent_again_are_declared_at_what_they_were_sold_for(
    inputs: PaperInputs, value: Decimal | None
) -> None:
    parcel = sample.PARCELS[0]
    (name,) = parcel.orders
    rows = (OwedRow(**{**dict(row), "price": "0", "value": value}) for row in sample.ORDER_ROWS)
    orders = orders_from_rows(tuple(row for row in rows if row.order == name), has_paid_on=False)
    lines = tuple(replace(line, price=Decimal(0)) for line in parcel.lines)
    again = replace(inputs, shelf=replace(inputs.shelf, orders=orders))
    made = parcel_declaration(replace(parcel, lines=lines), again)
    assert {goods.price for goods in made.goods} == {value}
    assert any("no price" in gap for gap in missing_facts(made)) is (value is None)
    assert not any("for nothing" in gap for gap in missing_facts(made))
