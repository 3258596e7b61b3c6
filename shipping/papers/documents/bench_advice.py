"""What to mind at the packing bench: parcels in, warnings beside each and the physics behind them out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from shipping.papers.documents.contents import MARKS, Unit, is_collected
from shipping.papers.documents.label import is_unread_at_home
from shipping.papers.documents.slip import kept_words
from shipping.papers.wording.catalogue import note_text
from shipping.papers.wording.language import clean, number
from shipping.papers.wording.phrases import Wording
from shipping.post.warmth import THIS_WEEK
from shipping.tables.rows.packings import PACKING_KINDS
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel
from shipping.words.reasons import Note

#: Below or above these, a parcel is kept from the cold or the heat until it is handed over [C]; eggs stand
#: 15-27 C best
#: (society pamphlet no. 5, 1983).
COLD_C = 10.0
HOT_C = 27.0


def warnings(parcel: Parcel, units: Sequence[Unit], shelf: Shelf, wording: Wording) -> tuple[str, ...]:
    """What to mind with one parcel: its warmth on the way, a box that does not suit it, its address."""
    unread = wording.term("label_unreadable", parcel=parcel.parcel) if is_unread_at_home(parcel) else ""
    minded = (_bottle(parcel, units, wording), *_warmth(parcel, units, wording))
    return tuple(text for text in (*minded, *_box(parcel, units, shelf, wording), unread) if text)


def _bottle(parcel: Parcel, units: Sequence[Unit], wording: Wording) -> str:
    """The one bottle that the plan puts into the box, no warmer than the coolest of its eggs are kept: more
    warmth than was reckoned with hatches them; "" where there is none.
    """
    if not parcel.bottle_ml:
        return ""
    ml = number(parcel.bottle_ml, wording.language, 0)
    return wording.term(
        "pick_bottle", ml=ml, start=kept_words([min(units, key=lambda unit: unit.kept_at_c)], wording)
    )


def _warmth(parcel: Parcel, units: Sequence[Unit], wording: Wording) -> list[str]:
    """A word where it will feel cold or heat, or goes with a heat pack; not where it is fetched in person."""
    if is_collected(parcel):
        return []
    low, high = (number(value, wording.language, 0) for value in (parcel.low_c, parcel.high_c))
    keys = {
        "pick_heat_pack": any(unit.packing.heat_pack_h for unit in units),
        "pick_keep_warm": parcel.low_c < COLD_C,
        "pick_keep_cool": parcel.high_c > HOT_C,
    }
    mark = MARKS["assumed"] if parcel.warmth_basis == "assumed" else ""
    return [wording.term(key, low=low, high=high) + mark for key, applies in keys.items() if applies]


def _box(parcel: Parcel, units: Sequence[Unit], shelf: Shelf, wording: Wording) -> list[str]:
    """Where the parcel's box does not suit its packings: not rigid, not vented, too small."""
    box = shelf.box_by_name.get(parcel.box)
    if box is None:
        return [wording.term("pick_box_unknown")] if parcel.box or shelf.boxes else []
    bags = [unit for unit in units if unit.packing.is_a.is_soft]
    keys = {
        "pick_box_not_rigid": bool(bags) and not box.rigid,
        "pick_box_not_vented": any(u.packing.is_a.breathes for u in bags) and not box.vented,
        "pick_box_too_small": len(units) > box.holds,
    }
    facts = {"box": clean(box.box), "holds": box.holds, "units": len(units)}
    return [wording.term(key, **facts) for key, applies in keys.items() if applies]


def general_rules(units: Mapping[str, tuple[Unit, ...]], wording: Wording) -> list[str]:
    """What holds for every tube and bag of the day."""
    kinds = {unit.packing.is_a for own in units.values() for unit in own}
    return [wording.term(f"pick_{kind.key}") for kind in PACKING_KINDS if kind in kinds]


