"""The commands of the week: the plan, why it is so, its papers, and the demo; arguments in, words out."""

from __future__ import annotations

import itertools
import json
import math
import shutil
import sys
import time
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer import Argument, Option

from shipping.cli.global_options import (
    Edge,
    day_of,
    folder_of,
    number_option,
    one_of,
    opened,
    opened_if_begun,
    path_given,
    path_option,
    print_answer,
    shelf_now,
    shelf_of,
    shelf_read,
    whole_names,
    wrong,
)
from shipping.words.keys import grouped
from shipping.words.problems import ShelfProblems
from shipping.words.units import (
    HIDDEN,
    is_over,
    iso_week,
    many,
    percent,
    shipped_folder,
    short_day,
    week_days,
)

if TYPE_CHECKING:
    from shipping.ledger.kept_parcel import KeptParcel
    from shipping.ledger.planning_again import PlanAccount
    from shipping.tables.shelf import Shelf
    from shipping.week.plan_data import Plan

Week = Annotated[
    str | None, Option(help="The ISO week, such as 2026-W49; else this one, or the next on its last day.")
]


def shown(edge: Edge, plan: Plan) -> dict[str, object]:
    facts = plan.as_json()
    parcels = facts["parcels"]
    if edge.hide_names and isinstance(parcels, list):
        for parcel in parcels:
            parcel["addressee"] = HIDDEN
    return facts


def plan_of(
    shelf: Shelf, week: str | None, seconds: float | None = None, gap: float = 0.0, quiet: bool = False
) -> tuple[Plan, int | None]:
    """The plan of a week, and after how many seconds Ctrl-C ended it with the best found so far (None: it did
    not); at a terminal a line says how far it is.
    """
    from shipping.assignment.mip import keeping_the_best_so_far
    from shipping.week.plan import make_plan

    wanted, begun = _week(shelf, week), time.monotonic()
    with keeping_the_best_so_far() as asked_to_stop, Progress(quiet) as progress:
        best = make_plan(shelf, wanted, seconds=seconds, gap=gap, tell=progress.tell)
    if not asked_to_stop.is_set():
        return best, None
    typer.echo("Stopped by Ctrl-C: this is the best plan found so far, verified like any other.", err=True)
    return best, math.ceil(time.monotonic() - begun)


@dataclass(frozen=True)
class PlannedNow:
    """A week's plan, the shelf it was made from, the tables' own, and what stands beside it; ``kept_as``:
    what the plan kept for the week says of each parcel not packed yet.

    ``stopped_after``: the seconds after which Ctrl-C ended it; None where it did not.
    """

    plan: Plan
    shelf: Shelf
    tables: Shelf
    kept: tuple[KeptParcel, ...]
    account: PlanAccount
    stopped_after: int | None
    kept_as: Mapping[str, Mapping[str, Any]]


def _plan_now(edge: Edge, week: str | None, limit: float | None = None, gap: float = 0.0) -> PlannedNow:
    """The plan of a week from the shelf as the ledger leaves it, and where every line stands then."""
    from shipping.ledger.planning_again import plan_account, planned_again, with_held_orders

    read = shelf_of(edge)
    wanted = _week(read, week)
    shelf = shelf_now(edge, wanted, read)
    planned, stopped_after = plan_of(shelf, wanted, limit, gap, edge.quiet)
    with opened_if_begun(edge) as ledger:
        planned = planned_again(planned, read, ledger)
        account, kept = plan_account(planned, read, ledger), ledger.parcels() if ledger else ()
        held = with_held_orders(shelf, read, planned)
        of_week = [one for one in kept if one.is_planned and one.week == planned.week]
        entries = {one.plan_entry: ledger.plan_kept(one.plan_entry) for one in of_week if ledger}
        facts = {str(one["parcel"]): one for entry in entries.values() for one in entry["parcels"]}
        kept_as = {one.parcel: facts[one.parcel] for one in of_week}
        return PlannedNow(planned, held, read, kept, account, stopped_after, kept_as)


def _week(shelf: Shelf, week: str | None) -> str:
    from shipping.week.objective import default_week

    if week is None:
        return default_week(shelf)
    try:
        return iso_week(week_days(week)[0])
    except ValueError:
        number, now = week.strip().lstrip("Ww"), shelf.today.isocalendar()
        is_one = number.isascii() and number.isdecimal() and 1 <= int(number) <= 52
        meant = f"{now.year + (int(number) < now.week)}-W{int(number):02}" if is_one else "2026-W49"
        raise wrong("--week", f"'{week}' is not an ISO week.", f"Write it as {meant}.") from None


