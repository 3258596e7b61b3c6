"""The commands of the ledger: what was packed, sent and reported in, what stands and what it teaches out."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import asdict, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from typer import Argument, Option

from shipping.cli.global_options import (
    Edge,
    day_of,
    drawable,
    drawn,
    folder_of,
    has_ledger,
    opened,
    path_given,
    path_option,
    print_answer,
    shelf_of,
    shelf_read,
    whole_names,
    wrong,
)
from shipping.words.problems import Problem, ShelfProblems
from shipping.words.units import many, percent

if TYPE_CHECKING:
    from shipping.learning.outcomes import Outcome
    from shipping.learning.score import Score
    from shipping.ledger.journal.audit import Audited
    from shipping.ledger.kept_parcel import KeptParcel
    from shipping.ledger.ledger import Ledger
    from shipping.ledger.packing_day import Done
    from shipping.tables.reader import Reading
    from shipping.tables.shelf import Shelf
    from shipping.words.long_work import SecondProcess

Parcels = Annotated[
    list[str] | None, Argument(help="The parcels, such as 2026-W49-01, or 1: the first of this week.")
]
OfDay = Annotated[str | None, Option("--day", help="All of a day: today, or such as 2026-11-30.")]
On = Annotated[str | None, Option(help="The day, such as 2026-11-30; else today.")]
Counts = Annotated[list[str] | None, Option(help="ORDER:LINE=EGGS, or EGGS alone in a parcel of one line.")]
Anyway = Annotated[
    str,
    Option(help="Why it goes although the clock speaks against it, or with too few; kept with the entry."),
]


def accept_corrected_orders(edge: Edge) -> None:
    """Record that orders whose day or buyer differs from what was kept under their number are corrected."""
    from shipping.ledger.disagreements import order_questions
    from shipping.ledger.ledger import Ledger

    if not has_ledger(edge):
        return
    orders = shelf_of(edge).orders
    with Ledger.open(folder_of(edge), edge.today) as ledger:
        for question in tuple(order_questions(orders, ledger.orders())):
            ledger.correct_order(question.order, question.placed_on, question.addressee)


def audit_begun(folder: Path) -> SecondProcess[Audited]:
    """The ledger and its copies looked through while the tables are read."""
    from shipping.ledger.journal.audit import audited
    from shipping.words.long_work import SecondProcess

    return SecondProcess(partial(audited, folder))


def read_with_waiting(edge: Edge, take: bool) -> tuple[Reading, tuple[KeptParcel, ...], Collection[str]]:
    """The whole shelf without eggs packed, kept parcels not handed over, and orders with a kept parcel.

    Raises LedgerError if a ledger cannot be read, or is older or another than others know.
    """
    from shipping.ledger.whole_shelf import read_whole_shelf

    if not has_ledger(edge):
        return read_whole_shelf(folder_of(edge), edge.today, take), (), ()
    from shipping.ledger.ledger import Ledger
    from shipping.ledger.lot_counts import eggs_counted
    from shipping.ledger.planning_again import without_packed

    with Ledger.open(folder_of(edge), edge.today) as ledger:
        ledger.check_newest()
        reading = read_whole_shelf(folder_of(edge), edge.today, take, ledger)
        if shelf := reading.shelf:
            reading = replace(reading, shelf=without_packed(shelf, ledger, eggs_counted(shelf)))
        return reading, ledger.waiting(), ledger.orders().keys()


#: The papers in the box, the message to the buyer and the ledger say the same eggs.
_OF_THE_PLAN = "Its slip, tags and message written before say the eggs of the plan. Write them as counted:"


def pack(
    context: typer.Context,
    parcels: Parcels = None,
    of_day: OfDay = None,
    count: Counts = None,
    on: On = None,
    photo: Annotated[Path | None, path_option("A photo taken at packing; its hash is kept.")] = None,
    anyway: Anyway = "",
) -> None:
    """Record parcels as packed, each reckoned anew today. Example: spawnpost pack 2026-W49-01 --count 25"""
    from shipping.cli.typed_counts import counts_from_text, photo_digest
    from shipping.ledger.packing_day import Done
    from shipping.ledger.packing_day import pack as pack_parcel

    edge: Edge = context.obj
    day = day_of(edge, on, "--on")
    with opened(edge) as ledger:
        names = _meant(edge, ledger, parcels, of_day, "planned")
        if len(names) > 1 and (count or photo):
            raise wrong("--count", "Counts and a photo are of one parcel.", "Name that parcel alone.")
        digest = photo_digest(photo) if photo else None
        shelf = _shelf_for(edge, ledger, names)

        def doing(name: str) -> Done:
            kept = ledger.parcel(name)
            counts = counts_from_text(count or [], kept)
            done = pack_parcel(ledger, shelf, name, counts, on=day, photo_sha256=digest, anyway=anyway)
            planned = ", ".join(f"{one.order}:{one.line} {one.eggs}" for one in kept.planned_counts())
            said = f"Planned were {planned}. {_OF_THE_PLAN} spawnpost papers --parcel {name}"
            return done if counts == kept.planned_counts() else Done(done.entry, (*done.notes, said))

        _each(edge, ledger, names, doing)


def send(
    context: typer.Context,
    parcels: Parcels = None,
    of_day: OfDay = None,
    item: Annotated[
        list[str] | None,
        Option(help="The item number, such as RR473124829GB; once for each parcel, in their order."),
    ] = None,
    service: Annotated[str, Option(help="The service, where it is not the plan's.")] = "",
    on: On = None,
    anyway: Anyway = "",
) -> None:
    """Record packed parcels as handed over. Example: spawnpost send 2026-W49-01 --item RR473124829GB"""
    from shipping.ledger.packing_day import Done
    from shipping.ledger.packing_day import send as send_parcel
    from shipping.post.calendar import cut_off_of, past_cut_off
    from shipping.post.item_id import as_kept, origin_caution, unchecked_note

    edge: Edge = context.obj
    day = day_of(edge, on, "--on")
    with opened(edge) as ledger:
        names = _meant(edge, ledger, parcels, of_day, "packed")
        numbers = [as_kept(text) for text in item or ()]
        if numbers and len(numbers) != len(names):
            text = f"item numbers given: {len(numbers)}, parcels: {len(names)}."
            raise wrong("--item", text, "Write --item once for each parcel, in the same order.")
        number_of = dict(zip(names, numbers, strict=False))
        shelf = _shelf_for(edge, ledger, names)

        def doing(name: str) -> Done:
            number = number_of.get(name, "")
            done = send_parcel(ledger, shelf, name, on=day, service=service, item=number, anyway=anyway)
            home = shelf.settings.home.country
            said = [origin_caution(number, home), unchecked_note(number)] if number else []
            cut_off = cut_off_of(service or ledger.parcel(name).service, shelf)
            if day is None and past_cut_off(cut_off, edge.today, edge.today, edge.hour):
                back = f"if it was not, take this back: spawnpost undo {done.entry.seq}."
                said.append(f"{cut_off} is past: recorded as handed over earlier; {back}")
            return Done(done.entry, (*done.notes, *filter(None, said)))

        _each(edge, ledger, names, doing)


def arrive(
    context: typer.Context,
    parcels: Parcels = None,
    alive: Counts = None,
    hatched: Counts = None,
    dead: Counts = None,
    missing: Counts = None,
    lost: Annotated[bool, Option("--lost", help="It never came, and is given up.")] = False,
    returned: Annotated[
        bool, Option("--returned", help="The post brought it back; --alive counts go back into their lots.")
    ] = False,
    on: On = None,
    note: Annotated[str, Option(help="What the buyer said.")] = "",
    since: Annotated[
        str | None, Option(help="Alone: what was lost by post of parcels sent from this day on; else of all.")
    ] = None,
) -> None:
    """Record what a buyer reported, all of it or some; alone: what was lost by post, by month and route.
    Example: spawnpost arrive 2026-W49-01 --alive 23 --dead 2
    """
    from shipping.cli.typed_counts import back_from_text, joined_reports, reports_from_text
    from shipping.ledger.claims import came_after_all, told_too_soon, what_to_settle
    from shipping.ledger.lot_counts import eggs_counted
    from shipping.ledger.packing_day import Done, back_notes
    from shipping.ledger.reported_line import report_notes

    edge: Edge = context.obj
    day = day_of(edge, on, "--on")
    told = (("alive", alive), ("hatched_alive", hatched), ("dead", dead), ("missing", missing))
    typed = any(texts for _, texts in told)
    if not (parcels or typed or lost or returned or on or note):
        _lost_by_post(edge, day_of(edge, since, "--since"))
        return
    if since is not None:
        raise wrong("--since", "It tells of all parcels, and a report is of one.", "Write one of the two.")
    others = any(texts for name, texts in told if name != "alive")
    if returned and not lost and others:
        raise wrong("arrive", "Of what came back, only live eggs are counted.", "Write --returned --alive N.")
    if lost + returned + (typed and not returned) != 1:
        text = "One of counts, --lost and --returned is needed." if typed else "No count was given."
        raise wrong("arrive", text, "Write at least --alive N, or --lost; silence is no report.")
    with opened(edge) as ledger:
        names = _meant(edge, ledger, parcels)
        if len(names) > 1 and typed:
            raise wrong("--alive", "Counts are of one parcel.", "Name that parcel alone.")

        def doing(name: str) -> Done:
            kept = ledger.parcel(name)
            if lost or returned:
                back = back_from_text(alive or [], kept)
                counted = eggs_counted(shelf_of(edge)) if back else None
                how = "lost" if lost else "returned"
                entry = ledger.end(name, how, on=day, note=note, back=back, counted=counted)
                kept = ledger.parcel(name)
                early = told_too_soon(kept, entry.body)
                return Done(entry, (*back_notes(ledger, name), *early, *what_to_settle(kept)))
            reports = joined_reports(*(reports_from_text(what, texts or [], kept) for what, texts in told))
            told_day = day or kept.arrived_on
            entry = ledger.arrive(name, reports, on=told_day, note=note, day_untold=told_day is None)
            kept = ledger.parcel(name)
            untold = () if told_day else (_taken_as_of_today(kept, edge.today),)
            said = (*report_notes(kept), *told_too_soon(kept, entry.body), *came_after_all(kept))
            return Done(entry, (*untold, *said, *what_to_settle(kept)))

        _each(edge, ledger, names, doing)


def _taken_as_of_today(kept: KeptParcel, today: date) -> str:
    """Where no day was told, and today's is taken: what that means, and what to do about it."""
    late = f", later than it should by {kept.p95}" if kept.p95 is not None and today > kept.p95 else ""
    return (
        f"No day was given, so it counts as come today, {today}{late}; nothing is learned from its days on"
        f" the way. To tell the day: spawnpost undo {kept.parcel}, then the same with --on DAY."
    )


