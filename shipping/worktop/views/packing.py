"""The pages of the packing bench: cards in packing order; counts, packing, sending, taking back, their
papers.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote, urlencode

from flask import Response, abort, request

from shipping.ledger.entries import LineCount
from shipping.ledger.kept_papers import PaperTables, parcel_for_papers
from shipping.ledger.packing_day import Done, pack, send, unpacked_notes
from shipping.papers.writing import letters_by_parcel, write_papers
from shipping.tables.cells import MOST_EGGS
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, Plan, Proof
from shipping.words.keys import LineKey, grouped
from shipping.words.problems import ShelfProblems
from shipping.words.units import iso_week
from shipping.worktop import context
from shipping.worktop.context import NotAllSet
from shipping.worktop.kept_week import Kept, has_text, in_packing_order, kept_parcels_now, lots_to_look_at
from shipping.worktop.page_language import shown_name, tr
from shipping.worktop.parcel_cards import (
    LONGEST_COUNT,
    ParcelCard,
    count_from,
    other_day,
    parcel_card,
    planned_tubes,
)
from shipping.worktop.shelf_state import ShelfState
from shipping.worktop.table_row import add_checked_look, written_words

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


class PackingPage(context.View):
    """The bench: what is counted is recorded, not what was planned."""

    pages = (
        ("/packing", "packing"),
        ("/papers/<name>.pdf", "parcel_papers"),
        ("/papers/day/<text>.pdf", "day_papers"),
    )
    forms = tuple((f"/packing/<name>/{doing}", doing) for doing in ("count", "pack", "send", "undo", "eyes"))

    def __init__(self, worktop: context.Worktop) -> None:
        super().__init__(worktop)
        worktop.next_pages.append(self._first_cards)

    # -- looking

    def packing(self) -> Response:
        self.shelf_state.check_newest()
        return self._page(drafts_from(request.args.getlist("counts")), {})

    def _page(
        self, drafts: Mapping[str, Sequence[str]], troubles: Mapping[str, str], status: int = 200
    ) -> Response:
        every, find = self._every(), context.sought()
        at = next(iter(troubles), "") or request.args.get("at", "")
        head = self._head(every, at)
        wanted = [
            kept for kept in every if (has_text(kept, find) if find else self._is_on(kept, head["day"]))
        ]
        shown, folded = _in_sight(in_packing_order(wanted), at)
        return self.worktop.page(
            "packing.html",
            status,
            cards=self._cards(shown, drafts),
            folded=folded,
            find=find,
            drafts=draft_texts(drafts),
            troubles=troubles,
            is_planned=bool(every),
            left_out=self.shelf_state.readable_tables().left_out,
            **head,
        )

    def _cards(self, shown: Sequence[Kept], drafts: Mapping[str, Sequence[str]]) -> list[ParcelCard]:
        return [parcel_card(self.shelf_state, kept, drafts.get(kept.name)) for kept in shown]

    def _first_cards(self) -> list[ParcelCard]:
        every = self._every()
        day = self._day(_tabs(every), every, "", "")
        todays = [kept for kept in every if self._is_on(kept, day)]
        return self._cards(_in_sight(in_packing_order(todays), "")[0], {})

    @staticmethod
    def _is_on(kept: Kept, day: date | None) -> bool:
        return kept.parcel.dispatch_on == day

    def _every(self) -> list[Kept]:
        return [kept for kept in kept_parcels_now(self.shelf_state) if self._is_shown(kept)]

    def _head(self, every: Sequence[Kept], at: str) -> dict[str, Any]:
        """The days with what is left of each, and of the day that is looked at."""
        tabs, today = _tabs(every), self.worktop.today
        day = self._day(tabs, every, at, request.args.get("day", ""))
        tab = next((tab for tab in tabs if tab.day == day), DayTab(today, 0, 0))
        return {
            "tabs": tabs,
            "day": day,
            "open_count": tab.open,
            "earlier": [tab for tab in tabs if tab.is_late(today) and tab.day != day],
        }

    def _is_shown(self, kept: Kept) -> bool:
        """Is it of this week or later, or still to be packed or sent?"""
        this_week = iso_week(self.worktop.today)
        return (
            not kept.parcel.is_handed_over
            or max(kept.parcel.week, iso_week(kept.parcel.dispatch_on)) >= this_week
        )

    def _day(self, tabs: Sequence[DayTab], every: Sequence[Kept], at: str, asked: str) -> date | None:
        """The day looked at, the day named, else the first with work from today on, else the first."""
        days = [kept.parcel.dispatch_on for kept in every if kept.name == at]
        named = context.day_from(asked)
        days += [tab.day for tab in tabs if tab.day == named]
        left = [tab.day for tab in tabs if tab.open]
        days += [day for day in left if day >= self.worktop.today]
        return next(iter([*days, *left, *(tab.day for tab in tabs)]), None)

    # -- changing

    def count(self, name: str) -> Response:
        """The card with one tube's count changed; nothing is recorded, the address carries counts."""
        kept = self.kept(name)
        return self._tell(kept, "", _counts_typed(kept, request.form.get("step", "")))

    def pack(self, name: str) -> Response:
        with self.shelf_state.lock:
            kept = self.kept(name)
            is_kept_anew = kept.parcel.is_planned and request.form.get("plan") != str(kept.parcel.plan_entry)
            counts = None if is_kept_anew else _counts_typed(kept)
            return self._told(kept, lambda: self._packed(kept, counts), counts)

    def _packed(self, kept: Kept, typed_counts: Sequence[str] | None) -> Done | None:
        """Packs a parcel with the counts typed, which are None where they are for another plan."""
        if typed_counts is None:
            said = tr(
                "Not recorded: the plan was kept anew since this page was opened. These are its counts;"
                " count again."
            )
            raise context.Refused(said, 409)
        counts = [count for count in map(count_from, typed_counts) if count is not None]
        if len(counts) < len(typed_counts):
            raise context.Refused(tr("Not recorded: a count is missing or is none; it is marked below."))
        wanted = _line_counts(kept, counts)
        if self._is_recorded(kept, tuple(kept.parcel.counts) == wanted and kept.parcel.state == "packed"):
            return None
        if not request.form.get("short") and (short := self._short_of(kept, typed_counts)):
            said = tr(
                "Not recorded yet: too few of {fish}. Put more in and count again, or say below that it"
                " is packed short.",
                fish=short,
            )
            raise context.Refused(said, 409)
        if not request.form.get("short") and (full := self._too_full(kept, typed_counts)):
            raise context.Refused(tr("Not recorded yet: {why} Count again.", why=full), 409)
        tables, anyway = self.shelf_state.readable_tables(), context.typed("anyway")
        with self.recording() as ledger:  # too few or too many were asked about above
            return pack(
                *(ledger, tables.shelf, kept.name, wanted),
                anyway=anyway,
                is_count_meant=True,
                factory=tables.factory,
            )

    def _too_full(self, kept: Kept, counts: Sequence[str]) -> str:
        """What a tube or bag does not hold of its count; "" for none, once packed, and past its lot."""
        card = parcel_card(self.shelf_state, kept, counts) if kept.parcel.is_planned else None
        if card is None or any(line.too_many for line in card.lines):
            return ""
        return " ".join(map(tr, card.too_full))

    def _short_of(self, kept: Kept, counts: Sequence[str]) -> str:
        """The fish of which fewer are counted than the promise needs; "": none, or more would not help."""
        card = parcel_card(self.shelf_state, kept, counts) if kept.parcel.is_planned else None
        is_asked_else = card is not None and card.outlook is not None and card.outlook.against
        if card is None or not card.is_short or is_asked_else:
            return ""
        return ", ".join(line.fish for line in card.lines if not line.promise.holds and not line.too_many)

    def send(self, name: str) -> Response:
        with self.shelf_state.lock:
            kept = self.kept(name)
            return self._told(kept, lambda: self._sent(kept))

    def _sent(self, kept: Kept) -> Done | None:
        context.refuse_long("Not recorded: {why}", item=40)
        item = "".join(request.form.get("item", "").split()).replace("-", "").upper()
        if self._is_recorded(kept, kept.parcel.state == "sent" and kept.parcel.item == item):
            return None
        on = context.day_typed_in("on", "Not recorded: {why}") or self.worktop.today
        if on != kept.parcel.dispatch_on and not request.form.get("other_day"):
            said = tr("Not recorded yet: {why} Say below when it was sent.", why=other_day(kept.parcel, on))
            raise context.Refused(said, 409)
        with self.recording() as ledger:
            shelf, anyway = self.shelf, context.typed("anyway")
            return send(ledger, shelf, kept.name, on=on, item=item, anyway=anyway, only_clock=True)

    def undo(self, name: str) -> Response:
        with self.shelf_state.lock:
            kept = self.kept(name)
            counts = _counts_recorded(kept) if kept.parcel.state == "packed" else None
            return self._told(kept, lambda: self._taken_back(kept), counts)

    def _taken_back(self, kept: Kept) -> Done:
        entry = self.entry_about(kept.name)
        undone = (one for one in self.shelf_state.entries() if one.seq == entry)
        notes = tuple(note for one in undone for note in unpacked_notes(one, self.worktop.today))
        with self.recording() as ledger:
            return Done(ledger.undo(entry), notes)

    def eyes(self, name: str) -> Response:
        """Writes the look that a parcel waits for: eyes show in its lot today."""
        with self.shelf_state.lock:
            kept = self.kept(name)
            try:
                said = self._seen(kept, request.form.get("lot", ""))
            except context.Refused as refused:
                return self._refuse(kept, refused)
            if request.form.get("after") == "/":
                return self.worktop.told_at("/", said)
            return self._tell(kept, said)

    def _seen(self, kept: Kept, lot: str) -> str:
        if lot not in lots_to_look_at(kept, self.shelf_state.readable_tables().known):
            raise context.Refused(tr("Not written: this parcel waits for no look at that lot."), 409)
        cells = {"lot": lot, "on": self.worktop.today.isoformat(), "stage": "eyed"}
        with context.refusing("Not written: {why}"):
            return written_words(add_checked_look(self.shelf_state, cells)[0])

    def _is_recorded(self, kept: Kept, is_same: bool) -> bool:
        """Was this recorded already? Where something else was since the form was made, it is refused."""
        changed = self.worktop.changed_since(kept.name)
        if changed is not None and not changed:
            return False
        if is_same:
            return True
        what = context.what_changed(changed)
        said = tr(
            "Not recorded: since this page was opened, {what}. Here is the parcel as it stands now.",
            what=what,
        )
        raise context.Refused(said, 409)

    # -- answering

    def _told(
        self, kept: Kept, record: Callable[[], Done | None], counts: Sequence[str] | None = None
    ) -> Response:
        """Records something of a parcel, and tells what, or why not; None is what was recorded before."""
        try:
            done = record()
        except context.Refused as refused:
            return self._refuse(kept, refused, counts)
        if done is None:
            return self._tell(kept, tr("It was recorded already; nothing was recorded twice."), counts)
        said = " ".join([self.said_of(done.entry.seq), *map(tr, done.notes)])
        now, entry = self.kept(kept.name), 0 if done.notes else done.entry.seq
        return self._tell(now, said, counts if now.parcel.is_planned else None, entry)

    def _refuse(self, kept: Kept, refused: context.Refused, counts: Sequence[str] | None = None) -> Response:
        if self.worktop.wants_card:
            return self._answer(kept, counts, refused.said, refused.status, refused.said)
        return self._page(_drafts_with(kept, counts), {kept.name: refused.said}, refused.status)

    def _answer(
        self, kept: Kept, counts: Sequence[str] | None, said: str, status: int = 200, trouble: str = ""
    ) -> Response:
        """The card, for a page that asked by script."""
        facts = {
            **self._head(self._every(), kept.name),
            "card": parcel_card(self.shelf_state, kept, counts or None),
        }
        return self.worktop.card("_parcel_answer.html", said, status, trouble=trouble, **facts)

    def _tell(self, kept: Kept, said: str, counts: Sequence[str] | None = None, done: int = 0) -> Response:
        """The card for a page that asked by script; else the page again, by its address."""
        if self.worktop.wants_card:
            return self._answer(kept, counts, said)
        drafts = _drafts_with(kept, counts)
        asked = [("at", kept.name), *(("counts", text) for text in draft_texts(drafts))]
        asked += [("done", str(done))] if done else []
        focus = _next_focus(kept)
        if kept.parcel.state == "sent" and (after := self._after(kept)):
            asked[0], focus = ("at", after.name), f"h-{after.name}"
        if said and not done:
            return self.worktop.told_at(f"/packing?{urlencode(asked)}", said, focus)
        return context.go_to(f"/packing?{urlencode(asked)}#{focus}")

    def _after(self, kept: Kept) -> Kept | None:
        """The next parcel of the same day that is still to be packed or sent; None where there is none."""
        left = [
            other
            for other in in_packing_order(self._every())
            if self._is_on(other, kept.parcel.dispatch_on) and not other.parcel.is_handed_over
        ]
        return next((other for other in left if other.name > kept.name), left[0] if left else None)

    # -- papers

    def parcel_papers(self, name: str) -> Response:
        kept = self.kept(name)
        return self._papers((kept,), kept.parcel.week, name, whole_day=False)

    def day_papers(self, text: str) -> Response:
        day = context.day_from(text)
        todays = [kept for kept in self._every() if self._is_on(kept, day)]
        if day is None or not todays:
            abort(404)
        return self._papers(in_packing_order(todays), iso_week(day), text, whole_day=True)

    def _papers(self, kept: Sequence[Kept], week: str, name: str, whole_day: bool) -> Response:
        from shipping.papers.printed_files import safe_name

        others = "others" in request.args
        content = papers_of(self.shelf_state, kept, week, whole_day=whole_day, others=others)
        place = f'inline; filename="{safe_name(name)}-papers.pdf"'
        kind, cache = "application/pdf", "private, no-store"
        return context.file_answer(content, kind, Content_Disposition=place, Cache_Control=cache)


