"""Answers about lots, orders and rules in, lines for a person out: the answer first, then a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import TYPE_CHECKING

from shipping.cli.terminal import (
    TableColumn,
    Window,
    in_short,
    note_line,
    reason_text,
    step_text,
    with_figures,
)
from shipping.words.keys import grouped
from shipping.words.reasons import Reason, Verdict, decisive
from shipping.words.three_point import Dates
from shipping.words.units import ABOUT_SO_MANY, degrees, many, money_text, percent, reckoned, short_day, span

if TYPE_CHECKING:
    from shipping.learning.lost_by_post import LostByPost, Posted
    from shipping.ledger.order_history import ParcelOfOrder
    from shipping.options.option import Option
    from shipping.post.restrictions import RuleNeeded, RuleReport
    from shipping.questions.can_it_ship import Asked, Reply, SafeDays
    from shipping.questions.forecast import LotOutlook
    from shipping.questions.why import Considered

#: So many options are shown of an order or a lot unless all are asked for.
_BEST = 3


def became_lines(parcels: Iterable[ParcelOfOrder]) -> Iterator[str]:
    """What became of an order's parcels, as it was recorded, and what is open."""
    from shipping.ledger.reported_line import report_notes

    for one in parcels:
        kept, numbers = one.parcel, " ".join(f"{line.order}:{line.line}" for line in one.lines)
        yield f"{numbers} in parcel {kept.parcel}: {kept.state}."
        if kept.is_planned:
            yield f"  kept for {short_day(kept.dispatch_on)} by {kept.service}"
        yield from (f"  {entry.text}" for entry in one.entries)
        yield from (f"  {note}" for note in report_notes(kept))
        if kept.state == "sent" and kept.p50 and kept.p95:
            usual, last = short_day(kept.p50), short_day(kept.p95)
            yield f"  no report yet; expected {usual}, by {last} at the latest"
        if one.is_due:
            yield f"  not settled with the buyer yet: spawnpost claim {kept.parcel}"


def reasons(reasons: Iterable[Reason], window: Window, indent: str = "  ") -> Iterator[str]:
    """Each reason with its figures, a line or more each."""
    for reason in reasons:
        yield from window.wrapped(f"{in_short((reason,))}: {reason.text}", indent, indent + "  ")


def deciding(verdict: Verdict, reasons: tuple[Reason, ...], window: Window) -> Iterator[str]:
    """What decides, and what to do next."""
    if reasons:
        reason = decisive(verdict, reasons)
        yield from window.wrapped(f"{reason_text(reason)}. {step_text(reason, verdict)}.", "  ", "  ")


def forecast_lines(outlooks: tuple[LotOutlook, ...], window: Window) -> Iterator[str]:
    """What is free, what hatches soon and what to look at; then a row for each lot."""
    free = sum(outlook.forecast.free_on(outlook.forecast.today) for outlook in outlooks)
    lots = many(len(outlooks), "lot")
    yield from window.wrapped(
        f"{lots}, {many(free, 'egg')} free to post today; those kept back are not free. {ABOUT_SO_MANY}"
    )
    for reason in (outlook.doubts[0] for outlook in outlooks if outlook.doubts):
        text = f"{window.mark('Look', 'hand')}: {reason_text(reason)}. {step_text(reason)}."
        yield from window.wrapped(text, rest="  ")
    for outlook in outlooks:
        yield from _unseen_lines(outlook.unseen, window)
    yield ""
    days = outlooks[0].days if outlooks else ()
    ahead = span(Dates(days[1][0], None, days[-1][0])) if len(days) > 1 else "ahead"
    columns = (
        TableColumn("lot"),
        TableColumn("fish"),
        TableColumn("stage", 1),
        TableColumn("eggs", 2, right=True),
        TableColumn("free", right=True),
        TableColumn("usual", 3),
        TableColumn(f"free {ahead}", 5),
        TableColumn("hatch, or are to be wetted"),
    )
    yield from window.table(columns, [_lot_row(outlook) for outlook in outlooks])


