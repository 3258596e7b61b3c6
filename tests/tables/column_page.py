"""The row models and their hints in, the page of every table's columns out, printed by ``python -m``."""

from __future__ import annotations

import sys
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from shipping.tables.editing.starter import ShelfColumn, starter_columns
from shipping.tables.rows.settings import Settings
from shipping.tables.shelf import TABLES, Table

TITLE = """# The tables, column by column

Written by `python -m tests.tables.column_page` from the row models; a test fails where it is stale. A
shelf is one folder: each table is `NAME.csv`, or the sheet `NAME` of `shelf.xlsx` or `shelf.ods`; settings
are in `shelf.toml`. Blank cells take the default. **Bold** columns are needed.
"""


def column_page() -> str:
    """The page as Markdown text: a section a table, then the settings."""
    parts = [TITLE, *(_table_section(table) for table in TABLES), _settings_section()]
    return "\n".join(parts)


def _table_section(table: Table) -> str:
    needed = "needed" if table.required else "may be absent"
    rows = [
        _row(column, _as_cell(table.fields[column.name].default)) for column in starter_columns(table.name)
    ]
    head = (f"## {table.name} ({needed})\n", "| column | holds | default | |", "| --- | --- | --- | --- |")
    return "\n".join((*head, *rows, ""))


def _row(column: ShelfColumn, default: str) -> str:
    name = f"**{column.name}**" if column.required else column.name
    holds = " or ".join(f"`{word}`" for word in column.words) or column.kind
    return f"| {name} | {holds} | {default} | {column.hint.replace('|', '/')} |"


def _as_cell(default: Any) -> str:
    """A default as a cell would hold it; what has none is blank."""
    if default is PydanticUndefined or default is None:
        return ""
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, tuple):
        return " ".join(str(part) for part in default)
    return f"{default:g}" if isinstance(default, float) else str(default)


def _settings_section() -> str:
    lines = ["## shelf.toml\n", "| section | key | default |", "| --- | --- | --- |"]
    for section, field in Settings.model_fields.items():
        model = field.annotation
        if isinstance(model, type) and issubclass(model, BaseModel):
            for key, part in model.model_fields.items():
                name = f"**{key}**" if part.is_required() else key
                lines.append(f"| {section} | {name} | {_as_cell(part.default)} |")
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    sys.stdout.write(column_page())
