"""What stands, kept beside the ledger so that not every entry is read each time: a state in, text out, and
back.

It counts only for the very bytes of the ledger it was made from, and as long as the code that makes it is the
same. Nothing personal is in it: names and item numbers are looked up in the ledger, by entry and part.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic_core import from_json, to_json

from shipping.ledger import entries as entry_kinds
from shipping.ledger import kept_parcel, lot_counts, parcel_states
from shipping.ledger.entries import ClaimOpened, ClaimSettled, Entry
from shipping.ledger.kept_parcel import KeptParcel, parcel_adapter
from shipping.ledger.lot_counts import PackedEggs
from shipping.ledger.parcel_states import LedgerState, OrderKept
from shipping.tables.files.whole_file import write_whole
from shipping.words.keys import LineKey
from shipping.words.sentence import say

if TYPE_CHECKING:
    from shipping.ledger.journal.journal import Journal

Key = TypeVar("Key")
Value = TypeVar("Value")


class StoredValues(MutableMapping[Key, Value]):
    """Values by key, read from a text when somebody first asks, and each decoded when it is asked for.

    ``read`` makes keys and stored values of a text, ``decode`` a value of what was stored.
    """

    def __init__(
        self, text: str, read: Callable[[str], dict[Key, Any]], decode: Callable[[Key, Any], Value]
    ) -> None:
        #: The text it was read from; None once a value was set or taken out.
        self.text: str | None = text
        self._read, self._decode = read, decode
        self._decoded: dict[Key, Value] = {}

    @cached_property
    def _stored(self) -> dict[Key, Any]:
        return self._read(self.text or "")

    def __getitem__(self, key: Key) -> Value:
        stored = self._stored[key]
        if key not in self._decoded:
            self._decoded[key] = self._decode(key, stored)
        return self._decoded[key]

    def __setitem__(self, key: Key, value: Value) -> None:
        self._stored[key] = None
        self._decoded[key] = value
        self.text = None

    def __delitem__(self, key: Key) -> None:
        del self._stored[key]
        self._decoded.pop(key, None)
        self.text = None

    def __contains__(self, key: object) -> bool:
        return key in self._stored

    def __iter__(self) -> Iterator[Key]:
        return iter(self._stored)

    def __len__(self) -> int:
        return len(self._stored)

    def stored(self, key: Key) -> Any:
        """What a value was read from; None where it was set since."""
        return self._stored[key]


#: The lines of every number that a parcel ever had.
Numbers = MutableMapping[str, frozenset[LineKey]]


@dataclass(frozen=True, slots=True)
class KnownState:
    """What stands after so many entries, the last of them with digest ``head``."""

    entries: int
    head: str
    last_day: date | None
    state: LedgerState
    numbers: Numbers


def state_path(ledger: Path) -> Path:
    return ledger.with_name(f"{ledger.name}.state")


@cache
def _made_by() -> str:
    """The digest of the code that says what stands and how it is written: text of other code is not read."""
    digest = hashlib.sha256()
    for name in (
        entry_kinds.__file__,
        kept_parcel.__file__,
        lot_counts.__file__,
        parcel_states.__file__,
        __file__,
    ):
        digest.update(Path(name).read_bytes())
    return digest.hexdigest()


def state_text(known: LedgerState, numbers: Numbers) -> str:
    """What stands as text, the same for the same state: a line a section, and one a parcel at the end."""
    few = {
        "bought": [entry.seq for entry in known.bought],
        "settled": [entry.seq for entry in known.settled],
        "items": sorted(known.sent_with_item.items()),
        "waiting": sorted(known.waiting),
    }
    sections = (
        _text(few),
        _section(numbers, lambda: {name: sorted(keys) for name, keys in sorted(numbers.items())}),
        _section(
            known.orders,
            lambda: _by_name(known.orders, lambda order: [order.placed_on, *order.told_in, order.renamed_in]),
        ),
        _section(known.packed, lambda: _by_name(known.packed, _packing_facts)),
        _section(known.line_in, lambda: [[*key, name] for key, name in sorted(known.line_in.items())]),
    )
    names = sorted(known.parcels)
    parcels = (_stored(known.parcels, name, _parcel_text) for name in names)
    return "\n".join([*sections, _text(names), *parcels])


def _section(values: Mapping[Key, Value], facts: Callable[[], object]) -> str:
    """The text of a section: that which it was read from, where nothing was changed in it."""
    unchanged = values.text if isinstance(values, StoredValues) else None
    return _text(facts()) if unchanged is None else unchanged


def _by_name(values: Mapping[str, Value], encode: Callable[[Value], Any]) -> dict[str, Any]:
    return {name: _stored(values, name, encode) for name in sorted(values)}


def _stored(values: Mapping[str, Value], name: str, encode: Callable[[Value], Any]) -> Any:
    """A value as it is stored: as it was read, where nobody set it since."""
    stored = values.stored(name) if isinstance(values, StoredValues) else None
    return encode(values[name]) if stored is None else stored


def _packing_facts(packings: Sequence[PackedEggs]) -> list[object]:
    return [[packing.on, packing.eggs, packing.counted_on, packing.of_day] for packing in packings]


def _text(facts: object) -> str:
    return to_json(facts).decode()


def _parcel_text(parcel: KeptParcel) -> str:
    """A parcel as JSON, without what is personal: the ledger is asked for that again."""
    nameless = replace(parcel, buyer="", item="", claims=())
    return parcel_adapter().dump_json(nameless, exclude_defaults=True).decode()


def _parcel(text: str, journal: Journal) -> KeptParcel:
    """The parcel again, with the names that the ledger still knows."""
    parcel = parcel_adapter().validate_json(text)
    sent = journal.personal(parcel.sent_entry, "") if parcel.sent_entry else {}
    return replace(
        parcel,
        buyer=str(journal.personal(parcel.plan_entry, parcel.parcel).get("addressee", "")),
        item=str(sent.get("item", "")),
        claims=tuple(_claim(journal.entry(seq)) for seq in parcel.claim_entries),
    )


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _claim(entry: Entry) -> ClaimOpened | ClaimSettled:
    if isinstance(entry.body, ClaimOpened | ClaimSettled):
        return entry.body
    raise ValueError(say("entry {seq} is no claim", entry.seq))


def write_state(ledger: Path, sha256: str, known: KnownState) -> None:
    """Put what stands beside a ledger of those bytes, whole or not at all; a folder may refuse it."""
    with contextlib.suppress(OSError):
        header = {
            "made_by": _made_by(),
            "ledger": sha256,
            "entries": known.entries,
            "head": known.head,
            "last_day": known.last_day,
        }
        content = f"{_text(header)}\n{state_text(known.state, known.numbers)}".encode()
        write_whole(state_path(ledger), f"{hashlib.sha256(content).hexdigest()}\n".encode() + content)


def text_beside(ledger: Path, sha256: Callable[[], str]) -> tuple[Mapping[str, Any], str] | None:
    """Header and text that were made from a ledger with those bytes; None where there are none to trust."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        digest, _, content = state_path(ledger).read_bytes().partition(b"\n")
        if digest.decode("ascii") != hashlib.sha256(content).hexdigest():
            return None
        first, _, body = content.decode("utf-8").partition("\n")
        header = json.loads(first)
        if header["made_by"] == _made_by() and header["ledger"] == sha256():
            return header, body
    return None


