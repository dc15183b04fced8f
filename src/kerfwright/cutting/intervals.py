"""Stretches along a line as pairs of numbers (low, high)."""

from __future__ import annotations

from collections.abc import Iterable

Interval = tuple[float, float]


def clipped(interval: Interval, length: float) -> Interval | None:
    """What of ``interval`` lies between 0 and ``length``; ``None`` if nothing does."""
    low, high = max(interval[0], 0.0), min(interval[1], length)
    return (low, high) if high > low else None


def apart_from(interval: Interval, others: Iterable[Interval]) -> list[Interval]:
    """What is left of ``interval`` without ``others``, from low to high."""
    low, high = interval
    left: list[Interval] = []
    for a, b in sorted(others):
        if b <= low:
            continue
        if a >= high:
            break
        if a > low:
            left.append((low, a))
        low = b
        if low >= high:
            return left
    left.append((low, high))
    return left