def _tabs(every: Sequence[Kept]) -> tuple[DayTab, ...]:
    by_day = grouped((kept.parcel.dispatch_on, kept) for kept in every)
    return tuple(
        DayTab(day, len(parcels), sum(not kept.parcel.is_handed_over for kept in parcels))
        for day, parcels in sorted(by_day.items())
    )


def _in_sight(every: Sequence[Kept], at: str) -> tuple[list[Kept], list[Kept]]:
    """The parcels whose cards are drawn, those done already among them, and those named in one line each."""
    waiting = [kept for kept in every if not kept.parcel.is_handed_over]
    place = next((n for n, kept in enumerate(waiting) if kept.name == at), 0)
    start = max(0, min(place - 1, len(waiting) - MOST_CARDS))
    drawn = {kept.name for kept in waiting[start : start + MOST_CARDS]}
    drawn |= {kept.name for kept in every if kept.parcel.is_handed_over}
    return [kept for kept in every if kept.name in drawn], [kept for kept in every if kept.name not in drawn]


def _next_focus(kept: Kept) -> str:
    """Where the focus goes when the page loads anew: the button just pressed, or the card's next."""
    place, _, by = request.form.get("step", "").partition(":")
    if kept.parcel.is_planned:
        is_step = place.isascii() and place.isdigit() and by in ("-1", "1")
        return f"{kept.name}-u{place}-{'less' if by == '-1' else 'more'}" if is_step else f"{kept.name}-pack"
    return f"{kept.name}-next" if kept.parcel.state == "packed" else f"h-{kept.name}"


