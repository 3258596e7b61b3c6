"""One line at the end of a run: how far the clock is from published times."""

from __future__ import annotations

import pytest

from tests.reckoned_once import reckoned_once as reckoned_once

FIGURES = pytest.StashKey[list[str]]()


@pytest.fixture
def figure(pytestconfig: pytest.Config):
    """Takes a sentence with a figure to show at the end of the run."""
    return pytestconfig.stash.setdefault(FIGURES, []).append


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    for line in config.stash.get(FIGURES, []):
        terminalreporter.write_line(line)
