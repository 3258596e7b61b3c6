"""Work done beside is what it would be here; where it is not done there, it is done here."""

from __future__ import annotations

import fcntl
import os
import signal
import termios
import threading
from array import array

import pytest

from shipping.words import second_process as beside
from shipping.words.second_process import Beside


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two cores, and no thread but this one, whatever other tests left running."""
    monkeypatch.setattr(beside, "_cores", lambda: 2)
    monkeypatch.setattr(beside, "can_fork", lambda: True)


def squares() -> tuple[int, list[float]]:
    return os.getpid(), [n * n / 7 for n in range(1000)]


@pytest.mark.usefixtures("two_cores")
def test_what_is_done_beside_is_what_would_be_done_here() -> None:
    there, found = Beside(squares).found()
    here, expected = squares()
    assert found == expected
    assert there != here


def test_on_one_core_it_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beside, "_cores", lambda: 1)
    assert Beside(squares).found() == squares()


def test_beside_another_thread_it_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beside, "_cores", lambda: 2)
    end = threading.Event()
    other = threading.Thread(target=end.wait)
    other.start()
    try:
        assert Beside(os.getpid).found() == os.getpid()
    finally:
        end.set()
        other.join()


@pytest.mark.usefixtures("two_cores")
def test_what_was_found_is_given_again_when_asked_again() -> None:
    work = Beside(os.getpid)
    assert work.found() == work.found() != os.getpid()


@pytest.mark.usefixtures("two_cores")
def test_a_worker_that_dies_is_made_up_for_here() -> None:
    here = os.getpid()

    def only_here() -> int:
        if os.getpid() != here:
            os._exit(3)
        return os.getpid()

    assert Beside(only_here).found() == here


@pytest.mark.usefixtures("two_cores")
def test_a_worker_killed_while_it_sends_is_made_up_for_here() -> None:
    here = os.getpid()

    def much_there() -> bytes:
        return b"here" if os.getpid() == here else bytes(4_000_000)

    work = Beside(much_there)
    assert work._process is not None
    assert work._process.pid is not None
    waiting = array("i", [0])
    while waiting[0] < 10_000:  # until more than the length of what is sent has come
        fcntl.ioctl(work._ours.fileno(), termios.FIONREAD, waiting)
    os.kill(work._process.pid, signal.SIGKILL)
    assert work.found() == b"here"


@pytest.mark.usefixtures("two_cores")
def test_work_given_up_leaves_no_process_behind() -> None:
    work = Beside(threading.Event().wait)
    process = work._process
    assert process is not None
    work.stop()
    assert process.exitcode == -signal.SIGTERM
