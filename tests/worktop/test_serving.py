"""The page as it is really served: from this computer only, whole through a kill, and for two at once."""

from __future__ import annotations

import http.client
import socket
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlencode

import pytest

from shipping.ledger.ledger import Ledger
from tests.ledger.whole import audit
from tests.worktop.conftest import FIRST, TODAY
from tests.worktop.served import LONGEST_S, Client, ServedPage, own_port

pytestmark = pytest.mark.slow


@pytest.fixture
def page(shelf: Path) -> object:
    with ServedPage(shelf) as served:
        yield served


def test_only_this_computer_is_listened_to(page: ServedPage) -> None:
    assert page.address.startswith("http://127.0.0.1:")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return  # This machine has no network at all.
        own = probe.getsockname()[0]
    if not own.startswith("127."):
        with pytest.raises(OSError):
            socket.create_connection((own, page.port), timeout=2).close()


def test_a_port_that_is_taken_is_said_and_leaves_with_1(page: ServedPage, shelf: Path) -> None:
    done = ServedPage.run(shelf, "--port", str(page.port))
    assert done.returncode == 1
    assert f"127.0.0.1 port {page.port} cannot be had" in done.stderr
    assert "Traceback" not in done.stderr


def test_an_address_that_is_none_is_said(shelf: Path) -> None:
    done = ServedPage.run(shelf, "--listen", "everywhere")
    assert (done.returncode, "'everywhere' is not an address" in done.stderr) == (1, True)


def test_ten_megabytes_are_refused_on_the_wire(page: ServedPage) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", page.port, timeout=LONGEST_S)
    headers = {"Content-Type": "application/x-www-form-urlencoded", "Content-Length": str(10_000_000)}
    try:
        connection.request("POST", f"/packing/{FIRST}/pack", headers=headers)
        connection.sock.sendall(b"u0=" + b"1" * 1_000_000)
        status = connection.getresponse().status
    except (ConnectionResetError, BrokenPipeError):
        status = 413  # It was closed before the rest was sent.
    finally:
        connection.close()
    assert status == 413


def test_what_was_recorded_outlasts_a_kill_and_what_was_typed_is_recorded_after_it(shelf: Path) -> None:
    with ServedPage(shelf, port=own_port()) as first:
        client = Client(first)
        marks = client.marks()
        assert client.post(f"/packing/{FIRST}/pack", {**marks, "u0": "24", "u1": "18"}).status == 200
        first.kill()
        with pytest.raises(OSError):
            client.post(f"/packing/{FIRST}/send", marks)
        with ServedPage(shelf, port=first.port) as second:
            client.page = second
            answer = client.post("/packing/2026-W49-06/pack", {**marks, "u0": "25"})
            assert answer.status == 403
            fresh = answer.headers["X-Token"]
            assert (
                client.post("/packing/2026-W49-06/pack", {**marks, "token": fresh, "u0": "25"}).status == 200
            )
    with Ledger.open(shelf, TODAY) as ledger:
        assert [ledger.parcel(name).state for name in (FIRST, "2026-W49-06")] == ["packed", "packed"]
        assert sum(count.eggs for count in ledger.parcel("2026-W49-06").counts) == 25
    assert audit(shelf) == ()


def test_two_clients_that_post_at_once_lose_nothing(page: ServedPage, shelf: Path) -> None:
    with Ledger.open(shelf, TODAY) as ledger:
        names = [
            parcel.parcel
            for parcel in ledger.parcels()
            if not any(draw.look_first for line in parcel.lines for draw in line.draws)
        ]
        eggs = {
            parcel.parcel: [count.eggs for count in parcel.planned_counts()] for parcel in ledger.parcels()
        }

    def pack_and_undo(number: int) -> list[int]:
        client, statuses = Client(page), []
        for name in names[number::2]:
            for _ in range(3):
                marks = client.marks()
                counts = {f"u{n}": str(count) for n, count in enumerate(eggs[name])}
                statuses.append(client.post(f"/packing/{name}/pack", {**marks, **counts}).status)
                with Ledger.open(shelf, TODAY) as ledger:
                    entry = max(one.seq for one in ledger.entries() if one.parcel == name)
                statuses.append(
                    client.post(f"/packing/{name}/undo", {**client.marks(), "entry": str(entry)}).status
                )
        return statuses

    with ThreadPoolExecutor(2) as both:
        statuses = [status for found in both.map(pack_and_undo, (0, 1)) for status in found]
    assert statuses == [200] * (6 * len(names))
    with Ledger.open(shelf, TODAY) as ledger:
        assert len(ledger.entries()) == 1 + 6 * len(names)


def test_two_who_pack_the_same_parcel_at_once_record_it_once(page: ServedPage, shelf: Path) -> None:
    both = [Client(page), Client(page)]
    marks = [client.marks() for client in both]
    with ThreadPoolExecutor(2) as pool:
        answers = list(
            pool.map(
                lambda n: (
                    both[n].post(f"/packing/{FIRST}/pack", {**marks[n], "u0": str(22 + n), "u1": "18"}).status
                ),
                (0, 1),
            )
        )
    assert sorted(answers) == [200, 409]
    with Ledger.open(shelf, TODAY) as ledger:
        assert len(ledger.entries()) == 2


def test_the_terminal_says_where_it_is_and_a_machine_reads_it(shelf: Path) -> None:
    with ServedPage(shelf, "--json") as served:
        assert f'"here": "{served.address}"' in served.told
    assert served.ended == 0


def test_asked_for_by_a_name_with_a_percent_sign_it_does_not_break(page: ServedPage) -> None:
    client = Client(page)
    for path in (
        "/%",
        "/%00",
        "/packing?day=%ff",
        "/papers/%2e%2e%2fshelf.toml.pdf",
        "/" + "a" * 3000,
        "/?" + urlencode({"week": "x" * 500}),
    ):
        assert client.get(path).status in (400, 404, 200), path
