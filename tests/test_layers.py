"""The rooms keep their order: who may import whom, who touches files, PDF and the ledger's file, read from
the source.
"""

from __future__ import annotations

import ast
import functools
from collections import Counter
from pathlib import Path

import pytest

from tests.every_case import every

PACKAGE = Path(__file__).resolve().parent.parent / "shipping"
#: A room imports only itself and rooms before it.
ROOMS = (
    "words",
    "tables",
    "post",
    "eggs",
    "options",
    "assignment",
    "week",
    "questions",
    "papers",
    "ledger",
    "learning",
    "worktop",
)
MODULES = sorted(PACKAGE.rglob("*.py"))
NAMES = [path.relative_to(PACKAGE).as_posix() for path in MODULES]
#: Calls that touch files, by the attribute called.
TOUCHES = {
    "read_text",
    "read_bytes",
    "write_text",
    "write_bytes",
    "mkdir",
    "unlink",
    "rename",
    "replace_file",
    "iterdir",
}
#: Rooms that reckon and so never touch a file, but for data that came with the program and the solver's
#: silence.
RECKONING = ("words", "post", "eggs", "options", "assignment", "week", "questions")
SHIPPED_DATA = {"post/countries.py": {"read_text"}, "assignment/mip.py": {"open"}}


def room_of(name: str) -> str:
    """The room of a module; the command line's modules are their own."""
    first = name.split("/")[0]
    return first if first in ROOMS else "cli"


@functools.cache
def tree(name: str) -> ast.Module:
    return ast.parse((PACKAGE / name).read_text(encoding="utf-8"))


@functools.cache
def imports(name: str) -> list[tuple[str, bool]]:
    """Every module imported, and whether at the top of the module."""
    found: list[tuple[str, bool]] = []
    parsed = tree(name)
    top = set(map(id, parsed.body))
    for node in ast.walk(parsed):
        if isinstance(node, ast.Import):
            found += [(alias.name, id(node) in top) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name}: imports are written in full"
            found.append((node.module or "", id(node) in top))
    return found


def calls(name: str) -> set[str]:
    """The last name of everything called: ``open``, and ``read_text`` of ``path.read_text()``."""
    found = set()
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.Call):
            if isinstance(node.func, ast.Name):
                found.add(node.func.id)
            elif isinstance(node.func, ast.Attribute) and node.func.attr in TOUCHES | {"today", "now"}:
                found.add(node.func.attr)
    return found


def test_every_room_is_there() -> None:
    assert {room_of(name) for name in NAMES} >= {*ROOMS, "cli"}


@every("name", NAMES)
def test_a_room_imports_only_rooms_before_it(name: str) -> None:
    room = room_of(name)
    if room == "cli":
        return
    allowed = {"words", "assignment"} if room == "assignment" else set(ROOMS[: ROOMS.index(room) + 1])
    for module, _ in imports(name):
        if module.startswith("shipping."):
            assert module.split(".")[1] in allowed, f"{name} imports {module}"


@pytest.mark.parametrize("name", ["week/verify.py", "week/second_model.py"])
def test_the_proof_shares_no_biology_and_no_solver_with_the_plan(name: str) -> None:
    rooms = {module.split(".")[1] for module, _ in imports(name) if module.startswith("shipping.")}
    assert rooms <= {"words", "tables", "post", "week"}
    ours = {module for module, _ in imports(name) if module.startswith("shipping.week")}
    assert ours <= {"shipping.week.plan_data", "shipping.week.second_model"}


@every("name", [name for name in NAMES if room_of(name) in RECKONING])
def test_rooms_that_reckon_touch_no_file(name: str) -> None:
    touched = calls(name) & (TOUCHES | {"open"})
    assert touched <= SHIPPED_DATA.get(name, set())


