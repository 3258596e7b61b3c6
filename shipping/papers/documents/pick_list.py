"""The pick list: a plan in, a sheet for each packing day and one for the week out; for the bench, not for the
buyer.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from shipping.papers.documents.bench_advice import box_findings, packing_cautions, warmth_advice
from shipping.papers.documents.contents import Desk, Unit, units_of
from shipping.papers.documents.slip import count_words, footer, population_words, stage_words
from shipping.papers.page import layout
from shipping.papers.page.blocks import (
    Bar,
    Block,
    Chart,
    Column,
    Heading,
    Panel,
    Paragraph,
    Sheet,
    Spans,
    Table,
    plain,
    strong,
)
from shipping.papers.wording.catalogue import cause
from shipping.papers.wording.language import clean, country_name, day, number, short_day
from shipping.papers.wording.phrases import Wording
from shipping.week.plan_data import Parcel
from shipping.words.reasons import decisive
from shipping.words.units import week_days

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


def bench_wording(desk: Desk) -> Wording:
    """The wording in the breeder's own language, the first of the papers' languages."""
    return desk.wording(desk.own_language)


def pick_list(when: date, parcels: Sequence[Parcel], desk: Desk) -> Sheet:
    """The pick list of one day; ``parcels`` are that day's, in packing order."""
    wording = bench_wording(desk)
    units = {parcel.parcel: units_of(parcel, desk.shelf) for parcel in parcels}
    blocks: list[Block] = []
    blocks += _look_first(parcels, units, wording)
    blocks += _by_lot(units, wording)
    blocks += [Heading(wording.term("pick_parcels")), _parcels(parcels, units, wording)]
    advice = [
        *warmth_advice(parcels, units, wording),
        *box_findings(parcels, units, desk.shelf, wording),
        *packing_cautions(units, wording),
    ]
    if advice:
        blocks.append(Heading(wording.term("pick_mind")))
        blocks.append(Panel(tuple(Paragraph(spans, marker=_TICK) for spans in advice)))
    eggs = sum(parcel.pack for parcel in parcels)
    title = wording.term("pick_title")
    counts = wording.term(
        "pick_counts", parcels=number(len(parcels), wording.language), eggs=number(eggs, wording.language)
    )
    return Sheet(
        title=title,
        below=" · ".join([counts, *_cut_offs(parcels, wording)]),
        corner=day(when, wording.language),
        blocks=tuple(blocks),
        footer=footer(desk.plan.week, f"{title} {short_day(when, wording.language)}", desk.today, wording),
        paper=desk.shelf.settings.papers.paper,
        language=wording.language,
        one_page=False,
    )


def _cut_offs(parcels: Sequence[Parcel], wording: Wording) -> list[str]:
    times = sorted({(parcel.cut_off, clean(parcel.service)) for parcel in parcels if parcel.cut_off})
    return [wording.term("pick_cut_off", service=service, time=time) for time, service in times]


def _look_first(
    parcels: Sequence[Parcel], units: dict[str, tuple[Unit, ...]], wording: Wording
) -> list[Block]:
    """The lots that are packed only after a look, and for which parcels."""
    wanted: dict[str, tuple[Unit, list[str]]] = {}
    for parcel in parcels:
        for unit in units[parcel.parcel]:
            if unit.draw.look_first:
                names = wanted.setdefault(unit.draw.lot, (unit, []))[1]
                if parcel.parcel not in names:
                    names.append(parcel.parcel)
    if not wanted:
        return []
    items = [
        Paragraph(
            (
                *strong(f"{wording.term('lot')} {clean(lot)}"),
                *plain(
                    " "
                    + wording.term(
                        "pick_look",
                        fish=clean(unit.species.scientific_name),
                        stage=stage_words(unit.draw.stage, wording),
                        parcels=", ".join(names),
                    )
                ),
            ),
            marker=_TICK,
        )
        for lot, (unit, names) in sorted(wanted.items())
    ]
    return [Heading(wording.term("pick_look_first")), Panel(tuple(items))]


def _by_lot(units: dict[str, tuple[Unit, ...]], wording: Wording) -> list[Block]:
    """What to take from each lot, for the whole day."""
    lots: dict[str, list[Unit]] = {}
    for unit in (unit for parcel_units in units.values() for unit in parcel_units):
        lots.setdefault(unit.draw.lot, []).append(unit)
    rows: list[tuple[_Cell, ...]] = []
    for lot, own in sorted(lots.items()):
        eggs = sum(unit.eggs for unit in own)
        about = own[0].about
        kept = (
            f"{number(own[0].lot.kept_at_c, wording.language)}\u00a0°C,"
            f" {wording.term('medium_' + own[0].lot.medium)}"
        )
        rows.append(
            (
                (plain(_TICK),),
                (strong(clean(lot)),),
                (
                    plain(clean(own[0].species.scientific_name)),
                    plain(population_words(own[0].lot.population, wording)),
                ),
                (plain(kept),),
                (plain(str(len(own))),),
                (strong(count_words(eggs, about, wording)),),
            )
        )
    columns = (
        Column("", 0.05, size=layout.LARGE),
        Column(wording.term("pick_lot"), 0.19),
        Column(wording.term("col_fish"), 0.32),
        Column(wording.term("pick_kept"), 0.18),
        Column(wording.term("pick_units"), 0.09, "right"),
        Column(wording.term("col_eggs"), 0.17, "right", layout.LARGE),
    )
    return [Heading(wording.term("pick_by_lot")), Table(columns, tuple(rows))]