def plan(
    context: typer.Context,
    week: Week = None,
    keep: Annotated[
        bool, Option("--keep", help="Keep the plan in the ledger, the record of what you pack and send.")
    ] = False,
    compare: Annotated[
        bool, Option("--compare", help="What differs from the plan kept for that week.")
    ] = False,
    more: Annotated[
        bool, Option("--more", help="What 20 more eggs, or 5 more parcels a day, would have served.")
    ] = False,
    limit: Annotated[
        float | None, number_option(0.1, None, "Seconds to spend on choosing at the most.")
    ] = None,
    gap: Annotated[
        float, number_option(0, 0.5, "Stop once no plan serves more by this share; 0.01 is 1 %.")
    ] = 0.0,
    calendar: Annotated[
        Path | None, path_option("Write what is due by day to this .ics file, for the phone.")
    ] = None,
    explain: Annotated[bool, Option("--explain", help="The figures that drove the choice, too.")] = False,
    first_day: Annotated[
        str | None,
        Option("--from", help="Plan from this day on, such as tomorrow, after today's hour of hand-over."),
    ] = None,
) -> None:
    """The week's plan: parcels, then what waits, holds or stops and why. Example: spawnpost plan --week
    2026-W49
    """
    edge: Edge = context.obj
    now = _plan_now(_from_day(edge, first_day), week, limit, gap)
    shelf, planned = now.shelf, now.plan
    if is_over(planned.week, shelf.today):
        over = f"{planned.week} is over on {shelf.today}: nothing can be posted in it any more."
        typer.echo(over, err=True)
    facts = shown(edge, planned) | now.account.as_json()
    lines: list[str] = []
    if compare:
        from shipping.cli.print_plan import plan_changes

        facts["changes"] = changes = plan_changes(planned, now.kept, now.kept_as) or ["nothing changes."]
        lines += ["Against the plan kept:", *(f"  {change}" for change in changes)]
    elif not keep and (changes := _not_as_kept(now)):
        stands = (
            f"Otherwise than the plan kept for {planned.week}, which stands: {many(len(changes), 'change')}."
        )
        lines.append(f"{stands} What: plan --compare; to take this one: plan --keep.")
    if more:
        from shipping.cli.terminal import Window
        from shipping.questions.what_if import gain_lines, what_more_serves

        gains = what_more_serves(shelf, planned, planned.week, seconds=limit)
        facts["more"] = [gain.as_json() for gain in gains]
        window = Window.of_output()
        lines += ["", *(line for text in gain_lines(gains) for line in window.wrapped(text))]
    if calendar is not None:
        facts["calendar"] = _calendar_written(calendar, planned, shelf)
        lines.append(f"Wrote {calendar}: days to post, to look, to wet and to ask again.")
    is_there = planned.parcels or any(one.is_planned and one.week == planned.week for one in now.kept)
    if keep and now.stopped_after:
        again = f"spawnpost plan --week {planned.week} --limit {now.stopped_after} --keep"
        from_day = f" --from {first_day}" if first_day else ""
        lines.append(f"Nothing is kept, for you stopped it. To keep a plan found as fast: {again}{from_day}")
    elif keep and not is_there:
        lines.append(f"Nothing is kept: no parcel goes in {planned.week}.")
    elif keep:
        from shipping.ledger.disagreements import address_marks, held_short
        from shipping.ledger.lot_counts import eggs_counted

        with opened(edge, create=True) as ledger:
            placed = {order.order: order.placed_on for order in now.tables.orders}
            marks, before, counted = address_marks(now.tables.orders), ledger.count, eggs_counted(now.tables)
            entry = ledger.keep_plan(planned.as_json(), counted, placed, marks)
            notes, still = ledger.notes(), {short.text for short in held_short(ledger, counted)}
        left = tuple(one for one in planned.notices if one.code != "held-short" or one.text in still)
        now = replace(now, plan=replace(planned, notices=left))
        facts["kept_as"] = entry.seq
        kept = "Kept" if entry.seq > before else "Nothing is written: this very plan is already kept"
        lines.append(
            f"{kept} as entry {entry.seq}: its parcels hold their eggs until packed or planned anew."
        )
        facts |= {"notes": notes} if notes else {}
        lines += [*(f"Note: {note}" for note in notes), *_for_today_after_the_hour(planned, edge)]
    told: Iterable[str] = () if compare else _told(now, edge, explain)
    print_answer(edge, facts, itertools.chain(told, lines))
    if keep and now.stopped_after:
        sys.exit(130)  # it has said so itself


