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
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Protocol, TypeVar

from pydantic_core import from_json

from shipping.ledger import entries as entry_kinds
from shipping.ledger import kept, lot_counts, state
from shipping.ledger.entries import ClaimOpened, ClaimSettled, Entry, LineCount, LineReport
from shipping.ledger.journal.copies import write_whole
from shipping.ledger.kept import KeptLine, KeptParcel, LineKey, PlannedDraw
from shipping.ledger.lot_counts import Packing
from shipping.ledger.state import LedgerState, OrderKept

Value = TypeVar("Value")


class Recorded(Protocol):
    """What the ledger itself is asked for: an entry, and what it says of a person (erased: nothing)."""

    def entry(self, seq: int) -> Entry: ...

    def personal(self, seq: int, part: str) -> Mapping[str, Any]: ...


class Numbers:
    """Every number a parcel ever had, and the lines it had then; a text until somebody asks."""

    def __init__(self, text: str = "{}") -> None:
        self._text: str | None = text
        self._lines: dict[str, frozenset[LineKey]] = {}

    def lines(self) -> Mapping[str, frozenset[LineKey]]:
        """The lines of each number."""
        if self._text is not None:
            told = from_json(self._text)
            self._lines = {name: frozenset((o, n) for o, n in keys) for name, keys in told.items()}
            self._text = None
        return self._lines

    def add(self, numbers: Mapping[str, frozenset[LineKey]]) -> None:
        """Let a plan's parcels have their numbers."""
        self.lines()
        self._lines.update(numbers)

    def text(self) -> str:
        """All of it as text, the same for the same numbers."""
        if self._text is not None:
            return self._text
        return _text({name: sorted(keys) for name, keys in sorted(self._lines.items())})


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands after so many entries, the last of them with digest ``head``."""

    entries: int
    head: str
    last_day: date | None
    state: LedgerState
    numbers: Numbers


class DecodedOnce(MutableMapping[str, Value]):
    """Values by name, each as it was stored until somebody asks for it."""

    def __init__(self, stored: Mapping[str, Any], decode: Callable[[str, Any], Value]) -> None:
        self._stored: dict[str, Any] = dict(stored)
        self._decoded: dict[str, Value] = {}
        self._decode = decode

    def __getitem__(self, name: str) -> Value:
        stored = self._stored[name]
        if name not in self._decoded:
            self._decoded[name] = self._decode(name, stored)
        return self._decoded[name]

    def __setitem__(self, name: str, value: Value) -> None:
        self._stored[name] = None
        self._decoded[name] = value

    def __delitem__(self, name: str) -> None:
        del self._stored[name]
        self._decoded.pop(name, None)

    def __iter__(self) -> Iterator[str]:
        return iter(self._stored)

    def __len__(self) -> int:
        return len(self._stored)

    def stored(self, name: str) -> Any:
        """What a value was read from; None where it was set since."""
        return self._stored[name]


def state_path(ledger: Path) -> Path:
    return ledger.with_name(f"{ledger.name}.state")


@cache
def _made_by() -> str:
    """The digest of the code that says what stands and how it is written: text of other code is not read."""
    digest = hashlib.sha256()
    for name in (entry_kinds.__file__, kept.__file__, lot_counts.__file__, state.__file__, __file__):
        digest.update(Path(name).read_bytes())
    return digest.hexdigest()


def state_text(known: LedgerState, numbers: Numbers) -> str:
    """What stands as text, the same for the same state: a line of all that is small, one a parcel."""
    small = {
        "orders": {name: _stored(known.orders, name, _order_facts) for name in sorted(known.orders)},
        "packed": {name: _stored(known.packed, name, _packing_facts) for name in sorted(known.packed)},
        "bought": [entry.seq for entry in known.bought],
        "settled": [entry.seq for entry in known.settled],
        "items": sorted(known.sent_with_item.items()),
        "waiting": sorted(known.waiting),
        "parcels": sorted(known.parcels),
        "line_in": [[*key, name] for key, name in sorted(known.line_in.items())],
    }
    parcels = (_stored(known.parcels, name, _parcel_text) for name in sorted(known.parcels))
    return "\n".join([_text(small), numbers.text(), *parcels])


def _stored(values: Mapping[str, Value], name: str, encode: Callable[[Value], Any]) -> Any:
    """A value as it is stored: as it was read, where nobody set it since."""
    stored = values.stored(name) if isinstance(values, DecodedOnce) else None
    return encode(values[name]) if stored is None else stored


def _order_facts(order: OrderKept) -> list[object]:
    return [order.placed_on and order.placed_on.isoformat(), *order.told_in]


def _packing_facts(packings: Sequence[Packing]) -> list[object]:
    return [[p.on.isoformat(), p.eggs, p.counted_on and p.counted_on.isoformat()] for p in packings]


def _parcel_text(parcel: KeptParcel) -> str:
    return _text(_parcel_facts(parcel))


_text = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


def _parcel_facts(parcel: KeptParcel) -> list[object]:
    """A parcel as JSON values, in the order in which `_parcel` takes them."""
    days = (parcel.dispatch_on, parcel.p50, parcel.p95, parcel.kept_on, parcel.packed_on, parcel.sent_on)
    return [
        parcel.week,
        parcel.to,
        parcel.service,
        parcel.state,
        [day and day.isoformat() for day in days],
        [parcel.low_c, parcel.high_c],
        [_line_facts(line) for line in parcel.lines],
        [parcel.plan_entry, parcel.sent_entry, *parcel.claim_entries],
        [[count.order, count.line, count.lot, count.eggs] for count in parcel.counts],
        [[*key, chance] for key, chance in parcel.chances.items()],
        parcel.photo_sha256,
        [
            [*key, report.alive, report.hatched_alive, report.dead, report.missing]
            for key, report in parcel.reports.items()
        ],
        [[*key, on.isoformat(), day.isoformat()] for key, (on, day) in parcel.reported.items()],
    ]


def _line_facts(line: KeptLine) -> list[object]:
    draws = [
        [draw.lot, draw.packing, draw.pack, draw.h_per_egg, draw.v_per_egg, draw.stage, draw.look_first]
        for draw in line.draws
    ]
    told = (line.order, line.line, line.species, line.population, line.ordered, line.pack, line.p_enough)
    return [*told, draws]


def _parcel(name: str, text: str, recorded: Recorded) -> KeptParcel:
    """The parcel again, with the names that the ledger still knows."""
    week, to, service, state, days, warmth, lines, told_in, counts, chances, photo, reports, reported = (
        from_json(text)
    )
    dispatch_on, p50, p95, kept_on, packed_on, sent_on = map(_day, days)
    plan_entry, sent_entry, *claims = told_in
    return KeptParcel(
        parcel=name,
        week=week,
        to=to,
        service=service,
        dispatch_on=dispatch_on or date.min,
        p50=p50,
        p95=p95,
        low_c=warmth[0],
        high_c=warmth[1],
        lines=tuple(_line(*line) for line in lines),
        plan_entry=plan_entry,
        kept_on=kept_on or date.min,
        buyer=str(recorded.personal(plan_entry, name).get("addressee", "")),
        state=state,
        counts=tuple(LineCount(order=o, line=n, lot=lot, eggs=eggs) for o, n, lot, eggs in counts),
        chances={(order, line): float(chance) for order, line, chance in chances},
        packed_on=packed_on,
        photo_sha256=photo,
        sent_on=sent_on,
        sent_entry=sent_entry,
        item=str(recorded.personal(sent_entry, "").get("item", "")) if sent_entry else "",
        reports={(order, line): _report(order, line, *told) for order, line, *told in reports},
        reported={(o, n): (date.fromisoformat(on), date.fromisoformat(day)) for o, n, on, day in reported},
        claims=tuple(_claim(recorded.entry(seq)) for seq in claims),
        claim_entries=tuple(claims),
    )


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _line(
    order: str, line: int, species: str, population: str, ordered: int, pack: int, p_enough: float, draws: Any
) -> KeptLine:
    drawn = tuple(
        PlannedDraw(lot, packing, eggs, float(h), float(v), stage, look)
        for lot, packing, eggs, h, v, stage, look in draws
    )
    return KeptLine(order, line, species, population, ordered, pack, float(p_enough), drawn)


def _report(
    order: str, line: int, alive: int | None, hatched: int | None, dead: int | None, missing: int | None
) -> LineReport:
    return LineReport(order=order, line=line, alive=alive, hatched_alive=hatched, dead=dead, missing=missing)


def _claim(entry: Entry) -> ClaimOpened | ClaimSettled:
    if isinstance(entry.body, ClaimOpened | ClaimSettled):
        return entry.body
    raise ValueError(f"entry {entry.seq} is no claim")


def write_state(ledger: Path, sha256: str, known: Standing) -> bool:
    """Put what stands beside a ledger of those bytes, whole or not at all; False where it cannot be."""
    try:
        header = {
            "made_by": _made_by(),
            "ledger": sha256,
            "entries": known.entries,
            "head": known.head,
            "last_day": known.last_day and known.last_day.isoformat(),
        }
        content = f"{_text(header)}\n{state_text(known.state, known.numbers)}".encode()
        write_whole(state_path(ledger), f"{hashlib.sha256(content).hexdigest()}\n".encode() + content)
    except OSError:
        return False
    return True


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


def read_state(ledger: Path, sha256: Callable[[], str], recorded: Recorded) -> Standing | None:
    """What stands, from the text beside a ledger of those bytes; None where every entry must be read.

    ``sha256`` reckons the SHA-256 of the ledger's bytes as they are now; it is asked last.
    """
    found = text_beside(ledger, sha256)
    if found is None:
        return None
    header, body = found
    small, numbers, *parcels = body.split("\n")
    return Standing(
        int(header["entries"]),
        str(header["head"]),
        _day(header["last_day"]),
        _state(from_json(small), parcels, recorded),
        Numbers(numbers),
    )


def _state(small: Mapping[str, Any], parcels: list[str], recorded: Recorded) -> LedgerState:
    known = LedgerState()
    texts = dict(zip(small["parcels"], parcels, strict=True))
    known.parcels = DecodedOnce(texts, lambda name, text: _parcel(name, text, recorded))
    known.waiting = dict.fromkeys(small["waiting"])
    known.orders = DecodedOnce(small["orders"], lambda _, stored: _order(stored, recorded))
    known.packed = DecodedOnce(small["packed"], lambda _, stored: _packings(stored))
    known.bought = [recorded.entry(seq) for seq in small["bought"]]
    known.settled = [recorded.entry(seq) for seq in small["settled"]]
    known.line_in = {(order, line): name for order, line, name in small["line_in"]}
    known.sent_with_item = dict(small["items"])
    known.items_unread = lambda: {
        str(recorded.personal(seq, "").get("item", "")): name for seq, name in small["items"]
    }
    return known


def _packings(stored: Sequence[tuple[str, int, str | None]]) -> tuple[Packing, ...]:
    return tuple(Packing(date.fromisoformat(on), eggs, _day(counted)) for on, eggs, counted in stored)


def _order(stored: tuple[str | None, int, str], recorded: Recorded) -> OrderKept:
    placed_on, seq, part = stored
    return OrderKept(_day(placed_on), str(recorded.personal(seq, part).get("addressee", "")), (seq, part))