def _lost_by_post(edge: Edge, since: date | None) -> None:
    """What became of all that was sent: the answer, then a row for each month and for each route of it."""
    from shipping.cli.print_answers import lost_lines
    from shipping.cli.terminal import Window
    from shipping.learning.lost_by_post import lost_by_post

    with opened(edge) as ledger:
        found = lost_by_post(shelf_of(edge), ledger, since)
        untold = [one for one in ledger.parcels() if one.state == "sent" and not one.reports]
    silent = sorted((one for one in untold if not since or one.left_on >= since), key=lambda one: one.left_on)
    facts = found.as_json() | {"no_report": [one.parcel for one in silent]}
    lines = list(lost_lines(found, Window.of_output(), edge.quiet))
    lines += [f"No report yet: {_who_is_silent(one, edge.today)}" for one in silent]
    print_answer(edge, facts, lines)


def _who_is_silent(parcel: KeptParcel, today: date) -> str:
    """A parcel nobody told of: its orders, how it went and since when it is late."""
    orders = ", ".join(dict.fromkeys(line.order for line in parcel.lines))
    late = f", {many((today - parcel.p95).days, 'day')} late" if parcel.p95 and parcel.p95 < today else ""
    by = f"expected by {parcel.p95}{late}" if parcel.p95 else "expected on a day nobody can tell"
    return f"{parcel.parcel} ({orders}), sent {parcel.left_on} by {parcel.service} to {parcel.to}, {by}"


