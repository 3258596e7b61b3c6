"""A short or hatched parcel as a case: kept parcels, lots and the seller's policy in, facts side by side out.

It says what was promised, packed and found, and the seller's own policy; who is right is for people.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from shipping.ledger.added_rows import SEND_AGAIN
from shipping.ledger.entries import Arrived, Body, ClaimOpened, ClaimSettled, Entry, LineReport
from shipping.ledger.errors import LedgerError
from shipping.ledger.kept_parcel import NOT_COME, KeptLine, KeptParcel
from shipping.ledger.reported_line import ReportedLine, claims_for
from shipping.options.option import LEAST_DRAW
from shipping.tables.cells import number_mend, numbers_meant
from shipping.tables.rows.lots import Look
from shipping.tables.rows.settings import Claims
from shipping.tables.shelf import Shelf
from shipping.words.keys import LineKey, owed_order
from shipping.words.sentence import joined, say
from shipping.words.units import degrees, money_text, percent

if TYPE_CHECKING:
    from shipping.ledger.ledger import Ledger

NOT_TOLD = say("not told")
#: How a claim may end.
ENDINGS = (SEND_AGAIN, "refund", "nothing")
#: What a buyer may claim.
CLAIMS = ("short", "hatched", "late", "lost", "returned")
#: Words of a policy that say how it ends, in the order they are looked for.
_SAID = (
    ("send again", SEND_AGAIN),
    ("sent again", SEND_AGAIN),
    ("resend", SEND_AGAIN),
    ("refund", "refund"),
    ("money back", "refund"),
    ("repaid", "refund"),
    ("nothing", "nothing"),
)


@dataclass(frozen=True, slots=True)
class Fact:
    """One row of a case: what it is about, what our records say, what the buyer says."""

    what: str
    ours: str
    theirs: str


@dataclass(frozen=True, slots=True)
class Case:
    """A line that came short (``short_by`` eggs) or not at all, hatched (``hatched`` fry), or that the buyer
    claims for.

    ``state`` is new, open or settled. ``in_time``: was the report recorded within the days of the policy?
    None where no day is known; ``write_by`` is the day by which the buyer must have written. ``suggested``
    is the ending that the policy's words name, "" where they name none; ``eggs_due`` are the eggs that
    sending again would take. ``owed`` is the order that sends them again, ``given_back`` the money, ""
    where there is none; ``doubts`` ask about what was recorded and hardly can be meant. ``groundless``:
    what is claimed is not so by what the buyer reported since. ``since_settled`` says how much worse it is
    than what was settled, which makes it new again.
    """

    parcel: str
    order: str
    line: int
    about: tuple[str, ...]
    short_by: int
    hatched: int
    in_time: bool | None
    write_by: date | None
    state: str
    facts: tuple[Fact, ...]
    policy: tuple[str, ...]
    suggested: str = ""
    eggs_due: int = 0
    owed: str = ""
    given_back: str = ""
    photo_sha256: str = ""
    doubts: tuple[str, ...] = ()
    groundless: bool = False
    since_settled: str = ""

    @property
    def is_settled(self) -> bool:
        return self.state == "settled"

    def as_json(self) -> dict[str, object]:
        facts = asdict(self)
        or_none = ("suggested", "owed", "given_back", "photo_sha256", "since_settled")
        facts |= {name: facts[name] or None for name in or_none}
        return facts | {"write_by": self.write_by.isoformat() if self.write_by else None}

    def lines(self) -> Iterator[str]:
        """The case for a person: what it is about, both sides, the policy, and how it stands."""
        yield f"{self.parcel} {self.order}:{self.line}: {' and '.join(self.about)} ({self.state})"
        for fact in self.facts:
            yield f"  {fact.what:12s} ours: {fact.ours or '-'}" + (
                f"; the buyer's: {fact.theirs}" if fact.theirs else ""
            )
        for line in self.policy:
            yield f"  policy: {line}"
        if self.in_time:
            yield "  reported in time."
        elif self.write_by:
            yield f"  recorded later: reported in time if the buyer wrote by {self.write_by}."
        if self.owed:
            yield f"  sent again as order {self.owed}."
        if self.given_back:
            yield f"  {self.given_back} given back."
        if self.is_settled and not (self.owed or self.given_back):
            yield "  settled: nothing was owed."
        if self.since_settled:
            yield f"  {self.since_settled}"
        for doubt in self.doubts:
            yield f"  {doubt} If it is a slip: spawnpost undo."
        if self.groundless:
            yield "  By the report enough came alive: nothing is owed."
            line = f"{self.order}:{self.line}"
            yield f"  To settle it so: spawnpost claim {self.parcel} --line {line} --settle nothing"
        elif not self.is_settled and self.suggested:
            again = self.suggested == SEND_AGAIN
            eggs = f", {self.eggs_due} eggs" if again and self.eggs_due else ""
            lacks = " --amount MONEY" if self.suggested == "refund" else ""
            lacks = " --eggs NUMBER" if again and not self.eggs_due else lacks
            yield f"  Your policy says: {self.suggested}{eggs}."
            yield (
                f"  To settle it so: spawnpost claim {self.parcel} --line {self.order}:{self.line} --settle"
                f' "{self.suggested}"{lacks}'
            )


def record_claim(
    ledger: Ledger,
    parcel: str,
    key: LineKey,
    case: Case | None,
    about: str,
    ending: str,
    eggs: int,
    amount: str,
    note: str,
    shelf: Shelf | None = None,
) -> list[Entry]:
    """The entries recorded: a claim opened where none is, one of `ENDINGS` where named. ``case`` is the
    line's own, or None. Raises LedgerError if it cannot be, is to be sent again by an order packed already,
    or gives back more than it cost by the ``shelf`` while no ``note`` says why; nothing is recorded then.
    """
    packed = ledger.parcel(parcel).packed_of(key)
    still_to_go = {line.order for line in ledger.waiting_owed()}
    if ending == SEND_AGAIN and case and case.owed and case.owed not in still_to_go:
        text = say("order {order}, which sends it again, is packed already.", case.owed)
        raise LedgerError(text, "Claim for that parcel; what is owed beside it is an order of its own.")
    done = _settlement(case, about, ending, eggs, amount, packed) if ending else None
    back = Decimal(done[1] or 0) if done and not note.strip() else Decimal(0)
    if shelf and (text := _more_than_it_cost(ledger.parcel(parcel), key, back, shelf)):
        raise LedgerError(text, "Look at the amount; if it is right, note why beside it.")
    entries: list[Entry] = []
    if about or case is None or case.state != "open":
        claimed = about or (case.about[0] if case else "short")
        entries.append(ledger.open_claim(parcel, key, claimed, note))
    if done is not None:
        eggs, amount = done
        entries.append(ledger.settle_claim(parcel, key, ending, eggs=eggs, amount=amount, note=note))
    return entries


def _settlement(
    case: Case | None, about: str, ending: str, eggs: int, amount: str, packed: int
) -> tuple[int, str]:
    """What an ending of `ENDINGS` takes: the eggs named or due, or the money named. Raises LedgerError if
    nothing is claimed, or the ending lacks its eggs or its money, has what it does not take, or more eggs
    than were ``packed``.
    """
    if case is None and not about:
        text = "nothing is claimed for that line, and it did not come short."
        raise LedgerError(text, "Say what it is: --about lost.")
    if case is not None and case.state == "settled" and not about:
        raise LedgerError("the claim for that line is settled already.", "Open another first: --about short.")
    if ending != SEND_AGAIN and eggs:
        text = say("eggs are given, but it is settled by '{ending}'.", ending)
        raise LedgerError(text, 'Write --settle "send again", or no --eggs.')
    if ending != "refund" and amount:
        text = say("money is given, but it is settled by '{ending}'.", ending)
        raise LedgerError(text, "Write --settle refund, or no --amount.")
    if ending == "refund":
        return 0, _money(amount)
    if eggs > packed:
        text = say("{eggs} eggs are to be sent again, but {packed} were packed.", eggs, packed)
        raise LedgerError(text, "Send again no more than were packed; write more as an order of its own.")
    due = eggs or (case.eggs_due if case else 0)
    if ending == SEND_AGAIN and not due:
        raise LedgerError("how many eggs are to be sent again is not known.", "Say it: --eggs 20.")
    return due if ending == SEND_AGAIN else 0, ""


def _money(text: str) -> str:
    """An amount as typed, with or without a currency, as 12.50. Raises LedgerError if there is none."""
    if not text.strip():
        raise LedgerError("the amount given back is not said.", "Write it as --amount 12.50.")
    wrong = say("'{text}' is not an amount of money.", text)
    meant = numbers_meant(text)
    if len(meant) > 1:
        raise LedgerError(wrong, number_mend(text))
    if not meant or Decimal(meant[0]) <= 0 or text.rstrip().endswith("%"):
        raise LedgerError(wrong, "Write it as --amount 12.50.")
    return money_text(Decimal(meant[0]))


def cases(parcels: Iterable[KeptParcel], settings: Claims, shelf: Shelf | None = None) -> tuple[Case, ...]:
    """A case for every line that came short or not at all, arrived with fry, or is claimed for; by parcel and
    line.

    With a ``shelf``, what became of the eggs left of the same lots is set beside it.
    """
    ranked = sorted(parcels, key=lambda parcel: parcel.parcel)
    of_lines = (_case(parcel, line, settings, shelf) for parcel in ranked for line in parcel.lines)
    return tuple(case for case in of_lines if case.about)


def to_settle(parcels: Iterable[KeptParcel], settings: Claims) -> dict[str, tuple[str, ...]]:
    """What of each parcel, by name, is short, lost, returned or claimed, and not settled; fry if claimed."""
    due: dict[str, tuple[str, ...]] = {}
    for case in cases(filter(_may_be_due, parcels), settings):
        if (case.state == "open" and not case.groundless) or (case.state == "new" and case.short_by):
            about = (case.since_settled,) if case.since_settled else case.about
            due[case.parcel] = tuple(dict.fromkeys((*due.get(case.parcel, ()), *about)))
    return due


def _may_be_due(parcel: KeptParcel) -> bool:
    """Is any line short, lost, returned or claimed for? Of most parcels nothing is, and no case is made."""
    return bool(parcel.claims) or is_to_settle(parcel)


def is_to_settle(parcel: KeptParcel) -> bool:
    """Is any line short or not there, and not settled as it is now?"""
    is_told = parcel.state in NOT_COME or parcel.reports
    return bool(is_told) and any(ReportedLine.of(parcel, line).is_to_settle for line in parcel.lines)


def told_too_soon(parcel: KeptParcel, body: Body) -> Iterator[str]:
    """What to say where it came on the day it left, or is given up while it may still come."""
    if not isinstance(body, Arrived) or not parcel.p50 or not parcel.p95 or parcel.p50 <= parcel.left_on:
        return
    if body.on <= (parcel.p95 if body.how == "lost" else parcel.left_on):
        yield say(
            "{day} is early: half of such parcels are there by {usual}, 95 in 100 by {late}. If it was not"
            " so: spawnpost undo {parcel}.",
            *(body.on, parcel.p50, parcel.p95, parcel.parcel),
        )


def what_to_settle(parcel: KeptParcel) -> Iterator[str]:
    """The next step of a parcel short, lost or returned, and not settled so."""
    if is_to_settle(parcel):
        yield say("Settle it with its buyer: spawnpost claim {parcel}.", parcel.parcel)


def came_after_all(parcel: KeptParcel) -> Iterator[str]:
    """What to say of lines settled as not come of which eggs came alive, and of lines to go again."""
    about: dict[LineKey, str] = {}
    for claim, entry in zip(parcel.claims, parcel.claim_entries, strict=True):
        key = (claim.order, claim.line)
        if isinstance(claim, ClaimOpened):
            about[key] = claim.about
            continue
        report, line = parcel.reports.get(key), parcel.line(key)
        was_lost = about.get(key) in NOT_COME
        if report is None or not report.living or report.living < (1 if was_lost else line.ordered):
            continue
        if claim.amount and was_lost:
            yield say(
                "{order}:{line} came ({living} alive), but {amount} was given back for it.",
                *(claim.order, claim.line, report.living, claim.amount),
            )
        elif claim.eggs:
            yield say(
                "{order}:{line} came ({living} alive), but eggs are to be sent again for it ({eggs}). If"
                " so many are not to go: spawnpost undo entry-{entry}.",
                *(claim.order, claim.line, report.living, claim.eggs, entry),
            )


def _case(parcel: KeptParcel, line: KeptLine, settings: Claims, shelf: Shelf | None) -> Case:
    report = parcel.reports.get(line.key, LineReport(order=line.order, line=line.line))
    claims, found = claims_for(parcel, line), ReportedLine.of(parcel, line)
    has_come, short_by = found.has_come, found.short_by
    hatched = report.hatched_alive or 0
    about = [word for word, is_so in (("short", short_by), ("hatched", hatched)) if is_so]
    if not has_come:
        about = [parcel.state]
    about += sorted({claim.about for claim in claims if isinstance(claim, ClaimOpened)} - set(about))
    days = parcel.reported.get(line.key)
    write_by = days[0] + timedelta(days=settings.report_within_days) if days else None
    settled = [claim for claim in claims if isinstance(claim, ClaimSettled)]
    given_back = sum(Decimal(claim.amount) for claim in settled if claim.amount)
    sent_again, since = found.sent_again, found.short_since
    currency = shelf.settings.plan.currency if shelf else ""
    due = short_by or _hatched_due(line, report)
    if report.living is None and NOT_COME & set(about):
        due = line.ordered
    # no fewer than are ever drawn, their margin comes with the plan; what was granted is not due again
    due = max(0, min(line.ordered, max(LEAST_DRAW, due)) - sent_again) if due else 0
    if since:  # what was given back for the rest is not due again either
        due = since if sent_again else min(line.ordered, max(LEAST_DRAW, since))
    suggested = _suggested(about, settings)
    state = "new" if not claims or since else "settled" if isinstance(claims[-1], ClaimSettled) else "open"
    return Case(
        parcel=parcel.parcel,
        order=line.order,
        line=line.line,
        about=tuple(about),
        short_by=short_by,
        hatched=hatched,
        since_settled=found.words_of_short_since,
        in_time=days[1] <= write_by if days and write_by else None,
        write_by=write_by,
        state=state,
        facts=(*_facts(parcel, line, report, days), *_price(line, shelf), *_since(parcel, line, shelf)),
        policy=_policy(about, settings),
        suggested="" if suggested == SEND_AGAIN and has_come and report.told and not due else suggested,
        eggs_due=due,
        owed=owed_order(line.key) if sent_again else "",
        given_back=money_text(given_back, currency) if given_back else "",
        photo_sha256=parcel.photo_sha256 or "",
        doubts=tuple(_doubts(parcel, line, about, given_back, shelf)) if shelf else (),
        groundless=state == "open"
        and {*about} <= {"short", *NOT_COME}
        and has_come
        and not short_by
        and (report.living or 0) >= line.ordered,
    )


def _hatched_due(line: KeptLine, report: LineReport) -> int:
    """Eggs wanting where fry count for none; all that hatched where the live eggs were not told."""
    hatched = report.hatched_alive or 0
    return min(hatched, max(0, line.ordered - (report.alive or 0)))


def _doubts(
    parcel: KeptParcel, line: KeptLine, about: list[str], given_back: Decimal | int, shelf: Shelf
) -> Iterator[str]:
    """What to ask: more money given back than the line and its postage can have cost; late, and it is not."""
    yield from filter(None, [_more_than_it_cost(parcel, line.key, Decimal(given_back), shelf)])
    if "late" not in about or parcel.p95 is None:
        return
    came_on = parcel.reported[line.key][0] if line.key in parcel.reported else None
    if came_on is None and parcel.p95 >= shelf.today:
        yield say("Called late, but it may still come in time: until {last}.", parcel.p95)
    elif came_on and came_on <= parcel.p95:
        yield say("Called late, but it came on {day}, in time: until {last}.", came_on, parcel.p95)


def _more_than_it_cost(parcel: KeptParcel, key: LineKey, given_back: Decimal, shelf: Shelf) -> str:
    """What to ask of more money than the line and its postage can have cost; "" where it is not."""
    price, currency = price_of(parcel.line(key), shelf), shelf.settings.plan.currency
    postage = max((row.price for row in shelf.postage if row.service == parcel.service), default=Decimal(0))
    told = (money_text(given_back, currency), currency, price)
    text = say("Given back are {given} {currency}, and the line cost {price}.", *told)
    return text if price and given_back > Decimal(price) + postage else ""


def price_of(line: KeptLine, shelf: Shelf) -> str:
    """What a line cost as 12.50, as far as the tables still know; "" where they do not."""
    order = shelf.order_by_name.get(line.order)
    prices = {own.number: own.price for own in order.lines} if order else {}
    price = prices.get(line.line)
    return money_text(price, shelf.settings.plan.currency) if price else ""


def _price(line: KeptLine, shelf: Shelf | None) -> Iterator[Fact]:
    if shelf and (price := price_of(line, shelf)):
        yield Fact("price", say("{price} {currency} for the line", price, shelf.settings.plan.currency), "")


def _since(parcel: KeptParcel, line: KeptLine, shelf: Shelf | None) -> Iterator[Fact]:
    """What became of the eggs that stayed here, lot by lot."""
    if shelf is None or parcel.packed_on is None:
        return
    for lot in dict.fromkeys(draw.lot for draw in line.draws):
        yield Fact(say("left of {lot}", lot), fate_here(shelf, lot, parcel.packed_on), "")


def _suggested(about: list[str], settings: Claims) -> str:
    """The ending that the policy's own words name: of fry only where nothing is short."""
    text = (settings.hatched_policy if about == ["hatched"] else settings.short_policy).casefold()
    return next((ending for words, ending in _SAID if words in text), "")


