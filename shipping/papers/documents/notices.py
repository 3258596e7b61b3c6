"""What a buyer is written when an order goes, waits, is held or cannot go: a plan in, letters as text and
HTML out.
"""

from __future__ import annotations

import html as html_words
from dataclasses import dataclass

from shipping.papers.documents.contents import Desk, units_of
from shipping.papers.documents.slip import count_words, population_words
from shipping.papers.wording import markdown
from shipping.papers.wording.catalogue import to_buyer, whose_move
from shipping.papers.wording.language import clean, full_day, number, paper_language
from shipping.papers.wording.phrases import Wording
from shipping.tables.rows.orders import Order
from shipping.week.plan_data import LineOut, Parcel
from shipping.words.reasons import Verdict, decisive


@dataclass(frozen=True, slots=True)
class Notice:
    """One letter: its file's name, the parcel or order it is of, to whom (mail, may be ""), its subject,
    text, and HTML.
    """

    name: str
    of: str
    mail: str
    subject: str
    text: str
    html: str
    language: str


def notices(desk: Desk, parcels: tuple[Parcel, ...], with_lines_out: bool = True) -> tuple[Notice, ...]:
    """A letter for each parcel that goes, then one for each order and standing of what does not go."""
    letters = [_of_parcel(parcel, desk) for parcel in parcels]
    if with_lines_out:
        groups: dict[tuple[str, Verdict], list[LineOut]] = {}
        for line in desk.plan.lines_out:
            groups.setdefault((line.order, line.verdict), []).append(line)
        for (order, verdict), lines in groups.items():
            known = desk.shelf.order_by_name.get(order)
            if known is not None and verdict is not Verdict.GO:
                letters.append(_of_lines(known, verdict, lines, desk))
    return tuple(letters)


def _of_parcel(parcel: Parcel, desk: Desk) -> Notice:
    language = paper_language(parcel.language)
    wording = desk.wording(language)
    units = units_of(parcel, desk.shelf)
    lines = []
    for line in parcel.lines:
        about = any(unit.about for unit in units if unit.line is line)
        name = _fish(line.species, line.population, desk, wording)
        lines.append(wording.term("notice_line", count=count_words(line.pack, about, wording), fish=name))
    days = (parcel.arrive.p05, parcel.arrive.p50, parcel.arrive.p95)
    early, usual, late = (full_day(when, language) if when else "–" for when in days)
    fields = {
        "parcel": parcel.parcel,
        "sent_on": full_day(parcel.dispatch_on, language),
        "by": clean(parcel.service),
        "item_id": desk.items.get(parcel.parcel, ""),
        "arrive_early": early,
        "arrive_usual": usual,
        "arrive_late": late,
    }
    common = _common(clean(parcel.address.addressee), parcel.orders, lines, (), "", desk)
    return _letter(
        f"{parcel.parcel}-notice", parcel.parcel, parcel.mail, wording, "notice-go", common | fields
    )


def _of_lines(order: Order, verdict: Verdict, lines: list[LineOut], desk: Desk) -> Notice:
    wording = desk.wording(paper_language(order.language))
    wanted = {line.number: line for line in order.lines}
    names = [
        wording.term(
            "notice_line",
            count=number(wanted[out.line].eggs, wording.language),
            fish=_fish(wanted[out.line].species, wanted[out.line].population, desk, wording),
        )
        for out in lines
        if out.line in wanted
    ]
    deciding = [decisive(verdict, out.reasons) for out in lines]
    reasons = tuple(dict.fromkeys(to_buyer(reason, wording) for reason in deciding))
    untils = [out.until for out in lines if out.until]
    until = full_day(max(untils), wording.language) if len(untils) == len(lines) else ""
    fields = _common(clean(order.address.addressee), (order.order,), names, reasons, until, desk)
    fields |= {"moves": whose_move(deciding, wording)}
    name = f"{desk.plan.week}-order-{order.order}-{verdict.value}"
    return _letter(name, order.order, order.mail, wording, f"notice-{verdict.value}", fields)


def _fish(species: str, population: str, desk: Desk, wording: Wording) -> str:
    known = desk.shelf.species.get(species)
    name = clean(known.scientific_name if known else species)
    return f"{name} ({population_words(population, wording)})" if population else name


def _common(
    addressee: str,
    orders: tuple[str, ...],
    lines: list[str],
    reasons: tuple[str, ...],
    until: str,
    desk: Desk,
) -> dict[str, object]:
    return {
        "addressee": addressee,
        "sender": clean(desk.shelf.settings.sender.name),
        "orders": ", ".join(orders),
        "lines": lines,
        "reasons": reasons,
        "moves": "",
        "until": until,
        "contact": clean(desk.contact),
    }


def _letter(
    name: str, of: str, mail: str, wording: Wording, template: str, fields: dict[str, object]
) -> Notice:
    source = wording.markdown(template, **fields)
    text = markdown.plain_text(source)
    subject, _, body = text.partition("\n")
    page = (
        f'<!doctype html>\n<html lang="{wording.language}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html_words.escape(subject)}</title>\n"
        "<style>body{font:17px/1.5 sans-serif;max-width:38em;margin:2em auto;padding:0 1em;color:#111}"
        "h1{font-size:1.3em;border-bottom:2px solid #0072b2;padding-bottom:.3em}</style>\n"
        f"</head>\n<body>\n{markdown.html(source)}</body>\n</html>\n"
    )
    return Notice(name, of, clean(mail), subject, body.strip() + "\n", page, wording.language)
