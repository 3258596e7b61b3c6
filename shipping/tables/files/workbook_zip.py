"""The bytes of a workbook in, its parts out, bounded in size; what the parts mean is left to the readers."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree

from shipping.tables.files.sheet import Unreadable, unreadable

#: A workbook may unpack to this much in all, and no more.
MOST_UNPACKED = 200_000_000
MOST_PARTS = 5_000

_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_MEND = "Take off any password and save it again in the spreadsheet, or save each sheet as CSV UTF-8."


def open_zip(data: bytes, file: str) -> zipfile.ZipFile:
    """The workbook as an archive.

    Raises
    ------
    Unreadable
        If it is no archive, or would unpack to more than `MOST_UNPACKED`.
    """
    if data.startswith(_OLD_WORKBOOK):
        text = "cannot be read as a workbook: it is an old .xls, or has a password."
        mend = "Save it in the spreadsheet as .xlsx or .ods, without a password."
        raise unreadable(file, 0, "workbook", text, mend)
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise no_workbook(file) from None
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        text = "unpacks to more than 200 MB."
        raise unreadable(file, 0, "too-large", text, "Save the tables alone in a new workbook.")
    return archive


def no_workbook(file: str) -> Unreadable:
    """What is said of a file that cannot be read as a workbook."""
    return unreadable(file, 0, "workbook", "cannot be read as a workbook.", _MEND)


def elements(archive: zipfile.ZipFile, part: str, file: str) -> Iterator[tuple[str, ElementTree.Element]]:
    """The elements of one part as they begin and end (``start``, ``end``); elements are not kept.

    Raises
    ------
    Unreadable
        If the part is missing, broken, or declares a document type (no spreadsheet does).
    """
    try:
        with archive.open(part) as head:
            if b"<!DOCTYPE" in head.read(4096):
                raise no_workbook(file)
        with archive.open(part) as stream:
            yield from ElementTree.iterparse(stream, events=("start", "end"))
    except (KeyError, zipfile.BadZipFile, ElementTree.ParseError, RuntimeError, OSError, EOFError):
        raise no_workbook(file) from None


def local_name(tag: str) -> str:
    """An element's name without its namespace."""
    return tag.rpartition("}")[2]


def attribute(element: ElementTree.Element, name: str) -> str | None:
    """An attribute by its name without namespace."""
    for key, value in element.attrib.items():
        if local_name(key) == name:
            return value
    return None
