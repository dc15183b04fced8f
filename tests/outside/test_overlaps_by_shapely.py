"""Overlapping lines against the unions that GEOS computes, by shapely.

Besides, the perfect squared square of A. J. W. Duijvestijn (*Journal of Combinatorial Theory,
Series B* 25 (1978) 240-243): 21 squares of 1736 mm perimeter in all, of which 1092 mm are left if
every edge is kept once. The squares are those of ``test_shared_edges_squared_square``.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.repair.arc_stretches import kept_arcs
from kerfwright.repair.overlaps import merged_overlaps
from kerfwright.repair.stretches import kept_stretches
from squared_square import BOUWKAMP_CODE, SIDE

WAYS = np.array([(1, 0), (0, 1), (1, 1), (1, -1), (2, 1), (1, -3)])


def sides() -> FloatArray:
    """All 84 sides of the 21 squares."""
    skyline = [0] * SIDE
    found = []
    for row in BOUWKAMP_CODE:
        low = min(skyline)
        x = skyline.index(low)
        for side in row:
            skyline[x : x + side] = [low + side] * side
            corners = [(x, low), (x + side, low), (x + side, low + side), (x, low + side)]
            found += [(*corners[k], *corners[(k + 1) % 4]) for k in range(4)]
            x += side
    return np.array(found, dtype=np.float64)


def on_a_grid(seed: int, count: int, extent: int) -> FloatArray:
    """Lines between whole numbers, many of them over one another."""
    rng = np.random.default_rng(seed)
    start = rng.integers(0, extent, (count, 2))
    step = WAYS[rng.integers(0, len(WAYS), count)] * rng.integers(1, 9, (count, 1))
    lines = np.hstack([start, start + step]).astype(np.float64)
    turned = rng.random(count) < 0.5
    lines[turned] = lines[turned][:, [2, 3, 0, 1]]
    return lines


def turned(lines: FloatArray, angle_deg: float) -> FloatArray:
    return rotation(angle_deg).apply(lines.reshape(-1, 2)).reshape(-1, 4)


def shape_of(lines: FloatArray) -> shapely.MultiLineString:
    return shapely.multilinestrings(list(shapely.linestrings(lines.reshape(-1, 2, 2))))


@pytest.mark.parametrize("angle_deg", [0.0, 90.0, 17.3, 211.7])
def test_84_sides_of_a_squared_square_leave_1092_mm(angle_deg: float) -> None:
    lines = turned(sides(), angle_deg)
    assert len(lines) == 84
    merged = merged_overlaps([Path(line.reshape(2, 2)) for line in lines])
    assert merged.length_in_mm == pytest.approx(1736.0, abs=1e-9)
    assert merged.length_out_mm == pytest.approx(1092.0, abs=1e-9)
    assert merged.dropped_mm == pytest.approx(644.0, abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("angle_deg", [0.0, 33.3])
def test_length_and_points_are_those_of_the_union(seed: int, angle_deg: float) -> None:
    drawn = on_a_grid(seed, 600, 16)
    union = shapely.line_merge(shapely.unary_union(shape_of(drawn)))
    lines = turned(drawn, angle_deg)
    kept = kept_stretches(lines)
    assert kept.length_mm == pytest.approx(union.length, rel=1e-9)
    own = lines[kept.segment]
    unit = (own[:, 2:] - own[:, :2]) / np.hypot(*(own[:, 2:] - own[:, :2]).T)[:, None]
    left = np.hstack([own[:, :2] + kept.span_mm[:, [side]] * unit for side in (0, 1)])
    left = turned(left, -angle_deg)
    assert shapely.hausdorff_distance(shape_of(left), union) < 1e-9
    # every piece lies on the union, and no two on one another: only points are common
    assert shape_of(left).length == pytest.approx(shapely.unary_union(shape_of(left)).length)


@pytest.mark.parametrize("seed", range(2))
def test_paths_leave_the_union_of_their_lines(seed: int) -> None:
    lines = on_a_grid(seed, 250, 13)
    paths = [Path(lines[k : k + 1].reshape(2, 2)) for k in range(200)]
    # the last fifty in zigzags of five lines each
    paths += [
        Path(np.cumsum(rows.reshape(-1, 2), axis=0))
        for rows in np.split(np.sign(lines[200:] - 10.0), 10)
    ]
    before = shapely.union_all([shapely.LineString(path.points) for path in paths])
    merged = merged_overlaps(paths)
    parts = [part for pieces in merged.parts for part in pieces]
    after = shapely.union_all([shapely.LineString(part.points) for part in parts])
    assert merged.length_out_mm == pytest.approx(before.length, rel=1e-9)
    assert after.length == pytest.approx(before.length, rel=1e-9)
    assert shapely.hausdorff_distance(after, before) < 1e-9


@pytest.mark.parametrize("seed", range(4))
def test_arcs_leave_the_union_of_their_angles(seed: int) -> None:
    """Arcs as intervals of whole degrees on a straight line, one line for every circle."""
    rng = np.random.default_rng(seed)
    circle = rng.integers(0, 4, 120)
    start, sweep = rng.integers(-360, 720, 120), rng.integers(-300, 300, 120)
    rows = np.column_stack(
        [40.0 * circle, 7.0 * circle, 5.0 + circle, np.radians(start), np.radians(sweep)]
    )
    straight = []
    for c, a, s in zip(circle.tolist(), start.tolist(), sweep.tolist(), strict=True):
        low = min(a, a + s) % 360
        ends = [(low, min(low + abs(s), 360)), (0, max(low + abs(s) - 360, 0))]
        straight += [shapely.LineString([(x, c), (y, c)]) for x, y in ends if y > x]
    union = shapely.union_all(straight)
    want_mm = sum(
        (5.0 + c)
        * np.radians(shapely.intersection(union, shapely.box(-1, c - 0.5, 361, c + 0.5)).length)
        for c in range(4)
    )
    kept = kept_arcs(rows)
    got_mm = ((kept.span_rad[:, 1] - kept.span_rad[:, 0]) * rows[kept.arc, 2]).sum()
    assert got_mm == pytest.approx(want_mm, rel=1e-9)


@pytest.mark.parametrize("size_mm", [0.3, 1.0, 5.0, 20.0])
def test_what_is_dropped_lies_within_the_tolerance_of_what_is_kept(size_mm: float) -> None:
    for seed in range(12):
        rng = np.random.default_rng(seed)
        lines = size_mm * on_a_grid(seed, 50, 8)
        lines += rng.choice([0.0, 0.0, 0.003, 0.006, 0.012, -0.004], lines.shape)
        kept = kept_stretches(lines, 0.01)
        own = lines[kept.segment]
        unit = (own[:, 2:] - own[:, :2]) / np.hypot(*(own[:, 2:] - own[:, :2]).T)[:, None]
        left = np.hstack([own[:, :2] + kept.span_mm[:, [side]] * unit for side in (0, 1)])
        # a line's end may lie as far beyond the other's end as beside it
        assert shapely.hausdorff_distance(shape_of(left), shape_of(lines)) <= 0.01 * 2.0**0.5 + 1e-6
