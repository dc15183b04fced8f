"""Masks that are plain enough to cut by: fully black and fully white areas, one over another.

A mask shows what lies under its light (SVG 1.1 section 14.4), or under its paint where its
``mask-type`` is ``alpha`` (CSS Masking 1, section 7.4). Greys and blends fade, which a cut cannot.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Shape
from kerfwright.geometry.regions import filled

_SHOWS = {"#ffffff": True, "#000000": False}


def mask_area(
    painted: Sequence[Shape], faint: Collection[str], *, by_paint: bool
) -> BaseGeometry | None:
    """Return the area that a mask shows, in mm; ``None`` if it is not a plain one.

    ``painted`` are the mask's shapes in painting order, ``faint`` the names of those that let
    something shine through, ``by_paint`` says that paint counts and not its light.
    """
    area: BaseGeometry = MultiPolygon()
    for shape in painted:
        colour = shape.paint.fill
        if shape.paint.stroke is not None or shape.name in faint or colour is None:
            return None
        shows = True if by_paint else _SHOWS.get(colour)
        if shows is None:
            return None
        here = filled(shape.paths, shape.paint.fill_rule)
        area = shapely.union(area, here) if shows else shapely.difference(area, here)
    return area
