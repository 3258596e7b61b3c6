"""A week's plan in, the lines that a person reads out: its head, its parcels, what stays and why."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from shipping.cli.terminal import TableColumn, Window, note_line, reason_text, step_text
from shipping.eggs.lot_forecast import lot_forecast
from shipping.post.address import address_hints_by_column
from shipping.post.calendar import past_cut_off
from shipping.post.warmth import kept_back
from shipping.questions.week_summary import Cause, WeekSummary, week_summary
from shipping.tables.shelf import Shelf
from shipping.week.draws import WET_ON_ARRIVAL
from shipping.week.plan_data import Parcel, Plan
from shipping.words.keys import grouped, in_turn
from shipping.words.problems import Level, worst_first
from shipping.words.reasons import OF_WARMTH, Verdict
from shipping.words.units import (
    ABOUT_SO_MANY,
    HIDDEN,
    iso_week,
    many,
    money_text,
    percent,
    short_day,
    span,
    within,
)

if TYPE_CHECKING:
    from shipping.ledger.kept_parcel import KeptParcel
    from shipping.ledger.planning_again import PlannedWay

#: So many orders are named where many share one cause.
_NAMED = 12
_STANDS = {
    Verdict.HOLD: "HOLD, until somebody answers",
    Verdict.WAIT: "WAIT, it may go another day",
    Verdict.STOP: "STOP, it does not go",
}
#: Shares of value this small are nothing: the plan is then the best there is.
_NO_GAP = 5e-7


def plan_lines(
    plan: Plan,
    shelf: Shelf,
    window: Window,
    hide_names: bool,
    quiet: bool = False,
    explain: bool = False,
    hour: str = "",
    today: date | None = None,
) -> Iterator[str]:
    """The week: its head, its parcels by day, what stays and why, what is left; the head alone if quiet.
    ``hour`` says which it is, as 15:30; "" where nobody knows; ``today`` is the day on which a plan is read
    that begins later.
    """
    summary = week_summary(plan, shelf)
    is_now = today in (None, shelf.today)
    yield from _head(plan, summary, shelf, window, "today" if is_now else f"by {short_day(shelf.today)}")
    if quiet:
        return
    yield from _parcel_lines(plan, shelf, window, hide_names, hour, today or shelf.today)
    for verdict in _STANDS:
        yield from _stay_lines(verdict, summary.causes_of(verdict), shelf, window)
    packed = {use.lot: lot_forecast(shelf, use.lot).packed_since_count(shelf.today) for use in plan.lots}
    yield from _lot_lines(plan, summary, packed, window)
    if summary.all_lines:
        yield ""
        yield from _proof_lines(plan, window, shelf.settings.plan.currency if explain else "")
    for notice in worst_first(plan.notices):
        is_note = notice.level is Level.NOTICE  # as `check` tells them apart
        yield from window.wrapped(f"Note: {notice}" if is_note else str(notice), rest="  ")


def _head(plan: Plan, summary: WeekSummary, shelf: Shelf, window: Window, by: str) -> Iterator[str]:
    """Parcels by day, eggs and orders, money, what to settle and look at ``by`` when, what is at risk."""
    by_day = ", ".join(f"{short_day(day)} {count}" for day, count in summary.by_day)
    named, goes = many(len(plan.parcels), "parcel"), "goes" if len(plan.parcels) == 1 else "go"
    gone = sum(count for day, count in shelf.parcels_made.items() if iso_week(day) == plan.week)
    nothing = "nothing more goes" if gone else "nothing goes"
    parcels = f"{named} {window.mark(goes, 'go')}: {by_day}" if by_day else nothing
    parcels += f"; {many(gone, 'parcel')} of it packed already" if gone else ""
    orders = f"{summary.orders} of {many(summary.all_orders, 'order')}"
    lines = [
        (f"Week {int(plan.week[-2:])}", parcels),
        ("Eggs", f"{summary.eggs} for {orders} ({summary.lines} of {many(summary.all_lines, 'line')})"),
        ("Money", _money(summary, shelf.settings.plan.currency)),
        ("To settle", _to_settle(summary, by, window)),
        ("At risk", _at_risk(summary)),
    ]
    for name, text in lines:
        yield from window.wrapped(text, window.mark(f"{name:<11}", "head"), " " * 11)


def _money(summary: WeekSummary, currency: str) -> str:
    stuck = f"; paid, and cannot go: {_names(list(summary.stuck))}" if summary.stuck else ""
    unpriced = f" and {many(summary.unpriced, 'line')} without a price" if summary.unpriced else ""
    return (
        f"goods {money_text(summary.worth, currency)} {currency}{unpriced};"
        f" postage {money_text(summary.postage, currency)}, packing {money_text(summary.packing, currency)}"
        f"{stuck}"
    )


def _to_settle(summary: WeekSummary, by: str, window: Window) -> str:
    held = [line.order for cause in summary.causes_of(Verdict.HOLD) for line in cause.lines]
    parts = []
    if held:
        lines = f"{many(len(held), 'line')} {'needs' if len(held) == 1 else 'need'} an answer"
        parts.append(f"{window.mark(lines, 'hand')}: {_names(set(held))}")
    if summary.look_now:
        parts.append(f"look {by} at {', '.join(summary.look_now)}")
    return "; ".join(parts) or "nothing"


def _at_risk(summary: WeekSummary) -> str:
    parts = []
    if summary.lines:
        short = f"{summary.short:.1f}" if summary.short >= 0.05 else f"{summary.short:.1g}"
        come = "comes" if summary.lines == 1 else "come"
        parts.append(f"on average {short} of {many(summary.lines, 'line')} {come} short")
    if summary.look_first:
        parts.append(f"look before packing {', '.join(summary.look_first)}")
    if summary.count_first:
        parts.append(f"count before packing {', '.join(summary.count_first)}")
    if summary.unsold:
        eggs = sum(unsold.eggs for unsold in summary.unsold)
        hatch = "hatches" if eggs == 1 else "hatch"
        parts.append(f"{many(eggs, 'egg')} {hatch} unsold by {short_day(summary.unsold[0].by)}")
    return "; ".join(parts) or "nothing"


def _names(orders: Collection[str]) -> str:
    more = f" and {len(orders) - _NAMED} more" if len(orders) > _NAMED else ""
    return " ".join(sorted(orders, key=in_turn)[:_NAMED]) + more


def _parcel_lines(
    plan: Plan, shelf: Shelf, window: Window, hide_names: bool, hour: str, today: date
) -> Iterator[str]:
    """The parcels by day, a row for each draw; then holidays, rows for just these days that decide, and
    warmth at which the trade keeps parcels back.
    """
    columns = (
        TableColumn("no", right=True),
        TableColumn("order"),
        TableColumn("pack", right=True),
        TableColumn("for", 2, right=True),
        TableColumn("fish"),
        TableColumn("lot"),
        TableColumn("packing", 4),
        TableColumn("by", 5),
        TableColumn("there", 3),
        TableColumn("sure", 6, right=True),
        TableColumn("box", 8),
        TableColumn("g", 9, right=True),
        TableColumn("postage", 7, right=True),
        TableColumn("to"),
    )
    rows: list[tuple[object, ...] | str] = []
    for day in sorted({parcel.dispatch_on for parcel in plan.parcels}):
        own = [parcel for parcel in plan.parcels if parcel.dispatch_on == day]
        rows += ["", _day_text(day, own, today, hour)]
        rows += [row for p in own for row in _parcel_rows(p, hide_names, shelf.settings.plan.currency)]
    if rows:
        yield ""
        yield from window.table(columns, rows[1:], "  ")
    places: dict[tuple[date, str], set[str]] = {}
    for holiday in (holiday for parcel in plan.parcels for holiday in parcel.holidays):
        places.setdefault((holiday.on, holiday.name), set()).add(holiday.country)
    for (day, name), countries in sorted(places.items()):
        text = f"{short_day(day)} is {name} in {', '.join(sorted(countries))}: no delivery."
        yield from window.wrapped(text, "  ", "    ")
    decided = grouped((text, _number(parcel)) for parcel in plan.parcels for text in _to_mind(parcel))
    for text, numbers in decided.items():
        parcels = f"{'parcel' if len(numbers) == 1 else 'parcels'} {', '.join(numbers)}"
        yield from window.wrapped(f"{text} ({parcels})", "  ", "    ")


def _to_mind(parcel: Parcel) -> Iterator[str]:
    """Rows for just these days that decide, eggs that may come too late to wet, what the address lacks."""
    draws = (draw for line in parcel.lines for draw in line.draws)
    late = (note for draw in draws for note in draw.cautions if note.code == WET_ON_ARRIVAL)
    yield from dict.fromkeys(map(note_line, (*parcel.this_week, *kept_back(parcel.high_c), *late)))
    if parcel.arrive.p95 != parcel.dispatch_on:  # one that is fetched needs no address
        yield from (hint for _, hint in address_hints_by_column(parcel.address))


def _number(parcel: Parcel) -> str:
    return str(int(parcel.parcel.rpartition("-")[2]))


def _day_text(day: date, parcels: list[Parcel], today: date, hour: str) -> str:
    is_now = "TODAY, " if day == today else ""
    load = f"{many(len(parcels), 'parcel')}, {many(sum(parcel.pack for parcel in parcels), 'egg')}"
    cut_offs = sorted({(parcel.cut_off, parcel.service) for parcel in parcels if parcel.cut_off})
    by = ", ".join(f"{service} by {hour}" for hour, service in cut_offs)
    head = "; ".join(filter(None, (f"{is_now}{short_day(day)}: {load}", by)))
    over = [past for at in dict(cut_offs) if (past := past_cut_off(at, day, today, hour))]
    return f"{head}. {over[-1]} For the next day: {plan_from_tomorrow(day)}" if over else head


def plan_from_tomorrow(today: date) -> str:
    """The command that plans from the next day on."""
    return f"spawnpost plan --from {today + timedelta(days=1)}"


def _parcel_rows(parcel: Parcel, hide_names: bool, currency: str) -> Iterator[tuple[object, ...]]:
    name = HIDDEN if hide_names else parcel.address.addressee
    whole: tuple[object, ...] = (parcel.box, f"{parcel.weight_g:.0f}", money_text(parcel.postage, currency))
    number = _number(parcel)
    to, by, there = f"{name}, {parcel.address.country}", parcel.service, span(parcel.arrive)
    for line in parcel.lines:
        order, ordered, sure = line.order, str(line.ordered), percent(line.p_enough)
        for draw in line.draws:
            unit = f"{draw.units} x {draw.packing}" if draw.units > 1 else draw.packing
            lot = f"{draw.lot}{' look' if draw.look_first else ' count' if draw.count_first else ''}"
            fish = f"{line.species} {line.population}".strip()
            yield (number, order, draw.pack, ordered, fish, lot, unit, by, there, sure, *whole, to)
            number = order = ordered = to = by = there = sure = ""
            whole = ("", "", "")


def _stay_lines(verdict: Verdict, causes: tuple[Cause, ...], shelf: Shelf, window: Window) -> Iterator[str]:
    """What stays for one verdict: a cause of many lines once, then line by line."""
    if not causes:
        return
    lines = sum(len(cause.lines) for cause in causes)
    yield ""
    word, _, rest = _STANDS[verdict].partition(",")
    yield from window.wrapped(f"{window.mark(word, verdict.value)},{rest}: {many(lines, 'line')}")
    said: set[str] = set()
    for cause in causes:
        yield from window.wrapped(f"{_who(cause, shelf)}: {cause_text(cause, verdict, said)}", "  ", "      ")


def _who(cause: Cause, shelf: Shelf) -> str:
    if len(cause.lines) > 1:
        return f"{len(cause.lines)} lines ({_names({line.order for line in cause.lines})})"
    (out,) = cause.lines
    order = shelf.order_by_name[out.order]
    line = order.line(out.line)
    fish = f"{line.eggs} {line.species} {line.population}".strip()
    return f"{out.order} ({fish}, {order.country})"


def cause_text(cause: Cause, verdict: Verdict, said: set[str]) -> str:
    """The decisive reason in words, since when it may change, one next step, and how many reasons more; what
    helps against cold or heat, a list, is told once (``said``).
    """
    days = sorted({line.until for line in cause.lines if line.until})
    until = ""
    if days and cause.reason.code != "not-before":
        until = f"; may go from {' or '.join(dict.fromkeys(short_day(day) for day in (days[0], days[-1])))}"
    more = ""
    if cause.more and len(cause.lines) == 1:
        more = f" And {cause.more} more: why {cause.lines[0].order}."
    step = step_text(cause.reason, verdict)
    told = "" if step in said else f" {step}."
    said |= {step} if cause.reason.code in OF_WARMTH else set()
    return f"{reason_text(cause.reason, len(cause.lines))}{until}.{told}{more}"


def _lot_lines(plan: Plan, summary: WeekSummary, packed: Mapping[str, int], window: Window) -> Iterator[str]:
    """What the plan takes of each lot, what was ``packed`` since its count, what is left and hatches."""
    unsold = {lot.lot: lot for lot in summary.unsold}
    used = [use for use in plan.lots if use.drawn or use.lot in unsold or packed[use.lot]]
    if not used:
        return
    yield ""
    by = f"hatch unsold by {short_day(summary.unsold[0].by)}" if summary.unsold else "hatch unsold"
    names = ("planned", *(("packed",) if any(packed.values()) else ()), "left", by)
    columns = (TableColumn("lot"), *(TableColumn(name, right=True) for name in names))
    hatch = {lot: one.eggs for lot, one in unsold.items()}
    each = [(u, (packed[u.lot] or "",) if any(packed.values()) else ()) for u in used]
    yield from window.table(
        columns, [(u.lot, u.drawn or "", *gone, u.left, hatch.get(u.lot, "")) for u, gone in each]
    )
    yield from window.wrapped(ABOUT_SO_MANY)


def _proof_lines(plan: Plan, window: Window, currency: str) -> Iterator[str]:
    """How good the plan is, in plain words; with its figures where a currency is given."""
    proof = plan.proof
    if proof.gap <= _NO_GAP:
        least = "costs least" if proof.least else "is the cheapest found"
        text = "No other plan serves more of what was ordered"
        text += f"; of those that serve as much, this one {least}." if plan.parcels else "."
    else:
        text = f"Another choice may serve up to {percent(proof.gap)} more: plan --limit SECONDS looks longer."
    yield from window.wrapped(f"{text} {within(len(plan.assumed))}" if plan.parcels else text)
    if currency:
        yield from window.wrapped(
            f"Proof, within these tables and this model: value {proof.value:.2f}, at most {proof.bound:.2f}"
            f" ({percent(proof.gap)} more at the most);"
            f" cost, with what may be lost, {proof.loss:.2f} {currency},"
            f" {'the least at that value' if proof.least else 'the least found'}."
        )
        yield from window.wrapped(f"Assumed: {', '.join(plan.assumed) or 'none'}.", rest="  ")


def plan_changes(
    plan: Plan, kept: Iterable[KeptParcel], kept_as: Mapping[str, Mapping[str, Any]]
) -> list[str]:
    """What a new plan changes of the parcels kept and not yet packed for its week, a sentence each; and what
    those that stay would cost or weigh otherwise than their plan says of them.
    """
    from shipping.ledger.planning_again import lines_changed

    own = (parcel for parcel in kept if parcel.week == plan.week)
    why = {(out.order, out.line): f": {out.reasons[0].text}" for out in plan.lines_out if out.reasons}
    changed = {key: (before, now) for key, before, now in lines_changed(plan, own)}
    moved = [
        f"{order} line {line}: {_both_placed(before, now, why.get((order, line), ''))}"
        for (order, line), (before, now) in changed.items()
    ]
    same = (
        one
        for one in plan.parcels
        if one.parcel in kept_as and changed.keys().isdisjoint((line.order, line.line) for line in one.lines)
    )
    return moved + [
        f"{one.parcel}: {told}" for one in same if (told := _priced_otherwise(kept_as[one.parcel], one))
    ]


def _priced_otherwise(was: Mapping[str, Any], now: Parcel) -> str:
    """Another price, weight or box by tables changed since; papers of the kept parcel have the old."""
    pairs = (
        ("postage", f"{Decimal(str(was['postage'])):.2f}", f"{now.postage:.2f}"),
        ("weight", f"{float(was['weight_g']):.0f} g", f"{now.weight_g:.0f} g"),
        ("box", str(was["box"]), now.box),
    )
    return ", ".join(f"{what} {before} -> {after}" for what, before, after in pairs if before != after)


def _both_placed(before: PlannedWay | None, now: PlannedWay | None, why_not: str) -> str:
    """How a line stands as kept and as planned anew; its lots only where nothing else differs."""
    if before and now and before[:3] == now[:3]:
        return f"of {before[3]} -> of {now[3]}"
    return f"{_placed(before)} -> {_placed(now, why_not)}"


def _placed(where: PlannedWay | None, why_not: str = "") -> str:
    return f"{short_day(where[0])} by {where[1]}, {many(where[2], 'egg')}" if where else f"not in it{why_not}"
