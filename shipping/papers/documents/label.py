"""The address label: a parcel in, one small page out, on label paper or set into a sticker; postage is not
its matter.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from shipping.papers.documents.contents import Desk, units_of
from shipping.papers.page import layout
from shipping.papers.page.blocks import Span
from shipping.papers.page.layout import ACCENT, BLACK, GREY, LABEL_MARGIN, MM
from shipping.papers.page.lines import moved, set_lines
from shipping.papers.page.primitives import (
    Bars,
    Box,
    Egg,
    Fragment,
    Mark,
    Measure,
    Page,
    Placed,
    Stroke,
    Text,
)
from shipping.papers.wording.language import clean
from shipping.post.address import country_line, label_lines
from shipping.tables.rows.local_address import split_address
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel

#: The language a handling line is printed in for a country; any other is given English (from memory).
HANDLING_LANGUAGES = {
    **dict.fromkeys(("AT", "CH", "DE", "LI"), "de"),
    **dict.fromkeys(("BE", "FR", "LU", "MC"), "fr"),
    **dict.fromkeys(("AR", "CL", "CO", "CR", "EC", "ES", "MX", "PE", "UY"), "es"),
    **dict.fromkeys(("IT", "SM"), "it"),
    **dict.fromkeys(("BR", "PT"), "pt"),
    "CZ": "cs",
    "DK": "da",
    "NL": "nl",
    "PL": "pl",
    "SE": "sv",
}
#: The letters of a Code 128 that S10 numbers are printed under, in groups.
_GROUPS = ((0, 2), (2, 5), (5, 8), (8, 11), (11, 13))


def label_page(parcel: Parcel, desk: Desk, measure: Measure) -> Page:
    """The label on paper of its own size, `Papers.label`."""
    width, height = layout.PAPERS[desk.shelf.settings.papers.label]
    inner = label_fragment(parcel, desk, width - 2 * LABEL_MARGIN, height - 2 * LABEL_MARGIN, measure)
    return Page(width, height, (Placed(LABEL_MARGIN, height - LABEL_MARGIN, inner),))


def label_fragment(parcel: Parcel, desk: Desk, width: float, height: float, measure: Measure) -> Fragment:
    """The label set into a width and height [points]: sender, address, how to handle it, and the item's
    number.
    """
    large = height > 110 * MM
    top, y_sender = _sender(parcel, desk, width, large, measure)
    for parts in (_WHOLE,) if large else (_WHOLE, _Parts(handling=False), _Parts(handling=False, bars=False)):
        foot, y_foot = _foot(parcel, desk, width, height, large, parts, measure)
        address, size = _address(parcel, desk, width, height - y_sender - y_foot, large, measure)
        if size >= _READABLE:
            break
    return Fragment((*top, *foot, *moved(address, 0, -y_sender)), height)


class _Parts(NamedTuple):
    """What stands below the address; on a small sticker the address comes first."""

    handling: bool = True
    bars: bool = True


_WHOLE = _Parts()
#: On a sticker the address is set no smaller than this, as long as something else can be left out [points].
_READABLE = 9.0


def _sender(
    parcel: Parcel, desk: Desk, width: float, large: bool, measure: Measure
) -> tuple[list[Mark], float]:
    """The sender's lines in small type, and the parcel's name at the right; with their height."""
    sender = desk.shelf.settings.sender
    size = 8.6 if large else 6.4
    wording = desk.wording("en")
    name = measure(parcel.parcel, True) * size
    marks: list[Mark] = [
        Text(width - name, -size, parcel.parcel, size, True, GREY),
        Egg(size * 0.55, -size * 0.7, size * 0.55),
    ]
    lines = [clean(line) for line in (sender.name, *sender.address) if line]
    if parcel.address.country != desk.shelf.settings.home.country:
        lines.append(country_of_sender(desk))
    first = f"{wording.term('from')}: {lines[0]}"
    rest = " · ".join(lines[1:])
    body, deep = set_lines((Span(first, True),), size, width - name - size * 2.4, measure)
    more, more_deep = set_lines((Span(rest),), size, width - size * 1.6, measure)
    marks += moved(body, size * 1.6, 0)
    marks += moved(more, size * 1.6, -deep)
    y = deep + more_deep + 2
    marks.append(Stroke(0, -y, width, -y, 1.0, ACCENT))
    return marks, y + 3


def country_of_sender(desk: Desk) -> str:
    """The sender's country as mail wants it."""
    return country_line(desk.shelf.settings.home.country, sender_language(desk))


def sender_language(desk: Desk) -> str:
    """The breeder's own language, for the post at home; it may be one that papers are not worded in."""
    return next(iter(desk.shelf.settings.papers.languages), "en")


def address_blocks(parcel: Parcel, desk: Desk) -> tuple[list[str], list[str]]:
    """The lines of the address that every post reads, and those in the destination's own letters, set apart
    below.

    A country's name is not parted at a line's end; where it stands in two languages, the line may be parted
    between them.
    """
    latin, local = split_address(parcel.address)
    address = replace(parcel.address, delivery=tuple(map(clean, latin)))
    home = desk.shelf.settings.home.country
    lines = [clean(line) for line in label_lines(address, home, sender_language(desk))]
    if address.country != home:
        lines[-1] = " / ".join(name.replace(" ", "\u00a0") for name in lines[-1].split(" / "))
    return lines, [clean(line) for line in local]


