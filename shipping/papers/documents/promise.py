"""What was promised of a parcel, and what the seller does when it falls short: a parcel in, words and blocks
out.
"""

from __future__ import annotations

from shipping.papers.documents.contents import Desk, own_words
from shipping.papers.page.blocks import Block, Heading, Paragraph, Span, plain
from shipping.papers.wording.language import clean, number, share
from shipping.papers.wording.phrases import Wording
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel, PlannedLine

#: Of more lines than this the promise stands in the table, not in a sentence each.
FEW_LINES = 3


def is_exact(line: PlannedLine, shelf: Shelf) -> bool:
    """Did the buyer ask for the count ordered and no extra eggs?"""
    order = shelf.order_by_name.get(line.order)
    return order is not None and any(
        own.number == line.line and own.overpack == "none" for own in order.lines
    )


def promise_words(line: PlannedLine, ending: str, desk: Desk, wording: Wording) -> str:
    """What was promised of a line: a sentence, or a few words for the ending ``_short``."""
    facts = {
        "fish": clean(desk.shelf.species[line.species].scientific_name),
        "ordered": number(line.ordered, wording.language),
        "packed": number(line.pack, wording.language),
        "chance": share(line.p_enough, wording.language),
        "expected": number(line.expected_alive, wording.language, 0),
    }
    key = "promise_exact" if is_exact(line, desk.shelf) else "promise"
    return wording.term(key + ending, **facts)


def promise_blocks(parcel: Parcel, desk: Desk, wording: Wording) -> list[Block]:
    """The promises (unless they stand in the table), how to report a short count, within how many days, and
    the policies.
    """
    claims = desk.shelf.settings.claims
    blocks: list[Block] = [Heading(wording.term("promised"))]
    if len(parcel.lines) <= FEW_LINES:
        blocks += [Paragraph(plain(promise_words(line, "", desk, wording))) for line in parcel.lines]
    report = wording.term("report", days=claims.report_within_days, contact=clean(desk.contact))
    policy = policy_words((claims.short_policy, claims.hatched_policy), desk, wording)
    behind = " ".join(part for part in (policy, wording.term("report_even")) if part)
    blocks.append(Paragraph((Span(report, True), Span(f" {behind}"))))
    return blocks


def policy_words(policies: tuple[str, ...], desk: Desk, wording: Wording) -> str:
    """The seller's policies, translated or as typed; where all are as typed they are marked once, as one
    text.
    """
    typed = [_sentence(clean(text)) for text in policies if clean(text)]
    known = [wording.said(text) for text in typed]
    if not any(known):
        return _sentence(own_words(" ".join(typed), desk, wording)) if typed else ""
    return " ".join(_sentence(own_words(text, desk, wording)) for text in typed)


def _sentence(text: str) -> str:
    """The text with a stop at its end."""
    return text if text.endswith((".", "!", "?")) else f"{text}."
