"""Was a ledger begun in a folder? The folder in, yes or no out; it is not opened."""

from __future__ import annotations

from pathlib import Path

from shipping.ledger.errors import COPIES_FOLDER, LEDGER_FILE


def has_ledger(folder: Path) -> bool:
    """Was a ledger begun in the folder, or is one missing that its copies know?"""
    path, copies = folder / LEDGER_FILE, folder / COPIES_FOLDER
    return (path.is_file() and path.stat().st_size > 0) or any(
        any(copies.glob(pattern)) for pattern in ("*.sqlite", "*.sqlite.gz")
    )
