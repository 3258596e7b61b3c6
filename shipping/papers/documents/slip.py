"""The packing slip: a parcel in; what came, what to do first, what was promised and what else, out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from shipping.papers.documents.contents import (
    MARKS,
    PaperInputs,
    Unit,
    code_text,
    dates_for_buyer,
    is_collected,
    is_wetted_on_arrival,
    may_be_wetted,
    own_words,
    units_of,
)
from shipping.papers.page import layout
from shipping.papers.page.pdf_file import PaperSheet, fitted
from shipping.papers.page.typesetter import Lane, PrintedColumn, Typesetter
from shipping.papers.wording.language import (
    clean,
    country_name,
    day,
    first_and_last,
    full_day,
    number,
    share,
    short_day,
    warmth,
)
from shipping.papers.wording.markdown import Span, Spans, plain, strong
from shipping.papers.wording.phrases import Wording, note_text, orders_in_words
from shipping.post.address import country_for_both, home_lines, label_lines
from shipping.post.transit import Holiday
from shipping.tables.rows.packings import KIND_BY_WORD, PackingKind
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, PlannedLine
from shipping.words.keys import grouped
from shipping.words.three_point import Dates

if TYPE_CHECKING:
    from reportlab.platypus import Flowable


#: Of more lines than this promise and days stand in the table, not in a sentence and on a chart.
FEW_LINES = 3


def is_exact(line: PlannedLine, shelf: Shelf) -> bool:
    """Did the buyer ask for the count ordered and no extra eggs?"""
    order = shelf.order_by_name.get(line.order)
    return order is not None and any(
        own.number == line.line and own.overpack == "none" for own in order.lines
    )


def assumed_in(parcel: Parcel, units: Sequence[Unit]) -> tuple[str, ...]:
    """Names of the assumed figures that the chance of a line rests on."""
    facts = {
        "assumed_warmth": parcel.warmth_basis == "assumed",
        "assumed_clock": any(unit.species.zero_basis == "assumed" for unit in units),
        "assumed_fertile": any(unit.draw.stage in ("", "laid") for unit in units),
        "assumed_lost": _is_lost_share_assumed(parcel) and not is_collected(parcel),
    }
    return tuple(name for name, is_assumed in facts.items() if is_assumed)


def _is_lost_share_assumed(parcel: Parcel) -> bool:
    """Is the share of lost parcels the one we assume where nobody counted?"""
    return bool(parcel.parcel_lost_share == Service.model_fields["parcel_lost_share"].default)


def promise_words(
    line: PlannedLine,
    ending: str,
    parcel: Parcel,
    units: Sequence[Unit],
    inputs: PaperInputs,
    wording: Wording,
) -> str:
    """A line's promise: a sentence, or a few words for the ending ``_short``; an assumed figure is marked."""
    packed = count_words(line.pack, any(unit.about for unit in units), wording)
    mark = MARKS["assumed"] if assumed_in(parcel, units) else ""
    facts = {
        "fish": clean(inputs.shelf.species[line.species].scientific_name),
        "ordered": number(line.ordered, wording.language),
        "packed": packed,
        "chance": share(line.p_enough, wording.language) + mark,
        "expected": number(line.expected_alive, wording.language, 0) + mark,
        "fetched": is_collected(parcel),
    }
    is_fewer, is_as_ordered = line.pack < line.ordered, is_exact(line, inputs.shelf)
    key = "promise_fewer" if is_fewer else "promise_exact" if is_as_ordered else "promise"
    return wording.term(key + ending, **facts)