def _from_day(edge: Edge, first_day: str | None) -> Edge:
    """The same as on the first day that is planned for: nothing leaves before it."""
    day = day_of(edge, first_day, "--from", ahead=True) or edge.today
    if day < edge.today:
        raise wrong("--from", f"{day} is past.", f"Write {edge.today} or a later day.")
    return edge if day == edge.today else replace(edge, today=day, hour="")


def _for_today_after_the_hour(plan: Plan, edge: Edge) -> Iterator[str]:
    """What to type for the next day, where parcels were kept for today and its hour is past."""
    from shipping.cli.print_plan import plan_from_tomorrow
    from shipping.post.calendar import past_cut_off

    late = [one for one in plan.parcels if past_cut_off(one.cut_off, one.dispatch_on, edge.today, edge.hour)]
    if late:
        yield (
            f"{late[0].cut_off} is past, and {many(len(late), 'parcel')} kept for today: if they were not"
            f" handed over, for the next day: {plan_from_tomorrow(edge.today)} --keep"
        )


def _told(now: PlannedNow, edge: Edge, explain: bool) -> Iterator[str]:
    """A plan as a person reads it; nothing of it is made before the first line is asked for."""
    from shipping.cli.print_plan import plan_lines
    from shipping.cli.terminal import Window

    beside = list(now.account.lines())
    yield from (*beside, *([""] if beside else []))
    window, hidden = Window.of_output(), edge.hide_names
    yield from plan_lines(now.plan, now.shelf, window, hidden, edge.quiet, explain, edge.hour, edge.today)


def _calendar_written(path: Path, plan: Plan, shelf: Shelf) -> str:
    """Writes the calendar; a file that is there already is replaced only where it is a calendar."""
    from shipping.papers.calendar_file import calendar_bytes
    from shipping.tables.files.whole_file import write_file

    is_calendar = path.is_file() and path.read_bytes().startswith(b"BEGIN:VCALENDAR")
    if path.suffix != ".ics" or (path.exists() and not is_calendar):
        raise wrong("--calendar", f"{path} is no calendar.", "Name a new file that ends in .ics.")
    write_file(path, calendar_bytes(plan, shelf))
    return str(path)


def why(
    context: typer.Context,
    order: Annotated[str, Argument(help="The order.")],
    week: Week = None,
    every: Annotated[bool, Option("--all", help="Every option, and all that speaks against it.")] = False,
) -> None:
    """Where an order stands, what decided, and what would make it go. Example: spawnpost why D09"""
    from shipping.cli.print_answers import became_lines, why_lines
    from shipping.cli.terminal import Window
    from shipping.ledger.order_history import parcels_of_order
    from shipping.questions.why import why as why_order

    edge: Edge = context.obj
    read = shelf_of(edge)
    shelf = shelf_now(edge, _week(read, week))
    with opened_if_begun(edge) as ledger:
        claims = read.settings.claims
        gone = parcels_of_order(ledger, order, _week(read, week), claims) if ledger else ()
    in_parcels, became = [one.as_json() for one in gone], list(became_lines(gone))
    if gone and order in {name for name, _ in read.cancelled}:
        became.insert(0, f"Order {order} is cancelled.")
    if order in read.order_by_name and order not in shelf.order_by_name:
        for problem in read.notices:
            if problem.code == "same-number" and problem.where == read.order_by_name[order].lines[0].row.at:
                raise ShelfProblems((problem,))
    if became and order not in shelf.order_by_name:
        print_answer(edge, {"order": order, "parcels": in_parcels}, became)
        return
    if order not in shelf.order_by_name and order in {name for name, _ in read.cancelled}:
        raise wrong(
            "order", f"Order '{order}' is cancelled.", "To bring it back, empty its cancelled_on in orders."
        )
    theirs = _orders_of(order, shelf) if order not in shelf.order_by_name else ()
    if theirs:
        raise wrong(
            "order",
            f"'{order}' is a buyer's name, and no order's.",
            f"Their orders: {', '.join(theirs)}. Write spawnpost why {theirs[0]}.",
        )
    name = one_of(order, shelf.order_by_name, "order")
    planned, stopped_after = plan_of(shelf, week, quiet=edge.quiet)
    considered = why_order(shelf, name, planned.week, planned)
    facts = considered.as_json() | {"parcels": in_parcels, "stopped": bool(stopped_after)}
    if stopped_after:
        became.append("You stopped the planning: this is as in the best plan found by then.")
    if edge.hide_names and isinstance(facts["parcel"], dict):
        facts["parcel"]["addressee"] = HIDDEN
    print_answer(edge, facts, itertools.chain(became, why_lines(considered, Window.of_output(), every)))


