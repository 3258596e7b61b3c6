"""The bytes of a text file in, its text out, or why it cannot be read; no encoding is ever guessed."""

from __future__ import annotations

import re
from collections.abc import Sequence

from shipping.tables.files.sheet import Unreadable, unreadable
from shipping.words.problems import Answer, Problem, Where
from shipping.words.sentence import either, joined, say

#: Encodings that a breeder may name for files that are not UTF-8, and what they are called.
OLD_ENCODINGS = {
    "cp1252": "Western",
    "cp1250": "Central European",
    "mac_roman": "Macintosh",
    "cp1251": "Cyrillic",
    "cp1253": "Greek",
    "cp1254": "Turkish",
    "cp1257": "Baltic",
    "cp850": "DOS",
    "cp932": "Japanese",
    "iso8859-15": "Latin-9",
    "utf-16-le": "UTF-16 without its mark",
    "utf-16-be": "UTF-16 without its mark, the other way round",
}
#: Those shown side by side where a file is not UTF-8.
_SHOWN = ("cp1252", "cp1250", "mac_roman")
_SAVE_AS = "In the spreadsheet, save it as CSV UTF-8."
#: How files of other kinds begin, and what to do with them.
_OTHER_KINDS = (
    (
        b"PK\x03\x04",
        "is a workbook, not text.",
        "Save its sheet as CSV UTF-8, or name the workbook shelf.xlsx or shelf.ods.",
    ),
    (b"\xd0\xcf\x11\xe0", "is an old workbook, not text.", "Save its sheet as CSV UTF-8."),
    (b"%PDF", "is a PDF, not text.", "Save the table as CSV UTF-8 in the spreadsheet it came from."),
)

_told: list[str] = []


def tell_encoding(name: str | None) -> None:
    """From now on in this process, CSV files that are not UTF-8 are read as ``name``; None: they are asked
    about.

    Raises
    ------
    ValueError
        If it is none of `OLD_ENCODINGS`.
    """
    if name is not None and name not in OLD_ENCODINGS:
        raise ValueError(name)
    _told[:] = [] if name is None else [name]


def told_encoding() -> str | None:
    """What `tell_encoding` was told last."""
    return _told[0] if _told else None


def text_of(data: bytes, file: str, told: str | None = None) -> str:
    """The text of UTF-8 (with or without mark) or marked UTF-16 bytes; others in the encoding ``told``, else
    asked about.

    Raises
    ------
    Unreadable
        If the bytes are neither, or not text of what was told.
    """
    for beginning, text, mend in _OTHER_KINDS:
        if data.startswith(beginning):
            raise unreadable(file, 0, "encoding", text, mend)
    if data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        raise unreadable(file, 0, "encoding", "is UTF-32, which no spreadsheet reads.", _SAVE_AS)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise unreadable(file, 0, "encoding", "begins like UTF-16 but is not.", _SAVE_AS) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if told is not None:
            return _as_told(data, file, told)
        if b"\x00" in data:
            raise _with_nulls(file) from None
        shown, encodings = _two_readings(data)
        raise Unreadable(_encoding_question(file, shown, encodings)) from None
    if "\x00" in text:
        if told is not None and told.startswith("utf-16"):
            return _as_told(data, file, told)
        raise _with_nulls(file)
    return text.rstrip("\x1a")


def _encoding_question(file: str, shown: str, encodings: Sequence[str]) -> Problem:
    keys = either(f'encoding = "{encoding}"' for encoding in encodings)
    flags = either(f"--encoding {encoding}" for encoding in encodings)
    which = say("Say which with {flags}, or write {keys} below [reading] in shelf.toml.", flags, keys)
    text = say("is not UTF-8: is it {readings}.", shown) if shown else say("is not UTF-8.")
    answers = tuple(Answer("encoding", encoding) for encoding in encodings)
    mend = joined((which, say(_SAVE_AS)) if encodings else (say(_SAVE_AS),))
    return Problem(Where(file), "", "encoding", text, mend, answers=answers)


def _with_nulls(file: str) -> Unreadable:
    return unreadable(file, 0, "encoding", "holds null bytes, as UTF-16 without its mark does.", _SAVE_AS)


def _as_told(data: bytes, file: str, told: str) -> str:
    try:
        text = data.decode(told)
    except UnicodeDecodeError:
        text = "\x00"
    if "\x00" in text:
        wrong = say("is not {encoding} ({name}) either.", told, say(OLD_ENCODINGS[told]))
        raise unreadable(file, 0, "encoding", wrong, _SAVE_AS)
    return text.rstrip("\x1a")


def _two_readings(data: bytes) -> tuple[str, tuple[str, ...]]:
    """Up to three words of the file in two old encodings that differ on it; and those encodings."""
    shown: list[str] = []
    encodings: dict[str, None] = {}
    for word in re.findall(rb"[A-Za-z\x80-\xff' .-]*[\x80-\xff][A-Za-z\x80-\xff' .-]*", data):
        readings: dict[str, str] = {}
        for encoding in _SHOWN:
            reading = " ".join(word[:40].decode(encoding, errors="replace").split())
            if reading.isprintable() and "\ufffd" not in reading and reading not in readings.values():
                readings[encoding] = reading
        first_two = list(readings.items())[:2]
        sentence = either(
            say("'{reading}' ({name})", reading, say(OLD_ENCODINGS[encoding]))
            for encoding, reading in first_two
        )
        if sentence and sentence not in shown:
            shown.append(sentence)
            encodings |= dict.fromkeys(encoding for encoding, _ in first_two)
        if len(shown) == 3:
            break
    if not shown:
        return "", ()
    return joined(shown, "; "), tuple(encodings)


def without_separator_line(text: str) -> str:
    """The text without a first line ``sep=;``, a hint that spreadsheets neither show nor count."""
    match = _SEPARATOR_LINE.match(text)
    return text[match.end() :] if match else text


_SEPARATOR_LINE = re.compile(r'"?sep=[,;\t]"?[,;\t]*(?:\r\n|\r|\n)', re.IGNORECASE)