def promise_blocks(
    parcel: Parcel, units: Sequence[Unit], inputs: PaperInputs, wording: Wording, setter: Typesetter
) -> list[Flowable]:
    """Promises (unless in the table), their basis, how and until when to report a short count, policies."""
    claims = inputs.shelf.settings.claims
    blocks: list[Flowable] = [setter.heading(wording.term("promised"))]
    if len(parcel.lines) <= FEW_LINES:
        for line in parcel.lines:
            own = [unit for unit in units if unit.line is line]
            blocks.append(setter.words(promise_words(line, "", parcel, own, inputs, wording), after=2.0))
    lost = parcel.parcel_lost_share
    if lost and not is_collected(parcel):
        mark = MARKS["assumed"] if _is_lost_share_assumed(parcel) else ""
        blocks.append(setter.words(wording.term("promise_lost", share=share(lost, wording.language) + mark)))
    assumed = assumed_in(parcel, units)
    if assumed:
        what = ", ".join(wording.term(name) for name in assumed)
        blocks.append(setter.small(wording.term("promise_assumed", mark=MARKS["assumed"], what=what)))
    report = wording.term(
        "report", days=claims.report_within_days, contact=clean(inputs.contact), fetched=is_collected(parcel)
    )
    policy = policy_words((claims.short_policy, claims.hatched_policy), inputs, wording)
    behind = " ".join(part for part in (policy, wording.term("report_even")) if part)
    return [*blocks, setter.words((Span(report, True), Span(f" {behind}")), keep=True)]


def policy_words(policies: tuple[str, ...], inputs: PaperInputs, wording: Wording) -> str:
    """The seller's policies, translated or as typed; where all are as typed they are marked once."""
    typed = [_sentence(clean(text)) for text in policies if clean(text)]
    known = [wording.said(text) for text in typed]
    if not any(known):
        return _sentence(own_words(" ".join(typed), inputs, wording)) if typed else ""
    return " ".join(_sentence(own_words(text, inputs, wording)) for text in typed)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


_Row = tuple[tuple[Spans, ...], ...]


def slip(parcel: Parcel, inputs: PaperInputs) -> PaperSheet:
    """The packing slip of one parcel, in the buyer's language."""
    wording = inputs.wording_for(parcel)
    units = units_of(parcel, inputs.shelf)

    def build(setter: Typesetter) -> list[Flowable]:
        return _blocks(parcel, units, inputs, wording, setter)

    title = wording.term("slip_title")
    orders = f"{wording.term('order')} {orders_in_words(', '.join(parcel.orders), wording)}"
    return PaperSheet(
        title=title,
        below=clean(f"{inputs.shelf.settings.sender.name} · {orders}"),
        corner=parcel.parcel,
        story=fitted(build, inputs.typeface, inputs.paper, has_code=True),
        foot=footer(parcel.parcel, title, inputs.today, wording),
        paper=inputs.paper,
        language=wording.language,
        code=code_text(parcel),
        outline=(clean(f"{parcel.parcel} {parcel.address.addressee}"),),
    )


def _blocks(
    parcel: Parcel, units: tuple[Unit, ...], inputs: PaperInputs, wording: Wording, setter: Typesetter
) -> list[Flowable]:
    blocks = [_facts(parcel, inputs, wording, setter), *setter.heading_over(wording.term("inside"))]
    blocks.append(inside_table(parcel, units, inputs, setter))
    if parcel.holidays:
        blocks.append(setter.small(holiday_words(parcel.holidays, wording)))
    blocks += [setter.small(note_text(note, wording)) for note in parcel.this_week]
    blocks += _opening(parcel, units, wording, setter)
    blocks += _days(parcel, units, wording, setter)
    blocks += promise_blocks(parcel, units, inputs, wording, setter)
    blocks += _message(parcel, inputs, wording, setter)
    cautions = [wording.term(key) for key in ("caution_release", "caution_law", "contents_code")]
    return [*blocks, setter.small(" ".join(cautions))]


#: What a calendar adds to a holiday's name.
_REMARK = re.compile(r" \((?:observed|estimated)[^)]*\)")


def holiday_words(holidays: Sequence[Holiday], wording: Wording) -> str:
    """The holidays that move a parcel's dates, in the page's language; unnamed where untranslated."""
    sentences = []
    for holiday in holidays:
        name = _REMARK.sub("", clean(holiday.name))
        known = name if wording.language == "en" else wording.said(name)
        facts = {
            "day": full_day(holiday.on, wording.language),
            "place": country_name(holiday.country, wording.language),
        }
        key = {"name": known} if known else {}
        sentences.append(wording.term("holiday" if known else "holiday_unnamed", **key, **facts))
    return " ".join(text[0].upper() + text[1:] for text in sentences)


