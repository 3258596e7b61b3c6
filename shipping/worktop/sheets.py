"""The breeder's tables in the trade's words: a table's file in, its rows as they stand there, and what each
column is called on the page, out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from shipping.tables.editing.starter import TableColumn, columns_of
from shipping.tables.files.csv_form import csv_form, value_of
from shipping.tables.files.csv_reader import bytes_of
from shipping.tables.files.sheet import Unreadable, cleaned
from shipping.words.problems import ShelfProblems
from shipping.words.units import in_plain_words


@dataclass(frozen=True, slots=True)
class SheetWords:
    """How a table is spoken of: its name, one row, the columns that name a row, and those asked for first."""

    table: str
    name: str
    one: str
    titles: tuple[str, ...]
    first: str
    about: str


@dataclass(frozen=True, slots=True)
class RowAsTyped:
    """One row as the breeder's file holds it; ``row`` as a spreadsheet shows it."""

    row: int
    cells: Mapping[str, str]


SHEETS = (
    SheetWords(
        "orders",
        "Orders",
        "order",
        ("order", "addressee", "eggs", "species", "country"),
        (
            "order placed_on addressee country delivery_1 delivery_2 postcode town mail tel "
            "species population eggs paid_on"
        ),
        "One line an order line: a fish and a count of eggs for a buyer. A second fish for the same buyer is"
        " a second line under the same order.",
    ),
    SheetWords(
        "lots",
        "Lots",
        "lot",
        ("lot", "species", "population", "eggs"),
        ("lot species population laid_from laid_to medium kept_at_c eggs counted_on stage keep_back note"),
        "Eggs gathered together, laid over the same days and kept alike. What is seen later is a look.",
    ),
    SheetWords(
        "inspections",
        "Looks",
        "look",
        ("lot", "on", "stage", "alive"),
        ("lot on stage alive hatched removed kept_at_c note"),
        "What was seen of a lot on a day. Several looks a day are several rows; a wrong one is changed or"
        " taken back.",
    ),
    SheetWords(
        "services",
        "Services and what their operators said",
        "service",
        ("service", "to", "live_eggs", "answered_on"),
        ("service to live_eggs answered_on answered_by early_d usual_d late_d hand_over cut_off tracked"),
        "How parcels go. Ask each operator in writing whether live fish eggs may travel, and write the answer"
        " with its day.",
    ),
    SheetWords(
        "postage",
        "Postage",
        "price",
        ("service", "to", "up_to_g", "price"),
        ("service to up_to_g up_to_mm price"),
        "What a parcel costs by service, place, weight and thickness.",
    ),
    SheetWords(
        "rules",
        "Every rule",
        "rule",
        ("to", "taxon", "verdict", "checked_on"),
        ("to taxon medium verdict papers source checked_on until note"),
        "What may go where. A rule is yours to look up, and to date.",
    ),
    SheetWords(
        "packings",
        "Packings",
        "packing",
        ("packing", "kind", "eggs_max"),
        ("packing kind media eggs_max volume_ml water_ml box cost"),
        "Tubes and bags, and what they cost their eggs.",
    ),
    SheetWords(
        "boxes",
        "Boxes",
        "box",
        ("box", "tare_g", "holds"),
        ("box length_mm width_mm thick_mm tare_g holds rigid cost"),
        "What tubes and bags travel in.",
    ),
    SheetWords(
        "weather",
        "Weather",
        "weather",
        ("to", "month", "from", "low_c", "high_c"),
        ("to month from until low_c high_c source"),
        "What a parcel is expected to feel: by month, or for the days of a heat wave or a cold snap.",
    ),
    SheetWords(
        "disruptions",
        "Disruptions",
        "disruption",
        ("to", "service", "from", "until"),
        ("to service from until days stopped source"),
        "Strikes, storms and closed borders: days lost, or nothing handed over.",
    ),
    SheetWords(
        "species",
        "Fish",
        "fish",
        ("species", "scientific_name", "common_name"),
        (
            "species scientific_name common_name family incubation hatch_early_d hatch_usual_d hatch_late_d "
            "incubation_c source"
        ),
        "The fish you keep, and how their eggs develop.",
    ),
    SheetWords(
        "groups",
        "Spawning groups",
        "group",
        ("group", "species", "eggs_a_day"),
        ("group species population eggs_a_day from_day until_day note"),
        "What each group is expected to lay.",
    ),
    SheetWords("zones", "Zones", "zone", ("zone", "countries"), "zone countries", "Names for countries."),
)
SHEET_BY_TABLE: Mapping[str, SheetWords] = {words.table: words for words in SHEETS}

