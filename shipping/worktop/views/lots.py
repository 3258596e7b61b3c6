"""The page of the lots: each as it stands; a look typed in goes to the table, and the forecast moves."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta
from urllib.parse import quote

from flask import Response, abort, request

from shipping.eggs.lot_forecast import lot_forecast
from shipping.eggs.should_have_hatched import unseen_text
from shipping.ledger.lot_counts import name_now
from shipping.papers.wording.language import warmth
from shipping.tables.checks.looks import ESTIMATE_TIMES
from shipping.tables.list_words import STAGE_WORDS
from shipping.tables.rows.lots import STAGES
from shipping.tables.shelf import Shelf
from shipping.worktop.context import Refused, View, Worktop, of_cell, refuse_long, refusing, sought, typed
from shipping.worktop.kept_week import fish_name
from shipping.worktop.page_language import day_cell, day_words, days_words, spoken, tr
from shipping.worktop.running_list import cause_text
from shipping.worktop.table_row import add_checked_look, is_in_workbook, written_words

#: What a look may say besides its stage: the column, how it is asked for.
COUNTS = (
    ("alive", "Live eggs, counted again"),
    ("hatched", "Fry since the last look"),
    ("removed", "Dead eggs taken out"),
)
#: So many cards are drawn; Find shows any other.
MOST_CARDS = 16


@dataclass(frozen=True, slots=True)
class LotCard:
    """One lot on a day; ``hatch`` are the days by which 5, 50 and 95 % hatch (damp: are ready to be
    wetted; the breeder's own days have no half), ``keeps_until`` is the last day on which damp eggs may be
    wetted; ``may_hatch_any_day`` are eggs past their day that were seen whole today. ``eggs`` are in the
    tank, those ``held`` for kept parcels too; these are not ``free``. ``packed`` are in parcels still here.
    ``unseen`` asks for a look at eggs that should be hatching; "" where there is nothing to ask. ``by_look``
    is the day of the look on which the days to wet rest.
    """

    lot: str
    fish: str
    medium: str
    kept_at: str
    stage: str
    eggs: int
    free: int
    held: int
    packed: int
    kept_back: int
    hatch: tuple[date | None, date | None, date | None]
    kept_damp: bool
    keeps_until: date | None
    laid: str
    last_seen: date
    doubts: tuple[str, ...]
    may_hatch_any_day: bool
    unseen: str
    today: date
    by_look: date | None = None

    @property
    def hatches_soon(self) -> bool:
        """Will half of it have hatched within a week, with eggs still free?"""
        half = self.hatch[1]
        return (
            half is not None
            and half <= self.today + timedelta(days=7)
            and self.free > 0
            and not self.kept_damp
        )

    @property
    def word(self) -> str:
        """What stands out of it: a look that it wants, the day from which it hatches, else its stage."""
        if self.may_hatch_any_day:
            return tr("▲ hatches any day")
        if self.doubts or self.unseen:
            return tr("▲ look today")
        if self.hatches_soon and self.hatch[0]:
            first = self.hatch[0]
            if first <= self.today:
                return tr("◆ hatches now")
            if first == self.today + timedelta(days=1):
                return tr("◆ hatches from tomorrow")
            return tr("◆ hatches from {day}", day=day_words(first))
        return self.stage_word

    @property
    def stage_word(self) -> str:
        return tr(STAGE_WORDS.get(self.stage, "not looked at"))

    @property
    def urgency(self) -> tuple[int, date, str]:
        """Lots that want a look first, then those that hatch soonest."""
        return (0 if self.doubts or self.unseen else 1, self.hatch[1] or self.hatch[2] or date.max, self.lot)

    @property
    def dates(self) -> str:
        """``2 Dec to 9 Dec, half by 5 Dec``, or why there are none; past wetting, the last day they keep."""
        early, half, late = self.hatch
        if not (early and late):
            return tr("no dates before someone looks") if self.doubts else tr("not within ten years, as kept")
        if self.keeps_until and late < self.today:
            due, last = days_words(late, self.keeps_until)
            return tr("now, due by {late}; {day} at the latest", late=due, day=last)
        if not half:
            first, last = days_words(early, late)
            return tr("{first} to {last}, your own dates", first=first, last=last)
        days = zip(("early", "late", "half"), days_words(early, late, half), strict=True)
        said = tr("{early} to {late}, half by {half}", **dict(days))
        return (
            tr("{dates}, by the look of {day}", dates=said, day=day_words(self.by_look))
            if self.by_look
            else said
        )


@dataclass(frozen=True, slots=True)
class Moved:
    """What a look changed: a line each, before and after."""

    written: str
    lines: tuple[tuple[str, str, str], ...]
    warnings: tuple[str, ...]


class LotsPage(View):
    """Every lot, and a look at it."""

    pages = (("/lots", "lots"),)
    forms = (("/lots/<name>/look", "look"),)

    def __init__(self, worktop: Worktop) -> None:
        super().__init__(worktop)
        self._moved: dict[str, Moved] = {}
        self._known: tuple[Shelf | None, tuple[Counter[str], Counter[str]], dict[str, LotCard]] = (
            None,
            (Counter(), Counter()),
            {},
        )
        worktop.next_pages.append(self._cards)

    def lots(self, trouble_of: str = "", trouble: str = "", status: int = 200) -> Response:
        at, find = request.args.get("at", ""), sought().casefold()
        cards = self._cards()
        wanted = [card for card in cards if find in f"{card.lot} {card.fish}".casefold()]
        named = [card for card in wanted if card.lot in (at, trouble_of)]
        is_written = at in self._moved and "wrote" in request.args
        return self.worktop.page(
            "lots.html",
            status,
            cards=named + [card for card in wanted if card not in named][: MOST_CARDS - len(named)],
            every=len(cards),
            find=find,
            **self._form_facts(),
            troubles={trouble_of: trouble},
            moved={at: self._moved[at]} if is_written else {},
            stamp=f"{self.shelf_state.tables().stamp}-{self.shelf_state.plan_mark()}",
        )

    def _cards(self) -> list[LotCard]:
        """The cards of all lots, the most urgent first."""
        shelf = self.shelf_state.left()
        return sorted((self.card(shelf, lot.lot) for lot in shelf.lots), key=lambda card: card.urgency)

    def _held(self) -> tuple[Counter[str], Counter[str]]:
        """Eggs that kept parcels hold of each lot, by the name it has now, and those packed and not sent."""
        counted = self.shelf_state.readable_tables().counted
        held: Counter[str] = Counter()
        packed: Counter[str] = Counter()
        with self.shelf_state.ledger() as ledger:
            for lot, eggs in ledger.held_by_lot().items() if ledger else ():
                held[name_now(lot, counted)] += eggs
            for parcel in ledger.parcels() if ledger else ():
                for count in parcel.counts if parcel.state == "packed" else ():
                    packed[name_now(count.lot, counted)] += count.eggs
        return held, packed

    def _form_facts(self) -> dict[str, object]:
        in_book = is_in_workbook(self.shelf_state.folder, "inspections")
        return {"stages": STAGE_WORDS, "counts": COUNTS, "typed": request.form, "in_workbook": in_book}

    def card(self, shelf: Shelf, name: str) -> LotCard:
        """The card of a lot, reckoned once for a state of the shelf as the ledger leaves it."""
        if self._known[0] is not shelf:
            self._known = (shelf, self._held(), {})
        _, (held, packed), cards = self._known
        if name not in cards:
            cards[name] = _card(shelf, name, held[name], packed[name])
        return cards[name]

    def look(self, name: str) -> Response:
        with self.shelf_state.lock:
            before_shelf = self.shelf_state.left()
            if name not in before_shelf.lot_by_name:
                abort(404)
            try:
                moved = self._looked_at(name, before_shelf)
            except Refused as refused:
                if self.worktop.wants_card:
                    return self._answer(name, refused.said, refused.status, trouble=refused.said)
                return self.lots(name, refused.said, refused.status)
            self._moved[name] = moved
            if self.worktop.wants_card:
                return self._answer(name, moved.written, moved=moved, typed={})
            return self.worktop.told_at(f"/lots?at={quote(name)}&wrote=1", moved.written, f"h-{name}")

    def _looked_at(self, name: str, before_shelf: Shelf) -> Moved:
        """Writes the look of the form, and says what it changed."""
        counts = [column for column, _ in COUNTS]
        refuse_long("Not written: {why}", **dict.fromkeys(counts, 40), kept_at_c=20, note=500)
        seen = {column: request.form.get(column, "").strip() for column in counts} | {
            "stage": request.form.get("stage", ""),
            "kept_at_c": request.form.get("kept_at_c", "").replace(",", "."),
            "note": typed("note"),
        }
        if not any(seen.values()) or seen["stage"] not in ("", *STAGES):
            raise Refused(tr("Not written: nothing was seen. Name a stage, a count or the warmth."))
        gone = sum(int(seen[column]) for column in ("hatched", "removed") if seen[column].isdigit())
        there = lot_forecast(before_shelf, name).count.eggs
        alive, most = seen["alive"], ESTIMATE_TIMES * max(there, before_shelf.lot_by_name[name].eggs)
        if alive.isdigit() and int(alive) > most:
            text = tr(
                "Not written: {alive} live eggs are far more than the {there} counted in lot {lot}. Look at"
                " the number; if the first count was wrong, correct it in the table first.",
                alive=alive,
                there=there,
                lot=name,
            )
            raise Refused(text)
        if gone > there:
            text = tr(
                "Not written: {gone} are said to be gone, and only {there} were counted in lot {lot}.",
                gone=gone,
                there=there,
                lot=name,
            )
            raise Refused(text)
        on = day_cell(typed("on")) or self.worktop.today.isoformat()
        with refusing("Not written: {why}"):
            written, warnings = add_checked_look(self.shelf_state, {"lot": name, "on": on, **seen})
        lines = _moved_lines(self.card(before_shelf, name), self.card(self.shelf_state.left(), name))
        return Moved(written_words(written), tuple(lines), tuple(map(of_cell, warnings)))

    def _answer(self, name: str, said: str, status: int = 200, trouble: str = "", **more: object) -> Response:
        facts = {"moved": None, "trouble": trouble, **self._form_facts(), **more}
        card = self.card(self.shelf_state.left(), name)
        return self.worktop.card("_lot_card.html", said, status, card=card, **facts)


def _card(shelf: Shelf, name: str, held: int, packed: int) -> LotCard:
    forecast = lot_forecast(shelf, name)
    lot = forecast.lot
    first, half, late = (
        (None, None, None) if forecast.is_too_old(shelf.today) else forecast.days_hatched((0.05, 0.5, 0.95))
    )
    if lot.kept_damp:
        first, late = forecast.wetting
        half = None if lot.wet_from or lot.wet_until else half
    warmed = reversed(shelf.looks_by_lot.get(name, ()))
    kept_at = next((look.kept_at_c for look in warmed if look.kept_at_c is not None), lot.kept_at_c)
    return LotCard(
        lot=lot.lot,
        fish=fish_name(lot.species, lot.population, shelf),
        medium=lot.medium,
        kept_at=warmth(kept_at, spoken()),
        stage=forecast.stage_seen,
        eggs=replace(forecast, held=()).eggs_on(shelf.today),
        free=forecast.free_on(shelf.today),
        held=held,
        packed=packed,
        kept_back=lot.keep_back or 0,
        hatch=(first, half, late),
        kept_damp=lot.kept_damp,
        keeps_until=forecast.last_wetting,
        by_look=forecast.rests_on[0].on if forecast.rests_on and lot.kept_damp else None,
        laid=(
            day_words(lot.laid_from)
            if lot.laid_from == lot.laid_to
            else tr("{first} to {last}", first=day_words(lot.laid_from), last=day_words(lot.laid_to))
        ),
        last_seen=max(
            (one.on for one in forecast.sightings if one.stage and one.stage == forecast.stage_seen),
            default=forecast.last_seen,
        ),
        doubts=tuple(cause_text(reason) for reason in forecast.doubts(shelf.today)),
        may_hatch_any_day=forecast.only_waits(shelf.today),
        unseen=tr(unseen_text(forecast)),
        today=shelf.today,
    )


def _moved_lines(before: LotCard, after: LotCard) -> list[tuple[str, str, str]]:
    what = tr("Wet") if after.kept_damp else tr("Hatches")
    return [
        (tr("Stage"), before.stage_word, after.stage_word),
        (tr("Eggs today"), str(before.eggs), str(after.eggs)),
        (tr("Free to pack"), str(before.free), str(after.free)),
        (what, before.dates, after.dates),
    ]