def footer(name: str, title: str, today: date, wording: Wording) -> str:
    """The words at the foot of a page; the page's number, of how many, is put in later."""
    printed = wording.term("printed", day=day(today, wording.language))
    return f"{name} · {title} · {printed}\t{wording.term('page', page='{page}')}"


def _facts(parcel: Parcel, inputs: PaperInputs, wording: Wording, setter: Typesetter) -> Flowable:
    """To whom, from whom, and when: all that brings a torn parcel back, or on its way."""
    language, arrive = wording.language, parcel.arrive
    expected = day(arrive.p50, language) if arrive.p50 else "–"
    span = ""
    if arrive.p05 and arrive.p95 and arrive.p05 != arrive.p95:
        span = f"{short_day(arrive.p05, language)} – {short_day(arrive.p95, language)}"
    tel = [wording.term("tel", tel=clean(parcel.tel))] if parcel.tel else []
    home, country = inputs.shelf.settings.home.country, parcel.address.country
    to = [clean(line) for line in label_lines(parcel.address, home if country == home else "", language)]
    fetched = is_collected(parcel)
    days = [(wording.term("collected_on" if fetched else "sent_on"), day(parcel.dispatch_on, language), "")]
    if not fetched:
        days += [(wording.term("expected"), expected, span), (wording.term("by"), clean(parcel.service), "")]

    def dated(inner: Typesetter) -> list[Flowable]:
        lines: list[Flowable] = []
        for label, value, below in days:
            lines.append(inner.small(label, after=0.0))
            lines.append(inner.words(value, bold=True, after=0.0 if below else 2.0))
            lines += [inner.small(below, after=2.0)] if below else []
        return lines

    back = wording.term("from" if fetched else "return_to")
    sender = _sender_lines(inputs, wording, "" if country == home else home)
    parts = (
        lambda inner: _address(wording.term("for"), [*to, *tel], clean(parcel.address.addressee), inner),
        lambda inner: _address(back, sender, sender[0], inner),
        dated,
    )
    return setter.side_by_side(parts, (0.36, 0.36, 0.28))


def _address(label: str, lines: Sequence[str], whom: str, inner: Typesetter) -> list[Flowable]:
    """The lines of an address under its label, with the person's name large."""

    def said(line: str) -> Flowable:
        own = line == whom
        size = layout.BODY if own else layout.BODY * 0.92
        size = min(size, inner.size_in_which_words_stay_whole((Span(line, own),)) or size)
        return inner.words(line, size, bold=own, after=0.0)

    return [inner.small(label, after=0.0), *map(said, lines)]


def _sender_lines(inputs: PaperInputs, wording: Wording, country: str) -> list[str]:
    sender = inputs.shelf.settings.sender
    tel = wording.term("tel", tel=sender.tel) if sender.tel else ""
    told = country_for_both(country, wording.language) if country else ""
    return [
        clean(line)
        for line in (sender.name, *home_lines(inputs.shelf.settings), told, tel, sender.mail)
        if line
    ]


def count_words(count: int, about: bool, wording: Wording) -> str:
    """A count, with ``about`` where the lot was estimated: words that stay on one line."""
    text = number(count, wording.language)
    return wording.term("about", count=text).replace(" ", "\u00a0") if about else text


def eggs_words(units: Sequence[Unit], wording: Wording) -> str:
    """The eggs of some units, ``about`` so many where a lot of theirs was estimated."""
    return count_words(sum(unit.eggs for unit in units), any(unit.about for unit in units), wording)


def kind_words(kind: str, wording: Wording) -> str:
    """The kind of a packing in the paper's language, kept on one line."""
    return wording.term(KIND_BY_WORD[kind].key).replace(" ", "\u00a0")


def lot_words(lot: str, wording: Wording) -> str:
    """The word and the lot's name, kept on one line."""
    return f"{wording.term('lot')}\u00a0{clean(lot)}"


def stage_words(stage: str, wording: Wording) -> str:
    return wording.term(f"stage_{stage}" if stage else "stage_unknown")


def population_words(population: str, wording: Wording) -> str:
    return clean(population) if population else wording.term("population_unknown")


def fish_words(species: str, population: str, inputs: PaperInputs, wording: Wording) -> str:
    """A fish as buyers know it: its scientific name, and behind it the population, if one is named."""
    known = inputs.shelf.species.get(species)
    name = clean(known.scientific_name if known else species)
    return f"{name} ({population_words(population, wording)})" if population else name


