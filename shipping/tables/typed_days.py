"""Days as a person writes them: what was typed in, the one day it means out, or what to write; and a day in,
as a table of the breeder's writes it, out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache

from shipping.tables.cells import (
    ISO_DAY,
    MONTHS_OF,
    BadCell,
    date_mend,
    day_read_by,
    days_meant,
    no_such_day,
    plain_text,
    shortened,
)
from shipping.tables.countries import main_language_of
from shipping.words.sentence import either, say

#: Days that are named by today.
_NEAR_DAYS = {"yesterday": -1, "today": 0, "tomorrow": 1}


def day_typed(text: str, dates: str | None, today: date | None, ahead: bool = False) -> date:
    """The day that a text means, read as tables are: by the setting ``dates``, where it may be several.

    ``ahead``: a day to come is asked for, so the name of a weekday is the next of that name, today with it.
    Raises BadCell where the text is no day, or may be several.
    """
    if today and (near := _NEAR_DAYS.get(text.strip().casefold())) is not None:
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
    shown = shortened(text.strip())
    if len({*meant.values()}) > 1:
        raise BadCell(say("'{cell}' may be several days", shown), date_mend(text, today, dates))
    if meant or date_mend(text, today, dates) != date_mend(""):
        raise BadCell(say("'{cell}' is not a day", shown), date_mend(text, today, dates))
    raise BadCell(say("'{cell}' is not a day", shown), "Write the day as 2026-11-30.")


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
    return _weekdays().get(plain_text(text).casefold().rstrip("."))


@lru_cache(maxsize=1)
def _weekdays() -> dict[str, int]:
    """Names of weekdays, as Unicode CLDR has them, where all languages agree."""
    from babel import Locale

    names: dict[str, set[int]] = {}
    for language in MONTHS_OF:
        days = Locale(language).days
        for context in ("format", "stand-alone"):
            for width in ("wide", "abbreviated"):
                for number, name in days[context][width].items():
                    plain = str(name).casefold().rstrip(".")
                    for said in (plain, plain.removesuffix("-feira")):
                        names.setdefault(said, set()).add(int(number))
    return {name: next(iter(numbers)) for name, numbers in names.items() if len(numbers) == 1}


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
