"""The customs data sheet: a parcel in, the fields of CN 22 or CN 23 to copy from out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from shipping.papers.documents.contents import PaperInputs, units_of
from shipping.papers.documents.slip import count_words, footer
from shipping.papers.page import layout
from shipping.papers.page.pdf_file import PaperSheet, fitted
from shipping.papers.page.typesetter import PrintedColumn, Typesetter
from shipping.papers.wording.language import clean, day
from shipping.papers.wording.markdown import Spans, plain, strong
from shipping.papers.wording.phrases import Wording
from shipping.post.address import country_line, home_lines, label_lines
from shipping.post.customs import (
    LONG_FORM,
    SHORT_FORM,
    Declaration,
    Goods,
    missing_facts,
    needs_declaration,
    tariff_text,
)
from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import OwedRow, split_address
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, Plan, PlannedLine
from shipping.words.units import money_text

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

_Row = tuple[tuple[Spans, ...], ...]
#: What is copied into the form stands in English; what tells the breeder how, in the breeder's own language.
_LANGUAGE = "en"
#: The fields of CN 22 and CN 23 are named in English and in French, the two languages every post reads
#: (French from memory).
_FRENCH = {
    "Detailed description of contents": "Désignation détaillée du contenu",
    "Quantity": "Quantité",
    "Net weight": "Poids net",
    "Value": "Valeur",
    "HS number": "N° SH",
    "Origin": "Origine",
    "Total gross weight": "Poids brut total",
    "total value": "valeur totale",
    "From": "De",
    "Sender's customs reference": "Référence en douane de l'expéditeur",
    "To": "À",
    "Importer's reference (tax or importer code)": "Référence de l'importateur",
    "Item number": "N° de l'envoi",
    "Postal charges": "Frais de port",
    "Category of item": "Catégorie de l'envoi",
    "Comments": "Observations",
    "Licence": "Licence",
    "Certificate": "Certificat",
    "Office of origin": "Bureau d'origine",
    "Invoice": "Facture",
    "Date of posting": "Date de dépôt",
    "Copies": "Exemplaires",
    "gift": "cadeau",
    "documents": "documents",
    "commercial sample": "échantillon commercial",
    "returned goods": "retour de marchandise",
    "sale of goods": "vente de marchandises",
    "other": "autre",
}
#: A service of which one stands in the name is parcel post or express, which take CN 23 always.
_PARCEL_POST = re.compile("parcel|express|courier|kurier|colis|paquet|paket|pakke|pacco|paczk", re.IGNORECASE)
#: So many goods stand on one page at a size that is read at the counter.
_GOODS_A_PAGE = 5
#: Room to write.
_ROOM = "................"
#: A paper of such a name is a certificate, any other a licence.
_CERTIFICATE = ("certificat", "certificad", "zertifikat", "bescheinigung", "zeugnis", "attest")


class _Numbers(NamedTuple):
    """The numbers that a form gives its fields."""

    description: int
    quantity: int
    net_weight: int
    value: int
    tariff: int
    origin: int
    total_weight: int
    total_value: int
    signature: int


#: CN 23: the form as OECD, Misuse of small parcels (2018), reprints it; CN 22: India Post's form.
_NUMBERS = {LONG_FORM: _Numbers(1, 2, 3, 5, 7, 8, 4, 6, 15), SHORT_FORM: _Numbers(1, 1, 2, 3, 4, 5, 6, 7, 8)}
#: The sentence the sender signs for, and in French: its sense is that of the UPU's forms, the wording ours.
_CERTIFIED_IN_ENGLISH = (
    "The particulars given here are correct, and the item holds no dangerous article and none that law or the"
    " post forbids."
)
_CERTIFIED_IN_FRENCH = (
    "Ces données sont exactes, et l'envoi ne contient rien de dangereux ni rien que la loi ou la poste"
    " interdise."
)


def crosses_customs(parcel: Parcel, shelf: Shelf) -> bool:
    """Does the parcel leave the home country's customs area?"""
    home, address = shelf.settings.home, parcel.address
    return needs_declaration(home.country, address.country, address.part, home.subdivision, address.postcode)


