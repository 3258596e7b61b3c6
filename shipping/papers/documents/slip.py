"""The packing slip: a parcel in, one sheet out that tells the buyer what came, what to do first, and what was
promised.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta

from shipping.papers.documents.contents import Desk, Unit, code_text, units_of
from shipping.papers.documents.promise import FEW_LINES, is_exact, promise_blocks, promise_words
from shipping.papers.page import layout
from shipping.papers.page.blocks import (
    Block,
    Column,
    Facts,
    Heading,
    Lane,
    Panel,
    Paragraph,
    Sheet,
    Span,
    Spans,
    Table,
    Timeline,
    plain,
    strong,
)
from shipping.papers.wording.language import (
    clean,
    country_name,
    day,
    full_day,
    number,
    paper_language,
    share,
    short_day,
)
from shipping.papers.wording.markdown import blocks_of
from shipping.papers.wording.phrases import Wording
from shipping.post.transit import Holiday
from shipping.tables.rows.packing_kinds import KIND_BY_WORD
from shipping.week.plan_data import Dates, Parcel, PlannedLine


def slip(parcel: Parcel, desk: Desk) -> Sheet:
    """The packing slip of one parcel, in the buyer's language."""
    language = paper_language(parcel.language)
    wording = desk.wording(language)
    units = units_of(parcel, desk.shelf)
    sender = desk.shelf.settings.sender
    blocks: list[Block] = [
        _facts(parcel, wording),
        Heading(wording.term("inside")),
        _inside(parcel, units, desk),
    ]
    if parcel.holidays:
        told = holiday_words(parcel.holidays, wording)
        blocks.append(Paragraph(plain(told), size=layout.SMALL, quiet=True))
    blocks += _days(parcel, units, wording)
    blocks += _opening(units, wording)
    blocks += promise_blocks(parcel, desk, wording)
    blocks += _notes(parcel, desk, wording)
    return Sheet(
        title=wording.term("slip_title"),
        below=clean(f"{sender.name} · {wording.term('order')} {', '.join(parcel.orders)}"),
        corner=parcel.parcel,
        blocks=tuple(blocks),
        footer=footer(parcel.parcel, wording.term("slip_title"), desk.today, wording),
        paper=desk.shelf.settings.papers.paper,
        language=language,
        code=code_text(parcel),
        smallest=layout.SCALES[-1],
    )


#: So many tubes and bags of a line stay on one page with their sum; of more, only the last.
_FEW_ROWS = 4
#: What a calendar adds to a holiday's name.
_REMARK = re.compile(r" \((?:observed|estimated)[^)]*\)")


def holiday_words(holidays: Sequence[Holiday], wording: Wording) -> str:
    """The holidays that move a parcel's dates, in the page's language; unnamed where their name is not
    translated.
    """
    sentences = []
    for holiday in holidays:
        name = _REMARK.sub("", clean(holiday.name))
        known = name if wording.language == "en" else wording.said(name)
        facts = {
            "day": full_day(holiday.on, wording.language),
            "place": country_name(holiday.country, wording.language),
        }
        sentences.append(
            wording.term("holiday", name=known, **facts)
            if known
            else wording.term("holiday_unnamed", **facts)
        )
    return " ".join(text[0].upper() + text[1:] for text in sentences)


def footer(name: str, title: str, today: date, wording: Wording) -> str:
    """The words at the foot of a page; the page numbers are put in later."""
    printed = wording.term("printed", day=day(today, wording.language))
    return f"{name} · {title} · {printed}\t{wording.term('page', page='{page}', pages='{pages}')}"


def _facts(parcel: Parcel, wording: Wording) -> Facts:
    language = wording.language
    place = ", ".join(
        part for part in (parcel.address.town, country_name(parcel.address.country, language)) if part
    )
    arrive = parcel.arrive
    expected = day(arrive.p50, language) if arrive.p50 else "–"
    if arrive.p05 and arrive.p95 and arrive.p05 != arrive.p95:
        expected += f"\n{short_day(arrive.p05, language)} – {short_day(arrive.p95, language)}"
    return Facts(
        (
            (wording.term("for"), clean(parcel.address.addressee) + f"\n{clean(place)}"),
            (wording.term("sent_on"), day(parcel.dispatch_on, language)),
            (wording.term("expected"), expected),
            (wording.term("by"), clean(parcel.service)),
        ),
        (0.31, 0.24, 0.26, 0.19),
    )


