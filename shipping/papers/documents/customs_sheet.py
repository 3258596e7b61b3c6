"""The customs data sheet: a parcel in, the fields of CN 22 or CN 23 to copy from out; not the post's own
form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from shipping.papers.documents.contents import Desk
from shipping.papers.documents.slip import footer
from shipping.papers.page import layout
from shipping.papers.page.blocks import (
    Block,
    Column,
    Heading,
    Panel,
    Paragraph,
    Sheet,
    Span,
    Spans,
    Table,
    plain,
    strong,
)
from shipping.papers.wording.language import clean, day, number
from shipping.post.address import country_line, label_lines
from shipping.post.calendar import subdivision_code
from shipping.post.customs import (
    LONG_FORM,
    Declaration,
    DeclaredLine,
    Goods,
    declaration,
    missing_facts,
    needs_declaration,
    tariff_text,
)
from shipping.tables.rows.local_address import split_address
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, Plan, PlannedLine
from shipping.words.units import money_text

_Row = tuple[tuple[Spans, ...], ...]
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
    "Licence and certificate": "Licence et certificat",
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
#: Japan Post, customs form pages: some destinations want three copies of CN 23 or more.
_COPIES = "as many as your post asks for; some destinations want three or more"
#: `shipping.post.customs.CERTIFICATION` in French.
_CERTIFIED_IN_FRENCH = (
    "Ces données sont exactes, et l'envoi ne contient rien de dangereux ni rien que la loi ou la poste"
    " interdise."
)


def crosses_customs(parcel: Parcel, shelf: Shelf) -> bool:
    """Does the parcel leave the home country's customs area?"""
    home, address = shelf.settings.home, parcel.address
    subdivision = subdivision_code(address.country, address.region)
    return needs_declaration(home.country, address.country, subdivision, home.subdivision)


def parcel_declaration(parcel: Parcel, desk: Desk) -> Declaration:
    """What is declared for a parcel: a line for each of its lines, counts as packed, values as sold."""
    shelf = desk.shelf
    item = desk.items.get(parcel.parcel, "")
    held = [shelf.order_by_name[name].papers for name in parcel.orders if name in shelf.order_by_name]
    return declaration(
        shelf.settings,
        parcel.address,
        tuple(_goods(line, shelf) for line in parcel.lines),
        gross_weight_g=parcel.weight_g,
        postage=parcel.postage,
        posted_on=parcel.dispatch_on,
        tel=parcel.tel,
        mail=parcel.mail,
        importer_ref=parcel.importer_ref,
        papers=tuple(sorted(set().union(*held))) if held else (),
        item_id=item,
        by_parcel_post=item[:1] in ("C", "E") or "parcel" in parcel.service.casefold(),
    )


def _goods(line: PlannedLine, shelf: Shelf) -> Goods:
    weights = [shelf.packing_by_name[draw.packing].weight_g * draw.units for draw in line.draws]
    known = all(shelf.packing_by_name[draw.packing].weight_g > 0 for draw in line.draws)
    name = shelf.species[line.species].scientific_name
    return Goods(clean(name), line.pack, line.price, sum(weights) if known else None)


def customs_gaps(parcel: Parcel, desk: Desk) -> tuple[str, ...]:
    """What the form of a parcel still lacks, a sentence each; empty where it needs no form or lacks
    nothing.
    """
    if not crosses_customs(parcel, desk.shelf):
        return ()
    return missing_facts(parcel_declaration(parcel, desk), desk.shelf.settings)


def gaps_by_parcel(plan: Plan, shelf: Shelf, items: Mapping[str, str]) -> dict[str, list[str]]:
    """What the forms still lack, by parcel; parcels that lack nothing are left out."""
    desk = Desk(plan, shelf, {}, dict(items), 1)
    gaps = {parcel.parcel: list(customs_gaps(parcel, desk)) for parcel in plan.parcels}
    return {name: lacking for name, lacking in gaps.items() if lacking}


def customs_sheet(parcel: Parcel, desk: Desk) -> Sheet | None:
    """The data sheet of a parcel, or None where it crosses no customs border."""
    if not crosses_customs(parcel, desk.shelf):
        return None
    made = parcel_declaration(parcel, desk)
    wording = desk.wording(_LANGUAGE)
    title = wording.term("customs_title")
    blocks: list[Block] = []
    gaps = missing_facts(made, desk.shelf.settings)
    if gaps:
        heading = Paragraph((Span(wording.term("customs_missing"), True),))
        blocks.append(Panel((heading, *(Paragraph(plain(gap), marker="\u2610") for gap in gaps))))
    blocks += [Heading(wording.term("customs_contents")), _contents(made)]
    blocks += [Heading(wording.term("customs_fields")), _fields(made)]
    blocks.append(Paragraph(plain(made.certification)))
    blocks.append(Paragraph(plain(_CERTIFIED_IN_FRENCH), size=layout.SMALL + 0.6, quiet=True))
    blocks.append(
        Paragraph((Span(wording.term("customs_sign"), True), Span(f" (date et signature) {'.' * 44}")))
    )
    blocks.append(Paragraph(plain(wording.term("customs_note")), size=layout.SMALL, quiet=True))
    return Sheet(
        title=title,
        below=f"{made.form.form}: {made.form.why}",
        corner=parcel.parcel,
        blocks=tuple(blocks),
        footer=footer(parcel.parcel, title, desk.today, wording),
        paper=desk.shelf.settings.papers.paper,
        language=_LANGUAGE,
        smallest=layout.SCALES[-1],
    )


