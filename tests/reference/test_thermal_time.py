"""The clock against published times of development at other temperatures; the source stands beside each
table.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import timedelta

import numpy as np
import pytest

from shipping.eggs.clock import ShelfHeat, effective_degrees, k_grid, shelf_heat
from shipping.tables.rows.lots import Look, Lot
from shipping.tables.rows.species import Species
from tests.post.a_shelf import TODAY, a_species

#: Kimmel et al. 1995, Dev Dyn 203:253-310: HT = h / (0.055 T - 0.57), h the hours at 28.5 C; its zero is
#: 0.57/0.055.
KIMMEL_ZERO = 0.57 / 0.055


def zebrafish(hours: float) -> Species:
    """A species that hatches so many standard hours after laying; at 28.5 C the formula divides by 0.9975,
    not 1.
    """
    days = hours / 0.9975 / 24
    return a_species(
        hatch_early_d=days * 0.9,
        hatch_usual_d=days,
        hatch_late_d=days * 1.1,
        incubation_c=28.5,
        zero_c=KIMMEL_ZERO,
    )


def degree_days(species: Species) -> float:
    """The clock's own median K [C-d]."""
    grid = k_grid(species.hatch_days, effective_degrees(species.incubation_c, species))
    return (
        math.exp(float(grid.edges[np.argmin(np.abs(np.cumsum(grid.chances) - 0.5)) + 1]))
        if grid.chances.size
        else grid.atom_k
    )


def hours_at(species: Species, celsius: float) -> float:
    return 24 * degree_days(species) / effective_degrees(celsius, species)


#: Kimmel et al. 1995, the formula at h = 48 (a few rows of its straight line).
@pytest.mark.parametrize(
    ("celsius", "hours"), [(24, 64.0), (25, 59.6), (26, 55.8), (28.5, 48.1), (30, 44.4), (33, 38.6)]
)
def test_the_zebrafish_formula_is_our_clock(celsius: float, hours: float) -> None:
    assert hours_at(zebrafish(48), celsius) == pytest.approx(hours, abs=0.06)


#: Kimmel et al. 1995, the worked example: 20 somites (19 h) at 25 C by formula and as observed, and at 33 C.
@pytest.mark.parametrize(
    ("celsius", "hours", "within"), [(25, 23.6, 0.06), (25, 23.5, 0.2), (33, 15.26, 0.01), (33, 14.5, 0.8)]
)
def test_the_twenty_somite_stage_comes_when_it_was_seen(celsius: float, hours: float, within: float) -> None:
    assert hours_at(zebrafish(19), celsius) == pytest.approx(hours, abs=within)


def test_at_the_standard_temperature_nineteen_hours_are_nineteen_and_three_minutes() -> None:
    assert hours_at(zebrafish(19), 28.5) == pytest.approx(19.05, abs=0.005)


def test_after_20_hours_at_28_the_72_hour_stage_is_69_hours_away_at_24() -> None:
    # Kimmel et al. 1995, the formula in two legs: 69.40 h still to go.
    species = zebrafish(72)
    left = degree_days(species) - effective_degrees(28.5, species) * 20 / 24
    assert 24 * left / effective_degrees(24, species) == pytest.approx(69.40, abs=0.01)


def test_two_legs_of_shelf_heat_add_up_day_by_day() -> None:
    species = zebrafish(72)
    lot = Lot(
        lot="Z",
        species="gar",
        laid_from=TODAY,
        laid_to=TODAY,
        medium="water",
        kept_at_c=28.5,
        eggs=10,
        counted_on=TODAY,
    )
    cooler = Look(lot="Z", on=TODAY + timedelta(days=2), kept_at_c=24)
    heat = shelf_heat(species, lot, (cooler,))
    expected = 2 * (28.5 - KIMMEL_ZERO) + 3 * (24 - KIMMEL_ZERO)
    assert heat.at(TODAY + timedelta(days=5)) == pytest.approx(expected, abs=1e-9)


#: Pagellus erythrinus eggs: 555.6 C-h above 7 C (2004 paper, acemap.info/paper/181778854); hours it implies.
@pytest.mark.parametrize(("celsius", "hours"), [(15, 69.5), (18, 50.5), (21, 39.7)])
def test_pandora_eggs_hatch_by_their_thermal_sum(celsius: float, hours: float) -> None:
    species = a_species(
        hatch_early_d=2, hatch_usual_d=555.6 / 24 / 11, hatch_late_d=2.2, incubation_c=18, zero_c=7
    )
    assert hours_at(species, celsius) == pytest.approx(hours, abs=0.1)


def test_aphanius_sophiae_hatches_after_330_hours_at_24_degrees() -> None:
    # Masoudi, Esmaeili & Ebrahimi 2018, J Appl Ichthyol 34:622-632: 330 h at 24 C.
    species = a_species(hatch_early_d=12, hatch_usual_d=13.75, hatch_late_d=16, incubation_c=24)
    assert hours_at(species, 24) == pytest.approx(330, abs=0.01)


#: Medaka: 250 degree-days above 0 C: common practice, no source.
@pytest.mark.parametrize(("celsius", "days"), [(25, 10), (20, 12.5)])
def test_medaka_take_250_degree_days(celsius: float, days: float) -> None:
    species = a_species(hatch_early_d=9, hatch_usual_d=10, hatch_late_d=11, incubation_c=25, zero_c=0)
    assert hours_at(species, celsius) / 24 == pytest.approx(days, abs=1e-6)


