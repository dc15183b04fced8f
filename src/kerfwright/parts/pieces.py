"""From outlines and their depth to pieces of material with an edge and holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, STRtree
from shapely.geometry.polygon import orient

from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.parts.containment import Containment, is_sliver
from kerfwright.parts.gathered import gathered, names_of
from kerfwright.parts.outlines import Outline

TINY_MM2 = 1.0
TINY_MM = 0.5
"""Smaller than this a part falls through most grids and is lost in its own kerf."""


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """Material in one piece: ``outline`` counter-clockwise, ``holes`` clockwise."""

    shape: str
    outline: Path
    holes: tuple[Path, ...]
    polygon: Polygon


def pieces_of(
    outlines: Sequence[Outline], lying: Containment, drawing: str
) -> tuple[list[Piece], list[Finding]]:
    """Make a piece of each outline at even depth, less the outlines directly inside it."""
    inside = lying.children()
    gone = {repeat for repeat, _ in lying.twice} | set(lying.frames)
    turning = _anticlockwise(outlines)
    pieces: list[Piece] = []
    on_edge: list[Finding] = []
    for index, outline in enumerate(outlines):
        if index in gone or lying.depth[index] % 2:
            continue
        path = outline.path if turning[index] else outline.path.reversed()
        if index not in inside:
            pieces.append(Piece(outline.shape, path, (), outline.polygon))
            continue
        holes = [outlines[hole] for hole in inside[index]]
        made = _piece(outline, path, holes, turning[inside[index]])
        if made is not None:
            pieces.append(made)
            continue
        several = _less_touching_holes(outline, holes)
        on_edge.append(_hole_on_edge(drawing, outline, len(several)))
        pieces += several
    return pieces, gathered(on_edge) + _tiny(pieces, drawing)


def _anticlockwise(outlines: Sequence[Outline]) -> npt.NDArray[np.bool_]:
    """Which outlines run counter-clockwise, shape (n,)."""
    rings = [outline.polygon.exterior for outline in outlines]
    return np.asarray(shapely.is_ccw(np.array(rings, dtype=object)), dtype=bool)


def _piece(
    outline: Outline, path: Path, holes: Sequence[Outline], turning: npt.NDArray[np.bool_]
) -> Piece | None:
    """The piece with all its lines as drawn; ``None`` if lines share an edge.

    ``path`` is the outline counter-clockwise; ``turning`` says which holes are drawn so.
    """
    polygon = Polygon(outline.path.points, [hole.path.points for hole in holes])
    if not shapely.is_valid(polygon):
        return None
    if _touch(outline, holes):
        rest = _snapped_rest(outline, holes)
        if len(rest) != 1 or len(rest[0].interiors) != len(holes):
            return None
    return Piece(
        outline.shape,
        path,
        tuple(
            hole.path.reversed() if turned else hole.path
            for hole, turned in zip(holes, turning.tolist(), strict=True)
        ),
        polygon,
    )


def _touch(outline: Outline, holes: Sequence[Outline]) -> bool:
    """Whether any two of the lines come within ``SAME_MM``."""
    rings = np.array([outline.polygon.exterior, *(hole.polygon.exterior for hole in holes)])
    first, second = STRtree(rings).query(rings, predicate="dwithin", distance=SAME_MM)
    return bool((first != second).any())


def _snapped_rest(outline: Outline, holes: Sequence[Outline]) -> list[Polygon]:
    """What the holes leave, worked on a grid of ``SAME_MM`` so that common edges are common."""
    waste = shapely.union_all([hole.polygon for hole in holes], grid_size=SAME_MM)
    rest = shapely.difference(outline.polygon, waste, grid_size=SAME_MM)
    return [polygon for polygon in as_area(rest).geoms if not is_sliver(polygon)]


def _less_touching_holes(outline: Outline, holes: Sequence[Outline]) -> list[Piece]:
    pieces = []
    for polygon in _snapped_rest(outline, holes):
        turned = orient(polygon)
        rings = [shapely.get_coordinates(r)[:-1] for r in (turned.exterior, *turned.interiors)]
        paths = [Path(ring, closed=True) for ring in rings]
        pieces.append(Piece(outline.shape, paths[0], tuple(paths[1:]), turned))
    return pieces


def _hole_on_edge(drawing: str, outline: Outline, pieces: int) -> Finding:
    x_mm, y_mm = outline.path.points[0]
    divided = f" The holes divide it into {pieces} parts." if pieces != 1 else ""
    return Finding(
        Severity.WARN,
        "parts/hole-on-edge",
        f'in "{outline.shape}" a hole shares an edge with the outline or with another hole. '
        f"There is no material on either side of that edge, so it is not cut.{divided}",
        "Check the part in the picture. If the pieces inside were meant as parts, delete the "
        'outline round them or make it "guide" by a rule.',
        drawing=drawing,
        shape=outline.shape,
        x_mm=float(x_mm),
        y_mm=float(y_mm),
    )


def _tiny(pieces: Sequence[Piece], drawing: str) -> list[Finding]:
    polygons = np.array([piece.polygon for piece in pieces], dtype=object)
    boxes = shapely.bounds(polygons).reshape(-1, 4)
    narrow_mm = (boxes[:, 2:] - boxes[:, :2]).min(axis=1)
    is_tiny = (shapely.area(polygons) < TINY_MM2) | (narrow_mm < TINY_MM)
    tiny = [pieces[index] for index in np.flatnonzero(is_tiny).tolist()]
    if not tiny:
        return []
    x_mm, y_mm = tiny[0].outline.points[0]
    return [
        Finding(
            Severity.WARN,
            "parts/tiny-part",
            f"{len(tiny)} {'part is' if len(tiny) == 1 else 'parts are'} smaller than "
            f"{TINY_MM2:g} mm² or narrower than {TINY_MM:g} mm.",
            "It may be a left-over of the drawing; delete it there, or check the drawing's unit.",
            drawing=drawing,
            shape=names_of(piece.shape for piece in tiny),
            x_mm=float(x_mm),
            y_mm=float(y_mm),
            count=len(tiny),
        )
    ]
