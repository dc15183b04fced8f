"""Parts made for tests from plain corners."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area
from kerfwright.parts.model import EngraveMark, Part, ScoreMark

Corners = Sequence[tuple[float, float]]


def box(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float]]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def polygon(
    corners: int, radius: float, x: float = 0.0, y: float = 0.0, turn: float = 0.0
) -> list[tuple[float, float]]:
    angles = [turn + 2 * math.pi * n / corners for n in range(corners)]
    return [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles]


def circle(radius: float, x: float = 0.0, y: float = 0.0) -> list[tuple[float, float]]:
    return polygon(360, radius, x, y)


def ring(corners: Corners, *, clockwise: bool = False) -> Path:
    path = Path(np.array(corners, dtype=float), closed=True)
    return path if (path.signed_area_mm2 < 0.0) is clockwise else path.reversed()


def part(
    outline: Corners,
    *holes: Corners,
    name: str = "plate",
    slits: Sequence[Corners] = (),
    scores: Sequence[Corners] = (),
    engraves: Sequence[Corners] = (),
) -> Part:
    return Part(
        name=name,
        drawing="drawn.svg",
        outline=ring(outline),
        holes=tuple(ring(hole, clockwise=True) for hole in holes),
        slits=tuple(Path(np.array(slit, dtype=float)) for slit in slits),
        scores=tuple(
            ScoreMark(f"score {n}", "", (Path(np.array(line, dtype=float)),))
            for n, line in enumerate(scores)
        ),
        engraves=tuple(
            EngraveMark(f"area {n}", "", as_area(shapely.Polygon(area)))
            for n, area in enumerate(engraves)
        ),
    )
