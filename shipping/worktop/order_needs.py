"""Where each order stands: plan and kept parcels in, a word and one sentence of what it needs to go out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shipping.week.objective import default_week
from shipping.words.problems import ShelfProblems
from shipping.words.reasons import CODES
from shipping.worktop.days import listed_lines
from shipping.worktop.kept_week import Kept, kept_parcels_now, last_plan_kept
from shipping.worktop.page_language import day_words, tr

if TYPE_CHECKING:
    from shipping.worktop.context import Worktop

_STATES = {"hold": "held", "wait": "waiting", "stop": "stopped"}
#: What holds an order until somebody else has answered; all else the breeder mends alone.
_OTHERS_ANSWER = frozenset({"rules", "region", "service", "order", ""})


@dataclass(frozen=True, slots=True)
class Need:
    """Where an order stands, in a word of the page; in one sentence what is in its way or how it goes; what
    comes next, and where that is done ("" where there is none).
    """

    state: str
    sentence: str
    step: str = ""
    address: str = ""
    button: str = ""


def needs_of_orders(worktop: Worktop) -> dict[str, Need] | None:
    """Each order that the plan of now, or else the one kept, or a kept parcel knows; a line that does not go
    speaks for its order. None while no plan is kept and one is being reckoned.
    """
    shelf_state = worktop.shelf_state
    try:
        shelf = shelf_state.tables().shelf
        week = default_week(shelf)
        planned = worktop.planner.ask(week)
    except ShelfProblems:
        return {}
    last = last_plan_kept(shelf_state.entries(), week)
    if planned is None and last is None:
        return None
    facts: Mapping[str, Any] = (
        planned.plan.as_json() if planned else shelf_state.plan_facts(last.seq) if last else {}
    )
    kept = kept_parcels_now(shelf_state)
    found: dict[str, Need] = {}
    taken = frozenset(key for one in kept for key in one.parcel.line_keys)
    for line in listed_lines(facts["lines_out"], shelf, taken):
        for one in line.reasons[:1]:
            state = _STATES.get(line.verdict, line.verdict)
            if state == "held" and CODES[one.code].mend not in _OTHERS_ANSWER:
                state = "to mend"
            found.setdefault(line.order, Need(state, one.text, one.step, one.address, one.button))
    for order, need in (*_of_kept(kept), *_of_plan(facts["parcels"])):
        found.setdefault(order, need)
    return found


def _of_kept(kept: tuple[Kept, ...]) -> Iterator[tuple[str, Need]]:
    """Orders in kept parcels, the newest of an order first."""
    for one in reversed(kept):
        parcel = one.parcel
        day = day_words(parcel.sent_on or parcel.dispatch_on)
        if parcel.is_planned:
            need = Need("to pack", tr("Goes with the plan on {day}.", day=day))
        elif parcel.state == "packed":
            need = Need("to send", tr("Packed, goes on {day}.", day=day))
        else:
            need = Need(parcel.state, tr("Sent on {day}.", day=day))
        yield from ((line.order, need) for line in parcel.lines)


def _of_plan(parcels: list[Mapping[str, Any]]) -> Iterator[tuple[str, Need]]:
    """Orders in parcels of a plan that is not kept."""
    for parcel in parcels:
        day = day_words(parcel["dispatch_on"])
        need = Need("planned", tr("Goes with the plan on {day}.", day=day))
        yield from ((line["order"], need) for line in parcel["lines"])
