"""Whatever is sent to a form of the page, blank, wrong, huge, missing or twice, is answered and never our own
mistake.
"""

from __future__ import annotations

import re

import pytest

from tests.worktop.conftest import FIRST, HOME, Desk, plain

#: What stands in an address, by its name.
NAMED = {
    "name": (FIRST, "FL-31", "shop.csv"),
    "order": ("D09", "D22"),
    "line": ("1",),
    "table": ("orders", "lots", "zones"),
    "row": ("2", "99"),
    "entry": ("1", "99"),
    "service": ("express",),
    "card_id": ("nothing",),
}
#: Pages with the forms whose fields are sent to all of them.
PAGES = ("/tables/orders/new", "/tables/lots/2", "/packing", "/lots", "/arrivals", "/setup", "/buy", "/plan")
TYPED = ("", " ", "x", "-5", "1e999", "9" * 30, "2026-99-99", "9999-12-31", "\0", "\u200b", "²", "x" * 2001)


def _addresses(desk: Desk) -> list[str]:
    """Every address that takes a form, with each of the names that may stand in it; not the one that ends."""
    found = []
    for rule in desk.app.url_map.iter_rules():
        if "POST" in (rule.methods or ()) and rule.endpoint != "stop":
            some: list[str] = [rule.rule]
            for part in re.findall(r"<(?:int:)?(\w+)>", rule.rule):
                shown = rf"<(?:int:)?{part}>"
                some = [re.sub(shown, value, address) for address in some for value in NAMED[part]]
            found += some
    return found


def _fields(desk: Desk) -> list[str]:
    pages = [desk.get(path).text for path in PAGES]
    return sorted({name for page in pages for name in re.findall(r' name="([^"]+)"', page)} - {"token"})


@pytest.mark.parametrize("part", range(3))
def test_no_form_is_answered_by_a_mistake_of_ours(desk: Desk, part: int) -> None:
    """A new order in which nothing was typed was one."""
    token = {"token": desk.worktop.access.token}
    fields, addresses = _fields(desk), _addresses(desk)
    assert len(fields) > 60
    assert len(addresses) > 50
    for n, address in enumerate(addresses):
        typed = TYPED[n % len(TYPED)]
        bodies: list[dict[str, object]] = [
            {},
            dict.fromkeys(fields, ""),
            dict.fromkeys(fields, typed),
            {name: [typed, "1"] for name in fields},
            {name: TYPED[(n + m) % len(TYPED)] for m, name in enumerate(fields)},
        ]
        for body in bodies if n % 3 == part else ():
            answer = desk.client.post(address, base_url=HOME, data={**body, **token})
            assert answer.status_code < 500, (address, body, plain(answer.text))