def _unseen_lines(unseen: str, window: Window) -> Iterator[str]:
    """That eggs should have hatched, of which nobody wrote."""
    if unseen:
        yield from window.wrapped(f"{window.mark('Look', 'hand')}: {unseen}", rest="  ")


def _lot_row(outlook: LotOutlook) -> tuple[object, ...]:
    forecast = outlook.forecast
    dates, usual = span(outlook.hatch), outlook.hatch.p50
    if forecast.is_emptied:
        dates, usual = "none is left", None
    elif not forecast.has_dates or forecast.is_too_old(forecast.today) or outlook.unseen:
        dates, usual = "look first", None
    elif forecast.lot.kept_damp:
        usual = None
        dates = "never, as kept"
        if outlook.wet_from and outlook.wet_until:
            own = ", your dates" if outlook.wet_basis == "your own dates" else ""
            if forecast.rests_on and not own:
                own = f", by the look of {short_day(forecast.rests_on[0].on)[4:]}"
            dates = f"wet {_long_span(outlook.wet_from, outlook.wet_until)}{own}"
    ahead = " ".join(str(free) for _, _, free in outlook.days[1:])
    lot, today = forecast.lot, forecast.today
    fish = f"{lot.species} {lot.population}".strip()
    left, counted = forecast.eggs_on(today), forecast.count.eggs
    eggs = f"{left} of {counted}" if left < 0.75 * counted else str(left)
    free = forecast.free_on(today)
    return (lot.lot, fish, forecast.stage, eggs, free, short_day(usual) if usual else "", ahead, dates)


def _long_span(first: date, last: date) -> str:
    if first.year == last.year:
        return span(Dates(first, None, last))
    return f"{short_day(first)[4:]} {first.year}-{short_day(last)[4:]} {last.year}"


def reply_lines(reply: Reply, currency: str, window: Window, every: bool) -> Iterator[str]:
    """One verdict, the last safe day, the best option of each service; all of them where asked for."""
    verdict = window.mark(reply.verdict.value.upper(), reply.verdict.value)
    on = f" on {short_day(reply.on)}" if reply.on else ""
    yield from window.wrapped(f"Lot {reply.lot} to {reply.to}{on}: {verdict}")
    goes_with_more = {reason.code for reason in reply.reasons} == {"short"}
    stands = Verdict.WAIT if goes_with_more else reply.verdict
    yield from _unseen_lines(reply.unseen, window)
    yield from deciding(stands, reply.told, window)
    if not reply.is_forbidden:
        yield from window.wrapped(_until_text(reply))
    if reply.is_hatched_by_then and not every:
        return
    yield ""
    shown = reply.nearest if every else reply.nearest_by_service
    columns = (
        TableColumn(""),
        TableColumn("hand over"),
        TableColumn("service"),
        TableColumn("packing"),
        TableColumn("there", 2),
        TableColumn("pack", right=True),
        TableColumn("each hatches", 3, right=True),
        TableColumn("any hatches", 5, right=True),
        TableColumn("each alive", 4, right=True),
        TableColumn(currency, 6, right=True),
        TableColumn("why not" if any(asked.reasons for asked in shown) else ""),
    )
    yield from window.table(columns, [_asked_row(asked, reply, currency, every) for asked in shown])
    if reply.to_ask_first:
        named = ", ".join(reply.to_ask_first)
        yield from window.wrapped(f"First ask the operator whether live eggs may go by: {named}.")
    for text in dict.fromkeys(note_line(note) for asked in shown for note in asked.minded):
        yield from window.wrapped(text, rest="  ")
    more = len(reply.options) - len(shown)
    if more:
        yield from window.wrapped(f"The best of each service; {more} more with --all.")
    if every and not reply.is_forbidden:
        for safe in reply.safe:
            yield from window.wrapped(_safe_text(safe), rest="    ")


