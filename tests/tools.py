"""Tools that tests read papers, tables and pages with: where one is missing, the test is left out by name."""

from __future__ import annotations

import os
import shutil

import pytest

#: Program -> the Debian package that brings it.
PACKAGES = {
    "chromium": "chromium",
    "pdftoppm": "poppler-utils",
    "qpdf": "qpdf",
    "soffice": "libreoffice-calc",
    "tmux": "tmux",
    "zbarimg": "zbar-tools",
}
#: A folder in memory for what tests write and throw away at once; None where there is none.
MEMORY = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
#: How the reason of a test that was left out begins.
NEEDS = "needs "


def tool(name: str) -> str:
    """The path of a tool; where it is not installed, the test that asks is skipped by the tool's name."""
    path = shutil.which(name)
    if path is None:
        pytest.skip(f"{NEEDS}{name}")
    return path


def left_out(reasons: list[str]) -> str:
    """The closing line for tests that were left out for want of tools; "" where none was.

    Parameters
    ----------
    reasons : why each test was skipped.
    """
    missing = sorted({reason.partition(NEEDS)[2] for reason in reasons if NEEDS in reason})
    if not missing:
        return ""
    count = sum(NEEDS in reason for reason in reasons)
    packages = " ".join(sorted({PACKAGES[name] for name in missing if name in PACKAGES}))
    return f"{count} tests left out for want of {', '.join(missing)}. On Debian: apt-get install {packages}"
