"""The map of modules: every module's first sentence, room by room; `python -m tests.module_map` prints it."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

from tests.test_layers import PACKAGE
from tests.test_layers import ROOMS as LAYERS

#: The rooms in the order in which data flows through them.
ROOMS = (*LAYERS, "cli")
TITLE = """# The map of modules

Written by `python -m tests.module_map > docs/map.md` from the first sentences of the modules, room by room,
in the order in which data flows; a test fails where it is stale.
"""


def module_map() -> str:
    """The map as Markdown text: a section a folder, a line a module."""
    modules = (path.relative_to(PACKAGE) for path in PACKAGE.rglob("*.py"))
    ordered = sorted(modules, key=lambda path: (_room(path), path.parent.as_posix(), path.name))
    return TITLE + "".join(_sections(ordered))


def _room(path: Path) -> int:
    return ROOMS.index(path.parts[0]) if len(path.parts) > 1 else -1


def _sections(modules: list[Path]) -> Iterator[str]:
    for folder, inside in groupby(modules, key=lambda path: path.parent.as_posix()):
        yield f"\n## {'shipping' if folder == '.' else folder}\n\n"
        for path in inside:
            sentence = first_sentence(PACKAGE / path)
            if sentence:
                yield f"- `{path.name}`: {sentence}\n"


def first_sentence(module: Path) -> str:
    """The first paragraph of a module's docstring, on one line; "" where it has none."""
    docstring = ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))) or ""
    return " ".join(docstring.partition("\n\n")[0].replace("``", "`").split())


if __name__ == "__main__":
    sys.stdout.write(module_map())
