"""Settings in, the breeder's shelf.toml with those lines in place of the old out, a copy of it first.

All other lines stay as they stand, comments too.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from pathlib import Path

from shipping.tables.editing.row_writer import copied
from shipping.tables.files.settings_reader import SETTINGS_FILE, settings_from_text
from shipping.tables.files.whole_file import not_written, remove_leftovers, write_whole
from shipping.words.problems import ShelfProblems

#: A setting by its section and key, such as ("sender", "name"), and what it is to be; None takes it out.
Setting = str | int | float | list[str] | None


def change_settings(folder: Path, settings: Mapping[tuple[str, str], Setting]) -> Path:
    """The copy of the file as it was; the file itself says the new settings. Raises ShelfProblems if it could
    not be read with them; nothing is written then.
    """
    path = folder / SETTINGS_FILE
    data = path.read_bytes()
    text = data.decode("utf-8-sig")
    for (section, key), value in settings.items():
        text = with_setting(text, section, key, value)
    as_read, problems = settings_from_text(text)
    if as_read is None:
        raise ShelfProblems(problems)
    try:
        copy = copied(path, data)
        write_whole(path, text.encode("utf-8"))
        remove_leftovers(path)
    except OSError as error:
        raise not_written(path, error) from None
    return copy


def with_setting(text: str, section: str, key: str, value: Setting) -> str:
    """The text of a shelf.toml with one setting more, changed or, for None, taken out."""
    lines = text.splitlines()
    new = [] if value is None else [f"{key} = {json.dumps(value, ensure_ascii=False)}"]
    start = next((n for n, line in enumerate(lines) if line.strip() == f"[{section}]"), None)
    if start is None:
        return "\n".join([*lines, "", f"[{section}]", *new]) + "\n" if new else text
    end = next((n for n in range(start + 1, len(lines)) if lines[n].lstrip().startswith("[")), len(lines))
    place = next((n for n in range(start + 1, end) if re.match(rf"\s*{key}\s*=", lines[n])), None)
    if place is None:
        lines[start + 1 : start + 1] = new
        return "\n".join(lines) + "\n"
    last = place
    while last < end - 1 and lines[place : last + 1] and _is_open("\n".join(lines[place : last + 1])):
        last += 1
    lines[place : last + 1] = new
    return "\n".join(lines) + "\n"


def _is_open(text: str) -> bool:
    """Does a list that begins here go on in the next line?"""
    bare = re.sub(r'"(?:[^"\\]|\\.)*"', "", text)
    bare = re.sub(r"#.*", "", bare)
    return bare.count("[") > bare.count("]")
