"""Plans, outlooks and offers that tests ask for again and again: the same values in, what was reckoned before
out.

Only for rooms below the planner, whose tests look at what is made of a plan; each process reckons it once. A
test that asks whether the same comes out twice is marked ``reckoned_anew``: it is given nothing from before.
"""

from __future__ import annotations

import functools
import hashlib
import io
import pickle
from collections.abc import Callable, Iterator
from dataclasses import fields
from typing import Any

import pytest

from shipping.assignment.mip import Budget
from shipping.questions import forecast, offer, what_if, why
from shipping.tables.shelf import Shelf
from shipping.week import plan
from shipping.week.plan_data import Plan


class _Exactly(pickle.Pickler):
    """Writes every value that a shelf or a plan was made of, and nothing that was reckoned from it since."""

    def reducer_override(self, value: object) -> Any:
        if isinstance(value, Shelf | Plan):
            return type(value), tuple(getattr(value, column.name) for column in fields(value))
        return NotImplemented


def _key(values: object) -> bytes:
    written = io.BytesIO()
    _Exactly(written, pickle.HIGHEST_PROTOCOL).dump(values)
    return hashlib.sha256(written.getbuffer()).digest()


def _remembered(reckon: Callable[..., Any]) -> Callable[..., Any]:
    """The same function, which reckons the same arguments once; whoever is to be told on the way is none of
    them.
    """
    known: dict[bytes, Any] = {}

    @functools.wraps(reckon)
    def ask(*values: Any, **more: Any) -> Any:
        if "go_on" in more:  # whoever may stop it is to be asked
            return reckon(*values, **more)
        key = _key((values, sorted((name, value) for name, value in more.items() if name != "tell")))
        if key in known:
            return known[key]
        found = reckon(*values, **more)
        if not Budget(None).is_spent:  # a search that someone stopped is not what the next is to be given
            known[key] = found
        return found

    return ask


_PLAN = _remembered(plan.make_plan)
_OUTLOOKS = _remembered(forecast.outlooks)
_OFFER = _remembered(offer.offer)


@pytest.fixture(autouse=True)
def reckoned_once(request: pytest.FixtureRequest) -> Iterator[None]:
    """Within the tests of a room."""
    if request.node.get_closest_marker("reckoned_anew"):
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        for module in (plan, why, what_if):
            patch.setattr(module, "make_plan", _PLAN)
        patch.setattr(forecast, "outlooks", _OUTLOOKS)
        patch.setattr(offer, "offer", _OFFER)
        yield
