"""A kept parcel on the day it is packed or sent: ledger and shelf in, what was recorded out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from shipping.eggs.overpack import ROUNDING
from shipping.eggs.should_have_hatched import FIRST_PART
from shipping.ledger.disagreements import address_mark, held_short, order_questions, parcels_moved
from shipping.ledger.entries import DrawOnTheWay, Entry, Journey, LineChance, LineCount, Packed
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import KeptLine, KeptParcel, eggs_by_lot
from shipping.ledger.lot_counts import LotCounts, eggs_counted, name_now
from shipping.post.transit import services_to, takes_in
from shipping.tables.learned_values import applied
from shipping.tables.rows.lots import Look
from shipping.tables.rows.orders import Line, Order
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Shelf
from shipping.tables.spelling import folded
from shipping.words.keys import LineKey
from shipping.words.reasons import ASKS, CLOCK, Reason
from shipping.words.sentence import joined, say
from shipping.words.units import percent

if TYPE_CHECKING:
    from shipping.ledger.ledger import Ledger
    from shipping.options.option import Ride
    from shipping.options.option_factory import OptionFactory

#: What the ledger's own counts and the plan decide, not the day.
_NOT_ASKED = frozenset({"short", "day-full", "not-before"})
#: What a parcel packed on an earlier day is never sent with unasked: fry would die on the way.
_HATCHES = frozenset({"too-old", "would-hatch"})
#: So many days ahead a day is looked for on which the service takes parcels in.
_DAYS_AHEAD = 60


@dataclass(frozen=True, slots=True)
class Done:
    """The entry recorded, and what should be said beside it."""

    entry: Entry
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What speaks against a parcel on a day, with the eggs counted, and the chance of each line; where that
    is too low, ``enough`` of its first lot would do, by line, where so many are near. ``too_full`` are
    tubes or bags, as many as were planned, that do not hold the eggs counted.
    """

    against: tuple[Reason, ...] = ()
    gone: tuple[tuple[str, str], ...] = ()
    chances: tuple[LineChance, ...] = ()
    cautions: tuple[str, ...] = ()
    enough: Mapping[LineKey, int] = field(default_factory=dict)
    too_full: tuple[str, ...] = ()


def pack(
    ledger: Ledger,
    shelf: Shelf,
    name: str,
    counts: Sequence[LineCount] | None = None,
    *,
    on: date | None = None,
    photo_sha256: str | None = None,
    anyway: str = "",
    is_count_meant: bool = False,
    factory: OptionFactory | None = None,
) -> Done:
    """Record a parcel as packed, reckoned anew on the day; what is out of the ordinary is said.

    ``anyway`` is the breeder's reason to pack against the clock, fewer eggs than the promise needs or more
    than a tube or bag takes, which ``is_count_meant`` says too; no rule, paper, region or operator is
    answered by it. ``factory`` is one of the shelf with learned values, where there is one already. Raises
    LedgerError if something speaks against it, or the ledger refuses it; nothing is recorded then.
    """
    parcel, day = ledger.parcel(name), ledger.day(on)
    chosen = tuple(counts) if counts is not None else parcel.planned_counts()
    counted = eggs_counted(shelf)
    known, moved = Reckoned(), tuple(parcels_moved((parcel,), shelf, ledger.orders()))
    too_few = ""
    if parcel.is_planned:
        orders = {line.order for line in parcel.lines}
        for question in order_questions(shelf.orders, ledger.orders()):
            if question.order in orders:
                raise LedgerError(question.text, question.mend)
        known = reckoned_on(factory or _factory(shelf), parcel, chosen, day, counted)
        for text, mend in known.gone:
            raise LedgerError(text, mend)
        way_out = say("let it go: spawnpost drop {parcel}", parcel.parcel)
        _refuse_reasons(parcel, known.against, anyway, way_out)
        too_few = next(_too_few(shelf, parcel, known), "")
        if too_few and not (anyway.strip() or is_count_meant):
            mend = 'Put more in and count again; or give your reason to pack it short: --anyway "REASON".'
            raise LedgerError(too_few, mend)
        if known.too_full and _are_left(ledger, chosen, counted) and not (anyway.strip() or is_count_meant):
            mend = 'Count again; or give your reason to pack so many: --anyway "REASON".'
            raise LedgerError(known.too_full[0], mend)
    entry = ledger.pack(
        name,
        chosen,
        counted=counted,
        on=on,
        photo_sha256=photo_sha256,
        chances=known.chances,
        anyway=anyway,
        answered=sorted({one.code for one in known.against}) or (["short"] if anyway and too_few else []),
        to_mark=next((address_mark(order.address) for order in _orders_of(shelf, parcel)), ""),
    )
    since = (one.sentence for one in moved if not one.is_packed)
    notes = _notes(ledger, shelf, parcel, chosen, known.chances, counted)
    return Done(entry, (*since, *known.cautions, *notes))


