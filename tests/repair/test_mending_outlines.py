"""Outlines that fold, stick out, cross themselves, have no width, or lie there twice."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.curves import Arc, Span
from kerfwright.geometry.flatten import arc_points
from kerfwright.geometry.paths import Path
from kerfwright.repair.mend import mend, mend_and_tally

BLACK = Paint(stroke="#000000", stroke_width_mm=0.1)
BLUE = Paint(stroke="#0000ff", stroke_width_mm=0.1)
FILLED = Paint(fill="#000000")

Points = Sequence[tuple[float, float]]
SQUARE: Points = [(0, 0), (20, 0), (20, 20), (0, 20)]


def path(points: Points, closed: bool = False) -> Path:
    return Path(np.array(points, dtype=float), closed)


def ring(points: Points) -> Path:
    return path(points, closed=True)


def circle(x: float, y: float, radius: float, start: float = 0.0, sweep: float = 2 * np.pi) -> Path:
    points = arc_points((x, y), radius, start, sweep, 0.01)
    span = Span(0, len(points) - 1, Arc((x, y), radius, start, sweep))
    return Path(points[:-1], True, (span,))


def shape(name: str, *paths: Path, layer: str = "cut", paint: Paint = BLACK) -> Shape:
    return Shape(name, paths, layer, paint)


def drawing(*shapes: Shape) -> Drawing:
    return Drawing("sign.svg", shapes, 100.0, 100.0)


def mended(*paths: Path) -> Drawing:
    given = drawing(*(shape(f"path {k}", one) for k, one in enumerate(paths)))
    return mend(given, join_mm=0.05, gap_mm=0.5)


def paths_of(given: Drawing) -> list[Path]:
    return [path for shape in given.shapes for path in shape.paths]


def told(given: Drawing, slug: str) -> list[Finding]:
    return [finding for finding in given.findings if finding.code == f"repair/{slug}"]


def place(finding: Finding) -> tuple[float | None, float | None]:
    return finding.x_mm, finding.y_mm


def test_a_small_spike_at_a_corner_is_cut_off_and_told() -> None:
    out = mended(ring([(0, 0), (20, 0), (20, 20), (20, 20.3), (20, 20), (0, 20)]))
    (outline,) = paths_of(out)
    assert outline.signed_area_mm2 == 400.0
    assert outline.length_mm == 80.0
    (spike,) = told(out, "spike")
    assert place(spike) == (20.0, 20.3)
    assert "0.6 mm in all" in spike.what


def test_a_spike_in_line_with_a_side_is_cut_off() -> None:
    out = mended(ring([(0, 0), (20, 0), (20, 20.4), (20, 20), (0, 20)]))
    (outline,) = paths_of(out)
    assert outline.length_mm == 80.0
    assert len(outline.points) == 4
    assert told(out, "spike")[0].count == 1


def test_a_slit_drawn_out_and_back_is_burned_once() -> None:
    out = mended(ring([(0, 0), (20, 0), (20, 10), (12, 10), (20, 10), (20, 20), (0, 20)]))
    outline, slit = sorted(paths_of(out), key=lambda one: -one.length_mm)
    assert (outline.closed, outline.length_mm) == (True, 80.0)
    assert (slit.closed, slit.length_mm) == (False, 8.0)
    (fold,) = told(out, "folded")
    assert place(fold) == (12.0, 10.0)
    assert "8.0 mm in all" in fold.what


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (30, 0)],
        [(0, 0), (10, 0), (30, 0), (20, 0)],
        [(0, 0), (30, 0), (30, 0.0005), (0, 0.0005)],
    ],
    ids=["there and back", "other points on the way back", "a hair wide"],
)
def test_an_outline_without_width_is_one_open_line(points: Points) -> None:
    out = mended(ring(points))
    (line,) = paths_of(out)
    assert not line.closed
    assert line.length_mm == pytest.approx(30.0, abs=0.001)
    assert told(out, "folded")[0].count == 1


def test_a_bow_followed_out_and_back_is_kept_once() -> None:
    bow = arc_points((0.0, 0.0), 15.0, 0.0, 2.0, 0.01)
    out = mended(Path(np.concatenate([bow, bow[-2:0:-1]]), closed=True))
    (line,) = paths_of(out)
    assert not line.closed
    assert line.length_mm == pytest.approx(30.0, abs=0.01)  # radius times angle


def test_an_open_line_loses_the_end_that_lies_on_itself() -> None:
    out = mended(path([(0, 0), (20, 0), (20, 9), (20, 2)]))
    (line,) = paths_of(out)
    assert line.points.tolist() == [[0, 0], [20, 0], [20, 9]]
    assert "7.0 mm in all" in told(out, "folded")[0].what


def test_a_filled_area_keeps_its_spikes() -> None:
    area = shape("area", ring([(0, 0), (20, 0), (20, 20), (20, 20.3), (20, 20)]), paint=FILLED)
    out = mend(drawing(area), join_mm=0.05, gap_mm=0.5)
    assert out.shapes[0] is area


def test_a_sliver_is_kept_and_told_with_its_width() -> None:
    out = mended(ring(SQUARE), ring([(30, 0), (50, 0), (50, 0.06), (30, 0.06)]))
    assert len(paths_of(out)) == 2
    (sliver,) = told(out, "sliver")
    assert place(sliver) == (30.0, 0.0)
    assert sliver.shape == "path 1"
    assert "0.060 mm" in sliver.what
    assert sliver.severity is Severity.WARN


def test_an_outline_that_crosses_itself_is_told_with_the_crossing() -> None:
    out = mended(ring([(0, 0), (20, 20), (20, 0), (0, 20)]), ring(SQUARE))
    (crossing,) = told(out, "self-crossing")
    assert place(crossing) == (10.0, 10.0)
    assert (crossing.shape, crossing.severity) == ("path 0", Severity.WARN)
    assert not told(out, "sliver")


def test_an_open_line_and_an_area_may_cross_themselves() -> None:
    eight: Points = [(0, 0), (20, 20), (20, 0), (0, 20)]
    given = drawing(shape("line", path(eight)), shape("area", ring(eight), paint=FILLED))
    assert not told(mend(given, join_mm=0.05, gap_mm=0.5), "self-crossing")


def test_an_outline_with_other_points_on_the_same_sides_is_a_repeat() -> None:
    other: Points = [(20, 12), (20, 20), (7, 20), (0, 20), (0, 0), (5, 0), (20, 0)]
    given = drawing(shape("one", ring(SQUARE)), shape("other", ring(other[::-1])))
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert [one.name for one in out.shapes] == ["one"]
    assert tally.repeat_mm_dropped == 80.0


def test_an_outline_with_a_corner_elsewhere_is_no_repeat() -> None:
    other: Points = [(20, 0), (20, 20), (0, 20), (0, 0), (10, 0.002)]
    assert len(paths_of(mended(ring(SQUARE), ring(other)))) == 2


def test_a_circle_begun_elsewhere_and_turning_back_is_a_repeat() -> None:
    out = mended(circle(10, 10, 8), circle(10, 10, 8, 0.3, -2 * np.pi))
    assert len(paths_of(out)) == 1
    assert told(out, "repeat-dropped")[0].count == 1


def test_a_circle_a_little_larger_is_no_repeat() -> None:
    assert len(paths_of(mended(circle(10, 10, 8), circle(10, 10, 8.003, 0.3)))) == 2


def plate(x: float, y: float, copy: int) -> list[Shape]:
    square = ring([(a + x, b + y) for a, b in SQUARE])
    holes = [circle(x + 5, y + 5, 2, copy * 0.4), circle(x + 15, y + 15, 3, copy * 0.7)]
    return [
        shape(f"plate {copy}", square),
        *(shape(f"hole {copy}{k}", hole) for k, hole in enumerate(holes)),
        shape(f"name {copy}", path([(x + 4, y + 10), (x + 16, y + 10)]), layer="score", paint=BLUE),
    ]


def test_a_part_pasted_twice_onto_itself_is_told_as_two_copies() -> None:
    given = drawing(*plate(0, 0, 0), *plate(0, 0, 1), *plate(0, 0, 2), *plate(40, 0, 3))
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert [one.name for one in out.shapes[:4]] == ["plate 0", "hole 00", "hole 01", "name 0"]
    assert len(out.shapes) == 8
    (stack,) = told(out, "stacked")
    assert (stack.count, stack.severity) == (2, Severity.WARN)
    assert place(stack) == (0.0, 0.0)
    assert "8 lines" in stack.what
    assert not told(out, "repeat-dropped")
    assert (tally.stacks, tally.stacked_dropped, tally.repeats_dropped) == (2, 8, 0)
    lost_mm = sum(one.length_mm for one in given.shapes) - sum(one.length_mm for one in out.shapes)
    assert tally.stacked_mm_dropped == pytest.approx(lost_mm)


def test_a_part_stacked_as_loose_lines_is_a_copy_all_the_same() -> None:
    sides = [[SQUARE[k - 1], SQUARE[k]] for k in range(4)]
    mark: Points = [(5, 5), (9, 9)]
    loose = [
        shape(f"line {n}{k}", path(one)) for n in (0, 1) for k, one in enumerate([*sides, mark])
    ]
    out, tally = mend_and_tally(drawing(*loose), join_mm=0.05, gap_mm=0.5)
    assert [one.closed for one in paths_of(out)] == [True, False]
    assert told(out, "stacked")[0].count == 1
    assert (tally.stacked_dropped, tally.stacked_mm_dropped) == (5, pytest.approx(80 + 32**0.5))


def test_an_outline_that_is_there_twice_with_one_mark_inside_is_a_repeat_only() -> None:
    out = mended(ring(SQUARE), ring(SQUARE), path([(5, 5), (9, 9)]))
    assert told(out, "repeat-dropped")[0].count == 1
    assert not told(out, "stacked")
