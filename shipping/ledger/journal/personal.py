"""What names a person: taken out of a plan and put back, and which parts of entries are a buyer's."""

from __future__ import annotations

import contextlib
import json
import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shipping.ledger.journal.store import EntryRow, Person, Store
from shipping.tables.spelling import buyer_key

#: Stands where a name stood in a kept plan.
BLANK = "{addressee}"
#: What a reader sees where a name was erased.
ERASED = "(erased)"
#: Only texts made for people, and facts of reasons, can repeat a name; keys, codes and amounts cannot.
_TEXTS = frozenset({"text", "note", "source", "until_text", "facts"})


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
            parcel = {**_named(parcel, name), "addressee": name}
        parcels.append(parcel)
    return {**plan, "parcels": parcels}


def _named(value: Any, name: str) -> Any:
    return _in_texts(value, lambda text: text.replace(BLANK, name))


def _blanked(value: Any, name: str) -> Any:
    whole_word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
    return _in_texts(value, lambda text: whole_word.sub(lambda _: BLANK, text))


def _in_texts(value: Any, change: Callable[[str], str], inside: bool = False) -> Any:
    """The value with texts made for people changed: all under one of `_TEXTS`."""
    if isinstance(value, dict):
        return {key: _in_texts(part, change, inside or key in _TEXTS) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_in_texts(part, change, inside) for part in value]
    if isinstance(value, str) and inside:
        return change(value)
    return value


#: What of a part is the whole name of whom it is about.
_NAMES = frozenset({"addressee", "from_whom"})
#: The number of an entry, and the part of it.
Part = tuple[int, str]


@dataclass(frozen=True, slots=True)
class Wanted:
    """A buyer to be erased: whole names as keys, as they were typed, and the parcels that are the buyer's."""

    names: frozenset[str]
    typed: frozenset[str]
    parcels: frozenset[str]

    @classmethod
    def of(cls, whom: str, kept: Iterable[tuple[str, str]]) -> Wanted:
        """The buyer meant by a name or by a parcel; ``kept`` are parcels and their buyers."""
        key, kept = buyer_key(whom), tuple(kept)
        of_parcel = [buyer for parcel, buyer in kept if buyer_key(parcel) == key]
        names = {buyer_key(buyer) for buyer in of_parcel if buyer} if of_parcel else {key}
        mine = [(parcel, buyer) for parcel, buyer in kept if buyer and buyer_key(buyer) in names]
        typed = {buyer for _, buyer in mine} | ({whom} if not of_parcel else set())
        named = {parcel for parcel, _ in mine} | {p for p, _ in kept if buyer_key(p) == key}
        return cls(frozenset(names), frozenset(typed), frozenset(named))

    def is_named_in(self, text: str) -> bool:
        """Does a text hold one of the whole names? A single short word is too little to be told apart."""
        folded = buyer_key(text)
        return any(
            re.search(rf"(?<!\w){re.escape(name)}(?!\w)", folded)
            for name in self.names
            if " " in name or len(name) > 4
        )

    def forms(self) -> frozenset[bytes]:
        """The names as bytes that a file may hold: both Unicode forms, several encodings, escaped in JSON."""
        forms: set[bytes] = set()
        for name in self.typed | self.names:
            for form in ("NFC", "NFD"):
                text = unicodedata.normalize(form, " ".join(name.split()))
                if " " not in text and len(text) <= 4:
                    continue
                forms |= {text.encode("utf-8"), text.encode("utf-16-le"), text.encode("utf-16-be")}
                forms.add(json.dumps(text)[1:-1].encode("ascii"))
                with contextlib.suppress(UnicodeEncodeError):
                    forms.add(text.encode("cp1252"))
        return frozenset(forms)


def parts_about(wanted: Wanted, persons: Iterable[Person], rows: Iterable[EntryRow]) -> frozenset[Part]:
    """The parts not yet erased that are the buyer's own, of the buyer's parcels, or name the buyer."""
    parcels = {row.seq: row.parcel for row in rows}
    mine = {buyer_key(parcel) for parcel in wanted.parcels} | wanted.names
    return frozenset(
        (person.seq, person.part)
        for person in persons
        if not person.is_erased
        and (
            person.buyer in wanted.names
            or not mine.isdisjoint((buyer_key(person.part), buyer_key(parcels.get(person.seq, ""))))
            or wanted.is_named_in(_beside_the_name(person.facts))
        )
    )


def _beside_the_name(facts: str) -> str:
    """What is said beside the name of a buyer, of which another's whole name may be a part."""
    told = json.loads(facts or "{}")
    return " ".join(str(value) for name, value in told.items() if name not in _NAMES)


def erase_in(store: Store, wanted: Wanted, blanked: Collection[Part]) -> bool:
    """Blank the buyer's parts in an open copy, and those erased in the ledger; were there any?"""
    if store.version() == 0:
        return False
    persons = store.persons()
    there = {(person.seq, person.part) for person in persons if not person.is_erased}
    gone = there & (frozenset(blanked) | parts_about(wanted, persons, store.rows()))
    if gone:
        with store.writing():
            store.blank(tuple(sorted(gone)))
        store.sweep()
    return bool(gone)
