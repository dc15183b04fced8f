"""The machine that benchmarks plan for; invented, with the accelerations that fit the trade."""

from __future__ import annotations

from kerfwright.shop.machine import AxisLimits, Machine

SPEED_MM_S = 1000.0


def trial_machine(*, bed_mm: tuple[float, float] = (900.0, 600.0), spot_mm: float = 0.1) -> Machine:
    """Rows at 16 m/s², lines, loops and travel at 3.1 m/s², all up to 1000 mm/s."""
    return Machine(
        name="trial machine",
        bed_width_mm=bed_mm[0],
        bed_height_mm=bed_mm[1],
        power_w=60.0,
        spot_mm=spot_mm,
        travel=_limits(3100.0),
        cutting=_limits(3100.0),
        scanning=_limits(16000.0),
        invented=True,
    )


def _limits(acceleration_mm_s2: float) -> AxisLimits:
    pair = (acceleration_mm_s2, acceleration_mm_s2)
    return AxisLimits(speed_mm_s=(SPEED_MM_S, SPEED_MM_S), acceleration_mm_s2=pair)
