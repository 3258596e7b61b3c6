"""Is a ledger whole? All that the audit finds, its lots' counts held against what was packed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from shipping.ledger.journal.audit import audited
from shipping.ledger.lot_counts import LotCounts
from shipping.words.problems import Problem


def audit(folder: Path, counted: Mapping[str, LotCounts] | None = None) -> tuple[Problem, ...]:
    """Everything wrong with a ledger and its copies; with counts, lots that gave more than they held, too."""
    return audited(folder).against(counted or {})
