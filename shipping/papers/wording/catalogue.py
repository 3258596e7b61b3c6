"""A reason's code and facts in, a sentence in the language of a page out: for the breeder, for a buyer, and
what to do next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

from shipping.papers.wording.language import bench_day, clean, dated_day, full_day, number, share
from shipping.words.reasons import BUYERS_MOVE, Note, Reason, Verdict

if TYPE_CHECKING:
    from shipping.papers.wording.phrases import Wording

#: Facts that are shares, days and degrees, by name; other numbers are counts.
_SHARES = frozenset(
    ("h_per_egg", "hatch_ceiling", "h_any", "any_ceiling", "share_eyed", "best_chance", "p_enough", "p_short")
)
_DAYS = frozenset(
    ("on", "not_before", "not_after", "p95", "checked_on", "begin", "until", "last_wetting_day")
)
_DEGREES = frozenset(("low_c", "high_c", "limit_c"))


def cause(reason: Reason, wording: Wording, lines: int = 1, offered: bool = False) -> str:
    """What stands in the way; ``lines``: how many share it; ``offered``: there is no order yet."""
    facts = shown(reason.facts, wording.language)
    return wording.phrase("bench-reasons", reason.code, many=lines > 1, offered=offered, **facts)


@lru_cache(maxsize=1)
def english() -> Wording:
    """The wording of the terminal and the page, which speak English whatever the papers are in."""
    from shipping.papers.wording.phrases import Wording

    return Wording(None, "en")


def to_buyer(reason: Reason, wording: Wording) -> str:
    """What stands in the way, as the buyer is told."""
    facts = shown(reason.facts, wording.language, in_full=True)
    return wording.phrase("reasons", reason.code, **facts)


def note_text(note: Note, wording: Wording) -> str:
    """What to mind at the bench."""
    facts = shown(note.facts, wording.language)
    if "basis" in facts:
        facts["basis"] = wording.term(str(facts["basis"]).replace(" ", "_"))
    return wording.phrase("bench-notes", note.code, **facts)


def whose_move(reasons: Iterable[Reason], wording: Wording) -> str:
    """Who is to do something about what is held: the buyer, the seller, or both; that nobody is to pay or to
    get papers where that would be in vain.
    """
    reasons = tuple(reasons)
    if any(reason.facts.get("in_vain") for reason in reasons):
        return wording.term("move_in_vain")
    codes = {reason.code for reason in reasons}
    parts = [wording.term("move_yours")] if codes & BUYERS_MOVE else []
    return " ".join([*parts, *([wording.term("move_mine")] if codes - BUYERS_MOVE else [])])


def next_step(
    reason: Reason, wording: Wording, verdict: Verdict = Verdict.WAIT, offered: bool = False
) -> str:
    """What the breeder can do next about it, where the line stands so; ``offered``: of an offer."""
    facts = {"stops": verdict is Verdict.STOP} | shown(reason.facts, wording.language)
    return wording.phrase("next-steps", reason.code, offered=offered, **facts)


def shown(facts: Mapping[str, object], language: str, in_full: bool = False) -> dict[str, object]:
    """Facts as a page shows them: days (whole names ``in_full``), shares, degrees, lists in its language."""
    return {name: _shown(name, value, language, in_full) for name, value in facts.items()}


def _shown(name: str, value: object, language: str, in_full: bool) -> object:
    if isinstance(value, list | tuple):
        return ("; " if name in ("missing", "papers") else ", ").join(clean(str(part)) for part in value)
    if isinstance(value, str):
        if name == "checked_on" and value:
            return dated_day(date.fromisoformat(value), language)
        if name in _DAYS and value:
            return (full_day if in_full else bench_day)(date.fromisoformat(value), language)
        return clean(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        if name in _SHARES:
            return share(value, language)
        return number(value, language, 0) + "\u00a0°C" if name in _DEGREES else number(value, language, 2)
    return value
