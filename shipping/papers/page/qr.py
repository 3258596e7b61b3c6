"""An address as a QR code: text in, its squares as a picture or as letters for a terminal out."""

from __future__ import annotations

#: Empty squares around the code, as ISO/IEC 18004 asks for.
_QUIET = 4


def qr_squares(text: str) -> tuple[tuple[bool, ...], ...]:
    """The squares of the code, row by row, dark ones True, with the quiet zone around them."""
    from reportlab.graphics.barcode.qrencoder import QR8bitByte, QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(QR8bitByte(text))
    code.make()
    count = code.getModuleCount()
    side = count + 2 * _QUIET
    return tuple(
        tuple(
            0 <= y - _QUIET < count and 0 <= x - _QUIET < count and bool(code.isDark(y - _QUIET, x - _QUIET))
            for x in range(side)
        )
        for y in range(side)
    )


def qr_svg(text: str) -> bytes:
    """The code as a drawing, black on white in the dark too: a camera needs it so."""
    squares = qr_squares(text)
    side = len(squares)
    dark = "".join(
        f"M{x} {y}h1v1h-1z" for y, row in enumerate(squares) for x, is_dark in enumerate(row) if is_dark
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" width="{side * 8}"'
        f' height="{side * 8}" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path d="{dark}"/></svg>'
    ).encode()


def qr_lines(text: str) -> tuple[str, ...]:
    """The code in half blocks, two rows of squares a line; light squares are drawn, for a dark terminal."""
    squares = qr_squares(text)
    rows = [*squares, (False,) * len(squares)] if len(squares) % 2 else list(squares)
    letters = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
    return tuple(
        "".join(letters[pair] for pair in zip(rows[n], rows[n + 1], strict=True))
        for n in range(0, len(rows), 2)
    )
