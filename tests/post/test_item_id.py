"""The 13 characters the post gives an item."""

from __future__ import annotations

import pytest

from shipping.post.item_id import check_digit, is_valid_item_id, item_id_problem, origin_caution


def test_a_wrong_check_digit_is_said_with_what_to_do() -> None:
    problem = item_id_problem("RR473124820GB")
    assert problem is not None
    assert "check digit" in problem
    assert "receipt" in problem


def test_spaces_and_small_letters_are_no_data_but_the_mend_shows_the_number() -> None:
    problem = item_id_problem("rr 4731 2482 9gb")
    assert problem is not None
    assert problem.endswith("Write RR473124829GB.")
    assert not is_valid_item_id("rr473124829gb")


@pytest.mark.parametrize("first", "JKSTW")
def test_reserved_first_letters_are_refused(first: str) -> None:
    # UPU S10 as reprinted in public barcode documentation: J, K, S, T and W are reserved.
    problem = item_id_problem(f"{first}R473124829GB")
    assert problem is not None
    assert "reserved" in problem


def test_only_eight_digits_have_a_check_digit() -> None:
    with pytest.raises(ValueError, match="eight digits"):
        check_digit("1234567")


def test_digits_of_other_scripts_are_refused() -> None:
    assert not is_valid_item_id("RR47312482٩GB")


def test_a_number_issued_in_another_country_than_posted_in_is_cautioned_and_one_of_home_is_not() -> None:
    assert "ends in GB, and you post in DK" in origin_caution("RR473124829GB", "DK")
    assert origin_caution("RR473124829GB", "GB") == ""
    assert origin_caution("not a number", "GB") == ""
