"""The commands of the week: forecasts, questions, the plan and its papers; arguments in, words out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shipping.cli_ledger import has_ledger, opened, shelf_now
from shipping.edge import Edge, day_of, folder_of, one_of, say, shelf_of, wrong

if TYPE_CHECKING:
    from shipping.ledger.kept import KeptParcel
    from shipping.papers.pictures import Sketch
    from shipping.tables.shelf import Shelf
    from shipping.week.planned import Plan

app = typer.Typer()
Context = typer.Context
Week = Annotated[str | None, typer.Option(help="The ISO week, such as 2026-W49; else this one, or the next on its last day.")]


def shown(edge: Edge, plan: Plan) -> dict[str, object]:
    facts = plan.as_json()
    parcels = facts["parcels"]
    if edge.hide_names and isinstance(parcels, list):
        from shipping.show import HIDDEN

        for parcel in parcels:
            parcel["addressee"] = HIDDEN
    return facts


def plan_of(shelf: Shelf, week: str | None, seconds: float | None = None, gap: float = 0.0, quiet: bool = False) -> Plan:
    """The plan of a week; at a terminal a line says how far it is, and Ctrl-C keeps the best found so far."""
    from shipping.progress import Progress
    from shipping.week.plan import make_plan
    from shipping.week.program import keeping_the_best_so_far

    with keeping_the_best_so_far() as asked_to_stop, Progress(quiet) as progress:
        found = make_plan(shelf, _week(shelf, week), seconds=seconds, gap=gap, tell=progress.tell)
    if asked_to_stop.is_set():
        typer.echo("Stopped by Ctrl-C: this is the best plan found so far, verified like any other.", err=True)
    return found


def _plan_now(
    edge: Edge, week: str | None, limit: float | None = None, gap: float = 0.0
) -> tuple[Shelf, Plan, tuple[KeptParcel, ...]]:
    """The shelf as the ledger leaves it, the plan of a week, and the parcels kept."""
    from shipping.ledger.planning_again import with_free_names

    wanted = _week(shelf_of(edge), week)
    shelf = shelf_now(edge, wanted)
    found = plan_of(shelf, wanted, limit, gap, edge.quiet)
    if not has_ledger(edge):
        return shelf, found, ()
    with opened(edge) as ledger:
        kept = ledger.parcels()
    return shelf, with_free_names(found, kept), kept


def _week(shelf: Shelf, week: str | None) -> str:
    from shipping.week.plan import default_week
    from shipping.words.units import iso_week, week_days

    if week is None:
        return default_week(shelf)
    try:
        return iso_week(week_days(week)[0])
    except ValueError:
        raise wrong("--week", f"'{week}' is not an ISO week.", "Write it as 2026-W49.") from None


@app.command()
def forecast(
    context: Context,
    lots: Annotated[list[str] | None, typer.Argument(help="Lots; none is all.")] = None,
    explain: Annotated[bool, typer.Option("--explain", help="The arithmetic, line by line.")] = False,
    picture: Annotated[str | None, typer.Option(help="A timeline of the lots, to a .svg or .pdf; - draws it here.")] = None,
) -> None:
    """Each lot: stage, degree-days, hatch dates, eggs ahead, safe days. Example: spawnpost forecast FL-31 --explain"""
    from shipping.papers.lot_picture import lot_picture
    from shipping.show import forecast_lines
    from shipping.week.explained import explained
    from shipping.week.lot_timeline import lot_timeline, timeline_lines
    from shipping.week.outlook import outlooks

    edge: Edge = context.obj
    _drawable(picture, "--picture")
    shelf = shelf_now(edge)
    names = tuple(one_of(name, shelf.lot_by_name, "lot") for name in lots or ())
    found = outlooks(shelf, names)
    facts: dict[str, Any] = {"today": edge.today.isoformat(), "lots": [one.as_json() for one in found]}
    lines = list(forecast_lines(found))
    if explain:
        arithmetic = {one.forecast.lot.lot: list(explained(shelf, one.forecast.lot.lot)) for one in found}
        facts["explained"] = arithmetic
        lines += [line for name in arithmetic for line in ("", *arithmetic[name])]
    if picture is not None:
        timeline = lot_timeline(found, shelf)
        if not timeline.rows:
            raise wrong("--picture", "There is no lot to draw.", "Fill in lots, then ask again.")
        facts["timeline"] = [row.as_json() for row in timeline.rows]
        drawn = timeline_lines(timeline) if picture == "-" else _drawn(lot_picture(timeline), picture)
        lines += ["", *drawn]
    say(edge, facts, lines)


def _drawable(name: str | None, option: str) -> None:
    """Stops where a picture cannot be drawn to a file of that name; ``-`` is the terminal."""
    from shipping.papers.pictures import kind_of

    if name not in (None, "-") and kind_of(str(name)) is None:
        raise wrong(
            option, f"'{name}' is neither .svg nor .pdf.", "Name a file that ends in .svg or .pdf, or - for the terminal."
        )


def _drawn(sheet: Sketch, name: str) -> tuple[str, ...]:
    """Writes a picture, and the line that says so."""
    from shipping.papers.pictures import kind_of, picture_bytes

    Path(name).write_bytes(picture_bytes(sheet, kind_of(name) or "svg"))
    return (f"Drew {name}.",)


@app.command()
def ask(
    context: Context,
    lot: Annotated[str, typer.Argument(help="The lot.")],
    to: Annotated[str, typer.Option(help="Country, such as DE, or with its subdivision, DE-BY.")],
    on: Annotated[str | None, typer.Option(help="The dispatch day; else the next 14 days.")] = None,
    service: Annotated[str | None, typer.Option(help="Only this service.")] = None,
    eggs: Annotated[int, typer.Option(min=1, max=100_000, help="Eggs ordered.")] = 20,
    plot: Annotated[str | None, typer.Option(help="The share hatching by day, to a .svg or .pdf; - draws it here.")] = None,
) -> None:
    """Can this lot still ship? One verdict, every option, the last safe day. Example: spawnpost ask FL-31 --to DE"""
    from shipping.papers.risk_picture import risk_picture
    from shipping.post.calendar import subdivision_code
    from shipping.post.countries import is_country
    from shipping.show import reply_lines
    from shipping.week.ask import ask as ask_about
    from shipping.week.rides import Destination
    from shipping.week.risk_curve import curve_lines, no_curve_text, risk_curve

    edge: Edge = context.obj
    _drawable(plot, "--plot")
    shelf = shelf_now(edge)
    country, _, part = to.upper().partition("-")
    if not is_country(country):
        raise wrong("--to", f"'{to}' is not a country code.", "Write the two letters of ISO 3166, such as DE.")
    name = one_of(lot, shelf.lot_by_name, "lot")
    if service is not None:
        one_of(service, [row.service for row in shelf.services], "service")
    day = day_of(on, "--on")
    if day and day < edge.today:
        raise wrong("--on", f"{day} is past.", f"Write {edge.today} or a later day.")
    there = Destination(country, subdivision_code(country, part))
    reply = ask_about(shelf, name, there, on=day, service=service, eggs=eggs)
    facts, lines = reply.as_json(), list(reply_lines(reply, shelf.settings.plan.currency))
    if plot is not None:
        every_day = ask_about(shelf, name, there, service=service, eggs=eggs) if day else reply
        curve = risk_curve(every_day, edge.today, day)
        if not curve.lines:
            raise wrong("--plot", no_curve_text(every_day), "Ask without --plot.")
        facts["risk_curve"] = curve.as_json()
        lines += ["", *(curve_lines(curve) if plot == "-" else _drawn(risk_picture(curve), plot))]
    say(edge, facts, lines)


@app.command()
def margin(
    context: Context,
    eggs: Annotated[int, typer.Argument(min=1, max=100_000, help="Eggs ordered.")],
    loss: Annotated[float | None, typer.Option(min=0, max=0.99, help="The share lost on the way.")] = None,
    packing: Annotated[str | None, typer.Option(help="A packing of your table, with --service and --to.")] = None,
    service: Annotated[str | None, typer.Option(help="A service of your table.")] = None,
    to: Annotated[str | None, typer.Option(help="The country.")] = None,
    on: Annotated[str | None, typer.Option(help="The dispatch day; else today.")] = None,
    kappa: Annotated[float, typer.Option(min=0.1, help="How alike parcels fare; higher is more alike.")] = 40.0,
    promise: Annotated[
        float | None, typer.Option(min=0.01, max=0.9999, help="The chance promised; else the shelf's, or 0.95 with --loss.")
    ] = None,
    eyed: Annotated[bool, typer.Option("--eyed/--not-eyed", help="Have the eggs been seen eyed?")] = True,
) -> None:
    """Eggs to pack for a promise, from a loss or a packing and a route. Example: spawnpost margin 20 --loss 0.12"""
    from shipping.week.margin import margin_of_loss, margin_of_route

    edge: Edge = context.obj
    if loss is not None and packing is None:
        answer = margin_of_loss(eggs, loss, kappa, promise or 0.95)
    elif loss is None and packing and service and to:
        shelf = shelf_now(edge)
        one_of(packing, shelf.packing_by_name, "packing")
        one_of(service, [row.service for row in shelf.services], "service")
        answer = margin_of_route(shelf, eggs, packing, service, to.upper(), day_of(on, "--on") or edge.today, eyed, promise)
    else:
        raise wrong("margin", "Say either a loss or a route.", "Write --loss 0.12, or --packing, --service and --to together.")
    say(edge, answer.as_json(), answer.lines())


@app.command()
def plan(
    context: Context,
    week: Week = None,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the plan in the ledger: its parcels hold their eggs.")] = False,
    compare: Annotated[bool, typer.Option("--compare", help="What differs from the plan kept for that week.")] = False,
    limit: Annotated[float | None, typer.Option(min=0.1, help="Seconds to spend on choosing at the most.")] = None,
    gap: Annotated[float, typer.Option(min=0, max=0.5, help="Stop once this close to the bound (a share).")] = 0.0,
) -> None:
    """The week's plan: parcels, what waits, holds or stops and why, the proof. Example: spawnpost plan --week 2026-W49"""
    from shipping.ledger.counts import eggs_counted
    from shipping.show import difference_lines, plan_lines

    edge: Edge = context.obj
    shelf, found, kept = _plan_now(edge, week, limit, gap)
    lines = list(plan_lines(found, shelf.settings.plan.currency, edge.hide_names))
    facts = shown(edge, found)
    if compare:
        changes = list(difference_lines(found, kept))
        facts["changes"] = [line.strip() for line in changes if line.startswith("  ")]
        lines += changes
    if keep:
        with opened(edge, create=True) as ledger:
            entry = ledger.keep_plan(found.as_json(), eggs_counted(shelf_of(edge)))
        facts["kept_as"] = entry.seq
        lines.append(f"Kept as entry {entry.seq}: its parcels hold their eggs until packed or planned anew.")
    say(edge, facts, lines)


