"""The path of a breeder's own font in, why nothing can be printed with it and what to do out."""

from __future__ import annotations

import struct
from pathlib import Path

from shipping.tables.cells import shortened
from shipping.words.sentence import say

#: Larger than any font of Chinese letters seen [bytes].
_MOST = 64 * 1024 * 1024
#: The tables of a TrueType font that its shapes and widths are taken from (OpenType specification, "Required
#: tables").
_NEEDED = ("cmap", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post")


def font_problem(path: Path) -> tuple[str, str] | None:
    """(What is wrong with the file as a font, what to do), None where nothing is.

    References
    ----------
    OpenType specification: "Organization of an OpenType font", and of the table OS/2 the field fsType.
    """
    name = shortened(path.name)
    if not path.is_file():
        mend = say("Put the font there, write the path of one that is, or leave font out of [papers].")
        return say("'{name}' is not there", name), mend
    try:
        content = path.read_bytes() if path.stat().st_size <= _MOST else None
    except OSError as error:
        mend = say("Let it be read, or leave font out of [papers].")
        return say("'{name}' cannot be opened ({strerror})", name, error.strerror), mend
    if content is None:
        mend = say("Name a smaller .ttf, or leave font out of [papers].")
        return say("'{name}' is larger than {most} MiB", name, _MOST // 1024 // 1024), mend
    return _content_problem(name, content)


def _content_problem(name: str, content: bytes) -> tuple[str, str] | None:
    mend = say("Name a TrueType font, a single .ttf, or leave font out of [papers].")
    if content[:4] == b"OTTO":
        return say("'{name}' is a font with PostScript shapes", name), mend
    if content[:4] == b"ttcf":
        return say("'{name}' is a collection of fonts", name), mend
    if content[:4] not in (b"\x00\x01\x00\x00", b"true"):
        return say("'{name}' is not a TrueType font", name), mend
    tables = _tables(content)
    lacking = [table for table in _NEEDED if table not in tables]
    if lacking:
        return say("'{name}' is a broken font: it lacks {lacking}", name, ", ".join(lacking)), mend
    if _may_not_be_embedded(content, tables):
        return say("'{name}' says that it must not be put into other files", name), mend
    return None


def _tables(content: bytes) -> dict[str, tuple[int, int]]:
    """Offset and length of each table that lies within the file."""
    tables: dict[str, tuple[int, int]] = {}
    count = int.from_bytes(content[4:6], "big")
    for at in range(12, 12 + 16 * count, 16):
        entry = content[at : at + 16]
        if len(entry) == 16:
            tag, _, offset, length = struct.unpack(">4sLLL", entry)
            if offset + length <= len(content):
                tables[tag.decode("latin-1")] = (offset, length)
    return tables


def _may_not_be_embedded(content: bytes, tables: dict[str, tuple[int, int]]) -> bool:
    """Is the licence of OS/2 (fsType) "restricted" alone?"""
    offset, length = tables.get("OS/2", (0, 0))
    if length < 10:
        return False
    licence = int.from_bytes(content[offset + 8 : offset + 10], "big")
    return licence & 0x000F == 0x0002