# -- counts


def _counts_typed(kept: Kept, step: str = "") -> tuple[str, ...]:
    """The tubes' counts as they stand in a form, after one step of a button (``3:-1``)."""
    place, _, by = step.partition(":")
    counts: list[str] = []
    for n, tube in enumerate(planned_tubes(kept)):
        text = request.form.get(f"u{n}", tube.typed).strip()[:LONGEST_COUNT]
        count = count_from(text)
        if place == str(n) and by in ("-1", "1", "-5", "5") and (count is not None or not text):
            text = str(min(MOST_EGGS, max(0, (count or 0) + int(by))))
        counts.append(text)
    return tuple(counts)


def _counts_recorded(kept: Kept) -> tuple[str, ...]:
    """What was recorded as packed, tube by tube, so that taking it back loses no count."""
    left = {((count.order, count.line), count.lot): count.eggs for count in kept.parcel.counts}
    keys = [(tube.line, tube.lot) for tube in planned_tubes(kept)]
    counts = []
    for n, tube in enumerate(planned_tubes(kept)):
        there = left.get(keys[n], 0)
        counts.append(min(tube.planned, there) if keys[n] in keys[n + 1 :] else there)
        left[keys[n]] = there - counts[-1]
    return tuple(map(str, counts))


def _line_counts(kept: Kept, eggs: Sequence[int]) -> tuple[LineCount, ...]:
    """What is recorded as packed: the tubes' counts added up by line and lot."""
    sums: Counter[tuple[LineKey, str]] = Counter()
    for tube, count in zip(planned_tubes(kept), eggs, strict=True):
        sums[tube.line, tube.lot] += count
    return tuple(
        LineCount(order=order, line=line, lot=lot, eggs=count) for ((order, line), lot), count in sums.items()
    )


