"""Axis limits alike in x and y, as most trial machines have them."""

from __future__ import annotations

from kerfwright.shop.machine import AxisLimits


def limits(speed_mm_s: float, acceleration_mm_s2: float) -> AxisLimits:
    return AxisLimits(
        speed_mm_s=(speed_mm_s, speed_mm_s),
        acceleration_mm_s2=(acceleration_mm_s2, acceleration_mm_s2),
    )
