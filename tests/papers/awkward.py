"""A week that strains every paper: long names, many lines, three lots a line, one egg, other scripts,
holidays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from shipping.post.transit import Holiday
from shipping.tables.rows.orders import Address
from shipping.tables.rows.settings import Stickers
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, Parcel, Plan, PlannedLine
from tests.papers import sample

LONG_NAME = (
    "Wolfeschlegelsteinhausenbergerdorff-Đặng Thị Ngọc Ğüneş Çelik-Żółkiewska-Papadopoulou von und zu"
    " Mühlenbachtal"
)
LONG_TOWN = "Llanfairpwllgwyngyllgogerychwyrndrobwllllantysiliogogogoch"
HOLIDAYS = (
    Holiday(date(2026, 12, 25), "Christmas Day", "GB"),
    Holiday(date(2026, 12, 28), "Boxing Day (observed)", "GB"),
    Holiday(date(2026, 12, 31), "Day of the Invented Loch", "GB"),
)
LOTS = tuple(
    sample.LOTS[0].model_copy(
        update={
            "lot": f"LOT-OF-A-VERY-LONG-NAME-{number:02d}/2026-aquarium-room-north",
            "population": "Población de nombre larguísimo, río Ñá, ABC-2026/17",
            "count_basis": "estimated",
            "treatment": "oak bark, one spoon",
        }
    )
    for number in range(3)
)
ITEMS = {**sample.ITEMS, "2026-W49-04": "EB000717618HK", "2026-W49-05": "RB167995284IT"}
#: Sheets of stickers: small ones for tags, large ones that take labels too.
SMALL_STICKERS = Stickers(rows=8, columns=3, width_mm=70, height_mm=37, top_mm=0.5)
LARGE_STICKERS = Stickers(rows=5, columns=2, width_mm=99, height_mm=57, top_mm=6, left_mm=5, gap_x_mm=2)


def _draw(lot: str, eggs: int) -> Draw:
    return replace(sample.PARCELS[0].lines[0].draws[0], lot=lot, pack=eggs, units=1)


def _address(
    addressee: str, *delivery: str, postcode: str, town: str, country: str, region: str = ""
) -> Address:
    return Address(addressee, delivery, postcode, town, region, country)


def _many_lines() -> tuple[PlannedLine, ...]:
    models = [parcel.lines[0] for parcel in sample.PARCELS]
    return tuple(replace(models[n % 3], order="D77-ΩЖ", line=n + 1, message="") for n in range(14))


def _one_line(order: str, ordered: int, draws: tuple[Draw, ...], note: str = "") -> PlannedLine:
    pack = sum(draw.pack for draw in draws)
    instead = "Fundulopanchax gardneri (Nsukka)" if len(draws) > 1 else ""
    first = sample.PARCELS[0].lines[0]
    return replace(
        first, order=order, ordered=ordered, pack=pack, draws=draws, message=note, instead_of=instead
    )


PARCELS = (
    *sample.PARCELS,
    replace(
        sample.PARCELS[1],
        parcel="2026-W49-04",
        orders=("D77-ΩЖ",),
        lines=_many_lines(),
        address=_address(
            LONG_NAME,
            f"c/o {LONG_NAME}",
            "Block 77, Entrance 12, Floor 33, Apartment 1234, The Invented Very Long Named Housing Estate",
            "Flat 3",
            "Building behind the mill",
            postcode="SW1A 1AA",
            town=LONG_TOWN,
            country="GB",
            region="England",
        ),
        holidays=HOLIDAYS,
        service="registered tracked express parcel to everywhere",
    ),
    replace(
        sample.PARCELS[0],
        parcel="2026-W49-05",
        orders=("D78",),
        lines=(_one_line("D78", 1, tuple(_draw(lot.lot, 1) for lot in LOTS), "Thank you. " * 30),),
        address=_address(
            "Олена Ґалаґан",
            "vul. Vyhadana 12, kv. 3",
            "вул. Вигадана 12, кв. 3",
            "м. Київ",
            postcode="01001",
            town="Kyiv",
            country="UA",
        ),
    ),
    replace(
        sample.PARCELS[0],
        parcel="2026-W49-06",
        orders=("D79",),
        lines=(_one_line("D79", 1, (_draw("GAR-11a", 1),)),),
        address=_address(
            "Γιώργος Παπαδόπουλος",
            "Nguyễn Thị Minh Khai 7, Şişli",
            postcode="70000",
            town="Phường 6",
            country="VN",
        ),
    ),
)


def week(language: str, papers: Mapping[str, object], own_language: str | None = None) -> tuple[Plan, Shelf]:
    """The plan and the shelf, all parcels in one language; ``papers`` are settings of the papers."""
    parcels: tuple[Parcel, ...] = tuple(replace(parcel, language=language) for parcel in PARCELS)
    set_up = sample.SHELF.settings.papers.model_copy(
        update={"languages": (own_language or language,), **papers}
    )
    settings = sample.SHELF.settings.model_copy(update={"papers": set_up})
    shelf = replace(sample.SHELF, lots=(*sample.LOTS, *LOTS), settings=settings)
    return replace(sample.PLAN, parcels=parcels), shelf
