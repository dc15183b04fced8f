"""Is anything burned in a piece that has already been cut free?"""

from __future__ import annotations

import numpy as np
import shapely

from kerfwright.program.burned import Burns, Widths
from kerfwright.program.kernel import IntArray
from kerfwright.program.lines import ALONGSIDE_COSINE, Wanted
from kerfwright.program.near import BoolArray


def burned_after_freed(
    wanted: Wanted,
    missing: BoolArray,
    cuts: Burns,
    burns: Burns,
    widths: Widths,
    *,
    shared_mm: float,
    beside_mm: float,
) -> list[tuple[int, int]]:
    """Pairs (burn, closing cut) of indexes into ``burns`` and ``cuts``, one for each freed piece.

    A closed line frees what it encloses when the last of it has been burned. Anything burned
    inside later, be it a mark, a hole or a smaller part, is burned in a loose piece; only what
    runs within ``beside_mm`` of the middle of its own cut is a neighbour's edge.
    """
    closing = _closing_cuts(wanted, missing, cuts, widths, shared_mm)
    freeing = np.flatnonzero(closing >= 0)
    if len(freeing) == 0:
        return []
    freed_at = cuts.move[closing[freeing]]
    late = np.flatnonzero(burns.move > freed_at.min())
    tree = shapely.STRtree(shapely.points(burns.middles[late]))
    shrink = beside_mm + 2.0 * widths.tolerance_mm
    regions = [wanted.regions[line] for line in freeing]
    insides = shapely.buffer(np.array(regions, dtype=object), -shrink)
    which, inside = tree.query(insides, predicate="contains")
    after = burns.move[late[inside]] > freed_at[which]
    found: dict[int, tuple[int, int]] = {}
    for region, burn in zip(which[after].tolist(), late[inside[after]].tolist(), strict=True):
        pair = (burn, int(closing[freeing[region]]))
        found[region] = min(found.get(region, pair), pair)
    return sorted(found.values())


def _closing_cuts(
    wanted: Wanted, missing: BoolArray, cuts: Burns, widths: Widths, shared_mm: float
) -> IntArray:
    """Index of the cut that closes each wanted line; -1 for open and unfinished ones."""
    closing = np.full(len(wanted.regions), -1)
    if len(cuts) == 0 or len(wanted.points) == 0:
        return closing
    reach = max(shared_mm, widths.half_kerf_mm) + widths.tolerance_mm
    _, last = cuts.pieces().visits(wanted.points, wanted.directions, reach, ALONGSIDE_COSINE)
    np.maximum.at(closing, wanted.line, last)
    unfinished = np.bincount(wanted.line, weights=missing, minlength=len(closing)) > 0
    opened = np.array([region is None for region in wanted.regions])
    closing[unfinished | opened] = -1
    return closing
