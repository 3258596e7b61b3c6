"""The timeline of all lots, drawn: laying, looks, eyes, hatching, today and last safe days, a row a lot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from shipping.papers.charts.pictures import (
    BLACK,
    BLUE,
    GREEN,
    GREY,
    HAIR,
    ORANGE,
    PALE,
    VERMILLION,
    WHITE,
    Sketch,
    sketch,
)
from shipping.papers.wording.language import day as long_day
from shipping.papers.wording.language import short_day
from shipping.questions.forecast import LastDay, LotRow, Timeline
from shipping.words import units
from shipping.words.sentence import joined, say

#: Width, as A4 lies [points], and what the names at the left and the last days at the right take of it.
_WIDTH, _LEFT, _RIGHT = 842, 190, 262
_ROW, _GROUP, _TOP, _LEGEND = 30, 62, 54, 84
#: Height of a page as A4 lies [points], and the smallest type on it [points].
_PAGE, _SMALL = 595, 9
_ROWS_A_PAGE = (_PAGE - _TOP - _LEGEND - _GROUP) // _ROW
#: No bar of hatching is drawn narrower, however short it is: the line of its middle is within it [points].
_LEAST_BAR = 9.0
#: Why a lot has no dates, in words.
_DOUBTS = {
    "overdue": say("overdue"),
    "too-old": say("too old"),
    "misdated": say("dates that do not fit"),
    "should-have-hatched": say("should have hatched"),
}
#: Week names stand no closer than this [points].
_APART = 46.0
#: The last one ends at the edge: it is named where the one before it stands no closer than this [points].
_FROM_THE_EDGE = 60.0


def lot_picture(timeline: Timeline, language: str = "en", words: Callable[[str], str] = str) -> Sketch:
    """The drawing of a timeline that has at least one lot; ``words`` says its sentences in the language."""
    groups = timeline.groups()
    tall = _TOP + _LEGEND + sum(_GROUP + _ROW * len(rows) for rows in groups)
    return _sheet(timeline, groups, tall, language, words)


def lot_pages(timeline: Timeline) -> tuple[Sketch, ...]:
    """The same on pages as A4 lies: lots in water and lots kept damp on pages and scales of their own."""
    return tuple(
        _sheet(timeline, (rows[first : first + _ROWS_A_PAGE],), _PAGE)
        for rows in timeline.groups()
        for first in range(0, len(rows), _ROWS_A_PAGE)
    )


def _sheet(
    timeline: Timeline,
    groups: Sequence[Sequence[LotRow]],
    tall: int,
    language: str = "en",
    words: Callable[[str], str] = str,
) -> Sketch:
    title = say("Lots on {day}", long_day(timeline.today, language))
    about = _about([row for rows in groups for row in rows])
    sheet = sketch(_WIDTH, tall, title, about, language, words)
    sheet.text(20, tall - 28, title, 14, bold=True)
    below = say("When each was laid, seen, shows eyes and hatches, and the last days it may go")
    sheet.text(20, tall - 44, below, 9, colour=GREY)
    y = float(tall - _TOP)
    has_widened = False
    for rows in groups:
        group = _Group(sheet, timeline, rows, y)
        group.draw()
        has_widened |= group.has_widened
        y -= _GROUP + _ROW * len(rows)
    _legend(sheet, has_widened)
    return sheet


def _about(rows: Sequence[LotRow]) -> str:
    def said(row: LotRow) -> str:
        if row.doubt:
            return say("{lot}: look first: {why}", row.lot, _why(row.doubt))
        days = (row.hatch.p05, row.hatch.p50, row.hatch.p95)
        dates = joined((units.short_day(day) if day else "–" for day in days), " / ")
        return (
            say("{lot}: wet {dates}", row.lot, dates)
            if row.kept_damp
            else say("{lot}: hatch {dates}", row.lot, dates)
        )

    return joined((said(row) for row in rows), "; ")


def _why(doubt: str) -> str:
    return joined((_DOUBTS.get(code, code) for code in doubt.split(", ")), ", ")


class _Group:
    """Lots that share one scale of days."""

    def __init__(self, sheet: Sketch, timeline: Timeline, rows: Sequence[LotRow], top: float) -> None:
        self.sheet, self.today, self.rows, self.top = sheet, timeline.today, rows, top
        group = next(own for own in timeline.groups() if own[0].kept_damp == rows[0].kept_damp)
        self.first, self.last = timeline.span(group)
        self.head = top - 40
        self.foot = self.head - _ROW * len(rows)
        self.has_widened = False

    def x(self, day: date) -> float:
        return _LEFT + (_WIDTH - _LEFT - _RIGHT) * (day - self.first).days / (self.last - self.first).days

    def draw(self) -> None:
        damp = self.rows[0].kept_damp
        title = say("Kept damp: when to wet them") if damp else say("In water: when they hatch")
        self.sheet.text(20, self.top - 9, title, 11, bold=True)
        self.sheet.text(_WIDTH - _RIGHT + 10, self.head + 8, say("last days"), _SMALL, bold=True)
        self._weeks()
        x = self.x(self.today)
        self.sheet.line(x, self.foot, x, self.head + 3, VERMILLION, 1.4, (5, 2))
        today = say("today")
        self.sheet.text(x, self.head + 19, today, _SMALL, bold=True, colour=VERMILLION, anchor="middle")
        for number, row in enumerate(self.rows):
            y = self.head - _ROW * number
            if number % 2 == 0:
                self.sheet.box(14, y - _ROW, _LEFT - 20, _ROW, PALE)
                self.sheet.box(_WIDTH - _RIGHT + 4, y - _ROW, _RIGHT - 18, _ROW, PALE)
            self._row(row, y - _ROW / 2)

    def _weeks(self) -> None:
        """A hair for each Monday, named as often as there is room."""
        weeks = (self.last - self.first).days // 7
        wide = (_WIDTH - _LEFT - _RIGHT) / weeks
        every = next(n for n in range(1, weeks + 2) if wide * n >= _APART)
        for n in range(weeks + 1):
            day = self.first + timedelta(days=7 * n)
            named = n % every == 0
            x, name = self.x(day), short_day(day, self.sheet.language)
            if named or every <= 2:
                self.sheet.line(x, self.foot, x, self.head + (4 if named else 0), HAIR, 0.5)
            if named and (n < weeks or wide * every >= _FROM_THE_EDGE):
                anchor = "end" if n == weeks else "middle"
                self.sheet.text(x, self.head + 8, name, _SMALL, colour=GREY, anchor=anchor)
        self.sheet.line(_LEFT, self.head, _WIDTH - _RIGHT, self.head, GREY, 0.6)

    def _row(self, row: LotRow, y: float) -> None:
        self.sheet.line(_LEFT, y - _ROW / 2, _WIDTH - _RIGHT, y - _ROW / 2, HAIR, 0.3)
        self.sheet.text(20, y + 2, row.lot, 9, bold=True, most=_LEFT - 30)
        self.sheet.text(20, y - 9, row.fish, _SMALL, colour=GREY, most=_LEFT - 30)
        left, right = self.x(row.laid_from), self.x(row.laid_to + timedelta(days=1))
        self.sheet.box(left, y - 0.5, max(2.5, right - left), 7, HAIR, GREY)
        self._hatch(row, y + 3)
        self._seen(row, y + 3)
        self._last_days(row, y)

    def _hatch(self, row: LotRow, y: float) -> None:
        if row.hatch.p05 and row.hatch.p95:
            left, right = self.x(row.hatch.p05), self.x(row.hatch.p95)
            wide = max(_LEAST_BAR, right - left)
            self.has_widened |= wide > right - left
            self.sheet.box((left + right - wide) / 2, y - 5.5, wide, 11, ORANGE, BLACK)
        if row.hatch.p50:
            self.sheet.line(self.x(row.hatch.p50), y - 8, self.x(row.hatch.p50), y + 8, BLACK, 2.2)

    def _seen(self, row: LotRow, y: float) -> None:
        for day, stage in row.looks:
            if day != row.eyed:
                self.sheet.mark(self.x(day), y, "circle", BLACK, stage is not None, 2.4)
        if row.eyed:
            self.sheet.mark(self.x(row.eyed), y, "diamond", BLUE, row.eyed_seen, 3.6)

    def _last_days(self, row: LotRow, y: float) -> None:
        """N and F under the row on their days, and the same in words at its right."""
        days: dict[date, str] = {}
        for letter, way in (("N", row.nearest), ("F", row.farthest)):
            if way and way.until and not row.doubt and letter not in days.get(way.until, ""):
                days[way.until] = days.get(way.until, "") + letter
        for day, letters in days.items():
            wide = 8.0 * len(letters)
            self.sheet.box(self.x(day) - wide / 2, y - 13, wide, 8.5, WHITE)
            self.sheet.text(self.x(day), y - 12, letters, _SMALL, bold=True, colour=GREEN, anchor="middle")
        x = _WIDTH - _RIGHT + 10
        if row.doubt:
            self.sheet.text(x, y - 3, say("look first: {why}", _why(row.doubt)), _SMALL, bold=True)
        elif row.nearest is None or row.farthest is None:
            self.sheet.text(x, y - 3, say("no order for the species"), _SMALL, colour=GREY)
        else:
            self.sheet.text(x, y + 2, self._way("N", row.nearest), _SMALL)
            far = say("F  the same") if row.farthest == row.nearest else self._way("F", row.farthest)
            self.sheet.text(x, y - 8, far, _SMALL)

    def _way(self, letter: str, last: LastDay) -> str:
        if last.no_last_day:
            return say("{letter}  {service} {to}: no end within 60 days", letter, last.service, last.to)
        if last.until is None:
            return say("{letter}  {service} {to}: no day", letter, last.service, last.to)
        return f"{letter}  {last.service} {last.to}: {short_day(last.until, self.sheet.language)}"


def _legend(sheet: Sketch, has_widened: bool) -> None:
    y = 50.0
    sheet.line(20, y + 19, _WIDTH - 20, y + 19, HAIR, 0.5)
    sheet.box(22, y - 1, 14, 7, HAIR, GREY)
    sheet.text(42, y, say("laid"), _SMALL)
    sheet.mark(94, y + 3, "circle", BLACK, True, 2.4)
    sheet.text(102, y, say("look, stage seen"), _SMALL)
    sheet.mark(206, y + 3, "circle", BLACK, False, 2.4)
    sheet.text(214, y, say("live eggs counted"), _SMALL)
    sheet.mark(340, y + 3, "diamond", BLUE, True, 3.6)
    sheet.text(350, y, say("eyes first seen"), _SMALL)
    sheet.mark(456, y + 3, "diamond", BLUE, False, 3.6)
    sheet.text(466, y, say("half show eyes (reckoned)"), _SMALL)
    y -= 17
    sheet.box(22, y - 2, 26, 10, ORANGE, BLACK)
    sheet.line(35, y - 4, 35, y + 10, BLACK, 2.2)
    sheet.text(56, y, say("5 to 95 % hatched (damp: wet from, until); bar 50 %"), _SMALL)
    if has_widened:
        short = say("a short time is drawn wider than it is, so that it is seen")
        sheet.text(436, y, short, _SMALL)
    note = say(
        "N, F: the last day by this reckoning, by the nearest and the farthest service in use for the"
        " species, by its usual days on the way."
    )
    sheet.text(20, 16, note, _SMALL, colour=GREY)
