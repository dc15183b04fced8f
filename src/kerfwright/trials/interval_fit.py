"""The interval from the coarsest square that is evenly covered."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from kerfwright.shop.trial_pieces import IntervalPiece
from kerfwright.shop.trial_readings import IntervalSheet, ReadBy
from kerfwright.toolpath import Process
from kerfwright.trials.result import Line, Result, UntoldError
from kerfwright.trials.straight_fit import student

STEPS_APART = 2
"""Looks this many squares from the middle one do not see the same thing."""

SCALE_MM = 0.02
"""Step of a loupe with a scale."""

WIDER = 1.5
"""An even square whose lines lie so many widths apart contradicts the measured width; rows closer
than a width overlap, and heat beside the line darkens a little more."""


def interval_result(piece: IntervalPiece, sheet: IntervalSheet, tested: ReadBy) -> Result:
    """The middle of all looks, the finer one of two; what coarser square failed bounds it.

    Raises:
        UntoldError: nothing was read, or looks lie far apart.
    """
    looks = sorted(sheet.coarsest_even)
    if not looks:
        raise UntoldError(
            "no square is said to be evenly covered.",
            "Write the number of the coarsest square without visible lines into coarsest_even; "
            "0 stands for none.",
        )
    middle = looks[(len(looks) - 1) // 2]
    far = [look for look in looks if abs(look - middle) > STEPS_APART]
    if len(far) * 4 > len(looks):
        raise UntoldError(
            f"the looks say squares {', '.join(map(str, looks))}, too far apart for one interval.",
            "Look again at one light, or burn a new piece in focus.",
            disagree=True,
        )
    kept = [look for look in looks if look not in far]
    if middle == 0:
        raise UntoldError(
            "no square is evenly covered, the finest neither.",
            "Burn a piece of finer intervals, in focus.",
        )
    found = piece.squares[middle - 1].interval_mm
    open_end = kept[-1] >= len(piece.squares)
    bounds = []
    if kept[0] > 0:
        bounds.append(f"every look even at {piece.squares[kept[0] - 1].interval_mm:g} mm")
    if not open_end:
        bounds.append(f"none at {piece.squares[kept[-1]].interval_mm:g} mm")
    between = ", ".join(bounds)
    lines = [Line("interval", f"{found:g} mm", between)]
    remarks = [
        f"A look at square {look} was set aside: the others say about square {middle}."
        for look in far
    ]
    if open_end:
        remarks.append(
            "The coarsest square is even too: a piece of coarser intervals may save time."
        )
    if len(looks) < 3:
        remarks.append("Fewer than three looks: let another look, or look again by daylight.")
    if sheet.line_width_mm:
        lines.append(_width_line(sheet.line_width_mm))
        mean = float(np.mean(sheet.line_width_mm))
        if found > WIDER * mean:
            remarks.append(
                f"Lines of {mean:.2f} mm do not cover at {found:g} mm: measure the lines again, "
                "or look at the square again."
            )
    keys: dict[str, Any] = {
        "speed_mm_s": piece.speed_mm_s,
        "power": piece.power,
        "passes": piece.passes,
        "interval_mm": found,
    }
    return Result(tuple(lines), keys, Process.ENGRAVE, tuple(remarks), tested)


def _width_line(widths: tuple[float, ...]) -> Line:
    """Mean and interval by Student's t; one reading has none."""
    mean = float(np.mean(widths))
    if len(widths) < 2:
        return Line("line width", f"{mean:.3f} mm", "one reading")
    deviation = max(float(np.std(widths, ddof=1)), SCALE_MM / math.sqrt(12.0))
    half = student(len(widths) - 1) * deviation / math.sqrt(len(widths))
    return Line("line width", f"{mean:.3f} mm", f"{mean - half:.3f} to {mean + half:.3f} mm")