def _both(name: str) -> str:
    """A field's name in English and in French."""
    return f"{name} / {_FRENCH[name]}" if _FRENCH[name] != name else name


def _contents(made: Declaration) -> Table:
    columns = (
        Column(f"(1) {_both('Detailed description of contents')}", 0.35),
        Column(f"(2) {_both('Quantity')}", 0.14, "right"),
        Column(f"(3) {_both('Net weight')}", 0.13, "right"),
        Column(f"(5) {_both('Value')}, {made.currency}", 0.13, "right"),
        Column(f"(7) {_both('HS number')}", 0.14, "right"),
        Column(f"(8) {_both('Origin')}", 0.11, "right"),
    )
    rows = [_content_row(line) for line in made.lines]
    total: _Row = (
        (
            strong("(4) Total gross weight, (6) total value"),
            plain(f"{_FRENCH['Total gross weight']}, {_FRENCH['total value']}"),
        ),
        (strong(_eggs(sum(line.quantity for line in made.lines))),),
        (strong(_kilograms(made.gross_weight_g)),),
        (strong(_money(made.total_value)),),
        (),
        (),
    )
    return Table(columns, (*rows, total), frozenset({len(rows)}))


def _eggs(count: int) -> str:
    return f"{number(count, _LANGUAGE)} {'egg' if count == 1 else 'eggs'}"


def _content_row(line: DeclaredLine) -> _Row:
    return (
        (plain(clean(line.description)),),
        (plain(_eggs(line.quantity)),),
        (plain(_kilograms(line.net_weight_g)),),
        (plain(_money(line.value)),),
        (plain(tariff_text(line.tariff)),),
        (plain(line.origin),),
    )


def _kilograms(grams: float | None) -> str:
    return "?" if grams is None else f"{grams / 1000:.3f} kg"


def _money(amount: Decimal | None) -> str:
    return "?" if amount is None else money_text(amount)


def _categories(ticked: str) -> tuple[str, str]:
    """All categories of the form, the one that holds ticked; and under them their French names."""
    names = ("gift", "documents", "commercial sample", "returned goods", "sale of goods", "other")

    def boxes(said: Mapping[str, str]) -> str:
        marked = (f"{chr(0x2611) if name == ticked else chr(0x2610)} {said[name]}" for name in names)
        return "\u00a0\u00a0 ".join(text.replace(" ", "\u00a0") for text in marked)

    return boxes({name: name for name in names}), boxes(_FRENCH)


def _fields(made: Declaration) -> Table:
    """The other fields, by their numbers on CN 23; the short form shows only some of them."""
    sender, home = made.sender, made.sender_country
    from_lines = [sender.name, *sender.address, country_line(home)]
    from_lines += [text for text in (sender.tel, sender.mail) if text]
    addressee = replace(made.addressee, delivery=split_address(made.addressee)[0])
    to_lines = [*label_lines(addressee, home), made.addressee_tel, made.addressee_mail]
    categories, in_french = _categories(made.category)
    rows: list[tuple[str, str, str, bool]] = [
        ("", "From", ", ".join(clean(line) for line in from_lines), True),
        ("", "Sender's customs reference", sender.customs_ref, False),
        ("", "To", ", ".join(clean(line) for line in to_lines if line), True),
        ("", "Importer's reference (tax or importer code)", made.importer_ref, False),
        ("", "Item number", made.item_id, False),
        ("9", "Postal charges", f"{_money(made.postage)} {made.currency}", False),
        ("10", "Category of item", categories, True),
        ("11", "Comments", made.comments, False),
        ("12, 13", "Licence and certificate", "; ".join(made.papers), False),
        ("14", "Invoice", "enclose one for goods that are sold", False),
        ("15", "Date of posting", day(made.posted_on, _LANGUAGE), True),
        ("", "Copies", _COPIES, False),
    ]
    shown = [row for row in rows if made.form.form == LONG_FORM or row[3]]
    cells: list[_Row] = [
        (
            (plain(field),),
            (plain(_both(label)),) if len(label) < 18 else (plain(label), plain(_FRENCH[label])),
            (
                strong(clean(value)) if value else plain("–"),
                *((plain(in_french),) if value == categories else ()),
            ),
        )
        for field, label, value, _ in shown
    ]
    return Table((Column("Field", 0.1), Column("Asks for", 0.32), Column("Write", 0.58)), tuple(cells))
