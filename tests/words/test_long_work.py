"""Work done in a second process is what it would be here; where it is not done there, it is done here."""

from __future__ import annotations

import fcntl
import os
import signal
import termios
import threading
import time
from array import array

import pytest

from shipping.words import long_work
from shipping.words.long_work import SecondProcess, of_each, of_two_halves


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two cores, and no thread but this one, whatever other tests left running."""
    monkeypatch.setattr(long_work, "_cores", lambda: 2)
    monkeypatch.setattr(long_work, "can_fork", lambda: True)


def squares() -> tuple[int, list[float]]:
    return os.getpid(), [n * n / 7 for n in range(1000)]


@pytest.mark.usefixtures("two_cores")
def test_what_a_second_process_does_is_what_would_be_done_here() -> None:
    there, made = SecondProcess(squares).result()
    here, expected = squares()
    assert made == expected
    assert there != here


def test_on_one_core_it_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_work, "_cores", lambda: 1)
    assert SecondProcess(squares).result() == squares()


def test_with_another_thread_at_work_it_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_work, "_cores", lambda: 2)
    end = threading.Event()
    other = threading.Thread(target=end.wait)
    other.start()
    try:
        assert SecondProcess(os.getpid).result() == os.getpid()
    finally:
        end.set()
        other.join()


@pytest.mark.usefixtures("two_cores")
def test_what_was_found_is_given_again_when_asked_again() -> None:
    work = SecondProcess(os.getpid)
    assert work.result() == work.result() != os.getpid()


@pytest.mark.usefixtures("two_cores")
def test_a_worker_that_dies_is_made_up_for_here() -> None:
    here = os.getpid()

    def only_here() -> int:
        if os.getpid() != here:
            os._exit(3)
        return os.getpid()

    assert SecondProcess(only_here).result() == here


@pytest.mark.usefixtures("two_cores")
@pytest.mark.parametrize("trouble", [KeyboardInterrupt, OSError])
def test_what_stops_a_worker_is_not_told_by_it(
    trouble: type[BaseException], capfd: pytest.CaptureFixture[str]
) -> None:
    here = os.getpid()

    def only_here() -> int:
        if os.getpid() != here:
            raise trouble
        return os.getpid()

    assert SecondProcess(only_here).result() == here
    assert capfd.readouterr().err == ""


@pytest.mark.usefixtures("two_cores")
def test_a_worker_killed_while_it_sends_is_made_up_for_here() -> None:
    here = os.getpid()

    def much_there() -> bytes:
        return b"here" if os.getpid() == here else bytes(4_000_000)

    work = SecondProcess(much_there)
    assert work._process is not None
    assert work._process.pid is not None
    waiting, until = array("i", [0]), time.monotonic() + 120
    while waiting[0] < 10_000 and time.monotonic() < until:  # more than the length of what is sent has come
        fcntl.ioctl(work._ours.fileno(), termios.FIONREAD, waiting)
        time.sleep(0.001)
    os.kill(work._process.pid, signal.SIGKILL)
    assert work.result() == b"here"


@pytest.mark.usefixtures("two_cores")
def test_work_given_up_leaves_no_process_behind() -> None:
    work = SecondProcess(threading.Event().wait)
    process = work._process
    assert process is not None
    work.stop()
    assert process.exitcode == -signal.SIGTERM


@pytest.mark.usefixtures("two_cores")
def test_halves_that_the_second_process_fails_to_do_are_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_work, "MANY_PARTS", 1)
    here = os.getpid()

    def only_here(parts: object) -> list[object]:
        if os.getpid() != here:
            os._exit(3)
        return [parts]

    assert of_two_halves([1, 2, 3], only_here) == ([[1, 2]], [[3]])


@pytest.mark.usefixtures("two_cores")
def test_few_parts_are_left_to_one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(long_work, "MANY_PARTS", 4)
    assert of_two_halves([1, 2, 3], len) == (3,)
    assert of_two_halves([1, 2, 3, 4], len) == (2, 2)


@pytest.mark.usefixtures("two_cores")
def test_each_part_is_made_in_its_place_by_whichever_process_has_less_to_do() -> None:
    made = of_each([5, 1, 4, 1], lambda part: (part, os.getpid()), lambda part: part, 11)
    assert [part for part, _ in made] == [5, 1, 4, 1]
    assert [at == os.getpid() for _, at in made] == [True, False, False, True]


@pytest.mark.usefixtures("two_cores")
def test_little_work_or_one_process_is_done_here() -> None:
    for least, processes in ((12, 2), (1, 1)):
        made = of_each([5, 6], lambda _: os.getpid(), lambda part: part, least, processes)
        assert made == [os.getpid()] * 2


@pytest.mark.parametrize(("known", "cores"), [(4, 4), (1, 1), (None, 1)])
def test_where_a_process_cannot_be_asked_for_its_cores_the_computers_count_or_else_one(
    monkeypatch: pytest.MonkeyPatch, known: int | None, cores: int
) -> None:
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: known)
    assert long_work._cores() == cores
