"""Open cut lines that divide a part into several: tiles drawn as a grid of lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon, STRtree
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import JOIN_MM, SAME_MM
from kerfwright.parts.containment import is_sliver
from kerfwright.parts.gathered import gathered
from kerfwright.parts.laying import line_of, paths_in
from kerfwright.parts.outlines import OpenCut
from kerfwright.parts.pieces import Piece

GRID_MM = SAME_MM / 10.0
"""Divided pieces lie on this grid, so that an edge that two of them share is one edge."""


def divided(
    pieces: Sequence[Piece], open_cuts: Sequence[OpenCut], drawing: str
) -> tuple[list[Piece], list[OpenCut], list[Finding]]:
    """Make a piece of everything that open cut lines, with one another or with the edge, cut off.

    Returns the pieces, what of the open lines divides nothing and stays a slit, and what to tell.
    Pieces that are not divided stay as they are.
    """
    if not open_cuts or not pieces:
        return list(pieces), list(open_cuts), []
    left: list[BaseGeometry] = [line_of(cut.path) for cut in open_cuts]
    reaching = np.array([_reaching(cut.path) for cut in open_cuts])
    polygons = np.array([piece.polygon for piece in pieces], dtype=object)
    piece_of, cut_of = STRtree(reaching).query(polygons, predicate="intersects")
    order = np.argsort(piece_of, kind="stable")
    begins = np.searchsorted(piece_of[order], np.arange(len(pieces) + 1))
    made: list[Piece] = []
    findings: list[Finding] = []
    changed: set[int] = set()
    for number, piece in enumerate(pieces):
        own = cut_of[order[begins[number] : begins[number + 1]]]
        faces = _faces(piece.polygon, reaching[own]) if len(own) else []
        if len(faces) < 2:
            made.append(piece)
            continue
        made += [_piece(piece.shape, face) for face in faces]
        findings.append(_told(piece, faces, drawing))
        edges = shapely.union_all([face.boundary for face in faces]).buffer(JOIN_MM)
        for cut in own.tolist():
            left[cut] = left[cut].difference(edges)
            changed.add(cut)
    slits = [
        slit
        for number, (cut, line) in enumerate(zip(open_cuts, left, strict=True))
        for slit in (_slits(cut, line) if number in changed else [cut])
    ]
    return made, slits, gathered(findings)


def _reaching(path: Path) -> BaseGeometry:
    """An open line, lengthened at both ends so that it meets an edge that it all but touches."""
    points = path.points
    return shapely.linestrings(
        np.vstack([_beyond(points[1], points[0]), points, _beyond(points[-2], points[-1])])
    )


def _beyond(before: FloatArray, end: FloatArray) -> FloatArray:
    step = end - before
    return np.asarray(end + JOIN_MM * step / max(float(np.hypot(*step)), SAME_MM))


def _faces(material: Polygon, cuts: Sequence[BaseGeometry]) -> list[Polygon]:
    """Pieces of material between its edges and the cut lines, from the arrangement of both."""
    net = shapely.union_all([material.boundary, *cuts], grid_size=GRID_MM)
    faces = shapely.polygonize(shapely.get_parts(net)).geoms
    shapely.prepare(material)
    return [
        face
        for face in faces
        if not is_sliver(face) and material.contains(face.representative_point())
    ]


def _piece(shape: str, face: Polygon) -> Piece:
    turned = orient(face.simplify(GRID_MM))
    rings = [shapely.get_coordinates(ring)[:-1] for ring in (turned.exterior, *turned.interiors)]
    paths = [Path(ring, closed=True) for ring in rings]
    return Piece(shape, paths[0], tuple(paths[1:]), turned)


def _slits(cut: OpenCut, line: BaseGeometry) -> list[OpenCut]:
    long = [path for path in paths_in(line) if path.length_mm > 2.0 * JOIN_MM]
    return [OpenCut(cut.shape, path) for path in long]


def _told(piece: Piece, faces: Sequence[Polygon], drawing: str) -> Finding:
    point = min(faces, key=lambda face: face.area).representative_point()
    return Finding(
        Severity.WARN,
        "parts/slit-divides",
        f'open cut lines divide "{piece.shape}" into {len(faces)} pieces: each is a part of its '
        "own.",
        'Look at the parts. To keep them side by side on the sheet, set place = "as-drawn". If '
        'the lines are not to be cut through, give them the process "score".',
        drawing=drawing,
        shape=piece.shape,
        x_mm=float(point.x),
        y_mm=float(point.y),
    )
