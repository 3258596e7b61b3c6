"""What this day needs, in its order: tables and kept parcels in; what to do and where out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.should_have_hatched import asks_for_a_look, should_have_hatched
from shipping.ledger.claims import to_settle
from shipping.post.calendar import cut_off_of
from shipping.post.restrictions import closed_at_home, regions_needed, rule_report, rules_needed
from shipping.post.transit import services_to, takes_in
from shipping.post.warmth import weather_place
from shipping.words.keys import grouped
from shipping.worktop.kept_week import (
    Kept,
    WeekNow,
    fish_name,
    gone_orders,
    in_packing_order,
    is_taken_in,
    lots_to_look_at,
    moved_text,
)
from shipping.worktop.page_language import (
    day_words,
    days_words,
    name_of_country,
    name_of_place,
    named,
    past_text,
    shown_name,
    tr,
)
from shipping.worktop.running_list import (
    NO_MONEY_YET,
    ListedLine,
    NextStep,
    asked_in_vain,
    hours_text,
    listed_lines,
)

if TYPE_CHECKING:
    from shipping.eggs.lot_forecast import LotForecast
    from shipping.ledger.disagreements import HeldShort
    from shipping.tables.rows.lots import Lot
    from shipping.tables.rows.orders import Order
    from shipping.tables.shelf import Shelf
    from shipping.worktop.promise import Outlook

#: A rule that grows too old within so many days is said, and so are eggs that hatch unsold within so many.
SOON_D = 7
#: So many of a step stand open where they can wait, and where they are this day's work.
FEW, MORE = 3, 6
#: So many things of a step are named; the others stand on its own page.
MOST_NAMED = 18
#: The steps of the day, eggs first, then money and letters: what one thing to do in it is, what several are,
#: and where all of them stand.
STEPS: Mapping[str, tuple[str, str, str]] = {
    "now": ("thing that cannot wait", "things that cannot wait", "/packing"),
    "looks": ("lot to look at", "lots to look at", "/lots"),
    "pack": ("parcel to pack today", "parcels to pack today", "/packing"),
    "send": ("parcel to send today", "parcels to send today", "/packing"),
    "since": ("order since the plan", "orders since the plan", "/plan"),
    "reports": ("report due", "reports due", "/arrivals"),
    "claims": ("parcel to settle with its buyer", "parcels to settle with their buyers", "/claims"),
    "paid": ("order not paid yet", "orders not paid yet", "/tables/orders"),
    "answers": ("answer to ask for", "answers to ask for", "/rules"),
    "stuck": ("paid order that does not go", "paid orders that do not go", "/tables/orders"),
    "stale": ("rule that grows old", "rules that grow old", "/tables/rules"),
    "beyond": (
        "order that payment alone would not let go",
        "orders that payment alone would not let go",
        "/tables/orders",
    ),
    "unsold": ("lot that hatches unsold this week", "lots that hatch unsold this week", "/lots"),
}


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do: what it is about, why, where it is done, and on which button that is ("" where its
    step has one for all); ``tag`` is a word that marks it, ``is_barred`` a parcel that must not go any more,
    ``weather`` where an assumed warmth is given, ``same`` what may hold for several alike.
    """

    about: str
    why: str
    button: str
    address: str
    urgent: bool = False
    post_to: str = ""
    cells: tuple[tuple[str, str], ...] = ()
    tag: str = ""
    is_barred: bool = False
    weather: str = ""
    same: str = ""

    @property
    def told(self) -> str:
        """Why, with what is the same for several."""
        return f"{self.why} {self.same}".strip()


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the day, of `STEPS`: the things to do in it; ``whole`` is the task that stands for all of
    them, where one button does, and ``hint`` what is to be known of them.
    """

    key: str
    tasks: tuple[Task, ...]
    whole: Task | None = None
    hint: str = ""

    @property
    def next_task(self) -> Task:
        """What to do first of it."""
        if self.whole is None:
            return self.tasks[0]
        return replace(self.whole, about=f"{len(self.tasks)} {self.name_of(len(self.tasks))}")

    def name_of(self, count: int) -> str:
        """What so many things of it are called."""
        return tr(STEPS[self.key][count != 1])

    def alike(self, tasks: Sequence[Task], said: str = "") -> list[tuple[str, list[Task]]]:
        """Some of its tasks by what is the same for several, which is said once; "" where each says its own,
        or where that was ``said`` already.
        """
        found: list[tuple[str, list[Task]]] = []
        for same, alike in grouped((task.same, task) for task in tasks).items():
            is_once = len(alike) > 1 or same == said
            once = same if is_once and same != said else ""
            shown = [replace(one, same="") for one in alike] if is_once else alike
            if found and not once and not found[-1][0]:
                found[-1][1].extend(shown)
            else:
                found.append((once, shown))
        return found

    @property
    def rest(self) -> int:
        """How many more there are than this page names."""
        return max(0, len(self.tasks) - MOST_NAMED)

    @property
    def open(self) -> int:
        """How many of them stand open."""
        return MORE if self.key in ("now", "looks", "pack", "send") else FEW

    @property
    def address(self) -> str:
        """Where all of them stand."""
        return STEPS[self.key][2]


def steps_of_the_day(
    shelf: Shelf,
    left: Shelf,
    kept: Sequence[Kept],
    now: WeekNow,
    outlooks: Mapping[str, Outlook],
    short: Sequence[HeldShort],
) -> tuple[Step, ...]:
    """The steps that have anything to do, in the order of the day; none where the day's work is done.

    ``shelf`` are the tables, ``left`` the same as the ledger leaves them; ``now`` is this week as it is
    planned; ``outlooks`` are those of late and stopped parcels, by name; ``short`` are lots that lack eggs
    held for parcels. What rests on a plan that is still being reckoned is not told.
    """
    is_known = not now.is_reckoning
    beyond = asked_in_vain(now.lines_out, shelf)
    tasks = {
        "now": _cannot_wait(left, now, (*late_parcels(kept, outlooks, shelf), *_held_short(short, left))),
        "looks": _looks(left, kept, now.proposed),
        "pack": _parcels(kept, "planned", shelf, outlooks),
        "send": _parcels(kept, "packed", shelf, {}),
        "since": _since(left, now),
        "reports": _reports(kept, shelf.today),
        "claims": _claims(kept, shelf),
        "paid": _payments(left, beyond) if is_known else (),
        "answers": answers_to_get(shelf, now),
        "stuck": _paid_in_vain(left, now),
        "stale": _ageing(shelf),
        "beyond": _beyond_payment(left, beyond),
        "unsold": _unsold(left, now) if is_known else (),
    }
    steps = (Step(key, tuple(tasks[key])) for key in STEPS)
    return tuple(_as_a_whole(step, kept, shelf) for step in steps if step.tasks)


def _as_a_whole(step: Step, kept: Sequence[Kept], shelf: Shelf) -> Step:
    if step.key == "pack":
        hours = _hours(kept, "planned", shelf)
        return replace(step, whole=Task("", hours, tr("Pack them"), step.tasks[0].address))
    if step.key == "send":
        hours = _hours(kept, "packed", shelf)
        return replace(step, whole=Task("", hours, tr("Send them"), step.tasks[0].address))
    if step.key == "answers":
        return replace(
            step,
            hint=tr("Ask in writing, and write who said what; of a temperature, write what you know of it."),
        )
    if step.key == "stuck":
        return replace(
            step,
            hint=tr(
                "You have their money. Mend what stands in the way, agree on other eggs with the buyer, or"
                " give the money back and cancel the order."
            ),
        )
    return replace(step, whole=Task("", "", tr("Make an offer"), "/offer")) if step.key == "unsold" else step


def answers_to_get(shelf: Shelf, now: WeekNow) -> tuple[Task, ...]:
    """What somebody else must answer before orders go."""
    return (*open_answers(shelf), *_warmth_to_give(shelf, now.lines_out))


def open_answers(shelf: Shelf) -> Iterator[Task]:
    """Regions that buyers have not named, rules nobody has looked up, and operators who have not said yes."""
    from shipping.worktop.views.rules import rule_card

    for order in regions_needed(shelf):
        name = shown_name(shelf.order_by_name[order.order].address.addressee)
        why = tr(
            "The rules for {fish} are not the same everywhere ({country}), and the order does not tell which"
            " region it goes to. Ask the buyer.",
            fish=", ".join(order.species),
            country=name_of_country(order.country),
        )
        yield Task(
            named(order.order, name),
            why,
            tr("Name the region"),
            f"/orders/{quote(order.order, safe='')}/region",
        )
    for needed in rules_needed(shelf):
        card = rule_card(needed, shelf)
        why = f"{tr(card.what)} {_waiting(needed.orders)}"
        yield Task(named(card.country, card.fish), why, tr("Write the answer"), f"/rules#h-{card.id}")
    said = {row.service: row.live_eggs for row in reversed(shelf.services) if row.live_eggs != "yes"}
    for service in dict.fromkeys(row.service for row in shelf.services if shelf.orders):
        if said.get(service, "no") != "no":
            why = tr("Its operator has not said so yet; no parcel goes by it before.")
            about = tr("“{service}”: does this service take live eggs?", service=service)
            yield Task(about, why, tr("Write the answer"), f"/operators/{quote(service)}")


def _warmth_to_give(shelf: Shelf, lines_out: Sequence[Mapping[str, Any]]) -> Iterator[Task]:
    """Places of which nobody has said how warm parcels stay there, and whose orders are held for it."""
    waiting: dict[str, list[ListedLine]] = {}
    for line in listed_lines(lines_out, shelf, frozenset()):
        if line.verdict == "hold" and line.reasons and line.reasons[0].weather:
            waiting.setdefault(line.reasons[0].weather, []).append(line)
    for weather, lines in waiting.items():
        first = lines[0].reasons[0]
        why = f"{first.text} {_waiting(list(dict.fromkeys(line.order for line in lines)))}"
        order = shelf.order_by_name[lines[0].order]
        place = name_of_place(weather_place(order.country, order.address.part))
        about = tr("{country}: how warm is it around parcels on the way?", country=place)
        yield Task(about, why, first.button, first.address, weather=weather, same=f"{first.step}.")


def _waiting(orders: Sequence[str]) -> str:
    names = ", ".join(orders)
    if len(orders) == 1:
        return tr("Order {order} waits for this.", order=names)
    return tr("Orders {orders} wait for this.", orders=names)


#: What is to be looked for in a lot, by what is wrong with it.
LOOK_FOR: Mapping[str, str] = {
    "overdue": "By its dates it should have hatched, and at the last look it had not. Look for fry and for"
    " dead eggs; until then nothing of it is sent.",
    "too-old": "By its dates it has hatched by now. Look for fry and for dead eggs; until then nothing of it"
    " is sent.",
    "misdated": "What was seen does not fit the days it was laid. Look again; until then nothing of it is"
    " sent.",
    "past-wetting": "Its days of wetting have passed. Look whether the eggs live; until then nothing of it is"
    " sent.",
    "came-back": "Eggs came back to it, and may be nearer to hatching than the others. Look at it; until then"
    " nothing of it is sent.",
    "recount": "More eggs were counted than can be there. Count again; until then nothing of it is sent.",
}


def _cannot_wait(left: Shelf, now: WeekNow, parcels: Iterable[Task]) -> Iterator[Task]:
    """Late parcels, packed first, and short ones; lots that may hatch; no plan; lots closing today."""
    yield from parcels
    hour = _first_hour(left)
    planning = tuple(_planning(left, now, hour))
    yield from planning if hour else ()
    for lot in left.lots:
        forecast = lot_forecast(left, lot.lot)
        if asks_for_a_look(forecast):
            doubts = forecast.doubts(left.today)
            why, same = (
                ("", LOOK_FOR[doubts[0].code]) if doubts else should_have_hatched(forecast) or ("", "")
            )
            about = tr("Look at lot {lot}, {fish}", lot=lot.lot, fish=_fish(lot, left))
            yield Task(about, tr(why), tr("Write what you see"), _card_of(lot.lot), True, same=tr(same))
    yield from () if hour else planning


def late_parcels(kept: Sequence[Kept], outlooks: Mapping[str, Outlook], shelf: Shelf) -> Iterator[Task]:
    """Parcels past their day, packed ones first; each with what can still be done with it."""
    today = shelf.today
    late = [parcel for parcel in in_packing_order(kept) if parcel.parcel.is_overdue(today)]
    for parcel in sorted(late, key=lambda parcel: parcel.parcel.is_planned):
        yield _late_parcel(parcel, outlooks.get(parcel.name), shelf)


def _held_short(short: Iterable[HeldShort], left: Shelf) -> Iterator[Task]:
    for one in short:
        about = tr("Lot {lot}, {fish}", lot=one.lot, fish=_fish(left.lot_by_name[one.lot], left))
        yield Task(about, tr(one.text), tr("Plan again"), f"/plan?week={one.week}", True)


def _late_parcel(kept: Kept, outlook: Outlook | None, shelf: Shelf) -> Task:
    """What can still be done with a parcel past its day."""
    today, moved = shelf.today, moved_text(kept, shelf)
    to, due = name_of_country(kept.parcel.to), day_words(kept.parcel.dispatch_on)
    about = tr("Parcel {number} to {name}, {to}", number=kept.number, name=shown_name(kept.addressee), to=to)
    is_planned = kept.parcel.is_planned
    why = (
        tr("Not packed, and due on {day}.", day=due)
        if is_planned
        else tr("Packed, and due on {day}.", day=due)
    )
    why += f" {outlook.words(today)}" if outlook else ""
    address = _bench_of(kept)
    if outlook is None or not outlook.is_barred:
        why += f" {moved}" if moved else ""
        return Task(
            about, why, tr("Pack it") if is_planned else tr("Send it"), address, True, tag=tr("overdue")
        )
    if is_planned:
        button, address = tr("Move it"), f"/parcels/{kept.name}/move"
    else:
        button = tr("Take the eggs out")
        why += f" {tr('Open it, put the eggs back into their lot, and plan the week again.')}"
    return Task(about, why, button, address, True, tag=tr("do not send"), is_barred=True)


def _hours(kept: Sequence[Kept], state: str, shelf: Shelf) -> str:
    """Until when today's parcels can be handed over, the first hour first; "" where no table says it."""
    services = {
        one.parcel.service
        for one in kept
        if one.parcel.state == state
        and one.parcel.dispatch_on == shelf.today
        and is_taken_in(one.parcel.service, shelf.today, one.parcel.place(shelf), shelf)
    }
    return hours_text(((name, cut_off_of(name, shelf) or "") for name in services), shelf.today)