def count_words(count: int, about: bool, wording: Wording) -> str:
    """A count, with ``about`` where the lot was estimated."""
    text = number(count, wording.language)
    return wording.term("about", count=text) if about else text


def kind_words(kind: str, wording: Wording) -> str:
    """``tube``, ``breathing bag`` or ``damp bag`` in the paper's language."""
    return wording.term(kind.replace(" ", "_"))


def stage_words(stage: str, wording: Wording) -> str:
    return wording.term(f"stage_{stage}" if stage else "stage_unknown")


def population_words(population: str, wording: Wording) -> str:
    return clean(population) if population else wording.term("population_unknown")


def _inside(parcel: Parcel, units: tuple[Unit, ...], desk: Desk) -> Table:
    """A row for each unit, and under each line of the order its sum."""
    wording = desk.wording(paper_language(parcel.language))
    columns = (
        Column(wording.term("col_unit"), 0.07, size=layout.LARGE),
        Column(wording.term("col_packed_in"), 0.17),
        Column(wording.term("col_fish"), 0.33),
        Column(wording.term("col_stage"), 0.27),
        Column(wording.term("col_eggs"), 0.16, "right", layout.LARGE),
    )
    rows: list[tuple[tuple[Spans, ...], ...]] = []
    sums: set[int] = set()
    kept: set[int] = set()
    for line in parcel.lines:
        own = [unit for unit in units if unit.line is line]
        rows += [_unit_row(unit, wording) for unit in own]
        kept |= {len(rows) - 1} if len(own) > _FEW_ROWS else set(range(len(rows) - len(own), len(rows)))
        sums.add(len(rows))
        exact = is_exact(line, desk.shelf)
        promised = "" if len(parcel.lines) <= FEW_LINES else promise_words(line, "_short", desk, wording)
        rows.append(_sum_row(line, any(unit.about for unit in own), exact, promised, wording))
    return Table(columns, tuple(rows), frozenset(sums), frozenset(kept))


def _unit_row(unit: Unit, wording: Wording) -> tuple[tuple[Spans, ...], ...]:
    lot = f"{wording.term('lot')} {clean(unit.lot.lot)}"
    coming: list[str] = []
    if unit.draw.eyed_on_arrival and not unit.lot.kept_damp and unit.draw.stage not in ("eyed", "ready"):
        coming.append(
            wording.term("eyed_on_arrival", share=share(unit.draw.eyed_on_arrival, wording.language))
        )
    if unit.draw.h_per_egg >= 0.005:
        coming.append(wording.term("hatched_on_arrival", share=share(unit.draw.h_per_egg, wording.language)))
    return (
        (strong(str(unit.number)),),
        (plain(kind_words(unit.packing.kind, wording)),),
        (
            strong(clean(unit.species.scientific_name)),
            plain(f"{population_words(unit.lot.population, wording)} · {lot}"),
        ),
        (plain(stage_words(unit.draw.stage, wording)), *(plain(text) for text in coming)),
        (strong(count_words(unit.eggs, unit.about, wording)),),
    )


def _sum_row(
    line: PlannedLine, about: bool, exact: bool, promised: str, wording: Wording
) -> tuple[tuple[Spans, ...], ...]:
    facts = {
        "ordered": number(line.ordered, wording.language),
        "packed": count_words(line.pack, about, wording),
        "extra": number(line.extra, wording.language),
    }
    key = "sum" if line.extra > 0 else "sum_exact" if exact else "sum_even"
    order = f"{wording.term('order')} {clean(line.order)}/{line.line}"
    words: list[Spans] = [(Span(order, True), Span(f"  {wording.term(key, **facts)}"))]
    if line.instead_of:
        words.append(plain(wording.term("instead", ordered_fish=clean(line.instead_of))))
    if promised:
        words.append(plain(promised))
    return ((), tuple(words), (), (), (strong(count_words(line.pack, about, wording)),))


