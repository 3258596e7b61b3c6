"""Eggs near their time never go into a sealed tube: a stage, a doubt and a kind of packing in, yes or no
out.
"""

from __future__ import annotations

from shipping.tables.rows.packings import PackingKind


def is_near_hatching(stage: str, is_overdue: bool) -> bool:
    """Are these eggs near their time: the embryo fills the egg (`ready`), or the clock says they are past
    it?
    """
    return stage == "ready" or is_overdue


def is_barred(kind: PackingKind, stage: str, is_overdue: bool) -> bool:
    """May these eggs not go into this kind of packing, whatever its ceiling allows?

    Notes
    -----
    Jolts, pressure and stale water make eggs near their time hatch early (common practice, no source), and a
    fry hatched in a sealed tube dies.
    """
    return kind.is_sealed and is_near_hatching(stage, is_overdue)
