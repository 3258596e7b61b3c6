"""The 13 characters the post gives an item."""

from __future__ import annotations

import pytest

from shipping.post.item_id import (
    as_kept,
    check_digit,
    item_id_problem,
    origin_caution,
    unchecked_note,
)


def test_a_wrong_check_digit_is_said_with_what_to_do() -> None:
    problem = item_id_problem("RR473124820GB")
    assert problem is not None
    assert "check digit" in problem
    assert "receipt" in problem


def test_spaces_and_small_letters_are_no_data_but_the_mend_shows_the_number() -> None:
    problem = item_id_problem("rr 4731 2482 9gb")
    assert problem is not None
    assert problem.endswith("Write RR473124829GB.")
    assert item_id_problem("rr473124829gb") == problem.replace("rr 4731 2482 9gb", "rr473124829gb")


@pytest.mark.parametrize("first", "JKSTW")
def test_reserved_first_letters_are_refused(first: str) -> None:
    # UPU S10 as reprinted in public barcode documentation: J, K, S, T and W are reserved.
    problem = item_id_problem(f"{first}R473124829GB")
    assert problem is not None
    assert f"begins with {first}, which is reserved" in problem


def test_only_eight_digits_have_a_check_digit() -> None:
    with pytest.raises(ValueError, match="eight digits"):
        check_digit("1234567")


def test_digits_of_other_scripts_are_refused() -> None:
    assert item_id_problem("RR47312482٩GB") is not None


def test_a_number_issued_in_another_country_than_posted_in_is_cautioned_and_one_of_home_is_not() -> None:
    assert "ends in GB, and you post in DK" in origin_caution("RR473124829GB", "DK")
    assert origin_caution("RR473124829GB", "GB") == ""
    assert origin_caution("not a number", "GB") == ""


@pytest.mark.parametrize("text", ["1Z 999 AA1 01", "00340434161094015902", "CD-42.7/x_1"])
def test_a_couriers_or_a_domestic_number_is_kept_as_typed_with_a_note(text: str) -> None:
    assert item_id_problem(text) is None
    assert as_kept(text) == text
    assert unchecked_note(text).startswith(f"'{text}' is kept as typed")


def test_a_number_of_the_posts_form_is_kept_without_spaces_and_needs_no_note() -> None:
    assert as_kept("rr 4731 2482 9gb") == "RR473124829GB"
    assert unchecked_note("RR473124829GB") == ""


@pytest.mark.parametrize("text", ["", "ab", "=1+1()", "x" * 60, "RR47312482OGB"])
def test_what_is_no_number_or_a_slip_in_one_is_refused(text: str) -> None:
    assert item_id_problem(text)
