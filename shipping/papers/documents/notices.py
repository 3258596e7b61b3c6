"""What a buyer is written when an order goes, waits or cannot go: a plan in, one message a buyer out."""

from __future__ import annotations

import html as html_words
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from email.header import Header
from email.utils import format_datetime, formataddr

from shipping.papers.documents.care_sheet import has_small_fry
from shipping.papers.documents.contents import PaperInputs, is_collected, may_be_wetted, units_of
from shipping.papers.documents.customs_sheet import crosses_customs
from shipping.papers.documents.slip import count_words, fish_words, has_several_fish, instead_words
from shipping.papers.wording import markdown
from shipping.papers.wording.language import clean, full_day, number
from shipping.papers.wording.phrases import Wording, orders_in_words, to_buyer, whose_move
from shipping.tables.rows.orders import Order
from shipping.week.plan_data import LineOut, Parcel
from shipping.words.keys import grouped
from shipping.words.reasons import Verdict, decisive, in_vain

#: Who is written to, and in which language: letters alike in these become one message.
_Buyer = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class _Letter:
    """What there is to say of one parcel, or of one standing of an order."""

    of: str
    buyer: _Buyer
    template: str
    fields: dict[str, object]


@dataclass(frozen=True, slots=True)
class Notice:
    """One message: the parcel or order it is of first, to whom (mail, may be ""), subject, text and HTML."""

    of: str
    addressee: str
    mail: str
    subject: str
    text: str
    html: str
    language: str


#: What keeps eggs back for a season, by the code of its reason.
_SEASONS = {"too-cold": "season_cold", "too-hot": "season_hot"}


def notices(
    inputs: PaperInputs, parcels: Sequence[Parcel], with_lines_out: bool = True
) -> tuple[Notice, ...]:
    """One message for each buyer: what goes first, then what waits, is held or cannot go."""
    letters = [_of_parcel(parcel, inputs) for parcel in parcels]
    if with_lines_out:
        letters += _of_lines_out(inputs)
    by_buyer = grouped((letter.buyer, letter) for letter in letters)
    return tuple(_message(buyer, own, inputs) for buyer, own in by_buyer.items())


def _of_lines_out(inputs: PaperInputs) -> list[_Letter]:
    groups: dict[tuple[str, Verdict], list[LineOut]] = {}
    for line in inputs.plan.lines_out:
        if any(reason.code in ("same-number", "sooner") for reason in line.reasons):
            continue  # the seller's own question or move: its buyer is told once that is settled
        groups.setdefault((line.order, line.verdict), []).append(line)
    return [
        _of_lines(inputs.shelf.order_by_name[order], verdict, lines, inputs)
        for (order, verdict), lines in groups.items()
        if order in inputs.shelf.order_by_name and verdict is not Verdict.GO
    ]


def _of_parcel(parcel: Parcel, inputs: PaperInputs) -> _Letter:
    wording = inputs.wording_for(parcel)
    units = units_of(parcel, inputs.shelf)
    wet = [unit for unit in units if unit.care != "damp" or may_be_wetted(unit, parcel)]
    lines = []
    for line in parcel.lines:
        about = any(unit.about for unit in units if unit.line is line)
        name = fish_words(line.species, line.population, inputs, wording)
        said = wording.term("notice_line", count=count_words(line.pack, about, wording), fish=name)
        if line.pack != line.ordered:
            said += f", {wording.term('notice_ordered', ordered=number(line.ordered, wording.language))}"
        lines.append(". ".join(filter(None, (said, instead_words(line, inputs, wording)))))
    days = (parcel.arrive.p05, parcel.arrive.p50, parcel.arrive.p95)
    early, usual, late = (full_day(when, wording.language) if when else "–" for when in days)
    fields = _common(parcel.orders, lines, (), "", inputs, wording) | {
        "parcel": parcel.parcel,
        "sent_on": full_day(parcel.dispatch_on, wording.language),
        "by": clean(parcel.service),
        "item_id": inputs.items.get(parcel.parcel, ""),
        "arrive_early": early,
        "arrive_usual": usual,
        "arrive_late": late,
        "one_day": early == late,
        "usual_is_first": early == usual,
        "fetched": is_collected(parcel),
        "customs": crosses_customs(parcel, inputs.shelf),
        "into_dish": bool(wet),
        "several": has_several_fish(wet),
        "small_fry": any(has_small_fry(unit.species) for unit in units),
        "stay_damp": ", ".join(
            dict.fromkeys(
                clean(u.species.scientific_name)
                for u in units
                if u.care == "damp" and not may_be_wetted(u, parcel)
            )
        ),
    }
    buyer = (clean(parcel.address.addressee), clean(parcel.mail), wording.language)
    return _Letter(parcel.parcel, buyer, "notice-go", fields)