def _are_left(ledger: Ledger, counts: Iterable[LineCount], counted: Mapping[str, LotCounts]) -> bool:
    """Are the eggs in their lots? Where not, that alone is said."""
    drawn = eggs_by_lot(counts)
    left = ledger.eggs_left(counted, drawn.keys() & counted.keys())
    return all(drawn[lot] <= eggs for lot, eggs in left.items())


def send(
    ledger: Ledger,
    shelf: Shelf,
    name: str,
    *,
    on: date | None = None,
    service: str = "",
    item: str = "",
    anyway: str = "",
    only_clock: bool = False,
) -> Done:
    """Record a packed parcel as handed over; a service named must be one that goes there with live eggs.

    One that leaves on another day than planned, or by another service, has its arrival, its chances and what
    hatches on the way reckoned anew for that, which is kept with the entry.

    One packed on an earlier day is reckoned anew: what is presumed hatched or would hatch on the way stops it
    until there is ``anyway``, the breeder's reason to send it all the same, and so does a label with another
    address or name than its order's now; what lacks somebody's answer
    stops it, unless ``only_clock`` says that it may have gone already; what else speaks against it is only
    said. Raises LedgerError if something speaks against it, or the ledger refuses it; nothing is recorded
    then.
    """
    parcel = ledger.parcel(name)
    moved = tuple(parcels_moved((parcel,), shelf, ledger.orders()))
    for one in moved if parcel.state == "packed" and not anyway.strip() else ():
        raise LedgerError(one.text, say('{mend} Or give your reason: --anyway "REASON".', one.mend))
    notes = [one.sentence for one in moved]
    named = service or parcel.service
    if service:
        _refuse_service(shelf, parcel, service)
    day = ledger.day(on)
    rows = [row for row in services_to(shelf, *parcel.place(shelf)) if folded(row.service) == folded(named)]
    if rows and not any(takes_in(row, day, shelf, *parcel.place(shelf)) for row in rows):
        notes.append(say("{service} is not handed over on {day}; was it another day?", named, day))
    against: tuple[Reason, ...] = ()
    if parcel.state == "packed" and parcel.packed_on and parcel.packed_on < day:
        known = reckoned_on(_factory(shelf), parcel, parcel.counts, day, eggs_counted(shelf))
        against = known.against
        notes += [text for text, _ in known.gone]
        stops = _HATCHES | (frozenset() if only_clock else ASKS)
        stopping = [reason for reason in against if reason.code in stops]
        way_out = say("take its packing back: spawnpost undo {name}", name)
        _refuse_reasons(parcel, stopping, anyway, way_out)
        said = (reason for reason in against if reason not in stopping)
        notes += {reason.text: joined([reason]) for reason in said}.values()
    answered = sorted({reason.code for reason in against}) if anyway else ()
    journey = None
    if parcel.state == "packed" and (day != parcel.dispatch_on or folded(named) != folded(parcel.service)):
        as_sent = replace(parcel, dispatch_on=day, service=named)
        journey = journey_of(_factory(shelf), as_sent, eggs_counted(shelf))
        notes += _otherwise_than_planned(shelf, parcel, journey, day)
    entry = ledger.send(
        name, on=on, service=service, item=item, anyway=anyway, answered=answered, journey=journey
    )
    return Done(entry, tuple(notes))


def journey_of(
    factory: OptionFactory, parcel: KeptParcel, counted: Mapping[str, LotCounts]
) -> Journey | None:
    """The way of a packed parcel from its day and by its service; None where what it rests on is gone."""
    chances: list[LineChance] = []
    draws: list[DrawOnTheWay] = []
    leg = None
    for line in parcel.lines:
        rides = rides_of(factory, parcel, line, counted=counted)
        if isinstance(rides, str):
            return None
        eggs = parcel.packed_from(line.key)
        chance = round(chance_of_enough(rides, eggs, line.ordered), 6)
        chances.append(LineChance(order=line.order, line=line.line, p_enough=chance))
        for lot, ride in rides.items():
            shares = {"h_per_egg": round(ride.h_per_egg, 6), "v_per_egg": round(ride.v_per_egg, 6)}
            draws.append(DrawOnTheWay(order=line.order, line=line.line, lot=lot, **shares))
            leg = ride.leg
    if leg is None:
        return None
    return Journey(
        left_on=leg.day,
        p50=leg.arrivals.p50,
        p95=leg.arrivals.p95,
        low_c=round(leg.warmth.low_c, 6),
        high_c=round(leg.warmth.high_c, 6),
        chances=tuple(chances),
        draws=tuple(draws),
    )