def parcel_declaration(parcel: Parcel, inputs: PaperInputs) -> Declaration:
    """What is declared for a parcel: a line for each of its lines, counts as packed, values as sold."""
    shelf = inputs.shelf
    held = [shelf.order_by_name[name].papers for name in parcel.orders if name in shelf.order_by_name]
    return Declaration(
        shelf.settings,
        parcel.address,
        tuple(_goods(line, parcel, shelf) for line in parcel.lines),
        gross_weight_g=parcel.weight_g,
        postage=parcel.postage,
        posted_on=parcel.dispatch_on,
        tel=parcel.tel,
        mail=parcel.mail,
        importer_ref=parcel.importer_ref,
        papers=tuple(sorted(set().union(*held))) if held else (),
        item_id=inputs.items.get(parcel.parcel, ""),
        by_parcel_post=goes_as_parcel(parcel, inputs),
        is_sent_again=all(_is_owed(name, shelf) for name in parcel.orders),
    )


def _is_owed(order: str, shelf: Shelf) -> bool:
    """Is it an order that a settled claim sends again?"""
    known = shelf.order_by_name.get(order)
    return known is not None and all(isinstance(line.row, OwedRow) for line in known.lines)


def goes_as_parcel(parcel: Parcel, inputs: PaperInputs) -> bool:
    """Does it go by parcel post or express, by its item number or by its service's name?"""
    item = inputs.items.get(parcel.parcel, "")
    return item[:1] in ("C", "E") or _PARCEL_POST.search(parcel.service) is not None


def _goods(line: PlannedLine, parcel: Parcel, shelf: Shelf) -> Goods:
    units = [unit for unit in units_of(parcel, shelf) if unit.line is line]
    known = all(unit.packing.weight_g > 0 for unit in units)
    origins = {origin_of(unit.lot, shelf.settings.home.country) for unit in units}
    return Goods(
        clean(shelf.species[line.species].scientific_name),
        line.pack,
        _sold_for(line, shelf),
        sum(unit.packing.weight_g for unit in units) if known else None,
        origin=origins.pop() if len(origins) == 1 else "",
        is_captive=all(unit.lot.bred == "captive" for unit in units),
        about=any(unit.about for unit in units),
    )


def _sold_for(line: PlannedLine, shelf: Shelf) -> Decimal | None:
    """What a line's eggs were sold for: of eggs owed again, when they were first sent."""
    order = shelf.order_by_name.get(line.order)
    row = next((one.row for one in order.lines if one.number == line.line), None) if order else None
    return row.value if isinstance(row, OwedRow) else line.price


def origin_of(lot: Lot, home: str) -> str:
    """The country the eggs were laid in: as the lot says; the home country where they were not bought in."""
    return lot.origin_country or ("" if lot.origin else home)


def customs_gaps(parcel: Parcel, inputs: PaperInputs) -> tuple[str, ...]:
    """What the form of a parcel still lacks, a sentence each; empty where no form is needed."""
    if not crosses_customs(parcel, inputs.shelf):
        return ()
    return missing_facts(parcel_declaration(parcel, inputs))


def gaps_by_parcel(plan: Plan, shelf: Shelf, items: Mapping[str, str]) -> dict[str, list[str]]:
    """What the forms still lack, by parcel; parcels that lack nothing are left out."""
    inputs = PaperInputs(plan, shelf, {}, dict(items))
    gaps = {parcel.parcel: list(customs_gaps(parcel, inputs)) for parcel in plan.parcels}
    return {name: lacking for name, lacking in gaps.items() if lacking}


