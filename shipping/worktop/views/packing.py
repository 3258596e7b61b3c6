"""The pages of the packing bench: cards in packing order; counts, packing, sending and taking back in,
cards out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Flask, Response, abort, make_response, request

from shipping.ledger.entries import LineCount
from shipping.ledger.ledger import Ledger
from shipping.ledger.packing_day import Done, pack, send
from shipping.tables.cells import MOST_EGGS
from shipping.words.problems import ShelfProblems
from shipping.words.units import iso_week
from shipping.worktop.context import Worktop, day_from, go_to, plain_problems, said_of
from shipping.worktop.kept_week import (
    HIDDEN,
    Kept,
    has_text,
    in_packing_order,
    kept_parcel_now,
    kept_parcels_now,
    lots_to_look_at,
)
from shipping.worktop.page_language import tr
from shipping.worktop.parcel_cards import (
    LONGEST_COUNT,
    ParcelCard,
    count_from,
    draft_texts,
    drafts_from,
    line_counts,
    other_day,
    parcel_card,
    planned_units,
)
from shipping.worktop.table_row import add_checked_row, tables_folder_words

#: So many parcels to pack or send are drawn whole; the others of the day stand in one line each.
MOST_CARDS = 10


@dataclass(frozen=True, slots=True)
class DayTab:
    """One day that has parcels: how many, and how many are still to be packed or sent."""

    day: date
    parcels: int
    open: int

    def is_late(self, today: date) -> bool:
        """Should something of it have gone before this day?"""
        return bool(self.open) and self.day < today


class PackingPage:
    """The bench: what is counted is recorded, not what was planned."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop
        worktop.next_pages.append(self._first_cards)

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/packing", "packing", self.show)
        for doing, view in (
            ("count", self.count),
            ("pack", self.pack),
            ("send", self.send),
            ("undo", self.undo),
            ("eyes", self.eyes),
        ):
            app.add_url_rule(f"/packing/<name>/{doing}", doing, view, methods=["POST"])
        app.add_url_rule("/papers/<name>.pdf", "parcel_papers", self.papers)
        app.add_url_rule("/papers/day/<text>.pdf", "day_papers", self.day_papers)

    # -- looking
    # -------------------------------------------------------------------------------------------------

    def show(self) -> Response:
        return self._page(drafts_from(request.args.getlist("counts")), {})

    def _page(
        self, drafts: Mapping[str, Sequence[str]], troubles: Mapping[str, str], status: int = 200
    ) -> Response:
        shelf_state = self.worktop.shelf_state
        every = self._every()
        at = next(iter(troubles), "") or request.args.get("at", "")
        find = " ".join(request.args.get("find", "").split())
        head = self._head(every, at)
        wanted = (
            [one for one in every if has_text(one, find, self.worktop.hide_names)]
            if find
            else [one for one in every if one.parcel.dispatch_on == head["day"]]
        )
        shown, folded = _in_sight(in_packing_order(wanted), at)
        cards = self._cards(shown, drafts)
        return self.worktop.page(
            "packing.html",
            status,
            cards=cards,
            folded=[self._row(one) for one in folded],
            find=find,
            drafts=draft_texts(drafts),
            troubles=troubles,
            is_planned=bool(every),
            left_out=shelf_state.readable_tables().left_out,
            **head,
        )

    def _cards(self, shown: Sequence[Kept], drafts: Mapping[str, Sequence[str]]) -> list[ParcelCard]:
        shelf_state, hidden = self.worktop.shelf_state, self.worktop.hide_names
        entries = shelf_state.entries()
        return [parcel_card(shelf_state, one, entries, drafts.get(one.name), hidden) for one in shown]

    def _first_cards(self) -> list[ParcelCard]:
        """The cards that the bench shows first."""
        every = self._every()
        day = self._day(self._tabs(every), every, "", "")
        todays = [one for one in every if one.parcel.dispatch_on == day]
        return self._cards(_in_sight(in_packing_order(todays), "")[0], {})

    def _every(self) -> list[Kept]:
        return [one for one in kept_parcels_now(self.worktop.shelf_state) if self._is_shown(one)]

    def _head(self, every: Sequence[Kept], at: str) -> dict[str, Any]:
        """The days with what is left of each, and of the day that is looked at."""
        tabs = self._tabs(every)
        day = self._day(tabs, every, at, request.args.get("day", ""))
        tab = next((tab for tab in tabs if tab.day == day), DayTab(self.worktop.today, 0, 0))
        today = self.worktop.today
        return {
            "tabs": tabs,
            "day": day,
            "open_count": tab.open,
            "day_count": tab.parcels,
            "earlier": [one for one in tabs if one.is_late(today) and one.day != day],
        }

    def _row(self, kept: Kept) -> dict[str, str]:
        name = HIDDEN if self.worktop.hide_names else kept.addressee
        return {"name": kept.name, "number": kept.number, "to": name, "state": kept.parcel.state}

    def _is_shown(self, kept: Kept) -> bool:
        """Is it of this week or later, or still to be packed or sent?"""
        this_week = iso_week(self.worktop.today)
        return (
            not kept.parcel.is_handed_over
            or max(kept.parcel.week, iso_week(kept.parcel.dispatch_on)) >= this_week
        )

    def _tabs(self, every: Sequence[Kept]) -> tuple[DayTab, ...]:
        days = sorted({one.parcel.dispatch_on for one in every})
        by_day = {day: [one for one in every if one.parcel.dispatch_on == day] for day in days}
        return tuple(
            DayTab(d, len(k), sum(not o.parcel.is_handed_over for o in k)) for d, k in by_day.items()
        )

    def _day(self, tabs: Sequence[DayTab], every: Sequence[Kept], at: str, asked: str) -> date | None:
        """The day of the parcel that is looked at, the day named, else the first with work from today on,
        else the first left.
        """
        for one in every:
            if one.name == at:
                return one.parcel.dispatch_on
        named = day_from(asked)
        if named in [tab.day for tab in tabs]:
            return named
        left = [tab.day for tab in tabs if tab.open]
        coming = [day for day in left if day >= self.worktop.today]
        return next(iter([*coming, *left, *(tab.day for tab in tabs)]), None)

    # -- changing
    # ------------------------------------------------------------------------------------------------

    def _kept(self, name: str) -> Kept:
        kept = kept_parcel_now(self.worktop.shelf_state, name)
        if kept is None:
            abort(404)
        return kept

    def _drafts(self) -> dict[str, tuple[str, ...]]:
        return drafts_from(request.form.getlist("counts"))

    def count(self, name: str) -> Response:
        """The card with one tube's count changed; nothing is recorded yet, the counts are carried by the
        address.
        """
        kept = self._kept(name)
        return self._tell(kept, "", "", 200, self._typed(kept, step=request.form.get("step", "")))

    def pack(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            typed = self._typed(kept)
            counts = [count for count in map(count_from, typed) if count is not None]
            if len(counts) < len(typed):
                return self._tell(
                    kept,
                    "",
                    tr("Not recorded: a count is missing or is none; it is marked below."),
                    422,
                    typed,
                )
            wanted = line_counts(kept, counts) if counts else ()
            if kept.parcel.is_planned and request.form.get("plan") != str(kept.parcel.plan_entry):
                said = tr(
                    "Not recorded: the plan was kept anew since this page was opened. These are its counts;"
                    " count again."
                )
                return self._tell(kept, "", said, 409)
            stale = self._stale(kept, tuple(kept.parcel.counts) == wanted and kept.parcel.state == "packed")
            if stale is not None:
                return self._tell(kept, stale[0], stale[1], stale[2], typed)
            if not request.form.get("short") and (short := self._short_of(kept, typed)):
                said = tr(
                    "Not recorded yet: too few of {fish}. Put more in and count again, or say below that it"
                    " is packed short.",
                    fish=short,
                )
                return self._tell(kept, "", said, 409, typed)
            return self._record(kept, typed, lambda ledger: self._packed(ledger, name, wanted))

    def _short_of(self, kept: Kept, typed: Sequence[str]) -> str:
        """The fish of which fewer are counted than the promise needs; "" where there is none, or where they
        were packed already.
        """
        if not kept.parcel.is_planned:
            return ""
        shelf_state = self.worktop.shelf_state
        card = parcel_card(shelf_state, kept, shelf_state.entries(), typed, self.worktop.hide_names)
        return ", ".join(
            line.fish for line in card.lines if card.is_short and not line.promise.holds and not line.too_many
        )

    def _packed(self, ledger: Ledger, name: str, wanted: tuple[LineCount, ...]) -> Done:
        tables = self.worktop.shelf_state.readable_tables()
        anyway = " ".join(request.form.get("anyway", "").split())
        return pack(ledger, tables.shelf, name, wanted, anyway=anyway, reckoner=tables.reckoner)

    def send(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            if trouble := self.worktop.too_long(item=40):
                return self._tell(kept, "", tr("Not recorded: {why}", why=trouble), 422)
            item = "".join(request.form.get("item", "").split()).replace("-", "").upper()
            stale = self._stale(kept, kept.parcel.state == "sent" and kept.parcel.item == item)
            if stale is not None:
                return self._tell(kept, stale[0], stale[1], stale[2])
            on = day_from(request.form.get("on", "")) or self.worktop.today
            if on != kept.parcel.dispatch_on and not request.form.get("other_day"):
                said = tr(
                    "Not recorded yet: {why} Say below when it was sent.", why=other_day(kept.parcel, on)
                )
                return self._tell(kept, "", said, 409)
            return self._record(kept, None, lambda ledger: self._sent(ledger, name, item, on))

    def _sent(self, ledger: Ledger, name: str, item: str, on: date) -> Done:
        return send(ledger, self.worktop.shelf_state.readable_tables().shelf, name, on=on, item=item)

    def eyes(self, name: str) -> Response:
        """Writes the look that a parcel waits for: eyes show in its lot today."""
        with self.worktop.shelf_state.lock:
            kept, lot = self._kept(name), request.form.get("lot", "")
            if lot not in lots_to_look_at(kept, self.worktop.shelf_state.readable_tables().known):
                return self._tell(
                    kept, "", tr("Not written: this parcel waits for no look at that lot."), 409
                )
            cells = {"lot": lot, "on": self.worktop.today.isoformat(), "stage": "eyed"}
            try:
                written, _ = add_checked_row(self.worktop.shelf_state, "inspections", cells)
            except ShelfProblems as trouble:
                return self._tell(kept, "", tr("Not written: {why}", why=plain_problems(trouble)), 409)
            if request.form.get("after") == "/":
                return self.worktop.told_at("/", tables_folder_words(written))
            return self._tell(kept, tables_folder_words(written), "", 200)

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
            counts = self._counts_recorded(kept) if kept.parcel.state == "packed" else None
            return self._record(kept, counts, lambda ledger: Done(ledger.undo(entry)))

    def _counts_recorded(self, kept: Kept) -> tuple[str, ...]:
        """What was recorded as packed, tube by tube, so that taking it back loses no count."""
        left = {(count.order, count.line, count.lot): count.eggs for count in kept.parcel.counts}
        units = [((line.order, line.line, lot), planned) for line, lot, _, planned in planned_units(kept)]
        found = []
        for n, (key, planned) in enumerate(units):
            is_last = key not in [other for other, _ in units[n + 1 :]]
            found.append(left.get(key, 0) if is_last else min(planned, left.get(key, 0)))
            left[key] = left.get(key, 0) - found[-1]
        return tuple(map(str, found))

    def _stale(self, kept: Kept, is_same: bool) -> tuple[str, str, int] | None:
        """What to tell where the parcel changed since the form was made: (said, trouble, status); None where
        it did not.
        """
        changed = self.worktop.changed_since(kept.name)
        if changed is not None and not changed:
            return None
        if is_same:
            return tr("It was recorded already; nothing was recorded twice."), "", 200
        what = "; ".join(changed) if changed else tr("the ledger is another one")
        said = tr(
            "Not recorded: since this page was opened, {what}. Here is the parcel as it stands now.",
            what=what,
        )
        return "", said, 409

    def _record(self, kept: Kept, counts: Sequence[str] | None, doing: Callable[[Ledger], Done]) -> Response:
        """Does it in the ledger, and tells what was recorded or why not."""
        try:
            with self.worktop.shelf_state.ledger() as ledger:
                assert ledger is not None
                done = doing(ledger)
        except ShelfProblems as trouble:
            return self._tell(kept, "", tr("Not recorded: {why}", why=plain_problems(trouble)), 409, counts)
        now = self._kept(kept.name)
        said = " ".join([said_of(self.worktop.shelf_state.entries(), done.entry.seq), *map(tr, done.notes)])
        return self._tell(now, said, "", 200, counts if now.parcel.is_planned else None, done.entry.seq)

    def _typed(self, kept: Kept, step: str = "") -> tuple[str, ...]:
        """The tubes' counts as they stand in a form, after one step of a button (``3:-1``)."""
        place, _, by = step.partition(":")
        typed: list[str] = []
        for n, unit in enumerate(planned_units(kept)):
            text = request.form.get(f"u{n}", str(unit[3])).strip()[:LONGEST_COUNT]
            count = count_from(text)
            if place == str(n) and by in ("-1", "1", "-5", "5") and (count is not None or not text):
                text = str(min(MOST_EGGS, max(0, (count or 0) + int(by))))
            typed.append(text)
        return tuple(typed)

    # -- answering
    # -----------------------------------------------------------------------------------------------

    def _tell(
        self,
        kept: Kept,
        said: str,
        trouble: str,
        status: int,
        counts: Sequence[str] | None = None,
        done: int = 0,
    ) -> Response:
        """The card for a page that asked by script; else the page again, by its address where nothing went
        wrong.
        """
        shelf_state = self.worktop.shelf_state
        if self.worktop.wants_card:
            card = parcel_card(
                shelf_state, kept, shelf_state.entries(), counts or None, self.worktop.hide_names
            )
            facts = {**self._head(self._every(), kept.name), "card": card, "trouble": trouble}
            return self.worktop.card("_parcel_answer.html", trouble or said, status, **facts)
        drafts = {**self._drafts()}
        drafts.pop(kept.name, None)
        if counts and kept.parcel.is_planned:
            drafts[kept.name] = tuple(counts)
        if trouble:
            return self._page(drafts, {kept.name: trouble}, status)
        asked = [("at", kept.name), *(("counts", text) for text in draft_texts(drafts))]
        asked += [("done", str(done))] if done else []
        focus = _next_focus(kept)
        if kept.parcel.state == "sent" and (after := self._after(kept)):
            asked[0], focus = ("at", after.name), f"h-{after.name}"
        if said and not done:
            return self.worktop.told_at(f"/packing?{urlencode(asked)}", said, focus)
        return go_to(f"/packing?{urlencode(asked)}#{focus}")

    def _after(self, kept: Kept) -> Kept | None:
        """The next parcel of the same day that is still to be packed or sent; None where there is none."""
        left = [
            one
            for one in in_packing_order(self._every())
            if one.parcel.dispatch_on == kept.parcel.dispatch_on and not one.parcel.is_handed_over
        ]
        return next((one for one in left if one.name > kept.name), left[0] if left else None)

    # -- papers
    # --------------------------------------------------------------------------------------------------

    def papers(self, name: str) -> Response:
        from shipping.worktop.kept_papers import papers_of

        kept = self._kept(name)
        content = papers_of(
            self.worktop.shelf_state,
            (kept,),
            kept.parcel.week,
            whole_day=False,
            hide_names=self.worktop.hide_names,
        )
        return _pdf(content, name)

    def day_papers(self, text: str) -> Response:
        from shipping.worktop.kept_papers import papers_of

        shelf_state, day = self.worktop.shelf_state, day_from(text)
        found = [
            one
            for one in kept_parcels_now(shelf_state)
            if one.parcel.dispatch_on == day and self._is_shown(one)
        ]
        if day is None or not found:
            abort(404)
        todays = in_packing_order(found)
        return _pdf(
            papers_of(shelf_state, todays, iso_week(day), whole_day=True, hide_names=self.worktop.hide_names),
            text,
        )


def _in_sight(kept: Sequence[Kept], at: str) -> tuple[list[Kept], list[Kept]]:
    """The parcels whose cards are drawn, those done already among them, and those named in one line each."""
    open_ones = [one for one in kept if not one.parcel.is_handed_over]
    place = next((n for n, one in enumerate(open_ones) if one.name == at), 0)
    start = max(0, min(place - 1, len(open_ones) - MOST_CARDS))
    drawn = {one.name for one in open_ones[start : start + MOST_CARDS]}
    drawn |= {one.name for one in kept if one.parcel.is_handed_over}
    return [one for one in kept if one.name in drawn], [one for one in kept if one.name not in drawn]


def _next_focus(kept: Kept) -> str:
    """Where the focus goes on when the page is loaded anew: the button just pressed, or the next thing to do
    on that card.
    """
    place, _, by = request.form.get("step", "").partition(":")
    if kept.parcel.is_planned:
        is_step = place.isascii() and place.isdigit() and by in ("-1", "1")
        return f"{kept.name}-u{place}-{'less' if by == '-1' else 'more'}" if is_step else f"{kept.name}-pack"
    return f"{kept.name}-next" if kept.parcel.state == "packed" else f"h-{kept.name}"


def _pdf(content: bytes, name: str) -> Response:
    from shipping.papers.folder import safe_name

    answer = make_response(content)
    answer.headers["Content-Type"] = "application/pdf"
    answer.headers["Content-Disposition"] = f'inline; filename="{safe_name(name)}-papers.pdf"'
    answer.headers["Cache-Control"] = "private, no-store"
    return answer
