"""What lots are called: no two alike, none as a row of sums, each as others of its fish and breeder."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from operator import attrgetter

from shipping.tables.checks.row_problems import asked
from shipping.tables.rows.lots import Group, Lot
from shipping.tables.rows.orders import OrderRow
from shipping.tables.shelf import Draft
from shipping.tables.spelling import folded
from shipping.words.keys import grouped, repeated
from shipping.words.problems import Problem
from shipping.words.sentence import say


def lots_are_named_apart(draft: Draft) -> Iterator[Problem]:
    """A lot under two names that differ in marks only, as ``GA-12`` and ``GA 12``."""
    bare = (("".join(filter(str.isalnum, folded(lot.lot))), lot) for lot in draft.lots)
    for other, lot in repeated(bare):
        if folded(other.lot) != folded(lot.lot) and lot.eggs:
            text = say("'{lot}' may be lot '{other}' of row {row} again.", lot.lot, other.lot, other.at.row)
            mend = say("Remove one, if it is the same lot")
            yield from asked(draft, lot, "lot", text, mend, code="line-twice")


#: What a row is called that adds others up, or shows how a row is written.
_NO_LOT = re.compile(
    r"(?:sub|grand )?-?total|sum|summe|gesamt|somme|suma|examples?|beispiel|exemple|ejemplo|test",
    re.IGNORECASE,
)


def lots_have_a_name_of_their_own(draft: Draft) -> Iterator[Problem]:
    """A lot named like a row of sums, or like the example of a table, counts as eggs."""
    for lot in draft.lots:
        if lot.eggs and _NO_LOT.fullmatch(lot.lot.strip()):
            text = "'{lot}' is mostly no lot, and its {eggs} eggs count."
            yield from asked(draft, lot, "lot", text, "Remove the row", code="lot-name")


_LETTERS = re.compile(r"[^\W\d_]+")
#: A name that begins with one letter is no code of fish and population.
LEAST_LETTERS = 2


def lots_are_named_for_their_population(draft: Draft) -> Iterator[Problem]:
    """A lot whose code ends with the letter of another population of the fish, where the codes of other lots
    of its own end with theirs: eggs of two populations would be sold as one.
    """
    naming: tuple[OrderRow | Group, ...] = (*draft.order_rows, *draft.groups)
    wanted = grouped((row.species, row.population) for row in naming if row.population)
    for species, lots in grouped((lot.species, lot) for lot in draft.lots if lot.population).items():
        names = {
            place: Counter(map(letters_of, some))
            for place, some in grouped((lot.population, lot) for lot in lots).items()
        }
        initials = grouped((_initial(place), place) for place in {*names, *wanted.get(species, ())})
        for lot in lots:
            place, begins = lot.population, letters_of(lot)
            if len(begins) < LEAST_LETTERS or names[place][begins] > 1:
                continue
            own = names[place].keys() - {begins}
            meant = initials.get(begins[-1], []) if own else []
            if len(meant) == 1 and place not in meant and all(one[-1:] == _initial(place) for one in own):
                text = say(
                    "'{lot}' is named as lots of '{other}' are, and stands under '{population}'.",
                    *(lot.lot, *meant, place),
                )
                yield from asked(draft, lot, "population", text, say("Look at fish and population"))


def letters_of(lot: Lot) -> str:
    """The letters with which a lot's name begins."""
    letters = _LETTERS.match(lot.lot)
    return folded(letters[0]) if letters else ""


def _initial(population: str) -> str:
    return folded(population)[:1]


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
