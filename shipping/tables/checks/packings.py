"""Checks of packings and boxes: what each holds, weighs, loses and costs can be, and they fit each other."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from shipping.tables.cells import Row
from shipping.tables.checks.orders import median_of_others
from shipping.tables.checks.row_problems import asked, noted, problem
from shipping.tables.rows.lots import DAMP_MEDIA
from shipping.tables.rows.packings import KIND_BY_WORD, MOST_FILLED, Box, Packing, is_withdrawn
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say


def packings_hold_their_water(draft: Draft) -> Iterator[Problem]:
    """water_ml <= volume_ml."""
    for row in draft.packings:
        if row.water_ml is not None and row.volume_ml is not None and row.water_ml > row.volume_ml:
            text = "{water_ml:g} is more than volume_ml, {volume_ml:g}."
            mend = "Write the water, and the whole of the unit in volume_ml."
            yield problem(row, "water_ml", "order", text, mend)


def packings_suit_their_media(draft: Draft) -> Iterator[Problem]:
    """Eggs in a damp bag travel damp."""
    for row in draft.packings:
        if row.is_a.is_damp and any(row.travels_in(medium) not in DAMP_MEDIA for medium in row.media):
            mend = "Write moss, peat or coir as the medium they travel in."
            yield problem(row, "medium", "medium", "eggs would travel in water in a damp bag.", mend)
        elif not row.is_a.is_damp and row.water_ml:
            damp = [medium for medium in row.media if row.travels_in(medium) in DAMP_MEDIA]
            if damp:
                text = "'{media}' would travel in {water_ml:g} ml of water."
                mend = say("Write the media of lots kept in water")
                yield from asked(draft, row, "media", text, mend, media=" ".join(damp))


def bags_are_in_fit_boxes(draft: Draft) -> Iterator[Problem]:
    """Bags only in rigid, and breathing bags only in vented, boxes."""
    boxes = {box.box: box for box in draft.boxes}
    for row in draft.packings:
        box = boxes.get(row.box or "")
        if row.is_a.is_soft and row.box is None and boxes:
            text = "is blank, and a {kind} is crushed without a rigid box."
            yield noted(row, "box", "box", text, "Name a rigid box of boxes.", kind=say(row.kind))
        if box is None or not row.is_a.is_soft:
            continue
        if not box.rigid:
            text = say("a {kind} is crushed in '{box}', which is not rigid.", say(row.kind), box.box)
            yield problem(row, "box", "box", text, say("Name a rigid box, or mend rigid on {at}.", box.at))
        elif row.is_a.breathes and not box.vented:
            text = say("a breathing bag cannot breathe in '{box}', which is not vented.", box.box)
            yield problem(row, "box", "box", text, say("Name a vented box, or mend vented on {at}.", box.at))


def boxes_hold_their_units(draft: Draft) -> Iterator[Problem]:
    """A box is as thick as the unit in it, else the postage by thickness is too low."""
    boxes = {box.box: box for box in draft.boxes}
    for row in draft.packings:
        box = boxes.get(row.box or "")
        if box and box.thick_mm and row.thick_mm and box.thick_mm < row.thick_mm:
            told = (row.thick_mm, box.box, box.thick_mm)
            text = say("{thick:g} mm is thicker than its box '{box}', {inside:g} mm.", *told)
            mend = say("Mend one of the two, here or on {at}", box.at)
            yield from asked(draft, row, "thick_mm", text, mend)
        lain_ml = (
            row.thick_mm * (box.length_mm or 0) * (box.width_mm or 0) / 1000 if box and row.thick_mm else 0
        )
        if box and 0 < lain_ml < (row.water_ml or 0):
            text = "{thick:g} mm: {ml:g} ml of water do not lie so flat in '{box}'."
            yield from asked(
                draft, row, "thick_mm", text, "Look at both", thick=row.thick_mm, ml=row.water_ml, box=box.box
            )


def starter_insulation_is_measured(draft: Draft) -> Iterator[Problem]:
    """The 12 hours of the first starter boxes do not count until somebody measured them."""
    for row in draft.boxes:
        if is_withdrawn(row):
            text = (
                "{hours:g} of '{box}' came with the first starter tables and was not"
                " measured: it does not count."
            )
            mend = (
                "Write wall_mm (and bottle_ml, a bottle of warm water) and leave insulated_h blank, or write"
                " wall_mm and the hours you measured in which half of the warmth is gone."
            )
            yield noted(row, "insulated_h", "withdrawn", text, mend, hours=row.insulated_h)


#: Foam conducts so much at least [W/(m K)], and a ml of water holds so much warmth [J/K].
LEAST_CONDUCTED = 0.02
WARMTH_OF_WATER = 4.19
#: Hours measured may be so many times those: what freezes or melts holds more than water does. Assumed.
MEASURED_TIMES = 2


def insulation_is_of_its_walls(draft: Draft) -> Iterator[Problem]:
    """Hours warm that a box of such walls would not hold if it were full of water."""
    boxes = [box for box in draft.boxes if not is_withdrawn(box)]
    most_h = {box.box: hours for box in boxes if (hours := _most_hours(box)) is not None}
    rows: tuple[Box | Packing, ...] = (*draft.boxes, *draft.packings)
    for row in rows:
        most = most_h.get(row.box or "")
        if most is not None and row.insulated_h and row.insulated_h > MEASURED_TIMES * most:
            text = say(
                "{hours:g} hours, and full of water it would lose half of its warmth in {most:.0f}.",
                row.insulated_h,
                most,
            )
            yield from asked(draft, row, "insulated_h", text, "Write the hours measured, or leave it blank")


def _most_hours(box: Box) -> float | None:
    """Hours in which half of the warmth is gone, full of water and behind the best foam; None: not known."""
    sides, inside = (box.length_mm, box.width_mm, box.thick_mm), box.inside_ml
    if not box.wall_mm or inside is None or not all(sides):
        return None
    through = LEAST_CONDUCTED * _surface_m2(box) / (box.wall_mm / 1000)
    return math.log(2) * inside * WARMTH_OF_WATER / through / 3600


def boxes_hold_their_bottle(draft: Draft) -> Iterator[Problem]:
    """Bottle and units fill at most 0.8 of the inside, so the bottle alone does not fill more."""
    for row in draft.boxes:
        inside = row.inside_ml
        if row.bottle_ml and inside is not None and row.bottle_ml > MOST_FILLED * inside:
            told = (row.bottle_ml, MOST_FILLED, inside)
            text = say("{bottle:g} is more than {share:g} of the {inside:.0f} ml inside.", *told)
            yield problem(row, "bottle_ml", "order", text, "Write a smaller bottle, or 0 for none.")


def packings_weigh_their_water(draft: Draft) -> Iterator[Problem]:
    """A packed unit weighs at least its water, else postage is too low; what has no weight is said."""
    unknown = [row for row in draft.packings if row.heat_pack_h and row.heat_pack_g is None]
    for row in unknown[:1]:
        text = "nobody wrote what heat packs weigh ({packings}): reckoned as if they weighed nothing."
        named = ", ".join(one.packing for one in unknown)
        mend = say("Weigh one and write it in heat_pack_g.")
        yield noted(row, "heat_pack_g", "no-weight", text, mend, packings=named)
    for row in draft.packings:
        mend = say("Write what a packed unit weighs")
        if row.weight_g == 0:
            text = "is 0: postage is reckoned as if a packed unit weighed nothing."
            yield noted(row, "weight_g", "no-weight", text, say("{text}.", mend))
        elif 1 <= row.weight_g < (row.water_ml or 0):
            text = "{weight:g} grams is less than the {water:g} ml of water in it."
            yield from asked(draft, row, "weight_g", text, mend, weight=row.weight_g, water=row.water_ml)


#: The most of a sealed tube's eggs that may be meant to hatch in it, and the most eggs in a ml. Assumed.
MOST_SEALED_HATCH = 0.03
MOST_EGGS_ML = 10
#: More of a sealed tube than this is not filled, as the air above is the store of oxygen; less than
#: that is a slip. Assumed.
MOST_WATER, LEAST_WATER = 0.75, 0.15
#: The heaviest a packed unit is [g]: for each ml it holds, and of itself. Assumed.
HEAVIEST_G_ML = 4
HEAVIEST_EMPTY_G = 50
#: The lightest card a box is made of [g/m2]. Assumed.
LIGHTEST_CARD = 150


def packings_are_what_they_are_called(draft: Draft) -> Iterator[Problem]:
    """A tube is not called a bag, nor a box another one, and no fry live in what is sealed."""
    boxes = [box.box for box in draft.boxes]
    with_word = grouped((word, box) for box in boxes for word in _long_words(box))
    for row in draft.packings:
        called = [
            kind for kind in KIND_BY_WORD if re.match(rf"\W*{re.escape(kind.split()[0])}", row.packing, re.I)
        ]
        if called and row.kind not in called:
            text = "'{packing}' is of the kind '{kind}'."
            yield from asked(draft, row, "kind", text, say("Write '{kind}'", called[0]))
        named = [box for box in boxes if " " in box and folded(box) in folded(row.packing)]
        of_words = (with_word.get(word, []) for word in sorted(_long_words(row.packing)))
        named = named or [several[0] for several in of_words if len(several) == 1]
        if row.box and named and row.box not in named:
            text = "'{box}', and the packing is called '{packing}'."
            yield from asked(draft, row, "box", text, "Look at both", code="box")
        if (row.is_a.is_sealed or row.is_a.is_damp) and row.fry_live > 0:
            text = "{fry_live:g} of what hatches would live in a sealed tube."
            if row.is_a.is_damp:
                text = "{fry_live:g} of what hatches would live without water."
            yield from asked(draft, row, "fry_live", text, "Write 0")
        if row.is_a.is_sealed and row.hatch_ceiling > MOST_SEALED_HATCH:
            text = "{hatch_ceiling:g} of the eggs might hatch in a sealed tube."
            yield from asked(draft, row, "hatch_ceiling", text, "Write 0.01 for 1 %")
        if row.is_a.is_sealed and row.water_ml and row.eggs_max > MOST_EGGS_ML * row.water_ml:
            text = "{eggs_max} eggs in {water_ml:g} ml of water."
            yield from asked(draft, row, "eggs_max", text, "Look at both")
        if row.is_a.is_sealed and (row.water_ml or 0) > MOST_WATER * (row.volume_ml or math.inf):
            text = "{water_ml:g} of {volume_ml:g} ml are water: no air is left."
            yield from asked(draft, row, "water_ml", text, "Look at both")
        elif row.water_ml and row.water_ml < LEAST_WATER * (row.volume_ml or 0):
            text = "{water_ml:g} of {volume_ml:g} ml are little water."
            yield from asked(draft, row, "water_ml", text, "Look at both")
        if row.weight_g > HEAVIEST_G_ML * (row.volume_ml or math.inf) + HEAVIEST_EMPTY_G:
            text = "{weight_g:g} grams is much for a unit of {volume_ml:g} ml."
            yield from asked(draft, row, "weight_g", text, "Write what a packed unit weighs")
        if not row.is_a.is_damp and row.held > 0:
            text = "{hatch_held:g} of the due eggs would be held back in water."
            yield from asked(draft, row, "hatch_held", text, "Leave it blank", hatch_held=row.held)


#: Shorter words of a box's name stand in the names of many packings.
LEAST_OF_A_WORD = 5


def _long_words(name: str) -> set[str]:
    return {
        word for word in folded(name).split() if len(word) >= LEAST_OF_A_WORD and word not in KIND_BY_WORD
    }


def boxes_weigh_their_card(draft: Draft) -> Iterator[Problem]:
    """A box weighs at least the card it is made of, else postage is too low."""
    for row in draft.boxes:
        if 0 < row.tare_g < (least := _surface_m2(row) * LIGHTEST_CARD):
            text = "{tare_g:g} grams is less than {least:.0f}, what card of its size weighs."
            yield from asked(draft, row, "tare_g", text, "Weigh it", least=least)


def _surface_m2(box: Box) -> float:
    """The six sides of a box [m2]; 0 where one is not known."""
    length, width, height = box.length_mm or 0, box.width_mm or 0, box.thick_mm or 0
    if not (length and width and height):
        return 0.0
    return 2 * (length * width + length * height + width * height) / 1e6


def packings_cost_less_than_the_post(draft: Draft) -> Iterator[Problem]:
    """What a unit or a box costs is less than the dearest postage: cents are written for whole money."""
    dearest = max((postage.price for postage in draft.postage), default=None)
    rows: list[Packing | Box] = [*draft.packings, *draft.boxes]
    for row in rows:
        if dearest and row.cost > dearest:
            text = "{cost} is more than the dearest postage, {price}."
            yield from asked(draft, row, "cost", text, "Write what one costs", price=dearest)


#: Likeness of eggs of one parcel (kappa), or of broods, which is assumed, and so many times it as is far off.
USUAL_KAPPA, USUAL_SEX_KAPPA = 40, 20
LEAST_KAPPA, MOST_KAPPA = 0.125, 7.5
#: A chance of any fry in a sealed unit above this is no limit. Assumed.
MOST_ANY = 0.3
_ML_IN_NAME = re.compile(r"([0-9]+(?:[.,][0-9]+)?) ?ml\b", re.IGNORECASE)


def packings_lose_some(draft: Draft) -> Iterator[Problem]:
    """A packing in which no egg dies or all fare alike, that holds other millilitres than it is called, or
    whose heat pack lies in a box without vents: it would never be chosen, or always.
    """
    vented = {box.box: box.vented for box in draft.boxes}
    least_any = min((row.any_ceiling for row in draft.packings if row.is_a.is_sealed), default=1.0)
    for rate in draft.rates:
        if rate.what == "kappa":
            yield from _kappa(draft, rate, "value", rate.value, USUAL_KAPPA)
        elif rate.what in ("loss_handling", "loss_per_day") and rate.value == 0:
            yield from _no_loss(draft, rate, "value")
    for fish in draft.species:
        yield from _kappa(draft, fish, "sex_kappa", fish.sex_kappa, USUAL_SEX_KAPPA)
    for row in draft.packings:
        for column in ("loss_handling", "loss_per_day"):
            if getattr(row, column) == 0 < row.loss_handling + row.loss_per_day:
                yield from _no_loss(draft, row, column)
        if row.loss_per_day > row.loss_handling > 0:
            text = "{day:g} a day is more than {handling:g}, which handling costs."
            mend = say("Look at both")
            yield from asked(
                draft, row, "loss_per_day", text, mend, day=row.loss_per_day, handling=row.loss_handling
            )
        yield from _kappa(draft, row, "kappa", row.kappa, USUAL_KAPPA)
        if row.any_ceiling < row.hatch_ceiling <= MOST_ANY:
            text = "{any_ceiling:g} for any egg of a unit is less than {hatch_ceiling:g} for one of them."
            yield from asked(draft, row, "any_ceiling", text, "Look at both")
        elif row.is_a.is_sealed and row.any_ceiling > MOST_ANY >= least_any:
            text = "{any_ceiling:g}, and other sealed packings have {least:g} at least."
            mend = say("Write the share, as 0.01 for 1 %")
            yield from asked(draft, row, "any_ceiling", text, mend, least=least_any)
        named = _ML_IN_NAME.search(row.packing)
        if named and row.volume_ml and float(named[1].replace(",", ".")) != row.volume_ml:
            text = "{volume_ml:g} millilitres in '{packing}'."
            yield from asked(draft, row, "volume_ml", text, "Look at both")
        if row.heat_pack_h and vented.get(row.box or "") is False:
            text = "'{box}' is not vented, and a heat pack needs air: the packing never goes."
            yield from asked(draft, row, "box", text, "Name a vented box, or empty heat_pack_h", code="box")


#: So many times the eggs of a unit of the same kind and size is a digit too many. Assumed.
MORE_EGGS_TIMES = 5
#: Longer than this nothing holds its warmth without walls of foam [h]. Assumed.
LONGEST_BARE_H = 4


def units_are_like_others(draft: Draft) -> Iterator[Problem]:
    """A unit with far more eggs than another of its kind and size; hours of warmth in a box without walls."""
    foam = {box.box for box in draft.boxes if box.wall_mm}
    for alike in grouped(((row.kind, row.volume_ml or row.weight_g), row) for row in draft.packings).values():
        least = min(row.eggs_max for row in alike)
        for row in alike:
            if row.eggs_max >= MORE_EGGS_TIMES * least:
                text = say("{eggs_max} eggs, and a unit alike holds {least}.", row.eggs_max, least)
                yield from asked(draft, row, "eggs_max", text, "Look at both")
    yield from _heavier_than_larger(draft)
    rows: list[Packing | Box] = [*draft.packings, *draft.boxes]
    for unit in rows:
        if (unit.insulated_h or 0) > LONGEST_BARE_H and unit.box and unit.box not in foam:
            text = say(
                "{hours:g} hours warm in '{box}', whose walls have no thickness.", unit.insulated_h, unit.box
            )
            yield from asked(
                draft, unit, "insulated_h", text, "Write the hours measured, or wall_mm of the box"
            )


#: A unit so many times as heavy as one of its kind that holds more has a digit too many. Assumed.
HEAVIER_TIMES = 1.5


def _heavier_than_larger(draft: Draft) -> Iterator[Problem]:
    for alike in grouped(
        (row.kind, row) for row in draft.packings if row.volume_ml and row.weight_g
    ).values():
        for row in alike:
            larger = [other for other in alike if (other.volume_ml or 0) > (row.volume_ml or 0)]
            lightest = min(larger, key=lambda other: other.weight_g, default=None)
            if lightest and row.weight_g > HEAVIER_TIMES * lightest.weight_g:
                text = say(
                    "{weight:g}, and '{other}', which holds more, has {grams:g}.",
                    *(row.weight_g, lightest.packing, lightest.weight_g),
                )
                yield from asked(draft, row, "weight_g", text, "Write what a packed unit weighs")


def _no_loss(draft: Draft, row: Row, column: str) -> Iterator[Problem]:
    yield from asked(draft, row, column, "is 0: no egg would ever be lost.", "Write the share that is lost")


def _kappa(draft: Draft, row: Row, column: str, kappa: float, usual: int) -> Iterator[Problem]:
    if not LEAST_KAPPA * usual <= kappa <= MOST_KAPPA * usual:
        text = "{kappa:g} is far from 40, which is assumed where nothing is known."
        if usual == USUAL_SEX_KAPPA:
            text = "{kappa:g} is far from 20, which is assumed where nothing is known."
        yield from asked(draft, row, column, text, "Look at the point", kappa=kappa)


#: A bottle that fills a smaller share of the inside is in ounces, or has a digit lost. Assumed.
LEAST_BOTTLE = 0.04
#: Length is the longer side of a box, and a width far beyond it has a digit too many. Assumed.
WIDER_TIMES = 2
#: The heaviest a box is: its sides [g/m2], and foam in them [g/m2 a mm of wall]. Assumed.
HEAVIEST_SIDE, HEAVIEST_FOAM = 3000, 40


def boxes_are_of_their_size(draft: Draft) -> Iterator[Problem]:
    """A box heavier than anything that is mostly air, taller than long, or that holds more than fits in."""
    units: dict[str, float] = {}
    for packing in draft.packings:
        if packing.box:  # water and wet peat weigh a gram a millilitre, or less
            ml = packing.volume_ml or packing.weight_g
            units[packing.box] = max(units.get(packing.box, 0.0), ml)
    with_foam = max((row for row in draft.boxes if row.wall_mm), key=lambda row: row.cost, default=None)
    for row in draft.boxes:
        if with_foam and with_foam.cost and not row.wall_mm and row.cost > with_foam.cost:
            text = "{cost}, and '{box}' with walls of foam costs {other}."
            yield from asked(
                draft, row, "cost", text, "Look at the point", box=with_foam.box, other=with_foam.cost
            )
        length, width, height = row.length_mm or 0.0, row.width_mm or 0.0, row.thick_mm or 0.0
        ml = length * width * height / 1000
        if ml and row.tare_g > _surface_m2(row) * (HEAVIEST_SIDE + HEAVIEST_FOAM * (row.wall_mm or 0)):
            text = "{tare_g:g} grams is much for an empty box of {ml:.0f} ml."
            yield from asked(draft, row, "tare_g", text, "Weigh it", ml=ml)
        if row.inside_mm and min(row.inside_mm) <= 0:
            text = "walls of {wall_mm:g} mm leave no room inside."
            yield from asked(draft, row, "wall_mm", text, "Look at both")
        if width > WIDER_TIMES * length > 0:
            text = "{thick:g} mm is more than its length, {length:g}."
            yield from asked(draft, row, "width_mm", text, "Look at both", thick=width, length=length)
        if row.bottle_ml and not row.wall_mm:
            text = "{bottle_ml:g} ml of warm water in a box without walls of foam."
            yield from asked(draft, row, "bottle_ml", text, "Write wall_mm, or empty bottle_ml")
        if height > length > 0:
            text = "{thick:g} mm is more than its length, {length:g}."
            yield from asked(draft, row, "thick_mm", text, "Look at both", thick=height, length=length)
        if ml and row.holds * units.get(row.box, 0.0) > ml:
            text = "{holds} units of {each:g} ml are more than its {ml:.0f} ml."
            yield from asked(draft, row, "holds", text, "Look at both", each=units[row.box], ml=ml)
        if 0 < row.bottle_ml < LEAST_BOTTLE * (row.inside_ml or 0.0):
            text = say("{bottle:g} of {inside:.0f} ml inside warm nothing.", row.bottle_ml, row.inside_ml)
            yield from asked(draft, row, "bottle_ml", text, say("Write it in {unit}", say("millilitres")))


#: So many other rows of a kind show what is usual. Assumed, as all bounds here are.
LEAST_OTHERS = 2


@dataclass(frozen=True, slots=True)
class _Side:
    """How far below or above others of its kind, of its size, or all, a figure may lie, in times; 0: any."""

    column: str
    below: float = 0.0
    above: float = 0.0
    by_kind: bool = True
    by_size: bool = False


_SIDES = (
    _Side("weight_g", below=6, by_size=True),
    _Side("hatch_ceiling", above=2.5),
    _Side("any_ceiling", above=2.5),
    _Side("loss_handling", below=6),
    _Side("loss_per_day", below=6, above=8),
    _Side("hatch_held", below=3),
    _Side("cost", below=8, above=8, by_size=True),
    _Side("heat_pack_h", above=1.6, by_kind=False),
)


def packings_are_like_their_kind(draft: Draft) -> Iterator[Problem]:
    """A ceiling, loss or heat pack far off two others of the kind: a point misplaced, or another's."""
    for side in _SIDES:
        keys = (
            (
                row.kind * side.by_kind,
                side.by_size and row.volume_ml,
                side.column == "cost" and row.heat_pack_h > 0,
            )
            for row in draft.packings
        )
        for alike in grouped(zip(keys, draft.packings, strict=True)).values():
            known = sorted(float(mine) for row in alike if (mine := getattr(row, side.column)))
            for row in alike if len(known) > LEAST_OTHERS else ():
                if not (mine := getattr(row, side.column)):
                    continue
                usual = median_of_others(known, float(mine))
                if (side.above and mine >= side.above * usual) or (side.below and mine <= usual / side.below):
                    text = say("{mine:g}, and other packings like it have {usual:g}.", mine, usual)
                    yield from asked(draft, row, side.column, text, "Look at the point")