def _facts(
    parcel: KeptParcel, line: KeptLine, report: LineReport, days: tuple[date, date] | None
) -> tuple[Fact, ...]:
    packed = parcel.packed_of(line.key)
    v = sum(draw.v_per_egg * draw.pack for draw in line.draws) / max(1, line.pack)
    h = sum(draw.h_per_egg * draw.pack for draw in line.draws) / max(1, line.pack)
    arrived, reported = days or (None, None)
    expected = say("{eggs:.1f} expected; {chance} for enough", v * packed, percent(parcel.chance_of(line)))
    hatching = say("{share} of the eggs expected on the way", percent(h))
    photo = say("{day}, no photo", _day(parcel.packed_on))
    if parcel.photo_sha256:
        photo = say("{day}, photo {photo}", _day(parcel.packed_on), parcel.photo_sha256)
    taken = NOT_TOLD
    if arrived and parcel.sent_on:
        taken = say("{days} on the way", (arrived - parcel.sent_on).days)
    by = say("{day} by {service}", _day(parcel.sent_on), parcel.service)
    arrival = say("expected {day}, at the latest {last} (95 %)", _day(parcel.p50), _day(parcel.p95))
    return (
        Fact("eggs", say("{ordered} ordered, {packed} packed", line.ordered, packed), _counts(report)),
        Fact("alive", expected, _said(report.living)),
        Fact("hatched", hatching, _said(report.hatched_alive)),
        Fact("packed", photo, ""),
        Fact("sent", joined((by, parcel.item) if parcel.item else (by,), ", "), ""),
        Fact("arrived", arrival, _day(arrived)),
        Fact("days", _usual_days(parcel), taken),
        Fact(say("recorded"), _day(reported), ""),
        Fact(say("warmth"), _warmth(parcel), ""),
    )