def instead_words(line: PlannedLine, inputs: PaperInputs, wording: Wording) -> str:
    """What was ordered where another fish is packed; "" where none is."""
    species, _, population = line.instead_of.partition("/")
    ordered = fish_words(species, population, inputs, wording)
    return wording.term("instead", ordered_fish=ordered) if line.instead_of else ""


def inside_table(
    parcel: Parcel, units: tuple[Unit, ...], inputs: PaperInputs, setter: Typesetter
) -> Flowable:
    """A row for each unit, and under each line of the order its sum."""
    wording = inputs.wording_for(parcel)
    columns = (
        PrintedColumn(wording.term("col_unit"), 0.06, size=layout.LARGE),
        PrintedColumn(wording.term("col_packed_in"), 0.2),
        PrintedColumn(wording.term("col_fish"), 0.315),
        PrintedColumn(wording.term("col_stage"), 0.295),
        PrintedColumn(wording.term("col_eggs"), 0.13, "right", layout.LARGE),
    )
    rows: list[_Row] = []
    sums: set[int] = set()
    kept: set[int] = set()
    for line in parcel.lines:
        own = [unit for unit in units if unit.line is line]
        rows += [_unit_row(unit, parcel, wording) for unit in own]
        kept |= set(range(len(rows) - len(own), len(rows)))
        sums.add(len(rows))
        rows.append(_sum_row(line, own, parcel, inputs, wording))
    return setter.table(columns, rows, frozenset(sums), frozenset(kept))


def dates_words(unit: Unit, parcel: Parcel, wording: Wording) -> str:
    """Hatching or wetting days of a unit, where there are any."""
    dates = dates_for_buyer(unit, parcel)
    if dates.p05 is None or dates.p95 is None:
        return ""
    if unit.care != "damp":
        early, late = (short_day(when, wording.language) for when in (dates.p05, dates.p95))
        return wording.term("tag_hatch", early=early, late=late)
    if is_wetted_on_arrival(unit, parcel):
        return wording.term("tag_wet_at_once")
    early, late = first_and_last(dates.p05, dates.p95, wording.language, parcel.dispatch_on.year)
    return wording.term("tag_wet", early=early, late=late)


def _unit_row(unit: Unit, parcel: Parcel, wording: Wording) -> _Row:
    lot = lot_words(unit.lot.lot, wording)
    draw, language = unit.draw, wording.language
    stage = [stage_words(draw.stage, wording)]
    if draw.eyed_on_arrival and not unit.lot.kept_damp and draw.stage not in ("eyed", "ready"):
        stage.append(wording.term("eyed_on_arrival", share=share(draw.eyed_on_arrival, language)))
    if draw.h_per_egg >= 0.005:
        stage.append(wording.term("hatched_on_arrival", share=share(draw.h_per_egg, language)))
    if len(parcel.lines) > FEW_LINES and (days := dates_words(unit, parcel, wording)):
        stage.append(days)
    population = population_words(unit.lot.population, wording)
    return (
        (strong(str(unit.number)),),
        (plain(kind_words(unit.packing.kind, wording)),),
        (strong(clean(unit.species.scientific_name)), plain(f"{population} · {lot}")),
        tuple(map(plain, stage)),
        (strong(count_words(unit.eggs, unit.about, wording)),),
    )


def _sum_row(
    line: PlannedLine, own: list[Unit], parcel: Parcel, inputs: PaperInputs, wording: Wording
) -> _Row:
    about = any(unit.about for unit in own)
    facts = {
        "ordered": number(line.ordered, wording.language),
        "packed": count_words(line.pack, about, wording),
        "extra": number(line.extra, wording.language),
    }
    key = "sum" if line.extra > 0 else "sum_exact" if is_exact(line, inputs.shelf) else "sum_even"
    order = f"{wording.term('order')} {orders_in_words(f'{clean(line.order)}/{line.line}', wording)}"
    words: list[Spans] = [(Span(order, True), Span(f"  {wording.term(key, **facts)}"))]
    if line.instead_of:
        words.append(plain(instead_words(line, inputs, wording)))
    if len(parcel.lines) > FEW_LINES:
        words.append(plain(promise_words(line, "_short", parcel, own, inputs, wording)))
    return ((), tuple(words), (), (), (strong(count_words(line.pack, about, wording)),))


