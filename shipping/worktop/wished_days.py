"""The days that a buyer's text wishes for: a line in; where its days stand, and which bounds of an order they
are, out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from shipping.tables.cells import day_read_by, days_meant, month_named
from shipping.tables.typed_days import weekday_named

_MONTH = r"[^\W\d_]{3,10}\.?"
#: A day, as people write one in a mail: in figures, with its month by name, or without its year.
_DAY = re.compile(
    r"\b(?:[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}\b"
    rf"|[0-9]{{1,2}}(?:\.|st|nd|rd|th|er|º)? (?:of |de |d')?(?P<behind>{_MONTH})"
    r"(?:,?(?: del?)? [0-9]{4}\b)?"
    rf"|(?P<ahead>{_MONTH}) [0-9]{{1,2}}(?:st|nd|rd|th)?\b(?:,? [0-9]{{4}}\b)?"
    r"|[0-9]{1,2}(?:\. ?[0-9]{1,2}\.(?! ?[0-9])|/[0-9]{1,2}(?![0-9./])))",
    re.IGNORECASE,
)
_YEAR = re.compile(r"[0-9]{4}|[0-9]+[./-][0-9]+[./-][0-9]")
_NOT = (
    r"(?:(?:not|\w+n['’]t|never|nicht|kein\w*|nie|pas|jamais) (?:[^\W\d_]+ ){0,3}?"
    r"|(?:no|nunca) (?:[^\W\d_]+ )?)"
)
#: What stands in front of a last or a first day, turned round by a "not" ahead of it: in English, where
#: figures may have the month first, and elsewhere. A "not" in front of some of them is not clear.
_BOUND = re.compile(
    rf"\b(?P<no>{_NOT})?(?P<word>"
    r"(?P<last>before|earlier than|sooner than|until|till|by|at the latest|(?P<last_elsewhere>vor|früher als"
    r"|eher als|bis|spätestens|avant|plus tôt que|jusqu\W\w+|au plus tard|antes|hasta|a más tardar))"
    r"|(?:after|later than|from|at the earliest|(?P<first_elsewhere>nach|später als|ab|frühestens|erst|après"
    r"|plus tard que|dès|à partir|au plus tôt|después|más tarde|desde|a partir)))(?!\w)",
    re.IGNORECASE,
)
_NEVER_TURNED = re.compile(r"by|bis|jusqu.*|from|ab|dès|à partir|desde|a partir", re.IGNORECASE)
_WAITING = re.compile("wait|wart|attend|esper", re.IGNORECASE)
_OF_PLACES = re.compile("by|from|nach|ab|erst|dès|desde", re.IGNORECASE)
_BEHIND = re.compile(
    r"\W*(?:(?P<last>at the latest|(?P<last_elsewhere>spätestens|au plus tard|a más tardar))"
    r"|(?:at the earliest|or later|onwards?|(?P<first_elsewhere>frühestens|oder später|au plus tôt"
    r"|ou plus tard|o más tarde)))(?!\w)",
    re.IGNORECASE,
)
_NOT_THERE = re.compile(
    r"\b(?:not|\w+n['’]t|never|nicht|kein\w*|nie|pas|jamais|no|nunca)(?!\w)", re.IGNORECASE
)
_SENTENCE_END = re.compile(r"(?<![0-9])[.!?](?:\s|$)|;")
#: Words between a bound and its day.
_BESIDE = re.compile("the|on|de[mnr]|zum|am|l[ea]|du|au|que|el|al|del?|día|than|a", re.IGNORECASE)
#: A year that was not said is that of the coming such day, if it is no more days ahead.
_MOST_DAYS_AHEAD = 184


@dataclass(frozen=True, slots=True)
class WishedDay:
    """A day from ``begin`` to ``end`` of a line; ``bound`` is the column of orders that it is for, ``day``
    the one that is meant: "" and None where that is not sure.
    """

    begin: int
    end: int
    has_year: bool
    bound: str = ""
    day: date | None = None


def wished_days(line: str, today: date, before: str = "") -> Iterator[WishedDay]:
    """The days of a line that have their year, or a bound beside them; ``before`` is what the line before
    left open of its sentence.
    """
    at, ahead_from = 0, 0
    while match := _DAY.search(line, at):
        month = match["behind"] or match["ahead"]
        if month and month_named(month, cut_anyhow=False) is None:
            at = match.start() + 1
            continue
        ahead = line[ahead_from : match.start()] if ahead_from else f"{before} {line[: match.start()]}"
        ahead = ahead[max((end.end() for end in _SENTENCE_END.finditer(ahead)), default=0) :]
        behind = line[match.end() :]
        behind = behind[: next((end.start() for end in _SENTENCE_END.finditer(behind)), None)]
        at = ahead_from = match.end()
        has_year = bool(_YEAR.search(match[0]))
        bound = next(reversed([*_BOUND.finditer(re.split("[0-9]", ahead)[-1])]), None) or _BEHIND.match(
            behind
        )
        if bound is None:
            if has_year:
                yield WishedDay(match.start(), at, has_year)
            continue
        is_elsewhere = bool(bound["last_elsewhere"] or bound["first_elsewhere"])
        column = _column(bound, ahead, behind)
        day = _day_meant(match[0], has_year, is_elsewhere, today) if column else None
        yield WishedDay(match.start(), at, has_year, column, day)


def names_a_bound(line: str) -> bool:
    """Does a line say "not before" or the like, in words that are said of little else?"""
    return any(bound["no"] or not _OF_PLACES.fullmatch(bound["word"]) for bound in _BOUND.finditer(line))


def _column(bound: re.Match[str], ahead: str, behind: str) -> str:
    """The bound of an order that a word beside a day means; "" where its sentence may turn it round."""
    is_turned, other = False, ahead
    if bound.re is _BOUND:
        is_turned = bool(bound["no"])
        other = (
            bound.string[: bound.start()]
            + behind[: next((one.start() for one in _BOUND.finditer(behind)), None)]
        )
        between = re.findall(r"\w+", bound.string[bound.end() :])
        if any(not _BESIDE.fullmatch(word) and weekday_named(word) is None for word in between):
            return ""
        if is_turned and (_NEVER_TURNED.fullmatch(bound["word"]) or _WAITING.search(bound["no"])):
            return ""
    if _NOT_THERE.search(other):
        return ""
    return "not_after" if bool(bound["last"]) != is_turned else "not_before"


def _day_meant(text: str, has_year: bool, is_elsewhere: bool, today: date) -> date | None:
    """The one day that is meant, figures with the day first where no English stands beside; None else."""
    plain = re.sub(r"(?<=[0-9])(?:st|nd|rd|th|er|º)\b|\b(?:of|del?)\b|\bd'", "", text, flags=re.IGNORECASE)
    plain = re.sub(r"(?<=\.) (?=[0-9])", "", " ".join(plain.split()).strip("./ ,"))
    between = re.search("[./]", plain) if not re.search(r"[^\W\d_]", plain) else None
    for year in (today.year, today.year + 1):
        meant = days_meant(plain if has_year else f"{plain}{between[0] if between else ' '}{year}")
        days = {day_read_by(meant, "day first")} if is_elsewhere else set(meant.values())
        day = days.pop() if len(days) == 1 else None
        if day is None or has_year or 0 <= (day - today).days <= _MOST_DAYS_AHEAD:
            return day
    return None
