"""Checks of rows that another row's name, mail or size gives the lie: one of the two is a slip."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import permutations
from operator import attrgetter

from shipping.tables.checks.row_problems import asked
from shipping.tables.checks.unlike_others import LEAST_LETTERS, letters_of
from shipping.tables.checks.weather import months_by_place
from shipping.tables.climate import climate_places
from shipping.tables.countries import plain_name
from shipping.tables.rows.orders import OrderRow
from shipping.tables.rows.packings import Packing
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped
from shipping.words.problems import Problem
from shipping.words.sentence import say

#: Where so many lots, and this share of them, begin like their fish, one that begins like another is its.
LEAST_NAMED = 5
NAMED_SHARE = 0.8


def lots_are_named_for_their_fish(draft: Draft) -> Iterator[Problem]:
    """A lot named as those of another fish are, where all others begin like their own."""
    names = {
        row.species: {folded(row.species), *folded(row.scientific_name).split()} for row in draft.species
    }
    known = [lot for lot in draft.lots if draft.knows_fish(lot.species)]
    begun = [(lot, begins) for lot in known if len(begins := letters_of(lot)) >= LEAST_LETTERS]
    named = [lot for lot, begins in begun if _is_of(names.get(lot.species, set()), begins)]
    if len(named) < LEAST_NAMED or len(named) < NAMED_SHARE * len(begun):
        return
    own = set(map(attrgetter("lot"), named))
    for lot, begins in begun:
        meant = [fish for fish in names if folded(fish).startswith(begins)]
        if lot.lot not in own and len(meant) == 1:
            text = say(
                "'{lot}' begins like '{other}', and stands under '{fish}'.", lot.lot, *meant, lot.species
            )
            yield from asked(draft, lot, "species", text, say("Look at both"))


#: Of so many lots of one code that are all of one fish, one more is of it too.
LEAST_CODED = 2


def lots_have_the_code_of_their_fish(draft: Draft) -> Iterator[Problem]:
    """A lot with the letters of another fish's lots, whose own fish has lots with letters of its own."""
    coded = [(letters, lot) for lot in draft.lots if len(letters := letters_of(lot)) >= LEAST_LETTERS]
    fish_of = {letters: Counter(lot.species for lot in lots) for letters, lots in grouped(coded).items()}
    letters_of_fish = grouped({(lot.species, letters) for letters, lot in coded})
    for letters, lot in coded:
        (other, times), *rest = fish_of[letters].most_common()
        is_alone = fish_of[letters][lot.species] == 1 and len(rest) == 1 and times >= LEAST_CODED
        if other != lot.species and is_alone and len(letters_of_fish[lot.species]) > 1:
            text = say(
                "'{lot}' is named as lots of '{other}' are, and stands under '{fish}'.",
                lot.lot,
                other,
                lot.species,
            )
            yield from asked(draft, lot, "species", text, say("Look at both"))


def _is_of(names: set[str], begins: str) -> bool:
    return any(name.startswith(begins) for name in names)


def lots_of_one_breeder_begin_alike(draft: Draft) -> Iterator[Problem]:
    """A lot from one breeder named as all those of another are: whose eggs they were would be lost."""
    from_ = [(letters_of(lot), lot) for lot in draft.lots if lot.origin and letters_of(lot)]
    by_letters = {begins: Counter(lot.origin for lot in lots) for begins, lots in grouped(from_).items()}
    sure = {begins: counts.most_common(1)[0] for begins, counts in by_letters.items()}
    odd = [
        (lot, sure[begins][0])
        for begins, lot in from_
        if lot.origin != sure[begins][0] and sure[begins][1] > 1
    ]
    if len(odd) == 1 and len({origin for origin, _ in sure.values()}) == len(sure) > 2:
        lot, other = odd[0]
        text = say("'{lot}' is named as lots from '{other}' are.", lot.lot, other)
        yield from asked(draft, lot, "origin", text, say("Look at both"))


#: Shorter words of a name stand in many mail addresses.
LEAST_OF_A_NAME = 4


