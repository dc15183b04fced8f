"""Whether an area can lie within another as it is turned, judged by the outlines themselves.

The places where a part's point of reference may not be are the Minkowski sums of what bars it and
the part mirrored in that point; what the box leaves beside them is the inner-fit region (J. A.
Bennell & J. F. Oliveira 2008, *The geometry of nesting problems: a tutorial*, European Journal of
Operational Research 184).
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.regions import as_area
from kerfwright.nesting.convex_pieces import exact_pieces

CONTACT_MM = 1e-6
"""What bars is made so much smaller, so that a part that just fits does fit."""

FEW_POINTS = 64
"""Outlines of more points are made coarser, and smaller, before they are taken apart."""

COARSEST_MM = 0.32
"""By no more than this, which is the error where a part hardly does not fit."""


def fits_within(part: BaseGeometry, transforms: list[Affine], room: BaseGeometry) -> bool:
    """Whether ``part``, transformed in one of these ways and then moved, can lie in ``room``.

    Both may be several polygons with holes. ``False`` is certain; so is ``True`` but for
    parts and rooms of more than :data:`FEW_POINTS` points, which may be too large by
    :data:`COARSEST_MM`.
    """
    if room.is_empty:
        return False
    bars = shapely.box(*room.bounds).difference(room).buffer(-CONTACT_MM, join_style="mitre")
    barriers = exact_pieces(_smaller(bars))
    small = _smaller(part)
    return any(
        _has_place(
            affine_transform(part, _row(t)), affine_transform(small, _row(t)), barriers, room
        )
        for t in transforms
    )


def _has_place(
    part: BaseGeometry, small: BaseGeometry, barriers: list[np.ndarray], room: BaseGeometry
) -> bool:
    low_x, low_y, high_x, high_y = part.bounds
    x0, y0, x1, y1 = room.bounds
    # where the part's point of reference keeps its box within the room's
    places = (x0 - low_x, y0 - low_y, x1 - high_x, y1 - high_y)
    slack = 2.0 * CONTACT_MM
    if places[2] < places[0] - slack or places[3] < places[1] - slack:
        return False
    box = shapely.box(
        places[0] - CONTACT_MM, places[1] - CONTACT_MM,
        places[2] + CONTACT_MM, places[3] + CONTACT_MM,
    )  # fmt: skip
    pieces = exact_pieces(small)
    sums = [
        shapely.multipoints((barrier[:, None, :] - piece[None, :, :]).reshape(-1, 2))
        for barrier in barriers
        for piece in pieces
    ]
    barred = shapely.union_all(shapely.convex_hull(np.array(sums, dtype=object)))
    return bool(box.difference(barred).area > 0.0)


def _smaller(area: BaseGeometry) -> BaseGeometry:
    """An area within another, of few points if it can be."""
    smaller, by_mm = area, COARSEST_MM / 16.0
    while shapely.get_num_coordinates(smaller) > FEW_POINTS and by_mm <= COARSEST_MM:
        # Douglas-Peucker strays by at most its tolerance; a little less than the loss is safe
        shrunk = area.buffer(-by_mm, join_style="mitre").simplify(0.95 * by_mm)
        smaller = as_area(shapely.make_valid(shrunk))
        by_mm *= 2.0
    return smaller


def _row(t: Affine) -> list[float]:
    return [t.a, t.c, t.b, t.d, t.e, t.f]