def _counts(report: LineReport) -> str:
    counts = (joined((count, say(name.replace("_", " ")))) for name, count in report.told.items())
    return joined(counts, ", ") or NOT_TOLD


def _said(count: int | None) -> str:
    return NOT_TOLD if count is None else str(count)


def _day(day: date | None) -> str:
    return say("{day}", day) if day else NOT_TOLD


def _usual_days(parcel: KeptParcel) -> str:
    if parcel.p50 is None or parcel.p95 is None:
        return NOT_TOLD
    usual, most = ((day - parcel.reckoned_from).days for day in (parcel.p50, parcel.p95))
    return say("{days} expected, {most} at the most (95 %)", usual, most)


def _warmth(parcel: KeptParcel) -> str:
    if parcel.low_c is None or parcel.high_c is None:
        return NOT_TOLD
    return say("{low} to {high} expected", degrees(parcel.low_c), degrees(parcel.high_c))


def _policy(about: list[str], settings: Claims) -> tuple[str, ...]:
    lines = [say("Days after arrival to report it: {days}.", settings.report_within_days)]
    if {"short", "late", *NOT_COME} & set(about):
        nothing = say(
            "You have not written yet what you promise when a count falls short: write it in shelf.toml"
            " below [claims] as short_policy."
        )
        lines.append(settings.short_policy or nothing)
    if "hatched" in about:
        silent = say(
            "You have not written yet what you promise when eggs hatch on the way: write it in shelf.toml"
            " below [claims] as hatched_policy."
        )
        lines.append(settings.hatched_policy or silent)
    return tuple(lines)


