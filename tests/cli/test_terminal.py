"""What speaks against options alike, with the figures of the nearest and the farthest and their limit."""

from __future__ import annotations

from shipping.cli.terminal import with_figures
from shipping.words.reasons import Reason


def hatch(share: float, limit: float = 0.05) -> Reason:
    return Reason("would-hatch", "", {"h_per_egg": share, "hatch_ceiling": limit})


def told(*alike: tuple[Reason, ...]) -> str:
    return with_figures(alike).replace("\u00a0", " ")


def test_a_figure_stands_beside_its_limit_and_a_range_where_it_is_not_one() -> None:
    assert told((hatch(0.077),)) == "would hatch (7.7 %, limit 5.0 %)"
    cold = Reason("too-cold", "", {"inside_c": 4.2, "limit_c": 10.0})
    assert told((hatch(0.71), cold), (hatch(0.13), cold)) == (
        "would hatch (13 % to 71 %, limit 5.0 %), too cold (4.2 °C, limit 10 °C)"
    )
    assert told((Reason("short", "", {"free": 4, "needed": 26}),)) == "too few eggs (4, needs 26)"
    assert (
        told((Reason("no-air", "", {"hours": 30.0, "needed_h": 48}),)) == "too little air (30 h, needs 48 h)"
    )


def test_a_figure_that_reads_like_its_limit_has_a_tenth() -> None:
    cold = Reason("too-cold", "", {"inside_c": 9.8, "limit_c": 10.0})
    assert told((cold,)) == "too cold (9.8 °C, limit 10 °C)"
    assert told((hatch(0.104, 0.1),)) == "would hatch (10.4 %, limit 10 %)"


def test_what_has_no_figure_or_no_count_that_is_enough_stands_alone() -> None:
    assert told((Reason("closed-day", ""), Reason("short", "", {"free": 4, "needed": None}))) == (
        "no hand-over, too few eggs"
    )
    near = Reason("would-hatch", "", {"h_per_egg": 0.0, "hatch_ceiling": 0.01, "near": True})
    assert told((near,)) == "would hatch"
    assert told(()) == ""
