"""How far a plan is: value and bound in, one line on standard error at a terminal out."""

from __future__ import annotations

import sys
import time
from types import TracebackType

from shipping.words.units import percent

#: Shorter plans are not worth a line; the line is written anew after so many seconds.
LONG_S, ANEW_S = 2.0, 0.1
_BEGIN, _END = "\r", "\x1b[K"


class Progress:
    """A line that is written over and over; silent where nobody watches, or asked to be quiet."""

    def __init__(self, quiet: bool) -> None:
        self._shown = not quiet and sys.stderr.isatty()
        self._began = self._told = time.monotonic()
        self._value = 0.0

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            took = time.monotonic() - self._began
            sys.stderr.write(f"{_BEGIN}{_END}" + (f"Planned in {took:.0f} s.\n" if took > LONG_S else ""))
            sys.stderr.flush()

    def tell(self, value: float, bound: float) -> None:
        """Value served, of which the most is shown, and what no plan can pass."""
        self._value = value = max(value, self._value)
        now = time.monotonic()
        if self._shown and now > self._told + ANEW_S:
            self._told = now
            gap = max(0.0, bound - value) / bound if bound > 0 else 0.0
            took = now - self._began
            sys.stderr.write(
                f"{_BEGIN}{took:4.0f} s  value {value:.2f} of at most {bound:.2f} (gap {percent(gap)});"
                f" Ctrl-C keeps it{_END}"
            )
            sys.stderr.flush()
