"""The timeline of the lots for the page: a state in, the drawing of the papers as SVG out, drawn once for a
state.
"""

from __future__ import annotations

import threading

from shipping.ledger.planning_again import shelf_left
from shipping.worktop.page_language import spoken, tr
from shipping.worktop.shelf_state import ShelfState


class TimelineMaker:
    """Draws the timeline, and keeps the last drawing; whoever asks meanwhile waits for the same one."""

    def __init__(self, shelf_state: ShelfState) -> None:
        self.shelf_state = shelf_state
        self._lock = threading.Lock()
        self._drawn: tuple[tuple[str, int, str], bytes | None] | None = None

    def svg(self) -> bytes | None:
        """The drawing; None where there is no lot."""
        key = (self.shelf_state.tables().stamp, self.shelf_state.plan_mark(), spoken())
        with self._lock:
            if self._drawn is None or self._drawn[0] != key:
                self._drawn = (key, self._draw())
            return self._drawn[1]

    def _draw(self) -> bytes | None:
        from shipping.papers.charts.lot_picture import lot_picture
        from shipping.papers.charts.pictures import picture_bytes
        from shipping.questions.forecast import outlooks
        from shipping.questions.lot_timeline import lot_timeline

        with self.shelf_state.ledger() as ledger:
            shelf = shelf_left(self.shelf_state.tables().shelf, ledger)
        timeline = lot_timeline(outlooks(shelf), shelf)
        return picture_bytes(lot_picture(timeline, spoken(), tr), "svg") if timeline.rows else None