def _days(parcel: Parcel, units: tuple[Unit, ...], wording: Wording, setter: Typesetter) -> list[Flowable]:
    """The timeline of arrival and hatching (or wetting) in the buyer's hands, and what it rests on."""
    year, fetched = parcel.dispatch_on.year, is_collected(parcel)
    way = None if fetched else _lane(wording.term("lane_parcel"), parcel.arrive, wording, year, solid=False)
    lanes = [way] if way else []
    missing: list[str] = []
    seen: dict[str, Unit] = {unit.draw.lot: unit for unit in units}
    for unit in seen.values():
        key = "lane_wet" if unit.care == "damp" else "lane_hatch"
        name = clean(unit.species.scientific_name)
        if len({other.lot.lot for other in units if other.species is unit.species}) > 1:
            name += f" ({clean(unit.lot.lot)})"
        lane = _lane(wording.term(key, fish=name), dates_for_buyer(unit, parcel), wording, year)
        if lane is None:
            lot = clean(unit.draw.lot)
            fish = name if lot in name else f"{name} ({lot})"
            missing.append(wording.term("dates_unknown", fish=fish))
        elif lane not in lanes:
            lanes.append(lane)
    told = _temperatures(units, wording)
    if told and len(parcel.lines) <= FEW_LINES:  # of many lines only the care sheet says it
        told.append(wording.term("dates_fish"))
    basis = " ".join([*told, *missing])
    if len(lanes) < (1 if fetched else 2) or len(parcel.lines) > FEW_LINES:
        return [setter.small(basis)] if basis else []
    title = "when_wet" if all(unit.care == "damp" for unit in units) else "when_hatch"
    return [
        setter.heading(wording.term(f"{title}_here" if fetched else title)),
        setter.timeline(lanes, _ticks(parcel.dispatch_on, lanes, wording)),
        setter.small(wording.term("dates_note", basis=basis)),
    ]


def _lane(label: str, dates: Dates, wording: Wording, year: int, solid: bool = True) -> Lane | None:
    """A bar for the days, each with its year where that is not the ``year`` of dispatch."""
    if dates.p05 is None or dates.p95 is None:
        return None
    first, last = first_and_last(dates.p05, dates.p95, wording.language, year)
    span = first if dates.p05 == dates.p95 else f"{first} – {last}"
    usual = _dated(dates.p50, wording, year) if dates.p50 else ""
    words, beside = (usual, "" if usual == span else span) if usual else (span, "")
    return Lane(label, dates.p05, dates.p50, dates.p95, words, beside, solid)


def _dated(when: date, wording: Wording, year: int) -> str:
    """A day, with its year where that is another."""
    return short_day(when, wording.language) + (f" {when.year}" if when.year != year else "")


#: The chart shows so many days at least of what is longer, and so many of the bar that begins last: eggs that
#: rest for a year would leave no room for those that hatch within a week.
_SHOWN, _OF_THE_LAST = 120, 30


