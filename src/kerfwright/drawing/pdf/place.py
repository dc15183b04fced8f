"""Where objects of a PDF page stand: their way to mm, layer, forms and clip, and their bounds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon

from kerfwright.drawing.pdf import raw as pdf_raw
from kerfwright.drawing.pdf.look import Bounds
from kerfwright.drawing.pdf.raw import Object
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path
from kerfwright.geometry.tolerances import SAME_MM


@dataclass(frozen=True, slots=True)
class Place:
    """What holds for the objects of a page or of a form."""

    to_mm: Affine
    layer: tuple[str, ...] = ()
    chain: tuple[Object, ...] = ()
    clip: MultiPolygon | None = None


def bounds_of(things: Sequence[Object], place: Place) -> Bounds | None:
    """Rectangle in mm around some objects of one place; ``None`` if they have no extent."""
    found = []
    for thing in things:
        bounds = pdf_raw.bounds_of(thing)
        if bounds is not None and all(math.isfinite(edge) for edge in bounds):
            left, bottom, right, top = bounds
            corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
            found.append(place.to_mm.apply(np.array(corners)))
    if not found:
        return None
    points = np.concatenate(found)
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def apart(one: Bounds, other: Bounds) -> bool:
    """Whether two rectangles have nothing in common."""
    return (
        one[2] < other[0] - SAME_MM
        or one[0] > other[2] + SAME_MM
        or one[3] < other[1] - SAME_MM
        or one[1] > other[3] + SAME_MM
    )


def within(paths: Sequence[Path], frame: Bounds) -> bool:
    """Whether all of some paths lie inside a rectangle."""
    # single-precision numbers in the library leave dust at the page's edge
    slack = 10.0 * SAME_MM
    for path in paths:
        left, bottom, right, top = path.bounds_mm
        if left < frame[0] - slack or bottom < frame[1] - slack:
            return False
        if right > frame[2] + slack or top > frame[3] + slack:
            return False
    return True
