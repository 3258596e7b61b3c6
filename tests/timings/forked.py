"""Work done in a forked child of its own: a function and a time to stop it after in; what it returned or how
it ended, out.

With it come the child's own seconds, and the peak memory of it and of the processes it forks.
"""

from __future__ import annotations

import os
import pickle
import resource
import select
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

#: A child asked to stop is killed after so long [s].
PATIENCE_S = 2.0
#: A child's memory is looked at so often [s], or seldomer, so that a look takes no more than such a share of
#: the time.
LOOK_S, LOOK_SHARE = 0.5, 0.02
#: Bytes that say how many follow.
_LENGTH = 8


@dataclass(frozen=True, slots=True)
class Ended:
    """What the child returned (None where it did not), how it failed in words, its seconds, and its peak
    memory [MiB].

    The peak holds what the parent held when it forked, the same for every child of one parent. It is that of
    the child alone (its resident set, by the kernel), or of the child with all it forked, whichever is more;
    for the latter pages are looked at about every `LOOK_S` and those that several share are counted once (the
    sum of PSS, the parent's with them).
    """

    found: Any
    failed: str
    seconds: float
    peak_mib: float


def forked(
    work: Callable[[], Any], stop_after: float, most_gib: float, patience: float = PATIENCE_S
) -> Ended:
    """How the work ended in a child that is stopped after so many seconds and may map so much memory [GiB].

    Notes
    -----
    A child leads its own group of processes, which is stopped with it, also when the parent is interrupted.
    One that forks children in turn needs patience [s] to stop them first.
    """
    read_end, write_end = os.pipe()
    start = time.monotonic()
    child = os.fork()
    if child == 0:
        os.close(read_end)
        _work_in_child(work, write_end, most_gib)
    os.close(write_end)
    family = _Family(child)
    try:
        sent = _sent(read_end, start + stop_after, family)
    except BaseException:
        _stop(child, patience)
        raise
    finally:
        os.close(read_end)
    taken = time.monotonic() - start
    status, usage = _stop(child, patience) if sent is None else os.wait4(child, 0)[1:]
    peak = max(usage.ru_maxrss / 1024, family.peak_mib)
    if sent is None:
        return Ended(None, f"stopped after {taken:.0f} s", taken, peak)
    if not sent:
        return Ended(None, f"ended by {_how(status)}", taken, peak)
    found, failed, seconds = pickle.loads(sent)
    return Ended(found, failed, seconds, peak)


def _work_in_child(work: Callable[[], Any], write_end: int, most_gib: float) -> NoReturn:
    """Work, send what was found, leave; nothing of the parent's is cleaned up."""
    try:
        os.setpgid(0, 0)
        signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job ignores it
        resource.setrlimit(resource.RLIMIT_AS, (int(most_gib * 2**30),) * 2)
        found, failed, start = None, "", time.monotonic()
        try:
            found = work()
        except MemoryError as error:
            failed = " ".join(("out of memory", *map(str, error.args)))
        except TimeoutError as error:
            failed = " ".join(("out of time", *map(str, error.args)))
        except Exception as error:
            failed = f"{type(error).__name__}: {error}"
        sent = pickle.dumps((found, failed, time.monotonic() - start))
        with os.fdopen(write_end, "wb") as pipe:
            pipe.write(len(sent).to_bytes(_LENGTH, "big") + sent)
    finally:
        os._exit(1)


@dataclass
class _Family:
    """A child and all that it forks: how much memory they had at most when they were looked at, the parent's
    with it.
    """

    child: int
    wait: float = LOOK_S
    peak_mib: float = 0.0

    def look(self) -> None:
        """Sum up the memory of each, pages that several share once; ``wait``: until the next look."""
        start = time.monotonic()
        forked_by_it = _forked_by(self.child)
        if forked_by_it:  # of the child alone the kernel knows the peak
            kib = sum(_own_kib(process) for process in (os.getpid(), self.child, *forked_by_it))
            self.peak_mib = max(self.peak_mib, kib / 1024)
        self.wait = max(LOOK_S, (time.monotonic() - start) / LOOK_SHARE)


def _forked_by(process: int) -> list[int]:
    """The processes that one has forked, and those that they have."""
    try:
        own = [
            int(one)
            for one in Path(f"/proc/{process}/task/{process}/children").read_text(encoding="ascii").split()
        ]
    except OSError:
        return []
    return own + [other for one in own for other in _forked_by(one)]


def _own_kib(process: int) -> int:
    """A process's memory [KiB], of each page its share among those that have it; 0 where it has ended."""
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0)


def _sent(read_end: int, until: float, family: _Family) -> bytes | None:
    """What the child sent, empty where it ended without; None where it is not done in time."""
    parts = bytearray()
    while (left := until - time.monotonic()) > 0:
        if not select.select([read_end], [], [], min(left, family.wait))[0]:
            family.look()
            continue
        part = os.read(read_end, 1 << 20)
        parts += part
        size = _LENGTH + int.from_bytes(parts[:_LENGTH], "big") if len(parts) >= _LENGTH else None
        if not part or len(parts) == size:
            return bytes(parts[_LENGTH:]) if len(parts) == size else b""
    return None


def _stop(child: int, patience: float) -> tuple[int, resource.struct_rusage]:
    """Ask a child to stop, then kill its group; its status and what it used."""
    os.kill(child, signal.SIGINT)
    until = time.monotonic() + patience
    while time.monotonic() < until:
        ended, status, usage = os.wait4(child, os.WNOHANG)
        if ended:
            return status, usage
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    return os.wait4(child, 0)[1:]


def _how(status: int) -> str:
    """The signal or exit code a child ended by; the memory it may map is the likely cause of the first
    two.
    """
    if not os.WIFSIGNALED(status):
        return f"exit code {os.waitstatus_to_exitcode(status)}"
    name = signal.Signals(os.WTERMSIG(status)).name
    return f"{name} (out of memory?)" if name in ("SIGABRT", "SIGKILL") else name