def _ticks(start: date, lanes: list[Lane], wording: Wording) -> tuple[tuple[date, str], ...]:
    """About six days, the first at the dispatch day, the last where the chart ends; a new year is named."""
    last = max((lane.begin - start).days for lane in lanes) + _OF_THE_LAST
    length = max(min((max(lane.end for lane in lanes) - start).days, max(_SHOWN, last)), 1)
    step = max(1, -(-length // 5))
    days = [start + timedelta(days=n) for n in range(0, length + step, step)]
    years = (start.year, *(when.year for when in days))
    return tuple((when, _dated(when, wording, year)) for when, year in zip(days, years, strict=False))


def kept_words(units: Iterable[Unit], wording: Wording) -> str:
    """What the lots of the units are kept at: ``20 °C / 23 °C``."""
    return _degrees((unit.kept_at_c for unit in units), wording)


def _degrees(warmth_c: Iterable[float], wording: Wording) -> str:
    return " / ".join(warmth(c, wording.language) for c in sorted(set(warmth_c)))


def _reckoned_at_c(unit: Unit) -> float:
    """The warmth [C] of a unit's days at the buyer's: the species' own; of damp eggs their lot's here."""
    return unit.kept_at_c if unit.lot.kept_damp else unit.species.incubation_c


def _reckoned_of_each(units: Sequence[Unit], wording: Wording) -> str:
    """The warmth of the units' days, and where that is not one, of which fish it is."""
    fish = grouped((_reckoned_at_c(unit), clean(unit.species.scientific_name)) for unit in units)
    if len(fish) == 1:
        return _degrees(fish, wording)
    each = (
        f"{_degrees([c], wording)} ({', '.join(dict.fromkeys(names))})" for c, names in sorted(fish.items())
    )
    return ", ".join(each)


def _temperatures(units: tuple[Unit, ...], wording: Wording) -> list[str]:
    """What the days rest on: the warmth they are reckoned with, a figure assumed, or the breeder's word."""
    dated = [unit for unit in units if unit.draw.hatch.p50 or unit.draw.hatch.p05]
    reckoned = [unit for unit in dated if not unit.has_own_days]
    sentences = []
    for damp, key in ((False, "dates_water"), (True, "dates_damp")):
        own = [unit for unit in reckoned if (unit.care == "damp") == damp]
        if own:
            sentences.append(wording.term(key, temperature=_reckoned_of_each(own, wording)))
    given = dict.fromkeys(clean(unit.species.scientific_name) for unit in dated if unit.has_own_days)
    sentences += [wording.term("dates_own", fish=fish) for fish in given]
    if any(unit.species.zero_basis == "assumed" for unit in reckoned):
        sentences.append(wording.term("dates_assumed"))
    return sentences


def _opening(parcel: Parcel, units: tuple[Unit, ...], wording: Wording, setter: Typesetter) -> list[Flowable]:
    """The first three steps, a panel for each kind of packing in the parcel and what becomes of its eggs, in
    the order of their numbers; the first says what else is in the box, and that no two fish are mixed.
    """
    alike = grouped(((unit.packing.is_a, unit.care, may_be_wetted(unit, parcel)), unit) for unit in units)
    beside = [wording.term("heat_pack")] if any(unit.packing.heat_pack_h for unit in units) else []
    beside += [wording.term("bottle")] if parcel.bottle_ml else []
    beside += [wording.term("never_mix")] if has_several_fish(units) else []
    return [
        _panel(kind, care, now, own, beside if own[0] is units[0] else [], wording, setter)
        for (kind, care, now), own in alike.items()
    ]


def has_several_fish(units: Sequence[Unit]) -> bool:
    """Are there fish or populations among them that must be kept apart?"""
    return len({(unit.lot.species, unit.lot.population) for unit in units}) > 1


def _panel(
    kind: PackingKind,
    care: str,
    is_now: bool,
    own: list[Unit],
    beside: list[str],
    wording: Wording,
    setter: Typesetter,
) -> Flowable:
    numbers = ", ".join(str(unit.number) for unit in own)
    which = f"{wording.term(kind.key)} ({wording.term('col_unit')} {numbers})"
    title = wording.term("of_topic", topic=wording.term("opening"), said=which)
    fields: dict[str, object] = {"eyed": all(unit.draw.stage in ("eyed", "ready") for unit in own)}
    if kind.is_damp:
        fields["into_water"] = care == "into-water"
        fields["wet_now"] = is_now
    steps = wording.markdown(f"opening-{kind.key.replace('_', '-')}", **fields)
    return setter.panel(
        lambda inner: [
            inner.words(title, bold=True, after=1.0),
            *(inner.words(text, layout.BODY * 0.94, bold=True) for text in beside),
            *inner.markdown(steps, layout.BODY * 0.94),
        ]
    )


def _message(parcel: Parcel, inputs: PaperInputs, wording: Wording, setter: Typesetter) -> list[Flowable]:
    """What the breeder wrote for the buyer, once."""
    messages = dict.fromkeys(clean(line.message) for line in parcel.lines if line.message)
    if not messages:
        return []
    heading = wording.term("note", sender=clean(inputs.shelf.settings.sender.name))
    return [setter.heading(heading), *(setter.words(message) for message in messages)]
