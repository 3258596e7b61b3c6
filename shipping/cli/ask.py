"""The commands that ask: forecasts, whether a lot can ship, what can be sold, eggs for a promise or pair."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer import Argument, Option

from shipping.cli.global_options import (
    Edge,
    day_of,
    drawable,
    drawn,
    number_option,
    one_of,
    opened_if_begun,
    path_option,
    place_of,
    print_answer,
    shelf_now,
    wrong,
)
from shipping.words.problems import ShelfProblems

if TYPE_CHECKING:
    from shipping.questions.offer import Place
    from shipping.tables.shelf import Shelf


def forecast(
    context: typer.Context,
    lots: Annotated[list[str] | None, Argument(help="Lots; none is all.")] = None,
    explain: Annotated[bool, Option("--explain", help="The arithmetic, line by line.")] = False,
    picture: Annotated[
        str | None, Option(help="A timeline of the lots, to a .svg or .pdf; - draws it here.")
    ] = None,
) -> None:
    """Each lot: stage, degree-days, hatch dates, eggs ahead, safe days. Example: spawnpost forecast FL-31
    --explain
    """
    from shipping.cli.print_answers import forecast_lines
    from shipping.cli.terminal import Window
    from shipping.questions.forecast import explained
    from shipping.questions.forecast import outlooks as outlooks_of

    edge: Edge = context.obj
    drawable(picture, "--picture")
    shelf = shelf_now(edge)
    outlooks = outlooks_of(shelf, tuple(one_of(name, shelf.lot_by_name, "lot") for name in lots or ()))
    facts: dict[str, Any] = {
        "today": edge.today.isoformat(),
        "lots": [outlook.as_json() for outlook in outlooks],
    }
    lines = list(forecast_lines(outlooks, Window.of_output()))
    if explain:
        arithmetic = {
            outlook.forecast.lot.lot: list(explained(shelf, outlook.forecast.lot.lot)) for outlook in outlooks
        }
        facts["explained"] = arithmetic
        lines += [line for name in arithmetic for line in ("", *arithmetic[name])]
    if picture is not None:
        from shipping.papers.charts.lot_picture import lot_pages, lot_picture
        from shipping.questions.forecast import lot_timeline, timeline_lines

        timeline = lot_timeline(outlooks, shelf)
        if not timeline.rows:
            raise wrong("--picture", "There is no lot to draw.", "Fill in lots, then ask again.")
        facts["timeline"] = [row.as_json() for row in timeline.rows]
        sheets = lot_pages(timeline) if picture.lower().endswith(".pdf") else (lot_picture(timeline),)
        lines += ["", *(timeline_lines(timeline) if picture == "-" else drawn(sheets, picture))]
    print_answer(edge, facts, lines)


def ask(
    context: typer.Context,
    lot: Annotated[str, Argument(help="The lot.")],
    to: Annotated[str, Option(help="Country, such as DE, or with its subdivision, DE-BY.")],
    on: Annotated[str | None, Option(help="The dispatch day; else the next 14 days.")] = None,
    service: Annotated[str | None, Option(help="Only this service.")] = None,
    eggs: Annotated[int, Option(min=1, max=100_000, help="Eggs ordered.")] = 20,
    plot: Annotated[
        str | None, Option(help="The share hatching by day, to a .svg or .pdf; - draws it here.")
    ] = None,
    every: Annotated[bool, Option("--all", help="Every option with its figures.")] = False,
) -> None:
    """Can this lot still ship? One verdict, the last day by this reckoning, the best options. Example:
    spawnpost ask FL-31 --to DE
    """
    from shipping.cli.print_answers import reply_lines
    from shipping.cli.terminal import Window
    from shipping.options.option import Destination
    from shipping.papers.charts.pictures import risk_picture
    from shipping.questions.can_it_ship import ask as ask_about
    from shipping.questions.risk_curve import curve_lines, no_curve_text, risk_curve

    edge: Edge = context.obj
    drawable(plot, "--plot")
    shelf = shelf_now(edge)
    country, _, part = place_of(to, home=shelf.settings.home.country).partition("-")
    name = one_of(lot, shelf.lot_by_name, "lot")
    if service is not None:
        one_of(service, [row.service for row in shelf.services], "service")
    day = day_of(edge, on, "--on", ahead=True)
    if day and day < edge.today:
        raise wrong("--on", f"{day} is past.", f"Write {edge.today} or a later day.")
    there = Destination.of(country, part)
    reply = ask_about(shelf, name, there, on=day, service=service, eggs=eggs)
    facts = reply.as_json()
    lines = list(reply_lines(reply, shelf.settings.plan.currency, Window.of_output(), every))
    if plot is not None:
        every_day = ask_about(shelf, name, there, service=service, eggs=eggs) if day else reply
        curve = risk_curve(every_day, edge.today, day)
        if not curve.lines:
            raise wrong("--plot", no_curve_text(every_day), "Ask without --plot.")
        facts["risk_curve"] = curve.as_json()
        lines += ["", *(curve_lines(curve) if plot == "-" else drawn((risk_picture(curve),), plot))]
    print_answer(edge, facts, lines)


def margin(
    context: typer.Context,
    eggs: Annotated[int, Argument(min=1, max=100_000, help="Eggs ordered.")],
    loss: Annotated[float | None, number_option(0, 0.99, "The share lost on the way; 0.12 is 12 %.")] = None,
    packing: Annotated[str | None, Option(help="A packing of your table, with --service and --to.")] = None,
    service: Annotated[str | None, Option(help="A service of your table.")] = None,
    to: Annotated[str | None, Option(help="The country.")] = None,
    on: Annotated[str | None, Option(help="The dispatch day; else today.")] = None,
    kappa: Annotated[
        float,
        number_option(
            0.1, None, "The larger, the less alike the eggs of one parcel fare: leave it unless you know."
        ),
    ] = 40.0,
    promise: Annotated[
        float | None,
        number_option(0.01, 0.9999, "The chance promised; else the shelf's, or 0.95 with --loss."),
    ] = None,
    eyed: Annotated[bool, Option("--eyed/--not-eyed", help="Have the eggs been seen eyed?")] = True,
    lot: Annotated[str | None, Option(help="A lot, for its own figures; else none hatches.")] = None,
) -> None:
    """Eggs to pack for a promise, from a loss or a packing and a route. Example: spawnpost margin 20 --loss
    0.12
    """
    from shipping.cli.terminal import Window
    from shipping.questions.margin import margin_of_loss, margin_of_route

    edge: Edge = context.obj
    if loss is not None and packing is None:
        answer = margin_of_loss(eggs, loss, kappa, promise or 0.95)
    elif loss is None and packing and service and to:
        shelf = shelf_now(edge)
        one_of(packing, shelf.packing_by_name, "packing")
        one_of(service, [row.service for row in shelf.services], "service")
        there = place_of(to, home=shelf.settings.home.country)
        day = day_of(edge, on, "--on", ahead=True) or edge.today
        if lot is not None:
            one_of(lot, shelf.lot_by_name, "lot")
        answer = margin_of_route(shelf, eggs, packing, service, there, day, eyed, promise, lot)
    else:
        mend = "Write --loss 0.12, or --packing, --service and --to together."
        raise wrong("margin", "Say either a loss or a route.", mend)
    window = Window.of_output()
    print_answer(edge, answer.as_json(), (line for text in answer.lines() for line in window.wrapped(text)))


def pairs(
    context: typer.Context,
    eggs: Annotated[int, Argument(min=1, max=10_000, help="Eggs.")],
    hatch: Annotated[float, number_option(0.01, 1, "The share that hatches.")] = 0.8,
    raised: Annotated[float, number_option(0.01, 1, "The share of fry that grow up.")] = 0.75,
    female: Annotated[float, number_option(0.01, 0.99, "The share of females.")] = 0.5,
    sex_kappa: Annotated[
        float, number_option(0.1, 1e6, "The smaller, the more broods differ in sex.")
    ] = 20.0,
) -> None:
    """Chances of one pair, two pairs, a trio; eggs needed for each. Example: spawnpost pairs 20 --hatch
    0.8
    """
    from shipping.eggs.pairs import MOST_EGGS, eggs_for, pair_chances
    from shipping.words.units import percent, rounded

    edge: Edge = context.obj
    grown = hatch * raised
    chances = pair_chances(eggs, grown, female, sex_kappa)
    wishes = {"pair": (1, 1), "two pairs": (2, 2), "trio": (1, 2)}
    needed = {wish: eggs_for(*sexes, 0.95, grown, female, sex_kappa) for wish, sexes in wishes.items()}
    shown = {wish: rounded(chance) for wish, chance in chances.items()}
    facts = {"eggs": eggs, "chances": shown, "eggs_for_95": needed}
    lines = [
        f"{wish}: {percent(chance)} (for 95 %: {needed[wish] or f'over {MOST_EGGS}'} eggs)"
        for wish, chance in chances.items()
    ]
    print_answer(edge, facts, [*lines, "Shares are yours or assumed; broods can be very uneven in sex."])


def offer(
    context: typer.Context,
    to: Annotated[list[str] | None, Option(help="Only this zone or country; may be given again.")] = None,
    species: Annotated[str | None, Option(help="Only this species.")] = None,
    csv: Annotated[Path | None, path_option("Write the offers to this CSV file too.")] = None,
    limit: Annotated[
        float | None, number_option(0.1, None, "Seconds to spend on the week's plan at the most.")
    ] = None,
    text: Annotated[bool, Option("--text", help="A short text to paste into a forum or a mail.")] = False,
) -> None:
    """What can still be sold, to where, and until which day. Example: spawnpost offer --to NORTH --species
    gardneri
    """
    from shipping.cli.print_offer import offer_csv, offer_lines
    from shipping.cli.terminal import Window, reason_text, step_text
    from shipping.questions.offer import offer as offers_of
    from shipping.questions.offer_text import doubts_of, offer_text, unasked_of
    from shipping.tables.files.whole_file import write_file
    from shipping.tables.rows.settings import INVENTED_SENDER
    from shipping.week.objective import default_week
    from shipping.week.plan import make_plan

    edge: Edge = context.obj
    shelf = shelf_now(edge)
    if species is not None:
        one_of(species, shelf.species, "species")
    there = tuple(_place(shelf, name) for name in dict.fromkeys(to or ()))
    if csv is not None:
        _may_write(csv)
    plan = make_plan(shelf, default_week(shelf), seconds=limit)
    with opened_if_begun(edge) as ledger:
        held = dict(ledger.held_by_lot()) if ledger else {}
    offers = offers_of(shelf, plan, to=there, species=species, kept=held)
    facts = offers.as_json()
    sender = shelf.settings.sender
    if text and sender.is_invented:
        raise wrong("sender", *INVENTED_SENDER)
    lines = list(
        offer_text(offers, sender) if text else offer_lines(offers, Window.of_output(), bool(to or species))
    )
    if text:
        facts["text"] = "\n".join(lines)
        for doubt in doubts_of(offers):  # beside the text, which is for buyers
            typer.echo(f"Look first: {doubt}", err=True)
        for one in unasked_of(offers):
            said = f"{reason_text(one, offered=True)}. {step_text(one, offered=True)}."
            typer.echo(f"Not in the text: {said}", err=True)
    if csv is not None:
        write_file(csv, offer_csv(offers))
        facts["csv"] = str(csv)
        lines += [] if text or edge.quiet else ["", f"Wrote {csv}."]
    print_answer(edge, facts, lines)


def _place(shelf: Shelf, name: str) -> Place:
    """The zone of that name, or the country, with its subdivision where one is named."""
    from shipping.options.option import Destination
    from shipping.questions.offer import Place, places
    from shipping.tables.country_parts import part_meant

    known = {place.name.casefold(): place for place in places(shelf)}
    if name.casefold() in known:
        return known[name.casefold()]
    try:
        country, _, part = place_of(name, home=shelf.settings.home.country).partition("-")
    except ShelfProblems as told:
        zones = ", ".join(place.name for place in known.values())
        mend = f"Write two letters of ISO 3166, or one of: {zones}."
        mend = told.problems[0].mend if part_meant(name, shelf.settings.home.country) else mend
        raise wrong("--to", f"'{name}' is neither a zone nor a country.", mend) from None
    code = f"{country}-{part}" if part else country
    return Place(code, (Destination.of(country, part),))


def _may_write(path: Path) -> None:
    """Stops where a file stands that is no offer: tables are never written over."""
    from shipping.cli.print_offer import COLUMNS

    written = path.read_bytes().removeprefix(b"\xef\xbb\xbf") if path.is_file() else b""
    if path.exists() and not written.startswith(",".join(COLUMNS).encode()):
        raise wrong("--csv", f"{path} is there already, and is no offer.", "Name another file.")