#: What a column is called; all others are their own name in plain words.
_LABELS: Mapping[str, str] = {
    "order": "Order number",
    "placed_on": "Ordered on",
    "paid_on": "Paid on",
    "addressee": "Buyer's name",
    "delivery_1": "Street and number",
    "delivery_2": "More of the address",
    "delivery_3": "Third line of the address",
    "delivery_4": "Fourth line of the address",
    "postcode": "Postcode",
    "town": "Town",
    "country": "Country",
    "price": "Price",
    "countries": "Countries",
    "zone": "Name of the zone",
    "month": "Month",
    "cost": "Cost",
    "group": "Group",
    "eggs_a_day": "Eggs a day",
    "from_day": "From",
    "until_day": "Until",
    "tracked": "Tracked",
    "family": "Family",
    "treatment": "Treatment of the water",
    "origin_country": "Country of origin",
    "bred": "Bred by yourself",
    "region": "Region, where rules or holidays differ by it",
    "tel": "Telephone",
    "mail": "E-mail",
    "language": "Buyer's language",
    "species": "Fish",
    "population": "Population or collection code",
    "eggs": "Eggs",
    "instead": "Would also take",
    "not_before": "Not before",
    "not_after": "Not after",
    "overpack": "Extra eggs",
    "parts": "Lines together, or may they be split",
    "papers": "Papers held or asked for, parted by ;",
    "importer_ref": "Importer's reference",
    "message": "Message, printed for the buyer",
    "note": "Note, for you alone",
    "cancelled_on": "Cancelled on",
    "lot": "Lot",
    "laid_from": "Laid from",
    "laid_to": "Laid until",
    "medium": "Kept in",
    "kept_at_c": "Kept at, °C",
    "counted_on": "Counted on",
    "count_basis": "Counted or estimated",
    "stage": "Furthest stage seen",
    "stage_on": "Stage seen on",
    "keep_back": "Eggs kept back",
    "wet_from": "To be wetted from",
    "wet_until": "To be wetted until",
    "salt_g_l": "Salt, g a litre",
    "origin": "Bought from",
    "on": "Day",
    "alive": "Live eggs, counted again",
    "hatched": "Fry since the last look",
    "removed": "Dead eggs taken out",
    "before_packing": "Seen before that day's parcels were packed",
    "service": "Service",
    "to": "To which countries",
    "live_eggs": "May live eggs travel? The operator's own answer",
    "answered_on": "Answered on",
    "answered_by": "Answered by whom",
    "early_d": "Working days, at the earliest",
    "usual_d": "Working days, usually",
    "late_d": "Working days, at the latest",
    "hand_over": "Days of hand-over",
    "cut_off": "Hour of hand-over",
    "up_to_g": "Up to, g",
    "up_to_mm": "Up to, mm thick",
    "taxon": "Fish, genus or family; * is any",
    "verdict": "What the rule says",
    "source": "Source: who said so, or where it stands",
    "checked_on": "Looked up on",
    "from": "From",
    "until": "Until",
    "low_c": "At its coldest, °C",
    "high_c": "At its warmest, °C",
    "packing": "Name",
    "box": "Box",
    "kind": "Kind",
    "media": "Takes eggs from",
    "eggs_max": "Eggs at the most",
    "volume_ml": "Volume, ml",
    "water_ml": "Water, ml",
    "tare_g": "Weight empty, g",
    "holds": "Holds so many",
    "days": "Working days longer",
    "stopped": "Nothing handed over",
    "hatch_early_d": "Hatches after days, early",
    "hatch_usual_d": "Hatches after days, usually",
    "hatch_late_d": "Hatches after days, late",
    "incubation_c": "at °C",
    "incubation": "Eggs kept wet or damp",
    "scientific_name": "Scientific name",
    "common_name": "Common name",
    "local_1": "Address in the buyer's own script",
    "local_2": "The same, second line",
    "local_3": "The same, third line",
    "local_4": "The same, fourth line",
    "fertile_share": "Share that is fertile",
    "saturday": "Delivered on Saturdays",
    "exposed_h": "Longest time in the open, hours",
    "parcel_lost_share": "Share of parcels that never arrive",
    "border_share": "Share held at a border",
    "border_early_d": "Held there, days, at the least",
    "border_usual_d": "Held there, days, usually",
    "border_late_d": "Held there, days, at the most",
    "hatch_ceiling": "Hatching on the way, at the most, of one egg",
    "any_ceiling": "Hatching on the way, at the most, of any egg",
    "hatch_held": "Share of due eggs it holds back",
    "fry_live": "Share of fry that live in it",
    "loss_handling": "Lost by packing and unpacking",
    "loss_per_day": "Lost each day on the way",
    "shelf_loss_per_day": "Lost each day on the shelf",
    "kappa": "How alike the eggs of a unit fare",
    "insulated_h": "Keeps half its warmth for hours",
    "heat_pack_h": "Its heat pack lasts, hours",
    "weight_g": "Weight, g",
    "thick_mm": "Thickness, mm",
    "box_g": "Weight of its box, g",
    "length_mm": "Length, mm",
    "width_mm": "Width, mm",
    "rigid": "Rigid",
    "vented": "With holes for air",
    "wall_mm": "Foam wall, mm",
    "bottle_ml": "Bottle of warm water, ml",
    "synonyms": "Other scientific names",
    "zero_c": "Development stops at, °C",
    "zero_basis": "How that is known",
    "eyed_at": "Eyes show at so much of the way to hatching",
    "send_from": "May be sent from the stage",
    "keep_min_c": "Coldest that eggs bear, °C",
    "keep_max_c": "Warmest that eggs bear, °C",
    "egg_mm": "Size of the egg, mm",
    "o2_ug_egg_h": "Oxygen an egg uses in an hour, µg",
    "o2_basis": "How that use is known",
    "hatch_share": "Share that hatches",
    "raise_share": "Share that grows up",
    "female_share": "Share of females",
    "sex_kappa": "How alike broods are in it",
    "ready_keeps_d": "Ready eggs keep, days",
    "adult_cm": "Full size, cm",
    "hatch_depth_mm": "Depth of water to hatch in, mm",
    "cue": "What sets hatching off",
    "first_food": "First food",
    "water_note": "About the water",
    "care": "Own care sheet",
}


