"""A drawing of any size, as a workshop might cut a day's tokens from.

Plates with a wavy edge, each with an engraved spot and a scored wave: half of the straight pieces
are edges, three tenths waves, a fifth spots. There are some kinds of plates; copies of one are
turned by any angle, as they are after nesting by hand.
"""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.paths import FloatArray

PITCH_MM = 12.0
EDGE, WAVE, SPOT = 50, 30, 20
KINDS = 40

LAYERS = {
    "Plates cut": 'fill="none" stroke="#000"',
    "Waves": 'fill="none" stroke="#1f6f8b"',
    "Engrave": 'fill="#000"',
}


def plates_svg(segments: int) -> str:
    """Text of an SVG drawing with about so many straight segments, in three layers."""
    random = np.random.default_rng(7)
    count = max(segments // (EDGE + WAVE + SPOT), 1)
    across = math.ceil(math.sqrt(count))
    kinds = [(random.uniform(0.02, 0.1), random.integers(3, 8), n) for n in range(KINDS)]
    drawn: dict[str, list[str]] = {layer: [] for layer in LAYERS}
    for number in range(count):
        row, column = divmod(number, across)
        at = PITCH_MM * np.array([column + 1.0, row + 1.0])
        turn = _turn(float(random.uniform(0.0, 2.0 * math.pi)))
        wobble, waves, kind = kinds[number % KINDS]
        lines = (
            _ring(EDGE, 5.0, wobble, int(waves)),
            _wave(2.0 + 0.05 * kind),
            _ring(SPOT, 1.0, 0.1, 3) + np.array([0.0, 2.0]),
        )
        for layer, line, end in zip(LAYERS, lines, ("Z", "", "Z"), strict=True):
            drawn[layer].append(_path(line @ turn.T + at, end))
    side_mm = PITCH_MM * (across + 1)
    groups = "".join(
        f'<g id="{layer}" {paint}>{"".join(drawn[layer])}</g>' for layer, paint in LAYERS.items()
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side_mm}mm" height="{side_mm}mm"'
        f' viewBox="0 0 {side_mm} {side_mm}">{groups}</svg>'
    )


def _turn(angle: float) -> FloatArray:
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([[cos, -sin], [sin, cos]])


def _ring(count: int, radius_mm: float, wobble: float, waves: int) -> FloatArray:
    angles = np.arange(count) * 2.0 * math.pi / count
    radii = radius_mm * (1.0 + wobble * np.sin(waves * angles))
    return np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])


def _wave(length_mm: float) -> FloatArray:
    x = np.linspace(-length_mm, length_mm, WAVE + 1)
    return np.column_stack([x, 0.5 * np.sin(3.0 * x) - 1.0])


def _path(points: FloatArray, end: str) -> str:
    corners = "L".join(f"{x:.3f} {y:.3f}" for x, y in points.tolist())
    return f'<path d="M{corners}{end}"/>'