def drop(
    context: typer.Context,
    parcels: Parcels = None,
    note: Annotated[str, Option(help="Why; personal, and can be erased.")] = "",
) -> None:
    """Let kept parcels go that will not be packed: their eggs and lines are free again. Example: spawnpost
    drop 2026-W49-01
    """
    from shipping.ledger.packing_day import Done

    edge: Edge = context.obj
    with opened(edge) as ledger:
        _each(edge, ledger, _meant(edge, ledger, parcels), lambda name: Done(ledger.drop(name, note)))


def undo(
    context: typer.Context,
    entry: Annotated[
        str | None, Argument(help="An entry, such as entry-12, or a parcel; else the last entry.")
    ] = None,
) -> None:
    """Take back an entry on which nothing rests, by a new one; both stay in the history. Example: spawnpost
    undo entry-12
    """
    from shipping.ledger.packing_day import unpacked_notes

    edge: Edge = context.obj
    with opened(edge) as ledger:
        taken = ledger.undo(_to_undo(ledger, entry, edge.today))
        undone = [one for one in ledger.entries() if one.seq == getattr(taken.body, "entry", 0)]
        notes = [note for one in undone for note in unpacked_notes(one, edge.today)]
        facts, lines = told_entry(ledger, taken.seq, notes)
        beside = (one.seq for one in ledger.entries() if one.seq > taken.seq)
        print_answer(edge, facts, [*lines, *(line for seq in beside for line in told_entry(ledger, seq)[1])])


