"""The settings: what is left out has its default, and a mistake is said with its line."""

from __future__ import annotations

import pytest

from shipping.tables.files.settings_reader import settings_from_text

LEAST = '[home]\ncountry = "dk"\n[sender]\nname = "Vera Prøve"\naddress = ["Havnegade 1"]\n'


def test_the_starred_keys_alone_are_enough() -> None:
    settings, problems = settings_from_text(LEAST)
    assert problems == ()
    assert settings is not None
    assert settings.home.country == "DK"
    assert (settings.plan.promise, settings.plan.fertile_share, settings.plan.lots_a_line) == (0.95, 0.85, 3)
    assert settings.plan.dispatch_days == ("Mon", "Tue", "Wed", "Thu", "Fri")
    assert settings.plan.parcels_per_day is None


def test_a_blank_text_is_a_key_left_out() -> None:
    settings, problems = settings_from_text(LEAST + 'tel = ""\n[plan]\negg_value = ""\n')
    assert problems == ()
    assert settings is not None
    assert settings.plan.egg_value is None


def test_a_subdivision_may_be_written_with_its_country() -> None:
    settings, _ = settings_from_text(LEAST.replace('"dk"', '"GB"\nsubdivision = "GB-SCT"'))
    assert settings is not None
    assert settings.home.subdivision == "SCT"


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ("[plan]\npromise = true", "shelf.toml:7: plan.promise: 'TRUE' is not a number. Write digits."),
        (
            '[papers]\npaper = "A5"',
            "shelf.toml:7: papers.paper: 'A5' is not one of its words. Write a4 or letter.",
        ),
        (
            '[papers]\nlanguages = "en"',
            'shelf.toml:7: papers.languages: is not a list of languages. Write ["en", "de"].',
        ),
        ("[customs]\nnational = 3", "shelf.toml:7: customs.national: '3' is not what this key takes."),
        ("plan = 3", "shelf.toml:6: sender.plan: is no key of [sender]."),
        (
            "[papers.stickers]\nrows = 8\ncolumns = 3\nwidth_mm = 60\nheigth_mm = 30",
            (
                "shelf.toml:10: papers.stickers.heigth_mm: is no key of [papers.stickers]. Did you mean"
                " 'height_mm'?"
            ),
        ),
        ('[plan]\nname = "x', "shelf.toml:7: is not TOML"),
        ("[plan]\n[plan]", "shelf.toml:7: is not TOML"),
        (
            '[plan]\ndispatch_days = ["Mon", 3]',
            "shelf.toml:7: plan.dispatch_days: '3' is not a weekday. Write days as Mon Tue Wed Thu Fri.",
        ),
    ],
)
def test_a_mistake_is_said_with_its_line(lines: str, message: str) -> None:
    settings, problems = settings_from_text(LEAST + lines + "\n")
    assert settings is None
    assert any(str(problem).startswith(message) for problem in problems), [
        str(problem) for problem in problems
    ]