def _fish(lot: Lot, shelf: Shelf) -> str:
    return fish_name(lot.species, lot.population, shelf)


def _bench_of(kept: Kept) -> str:
    return f"/packing?at={kept.name}#h-{kept.name}"


def _card_of(lot: str) -> str:
    return f"/lots?at={quote(lot)}#h-{quote(lot)}"


def _looks(left: Shelf, kept: Sequence[Kept], proposed: Sequence[Mapping[str, Any]] = ()) -> Iterator[Task]:
    """Lots whose eyes parcels wait for, kept or of a plan not kept yet; damp ones due to be wetted."""
    waiting: dict[str, tuple[str, date | str, str]] = {}
    for parcel in proposed:
        for draw in (draw for line in parcel["lines"] for draw in line["draws"] if draw["look_first"]):
            waiting.setdefault(draw["lot"], ("", parcel["dispatch_on"], ""))
    for one in reversed(kept):
        for lot in lots_to_look_at(one, left) if one.parcel.is_planned else ():
            waiting[lot] = one.number, one.parcel.dispatch_on, f"/packing/{one.name}/eyes"
    for row in left.lots:
        lot, forecast = row.lot, lot_forecast(left, row.lot)
        if forecast.doubts(left.today) or asks_for_a_look(forecast):
            continue
        about = tr("Lot {lot}, {fish}", lot=lot, fish=_fish(row, left))
        if lot in waiting:
            number, day, path = waiting[lot]
            when = day_words(day)
            why = (
                tr(
                    "Do its eggs show eyes? Parcel {number} of {day} goes only if they do.",
                    number=number,
                    day=when,
                )
                if number
                else tr("Do its eggs show eyes? A parcel planned for {day} goes only if they do.", day=when)
            )
            button = tr("I saw eyes") if path else tr("Write what you see")
            yield Task(about, why, button, _card_of(lot), False, path, (("lot", lot),))
        elif due := _due_to_wet(forecast):
            late, day = days_words(*due)
            why = tr(
                "To be wetted by {late}, {day} at the latest. Wet it, or look and write what you see.",
                late=late,
                day=day,
            )
            yield Task(about, why, tr("Write what you see"), _card_of(lot))


