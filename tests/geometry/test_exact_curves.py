"""A path keeps the curves that its points stand for, whatever is done to it."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.geometry.curves import Arc, Bezier, EllipseArc, Span
from kerfwright.geometry.flatten import flattened_beziers
from kerfwright.geometry.paths import Path, concatenated

CHORD_MM = 0.01

coordinates = st.floats(-200.0, 200.0).map(lambda x: round(x, 3))
points = st.tuples(coordinates, coordinates)
affines = st.builds(
    lambda turn, x, y, move: translation(*move) @ rotation(turn) @ scaling(x, y),
    st.floats(0.0, 360.0),
    st.floats(0.2, 3.0),
    st.one_of(st.floats(0.2, 3.0), st.floats(-3.0, -0.2)),
    points,
)


def curved(*, closed: bool) -> Path:
    """A straight line, a half circle, a cubic and, closed, a quadratic home to the start."""
    arc = Arc((20.0, 0.0), 10.0, math.pi, -math.pi)
    cubic = Bezier(np.array([[30.0, 0.0], [45.0, 0.0], [45.0, -20.0], [30.0, -30.0]]))
    home = Bezier(np.array([[30.0, -30.0], [10.0, -60.0], [0.0, 0.0]]))
    pieces = [np.array([[0.0, 0.0], [10.0, 0.0]])]
    spans, count = [], 1
    for curve in (arc, cubic, home) if closed else (arc, cubic):
        flat = curve.points(CHORD_MM)[1:]
        spans.append(Span(count, count + len(flat), curve))
        count += len(flat)
        pieces.append(flat)
    line = np.concatenate(pieces)
    return Path(line[:-1] if closed else line, closed, tuple(spans))


def assert_points_lie_on_their_curves(path: Path, tolerance_mm: float = 1e-6) -> None:
    line = path.line
    last = 0
    for span in path.spans:
        assert last <= span.first < span.last < len(line)
        last = span.last
        between = np.linspace(0.0, 1.0, span.steps + 1)[1:-1]
        meant = [span.curve.split(share)[1] for share in between]
        starts = [line[span.first], *line[span.first + 1 : span.last], line[span.last]]
        curves = [span.curve, *meant]
        for point, curve in zip(starts, curves, strict=False):
            assert curve.points(1.0)[0] == pytest.approx(point, abs=tolerance_mm)
        assert span.curve.points(1.0)[-1] == pytest.approx(line[span.last], abs=tolerance_mm)


@pytest.mark.parametrize("closed", [False, True])
def test_reversed_path_keeps_its_curves(closed: bool) -> None:
    path = curved(closed=closed)
    back = path.reversed()
    assert_points_lie_on_their_curves(back)
    exact = sum(span.steps for span in path.spans)
    assert sum(span.steps for span in back.spans) == exact
    assert_points_lie_on_their_curves(back.reversed())


@given(affines, st.booleans())
def test_moved_path_keeps_its_curves(transform: Affine, closed: bool) -> None:
    moved = curved(closed=closed).transformed(transform)
    assert_points_lie_on_their_curves(moved, 1e-6)


@given(st.integers(0, 10_000))
def test_closed_path_entered_elsewhere_keeps_every_step_of_its_curves(vertex: int) -> None:
    path = curved(closed=True)
    entered = path.entered_at(vertex % len(path.points))
    assert_points_lie_on_their_curves(entered)
    assert sum(s.steps for s in entered.spans) == sum(s.steps for s in path.spans)


def test_a_turned_or_mirrored_arc_stays_an_arc_and_a_stretched_one_becomes_elliptic() -> None:
    arc = Arc((3.0, 4.0), 5.0, 0.3, 1.7)
    turned = arc.transformed(translation(7.0, -1.0) @ rotation(33.0) @ scaling(-2.0, 2.0))
    assert isinstance(turned, Arc)
    assert turned.radius_mm == pytest.approx(10.0)
    assert turned.sweep_rad == pytest.approx(-1.7)
    assert isinstance(arc.transformed(scaling(2.0, 1.0)), EllipseArc)


@given(st.lists(points, min_size=4, max_size=4), st.sampled_from([0.1, 0.01, 0.001]))
def test_flattened_curve_strays_no_further_than_its_tolerance(
    control: list[tuple[float, float]], chord_mm: float
) -> None:
    """Against 4,000 points of the curve in its Bernstein form, evaluated here."""
    curve = np.array(control)
    flat = np.vstack([curve[:1], flattened_beziers(curve[None], chord_mm)[0]])
    t = np.linspace(0.0, 1.0, 4001)[:, None]
    binomial = (1, 3, 3, 1)
    true = sum(b * t**i * (1 - t) ** (3 - i) * curve[i] for i, b in enumerate(binomial))
    line = shapely.LineString(flat)
    assert shapely.distance(line, shapely.points(true)).max() <= chord_mm * (1 + 1e-6) + 1e-9


def test_curve_that_bends_in_one_place_needs_few_points_elsewhere() -> None:
    """A hook with a long straight arm: equal steps would put most points on the arm."""
    hook = np.array([[[0.0, 0.0], [0.0, 10.0], [0.0, 10.0], [100.0, 12.0]]])
    adapted = len(flattened_beziers(hook, CHORD_MM)[0])
    assert adapted < 0.8 * (len(Bezier(hook[0]).points(CHORD_MM)) - 1)


def test_finer_flattening_comes_from_the_curve_not_from_the_points() -> None:
    path = curved(closed=True)
    fine = path.refined(1e-4)
    assert_points_lie_on_their_curves(fine)
    half_circle, radius = fine.spans[0], 10.0
    on_it = fine.line[half_circle.first : half_circle.last + 1]
    radii = np.hypot(*(on_it - [20.0, 0.0]).T)
    assert np.abs(radii - radius).max() < 1e-9
    assert len(fine.points) > 5 * len(path.points)


def test_lines_put_behind_one_another_keep_their_curves() -> None:
    first = curved(closed=False)
    second = first.transformed(translation(*(first.points[-1] - first.points[0])))
    both = concatenated([first, second], closed=False)
    assert_points_lie_on_their_curves(both)
    assert len(both.spans) == 4
    assert both.length_mm == pytest.approx(first.length_mm + second.length_mm)
