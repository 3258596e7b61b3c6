"""The pick list: a plan in, a sheet for each packing day and one for the week out, for the bench."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from shipping.papers.charts.pictures import Bar, week_bars
from shipping.papers.documents import slip
from shipping.papers.documents.contents import MARKS, PaperInputs, Unit, is_collected, marks_key, units_of
from shipping.papers.documents.labels import is_unread_at_home
from shipping.papers.page import layout
from shipping.papers.page.pdf_file import PaperSheet, fitted
from shipping.papers.page.typesetter import ROWS_TOGETHER, PrintedColumn, Typesetter
from shipping.papers.wording.language import bench_day, clean, country_name, day, number
from shipping.papers.wording.markdown import Span, Spans, plain, strong
from shipping.papers.wording.phrases import Wording, cause, note_text, orders_in_words
from shipping.post.warmth import THIS_WEEK
from shipping.tables.countries import with_the
from shipping.tables.rows.packings import PACKING_KINDS
from shipping.tables.shelf import Shelf
from shipping.week.draws import with_one_bottle
from shipping.week.plan_data import Parcel
from shipping.words.keys import grouped
from shipping.words.reasons import Note, decisive
from shipping.words.units import week_days

if TYPE_CHECKING:
    from reportlab.platypus import Flowable


#: Below or above these, a parcel is kept from the cold or the heat until it is handed over [C]; eggs stand
#: 15-27 C best
#: (society pamphlet no. 5, 1983).
COLD_C = 10.0
HOT_C = 27.0


def warnings(parcel: Parcel, units: Sequence[Unit], shelf: Shelf, wording: Wording) -> tuple[str, ...]:
    """What to mind with one parcel: its warmth on the way, a box that does not suit it, its address."""
    unread = wording.term("label_unreadable", parcel=parcel.parcel) if is_unread_at_home(parcel) else ""
    minded = (_bottle(parcel, units, wording), *_warmth(parcel, units, wording))
    return tuple(text for text in (*minded, *_box(parcel, units, shelf, wording), unread) if text)


def _bottle(parcel: Parcel, units: Sequence[Unit], wording: Wording) -> str:
    """The box's one bottle, no warmer than the coolest of its eggs are kept; "" where there is none."""
    if not parcel.bottle_ml:
        return ""
    ml = number(parcel.bottle_ml, wording.language, 0)
    return wording.term(
        "pick_bottle", ml=ml, start=slip.kept_words([min(units, key=lambda unit: unit.kept_at_c)], wording)
    )


def _warmth(parcel: Parcel, units: Sequence[Unit], wording: Wording) -> list[str]:
    """A word where it will feel cold or heat, or goes with a heat pack; not where it is fetched in person."""
    if is_collected(parcel):
        return []
    low, high = (number(value, wording.language, 0) for value in (parcel.low_c, parcel.high_c))
    keys = {
        "pick_heat_pack": any(unit.packing.heat_pack_h for unit in units),
        "pick_keep_warm": parcel.low_c < COLD_C,
        "pick_keep_cool": parcel.high_c > HOT_C,
    }
    mark = MARKS["assumed"] if parcel.warmth_basis == "assumed" else ""
    return [wording.term(key, low=low, high=high) + mark for key, applies in keys.items() if applies]


def _box(parcel: Parcel, units: Sequence[Unit], shelf: Shelf, wording: Wording) -> list[str]:
    """Where the parcel's box does not suit its packings: not rigid, not vented, too small."""
    box = shelf.box_by_name.get(parcel.box)
    if box is None:
        return [wording.term("pick_box_unknown")] if parcel.box or shelf.boxes else []
    bags = [unit for unit in units if unit.packing.is_a.is_soft]
    keys = {
        "pick_box_not_rigid": bool(bags) and not box.rigid,
        "pick_box_not_vented": any(u.packing.is_a.breathes for u in bags) and not box.vented,
        "pick_box_too_small": len(units) > box.holds,
    }
    facts = {"box": clean(box.box), "holds": box.holds, "units": len(units)}
    return [wording.term(key, **facts) for key, applies in keys.items() if applies]


