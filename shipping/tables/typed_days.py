"""Days as a person writes them: what was typed in, the one day it means out, or what to write; and a day in,
as a table of the breeder's writes it, out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Annotated

from pydantic import BeforeValidator

from shipping.tables.cells import BadCell, as_text, plain_text, shortened
from shipping.tables.countries import main_language_of
from shipping.words.sentence import either, say

_OTHER_DATE = re.compile(r"([0-9]{1,4})[./ -]+([0-9]{1,2})[./ -]+([0-9]{1,4})\.?")
_TIME_BEHIND = re.compile(
    r"(.+?)(?:T|,?\s+)[0-9]{1,2}[:.][0-9]{2}(?:[:.][0-9]{2}(?:\.[0-9]+)?)?(?:\s*[ap]\.?m\.?)?"
    r"(?:\s*(?:Z|UTC|GMT|[A-Z]{2,4}|[+-][0-9]{2}:?[0-9]{2}))?",
    re.IGNORECASE,
)
_ONE_PIECE = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})")
_NAMED_MONTH = re.compile(
    r"(?:[^\W\d_]{2,10}\.?,?\s+)?(?:([0-9]{1,2})(?:st|nd|rd|th|er|\.)?[ /-]*(?:of |de )?)?"
    r"([^\W\d_]{3,12})\.?(?: de)?[ /-]*"
    r"(?:([0-9]{1,2})(?:st|nd|rd|th)?[, /-]+)?([0-9]{4}|[0-9]{2})"
)
#: Languages whose names of months and weekdays are understood (ISO 639-1).
MONTHS_OF = ("en", "de", "da", "es", "fr", "it", "nl", "pt", "sv", "nb", "pl", "cs", "fi", "hu")
#: Days as spreadsheets count them: from this one on, or from 1904.
_FIRST_DAY, _LATER_FIRST_DAY = date(1899, 12, 30), date(1904, 1, 1)
FIRST_YEAR = 2000
_ANY_DAY = "Write the day as 2026-11-30."
#: A year that has every day there is.
_LEAP_YEAR = 2000


def date_mend(text: str, today: date | None = None, dates: str | None = None, past: bool = False) -> str:
    """Every reading of what looks like a date, the year to be filled in; else how a day is written.

    Where ``today`` is known, a day without its year is given back as it was typed, with the likely year; in
    each of its readings, where neither it nor the setting ``dates`` says which. ``past``: none to come.
    """
    readings = list(dict.fromkeys(day.isoformat() for day in days_meant(text).values()))
    if readings:
        return say("Write {value}.", either(readings))
    without = days_without_year(text)
    if without and today and (dates or len(without) == 1):
        return say("Write the year too, as {value}.", _with_the_likely_year(text, without[0], today, past))
    if without and today:
        return say(
            "Write {value}.", either(f"{_likely_year(day, today, past)}-{day:%m-%d}" for day in without)
        )
    of_a_year = [f"YYYY-{day:%m-%d}" for day in without]
    return say("Write the year too, as {value}.", either(of_a_year)) if of_a_year else _ANY_DAY


def _with_the_likely_year(text: str, day: date, today: date, past: bool) -> str:
    """``16/11`` as ``16/11/2026``."""
    bare = plain_text(text).strip(" ,./-")
    between = re.search("[./-]", bare)
    return f"{bare}{between[0] if between else ' '}{_likely_year(day, today, past)}"


def _likely_year(day: date, today: date, past: bool) -> int:
    """The year in which that day is nearest to today; ``past``: and not after it."""
    if past:
        return today.year - ((day.month, day.day) > (today.month, today.day))
    years = (today.year - 1, today.year, today.year + 1)
    return min(years, key=lambda year: abs((date(year, day.month, min(day.day, 28)) - today).days))


def no_such_day(text: str) -> tuple[str, str] | None:
    """What is wrong with a day past its month's end (``31/11/2026``), and how long that is; else None."""
    if days_meant(text) or not (match := _OTHER_DATE.fullmatch(plain_text(text).strip(" ,"))):
        return None
    first, second, third = map(int, match.groups())
    parts = [(first, second, third)] if first > 31 else [(third, second, first), (third, first, second)]
    year, month, day = next((one for one in parts if 1 <= one[1] <= 12), (0, 0, 0))
    if not (month and 28 < day < 32 and (FIRST_YEAR <= year < 2100 or year < 100)):
        return None
    last = (date(year % 100 + 2000 + month // 12, month % 12 + 1, 1) - timedelta(days=1)).day
    return say("'{cell}' is not a day of the calendar", shortened(text)), say(
        "That month has {count} days.", last
    )


def days_without_year(text: str) -> tuple[date, ...]:
    """The days of a leap year that ``16.11.`` or ``16 Nov`` may mean; none where the text is no such day."""
    bare = plain_text(text).strip(" ,./-")
    found = {**days_meant(f"{bare}.{_LEAP_YEAR}"), **days_meant(f"{bare} {_LEAP_YEAR}")}
    return tuple(dict.fromkeys(day for day in found.values() if day.year == _LEAP_YEAR))


@lru_cache(maxsize=4096)
def days_meant(text: str) -> dict[str, date]:
    """Every day that a text may mean, by how it is read: ``day first``, ``month first`` or ``named``."""
    plain = plain_text(text).strip(" ,")
    if match := _TIME_BEHIND.fullmatch(plain):
        plain = match[1].strip(" ,")
    if match := _OTHER_DATE.fullmatch(plain):
        return dict(_numbered_days(*match.groups()))
    if match := _ONE_PIECE.fullmatch(plain):
        return dict(_days(named=(int(match[1]), int(match[2]), int(match[3]))))
    if match := _NAMED_MONTH.fullmatch(plain):
        month, day = month_named(match[2]), match[1] or match[3]
        year = int(match[4]) + (2000 if len(match[4]) == 2 else 0)
        return dict(_days(named=(year, month, int(day)))) if month and day else {}
    if re.fullmatch("[345][0-9]{4}", plain):
        count = timedelta(days=int(plain))
        return {"from 1900": _FIRST_DAY + count, "from 1904": _LATER_FIRST_DAY + count}
    return {}


def day_read_by(meant: Mapping[str, date], dates: str) -> date | None:
    """Which of the days that a text may mean is meant by one whose setting ``dates`` says so."""
    return meant.get(dates) or meant.get("named")


def _numbered_days(first: str, second: str, third: str) -> Iterator[tuple[str, date]]:
    """The days of three numbers; a year of four digits in front is a year."""
    if len(first) > 2:
        if len(first) == 4 and len(third) <= 2:
            yield from _days(named=(int(first), int(second), int(third)))
        return
    if len(third) not in (2, 4):
        return
    year = int(third) + (2000 if len(third) == 2 else 0)
    day_first, month_first = (year, int(second), int(first)), (year, int(first), int(second))
    yield from _days(**{"day first": day_first, "month first": month_first})


def _days(**parts: tuple[int, int, int]) -> Iterator[tuple[str, date]]:
    """Those of (year, month, day) that are in the calendar."""
    for name, (year, month, day) in parts.items():
        try:
            yield name, date(year, month, day)
        except ValueError:
            continue


def month_named(word: str, cut_anyhow: bool = True) -> int | None:
    """The month (1-12) that a word in one of `MONTHS_OF` names, whole or cut short, or None; without
    ``cut_anyhow`` a longer word that begins like a month is none.
    """
    plain = word.casefold().rstrip(".")
    known = _named("months").get(plain)
    return known or (_named("months").get(plain[:3]) if cut_anyhow and len(plain) >= 3 else None)


ISO_DAY = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")


def parse_date(cell: object) -> date:
    """A day from `FIRST_YEAR` on: earlier ones are what spreadsheets make of nothing, or of a zero."""
    day = cell.date() if isinstance(cell, datetime) else cell if isinstance(cell, date) else None
    day = day or _date_from(as_text(cell))
    if day.year < FIRST_YEAR:
        text = say("'{day}' is long past, and what spreadsheets make of nothing", day.isoformat())
        raise BadCell(text, "Write the day, or leave it blank.")
    return day


@lru_cache(maxsize=4096)
def _date_from(text: str) -> date:
    if match := ISO_DAY.fullmatch(text):
        try:
            return date(int(match[1]), int(match[2]), int(match[3]))
        except ValueError:
            no_day = say("'{cell}' is not a day of the calendar", text)
            raise BadCell(*(no_such_day(text) or (no_day, _ANY_DAY))) from None
    if wrong := no_such_day(text):
        raise BadCell(*wrong)
    if not days_meant(text) and days_without_year(text):
        raise BadCell(say("'{cell}' has no year", shortened(text)), date_mend(text))
    raise BadCell(say("'{cell}' is not a date as year-month-day", shortened(text)), date_mend(text))


Day = Annotated[date, BeforeValidator(parse_date)]


#: Days that are named by today, in the page's languages.
_NEAR_DAYS = {
    word: days
    for days, words in enumerate(
        (
            "yesterday gestern hier ayer",
            "today heute aujourd’hui aujourd'hui hoy",
            "tomorrow morgen demain mañana",
        ),
        -1,
    )
    for word in words.split()
}


def day_typed(text: str, dates: str | None, today: date | None, ahead: bool = False) -> date:
    """The day that a text means, read as tables are: by the setting ``dates``, where it may be several.

    ``ahead``: a day to come is asked for, so the name of a weekday is the next of that name, today with it.
    Raises BadCell where the text is no day, or may be several.
    """
    if today and (near := _NEAR_DAYS.get(plain_text(text).strip().casefold())) is not None:
        return today + timedelta(days=near)
    weekday = weekday_named(text) if today else None
    if today and weekday is not None:
        coming = today + timedelta(days=(weekday - today.weekday()) % 7)
        if ahead:
            return coming
        last = coming if coming == today else coming - timedelta(days=7)
        shown = either(dict.fromkeys(day.isoformat() for day in (last, coming)))
        raise BadCell(say("'{cell}' may be several days", text.strip()), say("Write {value}.", shown))
    meant = days_meant(text)
    day = day_read_by(meant, dates) if dates else next(iter(meant.values()), None)
    if day is not None and (dates or len({*meant.values()}) == 1):
        return day
    if wrong := no_such_day(text):
        raise BadCell(*wrong)
    shown, mend = shortened(text.strip()), date_mend(text, today, dates, past=not ahead)
    if len({*meant.values()}) > 1:
        raise BadCell(say("'{cell}' may be several days", shown), mend)
    raise BadCell(say("'{cell}' is not a day", shown), mend)


@lru_cache(maxsize=16)
def days_at(country: str) -> tuple[str | None, str]:
    """How people of a country write a day in numbers: ``day first``, ``month first`` or, the year first,
    None; and what stands between the numbers (Unicode CLDR).
    """
    from babel import Locale, UnknownLocaleError

    try:
        locale = Locale.parse(f"{main_language_of(country)}_{country}")
    except (UnknownLocaleError, ValueError):
        return None, "/"
    pattern = str(locale.date_formats["short"].pattern)
    mark = next((one for one in "./-" if one in pattern), "/")
    return {"d": "day first", "M": "month first"}.get(pattern[0]), mark


def weekday_named(text: str) -> int | None:
    """The weekday (0 is Monday) that a text names alone, whole or cut short, or None."""
    return _named("days").get(plain_text(text).casefold().rstrip("."))


@lru_cache(maxsize=2)
def _named(kind: str) -> dict[str, int]:
    """Names of ``months`` or weekdays, whole and cut to three letters (CLDR), where all languages agree."""
    from babel import Locale

    names: dict[str, set[int]] = {}
    for language in MONTHS_OF:
        of_kind = getattr(Locale(language), kind)
        for number, name in (
            (number, str(name).casefold().rstrip("."))
            for context in ("format", "stand-alone")
            for width in ("wide", "abbreviated")
            for number, name in of_kind[context][width].items()
        ):
            short = name[:3] if kind == "months" else name.removesuffix("-feira")
            for said in {name, short}:
                names.setdefault(said, set()).add(int(number))
    return {
        name: next(iter(numbers))
        for name, numbers in names.items()
        if len(numbers) == 1 and not name.isdigit()
    }


_NUMBERED = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4})")


def day_written_like(
    day: date, column: Sequence[str], table: Sequence[str], dates: str | None, mark: str = "/"
) -> str:
    """A day as most cells of its column write days, else those of its table, else as the setting ``dates``
    says, with the home's ``mark``; year-month-day where no setting says how others are read.
    """
    if dates is None:
        return day.isoformat()
    parts = (f"{day:%d}", f"{day:%m}") if dates == "day first" else (f"{day:%m}", f"{day:%d}")
    for texts in (column, table):
        ours = [text for text in texts if ISO_DAY.fullmatch(text)]
        theirs = [found for text in texts if (found := _NUMBERED.fullmatch(text))]
        if ours or theirs:
            break
    else:
        return mark.join((*parts, f"{day:%Y}"))
    if len(ours) > len(theirs):
        return day.isoformat()
    mark = Counter(found[2] for found in theirs).most_common(1)[0][0]
    every = [found for text in (*column, *table) if (found := _NUMBERED.fullmatch(text))]
    if any(len(part) == 1 for found in every for part in found.group(1, 3)):
        parts = (parts[0].lstrip("0"), parts[1].lstrip("0"))
    return mark.join((*parts, f"{day:%Y}"))