def _days(parcel: Parcel, units: tuple[Unit, ...], wording: Wording) -> list[Block]:
    """The timeline of arrival and hatching (or wetting), and what it rests on."""
    lanes = [
        lane for lane in [_lane(wording.term("lane_parcel"), parcel.arrive, wording, solid=False)] if lane
    ]
    missing: list[str] = []
    seen: dict[str, Unit] = {unit.draw.lot: unit for unit in units}
    for unit in seen.values():
        key = "lane_wet" if unit.lot.kept_damp else "lane_hatch"
        name = clean(unit.species.scientific_name)
        lane = _lane(wording.term(key, fish=name), unit.draw.hatch, wording)
        if lane is None:
            missing.append(wording.term("dates_unknown", fish=f"{name} ({clean(unit.draw.lot)})"))
        elif lane not in lanes:
            lanes.append(lane)
    blocks: list[Block] = []
    if len(lanes) > 1:
        damp_only = all(unit.lot.kept_damp for unit in units)
        blocks.append(Heading(wording.term("when_wet" if damp_only else "when_hatch")))
        blocks.append(Timeline(tuple(lanes), _ticks(parcel.dispatch_on, lanes, wording)))
    basis = " ".join([*_temperatures(units, wording), *missing])
    note = wording.term("dates_note", basis=basis) if len(lanes) > 1 else basis
    return [*blocks, Paragraph(plain(note), size=layout.SMALL, quiet=True)]


def _lane(label: str, dates: Dates, wording: Wording, solid: bool = True) -> Lane | None:
    if dates.p05 is None or dates.p50 is None or dates.p95 is None:
        return None
    early, middle, late = (short_day(when, wording.language) for when in (dates.p05, dates.p50, dates.p95))
    span = "" if early == late else f"{early} – {late}"
    return Lane(label, dates.p05, dates.p50, dates.p95, middle, span, solid)


def _ticks(start: date, lanes: list[Lane], wording: Wording) -> tuple[tuple[date, str], ...]:
    """About six days over the whole length, the first at the dispatch day, the last at the latest end."""
    length = max((max(lane.end for lane in lanes) - start).days, 1)
    step = max(1, -(-length // 5))
    days = [start + timedelta(days=n) for n in range(0, length + step, step)]
    return tuple((when, _bare(short_day(when, wording.language))) for when in days)


def _bare(text: str) -> str:
    """A short day without its weekday."""
    first, _, rest = text.partition(" ")
    return rest if rest and not any(letter.isdigit() for letter in first) else text


def _temperatures(units: tuple[Unit, ...], wording: Wording) -> list[str]:
    sentences = []
    for damp, key in ((False, "dates_water"), (True, "dates_damp")):
        kept = sorted(
            {unit.lot.kept_at_c for unit in units if unit.lot.kept_damp == damp and unit.draw.hatch.p50}
        )
        if kept:
            words = " / ".join(f"{number(c, wording.language)}\u00a0°C" for c in kept)
            sentences.append(wording.term(key, temperature=words))
    if any(unit.species.zero_basis == "assumed" for unit in units):
        sentences.append(wording.term("dates_assumed"))
    return sentences


def _opening(units: tuple[Unit, ...], wording: Wording) -> list[Block]:
    """The first three steps, a panel for each kind of packing in the parcel."""
    panels: list[Block] = []
    for kind, is_a in KIND_BY_WORD.items():
        own = [unit for unit in units if unit.packing.kind == kind]
        if not own:
            continue
        fields: dict[str, object] = {"eyed": any(unit.draw.stage in ("eyed", "ready") for unit in own)}
        groups = [own]
        if is_a.is_damp:
            groups = [[u for u in own if u.lot.kept_damp == damp] for damp in (True, False)]
        for group in groups:
            if not group:
                continue
            if is_a.is_damp:
                fields["into_water"] = not group[0].lot.kept_damp
            numbers = ", ".join(str(unit.number) for unit in group)
            which = f"{kind_words(kind, wording)} ({wording.term('col_unit')} {numbers})"
            title = wording.term("of_topic", topic=wording.term("opening"), said=which)
            steps = blocks_of(wording.markdown(f"opening-{kind.replace(' ', '-')}", **fields))
            panels.append(Panel((Paragraph((Span(title, True),)), *steps)))
    return panels


def _notes(parcel: Parcel, desk: Desk, wording: Wording) -> list[Block]:
    blocks: list[Block] = []
    notes = [clean(line.message) for line in parcel.lines if line.message]
    if notes:
        heading = wording.term("note", sender=clean(desk.shelf.settings.sender.name))
        blocks.append(Heading(heading))
        blocks += [Paragraph(plain(note)) for note in dict.fromkeys(notes)]
    cautions = [wording.term("caution_release"), wording.term("caution_law"), wording.term("contents_code")]
    blocks.append(Paragraph(plain(" ".join(cautions)), size=layout.SMALL, quiet=True))
    return blocks