def _otherwise_than_planned(
    shelf: Shelf, parcel: KeptParcel, journey: Journey | None, day: date
) -> Iterator[str]:
    """What to say of a parcel that leaves on another day, or by another service, than planned."""
    if journey is None:
        yield say(
            "Its arrival cannot be reckoned from {day}: its order, lot, packing or service is not in the"
            " tables any more.",
            day,
        )
        return
    hatched = max(draw.h_per_egg for draw in journey.draws)
    yield say(
        "Reckoned for {day}: expected {usual}, by {late} at the latest; of its eggs {share} would hatch on"
        " the way.",
        *(journey.left_on, journey.p50, journey.p95, percent(hatched)),
    )
    chances = {(chance.order, chance.line): chance.p_enough for chance in journey.chances}
    for line in parcel.lines:
        yield from _line_notes(shelf, line, parcel.packed_of(line.key), chances.get(line.key))


def back_notes(ledger: Ledger, name: str) -> Iterator[str]:
    """What to say of a parcel just recorded as returned: which lots have its eggs, or that none has."""
    parcel = ledger.parcel(name)
    if parcel.state == "returned" and not parcel.back:
        yield say(
            "No egg of it counts for its lot again: if some live, record how many, with --returned --alive."
        )
    for lot, eggs in sorted(eggs_by_lot(parcel.back).items()):
        if eggs:
            yield say(
                "{eggs} eggs count for lot {lot} again. They may be nearer to hatching than the others: look"
                " at them, and write the look, before one is packed.",
                *(eggs, lot),
            )


def unpacked_notes(entry: Entry, today: date) -> Iterator[str]:
    """What to say of a packing that is taken back days later: its eggs lay in their tubes since."""
    body = entry.body
    if not isinstance(body, Packed) or body.on >= today:
        return
    for lot, eggs in sorted(eggs_by_lot(body.counts).items()):
        yield say(
            "{eggs} eggs, packed on {day}, count for lot {lot} again as if all lived. Put back those that do,"
            " count the lot and write the look.",
            *(eggs, body.on, lot),
        )


def _orders_of(shelf: Shelf, parcel: KeptParcel) -> Iterator[Order]:
    """The orders of a kept parcel that are in the tables; they go to one address."""
    for line in parcel.lines:
        if order := shelf.order_by_name.get(line.order):
            yield order


def _refuse_service(shelf: Shelf, parcel: KeptParcel, service: str) -> None:
    from shipping.tables.spelling import did_you_mean

    there = {row.service: row for row in services_to(shelf, *parcel.place(shelf))}
    if service not in there:
        mend = did_you_mean(service, sorted(there), "Write it in services first.")
        raise LedgerError(say("'{service}' is no service to {to}.", service, parcel.to), mend)
    if there[service].live_eggs != "yes":
        text = say("the operator of {service} has not said yes to live fish eggs.", service)
        raise LedgerError(text, "Ask, and write the answer.")


def _factory(shelf: Shelf) -> OptionFactory:
    from shipping.options.option_factory import OptionFactory

    return OptionFactory(applied(shelf))


def _refuse_reasons(parcel: KeptParcel, against: Sequence[Reason], anyway: str, way_out: str) -> None:
    """Stops a parcel that something speaks against, unless it is only the clock and there is a reason."""
    other = [reason for reason in against if reason.code not in CLOCK]
    if other:
        raise LedgerError(
            say("parcel {parcel} may not go: {texts}", parcel.parcel, _all_of(other)),
            say("Mend that, or {way_out}.", way_out),
        )
    if against and not anyway.strip():
        raise LedgerError(
            say("parcel {parcel} is not as it was planned: {texts}", parcel.parcel, _all_of(against)),
            say('Look and write it down, or {way_out}; or give your reason: --anyway "REASON".', way_out),
        )