def _due_to_wet(forecast: LotForecast) -> tuple[date, date] | None:
    """Until when, and when at the latest, damp eggs are wetted: due within a week, and not seen for one."""
    until, last, week = forecast.wetting[1], forecast.last_wetting, timedelta(days=SOON_D)
    if until is None or last is None or forecast.is_emptied:
        return None
    is_due = until - week <= forecast.today and forecast.last_seen <= forecast.today - week
    return (until, last) if is_due else None


def _unpaid(left: Shelf) -> Iterator[Order]:
    return (order for order in left.orders if not all(line.paid for line in order.lines))


def _about(order: Order) -> str:
    return named(order.order, shown_name(order.address.addressee))


def _payments(left: Shelf, beyond: Mapping[str, NextStep]) -> Iterator[Task]:
    """Orders that go once they are paid, as far as is known."""
    for order in _unpaid(left):
        if order.order not in beyond:
            eggs = sum(line.eggs for line in order.lines)
            why = tr("{eggs} eggs are not packed before the money is there.", eggs=eggs)
            address = f"/orders/{quote(order.order, safe='')}/paid"
            yield Task(_about(order), why, tr("The money came"), "", post_to=address)


def _beyond_payment(left: Shelf, beyond: Mapping[str, NextStep]) -> Iterator[Task]:
    """Orders not paid that other things keep from going, too: no money is asked for before those are gone."""
    for order in _unpaid(left):
        if first := beyond.get(order.order):
            why = f"{tr(NO_MONEY_YET)} {first.text}"
            why += f" {first.step}." if first.step else ""
            at = f"/orders/{quote(order.order, safe='')}"
            button, address = first.button or tr("Open the order"), first.address or at
            yield Task(_about(order), why, button, address)


