"""A font that the papers could not take is told when the settings are read."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipping.tables.files.settings_reader import font_file_problem, read_settings
from tests.papers.tiny_font import font_of

LEAST = (
    '[home]\ncountry = "DK"\n[sender]\nname = "Vera Prøve"\naddress = ["Havnegade 1", "8000 Aarhus'
    ' C"]\n[papers]\n'
)
PLAIN = font_of("王")


def said_of(content: bytes, folder: Path) -> str:
    (folder / "mine.ttf").write_bytes(content)
    return (font_file_problem(folder / "mine.ttf") or ("",))[0]


def test_a_font_in_the_shelf_is_known_by_its_whole_path_afterwards(tmp_path: Path) -> None:
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / "mine.ttf").write_bytes(PLAIN)
    (tmp_path / "shelf.toml").write_text(f'{LEAST}font = "fonts/mine.ttf"\n', encoding="utf-8")
    settings, problems = read_settings(tmp_path)
    assert problems == ()
    assert settings is not None
    assert settings.papers.font == str(tmp_path / "fonts" / "mine.ttf")


def test_a_font_elsewhere_is_taken_by_its_whole_path(tmp_path: Path) -> None:
    font = tmp_path / "mine.ttf"
    font.write_bytes(PLAIN)
    shelf = tmp_path / "shelf"
    shelf.mkdir()
    (shelf / "shelf.toml").write_text(f"{LEAST}font = '{font}'\n", encoding="utf-8")
    settings, _ = read_settings(shelf)
    assert settings is not None
    assert settings.papers.font == str(font)


def test_a_font_that_is_not_there_is_told_with_its_line(tmp_path: Path) -> None:
    (tmp_path / "shelf.toml").write_text(f'{LEAST}font = "mine.ttf"\n', encoding="utf-8")
    settings, (problem,) = read_settings(tmp_path)
    assert settings is None
    assert str(problem).startswith("shelf.toml:7: papers.font: 'mine.ttf' is not there. Put the font there,")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is not a TrueType font"),
        (b"%PDF-1.4 and so on", "is not a TrueType font"),
        (b"OTTO" + PLAIN[4:], "is a font with PostScript shapes"),
        (b"ttcf" + PLAIN[4:], "is a collection of fonts"),
        (PLAIN[:300], "is a broken font: it lacks"),
        (PLAIN.replace(b"glyf", b"glyX", 1), "is a broken font: it lacks glyf"),
        (font_of("王", licence=2), "says that it must not be put into other files"),
        (font_of("王", licence=8), ""),
        (PLAIN, ""),
    ],
)
def test_a_file_that_is_no_font_to_print_with_is_told(content: bytes, words: str, tmp_path: Path) -> None:
    said = said_of(content, tmp_path)
    assert words in said
    assert bool(said) == bool(words)
