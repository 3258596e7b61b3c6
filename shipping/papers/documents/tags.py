"""The tags of tubes and bags: units in, sheets of tags out, for a whole day, with marks to cut along."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shipping.papers.documents.contents import PaperInputs, Unit, units_of
from shipping.papers.documents.slip import count_words, dates_words, kind_words, population_words, stage_words
from shipping.papers.page.book import Grid, PaperSheet, grid_sheets, shared_grid
from shipping.papers.page.drawing import Surface, wrapped
from shipping.papers.page.fonts import Typeface
from shipping.papers.page.layout import ACCENT, GREY, LEADING, MM, TAG_MARGIN
from shipping.papers.wording.language import clean, short_day
from shipping.papers.wording.phrases import Wording
from shipping.week.plan_data import Parcel

#: Width and height of a tag that wraps a 15 ml tube, whose girth is about 52 mm [points].
SLIM = (60 * MM, 22 * MM)
#: Sizes tried for the lines of a tag, largest first [points].
_SIZES = (13.0, 12.0, 11.0, 10.0, 9.2, 8.5, 7.8, 7.2, 6.6, 6.0, 5.4, 4.8)
#: So many of them can be read on a wet tube; of those, the first are taken only where no line is parted.
_READABLE, _UNPARTED = 11, 3
#: How much larger the count is than the lines.
_COUNT = 2.3


def tag_sheets(parcels: Sequence[Parcel], inputs: PaperInputs) -> tuple[PaperSheet, ...]:
    """The tags of the parcels' units in packing order, twelve to a sheet, or on the stickers that are set."""
    papers = inputs.shelf.settings.papers
    outline = (inputs.wording(inputs.own_language).term("pile_tags"),)
    draws = [draw for parcel in parcels for draw in _draws(parcel, inputs)]
    if papers.stickers is not None:
        grid = Grid.of_stickers(papers.stickers, papers.paper)
        first = inputs.first_sticker
        return grid_sheets(
            draws, grid, papers.paper, inputs.own_language, outline=outline, first=first, cut=False
        )
    grid = shared_grid(papers.paper, SLIM if papers.tags == "slim" else None)
    return grid_sheets(draws, grid, papers.paper, inputs.own_language, outline=outline)


def _draws(
    parcel: Parcel, inputs: PaperInputs
) -> list[Callable[[Surface, float, float, float, float], None]]:
    wording = inputs.wording_for(parcel)

    def drawer(unit: Unit) -> Callable[[Surface, float, float, float, float], None]:
        def draw(surface: Surface, left: float, top: float, width: float, height: float) -> None:
            draw_tag(surface, (left, top, width, height), tag_lines(parcel, unit, wording))

        return draw

    return [drawer(unit) for unit in units_of(parcel, inputs.shelf)]


def tag_lines(parcel: Parcel, unit: Unit, wording: Wording) -> tuple[str, ...]:
    """What a tag says: the count first, then line by line."""
    begin, end = unit.lot.laid_from, unit.lot.laid_to
    last = f"{short_day(end, wording.language)} {end.year}"
    first = short_day(begin, wording.language) + (f" {begin.year}" if begin.year != end.year else "")
    lot = f"{wording.term('lot')} {clean(unit.lot.lot)} · {stage_words(unit.draw.stage, wording)}"
    lines = (
        count_words(unit.eggs, unit.about, wording),
        clean(unit.species.scientific_name),
        population_words(unit.lot.population, wording),
        lot,
        wording.term("laid", early=first if begin != end else last, late=last if begin != end else ""),
        dates_words(unit, parcel, wording),
        f"{parcel.parcel} · {kind_words(unit.packing.kind, wording)} {unit.number}/{unit.of}",
    )
    return tuple(line for line in lines if line)


def draw_tag(surface: Surface, place: tuple[float, float, float, float], lines: tuple[str, ...]) -> None:
    """One tag at (left, top) of a width and height [points]: one type size, the count largest; that it is
    only about so many stands before it in the size of the lines.
    """
    left, top, width, height = place
    left, top = left + TAG_MARGIN, top - TAG_MARGIN
    width, height = width - 2 * TAG_MARGIN, height - 2 * TAG_MARGIN
    said, *rest = lines
    about, _, count = said.rpartition("\u00a0")
    size, body = _fitting(surface, (about, count), rest, width, height)
    big = size * _COUNT
    wide = surface.typeface.measure(count, True) * big
    if about:
        surface.words(left + width - wide - 3, top - big * 0.8, about, size, bold=True, anchor="end")
    surface.words(left + width, top - big * 0.8, count, big, bold=True, anchor="end")
    surface.box(left, top - height, 2.0, height, fill=ACCENT)
    y = top - size
    for text, bold in body:
        surface.words(left + 6, y, text, size, bold=bold, colour="#000000" if bold else GREY)
        y -= size * LEADING
    assert wide < width or size == _SIZES[-1]


def _fitting(
    surface: Surface, said: tuple[str, str], rest: Sequence[str], width: float, height: float
) -> tuple[float, list[tuple[str, bool]]]:
    """The largest type size at which all lines find room beside and below the count, and the lines.

    Where only a very small one would do, lines below the fish's name are cut short, its parcel's code never.
    """
    face, (about, count) = surface.typeface, said
    said_wide = face.measure(count, True) * _COUNT + face.measure(about, True)
    body: list[tuple[str, bool]] = []
    for sizes, is_whole in ((_SIZES[:_READABLE], True), (_SIZES, False)):
        for size in sizes:
            beside = width - 6 - said_wide * size - (7 if about else 4)
            body = _body(rest, size, (beside, width - 6), face, is_whole)
            if size in _SIZES[:_UNPARTED] and len(body) > len(rest):
                continue
            if len(body) * size * LEADING <= height and beside > width * 0.4:
                return size, body
    most = max(1, int(height / (_SIZES[-1] * LEADING)))
    return _SIZES[-1], body[:most]


def _body(
    rest: Sequence[str], size: float, widths: tuple[float, float], face: Typeface, is_whole: bool
) -> list[tuple[str, bool]]:
    """The lines and whether each is bold; those at the height of the count have less room than others."""
    body: list[tuple[str, bool]] = []
    for number, text in enumerate(rest):
        while text:
            is_beside = len(body) * size * LEADING < size * _COUNT * 0.95
            room = max(widths[0] if is_beside else widths[1], 8.0)
            first, *more = wrapped(text, size, room, face, number == 0)
            if more and not (is_whole or number == 0):
                first, more = _shortened(text, size, room, face), []
            body.append((first, number == 0))
            text = " ".join(more)
    return body


def _shortened(text: str, size: float, room: float, face: Typeface) -> str:
    """As much of a text as stands on one line, and a mark that it goes on."""
    while text and face.measure(f"{text}\u2026") * size > room:
        text = text[:-1]
    return f"{text}\u2026"