def _of_lines(order: Order, verdict: Verdict, lines: list[LineOut], inputs: PaperInputs) -> _Letter:
    postcode = order.address.postcode
    wording = inputs.wording(inputs.language_of(order.language, order.country, postcode))
    wanted = {line.number: line for line in order.lines}
    names = [
        wording.term(
            "notice_line",
            count=number(wanted[out.line].eggs, wording.language),
            fish=fish_words(wanted[out.line].species, wanted[out.line].population, inputs, wording),
        )
        for out in lines
        if out.line in wanted
    ]
    deciding = [decisive(verdict, out.reasons) for out in lines]
    reasons = tuple(dict.fromkeys(to_buyer(reason, wording) for reason in deciding))
    untils = [out.until for out in lines if out.until]
    until = full_day(max(untils), wording.language) if len(untils) == len(lines) else ""
    buyer = (clean(order.address.addressee), clean(order.mail), wording.language)
    fields = _common((order.order,), names, reasons, until, inputs, wording)
    is_paid = any(line.row.paid_on for line in order.lines)
    fields |= {"paid": wording.term("notice_paid") if is_paid else ""}
    if verdict is Verdict.HOLD:
        vain = [one for out in lines for one in in_vain(out.reasons)]
        fields |= {"moves": whose_move(deciding + vain, wording)}
    elif verdict is Verdict.STOP:
        codes = {reason.code for reason in deciding}
        season = _SEASONS.get(codes.pop()) if len(codes) == 1 else None
        fields |= {"part": len(lines) < len(order.lines), "season": wording.term(season) if season else ""}
    elif any(reason.facts.get("stops") for reason in deciding):
        fields |= {"moves": wording.term("move_apart")}
    return _Letter(order.order, buyer, f"notice-{verdict.value}", fields)


def _common(
    orders: tuple[str, ...],
    lines: list[str],
    reasons: tuple[str, ...],
    until: str,
    inputs: PaperInputs,
    wording: Wording,
) -> dict[str, object]:
    return {
        "sender": clean(inputs.shelf.settings.sender.name),
        "orders": orders_in_words(", ".join(orders), wording),
        "lines": lines,
        "reasons": reasons,
        "moves": "",
        "paid": "",
        "until": until,
        "contact": clean(inputs.shelf.settings.sender.mail or inputs.shelf.settings.sender.tel),
    }


def _message(buyer: _Buyer, letters: list[_Letter], inputs: PaperInputs) -> Notice:
    """The letters as one message: greeted once, signed once; its subject is the first one's."""
    addressee, mail, language = buyer
    wording = inputs.wording(language)
    last = len(letters) - 1
    sources = [
        wording.markdown(letter.template, addressee=addressee, first=n == 0, last=n == last, **letter.fields)
        for n, letter in enumerate(letters)
    ]
    subject = markdown.plain_text(sources[0]).partition("\n")[0]
    source = "\n\n".join(sources)
    body = markdown.plain_text(source).partition("\n")[2]
    page = (
        f'<!doctype html>\n<html lang="{language}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html_words.escape(subject)}</title>\n"
        "<style>body{font:17px/1.5 sans-serif;max-width:38em;margin:2em auto;padding:0 1em;color:#111}"
        "h1{font-size:1.3em;border-bottom:2px solid #0072b2;padding-bottom:.3em}</style>\n"
        f"</head>\n<body>\n{markdown.html(source)}</body>\n</html>\n"
    )
    return Notice(letters[0].of, addressee, mail, subject, body.strip() + "\n", page, language)


#: What parts the text from its HTML: no line of ours begins so.
_BOUNDARY = "=_spawnpost_text_and_html"


def eml(notice: Notice, sender: str, sender_mail: str, today: date) -> bytes:
    """The message as a draft that mail programs open ready to send (RFC 5322, RFC 2047; text and HTML)."""
    headers = {
        "Subject": _encoded(notice.subject),
        "From": _mailbox(sender, sender_mail),
        "To": _mailbox(notice.addressee, notice.mail),
        "Date": format_datetime(datetime.combine(today, time(), UTC)),
        "X-Unsent": "1",
        "Content-Language": notice.language,
        "MIME-Version": "1.0",
        "Content-Type": f'multipart/alternative; boundary="{_BOUNDARY}"',
    }
    lines = [f"{name}: {value}" for name, value in headers.items() if value]
    for kind, body in (("plain", notice.text), ("html", notice.html)):
        lines += ["", f"--{_BOUNDARY}", f'Content-Type: text/{kind}; charset="utf-8"']
        lines += ["Content-Transfer-Encoding: 8bit", "", body.rstrip("\n")]
    lines += ["", f"--{_BOUNDARY}--", ""]
    return "\n".join(lines).replace("\r\n", "\n").replace("\n", "\r\n").encode()


def _encoded(words: str) -> str:
    return words if words.isascii() else Header(words, "utf-8").encode()


def _mailbox(name: str, mail: str) -> str:
    """Name and mailbox; the mailbox alone where it is none that a header takes."""
    try:
        return formataddr((name, mail)) if mail else ""
    except UnicodeEncodeError:
        return _encoded(mail)
