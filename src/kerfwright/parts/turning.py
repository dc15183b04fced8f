"""How far one drawing of lines is turned against another: by circular harmonics.

The harmonic of order m of some lines round a centre is the mean of r·exp(i·m·θ) along them, in
mm. Turning the lines by φ turns it by m·φ, mirroring them (y to -y) conjugates it, and its
size stays; so sizes tell unlike lines apart and angles tell the turn, up to a m-th of a whole turn
(Kuhl & Giardina 1982 for outlines; the same idea for any set of lines).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray

ComplexArray = npt.NDArray[np.complex128]

FEW, MANY = 16, 128
"""Orders that are computed at first, and for lines that look nearly the same at every turn."""

SMOOTH_MM = 0.004
"""Harmonics smaller than this are what flattening leaves of a circle."""

STIFF = 0.04
"""Sum of squares (order times harmonic, over the radius) from which a turn is told well enough."""

FLAT = 0.01
"""A harmonic that is so much smaller than the largest says nothing about the turn."""


@dataclass(frozen=True, eq=False, slots=True)
class LineSet:
    """Lines round a centre at (0, 0), each with a weight.

    ``starts`` and ``ends`` are the straight pieces, shape (n, 2) in mm; ``weights`` has shape (n,).
    """

    starts: FloatArray
    ends: FloatArray
    weights: FloatArray

    @property
    def radius_mm(self) -> float:
        """Distance of the furthest point from the centre."""
        return float(np.sqrt((self.starts**2).sum(axis=1).max()))


def harmonics(sets: Sequence[LineSet], orders: int) -> ComplexArray:
    """Harmonics 1 to ``orders`` of each set of lines, shape (sets, orders), in mm."""
    pieces = np.array([len(one.starts) for one in sets])
    starts = np.concatenate([one.starts for one in sets])
    steps = np.concatenate([one.ends for one in sets]) - starts
    weights = np.concatenate([one.weights for one in sets]) * np.hypot(steps[:, 0], steps[:, 1])
    radii = np.repeat([one.radius_mm for one in sets], pieces)
    owner = np.repeat(np.arange(len(sets)), pieces)

    # pieces short against the waves, each with Gauss's two points
    short_mm = np.maximum(radii * np.pi / (2.0 * orders), 1e-9)
    parts = np.ceil(np.hypot(steps[:, 0], steps[:, 1]) / short_mm).astype(np.intp).clip(1)
    which = np.repeat(np.arange(len(starts)), parts)
    number = np.arange(len(which)) - np.repeat(np.cumsum(parts) - parts, parts)
    middle = (number + 0.5) / parts[which]
    off = 0.5 / np.sqrt(3.0) / parts[which]
    begin, along = (at[:, 0] + 1.0j * at[:, 1] for at in (starts[which], steps[which]))
    z = np.concatenate([begin + along * share for share in (middle - off, middle + off)])
    owners = np.concatenate([owner[which]] * 2)
    weight = np.concatenate([(weights / parts)[which] / 2.0] * 2)
    radius = np.abs(z)
    unit = z / np.maximum(radius, 1e-12)
    total = np.bincount(owner, weights, len(sets))
    out = np.empty((len(sets), orders), dtype=np.complex128)
    wave = weight * radius + 0.0j
    for order in range(orders):
        wave *= unit
        out[:, order] = np.bincount(owners, wave.real, len(sets)) + 1.0j * np.bincount(
            owners, wave.imag, len(sets)
        )
    return np.asarray(out / total[:, None])


def tells_turn(waves: ComplexArray, radius_mm: float) -> bool:
    """Whether harmonics of shape (orders,) fix the turn to a small part of a tolerance."""
    orders = np.arange(1, len(waves) + 1)
    return float(np.hypot.reduce(orders * np.abs(waves))) >= STIFF * radius_mm


def same_size(waves: ComplexArray, others: ComplexArray, within_mm: float) -> npt.NDArray[np.bool_]:
    """Which of ``others``, shape (n, orders), have harmonics as large as ``waves``."""
    low = min(8, len(waves))
    return np.asarray(
        (np.abs(np.abs(others[:, :low]) - np.abs(waves[:low])) <= within_mm).all(axis=1)
    )


def turns_rad(waves: ComplexArray, others: ComplexArray) -> FloatArray:
    """Angles by which ``others`` may have to be turned to lie on ``waves``.

    ``waves`` has shape (orders,), ``others`` (n, orders); the angles (n, candidates).
    """
    sizes = np.abs(waves)
    if sizes.max() < SMOOTH_MM:
        return np.zeros((len(others), 1))
    first = int(np.argmax(sizes >= sizes.max() / 5.0)) + 1
    between = waves * np.conj(others)
    base = np.angle(between[:, first - 1]) / first
    turns = np.asarray(base[:, None] + 2.0 * np.pi * np.arange(first) / first)
    return _refined(turns, between, sizes, first)


def _refined(turns: FloatArray, between: ComplexArray, sizes: FloatArray, first: int) -> FloatArray:
    """Make angles agree with every harmonic that says something, from low orders to high ones."""
    known = (first * sizes[first - 1]) ** 2
    telling = [m for m in range(1, len(sizes) + 1) if sizes[m - 1] >= FLAT * sizes.max()]
    for _ in range(2):
        for order in telling:
            off = np.angle(between[:, order - 1, None] * np.exp(-1j * order * turns)) / order
            weight = (order * sizes[order - 1]) ** 2
            known += weight
            turns = turns + off * weight / known
    return turns
