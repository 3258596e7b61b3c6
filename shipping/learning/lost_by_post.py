"""What was lost by post: a shelf and its ledger in; eggs alive, gone and untold by month and route out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal

from shipping.learning.outcomes import Outcome, all_outcomes
from shipping.ledger.entries import ClaimSettled
from shipping.ledger.kept_parcel import KeptParcel
from shipping.ledger.ledger import Ledger
from shipping.tables.shelf import Shelf
from shipping.words.keys import LineKey
from shipping.words.sentence import joined, say
from shipping.words.units import money_text, percent


@dataclass(frozen=True, slots=True)
class Posted:
    """What became of parcels sent; all but parcels and money are eggs, and each egg packed is in one count.

    ``alive``: live fry among them. ``gone``: told dead or missing. ``lost``: of parcels given up.
    ``returned``: brought back by the post, of which ``back`` were counted alive. ``untold``: left out of a
    report; ``silent``: of lines without any; ``silent_parcels``: of these nobody told at all. ``again`` (eggs
    sent again) and ``given_back`` are what claims ended with.
    """

    parcels: int = 0
    packed: int = 0
    alive: int = 0
    gone: int = 0
    lost: int = 0
    returned: int = 0
    back: int = 0
    untold: int = 0
    silent: int = 0
    silent_parcels: int = 0
    again: int = 0
    given_back: Decimal = Decimal(0)

    def __add__(self, other: Posted) -> Posted:
        return Posted(*(getattr(self, one.name) + getattr(other, one.name) for one in fields(self)))

    @property
    def known_lost(self) -> int:
        """Eggs that are known not to have come alive; what nobody told of is none of them."""
        return self.gone + self.lost

    @property
    def share(self) -> str:
        """How many of the eggs whose end is known were lost; "" where none is known."""
        known = self.alive + self.known_lost
        return percent(self.known_lost / known) if known else ""

    @property
    def words(self) -> str:
        """What became of them in a few words; what is none is left out."""
        counts = (
            (self.alive, say("{eggs} alive", self.alive)),
            (self.gone, say("{eggs} dead or missing", self.gone)),
            (self.lost, say("{eggs} given up as lost", self.lost)),
            (self.returned, say("{eggs} brought back", self.returned)),
            (self.untold + self.silent, say("{eggs} not told of", self.untold + self.silent)),
        )
        told = joined((words for count, words in counts if count), ", ")
        return say("{parcels} parcels, {eggs} eggs: {told}", self.parcels, self.packed, told)

    def as_json(self) -> dict[str, object]:
        facts: dict[str, object] = {one.name: getattr(self, one.name) for one in fields(self)}
        return facts | {"known_lost": self.known_lost, "given_back": money_text(self.given_back)}


@dataclass(frozen=True, slots=True)
class Month:
    """What was sent in a month, named by its first day, and of that by each service to each country."""

    first: date
    all: Posted
    routes: tuple[tuple[str, str, Posted], ...]

    def as_json(self) -> dict[str, object]:
        routes = [{"service": by, "to": to, **posted.as_json()} for by, to, posted in self.routes]
        return {"month": f"{self.first:%Y-%m}", **self.all.as_json(), "routes": routes}


@dataclass(frozen=True, slots=True)
class LostByPost:
    """All that was sent since a day (None: ever), and by month, the newest first."""

    since: date | None
    currency: str
    all: Posted
    months: tuple[Month, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "since": self.since.isoformat() if self.since else None,
            "currency": self.currency,
            **self.all.as_json(),
            "months": [month.as_json() for month in self.months],
        }

    def lines(self) -> Iterator[str]:
        """The answer for a person: what was lost, what is not known, what it cost."""
        every = self.all
        if not every.parcels:
            none, late = say("No parcel was sent yet."), say("No parcel was sent since {day}.", self.since)
            yield late if self.since else none
            return
        if every.share:
            yield say(
                "Lost by post: {lost} eggs of the {known} whose end is known ({share}): {gone} told dead or"
                " missing, {given_up} in parcels given up as lost.",
                *(every.known_lost, every.alive + every.known_lost, every.share, every.gone, every.lost),
            )
        sent = (every.packed, every.parcels, every.alive)
        yield say("Sent: {packed} eggs in {parcels} parcels. Told alive: {alive}.", *sent)
        if every.returned:
            yield say(
                "Brought back by the post: {eggs} eggs, {back} of them alive.", every.returned, every.back
            )
        if every.untold or every.silent:
            yield say(
                "Not told of: {eggs} eggs, among them those of {parcels} parcels without any report, which"
                " may still be on the way. Silence is not death: none of them is counted as lost.",
                *(every.untold + every.silent, every.silent_parcels),
            )
        if every.again or every.given_back:
            money = money_text(every.given_back, self.currency)
            yield say(
                "By claims settled: {eggs} eggs to send again, {money} {currency} given back.",
                *(every.again, money, self.currency),
            )
        yield say("What postage was paid is not recorded, so it is not among these.")


def lost_by_post(shelf: Shelf, ledger: Ledger, since: date | None = None) -> LostByPost:
    """What became of parcels handed over on a day or later. Raises ShelfProblems if a row of arrivals is
    wrong: nothing is counted beside it.
    """
    _, every, _ = all_outcomes(shelf, ledger)
    sent = [one for one in every if not one.was_bought and (since is None or one.sent_on >= since)]
    return counted(sent, ledger.parcels(), since, shelf.settings.plan.currency)


def counted(
    sent: Iterable[Outcome], parcels: Iterable[KeptParcel], since: date | None, currency: str
) -> LostByPost:
    """The lines sent, put together by month and route; ``parcels`` tell what came back and was settled."""
    kept = {parcel.parcel: parcel for parcel in parcels}
    by_parcel: dict[str, list[Outcome]] = defaultdict(list)
    for outcome in sent:
        by_parcel[outcome.parcel].append(outcome)
    by_month: dict[date, dict[tuple[str, str], Posted]] = defaultdict(dict)
    for name, lines in by_parcel.items():
        first, route = lines[0].sent_on.replace(day=1), (lines[0].service, lines[0].to)
        of_month = by_month[first]
        of_month[route] = of_month.get(route, Posted()) + _of_parcel(lines, kept.get(name))
    months = tuple(
        Month(
            first, sum(routes.values(), Posted()), tuple((*route, routes[route]) for route in sorted(routes))
        )
        for first, routes in sorted(by_month.items(), reverse=True)
    )
    return LostByPost(since, currency, sum((month.all for month in months), Posted()), months)


def _of_parcel(lines: list[Outcome], kept: KeptParcel | None) -> Posted:
    made = sum((_of_line(line, kept) for line in lines), Posted())
    settled = [claim for claim in (kept.claims if kept else ()) if isinstance(claim, ClaimSettled)]
    return made + Posted(
        parcels=1,
        silent_parcels=int(made.silent == made.packed),
        again=sum(claim.eggs for claim in settled),
        given_back=sum((Decimal(claim.amount) for claim in settled if claim.amount), Decimal(0)),
    )


def _of_line(line: Outcome, kept: KeptParcel | None) -> Posted:
    """The eggs of one line, each in one count; what is told of them goes before how the parcel ended."""
    key: LineKey = (line.order, line.line)
    gone = min(line.packed, (line.dead or 0) + (line.missing or 0))
    living = line.hatched_alive if line.living is None else line.living
    if (living, line.dead, line.missing) != (None, None, None):
        alive = min(living or 0, line.packed - gone)
        return Posted(packed=line.packed, alive=alive, gone=gone, untold=line.packed - alive - gone)
    if line.came_back:
        back = sum(one.eggs for one in (kept.back if kept else ()) if (one.order, one.line) == key)
        return Posted(packed=line.packed, returned=line.packed, back=back)
    if line.is_lost:
        return Posted(packed=line.packed, lost=line.packed)
    return Posted(packed=line.packed, silent=line.packed)
