"""Where a toolpath puts most energy into a small area within a short time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.heat_kernel import ACROSS, cell_energies, window_peaks
from kerfwright.motion.moments import place_mm
from kerfwright.motion.trace import Trace
from kerfwright.toolpath import Toolpath

MM2_OF_CM2 = 100.0


@dataclass(frozen=True, eq=False, slots=True)
class HeatMap:
    """Most energy that windows, squares of ``window_mm``, receive within ``window_s``.

    The windows overlap: each begins a quarter of its side from the next. All arrays are of shape
    (rows, columns); ``middles_mm`` is of shape (rows, columns, 2).
    """

    window_mm: float
    window_s: float
    j_cm2: FloatArray
    """Energy over the window's area."""
    reached_s: FloatArray
    """Moment of the program at which it was reached."""
    middles_mm: FloatArray


def heat_map(
    trace: Trace, toolpath: Toolpath, *, window_mm: float, window_s: float
) -> HeatMap | None:
    """Add up the beam's energy in windows of place and time; ``None`` where nothing burns.

    Everything counts that falls into a window: passes, rows and cuts beside one another. What
    lies closer together than three quarters of ``window_mm`` is in one window wholly, wherever it
    is. How much of the energy the material keeps is not asked: it is what the beam puts out.
    """
    burning = np.flatnonzero(trace.energy_j > 0.0)
    if len(burning) == 0:
        return None
    begins = place_mm(trace, toolpath, burning, np.zeros(len(burning)))
    ends = place_mm(trace, toolpath, burning, trace.length_mm[burning])
    columns = [
        *(begins, ends),
        *(trace.begin_s[burning], trace.seconds[burning]),
        *(trace.start_mm_s[burning], trace.end_mm_s[burning]),
        *(trace.start_w[burning], trace.end_w[burning]),
    ]
    cell_mm = window_mm / ACROSS
    low = np.minimum(begins, ends).min(axis=0)
    across = np.floor((np.maximum(begins, ends).max(axis=0) - low) / cell_mm).astype(int) + 1
    portions, cells = cell_energies(np.column_stack(columns), low, cell_mm, window_s)
    peak, reached_s = window_peaks(portions, cells, int(across[0]), int(across[1]), window_s)
    rows, columns_of = np.indices(peak.shape)
    corner = np.stack([columns_of, rows], axis=2) - (ACROSS - 1)
    return HeatMap(
        window_mm=window_mm,
        window_s=window_s,
        j_cm2=peak / window_mm**2 * MM2_OF_CM2,
        reached_s=reached_s,
        middles_mm=low + cell_mm * corner + 0.5 * window_mm,
    )