@app.command()
def why(context: Context, order: Annotated[str, typer.Argument(help="The order.")], week: Week = None) -> None:
    """Every option considered for an order, and what ruled it out. Example: spawnpost why D09"""
    from shipping.show import why_lines
    from shipping.week.why import why as why_order

    edge: Edge = context.obj
    every = shelf_of(edge)
    shelf = shelf_now(edge, _week(every, week))
    if order in every.order_by_name and order not in shelf.order_by_name:
        raise wrong("order", f"Order '{order}' is in a parcel already.", "See it with: spawnpost history.")
    found = why_order(shelf, one_of(order, shelf.order_by_name, "order"), _week(shelf, week))
    facts = found.as_json()
    if edge.hide_names and isinstance(facts["parcel"], dict):
        facts["parcel"]["addressee"] = "(name hidden)"
    say(edge, facts, why_lines(found))


@app.command()
def papers(
    context: Context,
    week: Week = None,
    parcel: Annotated[str | None, typer.Option(help="Only this parcel.")] = None,
    only: Annotated[list[str] | None, typer.Option(help="Only this kind of paper; may be given again.")] = None,
    to: Annotated[Path | None, typer.Option(help="Where to; else papers/WEEK in the shelf.")] = None,
    item: Annotated[list[str] | None, typer.Option(help="The post's item number: PARCEL=RR473124829GB.")] = None,
    first_sticker: Annotated[int, typer.Option(min=1, help="The first free sticker of the sheet.")] = 1,
) -> None:
    """Packing slips, labels, tags, care sheets, customs data and pick lists as PDF. Example: spawnpost papers --week 2026-W49"""
    from shipping.papers.customs_form import gaps_by_parcel
    from shipping.papers.folder import listed_in, since_last_printed
    from shipping.papers.writing import write_papers

    edge: Edge = context.obj
    folder = folder_of(edge)
    shelf, found, kept = _plan_now(edge, week)
    out = to or folder / "papers" / found.week
    items = dict(_item(text) for text in item or ())
    before = listed_in(out)
    written = write_papers(
        found,
        shelf,
        out,
        parcel=parcel,
        only=tuple(only or ()),
        items=items,
        first_sticker=first_sticker,
        shelf_folder=folder,
        packed=tuple(one.parcel for one in kept if one.state != "planned"),
    )
    told = since_last_printed(before, listed_in(out))
    gaps = gaps_by_parcel(found, shelf, items)
    facts = {"folder": str(out), "files": [path.name for path in written], **told, "customs_gaps": gaps}
    done = f"Wrote {len(written)} files to {out}."
    lines = [f"Customs data of {name} lacks: {gap}" for name, lacking in gaps.items() for gap in lacking]
    lines += [
        done,
        *(f"{kind.capitalize()} since papers were last printed: {name}" for kind, names in told.items() for name in names),
    ]
    lines += [f"  {path.name}" for path in written]
    say(edge, facts, [done] if edge.quiet else lines)