def _until_text(reply: Reply) -> str:
    if reply.no_last_day:
        return "Last day by this reckoning: none within 60 days ends it."
    if reply.last_safe_day is None or reply.first_safe_day is None:
        if reply.verdict is Verdict.HOLD:
            return "Last day by this reckoning: not known before that is answered."
        return "Last day by this reckoning: there is none any more."
    first, last = short_day(reply.first_safe_day), short_day(reply.last_safe_day)
    return f"Last day by this reckoning: {last}; the first: {first}."


def _safe_text(safe: SafeDays) -> str:
    end = "on, no end within 60 days" if safe.no_last_day or not safe.until else f"to {short_day(safe.until)}"
    return f"  {safe.service}, {safe.packing}: from {short_day(safe.from_)} {end}"


def _asked_row(asked: Asked, reply: Reply, currency: str, figures: bool) -> tuple[object, ...]:
    """A row of the answer; none says go where the whole is held or stopped, or who is to be asked first."""
    ride, option = asked.option.ride, asked.option
    whole = Verdict.HOLD if ride.leg.service.service in reply.to_ask_first else reply.verdict
    verdict = whole if asked.verdict is Verdict.GO else asked.verdict
    arrivals = ride.leg.arrivals
    there = span(arrivals.spread)
    cost = "-" if asked.cost is None else money_text(asked.cost, currency)
    way = (short_day(ride.leg.day), ride.leg.service.service, ride.packing.packing, there)
    why_not = with_figures([asked.reasons]) if figures else in_short(asked.reasons)
    chances = (reckoned(ride.h_per_egg), reckoned(option.h_any), percent(ride.v_per_egg))
    figures_told = (option.pack or "-", *chances) if ride.is_known else ("-",) * 4
    return (verdict.value, *way, *figures_told, cost, why_not)


def why_lines(considered: Considered, window: Window, every: bool) -> Iterator[str]:
    """Where the order stands, what decided, the nearest way to make it go, the best options (or all)."""
    if considered.parcel:
        parcel = considered.parcel
        yield from window.wrapped(
            f"Order {considered.order}: {window.mark('GO', 'go')}, parcel {parcel.parcel}, handed over"
            f" {short_day(parcel.dispatch_on)} by {parcel.service}, there {span(parcel.arrive)}."
        )
        for line in parcel.lines:
            if line.order == considered.order:
                for reason in line.reasons:
                    text = reason.text if every else f"{reason_text(reason)}."
                    yield from window.wrapped(text, f"  line {line.line}: ", "    ")
    for out in considered.lines_out:
        until = f", may go from {short_day(out.until)}" if out.until else ""
        verdict = window.mark(out.verdict.value.upper(), out.verdict.value)
        yield from window.wrapped(f"Order {considered.order} line {out.line}: {verdict}{until}")
        yield from deciding(out.verdict, out.reasons, window)
        rest = [reason for reason in out.reasons if reason is not decisive(out.verdict, out.reasons)]
        for reason in rest:
            also = f"also: {reason_text(reason)}. {step_text(reason, out.verdict)}."
            yield from window.wrapped(also, "  ", "    ")
        for number, low, against in considered.even_warm:
            if number == out.line:
                then = "; ".join(reason_text(reason) for reason in against)
                text = f"Even if no parcel there felt less than {degrees(low)}: {then}."
                yield from window.wrapped(text, "  ", "    ")
    if considered.service and considered.lines_out:
        yield from window.wrapped(
            f"The order names {considered.service} itself: no other is asked about. Empty its service,"
            " once the buyer agrees, to ask about all.",
            "  ",
        )
    yield ""
    yield from _option_lines(considered, window, every)


