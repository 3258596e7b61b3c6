"""Profiles of the property tests, and the closing line on tests that were left out for want of a tool.

The usual profile gives the same examples every time; ``make fuzz`` runs rounds of others. Where every tool
must be there (``SPAWNPOST_EVERY_TOOL``, as the project's own check sets it), a test left out fails the run.
"""

from __future__ import annotations

import os
import tempfile

import pytest
from hypothesis import HealthCheck, settings

#: No test writes into the user's own state folder, nor does any process that a test starts.
os.environ["SPAWNPOST_STATE"] = tempfile.mkdtemp(prefix="spawnpost-state-")

from tests.tools import left_out

settings.register_profile(
    "usual", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "fuzz", deadline=None, max_examples=300, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("usual")


def _skipped(terminal: pytest.TerminalReporter) -> list[str]:
    reasons = [report.longrepr for report in terminal.stats.get("skipped", [])]
    return [reason[2] if isinstance(reason, tuple) else str(reason) for reason in reasons]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    line = left_out(_skipped(terminalreporter))
    if line:
        terminalreporter.write_line(line, yellow=True)


def pytest_sessionfinish(session: pytest.Session) -> None:
    terminal = session.config.pluginmanager.get_plugin("terminalreporter")
    if terminal and os.environ.get("SPAWNPOST_EVERY_TOOL") and _skipped(terminal) and session.exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
