"""How an order's line and a departure are named in every room."""

from __future__ import annotations

from datetime import date

#: An order's name and the number of its line.
LineKey = tuple[str, int]
#: A dispatch day and a service.
Departure = tuple[date, str]
