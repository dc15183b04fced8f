"""Merging edges neither loses a line nor moves one by more than the tolerance."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutting.shared_edges import SharedEdges, merge_edges
from kerfwright.geometry.paths import Path
from kerfwright.geometry.tolerances import CHORD_MM, SAME_MM

LINE_MM = 40.0


def circle(radius_mm: float, corners: int, turned_rad: float = 0.0) -> Path:
    angles = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False) + turned_rad
    return Path(radius_mm * np.column_stack([np.cos(angles), np.sin(angles)]), closed=True)


def furthest_mm(of: shapely.Geometry, from_: shapely.Geometry) -> float:
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(of, 0.05)))
    shapely.prepare(from_)
    return float(shapely.distance(points, from_).max())


def all_there(paths: list[Path], merged: SharedEdges, tolerance_mm: float) -> None:
    drawn = shapely.union_all([shapely.linestrings(path.line) for path in paths])
    kept = shapely.union_all(shapely.linestrings(merged.pieces.reshape(-1, 2, 2)))
    assert furthest_mm(drawn, kept) <= tolerance_mm + SAME_MM
    assert furthest_mm(kept, drawn) <= tolerance_mm + SAME_MM


@pytest.mark.parametrize("tolerance_mm", [0.02, 0.1, 0.2])
@pytest.mark.parametrize("corners", [(200, 200), (200, 170), (400, 330), (1000, 930)])
def test_one_circle_drawn_twice_with_other_corners_is_cut_once(
    corners: tuple[int, int], tolerance_mm: float
) -> None:
    paths = [circle(9.0, corners[0]), circle(9.0, corners[1], turned_rad=0.013)]
    merged = merge_edges(paths, range(2), tolerance_mm)
    all_there(paths, merged, tolerance_mm)
    assert merged.unique_mm == pytest.approx(paths[0].length_mm, rel=1e-3)
    assert merged.shared_mm == pytest.approx(merged.unique_mm, rel=1e-3)


@settings(max_examples=40)
@given(
    apart=st.lists(st.floats(0.0, 0.3), min_size=2, max_size=6),
    starts=st.lists(st.integers(-300, 300).map(lambda n: n / 10), min_size=6, max_size=6),
    tolerance_mm=st.sampled_from([CHORD_MM, 0.1, 0.2]),
)
def test_many_lines_close_together_do_not_drift(
    apart: list[float], starts: list[float], tolerance_mm: float
) -> None:
    paths = [
        Path(np.array([(x, y), (x + LINE_MM, y)]))
        for x, y in zip(starts, np.cumsum(apart).tolist(), strict=False)
    ]
    merged = merge_edges(paths, range(len(paths)), tolerance_mm)
    all_there(paths, merged, tolerance_mm)
    assert merged.unique_mm <= merged.separate_mm + 2.0 * tolerance_mm * len(paths)
