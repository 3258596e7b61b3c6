"""The page of arrivals: what buyers reported goes in, forecast against fact comes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from flask import Response, request

from shipping.ledger.claims import came_after_all, told_too_soon
from shipping.ledger.entries import Arrived, Entry, LineCount, LineReport
from shipping.ledger.kept_parcel import KeptLine, KeptParcel
from shipping.ledger.reported_line import ReportedLine
from shipping.papers.documents.contents import language_of
from shipping.tables.cells import BadCell
from shipping.words.units import percent
from shipping.worktop.context import (
    Refused,
    View,
    day_typed_in,
    go_to,
    refuse_long,
    sought,
    typed,
    what_changed,
    words_of,
)
from shipping.worktop.kept_week import Kept, fish_name, has_text, kept_parcels_now
from shipping.worktop.page_language import day_from_form, day_words, name_of_country, shown_name, speaking, tr
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
    """One line sent, at its ``place`` in the parcel, and what was told of it."""

    place: int
    fish: str
    found: ReportedLine

    @property
    def told_besides(self) -> dict[str, int]:
        """What was told and does not stand in the sentence."""
        told = self.found.told
        if self.found.living is None:
            return told
        return {name: count for name, count in told.items() if name != "alive"}


@dataclass(frozen=True, slots=True)
class ArrivalCard:
    """One parcel sent, and where to; ``undo`` is the report that may be taken back, 0 where there is none,
    and ``undo_words`` what it says; its buyer is written in ``language``.
    """

    kept: Kept
    to: str
    mail: str
    lines: tuple[ArrivedLine, ...]
    undo: int
    undo_words: str
    today: date
    language: str

    @property
    def is_late(self) -> bool:
        """Is it past the day by which 95 % arrive, and nothing was told?"""
        return self.days_late > 0

    @property
    def days_late(self) -> int:
        parcel = self.kept.parcel
        return (self.today - parcel.p95).days if parcel.state == "sent" and parcel.p95 else 0

    @property
    def is_past_usual(self) -> bool:
        """Is it past the day by which half arrive, and nothing was told?"""
        parcel = self.kept.parcel
        return parcel.state == "sent" and parcel.p50 is not None and self.today > parcel.p50

    @property
    def likely_day(self) -> date | str:
        """The day it came, as far as is known: today where nobody told, unless it should have come before."""
        parcel = self.kept.parcel
        is_past = parcel.p95 is not None and parcel.p95 < self.today
        return parcel.arrived_on or ("" if is_past else self.today)

    @property
    def short_by(self) -> int:
        return sum(line.found.short_by for line in self.lines)

    @property
    def otherwise(self) -> str:
        """What to say of a parcel that went on another day, or by another service, than planned."""
        parcel = self.kept.parcel
        if parcel.reckoned_on is None:
            return ""
        return tr(
            "Planned for {planned} by {service}; reckoned anew for the way it went: {chance} sure that enough"
            " arrive alive.",
            planned=day_words(parcel.dispatch_on),
            service=str(self.kept.facts["service"]),
            chance=percent(min(parcel.chance_of(line) for line in parcel.lines)),
        )

    @property
    def question(self) -> str:
        """What to ask its buyer, to be sent as it stands."""
        parcel = self.kept.parcel
        with speaking(self.language):
            went = {"day": day_words(parcel.sent_on), "service": parcel.service}
            if not parcel.item:
                return tr(
                    "The parcel with your eggs went on {day} by {service}. Has it come, and how many eggs"
                    " live?",
                    **went,
                )
            return tr(
                "The parcel with your eggs went on {day} by {service}, item {item}. Has it come, and how many"
                " eggs live?",
                **went,
                item=parcel.item,
            )

    @property
    def subject(self) -> str:
        with speaking(self.language):
            return tr("Your eggs, sent on {day}", day=day_words(self.kept.parcel.sent_on))

    @property
    def is_to_settle(self) -> bool:
        """Did a line of it come short, or not at all, and that is not settled with its buyer?"""
        return any(line.found.is_to_settle for line in self.lines)

    @property
    def came_after_all(self) -> str:
        """What to say where enough came of what is to be sent again."""
        return " ".join(map(tr, came_after_all(self.kept.parcel)))

    @property
    def back_to_count(self) -> bool:
        """May it still be told how many eggs came back alive?"""
        return self.kept.parcel.state == "sent" or _may_count_back(self.kept.parcel)

    @property
    def back_words(self) -> str:
        """What became of the eggs of a parcel that came back."""
        parcel = self.kept.parcel
        if parcel.state != "returned":
            return ""
        if not parcel.back:
            return tr("No egg of it counts for its lot again: write how many live, and they do.")
        lots = (tr("{eggs} into {lot}", eggs=one.eggs, lot=one.lot) for one in parcel.back)
        return tr("Live eggs back: {lots}. They count for their lots again.", lots=", ".join(lots))

    @property
    def is_told(self) -> bool:
        """Is there nothing more to tell?"""
        return self.kept.parcel.state in ENDS or all(
            len(line.found.told) == len(COUNTS) for line in self.lines
        )


#: The states of parcels that were handed over.
_SHOWN = ("sent", "arrived", *ENDS)


def _due(card: ArrivalCard) -> tuple[date, str]:
    return (card.kept.parcel.p50 or date.max, card.kept.name)


class ArrivalsPage(View):
    """Parcels on their way, and those that came."""

    pages = (("/arrivals", "arrivals"), ("/arrivals/lost", "lost"))
    forms = (
        ("/arrivals/<name>", "arrive"),
        ("/arrivals/<name>/end", "end_parcel"),
        ("/arrivals/<name>/undo", "undo_arrival"),
    )

    def arrivals(self, name: str = "", trouble: str = "", status: int = 200) -> Response:
        find = sought()
        name = name or request.args.get("at", "")
        if request.method == "GET":
            self.shelf_state.check_newest()
        groups = self._groups(find)
        return self.worktop.page(
            "arrivals.html",
            status,
            parts=[(key, title, len(group), *self._in_sight(group, name)) for key, title, group in groups],
            short=len(groups[0][2]),
            every=sum(len(group) for _, _, group in groups),
            find=find,
            counts=COUNTS,
            ends=ENDS,
            troubles={name: trouble} if trouble else {},
            typed=request.form,
        )

    def _groups(self, find: str = "") -> tuple[tuple[str, str, list[ArrivalCard]], ...]:
        """The parcels that were sent, as they stand."""
        cards = sorted(
            (
                self._card(kept)
                for kept in kept_parcels_now(self.shelf_state)
                if kept.parcel.state in _SHOWN and has_text(kept, find)
            ),
            key=_due,
        )
        waiting = [card for card in cards if card.kept.parcel.state == "sent"]
        ended = [card for card in reversed(cards) if card.kept.parcel.state != "sent"]
        short = [card for card in ended if card.is_to_settle]
        return (
            ("short", tr("Came short or not at all, to be settled"), short),
            ("late", tr("Overdue: ask the buyer"), [card for card in waiting if card.is_late]),
            ("on-the-way", tr("On the way"), [card for card in waiting if not card.is_late]),
            ("arrived", tr("Arrived, or ended"), [card for card in ended if not card.is_to_settle]),
        )

    def lost(self) -> Response:
        """What was lost by post, by month and route."""
        from shipping.learning.lost_by_post import lost_by_post

        typed_day, trouble, since = request.args.get("since", "").strip(), "", None
        try:
            since = day_from_form(typed_day) if typed_day else None
        except BadCell as bad:
            trouble = f"{tr(bad.text)}. {tr(bad.mend)}"
        shelf = self.shelf_state.tables().shelf
        with self.shelf_state.ledger() as ledger:
            found = lost_by_post(shelf, ledger, since) if ledger and not trouble else None
        return self.worktop.page(
            "lost.html", 422 if trouble else 200, found=found, since=typed_day, trouble=trouble
        )

    def _in_sight(
        self, group: list[ArrivalCard], name: str
    ) -> tuple[list[ArrivalCard], list[tuple[str, str]]]:
        """The cards that are drawn, the one looked at among them, and the name and buyer of each other."""
        drawn = sorted(group, key=lambda card: card.kept.name != name)[:MOST_CARDS]
        drawn.sort(key=group.index)
        rest = (card.kept for card in group if card not in drawn)
        return drawn, [(kept.name, shown_name(kept.addressee)) for kept in rest]

    def _card(self, kept: Kept) -> ArrivalCard:
        parcel = kept.parcel
        order = self.shelf_state.tables().shelf.order_by_name.get(parcel.lines[0].order)
        town = order.address.town if order else ""
        to = (shown_name(kept.addressee), town, name_of_country(parcel.to))
        entries = self.shelf_state.entries()
        undo = entry_to_take_back(entries, kept.name, Arrived) if parcel.state != "sent" else 0
        return ArrivalCard(
            kept,
            ", ".join(filter(None, to)),
            shown_name(order.mail, "") if order else "",
            tuple(self._line(n, parcel, line) for n, line in enumerate(parcel.lines)),
            undo,
            words_of(entries, undo),
            self.worktop.today,
            language_of(
                self.shelf_state.tables().shelf,
                order.language if order else None,
                parcel.to,
                order.address.postcode if order else "",
            ),
        )

    def _line(self, place: int, parcel: KeptParcel, line: KeptLine) -> ArrivedLine:
        fish = fish_name(line.species, line.population, self.shelf_state.tables().shelf)
        return ArrivedLine(place, fish, ReportedLine.of(parcel, line))

    def arrive(self, name: str) -> Response:
        return self._recorded(name, self._arrival)

    def _arrival(self, kept: Kept) -> Entry:
        changed = self.worktop.changed_since(kept.name)
        if changed is None or changed:
            what = what_changed(changed)
            raise Refused(tr("Not recorded: since this page was opened, {what}.", what=what), 409)
        on = day_typed_in("on", "Not recorded: {why}")
        if on is None:
            raise Refused(tr("Not recorded: {why}", why=tr("say on which day it arrived.")))
        if self._is_all_alive_beside_counts(kept.parcel):
            raise Refused(
                tr(
                    "Not recorded: counts are typed, and not all can be alive then. Record what is typed, or"
                    " clear the counts first."
                )
            )
        reports = [report for report in self._reports(kept.parcel) if report.told]
        if not reports:
            raise Refused(tr("Not recorded: no count was given. Silence is no report."))
        refuse_long("Not recorded: {why}", note=500)
        with self.recording() as ledger:
            return ledger.arrive(kept.name, reports, on=on, note=typed("note"))

    def end_parcel(self, name: str) -> Response:
        """It never came and is given up, or the post brought it back."""
        return self._recorded(name, self._ending)

    def _ending(self, kept: Kept) -> Entry:
        how, on = request.form.get("how", ""), day_typed_in("on", "Not recorded: {why}")
        is_open = kept.parcel.state == "sent" or _may_count_back(kept.parcel)
        if self.worktop.changed_since(kept.name) != () or not is_open:
            raise Refused(tr("Not recorded: it was changed since this page was opened."), 409)
        refuse_long("Not recorded: {why}", note=500)
        if how not in ENDS or on is None:
            raise Refused(tr("Not recorded: {why}", why=tr("say how it ended, and when.")))
        back = _back_typed(kept.parcel) if how == "returned" else ()
        counted = self.shelf_state.readable_tables().counted if back else None
        with self.recording() as ledger:
            return ledger.end(kept.name, how, on=on, note=typed("note"), back=back, counted=counted)

    def undo_arrival(self, name: str) -> Response:
        return self._recorded(name, self._taken_back)

    def _taken_back(self, kept: Kept) -> Entry:
        entry = self.entry_about(kept.name)
        with self.recording("Not taken back: {why}") as ledger:
            return ledger.undo(entry)

    def _is_all_alive_beside_counts(self, parcel: KeptParcel) -> bool:
        """Was "all alive" tapped while a box says something else?"""
        if request.form.get("quick") != "all-alive":
            return False
        return any(
            text and text != (str(parcel.packed_of(line.key)) if name == "alive" else "0")
            for n, line in enumerate(parcel.lines)
            for name, text in _counts_typed(n).items()
        )

    def _reports(self, parcel: KeptParcel) -> list[LineReport]:
        """What was typed, a report a line; with "all alive" every line that is untold came whole."""
        is_all_alive = request.form.get("quick") == "all-alive"
        reports: list[LineReport] = []
        for n, line in enumerate(parcel.lines):
            counts = {name: text for name, text in _counts_typed(n).items() if text}
            if not all(text.isascii() and text.isdigit() and len(text) < 8 for text in counts.values()):
                raise Refused(tr("Not recorded: a count is not a whole number. Write digits only."))
            told = {name: int(text) for name, text in counts.items()}
            before = parcel.reports.get(line.key)
            if is_all_alive and not told and (before is None or not before.told):
                told = {"alive": parcel.packed_of(line.key)}
            reports.append(LineReport(order=line.order, line=line.line, **told))
        return reports

    def _recorded(self, name: str, record: Callable[[Kept], Entry]) -> Response:
        """Records something about a parcel, and tells what, or why not."""
        with self.shelf_state.lock:
            kept = self.kept(name, _SHOWN)
            try:
                entry = record(kept)
            except Refused as refused:
                if not self.worktop.wants_card:
                    return self.arrivals(name, refused.said, refused.status)
                return self._answer(kept, refused.said, refused.status, trouble=refused.said)
            if not self.worktop.wants_card:
                return go_to(f"/arrivals?at={name}&done={entry.seq}#h-{name}")
            kept = self.kept(name, _SHOWN)
            early = map(tr, told_too_soon(kept.parcel, entry.body))
            return self._answer(kept, " ".join((self.said_of(entry.seq), *early)))

    def _answer(self, kept: Kept, said: str, status: int = 200, trouble: str = "") -> Response:
        return self.worktop.card(
            "_arrival_answer.html",
            said,
            status,
            card=self._card(kept),
            groups=self._groups(),
            trouble=trouble,
            counts=COUNTS,
            ends=ENDS,
            typed=request.form if trouble else {},
        )


def _may_count_back(parcel: KeptParcel) -> bool:
    """Did it come back, and was not told yet how many of its eggs live?"""
    return parcel.state == "returned" and not parcel.back


def _back_typed(parcel: KeptParcel) -> tuple[LineCount, ...]:
    """The live eggs typed for each line and lot that came back; what is left blank is not told."""
    back = []
    for n, count in enumerate(parcel.counts):
        text = request.form.get(f"b{n}", "").strip()
        if text and not (text.isascii() and text.isdigit() and len(text) < 8):
            raise Refused(tr("Not recorded: a count is not a whole number. Write digits only."))
        back += [replace(count, eggs=int(text))] if text else []
    return tuple(back)


def _counts_typed(place: int) -> dict[str, str]:
    """What stands in the boxes of a line, by the count's name."""
    return {name: request.form.get(f"{letter}{place}", "").strip() for letter, name, _ in COUNTS}