def promised_share(shelf: Shelf, line: KeptLine) -> float:
    """The chance that was promised: the settings', or the plan's own for a line packed without extra."""
    wish, promise = line_now(line, shelf), shelf.settings.plan.promise
    return min(promise, line.p_enough) if wish is not None and wish.overpack == "none" else promise


def is_kept(promised: float, chance: float) -> bool:
    """Is a promise kept where so many eggs arrive alive with that chance?"""
    return chance >= promised - ROUNDING


#: So many eggs more are looked at for a promise that does not hold.
MOST_MORE = 40


def eggs_that_do(
    rides: Mapping[str, Ride], eggs: Mapping[str, int], lot: str, ordered: int, promised: float
) -> int | None:
    """How many eggs of a lot, more than now, keep a promise beside those of the others; None if none near."""
    there = eggs.get(lot, 0)
    more = range(there + 1, there + MOST_MORE + 1)
    chances = ((n, chance_of_enough(rides, {**eggs, lot: n}, ordered)) for n in more)
    return next((n for n, chance in chances if is_kept(promised, chance)), None)


def _too_few(shelf: Shelf, parcel: KeptParcel, known: Reckoned) -> Iterator[str]:
    """What to say of each line of a parcel with fewer eggs than its promise needs."""
    chance_of = {(one.order, one.line): one.p_enough for one in known.chances}
    for line in parcel.lines:
        chance, promised = chance_of[line.key], promised_share(shelf, line)
        if not is_kept(promised, chance):
            wish = line_now(line, shelf)
            fish = f"{line.species} {line.population}".rstrip()
            ordered = wish.eggs if wish else line.ordered
            share = percent(chance)
            if share == percent(promised):  # 94.6 % sure is not 95 %
                share = f"{math.floor(chance * 1000) / 10:.1f} %"
            few = say(
                "too few of {fish} in parcel {parcel}: {chance} sure that {eggs} or more arrive alive,"
                " {promised} promised.",
                *(fish, parcel.parcel, share, ordered, percent(promised)),
            )
            enough, lot = known.enough.get(line.key), line.draws[0].lot
            yield say("{few} {eggs} from lot {lot} would do.", few, enough, lot) if enough else few


def _all_of(reasons: Sequence[Reason]) -> str:
    return joined({reason.text: reason for reason in reasons}.values())


def reckoned_on(
    factory: OptionFactory,
    parcel: KeptParcel,
    counts: Sequence[LineCount],
    day: date,
    counted: Mapping[str, LotCounts],
) -> Reckoned:
    """A parcel packed on a day with these counts, reckoned as if it were planned then.

    Against it may speak the lot, the journey, the order and the rules; what only the count exceeds is said.

    It is taken to leave on the day planned, or, past that or where its service takes nothing in then, on the
    next day on which it does.
    """
    from shipping.options.option import units_for

    against: list[Reason] = []
    gone: list[tuple[str, str]] = []
    chances: list[LineChance] = []
    cautions: list[str] = []
    too_full: list[str] = []
    enough: dict[LineKey, int] = {}
    for line in parcel.lines:
        eggs = {c.lot: c.eggs for c in counts if (c.order, c.line) == line.key and c.eggs}
        asked_for = line_of(factory.shelf, line)
        rides = rides_of(factory, parcel, line, day, counted)
        if isinstance(asked_for, str) or isinstance(rides, str):
            text = asked_for if isinstance(asked_for, str) else str(rides)
            mend = say("Put it back as it was, or let the parcel go: spawnpost drop {parcel}.", parcel.parcel)
            gone.append((text, mend))
            continue
        order, wish = asked_for
        for lot, count in eggs.items():
            option = factory.option(rides[lot], order, wish, wish.eggs, (0, 0.0))
            # how many show eyes is seen, not reckoned, of eggs that are in the hand
            may_ask = (one for one in option.reasons if one.code not in _NOT_ASKED)
            against += [reason for reason in may_ask if "share_eyed" not in reason.facts]
            against += _look_first(rides[lot])
            against += _seen_hatching(rides[lot], factory.shelf.looks_by_lot.get(lot, ()), day)
            cautions += unit_cautions(rides[lot], _evenly(count, units_for(rides[lot].packing, count)))
            for draw in (draw for draw in line.draws if draw.lot == lot):
                units = _evenly(count, units_for(rides[lot].packing, draw.pack))
                too_full += unit_too_full(rides[lot].packing, units)
        cautions += _leaves_later(parcel, next(iter(rides.values())), day)
        chance, promised = chance_of_enough(rides, eggs, wish.eggs), promised_share(factory.shelf, line)
        if not is_kept(promised, chance):
            would = eggs_that_do(rides, eggs, line.draws[0].lot, wish.eggs, promised)
            enough |= {line.key: would} if would else {}
        ordered = wish.eggs if wish.eggs != line.ordered else 0
        one = LineChance(order=line.order, line=line.line, p_enough=round(chance, 6), ordered=ordered)
        chances.append(one)
    distinct = {(reason.code, reason.text): reason for reason in against}
    notes = tuple(dict.fromkeys(cautions))
    return Reckoned(tuple(distinct.values()), tuple(gone), tuple(chances), notes, enough, tuple(too_full))


