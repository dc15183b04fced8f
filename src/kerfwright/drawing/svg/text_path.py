"""The line along which a ``textPath`` sets its letters (SVG 2, section 11.8)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from lxml import etree

from kerfwright.drawing.svg.geometry import SHAPES, flattened, outlines_of
from kerfwright.drawing.svg.path_data import parse_path
from kerfwright.drawing.svg.values import Measures, length, number, transform
from kerfwright.drawing.svg.xml import href_of, local_name
from kerfwright.geometry.paths import FloatArray

_FINE = 1e-6
"""Chord tolerance as a share of the path's extent: letters turn smoothly along it."""


@dataclass(frozen=True, eq=False, slots=True)
class TextPath:
    """A line in the text's user units; ``start`` is where along it the text begins."""

    points: FloatArray
    along: FloatArray
    start: float
    loops: bool

    @property
    def end(self) -> tuple[float, float]:
        """Where the line ends."""
        return float(self.points[-1, 0]), float(self.points[-1, 1])

    def at(self, distance: float) -> tuple[float, float, float] | None:
        """Place and direction in radians at a distance along the line, ``None`` beyond its ends.

        A closed line goes on from its beginning (SVG 2).
        """
        whole = float(self.along[-1])
        if self.loops:
            distance %= whole
        elif not 0.0 <= distance <= whole:
            return None
        i = int(np.searchsorted(self.along, distance, side="right")) - 1
        i = min(max(i, 0), len(self.along) - 2)
        step = self.points[i + 1] - self.points[i]
        share = (distance - self.along[i]) / (self.along[i + 1] - self.along[i])
        x, y = self.points[i] + share * step
        return float(x), float(y), math.atan2(step[1], step[0])


def text_path(
    element: etree._Element, by_id: Mapping[str, etree._Element], measures: Measures
) -> TextPath | None:
    """Return the line of a ``textPath``, ``None`` if there is none in the file.

    Raises :class:`BadValueError` for lengths that cannot be read.
    """
    target = by_id.get(href_of(element).removeprefix("#"))
    if element.get("path"):
        outlines, _ = parse_path(element.get("path", ""))
        target = element
    elif target is not None and local_name(target) in SHAPES:
        outlines, _ = outlines_of(local_name(target), target, measures)
    else:
        return None
    place = transform(target.get("transform", "") if target is not element else "", measures)
    rough, _ = flattened(outlines, place, 1.0)
    if not rough:
        return None
    extent = max(float(np.ptp(line.points, axis=0).max()) for line in rough)
    lines, _ = flattened(outlines, place, max(extent * _FINE, 1e-9))
    # a text path has one line; further subpaths only go on from it
    points = np.concatenate([line.line for line in lines])
    if element.get("side") == "right":
        points = points[::-1]
    steps = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.concatenate([[True], steps > 0.0])]
    along = np.concatenate([[0.0], np.cumsum(steps[steps > 0.0])])
    whole = float(along[-1])
    text = element.get("startOffset", "0")
    stated = target.get("pathLength") if not text.strip().endswith("%") else None
    share = whole / number(stated) if stated and number(stated) > 0.0 else 1.0
    start = length(text, measures, whole) * share
    loops = len(lines) == 1 and lines[0].closed
    return TextPath(points, along, start, loops)
