"""What is kept does not depend on the order, the directions or the place of the lines."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.repair.stretches import kept_stretches

WAYS = np.array([(1, 0), (0, 1), (1, 1), (1, -1), (2, 1), (-1, 3)])

# a few carriers with many partial overlaps on them
segments = st.lists(
    st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(0, 5), st.integers(1, 5)),
    min_size=1,
    max_size=30,
).map(
    lambda rows: np.array(
        [[x, y, x + n * WAYS[k][0], y + n * WAYS[k][1]] for x, y, k, n in rows], dtype=np.float64
    )
)
# hundredths that waver within and beyond the tolerance
wavering = st.tuples(segments, st.integers(0, 2**32 - 1)).map(
    lambda pair: (
        pair[0]
        + np.random.default_rng(pair[1]).choice([0.0, 0.0, 0.003, 0.006, 0.012], pair[0].shape)
    )
)
seeds = st.integers(0, 2**32 - 1)


def length_mm(lines: FloatArray) -> float:
    return kept_stretches(lines).length_mm


def shuffled(lines: FloatArray, seed: int) -> FloatArray:
    """In another order, some of them drawn the other way."""
    rng = np.random.default_rng(seed)
    turned = rng.random(len(lines)) < 0.5
    mixed = np.where(turned[:, None], lines[:, [2, 3, 0, 1]], lines)
    return mixed[rng.permutation(len(lines))]


def moved(lines: FloatArray, angle_deg: float, x_mm: float, y_mm: float) -> FloatArray:
    points = rotation(angle_deg).apply(lines.reshape(-1, 2)) + np.array([x_mm, y_mm])
    return points.reshape(-1, 4)


@given(segments, seeds)
def test_order_and_direction_do_not_matter(lines: FloatArray, seed: int) -> None:
    assert length_mm(shuffled(lines, seed)) == pytest.approx(length_mm(lines), rel=1e-9)


@given(wavering, seeds)
def test_nor_do_they_within_the_tolerance(lines: FloatArray, seed: int) -> None:
    assert length_mm(shuffled(lines, seed)) == pytest.approx(length_mm(lines), rel=1e-9)


@given(segments, st.floats(0.0, 360.0), st.floats(-2e3, 2e3), st.floats(-2e3, 2e3))
def test_place_does_not_matter(lines: FloatArray, angle_deg: float, x: float, y: float) -> None:
    assert length_mm(moved(lines, angle_deg, x, y)) == pytest.approx(length_mm(lines), rel=1e-7)


@given(segments)
def test_what_is_kept_is_kept_again(lines: FloatArray) -> None:
    kept = kept_stretches(lines)
    own = lines[kept.segment]
    unit = (own[:, 2:] - own[:, :2]) / np.hypot(*(own[:, 2:] - own[:, :2]).T)[:, None]
    again = np.hstack([own[:, :2] + kept.span_mm[:, [side]] * unit for side in (0, 1)])
    assert length_mm(again) == pytest.approx(kept.length_mm, rel=1e-9)
    assert len(kept_stretches(again).segment) == len(again)


@given(segments)
def test_of_lines_of_one_priority_none_is_cut_in_two(lines: FloatArray) -> None:
    kept = kept_stretches(lines)
    assert len(set(kept.segment.tolist())) == len(kept.segment)


@given(segments, seeds)
def test_lines_of_a_higher_priority_keep_more(lines: FloatArray, seed: int) -> None:
    priority = np.random.default_rng(seed).integers(0, 3, len(lines))
    kept = kept_stretches(lines, priority=priority)
    assert kept.length_mm == pytest.approx(length_mm(lines), rel=1e-9)
    top = priority == priority.max()
    of_top = kept.span_mm[top[kept.segment]]
    assert (of_top[:, 1] - of_top[:, 0]).sum() == pytest.approx(length_mm(lines[top]), rel=1e-9)


@given(segments, seeds)
def test_bounds_tell_the_end_that_lies_where_a_stretch_is_cut(lines: FloatArray, seed: int) -> None:
    lines = moved(shuffled(lines, seed), 31.0, 500.0, -70.0)
    kept = kept_stretches(lines)
    ends = lines.reshape(-1, 2)
    for segment, span, bounds in zip(kept.segment, kept.span_mm, kept.bounds, strict=True):
        start, stop = ends[2 * segment], ends[2 * segment + 1]
        length = math.dist(start, stop)
        for side, along in enumerate(span):
            if bounds[side] < 0:
                assert along == pytest.approx((0.0, length)[side], abs=1e-12)
            else:
                place = start + along / length * (stop - start)
                assert math.dist(place, ends[bounds[side]]) < 1e-6