def _paid_in_vain(left: Shelf, now: WeekNow) -> Iterator[Task]:
    """Paid orders that do not go and will not by themselves, those first that nothing is asked for."""
    lines = [line for line in listed_lines(now.lines_out, left, frozenset()) if line.verdict != "wait"]
    told: set[str] = set()
    for line in sorted(lines, key=lambda line: line.verdict == "hold"):
        order = left.order_by_name.get(line.order)
        if order and line.order not in told and all(one.paid for one in order.lines):
            told.add(line.order)
            first, at = line.reasons[0], f"/orders/{quote(line.order, safe='')}"
            if line.verdict == "hold" and first.weather:
                asked = tr("How warm it is on the way is asked above.")
                yield Task(_about(order), "", tr("Open the order"), at, same=asked)
            else:
                why = f"{first.text} {first.step}." if first.step else first.text
                yield Task(_about(order), why, first.button or tr("Open the order"), first.address or at)


def _planning(left: Shelf, now: WeekNow, hour: str) -> Iterator[Task]:
    is_empty = "parcels" in now.facts and not now.proposed
    if now.kept is None and left.orders and left.lots and not is_empty:
        why = tr("Which parcels go, and when: nothing can be packed before you keep the plan.")
        yield Task(tr("Plan the week"), f"{why} {hour}".strip(), tr("See the plan"), "/plan", True)