def _option_lines(considered: Considered, window: Window, every: bool) -> Iterator[str]:
    """The best options of each line, or all with their reasons; those alike but for the day in one row."""
    folded = _alike(considered.options)
    shown = folded
    if not every:
        by_line = grouped((row[0][0], row) for row in folded)
        shown = [row for rows in by_line.values() for row in _best_of_each_lot(rows)]
    if not shown:
        yield from window.wrapped(f"No lot, packing and service come together for it in {considered.week}.")
        return
    yield from window.wrapped("Every option:" if every else "The best options by themselves:")
    is_of_several = len({line for line, _ in considered.options}) > 1
    columns = (
        TableColumn("line", 0 if is_of_several else 5, right=True),
        TableColumn("lot"),
        TableColumn("hand over"),
        TableColumn("service"),
        TableColumn("packing"),
        TableColumn("pack", 3, right=True),
        TableColumn("sure", 4, right=True),
        TableColumn("what speaks against it"),
    )
    yield from window.table(columns, [_option_row(line, options) for (line, *_), options in shown], "  ")
    if every:
        told: dict[tuple[object, ...], str] = {}
        for key, (nearest, *_) in shown:
            for reason in nearest.reasons:
                of_line = f"line {key[0]}, " if is_of_several else ""
                told.setdefault((reason.code, *key[:4]), f"{of_line}{in_short((reason,))}: {reason.text}")
        for text in dict.fromkeys(told.values()):
            yield from window.wrapped(text, "  ", "    ")
    else:
        more = len(considered.options) - sum(len(options) for _, options in shown)
        if more:
            yield from window.wrapped(f"{more} more with --all, each with its figures.")


#: A line, a lot, a service, a packing and what speaks against it; and its options, the nearest first.
_Alike = tuple[tuple[int, str, str, str, str], list["Option"]]


def _alike(options: Iterable[tuple[int, Option]]) -> list[_Alike]:
    """Options that differ in their day alone, in the order of the first of each."""

    def key(line: int, option: Option) -> tuple[int, str, str, str, str]:
        ride = option.ride
        way = (ride.lot_day.forecast.lot.lot, ride.leg.service.service, ride.packing.packing)
        return (line, *way, in_short(option.reasons))

    return list(grouped((key(line, option), option) for line, option in options).items())


def _best_of_each_lot(rows: list[_Alike]) -> list[_Alike]:
    """The first of each lot, then the second of each: so many as are shown."""
    places = {id(row): place for own in _by_lot(rows) for place, row in enumerate(own)}
    return sorted(rows, key=lambda row: places[id(row)])[:_BEST]


def _by_lot(rows: list[_Alike]) -> Iterable[list[_Alike]]:
    return grouped((row[0][1], row) for row in rows).values()


def _option_row(number: int, options: list[Option]) -> tuple[object, ...]:
    ride = options[0].ride
    days = sorted(option.ride.leg.day for option in options)
    known = [option for option in options if option.pack and option.ride.is_known]
    packs = sorted({option.pack for option in known})
    sure = min((option.p_enough for option in known), default=None)
    lot, service = ride.lot_day.forecast.lot.lot, ride.leg.service.service
    way = (lot, _days_text(days), service, ride.packing.packing)
    pack = "-".join(dict.fromkeys((str(packs[0]), str(packs[-1])))) if packs else "-"
    against = with_figures([option.reasons for option in options]) or "nothing: it passes"
    return (number, *way, pack, "-" if sure is None else percent(sure), against)


def _days_text(days: list[date]) -> str:
    """One day, days on end, or each of some."""
    if len(days) == 1:
        return short_day(days[0])
    if (days[-1] - days[0]).days == len(days) - 1:
        return span(Dates(days[0], None, days[-1]))
    return ", ".join(short_day(day)[4:] for day in days)