def _evenly(eggs: int, units: int) -> tuple[int, ...]:
    """The eggs of each of so many tubes or bags, filled alike."""
    each, over = divmod(eggs, units)
    return tuple(each + (n < over) for n in range(units))


def _leaves_later(parcel: KeptParcel, ride: Ride, day: date) -> Iterator[str]:
    """What to say where the service takes nothing in on the day planned, or past that on this one."""
    meant, leaves = max(day, parcel.dispatch_on), ride.leg.day
    if leaves > meant:
        yield say(
            "{service} takes nothing in on {day}; this is reckoned for {leaves}, the next day it does.",
            *(parcel.service, meant, leaves),
        )


def chance_of_enough(rides: Mapping[str, Ride], eggs: Mapping[str, int], ordered: int) -> float:
    """The chance that at least ``ordered`` of the eggs packed of each lot arrive alive."""
    from shipping.eggs.overpack import chance_enough

    lots = [lot for lot in sorted(eggs) if eggs[lot]]
    if not lots:
        return 0.0
    parts = tuple((eggs[lot], rides[lot].v, rides[lot].packing.kappa) for lot in lots)
    return chance_enough(parts, rides[lots[0]].leg.chances, ordered)


def unit_too_full(packing: Packing, units: tuple[int, ...]) -> Iterator[str]:
    """What to say where a tube or bag holds fewer eggs than were counted into it."""
    if max(units) > packing.eggs_max:
        eggs = sum(units)
        told = (packing.packing, packing.eggs_max, max(units), eggs, -(-eggs // packing.eggs_max))
        yield say("{packing} takes {most} eggs, not {eggs}: for {total} eggs use {units} of it.", *told)


def unit_cautions(ride: Ride, units: tuple[int, ...]) -> Iterator[str]:
    """What the eggs counted into each tube or bag of a lot should be told: too many, or near hatching."""
    packing, eggs = ride.packing, sum(units)
    yield from unit_too_full(packing, units)
    any_egg = ride.risk(eggs).any_egg
    if any_egg > packing.any_ceiling:
        chances = (percent(any_egg), packing.packing, percent(packing.any_ceiling))
        yield say(
            "With {eggs} eggs the chance that any hatches on the way is {chance}; {packing} allows {most}.",
            *(eggs, *chances),
        )


def _look_first(ride: Ride) -> Iterator[Reason]:
    day = ride.lot_day
    if day.look_first:
        lot = day.forecast.lot.lot
        text = say("Nobody has seen eyes in lot {lot} yet: look before packing, and write the look.", lot)
        yield Reason("look-first", text, {"lots": [lot]}, "clock")


def _seen_hatching(ride: Ride, looks: Iterable[Look], day: date) -> Iterator[Reason]:
    """That on the day or the one before a part of the lot had hatched: a packing holds no such eggs back."""
    lot = ride.lot_day.forecast.lot
    for look in looks:
        fry, eggs = look.hatched or 0, lot.eggs if look.alive is None else look.alive
        if day - timedelta(days=1) <= look.on <= day and fry >= max(1.0, FIRST_PART * (fry + eggs)):
            text = say(
                "Lot {lot} was hatching on {day} (fry: {fry}): its eggs may hatch at any hour.",
                *(lot.lot, look.on, fry),
            )
            yield Reason("would-hatch", text, {"lot": lot.lot, "near": True}, "inspections")


def line_now(line: KeptLine, shelf: Shelf) -> Line | None:
    """A kept line as its order stands in the tables of now; None where it does not any more."""
    order = shelf.order_by_name.get(line.order)
    return next((wish for wish in order.lines if wish.number == line.line), None) if order else None


def line_of(shelf: Shelf, line: KeptLine) -> tuple[Order, Line] | str:
    """The order and line of the tables that a kept line stands for, or why there is none any more."""
    order, wish = shelf.order_by_name.get(line.order), line_now(line, shelf)
    if order is None or wish is None:
        if line.key in shelf.cancelled:
            return say("line {order}:{line} was cancelled.", *line.key)
        return say("line {order}:{line} is not in your orders any more.", *line.key)
    if not line.is_for(wish):
        told = (*line.key, f"{line.species} {line.population}".strip())
        return say("line {order}:{line} asked for {kept} when it was kept, and asks for another now.", *told)
    return order, wish


def rides_of(
    factory: OptionFactory,
    parcel: KeptParcel,
    line: KeptLine,
    day: date | None = None,
    counted: Mapping[str, LotCounts] | None = None,
) -> dict[str, Ride] | str:
    """The ride of each lot of a kept line, by the lot's name in the plan; or what it rests on that is gone.

    It leaves on the day planned, or on the first day from then and from ``day`` on that takes it in.
    """
    shelf = factory.shelf
    order = shelf.order_by_name.get(line.order)
    if order is None:
        return say("order {order} is not in your orders any more.", line.order)
    to = factory.destination(order)
    named = _as_spelt(parcel.service, (row.service for row in shelf.services))
    service = next(iter(factory.services(to.place, named)), None)
    if service is None:
        return say("service {service} to {country} is not in services any more.", parcel.service, to.country)
    first = max(parcel.dispatch_on, day or parcel.dispatch_on)
    ahead = (first + timedelta(days=n) for n in range(_DAYS_AHEAD))
    leaves = next((d for d in ahead if takes_in(service, d, shelf, *to.place)), first)
    leg = factory.leg(service, to, leaves)
    rides: dict[str, Ride] = {}
    for draw in line.draws:
        lot = name_now(draw.lot, counted or {})
        packing = shelf.packing_by_name.get(_as_spelt(draw.packing, shelf.packing_by_name))
        if lot not in shelf.lot_by_name:
            return say(
                "lot {lot} is not in your lots any more; if it was renamed, write `was {lot}` in its note.",
                lot,
            )
        if packing is None:
            return say("packing {packing} is not in packings any more.", draw.packing)
        rides[draw.lot] = factory.ride(factory.lot_day(lot, leaves), packing, leg)
    return rides


def _as_spelt(name: str, names: Iterable[str]) -> str:
    """A name as the tables spell it now."""
    return next((other for other in names if folded(other) == folded(name)), name)


def _notes(
    ledger: Ledger,
    shelf: Shelf,
    parcel: KeptParcel,
    counts: Iterable[LineCount],
    chances: Iterable[LineChance],
    counted: Mapping[str, LotCounts],
) -> Iterator[str]:
    """What is out of the ordinary in what was just packed: short lines, eggs kept back or held."""
    packed = ledger.parcel(parcel.parcel)
    by_line = {(chance.order, chance.line): chance.p_enough for chance in chances}
    for line in parcel.lines:
        yield from _line_notes(shelf, line, packed.packed_of(line.key), by_line.get(line.key))
    lots = sorted({name_now(count.lot, counted) for count in counts if count.eggs})
    left = ledger.eggs_left(counted, lots)
    for lot in lots:
        if left[lot] < counted[lot].keep_back:
            told = (lot, left[lot], counted[lot].keep_back)
            yield say("Lot {lot} has {left} eggs left, and {back} of it were to be kept back.", *told)
    yield from (short.text for short in held_short(ledger, counted, lots))


def _line_notes(shelf: Shelf, line: KeptLine, packed: int, chance: float | None) -> Iterator[str]:
    asked_for = line_of(shelf, line)
    ordered = line.ordered if isinstance(asked_for, str) else asked_for[1].eggs
    name = f"{line.order}, {line.species} {line.population}".rstrip()
    if ordered != line.ordered:
        yield say("{name} asks for {eggs} eggs now; the plan was for {planned}.", name, ordered, line.ordered)
    promise = promised_share(shelf, line)
    likely = "" if chance is None else say(": enough arrive alive with {chance}", percent(chance))
    if packed < ordered:
        yield say("{name}: {packed} packed of {ordered} ordered{likely}.", name, packed, ordered, likely)
    elif chance is not None and not is_kept(promise, chance):
        told = (name, packed, ordered, likely, percent(promise))
        yield say("{name}: {packed} packed for {ordered}{likely}, {promise} was promised.", *told)
