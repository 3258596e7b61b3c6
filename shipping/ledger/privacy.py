"""What names a person, taken out of a plan and put back: JSON in, JSON out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

#: Stands where a name stood in a kept plan.
BLANK = "{addressee}"
#: What a reader sees where a name was erased.
ERASED = "(erased)"
#: Only texts made for people can repeat a name; keys, codes and amounts cannot.
_TEXTS = frozenset({"text", "note", "source", "until_text"})


def without_names(plan: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """The plan with every addressee blanked, and the addressees by parcel."""
    names: dict[str, str] = {}
    parcels: list[Any] = []
    for parcel in plan.get("parcels", ()):
        name = str(parcel.get("addressee", ""))
        if name:
            names[str(parcel.get("parcel", ""))] = name
            parcel = {**_blanked(parcel, name), "addressee": BLANK}
        parcels.append(parcel)
    everyone = sorted(set(names.values()), key=lambda name: (-len(name), name))
    rest = {key: value for key, value in plan.items() if key != "parcels"}
    for name in everyone:
        rest = _blanked(rest, name)
    return {**rest, "parcels": parcels}, names


def with_names(plan: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """The plan as it stood; a name that was erased since reads ``(erased)``."""
    parcels = []
    for parcel in plan.get("parcels", ()):
        if parcel.get("addressee") == BLANK:
            name = names.get(str(parcel.get("parcel", "")), ERASED)
            parcel = {**_replaced(parcel, BLANK, name), "addressee": name}
        parcels.append(parcel)
    return {**plan, "parcels": parcels}


def _blanked(value: dict[str, Any], name: str) -> dict[str, Any]:
    whole_word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
    blanked: dict[str, Any] = _in_texts(
        value, lambda text: whole_word.sub(lambda _: BLANK, text), inside=False
    )
    return blanked


def _replaced(value: dict[str, Any], old: str, new: str) -> dict[str, Any]:
    replaced: dict[str, Any] = _in_texts(value, lambda text: text.replace(old, new), inside=False)
    return replaced


def _in_texts(value: Any, change: Any, *, inside: bool) -> Any:
    """The value with texts made for people changed: those under `_TEXTS`, and all under a reason's facts."""
    if isinstance(value, dict):
        return {
            key: _in_texts(part, change, inside=inside or key in _TEXTS or key == "facts")
            for key, part in value.items()
        }
    if isinstance(value, list | tuple):
        return [_in_texts(part, change, inside=inside) for part in value]
    if isinstance(value, str) and inside:
        return change(value)
    return value