def lost_lines(found: LostByPost, window: Window, quiet: bool) -> Iterator[str]:
    """What was lost by post in sentences; then a row for each month, and for each route of it."""
    for text in found.lines():
        yield from window.wrapped(text, rest="  ")
    if quiet or not found.months:
        return
    yield ""
    columns = (
        TableColumn("sent in, by"),
        TableColumn("to"),
        TableColumn("parcels", 4, right=True),
        TableColumn("packed", 2, right=True),
        TableColumn("alive", right=True),
        TableColumn("dead, missing", right=True),
        TableColumn("lost", right=True),
        TableColumn("came back", 3, right=True),
        TableColumn("not told of", 1, right=True),
        TableColumn("sent again", 5, right=True),
        TableColumn(f"given back {found.currency}", 6, right=True),
    )
    rows = (
        row
        for month in found.months
        for row in (
            _posted_row(f"{short_day(month.first)[6:]} {month.first.year}", "", month.all),
            *(_posted_row(f"  {by}", to, posted) for by, to, posted in month.routes),
        )
    )
    yield from window.table(columns, rows)


def _posted_row(name: str, to: str, of: Posted) -> tuple[object, ...]:
    eggs = (of.packed, of.alive, of.gone, of.lost, of.returned, of.untold + of.silent, of.again)
    money = money_text(of.given_back) if of.given_back else ""
    return (name, to, of.parcels, *(count or "" for count in eggs), money)


def _rule_to_ask(rule: RuleNeeded, what: str) -> str:
    row = f", row {rule.row.at.row}" if rule.row else ""
    return f"{rule.place}, {rule.species} ({what}{row}): orders {', '.join(rule.orders)}. Ask {rule.ask}."


def rule_lines(report: RuleReport, window: Window, asked_about: str = "") -> Iterator[str]:
    """What is to be looked up, for which orders; then what the table says, places alike together.

    ``asked_about``: `` to DE``, where the report is of one place or fish alone.
    """
    from shipping.post.restrictions import is_nobodys

    needed = report.needed
    if needed:
        head = f"Look up {many(len(needed), 'rule')} for the orders in hand:"
        yield from window.wrapped(window.mark(head, "hand"))
    else:
        yield from window.wrapped(f"Nothing is to be looked up for the orders in hand{asked_about}.")
    for rule in needed:
        is_old = rule.row is not None and not is_nobodys(rule.row)
        what = "looked up too long ago" if is_old else "nobody has looked"
        yield from window.wrapped(_rule_to_ask(rule, what), "  ", "    ")
    if report.unanswered:
        yield from window.wrapped(
            window.mark("A rule says to ask first, and no answer is written yet:", "hand")
        )
    for rule in report.unanswered:
        yield from window.wrapped(_rule_to_ask(rule, "to be asked"), "  ", "    ")
    if any(rule.verdict != "none" for rule in (*needed, *report.unanswered)):
        answer = (
            "What you find goes into its row by one command: spawnpost rules --row ROW --checked SOURCE"
            " --verdict ANSWER (open, papers or closed); for one country of a zone's row, --to COUNTRY"
            " instead of --row ROW writes it a row of its own."
        )
        yield from window.wrapped(answer)
    if any(rule.verdict == "none" for rule in needed):
        yield from window.wrapped("Where nobody has looked there is no row yet: write one in rules.")
    yield ""
    columns = (
        TableColumn("fish"),
        TableColumn("says"),
        TableColumn("looked up"),
        TableColumn("days", 2, right=True),
        TableColumn("in", 4),
        TableColumn("source", 3),
        TableColumn("places"),
    )
    yield from window.table(columns, _rule_rows(report))
    yield ""
    yield from window.wrapped("Every row is yours to verify before use; this is no legal advice.")


def _rule_rows(report: RuleReport) -> list[tuple[object, ...]]:
    alike: dict[tuple[object, ...], list[str]] = {}
    for rule, age, stale in report.rows:
        fish = "any" if rule.taxon == "*" else rule.taxon
        seen, days = f"{rule.checked_on}{' STALE' if stale else ''}", str(age)
        if rule.is_never_looked_up:
            seen, days = "by nobody yet", ""
        alike.setdefault((fish, rule.verdict, seen, days, rule.medium or "", rule.source), []).append(rule.to)
    return [(*key, " ".join(places)) for key, places in alike.items()]
