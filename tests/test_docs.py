"""What the pages say is so: commands run, modules are on the map, the column page is fresh, no address
slipped in.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer

from shipping.cli.app import program
from shipping.words.units import shipped_folder
from tests.command_page import command_page
from tests.every_case import every
from tests.module_map import module_map
from tests.tables.column_page import column_page

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
START = "import sys; from shipping.cli.app import main; sys.argv[0] = 'spawnpost'; sys.exit(main())"
COMMANDS = sorted(vars(typer.main.get_command(program()))["commands"])


def readme_blocks() -> Iterator[tuple[tuple[str, int], ...]]:
    """The lines of each code block that begin with ``spawnpost``, and the exit codes their comments name
    (else 0).
    """
    for block in re.findall(r"^```\w*\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL):
        lines = tuple(line.partition("  #") for line in block.splitlines() if line.startswith("spawnpost "))
        codes = [re.search(r"leaves with (\d)", comment) for _, _, comment in lines]
        if lines:
            yield tuple(
                (line[0].strip(), int(code[1]) if code else 0)
                for line, code in zip(lines, codes, strict=True)
            )


def readme_commands() -> Iterator[tuple[str, int]]:
    """Each such line of every block."""
    for block in readme_blocks():
        yield from block


def spawnpost(words: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """The command, run by itself in a folder."""
    env = {name: value for name, value in os.environ.items() if name != "SPAWNPOST_SHELF"}
    command = [sys.executable, "-c", START, *words]
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)


def tracked_texts() -> Iterator[tuple[str, str]]:
    """Path and text of every file of the project that is text."""
    skipped = {".git", ".venv", "demo", "build", "dist", "node_modules"}
    for top in sorted(ROOT.iterdir()):
        if top.name in skipped or (top.name.startswith(".") and top.name not in {".ci", ".gitignore"}):
            continue
        for path in sorted(top.rglob("*")) if top.is_dir() else [top]:
            if not path.is_file() or "__pycache__" in path.parts:
                continue
            try:
                yield str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")
            except UnicodeDecodeError:
                continue


@every("command", COMMANDS)
def test_every_command_stands_in_the_readme(command: str) -> None:
    assert re.search(rf"^\| `{command}\b", README, flags=re.MULTILINE), (
        f"README's table of commands lacks {command}"
    )
    assert any(command in shlex.split(line) for line, _ in readme_commands()), (
        f"README has no example of {command}"
    )


def test_the_readme_names_no_command_that_is_not_there() -> None:
    named = re.findall(
        r"^\| `([a-z]+)\b[^|]*\|[^|]*\|$",
        README.partition("## Commands")[2].partition("\n## ")[0],
        re.MULTILINE,
    )
    assert sorted(set(named)) == COMMANDS


@pytest.mark.parametrize("command", COMMANDS)
def test_the_help_of_every_command_has_a_worked_example(command: str, tmp_path: Path) -> None:
    done = spawnpost([command, "--help"], tmp_path)
    assert done.returncode == 0
    assert re.search(rf"Example: spawnpost {command}\b", " ".join(done.stdout.split()))


@pytest.mark.slow
@pytest.mark.parametrize("block", tuple(readme_blocks()), ids=lambda block: block[0][0])
def test_the_commands_of_a_block_run_one_after_the_other_on_the_demo_shelf(
    block: tuple[tuple[str, int], ...], tmp_path: Path
) -> None:
    shelf = tmp_path / "week"
    shutil.copytree(shipped_folder("demo_orders"), shelf)
    for command, code in block:
        done = spawnpost(shlex.split(command)[1:], shelf)
        assert done.returncode == code, f"{command}\n{done.stdout}\n{done.stderr}"
        assert "Traceback" not in done.stdout + done.stderr


def test_the_map_of_modules_is_what_they_say_of_themselves() -> None:
    page = (ROOT / "docs" / "map.md").read_text(encoding="utf-8")
    assert page == module_map(), "write it again: python -m tests.module_map > docs/map.md"


def test_the_column_page_is_what_the_row_models_say() -> None:
    page = (ROOT / "docs" / "tables.md").read_text(encoding="utf-8")
    assert page == column_page(), "write it again: python -m tests.tables.column_page > docs/tables.md"


def test_developers_read_their_page_in_ten_minutes() -> None:
    assert len(DEVELOPERS.encode()) <= 15_000


def test_developers_are_sent_to_files_that_are_there_and_to_names_that_stand_in_them() -> None:
    text = re.sub(r"^```.*?^```", "", DEVELOPERS, flags=re.MULTILINE | re.DOTALL)
    words = sorted(set(re.findall(r"`([^`\s]+)`", text)))
    wording = tuple(ROOT / "templates" / "wording" / name for name in ("en", "de"))
    places = (ROOT, ROOT / "shipping", *wording, shipped_folder("demo_orders"))
    paths = [word for word in words if "/" in word or re.search(r"\.(py|md|csv|txt)$", word)]
    assert len(paths) > 30
    sought = [(path, path.rstrip("/").replace("KIND", "*")) for path in paths]
    assert [path for path, name in sought if not any(next(place.glob(name), None) for place in places)] == []
    named = re.findall(r"`(\w+)`,? (?:of|in)\s`([\w/]+\.py)`", text)
    named += [(name, f"**/{module}.py") for module, name in re.findall(r"`(\w+)\.(_\w+)`", text)]
    assert len(named) >= 7
    for name, path in named:
        (file,) = (ROOT / "shipping").glob(path)
        assert re.search(rf"^(class |def )?{name}\b", file.read_text(encoding="utf-8"), re.MULTILINE), name


def test_the_pages_link_only_to_files_that_are_there() -> None:
    for name, text in (("README.md", README), ("DEVELOPERS.md", DEVELOPERS)):
        links = re.findall(r"\]\(([^)#:]+)\)", text)
        assert [link for link in links if not (ROOT / link).exists()] == [], name


def test_no_file_names_a_package_registry_or_a_folder_of_one_machine() -> None:
    hosts = [
        ".".join(parts)
        for parts in (("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "org"), ("npmjs", "com"))
    ]
    hosts += [".".join(("conda", "anaconda")), "--index" + "-url", "--extra" + "-index"]
    folders = ["/" + top + "/" for top in ("work/main", "work/shared", "home", "root", "Users")]
    found = [(path, word) for path, text in tracked_texts() for word in (*hosts, *folders) if word in text]
    assert found == []


def test_the_constraints_are_names_and_exact_versions_only() -> None:
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert [pin for pin in pins if not re.fullmatch(r"[A-Za-z0-9._-]+==[0-9][A-Za-z0-9.]*", pin)] == []
    names = [re.sub(r"[-_.]+", "-", pin.partition("==")[0]).lower() for pin in pins]
    assert names == sorted(names)
    needed = re.findall(
        r'^    "([A-Za-z0-9._-]+)(?=[<>=;"])',
        (ROOT / "pyproject.toml").read_text(encoding="utf-8"),
        re.MULTILINE,
    )
    assert [name for name in needed if re.sub(r"[-_.]+", "-", name).lower() not in names] == []


def test_the_page_of_commands_is_fresh() -> None:
    assert (ROOT / "docs" / "commands.md").read_text(encoding="utf-8") == command_page()
