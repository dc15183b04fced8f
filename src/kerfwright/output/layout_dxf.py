"""A sheet's layout as DXF in true millimetres, for machines driven by their own software."""

from __future__ import annotations

import math
from pathlib import Path as FilePath

import numpy as np
from ezdxf import units
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from kerfwright.engraving.stamp import drawn_areas
from kerfwright.geometry.curves import Arc
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import rings_of
from kerfwright.plan import PlannedSheet
from kerfwright.toolpath import Process

VERSION = "R2010"

CUT, SCORE, ENGRAVE, SHEET = "CUT", "SCORE", "ENGRAVE", "SHEET_GUIDE"
"""Layers. The sheet's edge is for alignment: its name says so and it is set not to plot."""

PHOTO_FRAME = "PHOTO_FRAME"
"""Layer of frames where pictures lie: a DXF holds no dots, the layout SVG does."""

_INK, _GREY = 7, 8
"""Colour numbers for the screen: black or white against the background, and grey."""


def write_layout_dxf(sheet: PlannedSheet, path: FilePath | str) -> None:
    """Write the layout of a sheet, parts on size: lines are not moved for the kerf.

    Outlines, holes and the rings of engraved areas (even-odd) are closed LWPOLYLINEs, slits and
    scored lines open ones where they are drawn open. Arcs that a line knows are written as
    bulges, the only curve that an LWPOLYLINE has (DXF Reference, group code 42).

    Raises:
        OSError: the file cannot be written.
    """
    document = new(VERSION, units=units.MM)
    document.header["$MEASUREMENT"] = 1
    for layer, colour in ((CUT, _INK), (SCORE, _INK), (ENGRAVE, _INK), (SHEET, _GREY)):
        document.layers.add(layer, color=colour, plot=layer != SHEET)
    space = document.modelspace()
    for edge in (sheet.sheet.material, *sheet.sheet.keep_out):
        for ring in rings_of(edge):
            _line(space, _pairs(ring), SHEET, closed=True)
    for part in sheet.parts:
        for area in drawn_areas(part, sheet.recipes.get(Process.ENGRAVE)):
            for ring in rings_of(area):
                _line(space, _pairs(ring), ENGRAVE, closed=True)
        for scored in part.scores:
            _lines(space, scored.paths, SCORE)
        if not part.blank:
            _lines(space, (*part.slits, *part.holes, part.outline), CUT)
    if sheet.intended.photos:
        document.layers.add(PHOTO_FRAME, color=_GREY, plot=False)
        for place in sheet.intended.photos:
            _line(space, _pairs(place.picture.corners_mm), PHOTO_FRAME, closed=True)
    document.saveas(path)


def _lines(space: Modelspace, paths: tuple[Path, ...], layer: str) -> None:
    for path in paths:
        space.add_lwpolyline(_vertices(path), "xyb", close=path.closed, dxfattribs={"layer": layer})


def _vertices(path: Path) -> list[tuple[float, float, float]]:
    """Vertices with the bulge of what follows each; points within arcs are left out."""
    line = path.line
    vertices: list[tuple[float, float, float]] = []
    done = 0
    for span in path.spans:
        if not isinstance(span.curve, Arc):
            continue
        vertices += [(x, y, 0.0) for x, y in _pairs(line[done : span.first])]
        vertices += _halves(span.curve, line[span.first])
        done = span.last
    return vertices + [(x, y, 0.0) for x, y in _pairs(line[done : len(path.points)])]


def _halves(arc: Arc, start: FloatArray) -> list[tuple[float, float, float]]:
    """An arc as two: a bulge is the tangent of a quarter of the turn, endless for a circle."""
    bulge = math.tan(arc.sweep_rad / 8.0)
    points = np.array([start, arc.at(0.5)])
    return [(x, y, bulge) for x, y in _pairs(points)]


def _line(
    space: Modelspace, points: list[tuple[float, float]], layer: str, *, closed: bool
) -> None:
    space.add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})


def _pairs(points: FloatArray) -> list[tuple[float, float]]:
    return [(x, y) for x, y in points.round(6).tolist()]
