"""Focus and spot from the widths of lines at several heights.

A beam's width runs along its axis as w(z)² = w0² + (w0/zR)²·(z - z0)². The hyperbola is fitted as
w² = a + b·z + c·z² (ISO 11146-1:2005, section 9), which gives z0 = -b/2c, w0² = a - b²/4c and
zR = w0/√c. What is measured is the burned line, wider or narrower than the beam by the material's
threshold; its narrowest place is the beam's.
"""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.shop.trial_pieces import FocusPiece
from kerfwright.shop.trial_readings import Slope
from kerfwright.trials.interval_fit import SCALE_MM
from kerfwright.trials.kerf_fit import interval_words
from kerfwright.trials.result import Line, Result, UntoldError, missing_words
from kerfwright.trials.straight_fit import Measured, StraightFit, straight_fit, student

LEAST_LINES = 5


def focus_result(piece: FocusPiece, slope: Slope) -> Result:
    """Fit height, width and depth of the focus; each line's readings count as their mean.

    Raises:
        UntoldError: too few lines, no narrowest place, or one beyond the lines.
    """
    read = [line for line in piece.lines if slope.widths_mm.get(line.number)]
    if len(read) < LEAST_LINES:
        unread = [line.number for line in piece.lines if line not in read]
        raise UntoldError(
            f"{len(read)} lines with readings do not tell the focus; it takes {LEAST_LINES}.",
            f"Measure {missing_words(unread, 'line')}.",
        )
    length = piece.lines[-1].along_mm
    rise = slope.height_last_mm - slope.height_first_mm
    if abs(rise) >= length:
        raise UntoldError(
            f"a board of {length:g} mm cannot rise by {rise:g} mm.",
            "Give both heights in mm, above the same place.",
            disagree=True,
        )
    heights = np.array([slope.height_first_mm + rise * one.along_mm / length for one in read])
    # along the slope a line is wider than across the beam
    lean = math.sqrt(1.0 - (rise / length) ** 2)
    widths = lean * np.array([np.mean(slope.widths_mm[line.number]) for line in read])
    fit, middle = _hyperbola(heights, widths)
    z0, w0, zr = _focus_of(fit, middle)
    if not heights.min() <= z0.value <= heights.max():
        raise UntoldError(
            f"the lines grow narrower towards {z0.value:.2f} mm, beyond all that were read.",
            "Lean the board so that its middle lies there, and burn it again.",
        )
    lines = (
        Line("focus at height", f"{z0.value:.2f} mm", interval_words(z0, "mm", 2)),
        Line("narrowest line", f"{w0.value:.3f} mm", interval_words(w0, "mm")),
        Line(
            "line 1.4 times as wide",
            f"{zr.value:.2f} mm off",
            interval_words(zr, "mm", 2),
        ),
    )
    remarks = [
        f"Line {line.number} was set aside: it is not as wide as the others say. Measure it again."
        for line, kept in zip(read, fit.kept, strict=True)
        if not kept
    ]
    remarks.append(
        "spot_mm is the width of a line burned at this power and speed, which is what engraving "
        "goes by; heights are above the place that you measured from."
    )
    keys = {"spot_mm": round(w0.value, 3)}
    return Result(lines, keys, None, tuple(remarks), slope.tested)


def _hyperbola(heights: FloatArray, widths: FloatArray) -> tuple[StraightFit, float]:
    """Fit w² = a + b·z + c·z², z from the middle of the heights.

    A width off by e puts w² off by 2we, so that each equation is divided by 2w.
    """
    middle = float(heights.mean())
    z = heights - middle
    design = np.column_stack([np.ones_like(z), z, z**2]) / (2.0 * widths[:, None])
    try:
        return straight_fit(design, widths / 2.0, resolution=SCALE_MM), middle
    except ValueError:
        raise UntoldError(
            "the lines that were read do not tell three numbers.", "Measure more lines."
        ) from None


def _focus_of(fit: StraightFit, middle: float) -> tuple[Measured, Measured, Measured]:
    """Height of the focus, width there, and Rayleigh length, by the delta method."""
    a, b, c = fit.coefficients.tolist()
    bend = fit.measured(np.array([0.0, 0.0, 1.0]))
    squared = a - b * b / (4.0 * c) if c > 0.0 else -1.0
    if bend.low <= 0.0 or squared <= 0.0:
        raise UntoldError(
            "the lines have no narrowest place that the readings agree on.",
            "Lean the board more, so that the first and the last line are clearly wider than the "
            "middle ones, and measure again.",
            disagree=True,
        )
    w0 = math.sqrt(squared)
    zr = w0 / math.sqrt(c)
    slope_w = np.array([1.0, -b / (2.0 * c), b * b / (4.0 * c * c)]) / (2.0 * w0)
    slope_z = np.array([0.0, -1.0 / (2.0 * c), b / (2.0 * c * c)])
    slope_r = slope_w / math.sqrt(c) - np.array([0.0, 0.0, 0.5 * w0 / c**1.5])

    def measured(value: float, slope: FloatArray) -> Measured:
        half = student(fit.spare) * math.sqrt(float(slope @ fit.covariance @ slope))
        return Measured(value, value - half, value + half)

    return (
        measured(middle - b / (2.0 * c), slope_z),
        measured(w0, slope_w),
        measured(zr, slope_r),
    )