def general_rules(units: Mapping[str, tuple[Unit, ...]], wording: Wording) -> list[str]:
    """What holds for every tube and bag of the day."""
    kinds = {unit.packing.is_a for own in units.values() for unit in own}
    return [wording.term(f"pick_{kind.key}") for kind in PACKING_KINDS if kind in kinds]


def _heat_packs(units: Mapping[str, tuple[Unit, ...]], wording: Wording) -> list[tuple[str, str]]:
    """The parcels whose heat packs are to be started before their eggs are counted."""
    warmed = [name for name, own in units.items() if any(unit.packing.heat_pack_h for unit in own)]
    return [(_numbers(warmed), wording.term("pick_start_heat_pack"))] if warmed else []


def this_week(
    parcels: Sequence[Parcel], units: Mapping[str, tuple[Unit, ...]], wording: Wording
) -> list[tuple[str, str]]:
    """(parcels, what rows for these days decided); once for all without a row, to look at the forecast."""
    decided = _notes(parcels, units, wording, lambda code: code in THIS_WEEK - {"no-forecast"})
    asked = {
        parcel.parcel: note
        for parcel in parcels
        for unit in units[parcel.parcel]
        for note in unit.draw.cautions
        if note.code == "no-forecast"
    }
    if asked:
        decided.append((_numbers(asked), note_text(_together(asked.values(), wording), wording)))
    return decided


def _together(notes: Iterable[Note], wording: Wording) -> Note:
    """One note to look at the forecast for all: every place, the last day, the coldest and the warmest."""
    facts = [note.facts for note in notes]
    places = dict.fromkeys(_place(str(fact["place"]), wording.language) for fact in facts)
    low = min(float(str(fact["low_c"])) for fact in facts)
    high = max(float(str(fact["high_c"])) for fact in facts)
    until = max(str(fact["until"]) for fact in facts)
    return Note("no-forecast", {"place": ", ".join(places), "until": until, "low_c": low, "high_c": high})


def _place(code: str, language: str) -> str:
    """``Spain``, ``Spain (CN)``: a country by name, of its part what the forecast is asked for by."""
    country, _, part = code.partition("-")
    name = country_name(country, language)
    name = with_the(name) if language == "en" else name
    return f"{name} ({part})" if part else name


def physics(
    parcels: Sequence[Parcel], units: Mapping[str, tuple[Unit, ...]], wording: Wording
) -> list[tuple[str, str]]:
    """(parcels, what was reckoned for them): the plan's own notes, each once.

    A parcel that is fetched in person does not fly, so that nothing is said of its air. What differs in its
    warmth alone is said once, of all bottles, and of the warmest air that swells.
    """
    warmth: dict[tuple[object, ...], set[float]] = {}
    for note in (note for own in units.values() for note in _cautions(own)):
        if name := _warm_fact(note):
            warmth.setdefault(_alike(note), set()).add(float(str(note.facts[name])))

    def as_said(note: Note) -> Note:
        name = _warm_fact(note)
        if not name:
            return note
        degrees = sorted(warmth[_alike(note)])
        said = degrees[-1:] if name == "high" else degrees
        words = " / ".join(number(value, wording.language) for value in said)
        return Note(note.code, {**note.facts, name: words})

    return _notes(parcels, units, wording, lambda code: code not in THIS_WEEK, as_said)


def _warm_fact(note: Note) -> str:
    """The fact of a note that says how warm something is, if that alone may differ; "" for others."""
    return "high" if _swells(note) else "start" if note.code == "bottle" else ""


def _alike(note: Note) -> tuple[object, ...]:
    """What a note says but for its warmth; how far air swells goes with it."""
    facts = ((name, fact) for name, fact in note.facts.items() if name not in ("high", "times", "start"))
    return note.code, *sorted(facts)