def _orders_of(name: str, shelf: Shelf) -> tuple[str, ...]:
    """The orders of the buyers whose name has that word, or is it."""
    wanted = name.casefold().split()
    return tuple(
        order.order
        for order in shelf.orders
        if wanted and set(wanted) <= set(order.address.addressee.casefold().split())
    )


def papers(
    context: typer.Context,
    week: Week = None,
    parcel: Annotated[str | None, Option(help="Only this parcel, such as 2026-W49-01, or 1.")] = None,
    only: Annotated[list[str] | None, Option(help="Only this kind of paper; may be given again.")] = None,
    to: Annotated[Path | None, path_option("Where to; else papers/WEEK in the shelf.")] = None,
    item: Annotated[list[str] | None, Option(help="The post's item number: PARCEL=RR473124829GB.")] = None,
    first_sticker: Annotated[int, Option(min=1, help="The first free sticker of the sheet.")] = 1,
    one_sided: Annotated[bool, Option("--one-sided", help="Leave no blank pages.")] = False,
) -> None:
    """A file a day to print and a message a buyer to send; a file each with --parcel or --only. Example:
    spawnpost papers --week 2026-W49
    """
    from shipping.ledger.kept_papers import plan_as_kept
    from shipping.papers.documents.contents import PaperInputs
    from shipping.papers.documents.customs_sheet import gaps_by_parcel
    from shipping.papers.printed_files import listed_in, noted_as_printed, since_last_printed
    from shipping.papers.writing import write_papers
    from shipping.words.sentence import LANGUAGES

    edge: Edge = context.obj
    folder = folder_of(edge)
    now = _plan_now(edge, week)
    names = [*(planned.parcel for planned in now.plan.parcels), *(other.parcel for other in now.kept)]
    wanted = parcel and whole_names(names, [parcel], edge.today)[0]
    of_week = next((one.week for one in now.kept if one.parcel == wanted), now.plan.week)
    if week is None and of_week != now.plan.week:
        now = _plan_now(edge, of_week)
    shelf, kept = now.shelf, now.kept
    with opened_if_begun(edge) as ledger:
        plan, not_set = plan_as_kept(now.plan, now.tables, ledger, wanted or "")
    out = to or folder / "papers" / plan.week
    names = [*(planned.parcel for planned in plan.parcels), *(other.parcel for other in kept)]
    if wanted is None:
        plan, not_set = _with_letters(plan, shelf, not_set, only or ())
    elif wanted in not_set:
        raise not_set[wanted]
    if wanted not in names and any(planned.parcel == wanted for planned in now.plan.parcels):
        new = f"'{wanted}' is of a plan made now, and another is kept for {plan.week}."
        raise wrong("--parcel", new, "Keep the new plan first: spawnpost plan --keep.")
    typed = dict(_item(text) for text in item or ())
    items = dict(zip(whole_names(names, typed, edge.today), typed.values(), strict=True))
    if not_set and not plan.parcels and is_over(plan.week, shelf.today):
        raise ShelfProblems(tuple(problem for found in not_set.values() for problem in found.problems))
    before = listed_in(out)
    buyers = {order.order: order.address.addressee for order in shelf.orders}
    done_already = (other for other in kept if not other.is_planned and other.parcel != wanted)
    packed = {other.parcel: other.left_on for other in done_already}
    items = {other.parcel: other.item for other in kept if other.item and other.parcel == wanted} | items
    waiting = (one for one in kept if one.state == "packed" and one.week == plan.week and wanted is None)
    to_send = {one.parcel: one.dispatch_on for one in waiting}
    with noted_as_printed(folder, out, plan, buyers):
        written = write_papers(
            *(plan, shelf, out),
            parcel=wanted,
            only=tuple(only or ()),
            items=items,
            first_sticker=first_sticker,
            shelf_folder=folder,
            packed=packed,
            to_send=to_send,
            one_sided=one_sided,
        )
    files = [path.relative_to(out.resolve()).as_posix() for path in written]
    told = since_last_printed(before, listed_in(out))
    told["removed"] = [name for name in told["removed"] if name not in packed]
    gaps = gaps_by_parcel(plan, shelf, items) if not only or "customs" in only else {}
    gaps = {name: lacking for name, lacking in gaps.items() if wanted in (None, name) and name not in packed}
    unprinted = {name: _why_not(found) for name, found in not_set.items()}
    is_counted = any(other.parcel == wanted and not other.is_planned for other in kept)
    otherwise = [] if is_counted else _not_as_kept(now)
    facts: dict[str, object] = {"folder": str(out), "files": files, **told, "customs_gaps": gaps}
    facts["not_printed"] = unprinted
    facts |= {"not_as_kept": otherwise, "packed": sorted(to_send), "stopped": bool(now.stopped_after)}
    inputs = PaperInputs(plan, shelf, {}, {})
    own = [one for one in plan.parcels if wanted in (None, one.parcel) and one.parcel not in packed]
    facts["in_english"] = english = sorted({one.address.country for one in own if inputs.lacks_language(one)})
    done = f"Wrote {len(written)} file{'s' * (len(written) != 1)} to {out}."
    lines = [f"Customs data of {name} lacks: {gap}" for name, lacking in gaps.items() for gap in lacking]
    is_kept = {other.parcel for other in kept}
    lacking = [
        f"Not printed: {name}{', which is kept' if name in is_kept else ''}. {why}"
        for name, why in unprinted.items()
    ]
    lines += lacking
    lines += [f"{_OTHERWISE} {change}" for change in otherwise]
    lines += [
        f"Packed for {short_day(day)}, so not printed again: {', '.join(names)}. As counted:"
        " spawnpost papers --parcel with its number."
        for day, names in grouped((day, name) for name, day in to_send.items()).items()
    ]
    if english:
        lines.append(
            f"Papers are written in {', '.join(LANGUAGES)}: buyers in {', '.join(english)} get theirs in"
            " English. Another of these is taken where an order names it in language."
        )
    if now.stopped_after:
        is_kept_week = any(one.is_planned and one.week == plan.week for one in kept)
        what = "What stays is" if is_kept_week else "They are"
        lines.append(
            f"You stopped the planning. {what} as in the best plan found by then, which is not kept."
        )
    lines += [f"No letters are written: {plan.week} is over."] if is_over(plan.week, shelf.today) else []
    lines.append(done)
    for kind, changed in told.items():
        lines += [f"{kind.capitalize()} since papers were last printed: {name}" for name in changed]
    lines += [f"  {name}" for name in files]
    print_answer(edge, facts, [*lacking, done] if edge.quiet else lines)
    if unprinted:
        raise typer.Exit(1)


