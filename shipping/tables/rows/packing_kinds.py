"""What each kind of packing is: damp, soft, sealed or breathing; the only list of kinds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PackingKind:
    """A kind of packing, by the breeder's word for it.

    ``is_damp``: eggs lie in a damp medium, without free water. ``is_soft``: a box that gives way would crush
    it. ``is_sealed``: the air in it is all the eggs have. ``breathes``: air passes through its wall, so that
    its box must let air in. ``holds_back``: the share of due eggs that it keeps from hatching where its row
    says nothing.
    """

    word: str
    is_damp: bool = False
    is_soft: bool = False
    is_sealed: bool = False
    breathes: bool = False
    holds_back: float = 0.0

    @property
    def key(self) -> str:
        """The word as the name of a phrase of the papers."""
        return self.word.replace(" ", "_")


#: `holds_back` of damp bags: eggs in damp moss, peat or coir mostly wait for water (common practice, no
#: source).
PACKING_KINDS = (
    PackingKind("tube", is_sealed=True),
    PackingKind("breathing bag", is_soft=True, breathes=True),
    PackingKind("damp bag", is_damp=True, is_soft=True, holds_back=0.9),
)
KIND_BY_WORD = {kind.word: kind for kind in PACKING_KINDS}
