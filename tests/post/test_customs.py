"""What customs is told."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shipping.post.customs import (
    Declaration,
    Goods,
    form_for,
    missing_facts,
    needs_declaration,
    tariff_for,
    tariff_text,
)
from shipping.tables.rows.orders import Address
from shipping.tables.rows.settings import Customs, Home, Sender, Settings

ABROAD = Address("B. Uyer", ("Main Street 1",), "10001", "New York", "NY", "US")


def settings(**customs: Any) -> Settings:
    return Settings(
        home=Home(country="DE", subdivision="BY"),
        sender=Sender(name="A. Breeder", address=["Hof 1"], tel="+49 0"),
        customs=Customs(**customs),
    )


#: 1 SDR = EUR 1.17673: IMF, 15 May 2026. 300 SDR = EUR 353.019.
RATE = {"sdr": 1.17673, "sdr_on": "2026-05-15"}


@pytest.mark.parametrize(
    ("value", "form"), [("353.01", "CN 22"), ("353.02", "CN 23"), ("5", "CN 22"), ("353.019", "CN 23")]
)
def test_the_longer_form_is_needed_from_300_sdr_on(value: str, form: str) -> None:
    assert form_for(Decimal(value), settings(**RATE)).form == form


def test_the_limit_itself_takes_the_longer_form() -> None:
    assert form_for(Decimal("300"), settings(sdr=1)).form == "CN 23"


def test_an_operator_may_set_its_own_limit() -> None:
    # Switzerland: CN 22 up to CHF 1000; 1 SDR = CHF 1.08258 (20 October 2025): about 923 SDR.
    assert form_for(Decimal("900"), settings(sdr=1.08258, form_limit_sdr=923)).form == "CN 22"


def test_what_is_not_known_leads_to_the_longer_form() -> None:
    assert form_for(None, settings(**RATE)).form == "CN 23"
    choice = form_for(Decimal(5), settings())
    assert (choice.form, "limit is unknown" in choice.why) == ("CN 23", True)
    assert "no rate for SDR" in choice.why


def test_parcels_and_goods_with_papers_take_the_longer_form() -> None:
    assert form_for(Decimal(5), settings(**RATE), by_parcel_post=True).form == "CN 23"
    assert form_for(Decimal(5), settings(**RATE), needs_papers=True).form == "CN 23"


def test_the_tariff_takes_the_destinations_ending_or_the_unions() -> None:
    # US statistical line 0511.91.00.10 "Fertilized fish eggs"; EU CN 0511 91 90.
    customs = Customs(national={"US": "0010", "EU": "05119190"})
    assert [tariff_for(code, customs) for code in ("US", "FR", "JP")] == ["0511910010", "05119190", "051191"]
    assert tariff_text("0511910010") == "0511.91.00.10"
    assert tariff_text("051191") == "0511.91"


@pytest.mark.parametrize(
    ("home", "to", "needed"),
    [
        (("DE", ""), ("FR", ""), False),
        (("DE", ""), ("DE", "BY"), False),
        (("DE", ""), ("GB", "ENG"), True),
        (("DE", ""), ("CH", ""), True),
        (("DE", ""), ("NO", ""), True),
        (("CH", ""), ("LI", ""), False),
        (("AT", ""), ("CH", ""), True),
        (("LI", ""), ("AT", ""), True),
        (("DE", ""), ("ES", "CN"), True),
        (("ES", "CN"), ("ES", "CN"), False),
        (("ES", "CN"), ("ES", "MD"), True),
        (("FI", ""), ("AX", ""), True),
        (("DE", ""), ("IT", "23"), False),
        (("US", "TX"), ("PR", ""), False),
        (("US", "TX"), ("GU", ""), True),
        (("FR", ""), ("GB", "NIR"), False),
        (("FR", ""), ("GB", ""), True),
        (("GB", "NIR"), ("IE", ""), False),
        (("GB", "ENG"), ("GB", "NIR"), True),
        (("GB", "NIR"), ("GB", "NIR"), False),
        (("GB", "NIR"), ("IM", ""), True),
        (("NO", ""), ("GB", "NIR"), True),
    ],
)
def test_a_form_is_needed_where_a_customs_border_is_crossed(
    home: tuple[str, str], to: tuple[str, str], needed: bool
) -> None:
    assert needs_declaration(home[0], to[0], to[1], home[1]) is needed


@pytest.mark.parametrize(
    ("country", "postcode", "needed"),
    [
        ("DE", "78266", True),
        ("DE", "27498", True),
        ("IT", " 23041", True),
        ("IT", "22061", True),
        ("IT", "23100", False),
        ("FR", "78266", False),
    ],
)
def test_places_outside_the_union_that_only_their_postcode_tells_need_a_form(
    country: str, postcode: str, needed: bool
) -> None:
    assert needs_declaration("NL", country, postcode=postcode) is needed
    assert needs_declaration(country, country, postcode=postcode) is needed


def made(
    *prices: str | None, item_id: str = "", posted_on: date = date(2026, 6, 1), origin: str = "DE"
) -> Declaration:
    goods = tuple(
        Goods(
            "Fundulopanchax gardneri",
            24,
            None if price is None else Decimal(price),
            12.0,
            origin,
            False,
            False,
        )
        for price in prices
    )
    return Declaration(
        settings(**RATE),
        ABROAD,
        goods,
        gross_weight_g=96,
        postage=Decimal("4.60"),
        posted_on=posted_on,
        tel="1",
        item_id=item_id,
    )


def test_the_goods_are_described_by_purpose_and_species_with_the_lot_s_own_origin() -> None:
    declared = made("20")
    (goods,) = declared.goods
    assert (
        declared.description(goods)
        == "Fertile fish eggs for hatching, not for consumption (Fundulopanchax gardneri)"
    )
    assert (goods.eggs, goods.origin, declared.tariff) == (24, "DE", "051191")


def test_an_origin_that_is_not_known_and_a_value_of_nothing_are_asked_about_and_never_filled_in() -> None:
    unknown, nothing = made("20", origin=""), made("0")
    assert unknown.goods[0].origin == ""
    assert any("origin_country" in gap for gap in missing_facts(unknown))
    # one lot of two is enough to ask
    (known,) = made("20").goods
    assert any(
        "origin_country" in gap for gap in missing_facts(replace(unknown, goods=(known, *unknown.goods)))
    )
    assert nothing.total_value == 0
    assert any("sold for nothing" in gap for gap in missing_facts(nothing))


@pytest.mark.parametrize(("days", "is_asked"), [(92, False), (93, True)])
def test_a_rate_for_sdr_is_asked_for_again_after_a_quarter_of_a_year(days: int, is_asked: bool) -> None:
    declared = made("20", posted_on=date(2026, 5, 15) + timedelta(days=days))
    gaps = missing_facts(declared)
    assert any("rate for SDR has no date, or an old one" in gap for gap in gaps) is is_asked


def test_the_values_add_up_and_an_unknown_one_leaves_the_total_unknown() -> None:
    assert made("20", "12.50").total_value == Decimal("32.50")
    assert made("20", None).total_value is None
    assert made("20", None).form.form == "CN 23"


def test_a_complete_declaration_lacks_nothing_and_a_gap_names_its_column() -> None:
    assert missing_facts(made("20")) == ()
    gaps = missing_facts(made(None))
    assert any("orders: price" in gap for gap in gaps)
    assert any("item's number" in gap for gap in gaps)


def test_an_old_rate_is_to_be_looked_up_again() -> None:
    gaps = missing_facts(made("20", posted_on=date(2026, 11, 30)))
    assert any("rate for SDR" in gap for gap in gaps)


def test_no_rate_is_asked_for_where_the_value_does_not_choose_the_form() -> None:
    parcel = replace(made("20", item_id="RR473124829GB"), settings=settings())
    assert missing_facts(replace(parcel, by_parcel_post=True)) == ()
    assert missing_facts(replace(parcel, papers=("health certificate",))) == ()
    assert len(missing_facts(parcel)) == 1


def test_captive_bred_is_said_only_where_every_lot_of_the_parcel_is() -> None:
    wild, bred = (made("5").goods[0], replace(made("5").goods[0], is_captive=True))
    said = [replace(made("5"), goods=goods).comments for goods in ((bred, bred), (bred, wild), ())]
    assert ["captive-bred" in one for one in said] == [True, False, False]
