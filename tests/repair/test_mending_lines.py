"""Loose ends, gaps, repeats and dots: what is mended, what is left, and what is told."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np
import pytest

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.repair.mend import mend, mend_and_tally

BLACK = Paint(stroke="#000000", stroke_width_mm=0.1)
RED = Paint(stroke="#ff0000", stroke_width_mm=0.1)
FILLED = Paint(fill="#000000")
EVENODD = Paint(fill="#000000", fill_rule="evenodd")

Points = Sequence[tuple[float, float]]
SQUARE: Points = [(0, 0), (20, 0), (20, 20), (0, 20)]


def path(points: Points, closed: bool = False) -> Path:
    return Path(np.array(points, dtype=float), closed)


def shape(name: str, *paths: Path, layer: str = "cut", paint: Paint = BLACK) -> Shape:
    return Shape(name, paths, layer, paint)


def lines(*pieces: Points, **kind: object) -> Drawing:
    return drawing(*(shape(f"line {k}", path(p), **kind) for k, p in enumerate(pieces)))  # type: ignore[arg-type]


def drawing(*shapes: Shape) -> Drawing:
    return Drawing("trial.svg", shapes, 100.0, 100.0)


def mended(given: Drawing, join_mm: float = 0.05, gap_mm: float = 0.5) -> Drawing:
    return mend(given, join_mm=join_mm, gap_mm=gap_mm)


def told(given: Drawing, slug: str) -> list[Finding]:
    return [finding for finding in given.findings if finding.code == f"repair/{slug}"]


def only_path(given: Drawing) -> Path:
    (one,) = given.shapes
    (only,) = one.paths
    return only


def test_four_lines_of_a_square_become_one_outline_named_after_the_first() -> None:
    out = mended(
        lines([(0, 0), (20, 0)], [(20, 20), (0, 20)], [(20, 20), (20, 0)], [(0, 0), (0, 20)])
    )
    assert only_path(out).closed
    assert only_path(out).points.tolist() == [[0, 0], [20, 0], [20, 20], [0, 20]]
    assert out.shapes[0].name == "line 0"
    (joined,) = told(out, "joined")
    assert joined.what == (
        'On layer "cut" 4 pieces were joined into 1 line; 1 line was closed because the ends met.'
    )
    assert joined.count == 4
    assert joined.severity is Severity.NOTE


def test_ends_a_little_apart_meet_halfway() -> None:
    out = mended(lines([(0, 0), (10, 0)], [(10.04, 0), (10.04, 10)]))
    assert only_path(out).points.tolist() == pytest.approx(
        np.array([[0, 0], [10.02, 0], [10.04, 10]])
    )


def test_a_line_back_to_its_own_start_is_closed_without_repeating_the_point() -> None:
    out, tally = mend_and_tally(lines([*SQUARE, (0, 0)]), join_mm=0.05, gap_mm=0.5)
    assert only_path(out).closed
    assert only_path(out).points.tolist() == [list(map(float, p)) for p in SQUARE]
    assert tally.closed == 1
    assert tally.pieces_joined == 0
    assert len(told(out, "joined")) == 1


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (3, 1, 0, 2), (2, 3, 1, 0)])
def test_at_a_crossing_of_four_ends_each_goes_straight_on(order: tuple[int, ...]) -> None:
    arms = [[(-10, 1), (0, 0)], [(10, -1), (0, 0)], [(1, -10), (0, 0)], [(-1, 10), (0, 0)]]
    out = mended(lines(*(arms[k] for k in order)))
    ends = {
        frozenset((tuple(s.paths[0].points[0]), tuple(s.paths[0].points[-1]))) for s in out.shapes
    }
    assert ends == {
        frozenset({(-10.0, 1.0), (10.0, -1.0)}),
        frozenset({(1.0, -10.0), (-1.0, 10.0)}),
    }
    (branch,) = told(out, "junction")
    assert (branch.x_mm, branch.y_mm, branch.count) == (0.0, 0.0, 1)


def test_pieces_shorter_than_the_tolerance_are_not_skipped() -> None:
    x = np.arange(0, 3, 0.03)
    pieces = [[(float(a), 0.0), (float(b) - 0.001, 0.0)] for a, b in pairwise(x)]
    out = mended(lines(*pieces))
    assert len(only_path(out).points) == len(pieces) + 1
    assert (np.diff(only_path(out).points[:, 0]) > 0.0).all()


def test_a_dash_shorter_than_the_tolerance_stays_a_dash() -> None:
    out = mended(lines([(0, 0), (0.02, 0), (0.03, 0), (0.04, 0)]))
    assert not only_path(out).closed


def test_the_subpaths_of_one_shape_are_joined_too() -> None:
    out = mended(drawing(shape("path 1", path([(0, 0), (5, 0)]), path([(5, 0), (5, 5)]))))
    assert only_path(out).points.tolist() == [[0, 0], [5, 0], [5, 5]]


def test_layers_and_paints_are_not_joined_with_each_other() -> None:
    given = drawing(
        shape("a", path([(0, 0), (5, 0)])),
        shape("b", path([(5, 0), (5, 5)]), layer="score"),
        shape("c", path([(5, 5), (0, 0)]), paint=RED),
        shape("d", path([(0, 0), (5, 0)]), layer="score"),
    )
    out = mended(given)
    assert {(s.name, s.layer, s.paint) for s in out.shapes} == {
        ("a", "cut", BLACK),
        ("b", "score", BLACK),
        ("c", "cut", RED),
    }
    assert not told(out, "repeat-dropped")


def test_a_gap_is_closed_and_told_with_its_place() -> None:
    out, tally = mend_and_tally(
        lines([(0, 0.3), (0, 20), (20, 20), (20, 0), (0, 0)]), join_mm=0.05, gap_mm=0.5
    )
    assert only_path(out).closed
    assert len(only_path(out).points) == 5
    assert tally.gaps_closed == 1
    assert tally.gap_mm_added == pytest.approx(0.3)
    (gap,) = told(out, "gap-closed")
    assert (gap.x_mm, gap.y_mm) == pytest.approx((0.0, 0.15))
    assert "0.30 mm" in gap.what
    assert gap.severity is Severity.WARN


def test_the_narrower_gap_is_closed_first() -> None:
    out = mended(lines([(0, 0), (10, 0)], [(10.4, 0), (20, 0)], [(10, 0.2), (10, 9)]))
    assert sorted(len(s.paths[0].points) for s in out.shapes) == [2, 4]
    bent = next(s for s in out.shapes if len(s.paths[0].points) == 4)
    assert bent.name == "line 0"
    assert bent.paths[0].points[-1].tolist() == [10, 9]


def test_many_gaps_are_told_in_one_sum_after_the_first_nine() -> None:
    dashes = [[(k * 10.3, 0.0), (k * 10.3 + 10, 0.0)] for k in range(16)]
    gaps = told(mended(lines(*dashes)), "gap-closed")
    assert [gap.count for gap in gaps] == [1] * 9 + [6]
    assert "6 more gaps" in gaps[-1].what


def test_a_wider_gap_is_left_open_and_told() -> None:
    out = mended(lines([(0, 0), (10, 0)], [(12, 0), (30, 0)]))
    assert len(out.shapes) == 2
    (end,) = told(out, "gap-left")
    assert (end.x_mm, end.y_mm) == (11.0, 0.0)
    assert "2.00 mm apart" in end.what


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 45.0])
def test_the_arms_of_a_cross_are_no_gap(turn_deg: float) -> None:
    turn = np.exp(1j * np.radians(turn_deg))
    arms = [[3 + 0j, -3 + 0j], [3j, -3j]]
    cross = [[(20 + (p * turn).real, 20 + (p * turn).imag) for p in arm] for arm in arms]
    out = mended(lines(*cross))
    assert len(out.shapes) == 2
    assert out.findings == ()


def test_the_arms_of_a_crooked_cross_are_no_gap() -> None:
    wave = [(float(x), 20.0 + 0.4 * np.sin(x)) for x in range(17, 24)]
    assert mended(lines(wave, [(20, 17), (20, 23)])).findings == ()


def test_lines_that_run_over_at_a_corner_are_told() -> None:
    out = mended(lines([(0, 1.5), (40, 1.5)], [(1.5, 0), (1.5, 40)]))
    (end,) = told(out, "gap-left")
    assert (end.x_mm, end.y_mm) == (0.75, 0.75)


def test_an_end_beside_a_cross_is_told() -> None:
    out = mended(lines([(17, 20), (23, 20)], [(20, 17), (20, 23)], [(24.5, 20), (40, 20)]))
    (end,) = told(out, "gap-left")
    assert (end.x_mm, end.y_mm) == (23.75, 20.0)


@pytest.mark.parametrize("seed", range(20))
def test_an_outline_of_doubled_sides_with_small_gaps_is_one_outline(seed: int) -> None:
    """Every side is there twice, each end up to 0.05 mm short of its corner."""
    dice = np.random.default_rng(seed)
    corners = np.array([(10, 10), (90, 10), (90, 40), (70, 60), (30, 60), (10, 40)], dtype=float)
    sides = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = 0.05 * (end - start) / np.hypot(*(end - start))
        for _ in range(2):
            side = [start + dice.random() * along, end - dice.random() * along]
            sides.append(side if dice.random() < 0.5 else side[::-1])
    out = mended(lines(*(sides[k] for k in dice.permutation(len(sides)))))
    (outline,) = [one for s in out.shapes for one in s.paths]
    assert outline.closed
    around_mm = np.hypot(*(corners - np.roll(corners, -1, axis=0)).T).sum()
    assert outline.length_mm == pytest.approx(around_mm, abs=0.6)


def test_gaps_between_dashes_are_meant() -> None:
    dashes = path([(0, 0), (10, 0)]), path([(10.3, 0), (20, 0)]), path([(22, 0), (32, 0)])
    dashed = Shape("fold", dashes, paint=Paint(stroke="#000000", dashed=True))
    out = mended(drawing(dashed))
    assert [one.length_mm for one in out.shapes[0].paths] == pytest.approx([10.0, 9.7, 10.0])
    assert out.findings == ()


def test_ends_far_from_any_other_and_short_dashes_are_not_told() -> None:
    out = mended(lines([(0, 0), (10, 0)], [(15.1, 0), (30, 0)], [(60, 60), (62, 60)]))
    assert out.findings == ()


@pytest.mark.parametrize(
    "copy",
    [
        path(SQUARE, closed=True),
        path(SQUARE[::-1], closed=True),
        path([*SQUARE[2:], *SQUARE[:2]], closed=True),
        path([(x + 0.0006, y - 0.0006) for x, y in [*SQUARE[3::-1]]], closed=True),
    ],
    ids=["same", "reversed", "begun elsewhere", "a hair away"],
)
def test_a_repeat_is_dropped_and_told_with_its_length(copy: Path) -> None:
    given = drawing(shape("first", path(SQUARE, closed=True)), shape("again", copy))
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert [s.name for s in out.shapes] == ["first"]
    assert tally.repeats_dropped == 1
    assert tally.repeat_mm_dropped == pytest.approx(80.0)
    (repeat,) = told(out, "repeat-dropped")
    assert repeat.count == 1
    assert "80.0 mm in all" in repeat.what


def test_a_line_that_is_not_quite_the_same_is_kept() -> None:
    moved = path([(x + 0.002, y) for x, y in SQUARE], closed=True)
    out = mended(drawing(shape("a", path(SQUARE, closed=True)), shape("b", moved)))
    assert [s.name for s in out.shapes] == ["a", "b"]


def test_lines_turned_about_one_middle_are_all_kept() -> None:
    angles = np.linspace(0.0, np.pi, 200, endpoint=False)
    rays = [np.array([[-np.cos(a), -np.sin(a)], [np.cos(a), np.sin(a)]]) * 30 for a in angles]
    given = drawing(*(shape(f"ray {k}", Path(ray)) for k, ray in enumerate(rays)))
    assert len(mended(given, gap_mm=0.0).shapes) == 200


def test_an_outline_drawn_whole_and_again_in_pieces_is_kept_once() -> None:
    sides = list(zip(SQUARE, [*SQUARE[1:], SQUARE[0]], strict=True))
    given = drawing(
        shape("whole", path(SQUARE, closed=True)),
        *(shape(f"side {k}", path(side)) for k, side in enumerate(sides)),
    )
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert [s.name for s in out.shapes] == ["whole"]
    assert tally.repeat_mm_dropped == pytest.approx(80.0)


def test_filled_shapes_keep_their_open_subpaths_and_lose_only_copies() -> None:
    rings = (path(SQUARE), path([(5, 5), (5, 9), (9, 5)], closed=True))
    given = drawing(
        shape("area", *rings, paint=FILLED),
        shape("copy", *(ring.reversed() for ring in rings), paint=FILLED),
        shape("turned hole", rings[0], rings[1].reversed(), paint=FILLED),
        shape("other rule", *rings, paint=EVENODD),
        shape("other rule, turned hole", rings[0], rings[1].reversed(), paint=EVENODD),
    )
    out = mended(given)
    assert [s.name for s in out.shapes] == ["area", "turned hole", "other rule"]
    assert out.shapes[0] is given.shapes[0]
    assert [f.count for f in told(out, "repeat-dropped")] == [4]  # lines of two areas


def test_nothing_disappears_untold() -> None:
    given = drawing(
        shape("dot", path([(3, 4), (3, 4)])),
        shape("point", path([(3, 9)], closed=True)),
        shape("no points", Path(np.empty((0, 2)))),
        shape("nothing"),
        shape("line", path([(0, 0), (10, 0)])),
    )
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert [s.name for s in out.shapes] == ["line"]
    assert tally.specks_dropped == 2
    (dots,) = told(out, "no-length")
    assert (dots.count, dots.x_mm, dots.y_mm) == (2, 3.0, 4.0)
    (empty,) = told(out, "empty-shape")
    assert (empty.count, empty.shape) == (2, "no points")


def test_earlier_findings_stay_in_front() -> None:
    earlier = Finding(Severity.NOTE, "drawing/unit-guessed", "The drawing names no unit.")
    given = Drawing("trial.svg", (shape("dot", path([(3, 4), (3, 4)])),), 9.0, 9.0, (earlier,))
    assert [f.code for f in mended(given).findings] == [earlier.code, "repair/no-length"]


def test_an_empty_drawing_stays_empty() -> None:
    assert mended(drawing()).shapes == ()


@pytest.mark.parametrize(("join_mm", "gap_mm"), [(-1.0, 0.5), (0.05, float("nan"))])
def test_impossible_tolerances_are_refused(join_mm: float, gap_mm: float) -> None:
    with pytest.raises(ValueError, match="tolerances"):
        mended(drawing(), join_mm, gap_mm)


def test_a_crowd_of_ends_at_one_point_is_joined_in_rounds() -> None:
    """Two by two, whichever way: 41 rays through one point are 20 lines and one ray over."""
    angles = np.linspace(0.0, 2 * np.pi, 41, endpoint=False)
    rays: list[Points] = [[(0.0, 0.0), (30 * np.cos(a), 30 * np.sin(a))] for a in angles.tolist()]
    out = mended(lines(*rays), gap_mm=0.0)
    assert sorted(len(s.paths[0].points) for s in out.shapes) == [2] + [3] * 20


def test_the_spokes_of_a_fine_wheel_all_go_straight_through_its_hub() -> None:
    angles = np.linspace(0.0, 2.0 * np.pi, 1000, endpoint=False)
    spokes = [np.array([[0.0, 0.0], [90.0 * np.cos(a), 90.0 * np.sin(a)]]) for a in angles]
    given = drawing(*(shape(f"spoke {k}", Path(spoke)) for k, spoke in enumerate(spokes)))
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert tally.pieces_joined == 1000
    assert tally.gaps_closed == 0
    middles = [np.abs(s.paths[0].points[[0, -1]].mean(axis=0)).max() for s in out.shapes]
    assert len(middles) == 500
    assert max(middles) < 1e-9


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 2, 0), (2, 0, 1)])
def test_ends_that_meet_are_joined_before_gaps_are_closed(order: tuple[int, ...]) -> None:
    """Two lines make a ring, whose ends are 0.4 mm from a third line until they have met."""
    pieces: list[Points] = [
        [(2.0, 3.0), (0.0, 0.0)],
        [(0.0, 1.0), (2.0, 0.012), (2.4, 3.012)],
        [(0.0, 1.0), (0.0, 0.0), (3.0, 0.0), (2.4, 3.012)],
    ]
    given = lines(*(pieces[k] for k in order))
    out, tally = mend_and_tally(given, join_mm=0.05, gap_mm=0.5)
    assert (tally.closed, tally.gaps_closed) == (1, 0)
    assert sorted(s.paths[0].closed for s in out.shapes) == [False, True]


def test_a_repeat_with_a_doubled_point_is_a_repeat() -> None:
    out = mended(lines([(0, 0), (9, 0)], [(9, 0), (9, 0), (0, 0), (0, 0)]))
    assert [s.name for s in out.shapes] == ["line 0"]
    assert told(out, "repeat-dropped")[0].count == 1


def test_hatching_lines_side_by_side_are_not_connected() -> None:
    hatch: list[Points] = [[(0.0, k * 0.3), (50.0, k * 0.3)] for k in range(20)]
    assert len(mended(lines(*hatch)).shapes) == 20


def test_every_code_has_its_heading_and_every_heading_its_code() -> None:
    root = FilePath(__file__).parents[2]
    page = (root / "docs/help/repair.md").read_text(encoding="utf-8")
    source = "".join(
        file.read_text(encoding="utf-8") for file in (root / "src/kerfwright/repair").glob("*.py")
    )
    codes = set(re.findall(r'"repair/([a-z-]+)"', source))
    assert codes == set(re.findall(r"^## (.+)$", page, re.MULTILINE))