def _first_hour(shelf: Shelf) -> str:
    """When the first service to where orders go closes today; "" where none does, or no table says it."""
    wanted = {order.place for order in shelf.orders}
    hours = {
        (row.cut_off, row.service)
        for place in wanted
        for row in services_to(shelf, *place)
        if row.cut_off and takes_in(row, shelf.today, shelf, *place)
    }
    if not hours:
        return ""
    hour, service = min(hours, key=lambda one: (bool(past_text(one[0], shelf.today)), one))
    if past := past_text(hour, shelf.today):
        return past
    return tr("The first service closes at {hour} today ({service}).", hour=hour, service=service)


def _since(left: Shelf, now: WeekNow) -> Iterator[Task]:
    """Paid orders in no parcel kept that came or were let go since, or that a plan of now lets go: what the
    kept one left them out for is answered.
    """
    if now.kept is None:
        return
    goes = {line["order"] for parcel in now.proposed for line in parcel["lines"]}
    known = {line["order"] for line in (*now.kept["lines_out"], *now.lines_out)} - goes
    for order in left.orders:
        if order.order not in known and all(line.paid for line in order.lines):
            same = tr("In no parcel of the plan kept; planned again, it may still go.")
            yield Task(_about(order), "", tr("Plan again"), "/plan", same=same)


def _parcels(
    kept: Sequence[Kept], state: str, shelf: Shelf, outlooks: Mapping[str, Outlook]
) -> Iterator[Task]:
    """Parcels to be packed or sent whose day is today; those past their day stand under what cannot wait."""
    for parcel in in_packing_order(kept):
        if parcel.parcel.state == state and parcel.parcel.dispatch_on == shelf.today:
            to, name = name_of_country(parcel.parcel.to), shown_name(parcel.addressee)
            why = f"{parcel.parcel.service} – {to}"
            if not is_taken_in(parcel.parcel.service, shelf.today, parcel.parcel.place(shelf), shelf):
                why = tr("{service} takes nothing in today.", service=parcel.parcel.service)
            about = tr("Parcel {number} to {name}", number=parcel.number, name=name)
            stopped = outlooks[parcel.name].words(shelf.today) if parcel.name in outlooks else ""
            gone = gone_orders(parcel.parcel, shelf) or stopped
            why = " ".join(filter(None, (gone, why, moved_text(parcel, shelf))))
            yield Task(about, why, "", _bench_of(parcel), tag=tr("do not send") if gone else "")


