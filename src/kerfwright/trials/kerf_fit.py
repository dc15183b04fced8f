"""The kerf from the lengths of rows that lost one kerf for every piece."""

from __future__ import annotations

from typing import Any

import numpy as np

from kerfwright.shop.trial_pieces import KerfPiece
from kerfwright.shop.trial_readings import Lengths
from kerfwright.toolpath import Process
from kerfwright.trials.result import Line, Result, UntoldError, missing_words
from kerfwright.trials.straight_fit import Measured, StraightFit, straight_fit

CALIPERS_MM = 0.01
"""Step of ordinary calipers."""

LEAST_ROWS = 3
"""Rows with readings along one axis: fewer show no reading that is off."""


def kerf_result(piece: KerfPiece, readings: Lengths) -> Result:
    """Fit the kerf along x, along y and on the whole; rows of one axis are enough.

    Along each axis, lost length = c + kerf · pieces. The constant c takes up the machine's scale
    and the calipers' zero; several readings of a row count as their mean, since they share the
    row's own cuts.

    Raises:
        UntoldError: too few rows, rows of one count only, or a kerf that cannot be.
    """
    rows = [row for row in piece.rows if readings.values.get(row.row)]
    axes = [
        axis
        for axis in ("x", "y")
        if len({row.pieces for row in rows if row.along == axis}) >= LEAST_ROWS
    ]
    rows = [row for row in rows if row.along in axes]
    if not rows or len(rows) < 2 * len(axes) + 2:
        unread = [row.row for row in piece.rows if not readings.values.get(row.row)]
        raise UntoldError(
            f"{len(rows)} rows with readings do not tell the kerf along an axis.",
            f"Measure {missing_words(unread, 'row')}, each pushed together.",
        )
    lost = np.array([piece.length_mm - np.mean(readings.values[row.row]) for row in rows])
    design = np.zeros((len(rows), 2 * len(axes)))
    for i, row in enumerate(rows):
        design[i, 2 * axes.index(row.along)] = 1.0
        design[i, 2 * axes.index(row.along) + 1] = row.pieces
    fit = straight_fit(design, lost, resolution=CALIPERS_MM)
    along = {axis: fit.measured(_slope(fit, [i])) for i, axis in enumerate(axes)}
    kerf = fit.measured(_slope(fit, range(len(axes))))
    if kerf.low <= 0.0:
        raise UntoldError(
            f"they give a kerf of {kerf.value:.3f} mm, somewhere from {kerf.low:.3f} to "
            f"{kerf.high:.3f} mm, which may be none at all.",
            "Clean the edges, push the pieces together without a gap, and measure every row again.",
            disagree=True,
        )
    lines = [Line("kerf", f"{kerf.value:.3f} mm", interval_words(kerf, "mm"))]
    if len(axes) > 1:
        lines += [
            Line(f"kerf along {axis}", f"{one.value:.3f} mm", interval_words(one, "mm"))
            for axis, one in along.items()
        ]
    offsets = {axis: fit.measured(np.eye(2 * len(axes))[2 * i]) for i, axis in enumerate(axes)}
    keys: dict[str, Any] = {
        "speed_mm_s": piece.speed_mm_s,
        "power": piece.power,
        "passes": piece.passes,
        "kerf_mm": round(kerf.value, 3),
    }
    aside = [
        f"Row {row.row} was set aside: it lost {abs(off):.2f} mm "
        f"{'more' if off > 0.0 else 'less'} than the others say. Measure it again."
        for row, off, kept in zip(rows, fit.residuals, fit.kept, strict=True)
        if not kept
    ]
    remarks = (*aside, *_axes_remarks(fit, axes), *_scale_remarks(offsets, piece.length_mm))
    return Result(tuple(lines), keys, Process.CUT, remarks, readings.tested)


def interval_words(one: Measured, unit: str, decimals: int = 3) -> str:
    """A 95 % interval in words."""
    return f"{one.low:.{decimals}f} to {one.high:.{decimals}f} {unit}"


def _slope(fit: StraightFit, which: range | list[int]) -> np.ndarray:
    weights = np.zeros(len(fit.coefficients))
    for i in which:
        weights[2 * i + 1] = 1.0 / len(which)
    return weights


def _axes_remarks(fit: StraightFit, axes: list[str]) -> list[str]:
    if len(axes) < 2:
        return [
            f"Only rows along {axes[0]} were read; a beam that is not round cuts differently "
            "along the other axis."
        ]
    apart = fit.measured(np.array([0.0, 1.0, 0.0, -1.0]))
    if apart.low <= 0.0 <= apart.high:
        return []
    return [
        f"The kerf differs by {abs(apart.value):.3f} mm between the axes: the beam is not round "
        "or not square to the sheet. The recipe has the mean; look at mirrors and lens."
    ]


def _scale_remarks(offsets: dict[str, Measured], length_mm: float) -> list[str]:
    return [
        f"All rows along {axis} are {abs(one.value):.2f} mm too "
        f"{'short' if one.value > 0.0 else 'long'} besides the kerf, "
        f"{abs(one.value) / length_mm:.2%} "
        "of their length: look at the machine's steps per mm and at the calipers' zero."
        for axis, one in offsets.items()
        if one.low > 0.0 or one.high < 0.0
    ]
