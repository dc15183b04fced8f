"""Segments that lie over one another: what is kept, and when it counts as an overlap."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from kerfwright.geometry.paths import FloatArray
from kerfwright.repair.stretches import NO_END, kept_stretches


def lines(*ends: tuple[float, float, float, float]) -> FloatArray:
    return np.array(ends, dtype=np.float64)


def polyline(points: FloatArray) -> FloatArray:
    return np.hstack([points[:-1], points[1:]])


def drawn(segments: FloatArray, tol_mm: float = 0.01) -> FloatArray:
    """Kept stretches as segments, cut ends where they lie on their own line."""
    kept = kept_stretches(segments, tol_mm)
    own = segments[kept.segment]
    step = own[:, 2:] - own[:, :2]
    unit = step / np.hypot(*step.T)[:, None]
    starts, ends = (own[:, :2] + kept.span_mm[:, [k]] * unit for k in (0, 1))
    return np.hstack([starts, ends])


def shape_of(segments: FloatArray) -> shapely.MultiLineString:
    return shapely.MultiLineString(list(segments.reshape(-1, 2, 2)))


def as_rows(segments: FloatArray) -> list[tuple[int, float, float]]:
    kept = kept_stretches(segments)
    return [
        (segment, round(low, 6), round(high, 6))
        for segment, (low, high) in zip(kept.segment.tolist(), kept.span_mm.tolist(), strict=True)
    ]


def test_a_partial_overlap_is_kept_once_and_cut_at_the_others_end() -> None:
    kept = kept_stretches(lines((0, 0, 60, 0), (40, 0, 100, 0)))
    assert kept.segment.tolist() == [0, 1]
    assert kept.span_mm.tolist() == [[0.0, 60.0], [20.0, 60.0]]
    assert kept.bounds.tolist() == [[NO_END, NO_END], [1, NO_END]]


def test_direction_does_not_matter() -> None:
    kept = kept_stretches(lines((0, 0, 60, 0), (100, 0, 40, 0)))
    assert kept.span_mm.tolist() == [[0.0, 60.0], [0.0, 40.0]]
    assert kept.bounds.tolist() == [[NO_END, NO_END], [NO_END, 1]]


def test_what_a_longer_line_contains_is_dropped() -> None:
    assert as_rows(lines((20, 0, 30, 0), (0, 0, 60, 0), (60, 0, 50, 0))) == [(1, 0.0, 60.0)]


def test_of_exact_repeats_the_first_is_kept() -> None:
    segments = lines((0, 0, 3, 4), (3, 4, 0, 0), (0, 0, 3, 4))
    assert as_rows(segments) == [(0, 0.0, 5.0)]


def test_a_chain_of_partial_overlaps_is_one_line() -> None:
    segments = lines(*((30 * k, 0, 30 * k + 40, 0) for k in range(50)))
    kept = kept_stretches(segments)
    assert kept.length_mm == pytest.approx(30 * 49 + 40, abs=1e-9)
    assert len(kept.segment) == 50


def test_touching_end_to_end_and_crossing_are_no_overlaps() -> None:
    segments = lines((0, 0, 10, 0), (10, 0, 20, 0), (5, -5, 5, 5), (20, 0, 20, 9), (0, 0, 20, 0.5))
    kept = kept_stretches(segments)
    assert len(kept.segment) == 5
    assert (kept.bounds == NO_END).all()


def test_priority_goes_before_length_and_may_cut_a_line_in_two() -> None:
    segments = lines((0, 0, 60, 0), (20, 0, 30, 0))
    kept = kept_stretches(segments, priority=np.array([0, 1]))
    assert kept.segment.tolist() == [0, 0, 1]
    assert kept.span_mm.tolist() == [[0.0, 20.0], [30.0, 60.0], [0.0, 10.0]]
    assert kept.bounds.tolist() == [[NO_END, 2], [3, NO_END], [NO_END, NO_END]]


def test_whole_segments_stay_even_on_one_another() -> None:
    segments = lines((0, 0, 60, 0), (20, 0, 80, 0), (0, 0, 100, 0))
    kept = kept_stretches(segments, whole=np.array([True, True, False]))
    assert kept.segment.tolist() == [0, 1, 2]
    assert kept.span_mm.tolist() == [[0.0, 60.0], [0.0, 60.0], [80.0, 100.0]]


def test_segments_without_length_are_none() -> None:
    assert as_rows(lines((1, 1, 1, 1), (0, 0, 9, 0), (2, 0, 2, 0))) == [(1, 0.0, 9.0)]
    assert len(kept_stretches(np.empty((0, 4))).segment) == 0


def test_a_negative_tolerance_is_refused() -> None:
    with pytest.raises(ValueError, match="tolerance"):
        kept_stretches(lines((0, 0, 1, 0)), -0.1)


@pytest.mark.parametrize("apart_mm", [0.0, 1e-5, 0.003, 0.0099])
@pytest.mark.parametrize("angle_deg", [0.0, 31.0, 90.0, 179.99])
def test_lines_within_the_tolerance_are_one(apart_mm: float, angle_deg: float) -> None:
    turn = np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
    side = apart_mm * np.array([-turn[1], turn[0]])
    far = np.array([700.0, -300.0])
    segments = np.array(
        [
            [*far, *(far + 70.0 * turn)],
            [*(far + 110.0 * turn + side), *(far + 40.0 * turn + side)],
        ]
    )
    kept = kept_stretches(segments)
    assert kept.length_mm == pytest.approx(110.0, abs=1e-6)
    # equally long, so that either may be the one that is kept whole
    assert kept.bounds.tolist() in (
        [[NO_END, NO_END], [NO_END, 1]],
        [[NO_END, 3], [NO_END, NO_END]],
    )


@pytest.mark.parametrize("apart_mm", [0.0101, 0.02, 0.5])
def test_lines_further_apart_are_two(apart_mm: float) -> None:
    segments = lines((0, 0, 100, 0), (20, apart_mm, 80, apart_mm))
    assert kept_stretches(segments).length_mm == pytest.approx(160.0, abs=1e-9)


def test_of_diverging_lines_only_the_stretch_within_the_tolerance_is_dropped() -> None:
    # 0.005 mm apart at x = 0 and 0.025 mm at x = 200: the tolerance of 0.01 mm ends at x = 50
    kept = kept_stretches(lines((0, 0, 201, 0), (0, 0.005, 200, 0.025)))
    assert kept.segment.tolist() == [0, 1]
    assert kept.span_mm[1].tolist() == pytest.approx([50.0, 200.0], abs=1e-4)
    assert kept.bounds[1].tolist() == [NO_END, NO_END]


@pytest.mark.parametrize("slope", [0.003, 0.02, 0.2, 1.0])
def test_a_narrow_point_is_no_overlap(slope: float) -> None:
    segments = lines((0, 0, 100, 0), (0, 0, 90, 90 * slope))
    assert len(kept_stretches(segments).segment) == 2
    assert (kept_stretches(segments).bounds == NO_END).all()


def crescent() -> FloatArray:
    """Two arcs from one point to another, drawn as chords of 0.05 mm: radii 60 and 30 mm."""
    outer = np.linspace(0.0, math.pi / 2.0, 1885)
    one = 60.0 * np.column_stack([np.sin(outer), 1.0 - np.cos(outer)])
    inner = np.linspace(0.0, math.pi / 2.0, 943)
    other = 30.0 * np.column_stack([np.sin(inner), 1.0 - np.cos(inner)])
    return np.vstack([polyline(one), polyline(other)])


@pytest.mark.parametrize("shuffled", [False, True])
def test_the_point_of_a_crescent_is_not_eaten(shuffled: bool) -> None:
    segments = crescent()
    if shuffled:  # as a drawing of loose lines would have it
        segments = np.random.default_rng(3).permutation(segments)
    kept = kept_stretches(segments)
    assert len(kept.segment) == len(segments)
    assert (kept.bounds == NO_END).all()


def curve(count: int) -> FloatArray:
    """A wavy line of about 94 mm."""
    t = np.linspace(0.0, 1.0, count + 1)
    return np.column_stack([80.0 * t, 6.0 * np.sin(9.0 * t)])


@pytest.mark.parametrize("count", [40, 400, 4700])
def test_neighbouring_chords_of_a_fine_curve_are_no_overlaps(count: int) -> None:
    segments = polyline(curve(count))
    kept = kept_stretches(segments)
    assert len(kept.segment) == count
    assert (kept.bounds == NO_END).all()


def test_a_scribble_of_tiny_chords_is_not_eaten() -> None:
    rng = np.random.default_rng(11)
    turns = np.cumsum(rng.uniform(-0.6, 0.6, 3000))
    steps = 0.02 * np.column_stack([np.cos(turns), np.sin(turns)])
    segments = polyline(np.cumsum(steps, axis=0))
    total = np.hypot(*(segments[:, 2:] - segments[:, :2]).T).sum()
    assert kept_stretches(segments).length_mm == pytest.approx(total, rel=1e-12)


@pytest.mark.parametrize("counts", [(1880, 1880), (1880, 600), (601, 1700)])
def test_a_curve_that_is_flattened_twice_is_kept_once(counts: tuple[int, int]) -> None:
    segments = np.vstack([polyline(curve(count)) for count in counts])
    total = np.hypot(*(segments[:, 2:] - segments[:, :2]).T).sum()
    kept = kept_stretches(segments)
    assert kept.length_mm == pytest.approx(0.5 * total, abs=0.02)
    assert shapely.hausdorff_distance(shape_of(drawn(segments)), shape_of(segments)) <= 0.0101


def test_a_drawing_pasted_twice_a_little_off_is_kept_once() -> None:
    rng = np.random.default_rng(5)
    at = 10.0 * np.arange(12.0)
    x, y = (axis.ravel() for axis in np.meshgrid(at, at))
    grid = np.vstack([np.column_stack([x, y, x + 10, y]), np.column_stack([x, y, x, y + 10])])
    for shift in (0.004, 0.009):
        way = rng.uniform(0.0, 2.0 * math.pi)
        moved = grid + shift * np.array([math.cos(way), math.sin(way)] * 2)
        segments = np.vstack([grid, moved])
        kept = kept_stretches(segments)
        assert kept.length_mm == pytest.approx(10.0 * len(grid), abs=1e-6)


def test_many_near_repeats_do_not_drift() -> None:
    """40 lines, each 0.004 mm beside the last: none is dropped for one that is itself dropped."""
    segments = lines(*((0.01 * k, 0.004 * k, 100 - 0.01 * k, 0.004 * k) for k in range(40)))
    kept = drawn(segments)
    assert shapely.hausdorff_distance(shape_of(kept), shape_of(segments)) <= 0.011
    assert len(kept) == 14  # the first and every third one after it


def test_a_line_that_runs_back_over_itself_is_kept_once() -> None:
    points = np.array([(0, 0), (50, 0), (80, 3), (50, 0.004), (0.0, 0.002)], dtype=np.float64)
    kept = kept_stretches(polyline(points))
    assert kept.length_mm == pytest.approx(50.0 + math.hypot(30, 3), abs=1e-3)


@pytest.mark.parametrize("priorities", [1, 40])
def test_a_bundle_of_wavering_lines_becomes_one(priorities: int) -> None:
    rng = np.random.default_rng(4)
    start = rng.uniform(0.0, 1000.0, 3000)
    bundle = np.column_stack([start, 0 * start, start + rng.uniform(0.0, 500.0, 3000), 0 * start])
    bundle += rng.uniform(-0.001, 0.001, bundle.shape)
    extent = bundle[:, [0, 2]].max() - bundle[:, [0, 2]].min()
    kept = kept_stretches(bundle, priority=rng.integers(0, priorities, 3000))
    assert kept.length_mm == pytest.approx(extent, abs=0.05)
