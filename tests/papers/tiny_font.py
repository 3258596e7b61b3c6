"""A TrueType font made here, byte by byte: a box of one em for each letter asked for."""

from __future__ import annotations

import struct

_EM = 1000
#: The glyph of every letter: a box, four points joined by lines.
_BOX = struct.pack(">hhhhh", 1, 100, -100, 900, 800) + struct.pack(">HH", 3, 0) + b"\x01" * 4
_BOX += struct.pack(">4h", 100, 800, 0, -800) + struct.pack(">4h", -100, 0, 900, 0)


def font_of(letters: str, licence: int = 0) -> bytes:
    """The bytes of a font with a box for each letter (of the first 65,536); ``licence`` is fsType of OS/2."""
    codes = sorted({ord(letter) for letter in letters})
    glyphs = len(codes) + 1
    tables = {
        "OS/2": (
            struct.pack(">HhHHH", 1, _EM, 400, 5, licence)
            + bytes(58)
            + struct.pack(">HHhhhHH", 32, 65535, 800, -200, 0, 900, 200)
        ),
        "cmap": _letters_table(codes),
        "glyf": _BOX * glyphs,
        "head": (
            struct.pack(">LLLLHH", 0x10000, 0x10000, 0, 0x5F0F3CF5, 3, _EM)
            + bytes(16)
            + struct.pack(">hhhhHHhhh", 100, -100, 900, 800, 0, 8, 2, 1, 0)
        ),
        "hhea": struct.pack(">LhhhH", 0x10000, 800, -200, 0, _EM) + bytes(22) + struct.pack(">H", glyphs),
        "hmtx": struct.pack(">Hh", _EM, 100) * glyphs,
        "loca": b"".join(struct.pack(">L", len(_BOX) * number) for number in range(glyphs + 1)),
        "maxp": struct.pack(">LH", 0x10000, glyphs) + struct.pack(">HH", 4, 1) + bytes(22),
        "name": _name_table("BoxesForTests"),
        "post": struct.pack(">L", 0x30000) + bytes(28),
    }
    return _file(tables)


def _letters_table(codes: list[int]) -> bytes:
    """The table cmap in format 12: a group for each letter."""
    groups = b"".join(struct.pack(">LLL", code, code, number) for number, code in enumerate(codes, start=1))
    sub = struct.pack(">HHLLL", 12, 0, 16 + len(groups), 0, len(codes)) + groups
    return struct.pack(">HHHHL", 0, 1, 3, 10, 12) + sub


def _name_table(name: str) -> bytes:
    said = name.encode("utf-16-be")
    ids = (1, 2, 4, 6)
    records = b"".join(struct.pack(">HHHHHH", 3, 1, 0x409, number, len(said), 0) for number in ids)
    return struct.pack(">HHH", 0, len(ids), 6 + len(records)) + records + said


def _file(tables: dict[str, bytes]) -> bytes:
    """The tables behind their directory, each at a multiple of four, the whole with the sum that `head` asks
    for.
    """
    at = 12 + 16 * len(tables)
    directory, body = struct.pack(">LHHHH", 0x10000, len(tables), 128, 3, len(tables) * 16 - 128), b""
    for tag, content in sorted(tables.items()):
        padded = content + bytes(-len(content) % 4)
        directory += struct.pack(">4sLLL", tag.encode(), _sum(padded), at + len(body), len(content))
        body += padded
    whole = bytearray(directory + body)
    place = at + sum(len(tables[tag]) + -len(tables[tag]) % 4 for tag in sorted(tables) if tag < "head") + 8
    whole[place : place + 4] = struct.pack(">L", (0xB1B0AFBA - _sum(bytes(whole))) & 0xFFFFFFFF)
    return bytes(whole)


def _sum(content: bytes) -> int:
    return sum(struct.unpack(f">{len(content) // 4}L", content)) & 0xFFFFFFFF