def _swells(note: Note) -> bool:
    return note.code.startswith("swells")


def _notes(
    parcels: Sequence[Parcel],
    units: Mapping[str, tuple[Unit, ...]],
    wording: Wording,
    is_asked: Callable[[str], bool],
    as_said: Callable[[Note], Note] = lambda note: note,
) -> list[tuple[str, str]]:
    concerned: dict[str, list[str]] = {}
    for parcel in parcels:
        asked = [note for note in _cautions(units[parcel.parcel]) if is_asked(note.code)]
        told = [note for note in asked if not (is_collected(parcel) and _swells(note))]
        for said in dict.fromkeys(note_text(as_said(note), wording) for note in told):
            concerned.setdefault(said, []).append(parcel.parcel)
    together = grouped((tuple(names), said) for said, names in concerned.items())
    return [(_numbers(names), " ".join(texts)) for names, texts in together.items()]


def _cautions(units: Sequence[Unit]) -> tuple[Note, ...]:
    """What the plan noted of a parcel's units; its box has one bottle, whatever its lots are kept at."""
    return with_one_bottle([note for unit in units for note in unit.draw.cautions])


def _numbers(names: Iterable[str]) -> str:
    """The parcels' numbers in their week: ``01, 04``."""
    return ", ".join(name.rpartition("-")[2] for name in names)


_Cell = tuple[Spans, ...]
#: So many units of a draw are listed one by one on the pick list; more are summed up.
_FEW = 4
_TICK = "\u2610"


def packing_order(parcels: Sequence[Parcel]) -> tuple[Parcel, ...]:
    """Day by day: what must be handed over first, then what is taken from the same lot, then by name."""

    def key(parcel: Parcel) -> tuple[date, str, str, str]:
        lots = sorted(draw.lot for line in parcel.lines for draw in line.draws)
        return parcel.dispatch_on, parcel.cut_off or "99:99", lots[0] if lots else "", parcel.parcel

    return tuple(sorted(parcels, key=key))


def bench_wording(inputs: PaperInputs) -> Wording:
    """The wording in the breeder's own language, the first of the papers' languages."""
    return inputs.wording(inputs.own_language)


def pick_list(when: date, parcels: Sequence[Parcel], inputs: PaperInputs) -> PaperSheet:
    """The pick list of one day; ``parcels`` are that day's, in packing order."""
    wording = bench_wording(inputs)
    units = {parcel.parcel: units_of(parcel, inputs.shelf) for parcel in parcels}

    def build(setter: Typesetter) -> list[Flowable]:
        return [
            *(setter.words(text, bold=True, after=1.0) for text in _cut_offs(parcels, wording)),
            *_packed_already([when], inputs, wording, setter),
            *_look_first(parcels, units, wording, setter),
            *_by_lot(units, wording, setter),
            setter.heading(wording.term("pick_mind")),
            *(
                setter.words((Span(f"{names}  ", True), Span(said)), marker=_TICK)
                for names, said in (*_heat_packs(units, wording), *this_week(parcels, units, wording))
            ),
            *(setter.words(rule, marker=_TICK) for rule in general_rules(units, wording)),
            *setter.heading_over(wording.term("pick_parcels")),
            _parcels(parcels, units, inputs, wording, setter),
            *_appendix(parcels, units, inputs, wording, setter),
        ]

    title = wording.term("pick_title")
    eggs = _eggs_of(parcels, inputs, wording)
    return PaperSheet(
        title=title,
        below=wording.term("pick_counts", parcels=number(len(parcels), wording.language), eggs=eggs),
        corner=day(when, wording.language),
        story=fitted(build, inputs.typeface, inputs.paper),
        foot=slip.footer(
            inputs.plan.week, f"{title} {bench_day(when, wording.language)}", inputs.today, wording
        ),
        paper=inputs.paper,
        language=wording.language,
        outline=(title,),
        fresh_leaf=False,
    )