def this_week(
    parcels: Sequence[Parcel], units: Mapping[str, tuple[Unit, ...]], wording: Wording
) -> list[tuple[str, str]]:
    """(parcels, what rows for just these days decided for them); then once for all whose weather no row says,
    that somebody should look at the forecast.
    """
    decided = _notes(parcels, units, wording, lambda code: code in THIS_WEEK - {"no-forecast"})
    asked = {
        parcel.parcel: note
        for parcel in parcels
        for unit in units[parcel.parcel]
        for note in unit.draw.cautions
        if note.code == "no-forecast"
    }
    if asked:
        decided.append((_numbers(asked), note_text(_together(asked.values()), wording)))
    return decided


def _together(notes: Iterable[Note]) -> Note:
    """One note to look at the forecast for all: every place, the last day, the coldest and the warmest."""
    facts = [note.facts for note in notes]
    places = dict.fromkeys(str(fact["place"]) for fact in facts)
    low = min(float(str(fact["low_c"])) for fact in facts)
    high = max(float(str(fact["high_c"])) for fact in facts)
    until = max(str(fact["until"]) for fact in facts)
    return Note("no-forecast", {"place": ", ".join(places), "until": until, "low_c": low, "high_c": high})


def physics(
    parcels: Sequence[Parcel], units: Mapping[str, tuple[Unit, ...]], wording: Wording
) -> list[tuple[str, str]]:
    """(parcels, what was reckoned for them): the plan's own notes, each once.

    A parcel that is fetched in person does not fly, so that nothing is said of its air. What differs in its
    warmth alone is said once, of all bottles, and of the warmest air that swells.
    """
    warmth: dict[tuple[object, ...], set[float]] = {}
    for note in (note for own in units.values() for unit in own for note in unit.draw.cautions):
        if name := _warm_fact(note):
            warmth.setdefault(_alike(note), set()).add(float(str(note.facts[name])))

    def as_said(note: Note) -> Note:
        name = _warm_fact(note)
        if not name:
            return note
        degrees = sorted(warmth[_alike(note)])
        said = degrees[-1:] if name == "high" else degrees
        words = " / ".join(number(value, wording.language) for value in said)
        return Note(note.code, {**note.facts, name: words})

    return _notes(parcels, units, wording, lambda code: code not in THIS_WEEK, as_said)


def _warm_fact(note: Note) -> str:
    """The fact of a note that says how warm something is, if that alone may differ; "" for others."""
    return "high" if _swells(note) else "start" if note.code == "bottle" else ""


def _alike(note: Note) -> tuple[object, ...]:
    """What a note says but for its warmth; how far air swells goes with it."""
    facts = ((name, fact) for name, fact in note.facts.items() if name not in ("high", "times", "start"))
    return note.code, *sorted(facts)


def _swells(note: Note) -> bool:
    return note.code.startswith("swells")


def _notes(
    parcels: Sequence[Parcel],
    units: Mapping[str, tuple[Unit, ...]],
    wording: Wording,
    is_asked: Callable[[str], bool],
    as_said: Callable[[Note], Note] = lambda note: note,
) -> list[tuple[str, str]]:
    concerned: dict[str, list[str]] = {}
    for parcel in parcels:
        notes = [note for unit in units[parcel.parcel] for note in unit.draw.cautions]
        asked = [note for note in notes if is_asked(note.code)]
        told = [note for note in asked if not (is_collected(parcel) and _swells(note))]
        for said in dict.fromkeys(note_text(as_said(note), wording) for note in told):
            concerned.setdefault(said, []).append(parcel.parcel)
    together: dict[tuple[str, ...], list[str]] = {}
    for said, names in concerned.items():
        together.setdefault(tuple(names), []).append(said)
    return [(_numbers(names), " ".join(texts)) for names, texts in together.items()]


def _numbers(names: Iterable[str]) -> str:
    """The parcels' numbers in their week: ``01, 04``."""
    return ", ".join(name.rpartition("-")[2] for name in names)