def test_a_degree_day_is_counted_above_its_base() -> None:
    # allfishes.org, dictionary of ichthyology: base 10 C, 30 days at 20 C are 300 degree-days.
    heat = ShelfHeat(TODAY, ((TODAY, effective_degrees(20, a_species())),))
    assert heat.at(TODAY + timedelta(days=30)) == 300


#: (what, source, zero or None to fit it as Kamler 2002 does, rows of (C, days))
PUBLISHED: tuple[tuple[str, str, float | None, tuple[tuple[float, float], ...]], ...] = (
    (
        "zebrafish, 48 h stage",
        "Kimmel et al. 1995, formula",
        KIMMEL_ZERO,
        tuple(
            (t, h / 24) for t, h in ((24, 64.0), (25, 59.6), (26, 55.8), (28.5, 48.1), (30, 44.4), (33, 38.6))
        ),
    ),
    (
        "zebrafish, 19 h stage, observed",
        "Kimmel et al. 1995",
        KIMMEL_ZERO,
        ((25, 23.5 / 24), (28.5, 19 / 24), (33, 14.5 / 24)),
    ),
    (
        "common pandora",
        "2004, acemap.info/paper/181778854",
        7.0,
        ((15, 69.5 / 24), (18, 50.5 / 24), (21, 39.7 / 24)),
    ),
    (
        "pelagic eggs of 1 mm",
        "Pauly & Pullin 1988, formula",
        None,
        ((10, 5.43), (15, 3.19), (20, 1.99), (25, 1.31), (28, 1.03)),
    ),
    (
        "rainbow trout",
        "1975, J Fish Res Bd Can (3 and 15 C); SRAC Publ. 220 (45 and 55 F)",
        None,
        ((3, 97), (7.2, 49), (12.8, 21), (15, 25)),
    ),
    (
        "rainbow trout, hatchery table",
        "Embody 1934, from memory",
        None,
        tuple(((f - 32) / 1.8, d) for f, d in ((40, 80), (45, 48), (50, 31), (55, 24), (60, 19))),
    ),
    (
        "brook trout, hatchery table",
        "Embody 1934, from memory",
        None,
        tuple(((f - 32) / 1.8, d) for f, d in ((35, 144), (40, 103), (45, 68), (50, 44), (55, 35))),
    ),
    (
        "brown trout",
        "Crisp 1981, Freshwater Biol 11:361-368, from memory",
        None,
        ((2, 150.9), (4, 107.9), (6, 77.7), (8, 56.4), (10, 41.3), (12, 30.4)),
    ),
    (
        "Atlantic salmon",
        "Crisp 1981, from memory",
        None,
        ((2, 170.6), (4, 116.6), (6, 83.7), (8, 62.3), (10, 47.7), (12, 37.5)),
    ),
    (
        "medaka",
        "250 degree-days: common practice, no source",
        0.0,
        ((25, 10), (20, 12.5)),
    ),
)


def fitted_zero(rows: tuple[tuple[float, float], ...]) -> float:
    """The zero of the straight line through rates of development (Kamler 2002: V = a + b T, zero = -a/b)."""
    slope, start = np.polyfit([t for t, _ in rows], [1 / d for _, d in rows], 1)
    return float(-start / slope)


def relative_errors(zero: float | None, rows: tuple[tuple[float, float], ...]) -> list[float]:
    """The clock's time over the published one, less one, for each row; K from the middle row only."""
    base = fitted_zero(rows) if zero is None else zero
    known_c, known_d = sorted(rows)[len(rows) // 2]
    species = a_species(
        hatch_early_d=known_d,
        hatch_usual_d=known_d,
        hatch_late_d=known_d,
        incubation_c=known_c,
        zero_c=round(base, 6),
    )
    return [degree_days(species) / effective_degrees(t, species) / d - 1 for t, d in rows]


def test_trout_in_the_cold_are_not_on_the_straight_line_and_we_know_it() -> None:
    # Crisp 1981, from memory: brown trout at 2 C take far less time than a straight line through warmer rows
    # says.
    what, _, zero, rows = next(row for row in PUBLISHED if row[0] == "brown trout")
    errors = dict(zip((t for t, _ in rows), relative_errors(zero, rows), strict=True))
    assert what == "brown trout"
    assert errors[2] > 0.5
    assert abs(errors[10]) < 0.1


def test_a_clock_set_at_one_temperature_is_right_at_the_others(figure: Callable[[str], None]) -> None:
    errors = {what: relative_errors(zero, rows) for what, _, zero, rows in PUBLISHED}
    every = [abs(error) for found in errors.values() for error in found]
    known = [abs(error) for what, _, zero, _ in PUBLISHED if zero is not None for error in errors[what]]
    worst = max(errors, key=lambda what: max(map(abs, errors[what])))
    mean, median = float(np.mean(every)), float(np.median(every))
    figure(
        f"thermal time: {len(every)} published rows, median error {median:.1%}, mean {mean:.1%}; the"
        f" {len(known)} rows with a published zero: mean {np.mean(known):.1%}; largest: {worst},"
        f" {max(every):.0%}"
    )
    assert median < 0.05
    assert mean < 0.10
    for exact in ("zebrafish, 48 h stage", "common pandora", "medaka"):
        assert max(map(abs, errors[exact])) < 0.002
    # Trout at 2 C, far below the range in which few eggs die, are not on a straight line: Kamler 2002 says so
    # too.
    warm = [
        abs(e)
        for what, _, _, rows in PUBLISHED
        for e, (t, _) in zip(errors[what], rows, strict=True)
        if t >= 6
    ]
    assert float(np.mean(warm)) < 0.07