def _appendix(
    parcels: Sequence[Parcel],
    units: dict[str, tuple[Unit, ...]],
    inputs: PaperInputs,
    wording: Wording,
    setter: Typesetter,
) -> list[Flowable]:
    """The physics behind the warnings, small, for who wants to know, and what the marks mean."""
    said = [
        text for parcel in parcels for text in warnings(parcel, units[parcel.parcel], inputs.shelf, wording)
    ]
    key = marks_key(" ".join(said), wording)
    marks = [setter.small(key)] if key else []
    notes = physics(parcels, units, wording)
    if not notes:
        return list(marks)
    lines = [setter.small((Span(f"{names}  ", True), Span(note)), after=2.0) for names, note in notes]
    return [setter.heading(wording.term("pick_physics")), *lines, *marks]


def _cut_offs(parcels: Sequence[Parcel], wording: Wording) -> list[str]:
    times = sorted({(parcel.cut_off, clean(parcel.service)) for parcel in parcels if parcel.cut_off})
    return [wording.term("pick_cut_off", service=service, time=time) for time, service in times]


def _packed_already(
    days: Iterable[date], inputs: PaperInputs, wording: Wording, setter: Typesetter
) -> list[Flowable]:
    """The parcels of some days that are packed, and only to be handed over."""
    on = grouped((when, name) for name, when in sorted(inputs.to_send.items()))
    said = ((bench_day(when, wording.language), _numbers(on[when])) for when in days if when in on)
    return [
        setter.words(wording.term("pick_to_send", day=day, parcels=names), marker=_TICK)
        for day, names in said
    ]


def _look_first(
    parcels: Sequence[Parcel], units: dict[str, tuple[Unit, ...]], wording: Wording, setter: Typesetter
) -> list[Flowable]:
    """The lots to be looked at or counted first, for which parcels, and how many eggs each wants."""
    wanted: dict[str, tuple[Unit, dict[str, int]]] = {}
    for parcel in parcels:
        for unit in units[parcel.parcel]:
            if unit.draw.look_first or unit.draw.count_first:
                eggs = wanted.setdefault(unit.draw.lot, (unit, {}))[1]
                eggs[parcel.parcel] = eggs.get(parcel.parcel, 0) + unit.eggs
    if not wanted:
        return []
    items: list[Spans] = []
    for lot, (unit, eggs) in sorted(wanted.items()):
        said = wording.term(
            "pick_look" if unit.draw.look_first else "pick_count",
            fish=clean(unit.species.scientific_name),
            stage=slip.stage_words(unit.draw.stage, wording),
            parcels=", ".join(f"{name} ({count})" for name, count in eggs.items()),
        )
        items.append((Span(slip.lot_words(lot, wording), True), Span(f" {said}")))

    def panel(inner: Typesetter) -> list[Flowable]:
        return [inner.words(item, marker=_TICK) for item in items]

    return [setter.heading(wording.term("pick_look_first")), setter.panel(panel)]


def _by_lot(units: dict[str, tuple[Unit, ...]], wording: Wording, setter: Typesetter) -> list[Flowable]:
    """What to take from each lot, for the whole day."""
    lots = grouped((unit.draw.lot, unit) for own in units.values() for unit in own)
    rows: list[tuple[_Cell, ...]] = []
    for lot, own in sorted(lots.items()):
        kept = f"{slip.kept_words(own, wording)}, {wording.term('medium_' + own[0].lot.medium)}"
        name = clean(own[0].species.scientific_name)
        fish = f"{name} · {slip.population_words(own[0].lot.population, wording)}"
        words = (plain(_TICK), strong(clean(lot)), plain(fish), plain(kept), plain(str(len(own))))
        rows.append(tuple((word,) for word in (*words, strong(slip.eggs_words(own, wording)))))
    columns = (
        PrintedColumn("", 0.05, size=layout.LARGE),
        PrintedColumn(wording.column("lot"), 0.15),
        PrintedColumn(wording.term("col_fish"), 0.395),
        PrintedColumn(wording.term("pick_kept"), 0.16),
        PrintedColumn(wording.term("pick_units"), 0.08, "right"),
        PrintedColumn(wording.column("eggs"), 0.165, "right", layout.LARGE),
    )
    return [*setter.heading_over(wording.term("pick_by_lot")), setter.table(columns, rows)]


