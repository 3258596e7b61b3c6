"""Numbers, countries and names are read on the command line as in tables."""

from __future__ import annotations

import pytest

from tests.cli.conftest import FIRST, TODAY, Spawnpost, done, refused


@pytest.mark.parametrize("typed", ["0,12", "12%", "12 %", "0.12"])
def test_a_share_is_read_with_a_decimal_comma_or_a_percent_sign(spawnpost: Spawnpost, typed: str) -> None:
    assert "a loss of 12 %" in " ".join(done(spawnpost("margin", 20, "--loss", typed)).out.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("margin", 20, "--loss", "12%", "--kappa"), "--kappa: is out of range. Write a number from 0.1 up."),
        (("pairs", 20, "--sex-kappa"), "--sex-kappa: is out of range."),
        (("offer", "--limit"), "--limit: is out of range. Write a number from 0.1 up."),
        (("plan", "--limit"), "--limit: is out of range. Write a number from 0.1 up."),
        (("plan", "--gap"), "--gap: is out of range. Write a number from 0 to 0.5."),
    ],
)
def test_every_number_is_read_with_a_decimal_comma(
    spawnpost: Spawnpost, words: tuple[object, ...], said: str
) -> None:
    """-0,05 is read, and is out of range; it was no number."""
    wrong = spawnpost(*words[:-1], f"{words[-1]}=-0,05")
    assert (wrong.code, said in " ".join(wrong.err.split())) == (2, True), wrong.err


def test_a_warmth_has_a_decimal_comma_too(spawnpost: Spawnpost) -> None:
    lot = ("--species", "australe", "--sent", 9, "--alive", 8, "--laid-from", TODAY, "--medium", "water")
    done(spawnpost("buy", "B-1", *lot, "--kept-at", "22,5"))
    assert "22.5" in done(spawnpost("forecast", "B-1", "--explain")).out


@pytest.mark.parametrize(("typed", "said"), [("much", "is not a number."), ("1,5", "is out of range.")])
def test_what_is_no_share_is_told_with_its_bounds(spawnpost: Spawnpost, typed: str, said: str) -> None:
    wrong = spawnpost("margin", 20, "--loss", typed)
    assert (wrong.code, wrong.out) == (2, "")
    assert f"--loss: {said} Write a number from 0 to 0.99." in wrong.err


def test_a_country_is_named_as_orders_name_it(spawnpost: Spawnpost) -> None:
    named = done(spawnpost("offer", "--to", "Finland")).out
    assert named == done(spawnpost("offer", "--to", "FI")).out
    refused(spawnpost("offer", "--to", "Nowhere"), "is neither a zone nor a country")


def test_a_buyers_name_is_answered_with_their_orders(spawnpost: Spawnpost) -> None:
    refused(spawnpost("why", "Søren"), "is a buyer's name, and no order's. Their orders: D")


def test_a_count_with_a_decimal_comma_is_told_as_one(spawnpost: Spawnpost) -> None:
    done(spawnpost("pack", FIRST))
    done(spawnpost("send", FIRST))
    refused(spawnpost("arrive", FIRST, "--alive", "33,5"), "'33,5' is not a whole number of eggs.")
