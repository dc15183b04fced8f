"""The fits behind trial pieces, against standards, certified data and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.shop.trial_pieces import FocusLine, FocusPiece
from kerfwright.shop.trial_readings import Slope
from kerfwright.trials.focus_fit import focus_result
from kerfwright.trials.straight_fit import straight_fit, student
from kerfwright.trials.threshold import boundary

NORRIS_X = """
0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5
11.6 556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1
448.9 0.5
"""
NORRIS_Y = """
0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9
10.8 557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4
449.2 0.2
"""


def test_straight_fit_by_certified_data() -> None:
    """NIST Statistical Reference Datasets, linear regression, "Norris" (Norris 1977).

    Data and certified values were written from memory; that they agree to all digits is the check.
    """
    x, y = (np.array([float(v) for v in text.split()]) for text in (NORRIS_X, NORRIS_Y))
    fit = straight_fit(np.column_stack([np.ones_like(x), x]), y, resolution=0.1)
    assert fit.kept.all()
    assert fit.coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-10)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(
        [0.232818234301152, 0.429796848199937e-03], rel=1e-9
    )
    assert fit.deviation == pytest.approx(0.884796396144373, rel=1e-10)


@pytest.mark.parametrize(("spare", "t"), [(1, 12.706), (2, 4.303), (4, 2.776), (10, 2.228)])
def test_students_t_by_its_table(spare: int, t: float) -> None:
    """Two-sided 95 % points, as every handbook prints them (from memory)."""
    assert student(spare) == pytest.approx(t, abs=5e-4)


def test_firths_estimate_at_two_energies_in_closed_form() -> None:
    """With as many parameters as groups, Firth's penalty adds one half to every count.

    Firth 1993, section 3; the correction is that of Haldane 1955 and Anscombe 1956.
    """
    did, trials = np.array([1.0, 6.0]), np.array([8.0, 7.0])
    x = np.array([1.0, 3.0])
    logits = np.log((did + 0.5) / (trials - did + 0.5))
    slope = (logits[1] - logits[0]) / 2.0
    found = boundary(x, did, trials)
    assert found.slope == pytest.approx(slope, rel=1e-6)
    assert found.at.value == pytest.approx(1.0 - logits[0] / slope, rel=1e-6)


def test_cells_that_part_cleanly_have_a_boundary_midway() -> None:
    """The plain likelihood has no maximum here; the penalised one is symmetric (Heinze & Schemper
    2002 on separation)."""
    x = np.arange(8.0)
    found = boundary(x, (x > 3.5).astype(float), np.ones(8))
    assert found.at.value == pytest.approx(3.5, abs=1e-6)
    assert found.at.low < 3.5 < found.at.high


@pytest.mark.parametrize(
    ("wavelength_um", "lens_mm", "beam_mm", "m2"),
    [(10.6, 50.8, 5.0, 1.3), (10.6, 101.6, 6.0, 1.1), (1.06, 160.0, 6.0, 1.6)],
)
def test_focus_of_a_lens_by_the_standards_formulas(
    wavelength_um: float, lens_mm: float, beam_mm: float, m2: float
) -> None:
    """Spot 4·λ·f·M²/(π·D) and Rayleigh length π·d²/(4·λ·M²), ISO 11146-1:2005, section 4."""
    wavelength = wavelength_um / 1000.0
    spot = 4.0 * wavelength * lens_mm * m2 / (math.pi * beam_mm)
    rayleigh = math.pi * spot**2 / (4.0 * wavelength * m2)
    # the far field of a focus is the cone of the lens
    assert spot / rayleigh == pytest.approx(beam_mm / lens_mm)
    reach = 3.0 * rayleigh
    lines = tuple(FocusLine(number=i + 1, along_mm=8.0 * i) for i in range(11))
    lean = math.sqrt(1.0 - (2.0 * reach / 80.0) ** 2)
    widths = {
        line.number: (
            spot * math.sqrt(1.0 + ((line.along_mm / 40.0 - 1.0) * 3.0 - 0.5) ** 2) / lean,
        )
        for line in lines
    }
    piece = FocusPiece(
        machine="m",
        material="b",
        thickness_mm=3.0,
        speed_mm_s=100.0,
        power=0.2,
        lines=lines,
    )
    result = focus_result(piece, Slope(20.0 - reach, 20.0 + reach, widths))
    assert result.keys["spot_mm"] == pytest.approx(spot, abs=5.1e-4)
    told = {line.name: float(line.value.split()[0]) for line in result.lines}
    assert told["focus at height"] == pytest.approx(20.0 + 0.5 * rayleigh, abs=0.006)
    assert told["line 1.4 times as wide"] == pytest.approx(rayleigh, abs=0.006)
