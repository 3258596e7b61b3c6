"""An order is its number: orders of the tables and what their numbers meant when kept in, questions out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from shipping.ledger.entries import buyer_key
from shipping.ledger.state import OrderKept
from shipping.tables.rows.orders import Order
from shipping.words.problems import Level, Problem, Where
from shipping.words.sentence import both, say


@dataclass(frozen=True, slots=True)
class OrderQuestion:
    """Is an order another one than was kept under its number, or the same one corrected?"""

    order: str
    placed_on: date
    addressee: str
    text: str
    at: Where
    was: date | None
    another_buyer: bool

    @property
    def facts(self) -> dict[str, object]:
        """What the question is about, as data; no name is in it."""
        was = self.was.isoformat() if self.was else None
        now = self.placed_on.isoformat()
        return {"order": self.order, "was": was, "now": now, "another_buyer": self.another_buyer}

    @property
    def mend(self) -> str:
        return (
            "Give a new order a number of its own; if it is the same one, corrected, run: spawnpost check"
            " --take."
        )

    @property
    def sentence(self) -> str:
        """The question and how to answer it."""
        return f"{self.text[:1].upper()}{self.text[1:]} {self.mend}"

    def problem(self) -> Problem:
        return Problem(self.at, "order", "same-number", self.text, self.mend, Level.LOT)


def order_questions(orders: Iterable[Order], kept: Mapping[str, OrderKept]) -> Iterator[OrderQuestion]:
    """A question for each order whose day or buyer is not that kept under its number."""
    for order in orders:
        before = kept.get(order.order)
        if before is None or order.is_owed:
            continue
        changed = []
        if before.placed_on not in (None, order.placed_on):
            days = (before.placed_on, order.placed_on)
            changed.append(say("was placed on {placed_on}, and now on {now}", *days))
        buyer = order.address.addressee
        another = bool(before.addressee) and buyer_key(before.addressee) != buyer_key(buyer)
        if another:
            changed.append(say("was for another buyer"))
        if changed:
            told = (order.order, both(changed))
            text = say("order {order} {changed}: is it the order kept before, or a new one?", *told)
            at, was = order.lines[0].row.at, before.placed_on
            yield OrderQuestion(order.order, order.placed_on, buyer, text, at, was, another)
