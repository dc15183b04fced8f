"""Parts for tests of cutting, and a look at sheets that knows nothing of how cuts are planned."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from kerfwright.cutting.cuts import CutWork, cut_strokes
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Stroke, Toolpath

KERF_MM = 0.2
Points = Sequence[tuple[float, float]]


def recipe(kerf_mm: float = KERF_MM, passes: int = 1) -> Recipe:
    return Recipe(
        machine="trial machine",
        process="cut",
        speed_mm_s=15.0,
        power=0.7,
        kerf_mm=kerf_mm,
        passes=passes,
    )


def machine() -> Machine:
    limits = AxisLimits(speed_mm_s=(300.0, 300.0), acceleration_mm_s2=(3000.0, 3000.0))
    return Machine(
        name="trial machine",
        bed_width_mm=900.0,
        bed_height_mm=600.0,
        power_w=60.0,
        spot_mm=0.1,
        travel=limits,
        cutting=limits,
        scanning=limits,
        invented=True,
    )


def part(outline: Points, *holes: Points, name: str = "part", **more: object) -> Part:
    return Part(
        name=name,
        drawing="parts.svg",
        outline=closed(outline),
        holes=tuple(closed(hole).reversed() for hole in holes),
        **more,
    )


def closed(points: Points) -> Path:
    return Path(np.array(points, dtype=np.float64), closed=True)


def rectangle(x: float, y: float, width: float, height: float | None = None) -> Points:
    up = y + (width if height is None else height)
    return [(x, y), (x + width, y), (x + width, up), (x, up)]


def circle(x: float, y: float, radius: float, corners: int = 400) -> Points:
    angles = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    around = np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])
    return [tuple(point) for point in around.tolist()]


def grid(columns: int, rows: int, pitch: float, size: float = 10.0) -> list[Part]:
    return [
        part(rectangle(x * pitch, y * pitch, size)) for x in range(columns) for y in range(rows)
    ]


def bricks(columns: int, rows: int, pitch: float, size: float = 10.0) -> list[Part]:
    return [
        part(rectangle((x + 0.5 * (y % 2)) * pitch, y * pitch, size))
        for x in range(columns)
        for y in range(rows)
    ]


def hexagons(columns: int, rows: int, apart: float, side: float = 10.0) -> list[Part]:
    """Regular hexagons, a corner up, in rows that interlock, ``apart`` from edge to edge."""
    pitch = np.sqrt(3.0) * side + apart
    turn = np.pi / 6 + np.arange(6) * np.pi / 3
    corners = side * np.column_stack([np.cos(turn), np.sin(turn)])
    centres = [
        (pitch * (x + 0.5 * (y % 2)), pitch * np.sqrt(3.0) / 2 * y)
        for x in range(columns)
        for y in range(rows)
    ]
    return [part((corners + np.array(centre)).tolist()) for centre in centres]


def pinwheel(apart: float) -> list[Part]:
    """Four strips round a square: each inner line ends in the middle of the next."""
    cells = [(0, 0, 20, 10), (20, 0, 10, 20), (10, 20, 20, 10), (0, 10, 10, 20), (10, 10, 10, 10)]
    half = apart / 2
    return [part(rectangle(x + half, y + half, w - apart, h - apart)) for x, y, w, h in cells]


def inlays(apart: float) -> list[Part]:
    """A plate with two holes: one filled by a part with a hole, one half filled by two parts."""
    side = 20.0 - 2 * apart
    low = 5.0 + apart
    half = (side - apart) / 2
    return [
        part(rectangle(0, 0, 60, 30), rectangle(5, 5, 20), rectangle(30, 5, 20)),
        part(rectangle(low, low, side), rectangle(12, 12, 6)),
        part(rectangle(30 + apart, low, 8, half)),
        part(rectangle(30 + apart, low + half + apart, 8, half)),
        part(rectangle(44, 12, 3)),
        part(rectangle(13, 13, 4)),
    ]


def frame(apart: float) -> list[Part]:
    """Eight squares round a place where none is."""
    pitch = 10.0 + apart
    return [
        part(rectangle(x * pitch, y * pitch, 10.0))
        for x in range(3)
        for y in range(3)
        if (x, y) != (1, 1)
    ]


def squared_square() -> list[Part]:
    """21 squares that fill a square of 112 (A. J. W. Duijvestijn, 1978), from its Bouwkamp code."""
    code = [50, 35, 27, 8, 19, 15, 17, 11, 6, 24, 29, 25, 9, 2, 7, 18, 16, 42, 4, 37, 33]
    skyline = [0] * 112
    placed = []
    for side in code:
        low = min(skyline)
        x = skyline.index(low)
        assert skyline[x : x + side] == [low] * side
        skyline[x : x + side] = [low + side] * side
        placed.append(part(rectangle(x, low, side)))
    assert skyline == [112] * 112
    return placed


def turned(parts: Sequence[Part], angle_deg: float) -> list[Part]:
    return [one.transformed(rotation(angle_deg)) for one in parts]


SHARING_SHEETS = {
    "squares that touch": grid(4, 4, 10.0),
    "squares one kerf apart": grid(4, 4, 10.0 + KERF_MM),
    "squares, turned": turned(grid(4, 4, 10.0), 17.3),
    "bricks that touch": bricks(3, 4, 10.0),
    "bricks one kerf apart": bricks(3, 4, 10.0 + KERF_MM),
    "hexagons that touch": hexagons(4, 4, 0.0),
    "hexagons one kerf apart": hexagons(4, 4, KERF_MM),
    "pinwheel that touches": pinwheel(0.0),
    "pinwheel one kerf apart": pinwheel(KERF_MM),
    "frame that touches": frame(0.0),
    "frame one kerf apart": frame(KERF_MM),
    "squared square": squared_square(),
    "inlays that touch": inlays(0.0),
    "inlays one kerf apart": inlays(KERF_MM),
}
"""Parts in patterns whose edges are shared, touching or one kerf apart."""


def cut(
    parts: Sequence[Part],
    *,
    kerf_mm: float = KERF_MM,
    merge_mm: float = KERF_MM / 2,
    shared_edges: bool = True,
) -> CutWork:
    return cut_strokes(
        parts,
        range(len(parts)),
        recipe(kerf_mm),
        merge_mm=merge_mm,
        shared_edges=shared_edges,
    )


def lines(strokes: Sequence[Stroke]) -> shapely.Geometry:
    return shapely.union_all([shapely.linestrings(stroke.path.line) for stroke in strokes])


def left_by(outlines: Sequence[Path], kerf_mm: float) -> shapely.Geometry:
    """What the beam leaves inside closed lines."""
    inside = shapely.union_all([shapely.Polygon(path.points) for path in outlines])
    gone = [shapely.linestrings(path.line).buffer(kerf_mm / 2, quad_segs=64) for path in outlines]
    return inside.difference(shapely.union_all(gone))


def burned_in_loose_pieces(toolpath: Toolpath, kerf_mm: float) -> int:
    """Cut a sheet move by move; count burns that do not start or stay on what is still held.

    What is held is the piece that reaches the sheet's edge. A burn in held material has some of
    it no further off than the beam is wide, on one side at least.
    """
    beam_mm = kerf_mm / 2 + 0.01
    points = toolpath.points
    moves = np.flatnonzero(toolpath.burning)
    low, high = points.min(axis=0) - 5.0, points.max(axis=0) + 5.0
    sheet = shapely.box(*low, *high)
    held = left = sheet
    loose = 0
    for move in moves.tolist():
        burn = shapely.linestrings(points[move : move + 2])
        middle = burn.interpolate(0.5, normalized=True)
        swath = burn.buffer(beam_mm, quad_segs=4)
        # over a kerf that crossing cuts have left there is nothing to burn
        burns = left.intersection(swath).area > kerf_mm**2 / 10
        loose += int(burns and held.distance(middle) > beam_mm + 0.01)
        left, rest = left.difference(swath), held.difference(swath)
        held = next(
            piece for piece in getattr(rest, "geoms", [rest]) if piece.intersects(sheet.exterior)
        )
    return loose
