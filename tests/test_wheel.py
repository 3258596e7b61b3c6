"""The built wheel does the main job by itself, in an empty folder, far from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from shipping.words.units import shipped_folder

ROOT = Path(__file__).resolve().parent.parent
pytestmark = pytest.mark.slow


def run(command: Sequence[str], folder: Path, **more: str) -> str:
    """What the command printed; a failed one fails the test with everything it said."""
    done = subprocess.run(
        [str(word) for word in command],
        cwd=folder,
        env=os.environ | more,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, f"{command} left with {done.returncode}:\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the checkout with the tools at hand."""
    out = tmp_path_factory.mktemp("wheel")
    run([sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)], ROOT)
    (built,) = out.glob("spawnpost-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds the unpacked wheel and its command, and nothing else."""
    folder = tmp_path_factory.mktemp("elsewhere") / "site"
    run(
        [
            sys.executable,
            "-m",
            "pip",
            "install",
            "-q",
            "--no-deps",
            "--no-index",
            "--target",
            str(folder),
            str(wheel),
        ],
        ROOT,
    )
    return folder


def test_the_wheel_carries_the_templates_the_demo_week_and_the_fonts_with_their_licence(wheel: Path) -> None:
    packed = set(zipfile.ZipFile(wheel).namelist())
    wanted = {"shipping/papers/fonts/DejaVuSans.ttf", "shipping/tables/countries.csv"}
    for name in ("templates", "demo_orders"):
        folder = shipped_folder(name)
        wanted |= {
            f"shipping/{name}/{path.relative_to(folder)}" for path in folder.rglob("*") if path.is_file()
        }
    assert wanted - packed == set()
    assert any(name.endswith("LICENSE_DEJAVU") for name in packed)
    assert any(name.endswith("licenses/LICENSE") for name in packed)


def test_the_wheel_carries_no_tests_and_no_caches(wheel: Path) -> None:
    packed = zipfile.ZipFile(wheel).namelist()
    assert [name for name in packed if "__pycache__" in name or name.startswith(("tests/", ".venv"))] == []


def test_the_installed_wheel_plans_the_demo_week_and_prints_its_papers_in_an_empty_folder(
    installed: Path, tmp_path: Path
) -> None:
    where = run(
        [sys.executable, "-c", "import shipping; print(shipping.__file__)"],
        tmp_path,
        PYTHONPATH=str(installed),
    )
    assert Path(where.strip()).is_relative_to(installed)
    run(
        [sys.executable, str(installed / "bin" / "spawnpost"), "demo", "week"],
        tmp_path,
        PYTHONPATH=str(installed),
    )
    assert (tmp_path / "week" / "shelf" / "orders.csv").is_file()
    papers = tmp_path / "week" / "papers"
    prints, mails = sorted((papers / "print").glob("*.pdf")), sorted((papers / "mail").glob("*.eml"))
    assert len(prints) >= 3
    assert len(mails) >= 10
    assert all(path.read_bytes().startswith(b"%PDF-") for path in prints)
    assert [path.name for path in tmp_path.iterdir()] == ["week"]