#: What is packed is recorded as kept, and so are papers printed; a plan made anew may differ.
_OTHERWISE = "Printed as kept; planned anew it would be otherwise (plan --keep takes the new plan):"


def _not_as_kept(now: PlannedNow) -> list[str]:
    """What a plan made anew has otherwise than the parcels kept for its week and not packed yet."""
    from shipping.cli.print_plan import plan_changes

    return plan_changes(now.plan, now.kept, now.kept_as) if now.kept_as else []


def _with_letters(
    plan: Plan, shelf: Shelf, not_set: Mapping[str, ShelfProblems], only: Collection[str]
) -> tuple[Plan, dict[str, ShelfProblems]]:
    """The plan without parcels and orders whose letters no font prints, and these beside those not set."""
    from shipping.papers.writing import letters_by_order, letters_by_parcel, names_orders_left_out

    lacking = letters_by_parcel(plan.parcels, shelf)
    left = tuple(one for one in plan.parcels if one.parcel not in lacking)
    if plan.parcels and not left:
        return plan, dict(not_set)
    untold = letters_by_order(plan.lines_out, shelf) if names_orders_left_out(only) else {}
    told = tuple(line for line in plan.lines_out if line.order not in untold)
    return replace(plan, parcels=left, lines_out=told), {**not_set, **lacking, **untold}


def _why_not(found: ShelfProblems) -> str:
    """Why a parcel's papers cannot be set, as a sentence, and what mends it."""
    first = found.problems[0]
    if first.where.row:
        return str(first)
    return f"{first.text[:1].upper()}{first.text[1:]} {first.mend}"


