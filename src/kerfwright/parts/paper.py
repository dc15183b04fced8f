"""What the screen shows and a beam does not: white laid over dark, wide lines, gradients."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Shape
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.regions import filled
from kerfwright.geometry.tolerances import JOIN_MM
from kerfwright.parts.gathered import counted, names_of
from kerfwright.parts.model import ProcessedShape
from kerfwright.toolpath import Process

WHITE = "#ffffff"

PATTERN = "pattern"
"""How a paint names patterns and gradients."""

WIDE_MM = 1.0
"""Lines for cutting are drawn finer than this (common practice, no source)."""


def white_over_dark(
    shapes: Sequence[Shape], processed: Sequence[ProcessedShape], drawing: str
) -> list[Finding]:
    """Find white areas that hide some of an area which is engraved and drawn before them.

    ``shapes`` are all of the drawing, in the order they are painted. Overlaps no wider than
    ``JOIN_MM`` are edges that meet.
    """
    engraved = {id(one.shape) for one in processed if one.process is Process.ENGRAVE}
    dark = [n for n, shape in enumerate(shapes) if id(shape) in engraved and shape.paint.fill]
    white = [n for n, shape in enumerate(shapes) if _is_white(shape) and id(shape) not in engraved]
    if not dark or not white or max(white) < min(dark):
        return []
    dark_areas = [filled(shapes[n].paths, shapes[n].paint.fill_rule) for n in dark]
    white_areas = [filled(shapes[n].paths, shapes[n].paint.fill_rule) for n in white]
    found = STRtree(dark_areas).query(white_areas, predicate="intersects")
    cores: dict[int, BaseGeometry] = {}
    for i, j in found.T.tolist():
        if dark[j] < white[i]:
            hidden = shapely.intersection(white_areas[i], dark_areas[j])
            core = hidden.buffer(-JOIN_MM / 2.0)
            if not core.is_empty:
                cores.setdefault(i, core)
    if not cores:
        return []
    place = next(iter(cores.values())).representative_point()
    what = "white area lies" if len(cores) == 1 else "white areas lie"
    return [
        Finding(
            Severity.WARN,
            "parts/white-over-dark",
            f"{len(cores)} {what} over what is to be engraved: on screen it is hidden there, but "
            "a beam cannot burn white, so all of the dark area is engraved.",
            "Take the white shape out of the dark one in the drawing program (subtract it).",
            drawing=drawing,
            shape=names_of(shapes[white[i]].name for i in cores),
            x_mm=float(place.x),
            y_mm=float(place.y),
            count=len(cores),
        )
    ]


def wide_lines(processed: Sequence[ProcessedShape], drawing: str) -> list[Finding]:
    """Find lines to be cut or scored that are drawn as wide as a band."""
    wide = [
        one.shape
        for one in processed
        if one.process in {Process.CUT, Process.SCORE}
        and one.shape.paint.fill is None
        and (one.shape.paint.stroke_width_mm or 0.0) > WIDE_MM * (1.0 + 1e-9)
    ]
    widest_mm = np.max([shape.paint.stroke_width_mm or 0.0 for shape in wide], initial=0.0)
    return counted(
        Severity.WARN,
        "parts/wide-line",
        [shape.name for shape in wide],
        ("line to be cut or scored is", "lines to be cut or scored are"),
        f" drawn up to {widest_mm:.1f} mm wide: the beam follows the middle only, and the width is "
        "not burned.",
        "If the band itself is meant, turn the line into an area in the drawing program; it is "
        "engraved then.",
        drawing=drawing,
    )


def patterns(processed: Sequence[ProcessedShape], drawing: str) -> list[Finding]:
    """Find areas painted with a pattern or gradient, which are engraved all over."""
    return counted(
        Severity.WARN,
        "parts/pattern-all-over",
        [
            one.shape.name
            for one in processed
            if one.process is Process.ENGRAVE and one.shape.paint.fill == PATTERN
        ],
        ("area is", "areas are"),
        " painted with a pattern or gradient, and engraved all over in one depth, also where the "
        "pattern has gaps or the gradient fades out.",
        "If that is not meant, draw what is to be burned as plain areas.",
        drawing=drawing,
    )


def _is_white(shape: Shape) -> bool:
    return shape.paint.fill == WHITE
