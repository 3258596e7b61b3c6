"""The tags of tubes and bags: a unit in, one small paper out with lot, fish, count, stage and date."""

from __future__ import annotations

from shipping.papers.documents.contents import Desk, Unit, units_of
from shipping.papers.documents.slip import count_words, kind_words, population_words, stage_words
from shipping.papers.page.blocks import Span
from shipping.papers.page.layout import ACCENT, BLACK, GREY
from shipping.papers.page.lines import moved, set_lines
from shipping.papers.page.primitives import Box, Fragment, Mark, Measure, Text
from shipping.papers.page.stickers import Maker
from shipping.papers.wording.language import clean, paper_language, short_day
from shipping.papers.wording.phrases import Wording
from shipping.week.plan_data import Parcel


def tag_makers(parcel: Parcel, desk: Desk, measure: Measure) -> tuple[Maker, ...]:
    """One maker a unit, in the order of the packing slip."""
    wording = desk.wording(paper_language(parcel.language))
    return tuple(_maker(parcel, unit, wording, measure) for unit in units_of(parcel, desk.shelf))


def _maker(parcel: Parcel, unit: Unit, wording: Wording, measure: Measure) -> Maker:
    def make(width: float, height: float) -> Fragment:
        return tag(parcel, unit, wording, width, height, measure)

    return make


#: Sizes tried, as a share of the usual type: with every line on one line, then with long lines running on.
_ONE_LINE = (1.5, 1.35, 1.2, 1.1, 1.0, 0.9, 0.82)
_RUNNING_ON = (0.95, 0.88, 0.8, 0.72, 0.65, 0.58, 0.52, 0.46, 0.4)
_SMALLEST = 0.4


def tag(
    parcel: Parcel, unit: Unit, wording: Wording, width: float, height: float, measure: Measure
) -> Fragment:
    """One tag set into a width and height [points], as large as it holds; on tiny stickers the last lines are
    cut.
    """
    tried = [(scale, True) for scale in _ONE_LINE] + [(scale, False) for scale in _RUNNING_ON]
    for scale, one_line in tried:
        marks, fits, is_whole = _tag(parcel, unit, wording, width, height, scale, measure)
        if fits and (is_whole or not one_line):
            return Fragment(tuple(marks), height)
    return Fragment(tuple(_tag(parcel, unit, wording, width, height, _SMALLEST, measure)[0]), height)


def _tag(
    parcel: Parcel, unit: Unit, wording: Wording, width: float, height: float, scale: float, measure: Measure
) -> tuple[list[Mark], bool, bool]:
    """The marks of a tag at one size, whether all its lines found room, and whether each is on one line."""
    count = count_words(unit.eggs, unit.about, wording)
    count_size, small = (12 if unit.about else 18) * scale, 7.5 * scale
    count_wide = measure(count, True) * count_size
    eggs = wording.term("col_eggs")
    left = 8.0 * scale
    marks: list[Mark] = [
        Box(0, -height, 3 * scale, height, ACCENT),
        Text(width - count_wide, -count_size * 0.86, count, count_size, True),
        Text(
            width - measure(eggs, False) * small, -count_size * 0.86 - small * 1.2, eggs, small, False, GREY
        ),
    ]
    beside_count = count_size * 0.86 + small * 1.4
    y, is_whole = 0.0, count_wide < width * 0.45
    for text, size, bold in _tag_lines(parcel, unit, wording):
        wide = width - left - (count_wide + 6 if -y < beside_count else 0)
        body, deep = set_lines((Span(text, bold),), size * scale, max(wide, 10), measure, colour=BLACK)
        is_whole = is_whole and len(body) <= 1
        if -y + deep > height + 0.5:
            return marks, False, is_whole
        marks += moved(body, left, y)
        y -= deep
    return marks, True, is_whole


def _tag_lines(parcel: Parcel, unit: Unit, wording: Wording) -> list[tuple[str, float, bool]]:
    """What a tag says, line by line, with type size and weight."""
    lot = f"{wording.term('lot')} {clean(unit.lot.lot)} · {stage_words(unit.draw.stage, wording)}"
    which = f"{parcel.parcel} · {kind_words(unit.packing.kind, wording)} {unit.number}/{unit.of}"
    lines = [
        (clean(unit.species.scientific_name), 10.5, True),
        (population_words(unit.lot.population, wording), 9.0, False),
        (lot, 9.0, False),
        (_dates(unit, wording), 8.4, False),
        (f"{which} · {short_day(parcel.dispatch_on, wording.language)}", 8.4, False),
    ]
    return [line for line in lines if line[0]]


def _dates(unit: Unit, wording: Wording) -> str:
    """Hatching or wetting days, where there are any."""
    first, last = unit.draw.hatch.p05, unit.draw.hatch.p95
    if first is None or last is None:
        return ""
    key = "tag_wet" if unit.lot.kept_damp else "tag_hatch"
    return wording.term(key, early=short_day(first, wording.language), late=short_day(last, wording.language))