def _item(text: str) -> tuple[str, str]:
    parcel, equals, number = text.partition("=")
    if not equals:
        raise wrong("--item", f"'{text}' is not PARCEL=NUMBER.", "Write it as 2026-W49-01=RR473124829GB.")
    return parcel.strip(), number.replace(" ", "")


@app.command()
def pairs(
    context: Context,
    eggs: Annotated[int, typer.Argument(min=1, max=10_000, help="Eggs.")],
    hatch: Annotated[float, typer.Option(min=0.01, max=1, help="The share that hatches.")] = 0.8,
    raised: Annotated[float, typer.Option(min=0.01, max=1, help="The share of fry that grow up.")] = 0.75,
    female: Annotated[float, typer.Option(min=0.01, max=0.99, help="The share of females.")] = 0.5,
) -> None:
    """Chances of one pair, two pairs, a trio; eggs needed for each. Example: spawnpost pairs 20 --hatch 0.8"""
    from shipping.eggs.pairs import MOST_EGGS, eggs_for, pair_chances
    from shipping.words.units import percent, rounded

    edge: Edge = context.obj
    grown = hatch * raised
    chances = pair_chances(eggs, grown, female)
    needed = {
        "pair": eggs_for(1, 1, 0.95, grown, female),
        "two pairs": eggs_for(2, 2, 0.95, grown, female),
        "trio": eggs_for(1, 2, 0.95, grown, female),
    }
    facts = {"eggs": eggs, "chances": {wish: rounded(chance) for wish, chance in chances.items()}, "eggs_for_95": needed}
    lines = [
        f"{wish}: {percent(chance)} (for 95 %: {needed[wish] or f'over {MOST_EGGS}'} eggs)" for wish, chance in chances.items()
    ]
    say(edge, facts, [*lines, "Shares are yours or assumed; broods can be very uneven in sex."])
