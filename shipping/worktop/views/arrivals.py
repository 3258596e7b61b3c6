"""The page of arrivals: what buyers reported goes in, forecast against fact comes out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from flask import Flask, Response, abort, request

from shipping.ledger.entries import ClaimSettled, LineReport
from shipping.ledger.kept import KeptLine, KeptParcel
from shipping.words.problems import ShelfProblems
from shipping.worktop.context import Worktop, day_from, go_to, plain_problems, said_of
from shipping.worktop.kept_week import (
    HIDDEN,
    Kept,
    fish_name,
    has_text,
    kept_parcel_now,
    kept_parcels_now,
)
from shipping.worktop.page_language import day_words, name_of_country, tr
from shipping.worktop.parcel_cards import entry_to_take_back

#: What may be told of a line: the field's letter, the count's name, how it is asked for.
COUNTS = (
    ("a", "alive", "Live eggs"),
    ("h", "hatched_alive", "Live fry"),
    ("d", "dead", "Dead"),
    ("m", "missing", "Missing"),
)


#: How a parcel may end without a report, as the ledger keeps it and as it is said.
ENDS = {"lost": "given up as lost", "returned": "came back"}
#: So many cards are drawn whole; the others stand in one line each.
MOST_CARDS = 8


@dataclass(frozen=True, slots=True)
class ArrivedLine:
    """One line sent: what was ordered, packed and expected alive, and what was told (count's name ->
    eggs).
    """

    place: int
    fish: str
    order: str
    line: int
    ordered: int
    packed: int
    expected: float
    told: dict[str, int]
    living: int | None

    @property
    def words(self) -> str:
        """Forecast against fact."""
        if not self.told:
            return tr(
                "{packed} packed for {ordered} ordered. No report yet; about {expected} should be alive.",
                expected=f"{self.expected:.0f}",
                packed=self.packed,
                ordered=self.ordered,
            )
        if self.living is None:
            return self._most_words
        counts = {
            "living": self.living,
            "packed": self.packed,
            "expected": f"{self.expected:.0f}",
            "ordered": self.ordered,
        }
        if self.living >= self.ordered:
            return tr(
                "{living} of {packed} alive, about {expected} expected, {ordered} ordered: the promise was"
                " kept.",
                **counts,
            )
        return tr(
            "{living} of {packed} alive, about {expected} expected, {ordered} ordered: {short} short of the"
            " promise.",
            short=self.ordered - self.living,
            **counts,
        )

    @property
    def most_alive(self) -> int:
        """So many may be alive at the most, by what was told."""
        return self.packed - self.told.get("dead", 0) - self.told.get("missing", 0)

    @property
    def told_besides(self) -> dict[str, int]:
        """What was told and does not stand in the sentence."""
        if self.living is None:
            return self.told
        return {name: count for name, count in self.told.items() if name != "alive"}

    @property
    def untold(self) -> int:
        """So many eggs of a line reported are neither told alive nor gone."""
        return max(0, self.packed - sum(self.told.values())) if self.living is not None else 0

    @property
    def short_by(self) -> int:
        """So many eggs are wanting for what was ordered, by what was told."""
        most = self.most_alive if self.living is None else self.living
        return max(0, self.ordered - most) if self.told else 0

    @property
    def has_failed(self) -> bool:
        """Can the promise not have been kept, by what was told?"""
        return self.short_by > 0

    @property
    def _most_words(self) -> str:
        lost = self.packed - self.most_alive
        if lost == self.packed:
            return tr("None of {packed} alive, {ordered} ordered.", packed=self.packed, ordered=self.ordered)
        counts = {"lost": lost, "packed": self.packed, "most": self.most_alive, "ordered": self.ordered}
        if self.has_failed:
            return tr(
                "{lost} of {packed} dead or missing: at most {most} alive, {ordered} ordered, so {short}"
                " short at least. How many live was not told.",
                short=self.ordered - self.most_alive,
                **counts,
            )
        return tr(
            "{lost} of {packed} dead or missing: at most {most} alive, {ordered} ordered. How many live was"
            " not told.",
            **counts,
        )


@dataclass(frozen=True, slots=True)
class ArrivalCard:
    """One parcel sent; ``is_late`` if it is past the day by which 95 % arrive and nothing was told,
    ``is_past_usual`` if past the one by which half do.
    """

    name: str
    number: str
    state: str
    to: str
    service: str
    item: str
    sent_on: date | None
    p50: date | None
    p95: date | None
    arrived_on: date | None
    is_late: bool
    is_past_usual: bool
    is_settled: bool
    days_late: int
    mail: str
    lines: tuple[ArrivedLine, ...]
    undo: int

    @property
    def short_by(self) -> int:
        return sum(line.short_by for line in self.lines)

    @property
    def subject(self) -> str:
        return tr("Your eggs, sent on {day}", day=day_words(self.sent_on))

    @property
    def question(self) -> str:
        """What to ask its buyer, to be sent as it stands."""
        return tr(
            "The parcel with your eggs went on {day} by {service}, item {item}. Has it come, and how many"
            " eggs live?",
            day=day_words(self.sent_on),
            service=self.service,
            item=self.item or "–",
        )

    @property
    def is_due(self) -> bool:
        """Should its buyer have reported by now?"""
        return self.is_late or self.is_past_usual

    @property
    def is_to_settle(self) -> bool:
        """Did a line of it come short, and nothing is settled with its buyer?"""
        return not self.is_settled and any(line.has_failed for line in self.lines)

    @property
    def is_told(self) -> bool:
        """Is there nothing more to tell?"""
        return self.state in ENDS or all(len(line.told) == len(COUNTS) for line in self.lines)


#: The states of parcels that were handed over.
_SHOWN = ("sent", "arrived", *ENDS)


def _due(kept: Kept) -> tuple[date, str]:
    return (kept.parcel.p50 or date.max, kept.name)


class ArrivalsPage:
    """Parcels on their way, and those that came."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/arrivals", "arrivals", self.show)
        app.add_url_rule("/arrivals/<name>", "arrive", self.arrive, methods=["POST"])
        app.add_url_rule("/arrivals/<name>/end", "end_parcel", self.end, methods=["POST"])
        app.add_url_rule("/arrivals/<name>/undo", "undo_arrival", self.undo, methods=["POST"])

    def show(self) -> Response:
        return self._page("", "")

    def _page(self, name: str, trouble: str, status: int = 200) -> Response:
        find = " ".join(request.args.get("find", "").split())
        hide, at = self.worktop.hide_names, name or request.args.get("at", "")
        every = [
            one
            for one in kept_parcels_now(self.worktop.shelf_state)
            if one.parcel.state in _SHOWN and (not find or has_text(one, find, hide))
        ]
        waiting = sorted((one for one in every if one.parcel.state == "sent"), key=_due)
        late = [one for one in waiting if one.parcel.p95 and self.worktop.today > one.parcel.p95]
        waiting = [one for one in waiting if one not in late]
        ended = sorted((one for one in every if one.parcel.state != "sent"), key=_due, reverse=True)
        short = [one for one in ended if self.card(one).is_to_settle]
        came = [one for one in ended if one not in short]
        parts = [
            ("short", tr("Came short, to be settled"), len(short), *self._in_sight(short, at)),
            ("late", tr("Overdue: ask the buyer"), len(late), *self._in_sight(late, at)),
            ("on-the-way", tr("On the way"), len(waiting), *self._in_sight(waiting, at)),
            ("arrived", tr("Arrived, or ended"), len(came), *self._in_sight(came, at)),
        ]
        return self.worktop.page(
            "arrivals.html",
            status,
            parts=parts,
            short=len(short),
            every=len(every),
            find=find,
            counts=COUNTS,
            ends=ENDS,
            troubles={name: trouble} if trouble else {},
            typed=request.form,
        )

    def _in_sight(self, kept: list[Kept], at: str) -> tuple[list[ArrivalCard], list[tuple[str, str]]]:
        """The cards that are drawn, the one looked at among them, and the name and buyer of each other."""
        first = [one for one in kept if one.name == at]
        drawn = [*first, *(one for one in kept if one.name != at)][:MOST_CARDS]
        drawn.sort(key=kept.index)
        hidden = self.worktop.hide_names
        rest = [(one.name, HIDDEN if hidden else one.addressee) for one in kept if one not in drawn]
        return [self.card(one) for one in drawn], rest

    def card(self, kept: Kept) -> ArrivalCard:
        """The card of a parcel sent."""
        parcel, shelf = kept.parcel, self.worktop.shelf_state.tables().shelf
        order = shelf.order_by_name.get(parcel.lines[0].order)
        name = HIDDEN if self.worktop.hide_names else kept.addressee
        return ArrivalCard(
            name=kept.name,
            number=kept.number,
            state=parcel.state,
            to=", ".join(
                part
                for part in (name, order.address.town if order else "", name_of_country(parcel.to))
                if part
            ),
            service=parcel.service,
            item=parcel.item,
            sent_on=parcel.sent_on,
            p50=parcel.p50,
            p95=parcel.p95,
            arrived_on=min((days[0] for days in parcel.reported.values()), default=None),
            is_late=parcel.state == "sent" and parcel.p95 is not None and self.worktop.today > parcel.p95,
            is_past_usual=parcel.state == "sent" and bool(parcel.p50 and self.worktop.today > parcel.p50),
            is_settled=any(isinstance(one, ClaimSettled) for one in parcel.claims),
            days_late=(self.worktop.today - parcel.p95).days if parcel.p95 else 0,
            mail=order.mail if order and not self.worktop.hide_names else "",
            lines=tuple(self._line(n, parcel, line) for n, line in enumerate(parcel.lines)),
            undo=(
                entry_to_take_back(self.worktop.shelf_state.entries(), kept.name)
                if parcel.state != "sent"
                else 0
            ),
        )

    def _line(self, place: int, parcel: KeptParcel, line: KeptLine) -> ArrivedLine:
        shares = {draw.lot: draw.v_per_egg for draw in line.draws}
        counts = [count for count in parcel.counts if (count.order, count.line) == line.key]
        report = parcel.reports.get(line.key)
        return ArrivedLine(
            place=place,
            fish=fish_name(line.species, line.population, self.worktop.shelf_state.tables().shelf),
            order=line.order,
            line=line.line,
            ordered=line.ordered,
            packed=parcel.packed_of(line.key),
            expected=sum(count.eggs * shares.get(count.lot, 0.0) for count in counts),
            told=dict(report.told) if report else {},
            living=report.living if report else None,
        )

    def arrive(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            changed = self.worktop.changed_since(name)
            if changed is None or changed:
                what = "; ".join(changed or (tr("the ledger is another one"),))
                said = tr("Not recorded: since this page was opened, {what}.", what=what)
                return self._tell(kept, "", said, 409)
            on = day_from(request.form.get("on", ""))
            if on is None:
                return self._tell(
                    kept, "", tr("Not recorded: the day is not a day. Write it as 2026-11-30."), 422
                )
            if self._is_all_alive_beside_counts(kept.parcel):
                text = tr(
                    "Not recorded: counts are typed, and not all can be alive then. Record what is typed, or"
                    " clear the counts first."
                )
                return self._tell(kept, "", text, 422)
            reports = self._reports(kept.parcel)
            if reports is None:
                return self._tell(
                    kept, "", tr("Not recorded: a count is not a whole number. Write digits only."), 422
                )
            if not any(report.told for report in reports):
                return self._tell(
                    kept, "", tr("Not recorded: no count was given. Silence is no report."), 422
                )
            if trouble_text := self.worktop.too_long(note=500):
                return self._tell(kept, "", tr("Not recorded: {why}", why=trouble_text), 422)
            note = " ".join(request.form.get("note", "").split())
            try:
                with self.worktop.shelf_state.ledger() as ledger:
                    assert ledger is not None
                    entry = ledger.arrive(
                        name, [report for report in reports if report.told], on=on, note=note
                    )
            except ShelfProblems as trouble:
                return self._tell(kept, "", tr("Not recorded: {why}", why=plain_problems(trouble)), 409)
            said = said_of(self.worktop.shelf_state.entries(), entry.seq)
            return self._tell(self._kept(name), said, "", 200, entry.seq)

    def end(self, name: str) -> Response:
        """It never came and is given up, or the post brought it back."""
        with self.worktop.shelf_state.lock:
            kept, how = self._kept(name), request.form.get("how", "")
            on = day_from(request.form.get("on", ""))
            if self.worktop.changed_since(name) != () or kept.parcel.state != "sent":
                return self._tell(
                    kept, "", tr("Not recorded: it was changed since this page was opened."), 409
                )
            trouble = self.worktop.too_long(note=500)
            if how not in ENDS or on is None or trouble:
                return self._tell(
                    kept, "", tr("Not recorded: {why}", why=trouble or tr("say how it ended, and when.")), 422
                )
            note = " ".join(request.form.get("note", "").split())
            try:
                with self.worktop.shelf_state.ledger() as ledger:
                    assert ledger is not None
                    entry = ledger.end(name, how, on=on, note=note)
            except ShelfProblems as refused:
                return self._tell(kept, "", tr("Not recorded: {why}", why=plain_problems(refused)), 409)
            said = said_of(self.worktop.shelf_state.entries(), entry.seq)
            return self._tell(self._kept(name), said, "", 200, entry.seq)

    def _is_all_alive_beside_counts(self, parcel: KeptParcel) -> bool:
        """Was "all alive" tapped while a box says something else?"""
        typed = [
            (name, request.form.get(f"{letter}{n}", "").strip(), line)
            for n, line in enumerate(parcel.lines)
            for letter, name, _ in COUNTS
        ]
        return request.form.get("quick") == "all-alive" and any(
            text and text != (str(parcel.packed_of(line.key)) if name == "alive" else "0")
            for name, text, line in typed
        )

    def _reports(self, parcel: KeptParcel) -> list[LineReport] | None:
        """What was typed, a report a line; with "all alive" every line that is untold came whole. None: no
        number.
        """
        is_all_alive = request.form.get("quick") == "all-alive"
        found: list[LineReport] = []
        for n, line in enumerate(parcel.lines):
            typed = {name: request.form.get(f"{letter}{n}", "").strip() for letter, name, _ in COUNTS}
            if any(
                text and not (text.isascii() and text.isdigit() and len(text) < 8) for text in typed.values()
            ):
                return None
            told = {name: int(text) for name, text in typed.items() if text}
            before = parcel.reports.get(line.key)
            if is_all_alive and not told and (before is None or not before.told):
                told = {"alive": parcel.packed_of(line.key)}
            found.append(LineReport(order=line.order, line=line.line).with_more(_report(line, told)))
        return found

    def undo(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            text = request.form.get("entry", "")
            entry = int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 0
            known = next((one for one in self.worktop.shelf_state.entries() if one.seq == entry), None)
            if known is None or known.parcel != name:
                return self._tell(
                    kept, "", tr("Not taken back: there is no such entry about this parcel."), 409
                )
            try:
                with self.worktop.shelf_state.ledger() as ledger:
                    assert ledger is not None
                    taken = ledger.undo(entry)
            except ShelfProblems as trouble:
                return self._tell(kept, "", tr("Not taken back: {why}", why=plain_problems(trouble)), 409)
            return self._tell(
                self._kept(name), said_of(self.worktop.shelf_state.entries(), taken.seq), "", 200, taken.seq
            )

    def _kept(self, name: str) -> Kept:
        kept = kept_parcel_now(self.worktop.shelf_state, name)
        if kept is None or kept.parcel.state not in _SHOWN:
            abort(404)
        return kept

    def _tell(self, kept: Kept, said: str, trouble: str, status: int, done: int = 0) -> Response:
        if self.worktop.wants_card:
            facts = {
                "card": self.card(kept),
                "counts": COUNTS,
                "ends": ENDS,
                "trouble": trouble,
                "typed": request.form if trouble else {},
            }
            return self.worktop.card("_arrival_card.html", trouble or said, status, **facts)
        if trouble:
            return self._page(kept.name, trouble, status)
        return go_to(f"/arrivals?at={kept.name}&done={done}#h-{kept.name}")


def _report(line: KeptLine, told: dict[str, int]) -> LineReport:
    return LineReport(order=line.order, line=line.line, **told)