def customs_sheet(parcel: Parcel, inputs: PaperInputs) -> PaperSheet | None:
    """The data sheet of a parcel, or None where it crosses no customs border."""
    if not crosses_customs(parcel, inputs.shelf):
        return None
    made = parcel_declaration(parcel, inputs)
    written, own = inputs.wording(_LANGUAGE), inputs.wording(inputs.own_language)
    gaps = [own.sentence(gap) for gap in missing_facts(made)]
    sign = f"({_NUMBERS[made.form.form].signature}) Date and sender's signature:"

    def build(setter: Typesetter) -> list[Flowable]:
        blocks: list[Flowable] = [setter.words(own.term("customs_note"), bold=True)]
        if gaps:
            blocks.append(setter.panel(lambda inner: _gaps(gaps, own, inner)))
        blocks += [
            *setter.heading_over(own.term("customs_fields")),
            _field_table(_fields_before(made, own), made, own, setter),
            *setter.heading_over(own.term("customs_contents")),
            _contents(made, written, setter),
            *(
                [_field_table(_fields_after(made, own), made, own, setter)]
                if made.form.form == LONG_FORM
                else []
            ),
            setter.words(_CERTIFIED_IN_ENGLISH, keep=True),
            setter.small(_CERTIFIED_IN_FRENCH, keep=True),
            setter.words((*strong(sign), *plain(f" (date et signature) {'.' * 44}"))),
        ]
        return blocks

    title = own.term("customs_title")
    pages = 1 if len(made.goods) <= _GOODS_A_PAGE else 2
    return PaperSheet(
        title=title,
        below=f"{made.form.form}: {own.sentence(made.form.why)}",
        corner=parcel.parcel,
        story=fitted(build, inputs.typeface, inputs.paper, pages=pages),
        foot=footer(parcel.parcel, title, inputs.today, own),
        paper=inputs.paper,
        language=own.language,
        outline=(title, parcel.parcel),
        fresh_leaf=False,
    )


def _gaps(gaps: Sequence[str], wording: Wording, inner: Typesetter) -> list[Flowable]:
    lines = [inner.words(gap, marker="\u2610") for gap in gaps]
    return [inner.words(wording.term("customs_missing"), bold=True, after=1.0), *lines]


def _both(name: str) -> str:
    """A field's name in English and in French."""
    return f"{name} / {_FRENCH[name]}" if _FRENCH[name] != name else name


def _contents(made: Declaration, wording: Wording, setter: Typesetter) -> Flowable:
    at = _NUMBERS[made.form.form]
    columns = (
        PrintedColumn(f"({at.description}) {_both('Detailed description of contents')}", 0.35),
        PrintedColumn(f"({at.quantity}) {_both('Quantity')}", 0.16, "right"),
        PrintedColumn(f"({at.net_weight}) {_both('Net weight')}", 0.13, "right"),
        PrintedColumn(f"({at.value}) {_both('Value')}, {made.settings.plan.currency}", 0.13, "right"),
        PrintedColumn(f"({at.tariff}) {_both('HS number')}", 0.14, "right"),
        PrintedColumn(f"({at.origin}) {_both('Origin')}", 0.09, "right"),
    )
    rows = [_content_row(goods, made, wording) for goods in made.goods]
    about = any(goods.about for goods in made.goods)
    eggs = _eggs(sum(goods.eggs for goods in made.goods), about, wording)
    head = strong(f"({at.total_weight}) Total gross weight, ({at.total_value}) total value")
    in_french = plain(f"{_FRENCH['Total gross weight']}, {_FRENCH['total value']}")
    sums = (strong(eggs), strong(_kilograms(made.gross_weight_g)), strong(_money(made.total_value, made)))
    total: _Row = ((head, in_french), *((words,) for words in (*sums, plain(""), plain(""))))
    return setter.table(columns, (*rows, total), frozenset({len(rows)}))


def _eggs(count: int, about: bool, wording: Wording) -> str:
    return f"{count_words(count, about, wording)} {'egg' if count == 1 else 'eggs'}"


def _content_row(goods: Goods, made: Declaration, wording: Wording) -> _Row:
    what, eggs = clean(made.description(goods)), _eggs(goods.eggs, goods.about, wording)
    weight, value = _kilograms(goods.net_weight_g), _money(goods.price, made)
    cells = (what, eggs, weight, value, tariff_text(made.tariff), goods.origin or "?")
    return tuple((plain(cell),) for cell in cells)


def _kilograms(grams: float | None) -> str:
    return "?" if grams is None else f"{grams / 1000:.3f} kg"


def _money(amount: Decimal | None, made: Declaration) -> str:
    return "?" if amount is None else money_text(amount, made.settings.plan.currency)