#: An entry named as what it is, for parcels have numbers too.
_ENTRY = re.compile(r"(?:entry[- ]?|#)([0-9]{1,8})", re.IGNORECASE)


def _to_undo(ledger: Ledger, typed: str | None, today: date) -> int | str | None:
    """The entry or the parcel meant; a bare number that both have is asked about, and nothing is done."""
    if typed is None:
        return None
    if as_entry := _ENTRY.fullmatch(typed.strip()):
        return int(as_entry[1])
    if not (typed.isascii() and typed.isdigit() and len(typed) < 9):
        return typed
    number, parcel = int(typed), whole_names(ledger.parcel_names(), (typed,), today)[0]
    entry = next((one for one in ledger.history() if one.entry == number), None)
    if parcel == typed:
        return number
    if entry is None:
        return parcel
    text = (
        f"{number} is an entry ({f'{entry.parcel} {entry.text}'.strip()}), and {parcel} has that number too."
    )
    raise wrong("entry", text, f"Write entry-{number} for the entry, {parcel} for the parcel.")


def _shelf_for(edge: Edge, ledger: Ledger, names: list[str]) -> Shelf:
    """The tables as packing these parcels needs them."""
    from shipping.ledger.whole_shelf import read_for_packing

    return shelf_read(read_for_packing(folder_of(edge), edge.today, ledger, names))


def _meant(
    edge: Edge, ledger: Ledger, typed: list[str] | None, of_day: str | None = None, state: str = ""
) -> list[str]:
    """The whole names of the parcels meant: those typed, or all of a day that stand so."""
    if bool(typed) == bool(of_day):
        text = "Parcels and --day are given." if typed else "No parcel is named."
        mend = "Write their numbers, such as 1 3 5" + (", or --day today." if state else ".")
        raise wrong("parcels", text, mend)
    if of_day:
        day = day_of(edge, of_day, "--day", ahead=True) or edge.today
        return parcels_of_day(ledger.waiting(), day, state)
    names = list(dict.fromkeys(whole_names(ledger.parcel_names(), typed or (), edge.today)))
    for name in names:
        ledger.parcel(name)  # an unknown name stops all before the first
    return names


def _each(edge: Edge, ledger: Ledger, names: list[str], doing: Callable[[str], Done]) -> None:
    """Does it for each parcel, and tells what was recorded; what one is refused keeps no other back."""
    from shipping.ledger.errors import LedgerError

    facts: list[dict[str, object]] = []
    lines: list[str] = []
    refused: list[Problem] = []
    try:
        for name in names:
            try:
                done = doing(name)
            except LedgerError as trouble:
                refused.append(trouble.problem)
                continue
            told, said = told_entry(ledger, done.entry.seq, done.notes)
            facts.append(told)
            lines += said
    finally:
        if facts and not (refused and edge.as_json):
            print_answer(edge, facts[0] if len(names) == 1 else {"entries": facts}, lines)
    if refused and facts and edge.as_json:  # one object on standard output, whatever came of the others
        print_answer(edge, {"entries": facts, "problems": [problem.as_json() for problem in refused]}, ())
        raise typer.Exit(1)
    if refused:
        raise ShelfProblems(tuple(refused))


def history(context: typer.Context) -> None:
    """Every entry of the ledger, oldest first. Example: spawnpost history"""
    edge: Edge = context.obj
    with opened(edge) as ledger:
        entries = ledger.history()
        states = ledger.parcel_states()
        trouble = ledger.newest_problem()
    facts = {"entries": [entry.as_json() for entry in entries], "parcels": states}
    facts |= {"problem": trouble.as_json()} if trouble else {}
    lines = [
        f"{e.entry:4d}  {e.day}  {e.parcel or '':14s}  {e.text}{'  (taken back)' if e.undone else ''}"
        for e in entries
    ]
    lines = lines or ["Nothing is recorded yet. Keep a plan first: spawnpost plan --keep"]
    print_answer(edge, facts, [*lines, *([f"Note: {trouble}"] if trouble else [])])