def buyers_have_not_exchanged_names(draft: Draft) -> Iterator[Problem]:
    """Two names, each in the mail address of the other: they stand in each other's row."""
    rows = [row for row in draft.first_rows if row.mail and row.cancelled_on is None]
    words = {row.order: _words(row) for row in rows}
    held: dict[str, list[OrderRow]] = {}
    for row in rows:
        for word in words[row.order]:
            held.setdefault(word, []).append(row)
    for row in rows:
        mine = _of_mail(row)
        if mine & words[row.order]:
            continue
        others = {other.order: other for word in mine for other in held.get(word, ())}
        if len(others) != 1:
            continue
        (other,) = others.values()
        theirs = _of_mail(other)
        if theirs & words[row.order] and not theirs & words[other.order] and row.at.row < other.at.row:
            text = say(
                "'{mail}' names '{other}' of row {row}, whose mail names '{addressee}'.",
                *(row.mail, other.addressee, other.at.row, row.addressee),
            )
            mend = say("Exchange the two, if they stand in each other's row")
            yield from asked(draft, row, "addressee", text, mend, code="column")


def _words(row: OrderRow) -> set[str]:
    return {word for word in plain_name(row.addressee).split() if len(word) >= LEAST_OF_A_NAME}


def _of_mail(row: OrderRow) -> set[str]:
    local = plain_name(row.mail.partition("@")[0])
    return {word for word in "".join(c if c.isalpha() else " " for c in local).split() if len(word) > 3}


#: One vial holds no more eggs in one box than in another; of so many times, one count is another packing's.
MORE_EGGS_TIMES = 2.0
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
    """A tube or bag of one size with many more eggs than the same in another box: they would lack oxygen; or
    with another weight or loss.
    """
    for rows in grouped((_size(row), row) for row in draft.packings).values():
        if len(rows) < 2:
            continue
        most, next_to, *_ = sorted(rows, key=lambda row: -row.eggs_max)
        if most.eggs_max >= MORE_EGGS_TIMES * next_to.eggs_max:
            text = say(
                "{eggs} eggs, and '{other}' of the same size holds {fewer}.",
                *(most.eggs_max, next_to.packing, next_to.eggs_max),
            )
            yield from asked(draft, most, "eggs_max", text, say("Look at both"))
        for column, times in _ALIKE_TIMES.items():
            known = sorted((float(mine), row.at.row, row) for row in rows if (mine := getattr(row, column)))
            if len(known) > 1 and known[-1][0] >= times * known[0][0]:
                (mine, _, row), (theirs, _, other) = known[-1], known[0]
                text = say(
                    "{mine:g}, and '{other}' of the same size has {theirs:g}.", mine, other.packing, theirs
                )
                yield from asked(draft, row, column, text, say("Look at both"))


def _size(row: Packing) -> tuple[object, ...]:
    """What units of one size have in common; of bags without a volume it is their eggs."""
    known = row.volume_ml or f"{row.eggs_max} eggs"
    return (row.kind, known, row.water_ml, row.media, row.medium, row.heat_pack_h > 0)


#: Two months whose normals lie so far apart, and whose rows lie as far the other way, are exchanged [K].
EXCHANGED_C = 2.0


def months_are_not_exchanged(draft: Draft) -> Iterator[Problem]:
    """Two months of a place of which the warmer one is the colder here, in low and high."""
    for to, months in months_by_place(draft).items():
        places = climate_places().get(to.partition("-")[0], ())
        for (first, row), (second, other) in permutations(months.items(), 2) if places else ():
            colder = min(other.low_c - row.low_c, other.high_c - row.high_c)
            warmer = min(place.means_c[first - 1] - place.means_c[second - 1] for place in places)
            if warmer >= EXCHANGED_C and colder >= EXCHANGED_C:
                text = say(
                    "month {month} is colder than month {other}, and there it is warmer.", first, second
                )
                yield from asked(draft, row, "month", text, say("Exchange the two, if they are turned"))
