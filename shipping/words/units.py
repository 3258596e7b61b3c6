"""Days, weeks, money and shares: how they are named, rounded and written everywhere."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from enum import Enum
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shipping.words.sentence import say

if TYPE_CHECKING:
    from shipping.words.three_point import Dates

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTH_NAMES = "January February March April May June July August September October November December"
MONTH_NAMES = tuple(_MONTH_NAMES.split())
#: Numbers in JSON are rounded to this many places.
PLACES = 6
#: Instead of a buyer's name, where none may be shown.
HIDDEN = "(name hidden)"
#: Days are reckoned with between these years; calendars of holidays say nothing outside them.
FIRST_YEAR, LAST_YEAR = 1970, 2199


#: What is to be known of eggs told for any day after their lot was counted, wherever they are told.
ABOUT_SO_MANY = say("Eggs are reckoned from the last count of their lot: each number is about so many.")


def in_plain_words(column: str) -> str:
    """A column's name as people read it: ``kept_at_c`` is ``Kept at c``."""
    return column.replace("_", " ").capitalize()


def many(count: int, word: str) -> str:
    """``1 line``, ``2 lines``."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def weekday(day: date) -> str:
    """``Mon`` .. ``Sun``."""
    return WEEKDAYS[day.weekday()]


class Written(str):
    """A day, a share, money or a country as English writes it, that knows its value: other languages write it
    their own way.

    ``kind`` is how it is written: ``day``, ``long day``, ``share``, ``degrees``, ``money``, ``country`` (its
    code), ``countries`` (theirs, of which each language has its own order).
    """

    __slots__ = ("kind", "value")
    value: Any
    kind: str

    def __new__(cls, text: str, value: object, kind: str) -> Written:
        written = super().__new__(cls, text)
        written.value, written.kind = value, kind
        return written

    def __reduce__(self) -> tuple[type[Written], tuple[str, object, str]]:
        return Written, (str(self), self.value, self.kind)


def short_day(day: date) -> str:
    """A day as people say it: ``Tue 8 Dec``."""
    return Written(f"{weekday(day)} {day.day} {MONTH_NAMES[day.month - 1][:3]}", day, "day")


def span(dates: Dates) -> str:
    """``2-9 Dec``: the days between which nearly all arrive or hatch; "" where there are none."""
    if dates.p05 is None or dates.p95 is None:
        return ""
    first, last = short_day(dates.p05)[4:], short_day(dates.p95)[4:]
    if first == last:
        return last
    is_one_month = first.partition(" ")[2] == last.partition(" ")[2]
    return f"{first.partition(' ')[0] if is_one_month else first}-{last}"


def iso_week(day: date) -> str:
    """The ISO 8601 week, as ``2026-W49``."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def week_days(week: str) -> tuple[date, ...]:
    """The seven days of an ISO week, Monday first. Raises ValueError if ``week`` is not ``YYYY-Www``, that
    year has no such week, or the year is too far from now.
    """
    year_text, _, week_text = week.upper().partition("-W")
    if not (len(year_text) == 4 and year_text.isdigit() and len(week_text) == 2 and week_text.isdigit()):
        raise ValueError(f"{week!r} is not an ISO week")
    if not FIRST_YEAR <= int(year_text) <= LAST_YEAR:
        raise ValueError(f"{week!r} is not between {FIRST_YEAR} and {LAST_YEAR}")
    monday = date.fromisocalendar(int(year_text), int(week_text), 1)
    return tuple(monday + timedelta(days=n) for n in range(7))


def is_over(week: str, today: date) -> bool:
    """Has an ISO week no day left, so that nothing can be posted in it any more?"""
    return week_days(week)[-1] < today


def rounded(number: float) -> float:
    """A number as JSON carries it: 6 places, never minus zero."""
    return round(float(number), PLACES) + 0.0


def money_text(amount: Decimal | float | int, currency: str = "") -> str:
    """Money as text with two decimals, halves rounded up: ``12.50``; where its currency is named, with the
    three that some have, and whole where there is no smaller coin: 30.00 yen could be read as 3000.
    """
    exact = amount if isinstance(amount, Decimal) else Decimal(repr(float(amount)))
    decimals = decimals_of(currency)
    text = str(exact.quantize(Decimal(1).scaleb(-max(2, decimals)), rounding=ROUND_HALF_UP))
    text = text if decimals else text.removesuffix(".00")
    return Written(text, text, "money")


@lru_cache
def decimals_of(currency: str) -> int:
    """The decimals of a currency's smallest coin; 2 where none is named."""
    if not currency:
        return 2
    from babel.numbers import get_currency_precision

    return get_currency_precision(currency)


def told(record: object, names: str) -> dict[str, object]:
    """Some fields of a record as JSON has them, named in ``"lot from_ until"``; a last ``_`` is left off."""
    return {name.rstrip("_"): _in_json(getattr(record, name)) for name in names.split()}


def _in_json(value: object) -> object:
    """Numbers rounded, days and money as text, records as they say themselves."""
    if isinstance(value, float):
        return rounded(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return money_text(value)
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [_in_json(one) for one in value]
    return value.as_json() if hasattr(value, "as_json") else value


def percent(share: float) -> str:
    """A share as a person reads it: ``97 %``, ``0.4 %``, ``under 0.1 %``."""
    if 0 < share < 0.001:
        return Written("under 0.1 %", share, "share")
    if 0.999 < share < 1:
        return Written("over 99.9 %", share, "share")
    fine = 0 < share < 0.1 or 0.995 <= share < 1
    return Written(f"{share * 100:.1f} %" if fine else f"{share * 100:.0f} %", share, "share")


def degrees(celsius: float) -> str:
    """Warmth as a person reads it everywhere, to a tenth: ``23.5 °C``, ``24 °C``."""
    return Written(f"{round(celsius, 1) + 0.0:g} °C", celsius, "degrees")


def reckoned(share: float) -> str:
    """A share that may hatch, as a person reads it: where the model has none at all, that it reckons none."""
    return percent(share) if share else say("none reckoned")


def within(assumed: int) -> str:
    """What any proof of ours is worth: so many values behind it are assumed."""
    one_or_none = (say("no values are"), say("1 value is"))
    values = one_or_none[assumed] if assumed < 2 else say("{count} values are", assumed)
    return say("This holds within these tables and this model, of which {values} assumed.", values)


def shipped_folder(name: str) -> Path:
    """The folder ``templates`` or ``demo_orders`` that came with the program, in a wheel or in a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / name
    return inside if inside.is_dir() else package.parent / name
