"""The text of shelf.toml in, Settings and problems out; a breeder's own font is looked at too."""

from __future__ import annotations

import re
import struct
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from shipping.tables.cells import BadCell, as_text, shortened
from shipping.tables.files.csv_file import bytes_of, is_there, text_of
from shipping.tables.files.sheet import Unreadable
from shipping.tables.rows.settings import Settings
from shipping.tables.spelling import did_you_mean
from shipping.words.problems import Problem, Where
from shipping.words.sentence import say

SETTINGS_FILE = "shelf.toml"
#: How other shops' sheets are read.
MAP_FILE = "orders.toml"
_MENDS = {
    "home": 'Write [home] and below it country = "DK".',
    "sender": "Write [sender] and below it name and address.",
    "home.country": 'Write country = "DK" below [home].',
    "sender.name": 'Write name = "your name" below [sender].',
    "sender.address": 'Write address = ["Havnegade 1", "8000 Aarhus C"] below [sender].',
}


def read_settings(folder: Path) -> tuple[Settings | None, tuple[Problem, ...]]:
    """The settings of a shelf, or None and every problem of its file."""
    path = folder / SETTINGS_FILE
    if not is_there(path):
        mend = "Write it with [home] country and [sender] name and address."
        return None, (Problem(Where(SETTINGS_FILE), "", "no-table", "is missing.", mend),)
    try:
        text = text_of(bytes_of(path, SETTINGS_FILE), SETTINGS_FILE)
    except Unreadable as broken:
        return None, (broken.problem,)
    settings, problems = settings_from_text(text)
    return with_own_font(settings, folder, text) if settings else (None, problems)


def with_own_font(settings: Settings, folder: Path, text: str) -> tuple[Settings | None, tuple[Problem, ...]]:
    """The settings with the whole path of the breeder's own font, or None and what is wrong with it."""
    if not settings.papers.font:
        return settings, ()
    path = folder.absolute() / Path(settings.papers.font)
    wrong = font_file_problem(path)
    if wrong:
        where = Where(SETTINGS_FILE, lines_of_keys(text).get("papers.font", 0))
        return None, (Problem(where, "papers.font", "setting", say("{text}.", wrong[0]), wrong[1]),)
    papers = settings.papers.model_copy(update={"font": str(path)})
    return settings.model_copy(update={"papers": papers}), ()


def settings_from_text(text: str) -> tuple[Settings | None, tuple[Problem, ...]]:
    """The settings in the text of a ``shelf.toml``, or None and its problems."""
    keys, problem = parsed_toml(text, SETTINGS_FILE)
    if problem:
        return None, (problem,)
    try:
        return Settings.model_validate(without_blanks(keys)), ()
    except ValidationError as error:
        lines = lines_of_keys(text)
        return None, tuple(problems_in_toml(error, Settings, lines, SETTINGS_FILE, _MENDS))


def parsed_toml(text: str, file: str) -> tuple[dict[str, Any], Problem | None]:
    """What a TOML text holds, or the problem of its syntax with the line it is on."""
    try:
        return tomllib.loads(text.replace("\r\n", "\n").replace("\r", "\n")), None
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        place = re.search(r"\(at line (\d+), column \d+\)", str(error))
        row = int(place[1]) if place else text.count("\n") + 1
        what = re.sub(r"\s*\(at .*\)", "", str(error)) or "cannot be read"
        if what == "Cannot overwrite a value":
            key = text.splitlines()[row - 1].partition("=")[0].strip()
            return {}, Problem(
                Where(file, row), key, "toml", say("'{key}' stands there twice.", key), "Keep one of the two."
            )
        mend = 'Write key = "text", key = 3 or key = ["one", "two"], with sections as [plan].'
        return {}, Problem(
            Where(file, row), "", "toml", say("is not TOML: {what}.", shortened(what, 80)), mend
        )


def without_blanks(keys: dict[str, Any]) -> dict[str, Any]:
    """The same without keys whose text is blank: a blank is a key left out."""
    kept: dict[str, Any] = {}
    for key, value in keys.items():
        if isinstance(value, dict):
            kept[key] = without_blanks(value)
        elif not (isinstance(value, str) and not value.strip()):
            kept[key] = value
    return kept


def lines_of_keys(text: str) -> Mapping[str, int]:
    """The line on which each section and key stands first: ``{"home": 1, "home.country": 2, ..}``."""
    lines: dict[str, int] = {}
    section = ""
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1):
        if head := re.match(r"\s*\[+\s*([^\]]+?)\s*\]+", line):
            section = head[1].replace('"', "")
            lines.setdefault(section, number)
        elif key := re.match(r"""\s*["']?([^"'=\s]+)["']?\s*=""", line):
            lines.setdefault(f"{section}.{key[1]}".lstrip("."), number)
    return lines


def problems_in_toml(
    error: ValidationError,
    model: type[BaseModel],
    lines: Mapping[str, int],
    file: str,
    mends: Mapping[str, str],
) -> Iterator[Problem]:
    """One problem a key, with the line where it stands."""
    seen: set[str] = set()
    for detail in error.errors(include_url=False):
        path = [part for part in detail["loc"] if isinstance(part, str)]
        name = ".".join(path)
        if name in seen:
            continue
        seen.add(name)
        where = Where(file, lines.get(name, lines.get(".".join(path[:-1]), 0)))
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, BadCell):
            yield Problem(where, name, "setting", say("{text}.", cause.text), cause.mend)
        elif detail["type"] == "missing":
            mend = mends.get(name, say("Write {value}.", path[-1]))
            yield Problem(where, name, "no-setting", "is missing.", mend)
        elif detail["type"] == "extra_forbidden":
            known = _keys_at(model, path[:-1])
            mend = did_you_mean(path[-1], known, say("Its keys are {known}.", ", ".join(known)))
            text = say("is no key of [{path}].", ".".join(path[:-1])) if path[:-1] else "is no section."
            yield Problem(where, name, "unknown-setting", text, mend)
        else:
            value = detail.get("input")
            text = say("'{cell}' is not what this key takes.", shortened(as_text(value)))
            yield Problem(where, name, "setting", text, mends.get(name, _shape(detail["type"])))


def _shape(kind: str) -> str:
    if kind.startswith(("tuple", "list")):
        return 'Write a list as ["en", "de"].'
    if kind.startswith(("model", "dict", "mapping")):
        return "Write it as a section of its own, in brackets."
    return "Write text in quotes."


def _keys_at(model: type[BaseModel], path: list[str]) -> list[str]:
    """The known keys of the section at ``path``."""
    for part in path:
        field = model.model_fields[part]
        kinds = (field.annotation, *getattr(field.annotation, "__args__", ()))
        inner = [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]
        if not inner:
            return []
        model = inner[0]
    return list(model.model_fields)


#: Larger than any font of Chinese letters seen [bytes].
_MOST = 64 * 1024 * 1024
#: The tables of a TrueType font that its shapes and widths are taken from (OpenType specification, "Required
#: tables").
_NEEDED = ("cmap", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post")


def font_file_problem(path: Path) -> tuple[str, str] | None:
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
