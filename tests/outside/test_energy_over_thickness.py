"""The energy that a cut takes at another thickness, against a published model and statistics."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from kerfwright.trials.energy_line import along_line, in_proportion, line_energy_j_mm
from kerfwright.trials.neighbour_recipe import Neighbour, suggested
from tested_recipes import a_board, a_cut, a_machine

DENSITY_G_MM3, HEAT_J_GK, WARMED_K, VAPOURS_J_G = 1.19e-3, 1.47, 340.0, 1000.0
"""Acrylic: density, specific heat, from room temperature to where it decomposes, and the heat that
takes. Handbook values from memory; the check holds for any."""

TAKEN_UP = 0.85
"""Share of the beam that goes into the kerf; any would do."""


def speed_of_the_model(power_w: float, kerf_mm: float, thickness_mm: float) -> float:
    """Steen & Mazumder, *Laser Material Processing*, 4th edition 2010, chapter 4 (from memory):
    η·P = w·t·v·ρ·(c·ΔT + L), solved for v."""
    for_a_gram = HEAT_J_GK * WARMED_K + VAPOURS_J_G
    return TAKEN_UP * power_w / (kerf_mm * thickness_mm * DENSITY_G_MM3 * for_a_gram)


@pytest.mark.parametrize("known_mm", [(3.0,), (3.0, 5.0), (2.0, 3.0, 5.0, 6.0)])
def test_suggested_speed_is_that_of_the_lumped_heat_capacity_model(
    known_mm: tuple[float, ...],
) -> None:
    machine = a_machine()
    neighbours = []
    for thickness_mm, power in zip(known_mm, (0.72, 0.6, 0.9, 0.8), strict=False):
        speed = speed_of_the_model(machine.power_w * power, 0.2, thickness_mm)
        board = a_board(thickness_mm=thickness_mm)
        recipe = a_cut(power=power, speed_mm_s=speed)
        neighbours.append(Neighbour(board.name, thickness_mm, recipe))
    found = suggested(a_board(thickness_mm=4.0), machine, "cut", neighbours)
    power_w = machine.power_w * found.recipe.power
    expected = speed_of_the_model(power_w, 0.2, 4.0)
    # three figures, rounded down
    assert expected * 0.99 <= found.recipe.speed_mm_s <= expected


def test_a_line_energy_by_hand() -> None:
    """60 W at 0.72 and 16 mm/s, burned twice: 43.2 J/s ÷ 16 mm/s × 2 = 5.4 J/mm; W is J/s."""
    assert line_energy_j_mm(a_cut(passes=2), 60.0) == pytest.approx(5.4)


def test_energy_over_speed_has_the_dimension_of_energy_over_length() -> None:
    """Dimension analysis: ten times the power at ten times the speed is the same energy, and so is
    all of it measured in other units of time."""
    energy = line_energy_j_mm(a_cut(speed_mm_s=2.0), 60.0)
    assert line_energy_j_mm(a_cut(speed_mm_s=20.0), 600.0) == pytest.approx(energy)
    assert in_proportion(3.0, energy, 4.5).j_mm == pytest.approx(1.5 * energy)


def test_the_line_is_that_of_scipy() -> None:
    t, e = np.array([2.0, 3.0, 3.0, 5.0, 6.0]), np.array([1.7, 2.9, 2.6, 4.9, 5.5])
    theirs = linregress(t, e)
    found = along_line(t, e, 4.0)
    assert found.j_mm == pytest.approx(theirs.intercept + theirs.slope * 4.0, rel=1e-12)
    assert found.low_j_mm is not None
    assert found.high_j_mm is not None
    # where the wanted thickness is 0, the line's own variance is that of the intercept
    left = e - theirs.intercept - theirs.slope * t
    deviation = float(left @ left) / 3.0
    at_none = along_line(t, e + 5.0, 0.0)
    assert at_none.high_j_mm is not None
    half = at_none.high_j_mm - at_none.j_mm
    expected = 3.182446305 * np.sqrt(deviation + theirs.intercept_stderr**2)
    assert half == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("thicknesses", [(3.0, 4.0, 6.0), (2.0, 3.0, 3.0, 5.0, 6.0, 8.0)])
def test_the_range_holds_what_it_promises(thicknesses: tuple[float, ...]) -> None:
    """95 % of new recipes lie within, where recipes scatter normally about a line: 4000 draws."""
    random = np.random.default_rng(20260504)
    t = np.array(thicknesses)
    held = 0
    draws = 4000
    for _ in range(draws):
        e = 1.0 + 0.8 * t + random.normal(0.0, 0.05, len(t))
        found = along_line(t, e, 4.5)
        new = 1.0 + 0.8 * 4.5 + random.normal(0.0, 0.05)
        assert found.low_j_mm is not None
        assert found.high_j_mm is not None
        held += found.low_j_mm <= new <= found.high_j_mm
    # four standard deviations of a share of 0.95
    assert held / draws == pytest.approx(0.95, abs=4.0 * np.sqrt(0.95 * 0.05 / draws))
