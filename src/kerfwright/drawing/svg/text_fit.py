"""Makes a text smaller until it fits its room, about the place that it is anchored to."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kerfwright.drawing.copies import Room
from kerfwright.drawing.svg.text_layout import Placed
from kerfwright.geometry.affine import Affine

ROUNDING_MM = 1e-9


def made_to_fit(placed: Sequence[Placed], to_mm: Affine, room: Room) -> str:
    """Make a text that is wider than its room smaller; say why where that cannot be.

    Its first letter's place stays: a text anchored in its middle shrinks about that. Letters,
    the spaces between them and the lines of the text keep their proportions.
    """
    if any(cluster.hidden for cluster in placed):
        return "which reaches beyond the line that it follows"
    if not placed:
        return ""
    across, upright = math.hypot(to_mm.a, to_mm.b), math.hypot(to_mm.c, to_mm.d)
    left, right = min(p.x for p in placed), max(p.right for p in placed)
    wide_mm = (right - left) * across
    if wide_mm <= room.width_mm + ROUNDING_MM:
        return ""
    share = room.width_mm / wide_mm
    size_mm = min(cluster.size for cluster in placed) * upright * share
    if size_mm < room.least_mm - ROUNDING_MM:
        return (
            f"which is {wide_mm:.1f} mm wide: to fit into {room.width_mm:g} mm its letters would "
            f"be {size_mm:.2f} mm large, less than {room.least_mm:g} mm"
        )
    first = min(placed, key=lambda cluster: cluster.first).letter
    x, y = (first.x or 0.0) + first.dx, (first.y or 0.0) + first.dy
    for cluster in placed:
        cluster.x, cluster.y = x + (cluster.x - x) * share, y + (cluster.y - y) * share
        cluster.size *= share
        cluster.advance *= share
    return ""
