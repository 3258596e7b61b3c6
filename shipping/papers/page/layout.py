"""Where things stand on paper: sizes, margins, type and colours, in millimetres and points."""

from __future__ import annotations

#: Points in a millimetre.
MM = 72 / 25.4
#: Width and height of the papers and labels [points]; the sheets are ISO 216's A4 and ANSI's letter.
PAPERS = {
    "A4": (210 * MM, 297 * MM),
    "letter": (215.9 * MM, 279.4 * MM),
    "A6": (105 * MM, 148 * MM),
    "102x152": (102 * MM, 152 * MM),
    "4x6": (4 * 72.0, 6 * 72.0),
    "flat": (105 * MM, 74 * MM),
}
#: Nothing is printed nearer to the edge of a sheet, of a label, or of a tag than this [points].
SHEET_MARGIN = 14 * MM
LABEL_MARGIN = 6 * MM
TAG_MARGIN = 2.5 * MM
#: Heights of the head (with a QR code, and without) and of the foot of a sheet, and the gap between two
#: columns [points].
HEAD = {True: 25 * MM, False: 17 * MM}
FOOT = 8 * MM
GUTTER = 7 * MM
#: Type sizes [points].
TITLE = 19.0
HEADING = 11.5
BODY = 9.8
LARGE = 12.5
SMALL = 8.0
#: Nothing on a sheet is set smaller than this, however much there is: it is read at arm's length.
SMALLEST = 7.0
#: Distance of two lines, as a share of the type size.
LEADING = 1.26
#: Space after a block, and before a heading [points].
GAP = 4.0
HEADING_GAP = 8.0
#: A sheet that should be one page is set a little smaller before a second page is begun.
SCALES = (1.0, 0.95, 0.9, 0.86, 0.82, 0.78, 0.74)
#: Side of a QR code on a slip [points].
QR_SIDE = 22 * MM
#: Code 128: one module, and the height (S10 asks for 0.25 to 0.51 mm and at least 12.5 mm) [points].
BAR_MODULE = 0.33 * MM
BAR_HEIGHT = 13 * MM
BLACK = "#000000"
GREY = "#525252"
HAIR = "#B8B8B8"
PALE = "#F0F2F5"
WHITE = "#FFFFFF"
#: The one accent: the blue of Okabe and Ito (2008), told apart by nearly everyone.
ACCENT = "#0072B2"
