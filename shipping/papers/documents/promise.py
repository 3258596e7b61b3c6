"""What was promised of a parcel, and what the seller does when it falls short: words and blocks out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shipping.papers.documents.contents import MARKS, Desk, Unit, is_collected, own_words
from shipping.papers.page.typesetter import Typesetter
from shipping.papers.wording.language import clean, number, share
from shipping.papers.wording.markdown import Span
from shipping.papers.wording.phrases import Wording
from shipping.tables.rows.services import Service
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, PlannedLine

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

#: Of more lines than this the promise stands in the table, not in a sentence each.
FEW_LINES = 3


def is_exact(line: PlannedLine, shelf: Shelf) -> bool:
    """Did the buyer ask for the count ordered and no extra eggs?"""
    order = shelf.order_by_name.get(line.order)
    return order is not None and any(
        own.number == line.line and own.overpack == "none" for own in order.lines
    )


def assumed_in(parcel: Parcel, units: Sequence[Unit]) -> tuple[str, ...]:
    """Names of the assumed figures that the chance of a line rests on."""
    facts = {
        "assumed_warmth": parcel.warmth_basis == "assumed",
        "assumed_clock": any(unit.species.zero_basis == "assumed" for unit in units),
        "assumed_fertile": any(unit.draw.stage in ("", "laid") for unit in units),
        "assumed_lost": _is_lost_share_assumed(parcel) and not is_collected(parcel),
    }
    return tuple(name for name, is_assumed in facts.items() if is_assumed)


def _is_lost_share_assumed(parcel: Parcel) -> bool:
    """Is the share of lost parcels the one we assume where nobody counted?"""
    return bool(parcel.parcel_lost_share == Service.model_fields["parcel_lost_share"].default)


def promise_words(
    line: PlannedLine, ending: str, parcel: Parcel, units: Sequence[Unit], desk: Desk, wording: Wording
) -> str:
    """A line's promise: a sentence, or a few words for the ending ``_short``; an assumed figure is marked."""
    packed = number(line.pack, wording.language)
    if any(unit.about for unit in units):
        packed = wording.term("about", count=packed)
    mark = MARKS["assumed"] if assumed_in(parcel, units) else ""
    facts = {
        "fish": clean(desk.shelf.species[line.species].scientific_name),
        "ordered": number(line.ordered, wording.language),
        "packed": packed,
        "chance": share(line.p_enough, wording.language) + mark,
        "expected": number(line.expected_alive, wording.language, 0) + mark,
        "fetched": is_collected(parcel),
    }
    key = "promise_exact" if is_exact(line, desk.shelf) else "promise"
    return wording.term(key + ending, **facts)


def promise_blocks(
    parcel: Parcel, units: Sequence[Unit], desk: Desk, wording: Wording, setter: Typesetter
) -> list[Flowable]:
    """Promises (unless in the table), their basis, how and until when to report a short count, policies."""
    claims = desk.shelf.settings.claims
    blocks: list[Flowable] = [setter.heading(wording.term("promised"))]
    if len(parcel.lines) <= FEW_LINES:
        for line in parcel.lines:
            own = [unit for unit in units if unit.line is line]
            blocks.append(setter.words(promise_words(line, "", parcel, own, desk, wording), after=2.0))
    lost = parcel.parcel_lost_share
    if lost and not is_collected(parcel):
        mark = MARKS["assumed"] if _is_lost_share_assumed(parcel) else ""
        blocks.append(setter.words(wording.term("promise_lost", share=share(lost, wording.language) + mark)))
    assumed = assumed_in(parcel, units)
    if assumed:
        what = ", ".join(wording.term(name) for name in assumed)
        blocks.append(setter.small(wording.term("promise_assumed", mark=MARKS["assumed"], what=what)))
    report = wording.term(
        "report", days=claims.report_within_days, contact=clean(desk.contact), fetched=is_collected(parcel)
    )
    policy = policy_words((claims.short_policy, claims.hatched_policy), desk, wording)
    behind = " ".join(part for part in (policy, wording.term("report_even")) if part)
    return [*blocks, setter.words((Span(report, True), Span(f" {behind}")))]


def policy_words(policies: tuple[str, ...], desk: Desk, wording: Wording) -> str:
    """The seller's policies, translated or as typed; where all are as typed they are marked once."""
    typed = [_sentence(clean(text)) for text in policies if clean(text)]
    known = [wording.said(text) for text in typed]
    if not any(known):
        return _sentence(own_words(" ".join(typed), desk, wording)) if typed else ""
    return " ".join(_sentence(own_words(text, desk, wording)) for text in typed)


def _sentence(text: str) -> str:
    """The text with a stop at its end."""
    return text if text.endswith((".", "!", "?")) else f"{text}."
