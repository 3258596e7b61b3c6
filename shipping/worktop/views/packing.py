"""The pages of the packing bench: cards in packing order; counts, packing, sending and taking back in,
cards out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from flask import Flask, Response, abort, make_response, request

from shipping.ledger.entries import Entry, LineCount
from shipping.ledger.ledger import Ledger
from shipping.tables.cells import MOST_EGGS
from shipping.words.problems import ShelfProblems
from shipping.words.units import iso_week
from shipping.worktop.context import Worktop, day_from, go_to, plain_problems, said_of
from shipping.worktop.kept_week import Kept, in_packing_order, kept_parcel_now, kept_parcels_now
from shipping.worktop.parcel_cards import draft_texts, drafts_from, line_counts, parcel_card, planned_units


@dataclass(frozen=True, slots=True)
class DayTab:
    """One day that has parcels: how many, and how many are still to be packed or sent."""

    day: date
    parcels: int
    open: int


class PackingPage:
    """The bench: what is counted is recorded, not what was planned."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/packing", "packing", self.show)
        for doing, view in (
            ("count", self.count),
            ("pack", self.pack),
            ("send", self.send),
            ("undo", self.undo),
        ):
            app.add_url_rule(f"/packing/<name>/{doing}", doing, view, methods=["POST"])
        app.add_url_rule("/papers/<name>.pdf", "parcel_papers", self.papers)
        app.add_url_rule("/papers/day/<text>.pdf", "day_papers", self.day_papers)

    # -- looking
    # -------------------------------------------------------------------------------------------------

    def show(self) -> Response:
        return self._page(drafts_from(request.args.getlist("counts")), {})

    def _page(
        self, drafts: Mapping[str, Sequence[int]], troubles: Mapping[str, str], status: int = 200
    ) -> Response:
        shelf_state = self.worktop.shelf_state
        every = [one for one in kept_parcels_now(shelf_state) if self._is_shown(one)]
        tabs = self._tabs(every)
        day = self._day(tabs, every, next(iter(troubles), ""))
        todays = in_packing_order(
            [one for one in every if one.parcel.dispatch_on == day], shelf_state.tables().shelf
        )
        entries = shelf_state.entries()
        cards = [
            parcel_card(shelf_state, one, entries, drafts.get(one.name), self.worktop.hide_names)
            for one in todays
        ]
        return self.worktop.page(
            "packing.html",
            status,
            tabs=tabs,
            day=day,
            cards=cards,
            drafts=draft_texts(drafts),
            troubles=troubles,
            is_planned=bool(every),
            open_count=sum(card.state in ("planned", "packed") for card in cards),
        )

    def _is_shown(self, kept: Kept) -> bool:
        """Is it of this week or later, or still to be packed or sent?"""
        this_week = iso_week(self.worktop.today)
        return (
            kept.parcel.state in ("planned", "packed")
            or max(kept.parcel.week, iso_week(kept.parcel.dispatch_on)) >= this_week
        )

    def _tabs(self, every: Sequence[Kept]) -> tuple[DayTab, ...]:
        days = sorted({one.parcel.dispatch_on for one in every})
        by_day = {day: [one for one in every if one.parcel.dispatch_on == day] for day in days}
        return tuple(
            DayTab(d, len(k), sum(o.parcel.state in ("planned", "packed") for o in k))
            for d, k in by_day.items()
        )

    def _day(self, tabs: Sequence[DayTab], every: Sequence[Kept], at: str) -> date | None:
        """The day of the parcel that is looked at, the day named, else the first with work from today on,
        else the first left.
        """
        at = at or request.args.get("at", "")
        for one in every:
            if one.name == at:
                return one.parcel.dispatch_on
        named = day_from(request.args.get("day", ""))
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

    def _drafts(self) -> dict[str, tuple[int, ...]]:
        return drafts_from(request.form.getlist("counts"))

    def count(self, name: str) -> Response:
        """The card with one tube's count changed; nothing is recorded yet, the counts are carried by the
        address.
        """
        kept = self._kept(name)
        counts = self._counts(kept, step=request.form.get("step", ""))
        if counts is None:
            return self._tell(kept, "", "A count is not a whole number. Write digits only.", 422)
        return self._tell(kept, "", "", 200, counts)

    def pack(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            counts = self._counts(kept)
            if counts is None:
                return self._tell(
                    kept, "", "Not recorded: a count is not a whole number. Write digits only.", 422
                )
            wanted = line_counts(kept, counts) if counts else ()
            if kept.parcel.state == "planned" and request.form.get("plan") != str(kept.parcel.plan_entry):
                said = (
                    "Not recorded: the plan was kept anew since this page was opened. These are its counts;"
                    " count again."
                )
                return self._tell(kept, "", said, 409)
            stale = self._stale(kept, tuple(kept.parcel.counts) == wanted and kept.parcel.state == "packed")
            if stale is not None:
                return self._tell(kept, stale[0], stale[1], stale[2], counts)
            return self._record(kept, counts, lambda ledger: self._packed(ledger, name, wanted))

    def _packed(self, ledger: Ledger, name: str, wanted: tuple[LineCount, ...]) -> Entry:
        return ledger.pack(name, wanted, counted=self.worktop.shelf_state.tables().counted)

    def send(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            item = "".join(request.form.get("item", "").split()).replace("-", "").upper()[:40]
            stale = self._stale(kept, kept.parcel.state == "sent" and kept.parcel.item == item)
            if stale is not None:
                return self._tell(kept, stale[0], stale[1], stale[2])
            return self._record(kept, None, lambda ledger: ledger.send(name, item=item))

    def undo(self, name: str) -> Response:
        with self.worktop.shelf_state.lock:
            kept = self._kept(name)
            text = request.form.get("entry", "")
            entry = int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 0
            known = next((one for one in self.worktop.shelf_state.entries() if one.seq == entry), None)
            if known is None or known.parcel != name:
                return self._tell(kept, "", "Not taken back: there is no such entry about this parcel.", 409)
            counts = self._counts_recorded(kept) if kept.parcel.state == "packed" else None
            return self._record(kept, counts, lambda ledger: ledger.undo(entry))

    def _counts_recorded(self, kept: Kept) -> tuple[int, ...]:
        """What was recorded as packed, tube by tube, so that taking it back loses no count."""
        left = {(count.order, count.line, count.lot): count.eggs for count in kept.parcel.counts}
        units = [((line.order, line.line, lot), planned) for line, lot, _, planned in planned_units(kept)]
        found = []
        for n, (key, planned) in enumerate(units):
            is_last = key not in [other for other, _ in units[n + 1 :]]
            found.append(left.get(key, 0) if is_last else min(planned, left.get(key, 0)))
            left[key] = left.get(key, 0) - found[-1]
        return tuple(found)

    def _stale(self, kept: Kept, is_same: bool) -> tuple[str, str, int] | None:
        """What to tell where the parcel changed since the form was made: (said, trouble, status); None where
        it did not.
        """
        changed = self.worktop.changed_since(kept.name)
        if changed is not None and not changed:
            return None
        if is_same:
            return "It was recorded already; nothing was recorded twice.", "", 200
        what = "; ".join(changed) if changed else "the ledger is another one"
        return (
            "",
            f"Not recorded: since this page was opened, {what}. Here is the parcel as it stands now.",
            409,
        )

    def _record(self, kept: Kept, counts: Sequence[int] | None, doing: Callable[[Ledger], Entry]) -> Response:
        """Does it in the ledger, and tells what was recorded or why not."""
        try:
            with self.worktop.shelf_state.ledger() as ledger:
                assert ledger is not None
                entry = doing(ledger)
        except ShelfProblems as trouble:
            return self._tell(kept, "", f"Not recorded: {plain_problems(trouble)}", 409, counts)
        now = self._kept(kept.name)
        said = said_of(self.worktop.shelf_state.entries(), entry.seq)
        return self._tell(now, said, "", 200, counts if now.parcel.state == "planned" else None, entry.seq)

    def _counts(self, kept: Kept, step: str = "") -> tuple[int, ...] | None:
        """The tubes' counts of a form, after one step of a button (``3:-1``); None where one is no number."""
        units = planned_units(kept)
        place, _, by = step.partition(":")
        counts: list[int] = []
        for n, unit in enumerate(units):
            text = request.form.get(f"u{n}", str(unit[3])).strip()
            if not (text.isascii() and text.isdigit() and len(text) < 8):
                return None
            more = int(by) if place == str(n) and by in ("-1", "1", "-5", "5") else 0
            counts.append(min(MOST_EGGS, max(0, int(text) + more)))
        return tuple(counts)

    # -- answering
    # -----------------------------------------------------------------------------------------------

    def _tell(
        self,
        kept: Kept,
        said: str,
        trouble: str,
        status: int,
        counts: Sequence[int] | None = None,
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
            return self.worktop.card("_parcel_card.html", trouble or said, status, card=card, trouble=trouble)
        drafts = {**self._drafts()}
        drafts.pop(kept.name, None)
        if counts and kept.parcel.state == "planned":
            drafts[kept.name] = tuple(counts)
        if trouble:
            return self._page(drafts, {kept.name: trouble}, status)
        asked = [("at", kept.name), *(("counts", text) for text in draft_texts(drafts))]
        asked += [("done", str(done))] if done else []
        return go_to(f"/packing?{urlencode(asked)}#{_next_focus(kept)}")

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
        todays = in_packing_order(found, shelf_state.tables().shelf)
        return _pdf(
            papers_of(shelf_state, todays, iso_week(day), whole_day=True, hide_names=self.worktop.hide_names),
            text,
        )


def _next_focus(kept: Kept) -> str:
    """Where the focus goes on when the page is loaded anew: the button just pressed, or the next thing to do
    on that card.
    """
    place, _, by = request.form.get("step", "").partition(":")
    if kept.parcel.state == "planned":
        is_step = place.isascii() and place.isdigit() and by in ("-1", "1")
        return f"{kept.name}-u{place}-{'less' if by == '-1' else 'more'}" if is_step else f"{kept.name}-pack"
    return f"{kept.name}-next" if kept.parcel.state == "packed" else f"h-{kept.name}"


def _pdf(content: bytes, name: str) -> Response:
    from shipping.papers.documents.bundle import safe_name

    answer = make_response(content)
    answer.headers["Content-Type"] = "application/pdf"
    answer.headers["Content-Disposition"] = f'inline; filename="{safe_name(name)}-papers.pdf"'
    answer.headers["Cache-Control"] = "private, no-store"
    return answer