def copy(
    context: typer.Context,
    file: Annotated[Path | None, Argument(help="A new file.", parser=path_given)] = None,
    back: Annotated[
        bool, Option("--back", help="Make the furthest whole copy the ledger; the file is set aside.")
    ] = False,
    right: Annotated[
        bool, Option("--right", help="Say that the ledger as it is is right, though others know more.")
    ] = False,
) -> None:
    """A copy of the ledger that opens as one; or the way back to one. Example: spawnpost copy
    ../backup.sqlite
    """
    edge: Edge = context.obj
    if (file is not None) + back + right != 1:
        raise wrong("copy", "One of a new file, --back and --right is needed.", "Name the new file.")
    if file is not None:
        with opened(edge) as ledger:
            to, trouble = ledger.copy(file), ledger.newest_problem()
        facts: dict[str, object] = {"copy": str(to)} | ({"problem": trouble.as_json()} if trouble else {})
        print_answer(edge, facts, [f"Copied to {to}.", *([f"Note: {trouble}"] if trouble else [])])
        return
    _go_on_from(edge, back)


def _go_on_from(edge: Edge, back: bool) -> None:
    """The ledger put back from a copy, or accepted as it is; what is not in it is said."""
    from shipping.ledger.journal.copies import put_back

    facts: dict[str, object] = {}
    lines: list[str] = []
    missing = ""
    if back:
        done = put_back(folder_of(edge))
        facts = {"from": done.copy, "entries": done.entries, "set_aside": done.before or None}
        lines.append(f"The ledger is {done.copy} again, up to entry {done.entries}.")
        lines += [f"The file before it lies in {done.before}."] if done.before else []
        missing = done.missing()
        lines += [missing] if missing else []
    with opened(edge) as ledger:
        entry = ledger.accept()
        if entry is None:
            lines += [] if missing else ["Nothing else knows of any other entry."]
        else:
            told, said = told_entry(ledger, entry.seq)
            facts |= told
            lines += [*said, "What was recorded after it is not in it: record that again."]
    print_answer(edge, facts, lines)


def erase(
    context: typer.Context, buyer: Annotated[str, Argument(help="The addressee, as on the order.")]
) -> None:
    """Remove a buyer's personal data from ledger, copies and papers; counts stay. Example: spawnpost erase
    "Ada Example"
    """
    from shipping.ledger.erasing import erase_buyer

    edge: Edge = context.obj
    erased = erase_buyer(folder_of(edge), edge.today, buyer)
    lines = [f"Blanked {erased.parts} parts of entries."]
    lines += [f"Cleaned copy {name}." for name in erased.copies]
    lines += [f"Removed {name}." for name in erased.papers]
    again = "other buyers' papers of it went too; write them again: spawnpost papers --week"
    lines += [f"Week {week}: {again} {week}." for week in erased.weeks]
    not_done = [*erased.copies_left, *erased.papers_left, *erased.left]
    lines += [f"NOT erased: {name} still holds the name; remove it by hand." for name in not_done]
    if erased.counted:
        words = "as another buyer's name, or a lot's, fish's or place's: they stay."
        lines.append(f"The same words stand in {', '.join(erased.counted)} {words}")
    if erased.tables:
        lines.append(f"Your own tables hold the name: {', '.join(erased.tables)}.")
    lines.append("Papers on paper or in other folders, your order tables and copies elsewhere are yours.")
    print_answer(edge, asdict(erased), lines)
    if not_done:
        raise typer.Exit(1)


