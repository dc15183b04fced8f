"""Which strokes lie near which, so that not every one has to be tried beside every other."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.sequence.kernel import different
from kerfwright.sequence.tour import IntArray, Tour, Travel, Ways

NEIGHBOURS = 8
"""Near strokes that each stroke is tried beside."""


def neighbours(ways: Ways, tour: Tour, travel: Travel) -> IntArray:
    """Strokes with an end soonest reached from an end of each stroke, shape (n, k), -1 none.

    Both ends count, because a stroke may be turned round. A travel is as slow as its slower axis,
    and a short one goes by acceleration: so the larger of both axes' distances counts.
    """
    n = len(tour.choice)
    if n < 2:
        return np.full((n, NEIGHBOURS), -1, dtype=np.int64)
    scale = 1.0 / travel.axes[2:]
    entries, exits = (ends * scale for ends in np.hsplit(ways.ends[tour.choice], 2))
    k = min(2 * NEIGHBOURS + 2, 2 * n)
    tree = cKDTree(np.vstack([entries, exits]))
    near = [tree.query(ends, k=k, p=np.inf)[1] % n for ends in (exits, entries)]
    return different(np.stack(near, axis=2).reshape(n, 2 * k), NEIGHBOURS)