def drafts_from(texts: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Counts so far by parcel, as they were typed, from ``2026-W49-01~23.18``; what is too long is not."""
    drafts: dict[str, tuple[str, ...]] = {}
    for text in texts:
        name, mark, counts = text.rpartition("~")
        parts = tuple(unquote(part) for part in counts.split("."))
        if mark and name and all(len(part) <= LONGEST_COUNT for part in parts):
            drafts[name] = parts
    return drafts


def draft_texts(drafts: Mapping[str, Sequence[str]]) -> list[str]:
    return [
        f"{name}~{'.'.join(quote(count, safe='').replace('.', '%2E') for count in counts)}"
        for name, counts in sorted(drafts.items())
    ]


def _drafts_with(kept: Kept, counts: Sequence[str] | None) -> dict[str, Sequence[str]]:
    """The counts of the other cards that the form carries, and of this one where it is not packed."""
    drafts: dict[str, Sequence[str]] = {**drafts_from(request.form.getlist("counts"))}
    drafts.pop(kept.name, None)
    return drafts | ({kept.name: counts} if counts and kept.parcel.is_planned else {})


def papers_of(
    shelf_state: ShelfState, kept: Sequence[Kept], week: str, *, whole_day: bool, others: bool = False
) -> bytes:
    """One PDF of everything to print for one parcel, or for several in packing order with their pick list.

    Raises ShelfProblems if a parcel's papers cannot be set any more, or a text cannot be printed; where
    others of the day can, `NotAllSet`, and with ``others`` those are set without it.
    """
    shelf = shelf_state.readable_tables().known
    parcels, not_set = _settable(shelf_state, kept, shelf)
    if not_set and not (others and parcels):
        problems = tuple(problem for why in not_set.values() for problem in why.problems)
        raise NotAllSet(problems, tuple(not_set)) if parcels else ShelfProblems(problems)
    items = {parcel.name: parcel.parcel.item for parcel in kept if parcel.parcel.item}
    plan = Plan(week, shelf.today, parcels, (), (), Proof(0.0, 0.0, 0.0, 0.0))
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        only = None if whole_day else kept[0].name
        made = write_papers(
            *(plan, shelf, folder),
            parcel=only,
            items=items,
            shelf_folder=shelf_state.folder,
            processes=1,
            in_one=True,
        )
        place = "print" if whole_day else "parcels"
        return next(path for path in made if path.parent.name == place).read_bytes()


def _settable(
    shelf_state: ShelfState, kept: Sequence[Kept], shelf: Shelf
) -> tuple[tuple[Parcel, ...], dict[str, ShelfProblems]]:
    """The parcels whose papers can be set, and why the others' cannot, by name."""
    parcels, not_set = [], {}
    with shelf_state.lock:
        for parcel in kept:
            try:
                parcels.append(shown_parcel(shelf_state, parcel))
            except ShelfProblems as why:
                not_set[parcel.name] = why
    not_set |= letters_by_parcel(parcels, shelf)
    return tuple(parcel for parcel in parcels if parcel.parcel not in not_set), not_set


def shown_parcel(shelf_state: ShelfState, kept: Kept) -> Parcel:
    """The parcel for its papers; names are hidden where the page hides them."""
    tables = shelf_state.readable_tables()
    known = PaperTables(tables.factory, tables.counted, kept.orders)
    parcel = parcel_for_papers(known, kept.parcel, kept.facts, shelf_state.today_of())
    address = replace(parcel.address, addressee=shown_name(parcel.address.addressee))
    return replace(parcel, address=address, tel=shown_name(parcel.tel, ""), mail=shown_name(parcel.mail, ""))
