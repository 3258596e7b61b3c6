"""The names the page goes by, and who may come in when others are let in too."""

from __future__ import annotations

from dataclasses import replace

import pytest
from flask import Request, Response
from werkzeug.test import EnvironBuilder

from shipping.worktop.access import Access, WrongKeys, host_names, is_loopback
from shipping.worktop.serving import _served


def guard(any_number: bool = False) -> Access:
    return Access("a secret", host_names(("192.168.1.20",), 8765), 8765, any_number)


@pytest.mark.parametrize("host", ["192.168.1.20:8765", "127.0.0.1:8765", "LOCALHOST:8765", "[::1]:8765"])
def test_the_address_listened_on_is_a_name_of_the_page(host: str) -> None:
    assert guard().knows_host(host)


@pytest.mark.parametrize(
    "host", ["192.168.1.21:8765", "192.168.1.20:80", "192.168.1.20", "example.org:8765", "", "a:b:c", "[::1"]
)
def test_any_other_is_not(host: str) -> None:
    assert not guard().knows_host(host)


def test_listening_everywhere_lets_in_numbers_but_no_name_that_could_be_anybodys() -> None:
    everywhere = guard(any_number=True)
    assert everywhere.knows_host("10.0.0.7:8765")
    assert everywhere.knows_host("[fe80::1]:8765")
    assert not everywhere.knows_host("10.0.0.7:8766")
    assert not everywhere.knows_host("rebound.example.org:8765")


def test_another_secret_gives_another_token_cookie_and_key() -> None:
    other = Access("another secret", frozenset(), 8765)
    ours = guard()
    assert len({ours.token, ours.cookie, ours.key, other.token, other.cookie, other.key}) == 6


def test_a_form_of_one_shelf_is_none_of_anothers() -> None:
    assert replace(guard(), shelf="/one").token != replace(guard(), shelf="/two").token


@pytest.mark.parametrize(
    ("address", "is_ours"),
    [("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("10.0.0.7", False), ("", False)],
)
def test_this_computer_is_told_from_others_by_its_address(address: str, is_ours: bool) -> None:
    assert is_loopback(address) == is_ours


def test_the_key_is_printed_only_for_other_devices() -> None:
    assert _served("127.0.0.1", 8765, "abc").here == "http://127.0.0.1:8765/"
    assert _served("127.0.0.1", 8765, "abc").elsewhere == ()
    assert _served("192.168.1.20", 8765, "abc").elsewhere == ("http://192.168.1.20:8765/?key=abc",)
    everywhere = _served("0.0.0.0", 8765, "abc")
    assert everywhere.here == "http://127.0.0.1:8765/"
    assert all(address.endswith(":8765/?key=abc") for address in everywhere.elsewhere)


def test_each_wrong_key_makes_the_next_wait_longer_and_no_other_address() -> None:
    now = [0.0]
    wrong = WrongKeys(lambda: now[0])
    waits = []
    for _ in range(9):
        wrong.count("10.0.0.7")
        waits.append(wrong.wait_s("10.0.0.7"))
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 60]
    assert wrong.wait_s("10.0.0.8") == 0
    now[0] = 61
    assert wrong.wait_s("10.0.0.7") == 0
    wrong.forget("10.0.0.7")
    wrong.count("10.0.0.7")
    assert wrong.wait_s("10.0.0.7") == 1


def asking(method: str, cookie: str) -> Request:
    """A request of another device that has nothing but a cookie of ours."""
    sent = EnvironBuilder(method=method, headers={"Cookie": cookie}).get_environ()
    return Request({**sent, "REMOTE_ADDR": "10.0.0.7"})


def test_the_cookie_that_comes_along_from_a_mail_lets_look_and_change_nothing() -> None:
    ours = guard()
    look = f"{ours.look_cookie_name}={ours._drawn('look')}"
    assert ours.lets_in(asking("GET", look))
    assert not ours.lets_in(asking("POST", look))
    assert not ours.lets_in(asking("GET", f"{ours.look_cookie_name}=another"))


@pytest.mark.parametrize(
    ("address", "host", "key", "is_given"),
    [
        ("127.0.0.1", "127.0.0.1:8765", "", True),
        ("10.0.0.7", "192.168.1.20:8765", "", False),
        ("10.0.0.7", "192.168.1.20:8765", guard().key, True),
        ("127.0.0.1", "example.org:8765", "", False),
    ],
)
def test_the_cookie_is_given_only_to_who_is_let_in_by_a_name_of_ours(
    address: str, host: str, key: str, is_given: bool
) -> None:
    asked = EnvironBuilder(base_url=f"http://{host}", query_string={"key": key}).get_environ()
    answer = guard().seal(Request({**asked, "REMOTE_ADDR": address}), Response())
    assert bool(answer.headers.getlist("Set-Cookie")) is is_given