#: One vial holds no more eggs in one box than in another; of so many times, one count is another packing's.
SAME_VIAL_TIMES = 2.0
#: Nor does it weigh, lose or hold back so many times as much; a heat pack may weigh and lose some. Assumed.
_ALIKE_TIMES = {
    "weight_g": 4.0,
    "thick_mm": 3.0,
    "loss_handling": 4.0,
    "loss_per_day": 4.0,
    "hatch_held": 3.0,
    "cost": 10.0,
}


def vials_hold_alike(draft: Draft) -> Iterator[Problem]:
    """Units of one size, one with many more eggs, which would lack oxygen, or another weight or loss."""
    for rows in grouped((_size(row), row) for row in draft.packings).values():
        if len(rows) < 2:
            continue
        most, next_to, *_ = sorted(rows, key=lambda row: -row.eggs_max)
        if most.eggs_max >= SAME_VIAL_TIMES * next_to.eggs_max:
            text = say(
                "{eggs} eggs, and '{other}' of the same size holds {fewer}.",
                *(most.eggs_max, next_to.packing, next_to.eggs_max),
            )
            yield from asked(draft, most, "eggs_max", text, "Look at both")
        for column, times in _ALIKE_TIMES.items():
            known = sorted((float(mine), row.at.row, row) for row in rows if (mine := getattr(row, column)))
            if len(known) > 1 and known[-1][0] >= times * known[0][0]:
                (mine, _, row), (theirs, _, other) = known[-1], known[0]
                text = say(
                    "{mine:g}, and '{other}' of the same size has {theirs:g}.", mine, other.packing, theirs
                )
                yield from asked(draft, row, column, text, "Look at both")


def _size(row: Packing) -> tuple[object, ...]:
    """What units of one size have in common; of bags without a volume it is their eggs."""
    known = row.volume_ml or f"{row.eggs_max} eggs"
    return (row.kind, known, row.water_ml, row.media, row.medium, row.heat_pack_h > 0)
