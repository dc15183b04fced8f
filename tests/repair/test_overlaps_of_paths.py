"""Paths that lie over one another: what remains of them, and the account of what does not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.geometry.curves import Arc, Bezier, Span
from kerfwright.geometry.paths import Path
from kerfwright.repair.arc_stretches import kept_arcs
from kerfwright.repair.overlaps import Merged, merged_overlaps

SQUARE = [(0, 0), (50, 0), (50, 50), (0, 50)]


def line(*points: tuple[float, float]) -> Path:
    return Path(np.array(points, dtype=np.float64))


def ring(*points: tuple[float, float]) -> Path:
    return Path(np.array(points, dtype=np.float64), closed=True)


def arc(
    centre: tuple[float, float], radius: float, start: float, sweep: float, chord: float
) -> Path:
    curve = Arc(centre, radius, math.radians(start), math.radians(sweep))
    points = curve.points(chord)
    return Path(points, spans=(Span(0, len(points) - 1, curve),))


def circle(centre: tuple[float, float], radius: float) -> Path:
    curve = Arc(centre, radius, 0.3, 2.0 * math.pi)
    points = curve.points(0.01)[:-1]
    return Path(points, True, (Span(0, len(points), curve),))


def rows(parts: tuple[Path, ...]) -> list[list[list[float]]]:
    return [part.points.round(6).tolist() for part in parts]


def accounts_for_everything(paths: list[Path], merged: Merged) -> None:
    before = math.fsum(path.length_mm for path in paths)
    after = math.fsum(part.length_mm for parts in merged.parts for part in parts)
    assert merged.length_in_mm == pytest.approx(before, abs=1e-9)
    assert merged.length_out_mm == pytest.approx(after, abs=1e-9)
    assert merged.dropped_mm == pytest.approx(before - after, abs=1e-9)


def test_two_lines_become_one_that_can_be_joined() -> None:
    paths = [line((0, 0), (60, 0)), line((40, 0.002), (100, 0.001))]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    ends = np.vstack([parts[0].points for parts in merged.parts])
    _, counts = np.unique(ends, axis=0, return_counts=True)
    assert sorted(counts.tolist()) == [1, 1, 2]  # they meet in exactly one point
    assert merged.length_out_mm == pytest.approx(100.0, abs=1e-5)
    assert len(merged.dropped) == 1
    assert merged.dropped[0].length_mm == pytest.approx(20.0, abs=1e-5)


def test_an_outline_of_loose_lines_that_overlap_has_no_new_open_ends() -> None:
    sides = [line((-2, 0), (50, 0)), line((50, 0), (50, 50)), line((50, 50), (0, 50))]
    sides += [line((0, 50), (0, 20)), line((0, 30.001), (0, 0)), line((-2, 0), (0, 0))]
    merged = merged_overlaps(sides)
    accounts_for_everything(sides, merged)
    left = [part.points[[0, -1]] for parts in merged.parts for part in parts]
    places, counts = np.unique(np.vstack(left), axis=0, return_counts=True)
    assert places[counts == 1].tolist() == [[-2.0, 0.0], [0.0, 0.0]]
    assert (counts <= 2).all()
    assert merged.dropped_mm == pytest.approx(10.0 + 2.0, abs=0.002)


def test_what_lies_on_an_outline_is_dropped_and_the_outline_stays() -> None:
    outline = ring(*SQUARE)
    paths = [line((-10, 0), (60, 0), (60, 60)), outline, line((50, 10), (50, 20))]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    assert rows(merged.parts[0]) == [[[-10, 0], [0, 0]], [[50, 0], [60, 0], [60, 60]]]
    assert merged.parts[1] == (outline,)
    assert merged.parts[2] == ()
    assert [(d.path, d.length_mm, d.x_mm, d.y_mm) for d in merged.dropped] == [
        (0, pytest.approx(50.0), pytest.approx(0.0), pytest.approx(0.0)),
        (2, pytest.approx(10.0), pytest.approx(50.0), pytest.approx(10.0)),
    ]


def test_outlines_that_share_an_edge_both_stay() -> None:
    paths = [ring(*SQUARE), ring(*((x + 50, y) for x, y in SQUARE)), ring(*SQUARE)]
    merged = merged_overlaps(paths)
    assert all(parts[0] is path for parts, path in zip(merged.parts, paths, strict=True))
    assert merged.dropped == ()


def test_an_outline_that_is_yet_to_be_closed_stays_whole() -> None:
    there = [(x + 50, y) for x, y in SQUARE]
    paths = [line(*SQUARE, SQUARE[0]), line(*there, there[0]), line((50, 0), (50, 70))]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    assert merged.parts[:2] == ((paths[0],), (paths[1],))
    assert rows(merged.parts[2]) == [[[50, 50], [50, 70]]]


def test_a_line_drawn_there_and_back_is_kept_once() -> None:
    paths = [line((0, 0), (30, 0), (30, 40), (30, 0), (0, 0))]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    assert merged.length_out_mm == pytest.approx(70.0)


def test_paths_that_nothing_changes_are_the_same_objects() -> None:
    paths = [line((0, 0), (9, 0)), line((9, 0), (9, 9)), line((3, -5), (4, 5)), circle((80, 0), 5)]
    merged = merged_overlaps(paths)
    assert all(parts == (path,) for parts, path in zip(merged.parts, paths, strict=True))
    assert merged.length_in_mm == merged.length_out_mm
    assert merged_overlaps([]).parts == ()


def test_a_stretch_over_several_corners_is_told_as_one() -> None:
    inner = [(10, 0), (50, 0), (50, 50), (20, 50)]
    paths = [ring(*SQUARE), line((10, -8), *inner, (20, 70))]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    assert rows(merged.parts[1]) == [[[10, -8], [10, 0]], [[20, 50], [20, 70]]]
    assert [d.length_mm for d in merged.dropped] == [pytest.approx(120.0)]


def test_points_and_paths_without_length_are_left_alone() -> None:
    paths = [line((5, 5)), line((1, 1), (1, 1)), Path(np.empty((0, 2))), line((0, 0), (3, 0))]
    merged = merged_overlaps(paths)
    assert all(parts == (path,) for parts, path in zip(merged.parts, paths, strict=True))


def test_curves_keep_their_exact_form_where_they_are_kept() -> None:
    curve = Bezier(np.array([(0.0, 0.0), (10.0, 20.0), (30.0, 20.0), (40.0, 0.0)]))
    points = curve.points(0.01)
    along = np.vstack([points, [(90.0, 0.0)]])
    path = Path(along, spans=(Span(0, len(points) - 1, curve),))
    merged = merged_overlaps([path, line((60, 0), (150, 0))])
    part = merged.parts[0][0]
    assert part.points[-1].tolist() == [60.0, 0.0]
    assert part.spans[0].curve is curve
    assert (part.spans[0].first, part.spans[0].last) == (0, len(points) - 1)


@pytest.mark.parametrize("shift_mm", [0.0, 0.004])
@pytest.mark.parametrize("sweep_deg", [-100.0, 100.0])
def test_one_arc_drawn_twice_with_other_chords_is_kept_once(
    shift_mm: float, sweep_deg: float
) -> None:
    start = 20.0 if sweep_deg > 0 else 120.0
    paths = [
        arc((7, 8), 40.0, 20.0, 100.0, 0.01),
        arc((7 + shift_mm, 8), 40.0, start, sweep_deg, 0.0013),
    ]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    assert sorted(len(parts) for parts in merged.parts) == [0, 1]


def test_arcs_that_overlap_in_part_meet_in_one_point_and_stay_arcs() -> None:
    first, second = arc((0, 0), 30.0, 0.0, 120.0, 0.01), arc((0, 0), 30.0, 200.0, -140.0, 0.002)
    merged = merged_overlaps([first, second])
    accounts_for_everything([first, second], merged)
    assert merged.parts[1] == (second,)  # the longer one
    (rest,) = merged.parts[0]
    assert rest.points[-1].tolist() == second.points[-1].tolist()
    (span,) = rest.spans
    assert isinstance(span.curve, Arc)
    assert (span.first, span.last) == (0, len(rest.points) - 1)
    assert math.degrees(span.curve.sweep_rad) == pytest.approx(60.0)
    assert np.allclose(span.curve.points(0.01)[[0, -1]], rest.points[[0, -1]], atol=1e-9)


def test_an_arc_within_a_line_is_cut_out_of_it() -> None:
    curve = Arc((0.0, 0.0), 10.0, -math.pi / 2.0, math.pi)
    points = curve.points(0.01)
    slot = Path(
        np.vstack([[(-30.0, -10.0)], points, [(-30.0, 10.0)]]), spans=(Span(1, len(points), curve),)
    )
    paths = [circle((0, 0), 10.0), slot]
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    assert rows(merged.parts[1]) == [[[-30, -10], [0, -10]], [[0, 10], [-30, 10]]]
    assert merged.dropped[0].length_mm == pytest.approx(10.0 * math.pi, rel=1e-3)


def test_a_line_that_touches_a_circle_is_left_whole() -> None:
    paths = [circle((0, 0), 40.0), line((-60, 40), (60, 40)), line((0, -40), (90, -40))]
    merged = merged_overlaps(paths)
    assert merged.dropped == ()


def test_full_circles_and_arcs_past_the_start_of_one() -> None:
    rows_of = np.array(
        [
            (0.0, 0.0, 10.0, 1.0, 2.0 * math.pi),
            (0.0, 0.0, 10.0, 6.0, 1.0),
            (0.0, 0.0, 20.0, 6.0, 1.0),
            (0.0, 0.0, 20.0, 0.5, -0.8),
            (0.0, 0.0, 20.011, 0.5, -0.8),
        ]
    )
    kept = kept_arcs(rows_of)
    assert kept.arc.tolist() == [0, 2, 3, 4]
    # arc 3 runs from 0.5 back to -0.3 rad; arc 2 from -0.283 to 0.717 rad holds all but its end
    assert kept.span_rad[2].tolist() == pytest.approx([0.5 + 2.0 * math.pi - 6.0, 0.8])
    assert kept.bounds[2].tolist() == [2 * 2, -1]


corners = st.tuples(st.integers(0, 5), st.integers(0, 5)).map(
    lambda at: (10.0 * at[0], 10.0 * at[1])
)
shaken = st.tuples(corners, st.sampled_from([0.0, 0.0, 0.004]), st.sampled_from([0.0, 0.003])).map(
    lambda at: (at[0][0] + at[1], at[0][1] + at[2])
)
drawn = st.lists(
    st.builds(
        lambda points, closed: Path(np.array(points, dtype=np.float64), closed),
        st.lists(shaken, min_size=1, max_size=6),
        st.booleans(),
    ),
    max_size=14,
)


@given(drawn)
def test_every_millimetre_is_accounted_for(paths: list[Path]) -> None:
    merged = merged_overlaps(paths)
    accounts_for_everything(paths, merged)
    told = {d.path for d in merged.dropped}
    for number, (parts, path) in enumerate(zip(merged.parts, paths, strict=True)):
        if path.closed or number not in told:
            assert parts == (path,)
        assert not any(part.closed and part is not path for part in parts)


@given(drawn)
def test_ends_that_are_new_lie_on_the_path_that_was_cut(paths: list[Path]) -> None:
    merged = merged_overlaps(paths)
    for parts, path in zip(merged.parts, paths, strict=True):
        for part in parts:
            if part is not path:
                steps = np.diff(path.line, axis=0)
                real = (steps != 0.0).any(axis=1)
                starts, steps = path.line[:-1][real], steps[real]
                for end in part.points[[0, -1]]:
                    share = ((end - starts) * steps).sum(axis=1) / (steps**2).sum(axis=1)
                    near = starts + np.clip(share, 0.0, 1.0)[:, None] * steps
                    assert np.hypot(*(near - end).T).min() <= 0.0101