def _item(text: str) -> tuple[str, str]:
    parcel, equals, number = text.partition("=")
    if not equals:
        raise wrong("--item", f"'{text}' is not PARCEL=NUMBER.", "Write it as 2026-W49-01=RR473124829GB.")
    return parcel.strip(), number.replace(" ", "")


#: Shorter plans are not worth a line; the line is written anew after so many seconds.
LONG_S, ANEW_S = 2.0, 0.1
_BEGIN, _END = "\r", "\x1b[K"


class Progress:
    """A line that is written over and over; silent where nobody watches, or asked to be quiet."""

    def __init__(self, quiet: bool) -> None:
        self._shown = not quiet and sys.stderr.isatty()
        self._began = self._told = time.monotonic()
        self._value = 0.0

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            took = time.monotonic() - self._began
            sys.stderr.write(f"{_BEGIN}{_END}" + (f"Planned in {took:.0f} s.\n" if took > LONG_S else ""))
            sys.stderr.flush()

    def tell(self, value: float, bound: float) -> None:
        """Value served, of which the most is shown, and what no plan can pass."""
        self._value = value = max(value, self._value)
        now = time.monotonic()
        if self._shown and now > self._told + ANEW_S:
            self._told = now
            gap = max(0.0, bound - value) / bound if bound > 0 else 0.0
            took = now - self._began
            sys.stderr.write(
                f"{_BEGIN}{took:4.0f} s  value {value:.2f} of at most {bound:.2f} (gap {percent(gap)});"
                f" Ctrl-C keeps it{_END}"
            )
            sys.stderr.flush()


def _program() -> str:
    """What to type for this program: its name, or where it lies, if it is not found by its name."""
    typed = Path(sys.argv[0])
    is_found = shutil.which("spawnpost") is not None or typed.stem != "spawnpost"
    return "spawnpost" if is_found else str(typed)


def demo(
    context: typer.Context,
    folder: Annotated[Path, Argument(help="A new folder.", parser=path_given)] = Path("demo"),
) -> None:
    """The main job on the demo week: a shelf, its plan, its papers, and where to look. Example: spawnpost
    demo
    """
    edge: Edge = context.obj
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise wrong("DIR", f"{folder} is not empty.", "Name a new folder, or remove it first.")
    try:
        facts, lines = _demo_in(folder, edge)
    except BaseException:  # half of it would be in the way of the next try
        for part in ("shelf", "papers"):
            shutil.rmtree(folder / part, ignore_errors=True)
        for part in ("plan.txt", "plan.json"):
            (folder / part).unlink(missing_ok=True)
        raise
    print_answer(edge, facts, lines)


def _demo_in(folder: Path, edge: Edge) -> tuple[dict[str, object], list[str]]:
    """What was made in the folder, as facts and as lines."""
    from shipping.cli.print_plan import plan_lines
    from shipping.cli.terminal import Window
    from shipping.papers.writing import write_papers
    from shipping.tables.files.whole_file import write_file
    from shipping.tables.reader import read_shelf

    source = shipped_folder("demo_orders")
    today = date.fromisoformat((source / "today.txt").read_text(encoding="utf-8").strip())
    shelf_folder = folder / "shelf"
    shelf_folder.mkdir(parents=True)
    for path in sorted(source.iterdir()):
        write_file(shelf_folder / path.name, path.read_bytes())
    shelf = shelf_read(read_shelf(shelf_folder, today))
    plan, _ = plan_of(shelf, None)
    lines = list(plan_lines(plan, shelf, Window(), edge.hide_names))
    as_json = json.dumps(shown(edge, plan), ensure_ascii=False, indent=1)
    write_file(folder / "plan.txt", ("\n".join(lines) + "\n").encode())
    write_file(folder / "plan.json", f"{as_json}\n".encode())
    papers = write_papers(plan, shelf, folder / "papers", shelf_folder=shelf_folder)
    look = (
        "",
        "Where to look:",
        f"  the plan with every reason   {folder / 'plan.txt'}",
        f"  a file a day to print        {folder / 'papers' / 'print'}",
        f"  a message a buyer, to send   {folder / 'papers' / 'mail'}",
        f"  the tables it came from      {shelf_folder} (what each order shows: README.md there)",
        f"  ask it something             {_program()} --shelf {shelf_folder} --today {today} why D09",
    )
    facts: dict[str, object] = {
        "folder": str(folder),
        "week": plan.week,
        "today": today.isoformat(),
        "papers": [path.relative_to((folder / "papers").resolve()).as_posix() for path in papers],
    }
    return facts, [*lines, *look]