#: What a form says of a cell where the hint of a sheet speaks of columns or codes; "" where a list says it.
_HINTS: Mapping[tuple[str, str], str] = {
    ("orders", "order"): "the same for every fish of this order",
    ("orders", "postcode"): "",
    ("orders", "delivery_1"): "",
    ("orders", "population"): "",
    ("orders", "eggs"): "as ordered; the plan adds the extra ones",
    ("orders", "country"): "",
    ("orders", "species"): "",
    ("orders", "region"): "where rules or holidays differ inside the country; else blank",
    ("orders", "paid_on"): "blank: not paid yet, and the order waits for it",
    ("orders", "language"): "two letters, such as de",
    ("lots", "species"): "",
    ("lots", "eggs"): "live eggs on the day of the count",
    ("rules", "to"): "a country, or a part of one: DE, US-HI",
    ("rules", "taxon"): "scientific name, genus, family, or * for any",
    ("species", "species"): "a short name, used wherever this fish is named",
    ("species", "hatch_early_d"): "days at that warmth by which 5 in 100 have hatched, or can be wetted",
    ("weather", "to"): "countries, parts of one or zones; * is everywhere",
    ("weather", "month"): "1 to 12; blank where it is for days",
    ("packings", "box"): "",
    ("packings", "box_g"): "",
}


def hint_of(table: str, column: TableColumn) -> str:
    """What the page's form says of a cell; nothing where that only repeats the words of its list."""
    if column.words and not set(re.findall(r"\w+", column.hint)) - {"or"} - set(
        " ".join(column.words).split()
    ):
        return ""
    return _HINTS.get((table, column.name), column.hint)


def label_of(column: str) -> str:
    """What a column is called on the page."""
    return _LABELS.get(column) or in_plain_words(column)


def columns_first(words: SheetWords) -> tuple[tuple[TableColumn, ...], tuple[TableColumn, ...]]:
    """The columns asked for first, in their order, and all others."""
    every = {column.name: column for column in columns_of(words.table)}
    asked = words.first.split()
    needed = [name for name, column in every.items() if column.required and name not in asked]
    first = [name for name in (*asked, *needed) if name in every]
    return tuple(every[name] for name in first), tuple(
        column for name, column in every.items() if name not in first
    )


def rows_as_typed(path: Path) -> tuple[RowAsTyped, ...]:
    """The rows of a CSV table as they stand, those with mistakes too; none where there is no such file.

    Raises
    ------
    ShelfProblems
        If it cannot be read as a table.
    """
    if not path.exists():
        return ()
    try:
        form = csv_form(bytes_of(path, path.name), path.name)
    except Unreadable as broken:
        raise ShelfProblems((broken.problem,)) from None
    found = []
    for record in form.records:
        if record.cells and record.number > form.header.number and not form.is_blank(record):
            values = [
                cleaned(value_of(form.text[start:end]), keep_breaks=True)[0] for start, end in record.cells
            ]
            found.append(RowAsTyped(record.number, dict(zip(form.names, values, strict=False))))
    return tuple(found)