def read_state(ledger: Path, sha256: Callable[[], str], journal: Journal) -> KnownState | None:
    """What stands, from the text beside a ledger of those bytes; None where every entry must be read.

    ``sha256`` reckons the SHA-256 of the ledger's bytes as they are now; it is asked last.
    """
    beside = text_beside(ledger, sha256)
    if beside is None:
        return None
    header, body = beside
    few, numbers, *sections = body.split("\n", 5)
    return KnownState(
        int(header["entries"]),
        str(header["head"]),
        _day(header["last_day"]),
        _state(from_json(few), sections, journal),
        StoredValues(numbers, from_json, lambda _, keys: frozenset((order, line) for order, line in keys)),
    )


def _state(few: Mapping[str, Any], sections: Sequence[str], journal: Journal) -> LedgerState:
    orders, packed, line_in, parcels = sections

    def parcel_texts(text: str) -> dict[str, Any]:
        names, *texts = text.split("\n")
        return dict(zip(from_json(names), texts, strict=True))

    def order(_: str, stored: tuple[str | None, int, str, int]) -> OrderKept:
        placed_on, seq, part, renamed = stored
        name = str(journal.personal(seq, part).get("addressee", ""))
        return OrderKept(_day(placed_on), name, (seq, part), renamed)

    def packings(_: str, stored: Sequence[tuple[str, int, str | None, int | None]]) -> tuple[PackedEggs, ...]:
        return tuple(PackedEggs(date.fromisoformat(on), eggs, _day(then), n) for on, eggs, then, n in stored)

    def items() -> dict[str, str]:
        told = journal.personal_of_all()
        sent = ((from_json(told.get((seq, "")) or "{}"), name) for seq, name in few["items"])
        return {str(facts.get("item", "")): name for facts, name in sent}

    known = LedgerState()
    known.parcels = StoredValues(parcels, parcel_texts, lambda _, text: _parcel(text, journal))
    known.waiting = dict.fromkeys(few["waiting"])
    known.orders = StoredValues(orders, from_json, order)
    known.packed = StoredValues(packed, from_json, packings)
    known.line_in = StoredValues(
        line_in, lambda text: {(order, n): name for order, n, name in from_json(text)}, lambda _, n: n
    )
    known.bought = [journal.entry(seq) for seq in few["bought"]]
    known.settled = [journal.entry(seq) for seq in few["settled"]]
    known.sent_with_item = dict(few["items"])
    known.items_unread = items
    return known