def fate_here(shelf: Shelf, lot: str, since: date) -> str:
    """What looks say of a lot since eggs of it were packed: fry, dead, the last recount, and how many were
    kept back.

    Looks speak for the whole lot, those kept back and those not yet sent; nothing seen is said to be nothing
    seen.
    """
    row = shelf.lot_by_name.get(lot)
    if row is None:
        return "the lot is no longer in the tables"
    looks = [look for look in shelf.looks_by_lot.get(lot, ()) if look.on >= since]
    kept = say("{eggs} kept back", row.keep_back)
    if not looks:
        return say("{kept}; nobody has looked since", kept)
    return say("{kept}; {seen} by {on}", kept, _seen(looks), looks[-1].on)


def _seen(looks: list[Look]) -> str:
    hatched, dead = (_total(looks, name) for name in ("hatched", "removed"))
    alive = next((look.alive for look in reversed(looks) if look.alive is not None), None)
    stage = next((look.stage for look in reversed(looks) if look.stage), None)
    told = [
        joined((count, say(word)))
        for count, word in ((alive, "alive"), (hatched, "hatched"), (dead, "dead"))
        if count is not None
    ]
    seen = [say("seen {stage}", say(stage))] if stage else []
    return joined([*told, *seen], ", ") or say("seen, and nothing counted")


def _total(looks: list[Look], name: str) -> int | None:
    counts = [count for look in looks if (count := getattr(look, name)) is not None]
    return sum(counts) if counts else None
