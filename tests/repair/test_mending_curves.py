"""Exact curves survive the joining of lines, as long as their points stay where they are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.geometry.curves import Arc, Bezier, Curve, Span
from kerfwright.geometry.paths import Path
from kerfwright.repair.mend import mend

CHORD_MM = 0.01


def curve_path(curve: Curve, before: int = 0, after: int = 0) -> Path:
    """A path along a curve, with straight pieces before and behind it."""
    points = curve.points(CHORD_MM)
    lead = points[:1] - np.arange(before, 0, -1)[:, None] * [[7.0, 0.3]]
    tail = points[-1:] + np.arange(1, after + 1)[:, None] * [[6.0, 0.4]]
    span = Span(before, before + len(points) - 1, curve)
    return Path(np.concatenate([lead, points, tail]), spans=(span,))


def mended(*paths: Path, gap_mm: float = 0.5) -> Drawing:
    shapes = [
        Shape(f"path {k}", (path,), "cut", Paint(stroke="#000000")) for k, path in enumerate(paths)
    ]
    return mend(Drawing("buoy.svg", tuple(shapes), 90.0, 90.0), join_mm=0.05, gap_mm=gap_mm)


def check_spans(path: Path) -> None:
    """The points of every span are the curve's at equal steps of its parameter: the contract."""
    done = 0
    line = path.line
    for span in path.spans:
        assert done <= span.first < span.last < len(line)
        done = span.last
        steps = span.last - span.first
        for k in range(steps + 1):
            whole = span.curve if k else None
            if k == 0:
                point = span.curve.points(CHORD_MM)[0]
            elif k == steps:
                point = span.curve.points(CHORD_MM)[-1]
            else:
                assert whole is not None
                point = whole.split(k / steps)[0].points(CHORD_MM)[-1]
            assert np.hypot(*(line[span.first + k] - point)) <= 0.0011


QUARTERS = [Arc((20.0, 20.0), 9.0, k * np.pi / 2, np.pi / 2) for k in range(4)]


@given(st.permutations(range(4)), st.lists(st.booleans(), min_size=4, max_size=4))
def test_four_quarters_of_a_circle_are_one_outline_of_four_arcs(
    order: list[int], turned: list[bool]
) -> None:
    paths = [curve_path(QUARTERS[k]) for k in order]
    out = mended(*(p.reversed() if back else p for p, back in zip(paths, turned, strict=True)))
    (shape,) = out.shapes
    (path,) = shape.paths
    assert path.closed
    check_spans(path)
    arcs = [span.curve for span in path.spans]
    assert len(arcs) == 4
    swept = sum(arc.sweep_rad for arc in arcs if isinstance(arc, Arc))
    assert abs(swept) == pytest.approx(2 * np.pi)


def test_a_curve_between_straight_pieces_keeps_its_place_in_the_joined_line() -> None:
    swing = Bezier(np.array([[0.0, 0.0], [5.0, 9.0], [12.0, -9.0], [18.0, 0.0]]))
    one = curve_path(swing, before=3, after=2)
    end = one.points[-1]
    arc = Arc((float(end[0]), float(end[1]) + 5.0), 5.0, -np.pi / 2, 2.0)
    (shape,) = mended(one.reversed(), curve_path(arc, after=1)).shapes
    (path,) = shape.paths
    assert len(path.spans) == 2
    check_spans(path)


def test_an_arc_whose_end_was_moved_to_meet_another_ends_before_the_joint() -> None:
    quarter = curve_path(QUARTERS[0])
    x, y = quarter.points[-1].tolist()
    (shape,) = mended(quarter, Path(np.array([[x, y + 0.03], [x - 20.0, y + 0.03]]))).shapes
    (path,) = shape.paths
    joint = int(np.argmin(np.hypot(*(path.points - [x, y + 0.015]).T)))
    assert path.points[joint] == pytest.approx([x, y + 0.015])
    assert all(span.last < joint for span in path.spans)
    check_spans(path)


def test_an_arc_on_the_far_side_of_a_gap_stays_an_arc() -> None:
    quarter = curve_path(QUARTERS[0])
    x, y = quarter.points[-1].tolist()
    (shape,) = mended(quarter, Path(np.array([[x - 0.3, y], [x - 20.0, y]]))).shapes
    (path,) = shape.paths
    assert [span.curve for span in path.spans] == [QUARTERS[0]]
    check_spans(path)


def test_curves_survive_when_doubled_points_are_dropped() -> None:
    plain = curve_path(QUARTERS[0], before=2, after=2)
    points = np.insert(plain.points, 1, plain.points[0], axis=0)
    doubled = Path(points, spans=tuple(span.moved(1) for span in plain.spans))
    (shape,) = mended(doubled).shapes
    assert len(shape.paths[0].points) == len(plain.points)
    assert shape.paths[0].spans[0].first == 2
    check_spans(shape.paths[0])


def test_a_closed_line_that_repeats_its_first_point_keeps_the_curve_that_ends_there() -> None:
    points = np.concatenate([[[20.0, 20.0]], QUARTERS[0].points(CHORD_MM), [[20.0, 20.0]]])
    turn = Arc((20.0, 24.5), 4.5, np.pi / 2, np.pi)
    home = turn.points(CHORD_MM)
    whole = np.concatenate([points[:-1], home[1:]])
    spans = (
        Span(1, len(points) - 2, QUARTERS[0]),
        Span(len(points) - 2, len(points) - 3 + len(home), turn),
    )
    (shape,) = mended(Path(whole, closed=True, spans=spans)).shapes
    (path,) = shape.paths
    assert len(path.points) == len(whole) - 1
    assert len(path.spans) == 2
    check_spans(path)


def test_the_rest_of_an_outline_keeps_its_curves_when_a_spike_is_cut_off() -> None:
    quarter = QUARTERS[0].points(CHORD_MM)
    x, y = quarter[-1].tolist()
    nick = [[x - 9.0, y], [x - 9.0, y + 0.3], [x - 9.0, y], [x - 9.0, y - 9.0]]
    points = np.concatenate([quarter, nick])
    span = Span(0, len(quarter) - 1, QUARTERS[0])
    (shape,) = mended(Path(points, closed=True, spans=(span,))).shapes
    (path,) = shape.paths
    assert len(path.points) == len(points) - 2
    assert [span.curve for span in path.spans] == [QUARTERS[0]]
    check_spans(path)