def learn(
    context: typer.Context,
    keep: Annotated[bool, Option("--keep", help="Add the learned values to learned.csv.")] = False,
    score: Annotated[bool, Option("--score", help="How often promises held.")] = False,
    every: Annotated[bool, Option("--all", help="Every value learned, before and after.")] = False,
    plot: Annotated[
        str | None, Option(help="Draw promised and held, to a .svg or .pdf; - draws bars here.")
    ] = None,
    back: Annotated[bool, Option("--back", help="Take back the values kept last.")] = False,
) -> None:
    """What arrivals and looks teach, before and after. Example: spawnpost learn --score"""
    from shipping.learning.lesson import add_rates, said_lines, take_back
    from shipping.learning.next_margins import (
        kept_sentence,
        learning_report,
        margin_lines,
        margin_sentence,
        taken_back_sentence,
        told_sentence,
    )
    from shipping.worktop.table_words import label_of

    edge: Edge = context.obj
    drawable(plot, "--plot")
    shelf = shelf_of(edge)
    if back:
        path, gone = take_back(folder_of(edge), shelf.rates)
        taken = {"taken_back_in": str(path), "taken_back_rows": len(gone)}
        print_answer(edge, taken, [taken_back_sentence(path.name, gone)])
        return
    with opened(edge) as ledger:
        report = learning_report(shelf, ledger)
    lesson, silent = report.lesson, " ".join(filter(None, report.silence))
    facts: dict[str, object] = {
        "reported": lesson.reported,
        "unreported": lesson.unreported,
        "under_way": lesson.under_way,
        "came_back_or_lost": lesson.closed,
        "mishaps": lesson.mishaps,
        "one_line": report.one_line,
        "orders": list(report.orders),
        "left_out": report.left_out,
        "silence": silent,
        "fry": report.fry,
        "rates": [rate.as_json() for rate in lesson.rates],
        "next_margins": [margin.as_json() for margin in report.margins],
    }
    lines = [margin_sentence(report.margins), *filter(None, (report.one_line,)), *report.orders]
    if not edge.quiet:
        lines += margin_lines(report.margins)
        lines += [told_sentence(lesson), *filter(None, (report.mishaps, report.left_out, silent, report.fry))]
        lines += said_lines(lesson.rates, label_of) if every else ()
        if lesson.rates and not every:
            seen = sum(bool(rate.n) for rate in lesson.rates)
            beside = f", and {len(lesson.rates) - seen} that go by them" * (seen < len(lesson.rates))
            lines.append(f"Values learned: {seen} from what was told or seen{beside}: spawnpost learn --all")
    if score or plot is not None:
        facts["score"], told = _score(edge, report.outcomes, plot)
        lines += told
    if keep:
        path, gained = add_rates(folder_of(edge), lesson.rows(edge.today), report.shelf.rates)
        facts |= {"kept_in": str(path), "kept_rows": len(gained)}
        lines += [kept_sentence(path.name, gained), "To take back what was kept last: spawnpost learn --back"]
    print_answer(edge, facts, lines)


def _score(
    edge: Edge, outcomes: tuple[Outcome, ...], plot: str | None
) -> tuple[dict[str, object], list[str]]:
    """How promises held, as facts and in words; as bars, or drawn to a file, where that is asked for."""
    from shipping.learning.score import FEW_LINES, calibration_lines, scores, verdict_of
    from shipping.learning.score_picture import score_picture

    result = scores(outcomes)
    lines = list(calibration_lines(result)) if plot == "-" or result.all is None else []
    if plot is None and (whole := result.all):
        lines.append(f"{_how_held(whole)}: {verdict_of(whole)}.")
        off = [
            (head, row)
            for head, rows in result.groups
            for row in rows
            if row.n >= FEW_LINES and not row.is_fair
        ]
        lines += [f"  {head}, {row.name}: {_how_held(row)}" for head, row in off if row.n < whole.n]
        lines.append("As bars, by service, packing and fish: spawnpost learn --plot -")
    if plot not in (None, "-"):
        lines += drawn((score_picture(result, edge.today),), str(plot))
    return result.as_json(), lines


def _how_held(score: Score) -> str:
    """How many lines had enough alive, beside how many were promised to."""
    kept = many(round(score.kept * score.n), "line")
    return f"Enough alive in {kept} of {score.n}, where {percent(score.promised)} were promised"


def told_entry(ledger: Ledger, seq: int, notes: Iterable[str] = ()) -> tuple[dict[str, object], list[str]]:
    """An entry as facts and as lines, with what should be said beside it."""
    beside = ledger.notes()
    entry = ledger.entry_in_words(seq)
    named = f"{entry.parcel} {entry.text}".strip()
    said = [*notes, *beside]
    facts = entry.as_json() | ({"notes": said} if said else {})
    return facts, [f"Entry {entry.entry}: {named}", *(f"Note: {note}" for note in said)]


def parcels_of_day(kept: Iterable[KeptParcel], day: date, state: str) -> list[str]:
    """The parcels planned for a day that stand so: ``planned`` to be packed, ``packed`` to be sent."""
    names = [parcel.parcel for parcel in kept if parcel.dispatch_on == day and parcel.state == state]
    if not names:
        raise wrong("--day", f"No parcel of {day} is {state}.", "See them with: spawnpost history.")
    return sorted(names)