def _categories(category: str) -> tuple[str, str]:
    """All categories of the form, the one that holds ticked; and under them their French names."""
    names = ("gift", "documents", "commercial sample", "returned goods", "sale of goods", "other")

    def boxes(said: Mapping[str, str]) -> str:
        marked = (f"{chr(0x2611) if name == category else chr(0x2610)} {said[name]}" for name in names)
        return "\u00a0\u00a0 ".join(text.replace(" ", "\u00a0") for text in marked)

    said = {name: name for name in names}
    if category == "other":
        said |= {category: "other: replacement sent free"}
    return boxes(said), boxes(_FRENCH)


class _Field(NamedTuple):
    """A field of the form: its number, its name, what to write line by line, and is it on the short form?"""

    number: str
    name: str
    lines: tuple[str, ...]
    is_short: bool


def _fields_before(made: Declaration, own: Wording) -> tuple[_Field, ...]:
    """The fields above the contents, which have no number; the short form has the category among them."""
    sender, home = made.settings.sender, made.settings.home.country
    addressee = replace(made.addressee, delivery=split_address(made.addressee)[0])
    return (
        _Field(
            "",
            "From",
            (sender.name, *home_lines(made.settings), country_line(home), sender.tel, sender.mail),
            True,
        ),
        _Field("", "Sender's customs reference", (sender.customs_ref,), False),
        _Field("", "To", (*label_lines(addressee, ""), made.tel, made.mail), True),
        _Field("", "Importer's reference (tax or importer code)", (made.importer_ref,), False),
        _Field("", "Item number", (made.item_id or _ROOM,), False),
        _Field("", "Office of origin", (_ROOM, own.term("customs_stamp")), True),
        _Field("", "Date of posting", (day(made.posted_on, _LANGUAGE),), True),
        *(() if made.form.form == LONG_FORM else (_category("", made),)),
    )


def _category(number: str, made: Declaration) -> _Field:
    return _Field(number, "Category of item", _categories(made.category), True)


def _fields_after(made: Declaration, own: Wording) -> tuple[_Field, ...]:
    """The fields below the contents of the longer form; certificates and licences have room for numbers."""
    certificates = [paper for paper in made.papers if any(word in paper.casefold() for word in _CERTIFICATE)]
    licences = [paper for paper in made.papers if paper not in certificates]
    return (
        _Field(
            "9", "Postal charges", (f"{_money(made.postage, made)} {made.settings.plan.currency}",), False
        ),
        _category("10", made),
        _Field("11", "Comments", (made.comments,), False),
        _Field("12", "Licence", _numbered(licences), False),
        _Field("13", "Certificate", _numbered(certificates), False),
        _Field("14", "Invoice", (f"No. {_ROOM}", own.term("customs_invoice")), False),
        _Field("", "Copies", (own.term("customs_copies"),), False),
    )


def _numbered(papers: Sequence[str]) -> tuple[str, ...]:
    """Room for the number of each paper, or of one that is not known yet."""
    return tuple(f"{paper}: No. {_ROOM}" for paper in papers) or (f"No. {_ROOM}",)


def _field_table(fields: tuple[_Field, ...], made: Declaration, own: Wording, setter: Typesetter) -> Flowable:
    """The fields of the form that is taken: the short form shows only some, and numbers none of them."""
    asked = [field for field in fields if made.form.form == LONG_FORM or field.is_short]
    numbered = any(field.number for field in asked)
    rows: list[_Row] = []
    for field in asked:
        said = [clean(line) for line in field.lines if line] or ["–"]
        lines = tuple(strong(line) for line in said)
        names = (plain(field.name), plain(_FRENCH[field.name]))
        rows.append((*([(plain(field.number),)] if numbered else []), names, lines))
    columns = (
        *([PrintedColumn(own.term("customs_field"), 0.07)] if numbered else []),
        PrintedColumn(own.term("customs_asks"), 0.3 if numbered else 0.37),
        PrintedColumn(own.term("customs_write"), 0.63, size=layout.BODY * 0.94, even=True),
    )
    return setter.table(columns, rows)