def _address(
    parcel: Parcel, desk: Desk, width: float, room: float, large: bool, measure: Measure
) -> tuple[list[Mark], float]:
    """The addressee's lines as large as the room allows, the country last, bold; the destination's own
    letters below.

    With the type size; 0 where not even the smallest fits.
    """
    lines, local = address_blocks(parcel, desk)
    last = len(lines) - 1 if parcel.address.country != desk.shelf.settings.home.country else -1
    left = 7 * MM if large else 2 * MM
    for size in (18.0, 16.5, 15.0, 13.5, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.2):
        marks: list[Mark] = []
        y = 0.0
        for number, line in enumerate(lines):
            body, deep = set_lines((Span(line, number in (0, last)),), size, width - left, measure)
            if number == last:
                y -= size * 0.25
            marks += moved(body, left, y)
            y -= deep
        one_line_each = len(marks) == len(lines)
        if local:
            below, deep = _local_block(local, size * 0.72, width - left, measure)
            marks += moved(below, left, y)
            y -= deep
        if -y <= room and (one_line_each or size <= 12):
            break
    above = max(0.0, (room + y) * 0.42)
    return moved(marks, 0, -above), size if -y <= room else 0.0


def _local_block(lines: list[str], size: float, width: float, measure: Measure) -> tuple[list[Mark], float]:
    """Lines in the destination's own letters under a thin line, smaller than the address; with their
    height.
    """
    marks: list[Mark] = [Stroke(0, -size * 0.7, width * 0.5, -size * 0.7, 0.5, GREY)]
    y = -size * 1.1
    for line in lines:
        body, deep = set_lines((Span(line),), size, width, measure)
        marks += moved(body, 0, y)
        y -= deep
    return marks, -y


def _foot(
    parcel: Parcel, desk: Desk, width: float, height: float, large: bool, parts: _Parts, measure: Measure
) -> tuple[list[Mark], float]:
    """From below: the remark on postage, the item's number as bars, the handling lines in a frame."""
    marks: list[Mark] = []
    size = 7.4 if large else 5.6
    remark = desk.wording("en").term("address_only")
    y = -height + 1
    marks.append(Text(0, y, remark, size, False, GREY))
    service = clean(parcel.service)
    wide = measure(service, False) * size
    if wide + measure(remark, False) * size < width - 8:
        marks.append(Text(width - wide, y, service, size, False, GREY))
    y += size + 4
    item = desk.items.get(parcel.parcel, "")
    if item and width > 70 * MM:
        words = " ".join(item[first:last] for first, last in _GROUPS)
        word_size = 9.5 if large else 7.5
        marks.append(Text((width - measure(words, True) * word_size) / 2, y + 1, words, word_size, True))
        y += word_size + 2
        if parts.bars:
            marks.append(Bars(width / 2, y, layout.BAR_HEIGHT, layout.BAR_MODULE, item))
            y += layout.BAR_HEIGHT + 6
    if parts.handling and (large or (width > 70 * MM and height > 50 * MM)):
        frame, deep = _handling(parcel, desk, width, large, measure)
        marks += moved(frame, 0, y + deep)
        y += deep + 4
    return marks, y + height


def _handling(
    parcel: Parcel, desk: Desk, width: float, large: bool, measure: Measure
) -> tuple[list[Mark], float]:
    """How to handle the parcel, framed; on a small label only in the language of where it goes."""
    said = handling_lines(parcel, desk)
    lines = [Span(line, True) for line in (said if large else said[:1])]
    size = 9.2 if large else 6.6
    marks: list[Mark] = []
    y = -5.0
    for line in lines:
        body, deep = set_lines((line,), size, width - 22, measure)
        marks += moved(body, 14, y)
        y -= deep + 1.5
    height = -y + 3
    frame: list[Mark] = [Box(0, -height, width, height, None, BLACK, 1.4), Box(0, -height, 6, height, ACCENT)]
    return [*frame, *marks], height


def handling_lines(parcel: Parcel, desk: Desk) -> tuple[str, ...]:
    """How to handle the parcel, in the language of where it starts and of where it goes."""
    from shipping.papers.wording.markdown import plain_text

    low, high = keep_range(parcel, desk.shelf)
    countries = (parcel.address.country, desk.shelf.settings.home.country)
    languages = dict.fromkeys(HANDLING_LANGUAGES.get(country, "en") for country in countries)
    fields = {"low": f"{low:g}" if low is not None else "", "high": f"{high:g}" if high is not None else ""}
    return tuple(
        clean(plain_text(desk.wordings[language].markdown("handling", **fields))) for language in languages
    )


def keep_range(parcel: Parcel, shelf: Shelf) -> tuple[float | None, float | None]:
    """The warmth all species of the parcel stand [C]; None where one is not known."""
    species = [unit.species for unit in units_of(parcel, shelf)]
    lows = [one.keep_min_c for one in species]
    highs = [one.keep_max_c for one in species]
    low = max((value for value in lows if value is not None), default=None) if None not in lows else None
    high = min((value for value in highs if value is not None), default=None) if None not in highs else None
    return (low, high) if low is not None and high is not None and low < high else (None, None)