def _reports(kept: Sequence[Kept], today: date) -> Iterator[Task]:
    for one in kept:
        parcel = one.parcel
        if parcel.state == "sent" and parcel.p95 is not None and today > parcel.p95:
            about, name = _of_its_week(one), one.name
            why = tr("Should have come by {day}; nothing was heard.", day=day_words(parcel.p95))
            yield Task(about, why, tr("Write the report"), f"/arrivals?at={name}#h-{name}")
        elif parcel.state == "arrived" and parcel.p95 is not None and today > parcel.p95:
            untold = [f"{line.order}:{line.line}" for line in parcel.lines if line.key not in parcel.reports]
            if untold:
                about, name = _of_its_week(one), one.name
                why = tr("It came; of {lines} nothing was told.", lines=", ".join(untold))
                yield Task(about, why, tr("Write the report"), f"/arrivals?at={name}#h-{name}")


def _of_its_week(kept: Kept) -> str:
    """A parcel that may be one of weeks ago, by its number, week and buyer."""
    week, name = int(kept.name[6:8]), shown_name(kept.addressee)
    return tr("Parcel {number} of week {week} to {name}", number=kept.number, week=week, name=name)


def _claims(kept: Sequence[Kept], shelf: Shelf) -> Iterator[Task]:
    """Parcels short, lost or claimed for, not settled; fry only if claimed; eggs owed for a line gone."""
    for stuck in (notice for notice in shelf.notices if notice.code == "owed"):
        text = f"{tr(stuck.text)} {tr(stuck.mend)}"
        yield Task(tr("Eggs to send again"), text, tr("Open the orders"), "/tables/orders")
    told = {one.name: one for one in kept}
    for name, about in to_settle((one.parcel for one in kept), shelf.settings.claims).items():
        buyer = tr(
            "Parcel {number} to {name}", number=told[name].number, name=shown_name(told[name].addressee)
        )
        why = ", ".join(map(tr, about))
        yield Task(buyer, why, tr("Settle it with the buyer"), f"/claims#c-{name}")


def _ageing(shelf: Shelf) -> Iterator[Task]:
    """Rules for the orders in hand that hold now, and will be too old within a week."""
    limit = shelf.settings.plan.rule_age_days
    countries = {order.country for order in shelf.orders}
    for rule, age, stale in rule_report(shelf, None, None).rows:
        is_wanted = bool(countries & {place.partition("-")[0] for place in rule.places})
        if not stale and age <= limit < age + SOON_D and is_wanted:
            why = tr(
                "Looked up {age} days ago; after {limit} it holds parcels back. Look it up again.",
                age=age,
                limit=limit,
            )
            address = f"/tables/rules/{rule.at.row}" if rule.at.file.endswith(".csv") else "/rules"
            yield Task(named(" ".join(rule.places), rule.taxon), why, tr("Date it again"), address)


def _unsold(left: Shelf, now: WeekNow) -> Iterator[Task]:
    """Lots whose eggs are for nobody, and hatch soon; what a plan not kept yet takes of them is said."""
    last = left.today + timedelta(days=SOON_D)
    taken = Counter[str]()
    for parcel in now.proposed:
        for draw in (draw for line in parcel["lines"] for draw in line["draws"]):
            taken[draw["lot"]] += draw["pack"]
    tasks = []
    for lot in left.lots:
        forecast = lot_forecast(left, lot.lot)
        if lot.kept_damp or closed_at_home(left, forecast.species, lot.medium):
            continue
        free = forecast.free_on(left.today) - taken[lot.lot]
        half = forecast.day_hatched(0.5) if free > 0 and not should_have_hatched(forecast) else None
        if half and half <= last:
            about = tr("Lot {lot}, {fish}", lot=lot.lot, fish=_fish(lot, left))
            why = tr("Eggs free: {eggs}; half will have hatched by {day}.", eggs=free, day=day_words(half))
            if more := taken[lot.lot]:
                why += f" {tr('Besides, the plan not kept yet takes {eggs}.', eggs=more)}"
            tasks.append((half, lot.lot, Task(about, why, "", "")))
    yield from (task for _, _, task in sorted(tasks, key=lambda task: task[:2]))
