"""Letters our fonts cannot print: a plan and its tables in, problems that name file, row and letters out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from shipping.papers.wording.scripts import stands_alone
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import LineOut, Parcel
from shipping.words.problems import Problem, Where

#: Text -> the letters of it that cannot be printed.
Lacking = Callable[[str], str]
#: Where a text stands, in which column, and the text.
_Said = tuple[Where, str, str]


def letter_problems(
    parcels: Sequence[Parcel], lines_out: Sequence[LineOut], shelf: Shelf, lacking: Lacking
) -> tuple[Problem, ...]:
    """One problem for each text of the papers that holds letters the fonts lack, in the order of files and
    rows.
    """
    found: dict[tuple[str, int, str], Problem] = {}
    for where, column, text in _texts(parcels, lines_out, shelf):
        letters = lacking(text)
        if letters:
            named = " ".join(f"{letter} (U+{ord(letter):04X})" for letter in letters[:8])
            key = (where.file, where.row, column)
            what = f"'{text}' has letters that cannot be printed: {named}."
            found.setdefault(
                key,
                Problem(
                    where, column, "letters", what, _mend(column, letters, bool(shelf.settings.papers.font))
                ),
            )
    return tuple(found[key] for key in sorted(found))


def _mend(column: str, letters: str, has_font: bool) -> str:
    """What to write instead, and where a font of the breeder's would help, that too."""
    if column.startswith("local_"):
        instead = "Leave these lines out"
    else:
        is_name = column in ("addressee", "town", "region") or column.startswith("delivery")
        instead = f"Write the {'name' if is_name else 'text'} in Latin letters"
    if not all(map(stands_alone, letters)):
        return f"{instead}: writing that is joined, stacked or runs from right to left is not set here."
    mine = "another font that has them" if has_font else "a font of yours that has them"
    return f'{instead}, or name {mine} in shelf.toml: [papers] font = "file.ttf".'


def _texts(parcels: Sequence[Parcel], lines_out: Sequence[LineOut], shelf: Shelf) -> Iterator[_Said]:
    yield from _of_settings(shelf)
    orders = {name for parcel in parcels for name in parcel.orders} | {line.order for line in lines_out}
    for name in sorted(orders):
        if name in shelf.order_by_name:
            yield from _of_order(shelf, name)
    for parcel in parcels:
        yield from _of_address(parcel, shelf)
        yield from _of_parcel(parcel, shelf)


def _of_settings(shelf: Shelf) -> Iterator[_Said]:
    where = Where("shelf.toml")
    sender, claims = shelf.settings.sender, shelf.settings.claims
    yield where, "sender.name", sender.name
    for line in sender.address:
        yield where, "sender.address", line
    for name in ("mail", "tel", "customs_ref"):
        yield where, f"sender.{name}", getattr(sender, name)
    yield where, "claims.short_policy", claims.short_policy
    yield where, "claims.hatched_policy", claims.hatched_policy
    yield where, "customs.description", shelf.settings.customs.description


def _of_order(shelf: Shelf, name: str) -> Iterator[_Said]:
    columns = (
        "addressee",
        "delivery_1",
        "delivery_2",
        "delivery_3",
        "delivery_4",
        "postcode",
        "town",
        "region",
    )
    local = ("local_1", "local_2", "local_3", "local_4")
    for line in shelf.order_by_name[name].lines:
        for column in ("order", *columns, *local, "importer_ref", "message"):
            yield line.row.at, column, str(getattr(line.row, column))


def _of_address(parcel: Parcel, shelf: Shelf) -> Iterator[_Said]:
    """The address as the plan carries it, for a parcel whose orders are no longer in the tables."""
    if any(name in shelf.order_by_name for name in parcel.orders):
        return
    address = parcel.address
    for text in (address.addressee, *address.delivery, address.postcode, address.town, address.region):
        yield Where("orders"), "addressee", text
    for number, text in enumerate(address.local, start=1):
        yield Where("orders"), f"local_{number}", text


def _of_parcel(parcel: Parcel, shelf: Shelf) -> Iterator[_Said]:
    box = shelf.box_by_name.get(parcel.box)
    if box is not None:
        yield box.at, "box", box.box
    for line in parcel.lines:
        for draw in line.draws:
            lot, packing = shelf.lot_by_name[draw.lot], shelf.packing_by_name[draw.packing]
            species = shelf.species[lot.species]
            for column in ("lot", "population", "treatment"):
                yield lot.at, column, str(getattr(lot, column))
            yield packing.at, "packing", packing.packing
            for column in (
                "species",
                "scientific_name",
                "common_name",
                "cue",
                "first_food",
                "water_note",
                "source",
            ):
                yield species.at, column, str(getattr(species, column))