def _parcels(
    parcels: Sequence[Parcel],
    units: dict[str, tuple[Unit, ...]],
    inputs: PaperInputs,
    wording: Wording,
    setter: Typesetter,
) -> Flowable:
    """A row a draw, with room for two counts; a sum under each parcel, and what to mind with it."""
    columns = (
        PrintedColumn("", 0.05, size=layout.LARGE),
        PrintedColumn(wording.term("pick_parcel"), 0.24),
        PrintedColumn(wording.column("lot"), 0.2),
        PrintedColumn(wording.term("col_packed_in"), 0.17),
        PrintedColumn(wording.column("eggs"), 0.16, "right", layout.LARGE),
        PrintedColumn(wording.term("pick_packed"), 0.09, "centre"),
        PrintedColumn(wording.term("pick_checked"), 0.09, "centre"),
    )
    rows: list[tuple[_Cell, ...]] = []
    sums: set[int] = set()
    kept: set[int] = set()
    blank: _Cell = (plain("______"),)
    for parcel in parcels:
        place = f"{parcel.address.town}, {country_name(parcel.address.country, wording.language)}"
        head: _Cell = (strong(parcel.parcel), plain(clean(f"{parcel.address.addressee}, {place}")))
        draws = grouped(((id(unit.line), id(unit.draw)), unit) for unit in units[parcel.parcel]).values()
        again: _Cell = (plain(parcel.parcel),) if len(draws) > ROWS_TOGETHER else ()
        for group in draws:
            first, *_ = group
            packed_in: _Cell = (plain(f"{len(group)} × {clean(first.packing.packing)}"),)
            packed_in += (plain(_each(group)),) if len(group) > 1 else ()
            fish = (strong(clean(first.draw.lot)), plain(clean(first.species.scientific_name)))
            packed = strong(slip.eggs_words(group, wording))
            rows.append(((plain(_TICK),), head, fish, packed_in, (packed,), blank, blank))
            kept.add(len(rows) - 1)
            head = again
        sums.add(len(rows))
        weight = f"{number(parcel.weight_g, wording.language, 0)} g"
        way = f"{clean(parcel.service)} · {clean(parcel.box)} · {weight}"
        own = units[parcel.parcel]
        minded = " ".join(warnings(parcel, own, inputs.shelf, wording))
        said: _Cell = (plain(way), (Span(minded, True),)) if minded else (plain(way),)
        eggs = slip.count_words(parcel.pack, any(unit.about for unit in own), wording)
        rows.append(((plain(_TICK),), said, (), (), (strong(eggs),), blank, blank))
    return setter.table(columns, rows, frozenset(sums), frozenset(kept))


def _each(units: list[Unit]) -> str:
    """``24 + 23``, or for many ``58 × 15 + 2 × 14``: how many eggs go into each unit."""
    if len(units) <= _FEW:
        return " + ".join(str(unit.eggs) for unit in units)
    counts = dict.fromkeys(unit.eggs for unit in units)
    return " + ".join(f"{sum(unit.eggs == eggs for unit in units)} × {eggs}" for eggs in counts)