def _parcels(parcels: Sequence[Parcel], units: dict[str, tuple[Unit, ...]], wording: Wording) -> Table:
    """A row for each draw of each parcel, with room to write two counts; a sum under each parcel."""
    columns = (
        Column("", 0.05, size=layout.LARGE),
        Column(wording.term("pick_parcel"), 0.25),
        Column(wording.term("pick_lot"), 0.23),
        Column(wording.term("col_packed_in"), 0.19),
        Column(wording.term("col_eggs"), 0.08, "right", layout.LARGE),
        Column(wording.term("pick_packed"), 0.1, "centre"),
        Column(wording.term("pick_checked"), 0.1, "centre"),
    )
    rows: list[tuple[_Cell, ...]] = []
    sums: set[int] = set()
    kept: set[int] = set()
    blank: _Cell = (plain("______"),)
    for parcel in parcels:
        place = f"{parcel.address.town}, {country_name(parcel.address.country, wording.language)}"
        head: _Cell = (strong(parcel.parcel), plain(clean(parcel.address.addressee)), plain(clean(place)))
        for first, group in _draws(units[parcel.parcel]):
            each = _each(group)
            packed_in = f"{len(group)} × {clean(first.packing.packing)}"
            rows.append(
                (
                    (plain(_TICK),),
                    head,
                    (strong(clean(first.draw.lot)), plain(clean(first.species.scientific_name))),
                    (plain(packed_in), plain(each)) if len(group) > 1 else (plain(packed_in),),
                    (strong(str(sum(unit.eggs for unit in group))),),
                    blank,
                    blank,
                )
            )
            kept.add(len(rows) - 1)
            head = ()
        sums.add(len(rows))
        way = (
            f"{clean(parcel.service)} · {clean(parcel.box)} ·"
            f" {number(parcel.weight_g, wording.language, 0)} g"
        )
        rows.append(((plain(_TICK),), (plain(way),), (), (), (strong(str(parcel.pack)),), blank, blank))
    return Table(columns, tuple(rows), frozenset(sums), frozenset(kept))


def _each(units: list[Unit]) -> str:
    """``24 + 23``, or for many ``58 × 15 + 2 × 14``: how many eggs go into each unit."""
    if len(units) <= _FEW:
        return " + ".join(str(unit.eggs) for unit in units)
    counts = dict.fromkeys(unit.eggs for unit in units)
    return " + ".join(f"{sum(unit.eggs == eggs for unit in units)} × {eggs}" for eggs in counts)


def _draws(units: tuple[Unit, ...]) -> list[tuple[Unit, list[Unit]]]:
    """Units of the same draw, together."""
    groups: list[tuple[Unit, list[Unit]]] = []
    for unit in units:
        if groups and groups[-1][0].draw is unit.draw:
            groups[-1][1].append(unit)
        else:
            groups.append((unit, [unit]))
    return groups


def week_sheet(parcels: Sequence[Parcel], desk: Desk) -> Sheet:
    """The week at a glance: parcels a day as a chart, and a line for each day."""
    wording = bench_wording(desk)
    language = wording.language
    by_day = {when: [p for p in parcels if p.dispatch_on == when] for when in week_days(desk.plan.week)}
    limit = desk.shelf.settings.plan.parcels_per_day
    bars = tuple(
        Bar(short_day(when, language), len(own), str(len(own)), hatched=bool(limit and len(own) >= limit))
        for when, own in by_day.items()
    )
    most = max((len(own) for own in by_day.values()), default=0)
    limit_words = wording.term("week_limit", limit=limit) if limit else ""
    chart = Chart(bars, most, limit, limit_words, wording.term("week_chart"))
    rows: list[tuple[_Cell, ...]] = []
    for when, own in by_day.items():
        if own:
            going = sorted({country_name(parcel.address.country, language) for parcel in own})
            cut = ", ".join(_cut_offs(own, wording))
            rows.append(
                (
                    (strong(short_day(when, language)), *((plain(cut),) if cut else ())),
                    (plain(", ".join(parcel.parcel.rpartition("-")[2] for parcel in own)),),
                    (plain(", ".join(going)),),
                    (strong(number(sum(parcel.pack for parcel in own), language)),),
                )
            )
    columns = (
        Column(wording.term("week_day"), 0.3),
        Column(wording.term("pick_parcels"), 0.28),
        Column(wording.term("to"), 0.3),
        Column(wording.term("col_eggs"), 0.12, "right", layout.LARGE),
    )
    eggs = sum(parcel.pack for parcel in parcels)
    title = wording.term("week_title")
    counts = wording.term("pick_counts", parcels=number(len(parcels), language), eggs=number(eggs, language))
    return Sheet(
        title=title,
        below=counts,
        corner=desk.plan.week,
        blocks=(chart, Table(columns, tuple(rows)), *_left_behind(desk, wording)),
        footer=footer(desk.plan.week, title, desk.today, wording),
        paper=desk.shelf.settings.papers.paper,
        language=language,
        one_page=False,
    )


def _left_behind(desk: Desk, wording: Wording) -> list[Block]:
    """The lines that do not go this week, with the decisive reason of each."""
    if not desk.plan.lines_out:
        return []
    rows = tuple(
        (
            (strong(f"{clean(out.order)}/{out.line}"),),
            (plain(wording.term(f"stands_{out.verdict.value}")),),
            (plain(cause(decisive(out.verdict, out.reasons), wording)),),
        )
        for out in desk.plan.lines_out
    )
    columns = (
        Column(wording.term("order"), 0.15),
        Column(wording.term("week_stands"), 0.15),
        Column(wording.term("week_why"), 0.7),
    )
    return [Heading(wording.term("week_left")), Table(columns, rows)]
