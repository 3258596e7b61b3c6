"""A shelf and a week's plan made by hand: three parcels, awkward names, every packing and every way of
keeping eggs.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from shipping.tables.rows.lots import Lot
from shipping.tables.rows.orders import OrderRow, orders_from_rows
from shipping.tables.rows.packings import Box, Packing
from shipping.tables.rows.services import Service
from shipping.tables.rows.settings import Settings
from shipping.tables.rows.species import Species
from shipping.tables.shelf import Shelf
from shipping.week.plan_data import Draw, LineOut, LotUse, Parcel, Plan, PlannedLine, Proof, Wetting
from shipping.words.problems import Where
from shipping.words.reasons import Note, Reason, Verdict
from shipping.words.three_point import Dates

TODAY = date(2026, 11, 28)
MONDAY, TUESDAY, WEDNESDAY = date(2026, 11, 30), date(2026, 12, 1), date(2026, 12, 2)

SETTINGS = {
    "home": {"country": "DK"},
    "sender": {
        "name": "Mosegård Æg & Yngel",
        "address": ["Strandstien 12", "8000 Aarhus C"],
        "mail": "eggs@example.org",
        "tel": "+45 00 00 00 00",
    },
    "plan": {"currency": "EUR", "parcels_per_day": 2},
    "customs": {"sdr": 1.177, "sdr_on": "2026-11-16"},
    "claims": {
        "report_within_days": 3,
        "short_policy": "Missing eggs are sent again with the next lot, or paid back, as you like.",
        "hatched_policy": "Fry that arrive alive count as eggs.",
    },
}

SPECIES = (
    Species(
        species="gardneri",
        scientific_name="Fundulopanchax gardneri",
        common_name="steel-blue killifish",
        family="Nothobranchiidae",
        incubation="either",
        hatch_early_d=14,
        hatch_usual_d=16,
        hatch_late_d=21,
        incubation_c=23,
        keep_min_c=15,
        keep_max_c=27,
        egg_mm=1.4,
        hatch_share=0.7,
        raise_share=0.7,
        female_share=0.5,
        adult_cm=6.5,
        cue="still water and a pinch of dry food take the oxygen down, which sets hatching off",
        first_food="newly hatched brine-shrimp nauplii",
        water_note="soft to medium",
        source=(
            "hatch days: common practice, no source; zero: assumed (none is published); shares: assumed;"
            " adult size: from memory; keep range: society pamphlet no. 5 (1983); cue: DiMichele & Powers"
            " 1984; first food and water: from memory"
        ),
        at=Where("species.csv", 2),
    ),
    Species(
        species="mento",
        scientific_name="Aphanius mento",
        family="Aphaniidae",
        incubation="water",
        hatch_early_d=7,
        hatch_late_d=10,
        incubation_c=21,
        keep_min_c=10,
        keep_max_c=26,
        egg_mm=1.0,
        adult_cm=5,
        first_food="infusoria for the first days; then newly hatched brine-shrimp nauplii",
        water_note="hard, alkaline",
        source="hatch days: society pamphlet 27 (1967)",
        at=Where("species.csv", 3),
    ),
    Species(
        species="guentheri",
        scientific_name="Nothobranchius guentheri",
        common_name="red-tailed notho",
        family="Nothobranchiidae",
        incubation="damp",
        hatch_early_d=60,
        hatch_usual_d=84,
        hatch_late_d=120,
        incubation_c=24,
        keep_min_c=15,
        keep_max_c=30,
        egg_mm=1.2,
        hatch_share=0.6,
        raise_share=0.7,
        female_share=0.5,
        adult_cm=5,
        hatch_depth_mm=30,
        cue="wet with water of 14-15 C and let it warm to 20-23 C in about 6 hours",
        first_food=(
            "vinegar eels or other fine food for the first days; then newly hatched brine-shrimp nauplii"
        ),
        water_note="hard",
        source=(
            "hatch days: common practice, no source; zero: assumed; shares: assumed; hatching depth: common"
            " practice, no source; cue: common practice, no source; adult size: from memory"
        ),
        at=Where("species.csv", 4),
    ),
)

LOTS = (
    Lot(
        lot="GAR-11a",
        species="gardneri",
        population="Akure",
        laid_from=date(2026, 11, 14),
        laid_to=date(2026, 11, 18),
        medium="water",
        kept_at_c=23,
        eggs=140,
        counted_on=date(2026, 11, 27),
        stage="eyed",
        stage_on=date(2026, 11, 27),
        treatment="a trace of methylene blue",
        at=Where("lots.csv", 2),
    ),
    Lot(
        lot="GUE-3b",
        species="guentheri",
        population="Zanzibar TAN 97/1",
        laid_from=date(2026, 9, 1),
        laid_to=date(2026, 9, 20),
        medium="peat",
        kept_at_c=24,
        eggs=200,
        counted_on=date(2026, 11, 20),
        count_basis="estimated",
        stage="fertile",
        stage_on=date(2026, 11, 20),
        at=Where("lots.csv", 3),
    ),
    Lot(
        lot="MEN-7",
        species="mento",
        population="",
        laid_from=date(2026, 11, 24),
        laid_to=date(2026, 11, 26),
        medium="water",
        kept_at_c=21,
        eggs=90,
        counted_on=date(2026, 11, 27),
        stage="laid",
        stage_on=date(2026, 11, 27),
        salt_g_l=1.5,
        at=Where("lots.csv", 4),
    ),
)

PACKINGS = (
    Packing(
        packing="breathing bag",
        kind="breathing bag",
        media="water",
        volume_ml=300,
        water_ml=250,
        eggs_max=60,
        hatch_ceiling=0.05,
        loss_handling=0.03,
        loss_per_day=0.01,
        weight_g=265,
        at=Where("packings.csv", 2),
    ),
    Packing(
        packing="damp bag",
        kind="damp bag",
        media="moss peat coir",
        eggs_max=60,
        hatch_ceiling=0.05,
        loss_handling=0.03,
        loss_per_day=0.005,
        weight_g=20,
        at=Where("packings.csv", 3),
    ),
    Packing(
        packing="tube 15 ml",
        kind="tube",
        media="water",
        volume_ml=15,
        water_ml=5,
        eggs_max=30,
        hatch_ceiling=0.01,
        any_ceiling=0.1,
        loss_handling=0.03,
        loss_per_day=0.01,
        weight_g=18,
        heat_pack_h=40,
        at=Where("packings.csv", 4),
    ),
)

BOXES = (
    Box(box="flat box", tare_g=40, holds=6, rigid="yes", vented="no", at=Where("boxes.csv", 2)),
    Box(box="vented box", tare_g=110, holds=3, rigid="yes", vented="yes", at=Where("boxes.csv", 3)),
)

SERVICES = (
    Service(
        service="letter", to="*", early_d=1, usual_d=3, late_d=8, hand_over="Mon Tue Wed", cut_off="16:00"
    ),
    Service(
        service="parcel", to="*", early_d=2, usual_d=3, late_d=6, hand_over="Mon Tue Wed", cut_off="15:00"
    ),
)


def _row(order: str, row: int, **cells: Any) -> OrderRow:
    common: dict[str, Any] = {"order": order, "placed_on": "2026-11-20", "at": Where("orders.csv", row)}
    return OrderRow(**(common | cells))


LUCJA = {
    "addressee": "Łucja Żółć <b>& Söhne",
    "delivery_1": "Kręta 7/3",
    "postcode": "1205",
    "town": "Genève",
    "country": "CH",
    "mail": "lucja@example.org",
    "language": "fr",
}
UNAL = {
    "addressee": "Ünal Şahin",
    "delivery_1": "Weg am Bach 3",
    "postcode": "10115",
    "town": "Berlin",
    "country": "DE",
    "language": "de",
}
YURI = {
    "addressee": "Юлія Ґалаґан / Đặng Thị Ngọc",
    "delivery_1": "c/o Γιώργος Παπαδόπουλος",
    "delivery_2": "Harbour Lane 4",
    "postcode": "CF10 1AA",
    "town": "Cardiff",
    "region": "GB-WLS",
    "country": "GB",
    "tel": "+44 00 0000 0000",
    "mail": "yuliia@example.org",
    "language": "en",
}

ORDER_ROWS = (
    _row("1001", 2, **LUCJA, species="gardneri", population="Akure", eggs=40, price="32.00"),
    _row(
        "1002",
        3,
        **YURI,
        species="guentheri",
        eggs=50,
        price="25.00",
        overpack="none",
        message="For the school tank *A*.",
        note="PRIVATE-NOTE",
    ),
    _row("1003", 4, **UNAL, species="mento", eggs=30, price="18.50"),
    _row("1003", 5, **UNAL, species="gardneri", population="Akure", eggs=12, price="9.60"),
    _row(
        "1004",
        6,
        addressee="Nhật Minh",
        delivery_1="Rue du Port 1",
        postcode="13002",
        town="Marseille",
        country="FR",
        language="fr",
        species="mento",
        eggs=20,
        price="12.00",
    ),
    _row(
        "1005",
        7,
        addressee="Ana Ñáñez",
        delivery_1="Calle Mayor 2",
        postcode="28013",
        town="Madrid",
        country="ES",
        language="es",
        species="guentheri",
        eggs=20,
        price="12.00",
    ),
)
ORDERS = orders_from_rows(ORDER_ROWS, has_paid_on=False)

SHELF = Shelf(
    today=TODAY,
    settings=Settings.model_validate(SETTINGS),
    species={one.species: one for one in SPECIES},
    lots=LOTS,
    looks=(),
    orders=ORDERS,
    services=SERVICES,
    postage=(),
    packings=PACKINGS,
    rules=(),
    boxes=BOXES,
)


_BLANK = Draw(
    lot="",
    packing="",
    units=1,
    pack=1,
    h_per_egg=0.001,
    h_any=0.02,
    v_per_egg=0.93,
    stage="",
    look_first=False,
    hatch_at_buyer=None,
    wet=None,
    eyed_on_arrival=1.0,
    h_at_p95=0.004,
)


def _draw(lot: str, packing: str, units: int, pack: int, stage: str, hatch: Dates, **more: Any) -> Draw:
    wet = Wetting(hatch.p05, hatch.p95) if hatch is WET_GUENTHERI else None
    days = {"hatch_at_buyer": None if wet else hatch, "wet": wet}
    return replace(_BLANK, lot=lot, packing=packing, units=units, pack=pack, stage=stage, **(days | more))


HATCH_GARDNERI = Dates(date(2026, 12, 7), date(2026, 12, 10), date(2026, 12, 16))
HATCH_MENTO = Dates(date(2026, 12, 4), date(2026, 12, 6), date(2026, 12, 9))
WET_GUENTHERI = Dates(date(2026, 12, 20), date(2027, 1, 12), date(2027, 2, 20))
EXTRA = Reason("extra", "Seven more so that 40 arrive alive with 95 %.", {"extra": 7}, "overpack")

PARCELS = (
    Parcel(
        parcel="2026-W49-01",
        orders=("1001",),
        address=ORDERS[0].address,
        service="letter",
        dispatch_on=MONDAY,
        arrive=Dates(date(2026, 12, 2), date(2026, 12, 4), date(2026, 12, 10)),
        box="flat box",
        weight_g=94,
        postage=Decimal("6.00"),
        lines=(
            PlannedLine(
                order="1001",
                line=1,
                species="gardneri",
                population="Akure",
                ordered=40,
                pack=47,
                p_enough=0.957,
                expected_alive=43.6,
                draws=(
                    _draw(
                        "GAR-11a",
                        "tube 15 ml",
                        2,
                        47,
                        "eyed",
                        HATCH_GARDNERI,
                        air_hours=190.0,
                        cautions=(
                            Note(
                                "bottle",
                                {
                                    "bottle_ml": 250,
                                    "start": 23,
                                    "box": "flat box",
                                    "half": 12,
                                    "measured": True,
                                },
                            ),
                        ),
                    ),
                ),
                reasons=(EXTRA,),
                price=Decimal("32.00"),
            ),
        ),
        low_c=3,
        high_c=19,
        warmth_basis="assumed",
        language="fr",
        mail="lucja@example.org",
        cut_off="16:00",
    ),
    Parcel(
        parcel="2026-W49-02",
        orders=("1003",),
        address=ORDERS[2].address,
        service="parcel",
        dispatch_on=TUESDAY,
        arrive=Dates(date(2026, 12, 3), date(2026, 12, 4), date(2026, 12, 9)),
        box="vented box",
        weight_g=640,
        postage=Decimal("15.00"),
        lines=(
            PlannedLine(
                order="1003",
                line=1,
                species="mento",
                population="",
                ordered=30,
                pack=36,
                p_enough=0.951,
                expected_alive=32.0,
                draws=(
                    _draw(
                        "MEN-7",
                        "breathing bag",
                        1,
                        36,
                        "laid",
                        HATCH_MENTO,
                        look_first=True,
                        h_per_egg=0.02,
                        eyed_on_arrival=0.91,
                    ),
                ),
                reasons=(),
                price=Decimal("18.50"),
            ),
            PlannedLine(
                order="1003",
                line=2,
                species="gardneri",
                population="Akure",
                ordered=12,
                pack=15,
                p_enough=0.968,
                expected_alive=13.9,
                draws=(_draw("GAR-11a", "breathing bag", 1, 15, "eyed", HATCH_GARDNERI),),
                reasons=(),
                price=Decimal("9.60"),
            ),
        ),
        low_c=6,
        high_c=20,
        warmth_basis="weather",
        language="de",
        cut_off="15:00",
    ),
    Parcel(
        parcel="2026-W49-03",
        orders=("1002",),
        address=ORDERS[1].address,
        service="letter",
        dispatch_on=TUESDAY,
        arrive=Dates(date(2026, 12, 3), date(2026, 12, 7), date(2026, 12, 15)),
        box="flat box",
        weight_g=60,
        postage=Decimal("10.00"),
        lines=(
            PlannedLine(
                order="1002",
                line=1,
                species="guentheri",
                population="Zanzibar TAN 97/1",
                ordered=50,
                pack=50,
                p_enough=0.31,
                expected_alive=46.2,
                draws=(_draw("GUE-3b", "damp bag", 1, 50, "fertile", WET_GUENTHERI, unfit_chance=0.2),),
                reasons=(),
                price=Decimal("25.00"),
                message="For the school tank *A*.",
            ),
        ),
        low_c=8,
        high_c=21,
        warmth_basis="weather",
        language="en",
        tel="+44 00 0000 0000",
        mail="yuliia@example.org",
        cut_off="16:00",
    ),
)

PLAN = Plan(
    week="2026-W49",
    today=TODAY,
    parcels=PARCELS,
    lines_out=(
        LineOut(
            "1004",
            1,
            Verdict.WAIT,
            date(2026, 12, 8),
            (
                Reason(
                    "too-young",
                    "Only 6 of 23 eggs show eyes by Wed 2 Dec.",
                    {"lot": "GAR-11a", "on": "2026-12-02", "free": 6, "needed": 23},
                ),
            ),
        ),
        LineOut(
            "1005",
            1,
            Verdict.HOLD,
            None,
            (Reason("ask-rule", "ES: ask the authority about Nothobranchius guentheri.", {"to": "ES"}),),
        ),
    ),
    lots=(
        LotUse("GAR-11a", 140, 0, 140, 62),
        LotUse("GUE-3b", 200, 0, 200, 50),
        LotUse("MEN-7", 90, 0, 90, 36),
    ),
    proof=Proof(85.1, 85.1, 0.0, 12.0),
)
#: The post's numbers by parcel.
ITEMS = {"2026-W49-01": "RR473124829GB"}


def with_address(addressee: str) -> tuple[Plan, Shelf]:
    """The same week with another addressee on the first parcel and its order."""
    rows = (ORDER_ROWS[0].model_copy(update={"addressee": addressee}), *ORDER_ROWS[1:])
    shelf = replace(SHELF, orders=orders_from_rows(rows, has_paid_on=False))
    address = replace(PARCELS[0].address, addressee=addressee)
    return replace(PLAN, parcels=(replace(PARCELS[0], address=address), *PARCELS[1:])), shelf