@every("name", NAMES)
def test_only_the_papers_know_of_pdf_and_only_the_ledger_of_its_file(name: str) -> None:
    for module, _ in imports(name):
        library = module.split(".")[0]
        if library == "reportlab":
            assert room_of(name) == "papers", f"{name} imports {module}"
        if library == "sqlite3":
            assert name == "ledger/journal/store.py", f"{name} imports {module}"
        if library in ("typer", "rich"):
            assert room_of(name) == "cli", f"{name} imports {module}"
        if library == "highspy":
            assert name == "assignment/mip.py", f"{name} imports {module}"
        if library in ("openpyxl", "python_calamine", "xlsxwriter"):
            assert room_of(name) in ("tables", "ledger", "cli"), f"{name} imports {module}"


#: Slow to import: they wait until a function needs them. Type checkers may see them at the top.
HEAVY = {
    "pandas",
    "scipy",
    "reportlab",
    "holidays",
    "openpyxl",
    "babel",
    "jinja2",
    "highspy",
    "world_temperature_data",
}


#: Modules whose classes are the library's own, made at the top.
LAYS_PAGES = {"papers/page/typesetter.py", "papers/page/pdf_file.py"}


@every("name", NAMES)
def test_heavy_libraries_are_imported_only_where_they_are_used(name: str) -> None:
    at_top = {module.split(".")[0] for module, top in imports(name) if top}
    assert not at_top & (HEAVY - {"reportlab"} if name in LAYS_PAGES else HEAVY)


def test_what_lays_pages_is_imported_at_the_top_by_papers_alone() -> None:
    """Their classes are the library's; an edge that does not print does not wait for it."""
    behind = {"shipping.papers.documents", "shipping.papers.writing", "shipping.papers.page"}
    for name in NAMES:
        if room_of(name) not in ("papers", "worktop"):
            at_top = {module for module, top in imports(name) if top}
            assert not {module for module in at_top if ".".join(module.split(".")[:3]) in behind}, name


@every("name", [name for name in NAMES if room_of(name) != "cli"])
def test_today_is_always_told_and_chance_is_never_asked(name: str) -> None:
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            owner = ast.unparse(node.func.value)
            assert not (
                owner in ("date", "datetime", "datetime.datetime", "datetime.date")
                and node.func.attr in ("today", "now")
            )
            assert node.func.attr != "Random"
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "Random":
            assert [ast.unparse(one) for one in node.args] == ["SEED"]  # chance that is the same everywhere
    if room_of(name) != "ledger":  # a ledger is given a name of its own when it is made
        assert not {module.split(".")[0] for module, _ in imports(name)} & {"secrets", "uuid"}


#: Words of one trade that the solver's modules must not know: they see numbers and names only.
FISH = {"species", "hatch", "oxygen", "killifish", "tube", "egg_mm"}


NO_FISH = [name for name in NAMES if room_of(name) == "assignment"] + [
    "words/three_point.py",
    "post/calendar.py",
]


@every("name", NO_FISH)
def test_numbers_know_no_fish(name: str) -> None:
    parsed = tree(name)
    names = {node.id for node in ast.walk(parsed) if isinstance(node, ast.Name)}
    names |= {node.arg for node in ast.walk(parsed) if isinstance(node, ast.arg)}
    names |= {node.attr for node in ast.walk(parsed) if isinstance(node, ast.Attribute)}
    words = {word for one in names for word in one.casefold().split("_")}
    assert not (names | words) & FISH


def test_no_module_suppresses_a_checker() -> None:
    for name in NAMES:
        source = (PACKAGE / name).read_text(encoding="utf-8")
        assert "type: ignore" not in source, name
        assert "# noqa" not in source, name


def test_no_name_of_a_class_is_given_twice() -> None:
    named = Counter(
        node.name for name in NAMES for node in ast.walk(tree(name)) if isinstance(node, ast.ClassDef)
    )
    assert [name for name, times in named.items() if times > 1] == []


@every("name", [name for name in NAMES if not name.endswith("__init__.py")])
def test_every_module_says_what_it_is_for(name: str) -> None:
    assert ast.get_docstring(tree(name)), name
