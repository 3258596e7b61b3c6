"""What to mind at the packing bench: a day's parcels in, sentences out (warmth, boxes against packings, tubes
and bags).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shipping.papers.documents.contents import Unit
from shipping.papers.page.blocks import Spans, plain, strong
from shipping.papers.wording.catalogue import note_text
from shipping.papers.wording.language import clean, number
from shipping.papers.wording.phrases import Wording
from shipping.tables.rows.packing_kinds import PACKING_KINDS
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Parcel

#: Below or above these, a parcel is kept from the cold or the heat until it is handed over [C]; eggs stand
#: 15-27 C best
#: (society pamphlet no. 5, 1983).
COLD_C = 10.0
HOT_C = 27.0


def warmth_advice(
    parcels: Sequence[Parcel], units: Mapping[str, tuple[Unit, ...]], wording: Wording
) -> list[Spans]:
    """A sentence for each parcel that will feel cold or heat, or goes with a heat pack."""
    advice: list[Spans] = []
    for parcel in parcels:
        low, high = (number(value, wording.language, 0) for value in (parcel.low_c, parcel.high_c))
        facts = {"low": low, "high": high}
        assumed = f" ({wording.term('assumed')})" if parcel.warmth_basis == "assumed" else ""
        keys = []
        if any(unit.packing.heat_pack_h for unit in units[parcel.parcel]):
            keys.append("pick_heat_pack")
        if parcel.low_c < COLD_C:
            keys.append("pick_keep_warm")
        if parcel.high_c > HOT_C:
            keys.append("pick_keep_cool")
        if keys:
            words = " ".join(wording.term(key, **facts) for key in keys)
            advice.append((*strong(parcel.parcel), *plain(f" {words}{assumed}")))
    return advice


def box_findings(
    parcels: Sequence[Parcel], units: Mapping[str, tuple[Unit, ...]], shelf: Shelf, wording: Wording
) -> list[Spans]:
    """Where a parcel's box does not suit its packings: not rigid, not vented, too small."""
    findings: list[Spans] = []
    for parcel in parcels:
        box = shelf.box_by_name.get(parcel.box)
        own = units[parcel.parcel]
        if box is None:
            if parcel.box or shelf.boxes:
                findings.append((*strong(parcel.parcel), *plain(" " + wording.term("pick_box_unknown"))))
            continue
        keys = []
        bags = [unit for unit in own if unit.packing.is_a.is_soft]
        if bags and not box.rigid:
            keys.append("pick_box_not_rigid")
        if any(unit.packing.is_a.breathes for unit in bags) and not box.vented:
            keys.append("pick_box_not_vented")
        if len(own) > box.holds:
            keys.append("pick_box_too_small")
        if keys:
            facts = {"box": clean(box.box), "holds": box.holds, "units": len(own)}
            words = " ".join(wording.term(key, **facts) for key in keys)
            findings.append((*strong(parcel.parcel), *plain(f" {words}")))
    return findings


def packing_cautions(units: Mapping[str, tuple[Unit, ...]], wording: Wording) -> list[Spans]:
    """The plan's own cautions, each once with the parcels it is for, then what holds for every tube and bag
    of the day.
    """
    concerned: dict[str, list[str]] = {}
    for parcel, own in units.items():
        for caution in dict.fromkeys(note_text(note, wording) for unit in own for note in unit.draw.cautions):
            concerned.setdefault(caution, []).append(parcel)
    together: dict[tuple[str, ...], list[str]] = {}
    for caution, parcels in concerned.items():
        together.setdefault(tuple(parcels), []).append(caution)
    sentences: list[Spans] = [
        (*strong(", ".join(parcels)), *plain(" " + " ".join(cautions)))
        for parcels, cautions in together.items()
    ]
    kinds = {unit.packing.is_a for own in units.values() for unit in own}
    sentences += [plain(wording.term(f"pick_{kind.key}")) for kind in PACKING_KINDS if kind in kinds]
    return sentences
