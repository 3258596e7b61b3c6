"""Text that is no number or no date in, what to write instead out; nothing is read as what it may have
meant.
"""

from __future__ import annotations

import re
from datetime import date, timedelta

_OTHER_DATE = re.compile(r"([0-9]{1,4})[./ -]+([0-9]{1,2})[./ -]+([0-9]{1,4})\.?")
_WITH_A_TIME = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ].*")
_ONE_PIECE = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})")
_NAMED_MONTH = re.compile(
    r"(?:([0-9]{1,2})\.?[ -]*)?([^\W\d_]{3,12})\.?[ -]*([0-9]{1,2})?(?:st|nd|rd|th)?,?[ -]*([0-9]{4})"
)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
#: Days as spreadsheets count them: from this one on, or from 1904.
_FIRST_DAY, _LATER_FIRST_DAY = date(1899, 12, 30), date(1904, 1, 1)
_ANY_DAY = "Write the day as 2026-11-30."


def date_mend(text: str) -> str:
    """Every reading of what looks like a date; else how a day is written."""
    readings = sorted(set(_readings(text)), key=_readings(text).index)
    return f"Write {' or '.join(readings)}." if readings else _ANY_DAY


def _readings(text: str) -> list[str]:
    if match := _OTHER_DATE.fullmatch(text):
        first, second, third = (int(part) for part in match.groups())
        if len(match[1]) > 2:
            return _days((first, second, third))
        year = third if len(match[3]) == 4 else 2000 + third
        return _days((year, second, first), (year, first, second)) if len(match[3]) in (2, 4) else []
    if match := _WITH_A_TIME.fullmatch(text):
        return [match[1]] if _days(tuple(map(int, match[1].split("-")))) else []
    if match := _ONE_PIECE.fullmatch(text):
        return _days((int(match[1]), int(match[2]), int(match[3])))
    if match := _NAMED_MONTH.fullmatch(text):
        day, month = match[1] or match[3], match[2].casefold()[:3]
        return _days((int(match[4]), _MONTHS.index(month) + 1, int(day))) if day and month in _MONTHS else []
    if re.fullmatch("[345][0-9]{4}", text):
        return [(first + timedelta(days=int(text))).isoformat() for first in (_FIRST_DAY, _LATER_FIRST_DAY)]
    return []


def _days(*parts: tuple[int, ...]) -> list[str]:
    """Those of (year, month, day) that are in the calendar."""
    found: list[str] = []
    for year, month, day in parts:
        try:
            found.append(date(year, month, day).isoformat())
        except ValueError:
            continue
    return found


def number_mend(text: str, what: str = "") -> str:
    """What to write instead of text that is no number; ``what`` names what is counted or measured."""
    if match := re.fullmatch(r"([+-]?[0-9]{1,3}),([0-9]{3})", text):
        return f"Write {match[1]}{match[2]} or {match[1]}.{match[2]}."
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        return f"Write {text.replace(',', '.')}."
    if re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]+", text):
        return f"Write {text.replace('.', '').replace(',', '.')}."
    if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]+", text):
        return f"Write {text.replace(',', '')}."
    if match := re.fullmatch(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?) ?%", text):
        return f"Write {float(match[1].replace(',', '.')) / 100:g}."
    if re.search("[0-9]", text) and re.search(r"[^\W\d_]|[€$£¥°]", text):
        return f"Write the number alone{f', in {what}' if what else ''}."
    return f"Write {what + ' in digits' if what else 'digits'}, with a decimal point."
