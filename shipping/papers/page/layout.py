"""Where things stand on paper: sizes, margins, type and colours, in millimetres and points; no text and no
drawing.
"""

from __future__ import annotations

from typing import NamedTuple

#: Points in a millimetre.
MM = 72 / 25.4

#: Width and height of the papers [points].
PAPERS = {
    "A4": (210 * MM, 297 * MM),
    "letter": (215.9 * MM, 279.4 * MM),
    "A6": (105 * MM, 148 * MM),
    "102x152": (102 * MM, 152 * MM),
}

#: Nothing is printed nearer to the edge of a sheet, of a label, or of a sticker than this [points].
SHEET_MARGIN = 16 * MM
LABEL_MARGIN = 6 * MM
STICKER_MARGIN = 2 * MM

#: Type sizes [points].
TITLE = 21.0
HEADING = 12.5
BODY = 10.8
LARGE = 13.5
SMALL = 8.8

#: Distance of two lines, as a share of the type size.
LEADING = 1.32
#: Space after a block, and before a heading [points].
GAP = 5.0
HEADING_GAP = 9.0
#: A sheet that should be one page is set a little smaller before a second page is begun.
SCALES = (1.0, 0.94, 0.89, 0.85, 0.82)

#: Side of a QR code on a slip [points].
QR_SIDE = 24 * MM
#: Code 128: one module, and the height (S10 asks for 0.25 to 0.51 mm and at least 12.5 mm) [points].
BAR_MODULE = 0.33 * MM
BAR_HEIGHT = 13 * MM


class Colour(NamedTuple):
    """Red, green and blue as shares."""

    red: float
    green: float
    blue: float


BLACK = Colour(0, 0, 0)
GREY = Colour(0.32, 0.32, 0.32)
HAIR = Colour(0.72, 0.72, 0.72)
PALE = Colour(0.94, 0.95, 0.96)
#: The one accent: the blue of Okabe and Ito (2008), told apart by nearly everyone.
ACCENT = Colour(0, 114 / 255, 178 / 255)
WHITE = Colour(1, 1, 1)