def week_sheet(parcels: Sequence[Parcel], inputs: PaperInputs) -> PaperSheet:
    """The week at a glance: parcels a day as a chart, a line for each day, and what does not go."""
    wording = bench_wording(inputs)
    language = wording.language
    by_day = {when: [p for p in parcels if p.dispatch_on == when] for when in week_days(inputs.plan.week)}

    def build(setter: Typesetter) -> list[Flowable]:
        return [
            _chart(by_day, inputs, wording, setter),
            _day_table(by_day, inputs, wording, setter),
            *_packed_already(by_day, inputs, wording, setter),
            *_left_behind(inputs, wording, setter),
        ]

    title = wording.term("week_title")
    eggs = _eggs_of(parcels, inputs, wording)
    return PaperSheet(
        title=title,
        below=wording.term("pick_counts", parcels=number(len(parcels), language), eggs=eggs),
        corner=inputs.plan.week,
        story=fitted(build, inputs.typeface, inputs.paper),
        foot=slip.footer(inputs.plan.week, title, inputs.today, wording),
        paper=inputs.paper,
        language=language,
        outline=(title,),
    )


def _chart(
    by_day: dict[date, list[Parcel]], inputs: PaperInputs, wording: Wording, setter: Typesetter
) -> Flowable:
    limit = inputs.shelf.settings.plan.parcels_per_day
    made = Counter(inputs.packed.values())
    count = {when: len(own) + made[when] for when, own in by_day.items()}
    bars = [
        Bar(bench_day(when, wording.language), parcels, bool(limit and parcels >= limit))
        for when, parcels in count.items()
    ]
    words = wording.term("week_limit", limit=limit) if limit else ""
    size = (setter.width, 130.0 * setter.scale)
    chart = week_bars(bars, limit, words, wording.term("week_chart"), size)
    return setter.picture(*size, chart.draw_on, chart.about)


def _eggs_of(parcels: Sequence[Parcel], inputs: PaperInputs, wording: Wording) -> str:
    """The eggs of parcels, ``about`` so many where a lot of theirs was estimated."""
    about = any(unit.about for parcel in parcels for unit in units_of(parcel, inputs.shelf))
    return slip.count_words(sum(parcel.pack for parcel in parcels), about, wording)


def _day_table(
    by_day: dict[date, list[Parcel]], inputs: PaperInputs, wording: Wording, setter: Typesetter
) -> Flowable:
    rows: list[tuple[_Cell, ...]] = []
    for when, own in by_day.items():
        if own:
            going = sorted({country_name(parcel.address.country, wording.language) for parcel in own})
            cut = ", ".join(_cut_offs(own, wording))
            day_cell = (strong(bench_day(when, wording.language)), *((plain(cut),) if cut else ()))
            numbers = ", ".join(parcel.parcel.rpartition("-")[2] for parcel in own)
            eggs = _eggs_of(own, inputs, wording)
            rows.append((day_cell, (plain(numbers),), (plain(", ".join(going)),), (strong(eggs),)))
    columns = (
        PrintedColumn(wording.term("week_day"), 0.28),
        PrintedColumn(wording.term("pick_parcels"), 0.26),
        PrintedColumn(wording.term("to"), 0.28),
        PrintedColumn(wording.column("eggs"), 0.18, "right", layout.LARGE),
    )
    return setter.table(columns, rows)


def _left_behind(inputs: PaperInputs, wording: Wording, setter: Typesetter) -> list[Flowable]:
    """The lines that do not go this week, with the decisive reason of each."""
    if not inputs.plan.lines_out:
        return []
    rows = tuple(
        (
            (strong(orders_in_words(f"{clean(out.order)}/{out.line}", wording)),),
            (plain(wording.term(f"stands_{out.verdict.value}")),),
            (plain(cause(decisive(out.verdict, out.reasons), wording)),),
        )
        for out in inputs.plan.lines_out
    )
    columns = (
        PrintedColumn(wording.term("order"), 0.15),
        PrintedColumn(wording.term("week_stands"), 0.15),
        PrintedColumn(wording.term("week_why"), 0.7),
    )
    return [*setter.heading_over(wording.term("week_left")), setter.table(columns, rows)]
