"""Profiles of the property tests, and the closing line on tests that were left out for want of a tool.

The usual profile gives the same examples every time; ``make fuzz`` runs rounds of others. Where every tool
must be there (``SPAWNPOST_EVERY_TOOL``, as the project's own check sets it), a test left out fails the run.
"""

from __future__ import annotations

import functools
import gc
import os
import shutil

#: No test writes into the user's own state folder, nor does any process that a test starts: before the first
#: test there is no place for it at all, then it is among what pytest itself clears away.
os.environ["SPAWNPOST_STATE"] = f"{os.devnull}/before-the-first-test"
#: Tests run side by side already: threads for a product take more than they give.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
import typer.main
from hypothesis import HealthCheck, settings

from tests.tools import left_out

#: What tests write is in memory where there is plenty: a ledger that is forced to a disk some thousand times
#: waits for it. None of them cuts the power.
MEMORY, PLENTY = "/dev/shm", 2 * 1024**3
if os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free >= PLENTY:
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", MEMORY)

#: The tree of commands is the same for every command that a test runs in this process.
typer.main.get_command = functools.cache(typer.main.get_command)

settings.register_profile(
    "usual", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "fuzz", deadline=None, max_examples=300, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("usual")


@pytest.fixture(scope="session", autouse=True)
def state_of_tests(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Where tests and the processes they start keep the state of the user, one folder a worker."""
    for name in ("SPAWNPOST_STATE", "XDG_STATE_HOME"):
        os.environ[name] = str(tmp_path_factory.mktemp("state"))


def _skipped(terminal: pytest.TerminalReporter) -> list[str]:
    reasons = [report.longrepr for report in terminal.stats.get("skipped", [])]
    return [reason[2] if isinstance(reason, tuple) else str(reason) for reason in reasons]


def pytest_collection_finish() -> None:
    """What stands once all tests are known is looked through for rubbish no more."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    line = left_out(_skipped(terminalreporter))
    if line:
        terminalreporter.write_line(line, yellow=True)


def pytest_sessionfinish(session: pytest.Session) -> None:
    terminal = session.config.pluginmanager.get_plugin("terminalreporter")
    if terminal and os.environ.get("SPAWNPOST_EVERY_TOOL") and _skipped(terminal) and session.exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
