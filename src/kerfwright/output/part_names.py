"""What copies of parts are called, and where a name can stand without covering what is burned."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from kerfwright.parts.model import Part
from kerfwright.plan import PlannedSheet

LETTER_WIDTH = 0.6
"""Width of a letter over the height of its font, about right for fonts of most systems."""

ACROSS = (0.5, 0.32, 0.68)
UPWARDS = (0.5, 0.25, 0.75, 0.12, 0.88, 0.37, 0.63)
SIZES = (1.0, 0.75, 0.55)

Spot = tuple[float, float, float]


def instances_of(sheets: Sequence[PlannedSheet]) -> list[tuple[int, ...]]:
    """Which of its name each part is, counted from 1 through all sheets of a plan; 0 if alone."""
    counts = Counter(part.name for sheet in sheets for part in sheet.parts)
    seen: Counter[str] = Counter()
    found = []
    for sheet in sheets:
        numbers = []
        for part in sheet.parts:
            seen[part.name] += 1
            numbers.append(seen[part.name] if counts[part.name] > 1 else 0)
        found.append(tuple(numbers))
    return found


def name_spot(part: Part, name: str, largest_mm: float, smallest_mm: float) -> Spot | None:
    """Middle of the name and height of its font in mm, y upwards; ``None`` if it fits nowhere."""
    if not name:
        return None
    x0, y0, x1, y1 = part.outline.bounds_mm
    fitting = (x1 - x0) * 0.85 / (LETTER_WIDTH * len(name)), (y1 - y0) * 0.4, largest_mm
    sizes = np.array([share * min(fitting) for share in SIZES])
    sizes = sizes[sizes >= smallest_mm]
    size, up, across = (a.ravel() for a in np.meshgrid(sizes, UPWARDS, ACROSS, indexing="ij"))
    x, y = x0 + across * (x1 - x0), y0 + up * (y1 - y0)
    half_wide, half_high = 0.5 * LETTER_WIDTH * len(name) * size, 0.7 * size
    boxes = shapely.box(x - half_wide, y - half_high, x + half_wide, y + half_high)
    polygon = part.polygon
    shapely.prepare(polygon)
    free = np.flatnonzero(shapely.covers(polygon, boxes))
    marks = _marks(part)
    shapely.prepare(marks)
    free = free[~shapely.intersects(marks, boxes[free])]
    if len(free) == 0:
        return None
    best = free[0]
    return float(x[best]), float(y[best]), float(size[best])


def _marks(part: Part) -> shapely.GeometryCollection:
    """Everything burned inside the part."""
    lines = [path.line for scored in part.scores for path in scored.paths]
    lines += [path.line for path in part.slits]
    return shapely.GeometryCollection(
        [mark.area for mark in part.engraves]
        + [shapely.LineString(line) for line in lines if len(line) > 1]
    )
