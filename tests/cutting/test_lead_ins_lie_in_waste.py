"""The beam goes on in the waste, comes into the cut from there, and burns no part on its way."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from cut_parts import KERF_MM, SHARING_SHEETS, circle, machine, part, recipe, rectangle, turned
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutting.cuts import CutWork, cut_strokes
from kerfwright.findings import Severity
from kerfwright.geometry.paths import Path
from kerfwright.motion.timing import time_toolpath
from kerfwright.parts.model import Part
from kerfwright.sequence.order import sequence
from kerfwright.toolpath import MoveKind, Toolpath

LENGTH_MM = 3.0
PIERCE_S = 0.4
ROUNDING_MM = 0.011


def work(
    parts: list[Part], *, sheet_mm: tuple[float, float] | None = None, **keys: object
) -> CutWork:
    settings_ = {"lead_in": "line", "lead_in_mm": LENGTH_MM, "pierce_s": PIERCE_S} | keys
    return cut_strokes(
        parts,
        range(len(parts)),
        recipe().model_copy(update=settings_),
        merge_mm=KERF_MM / 2,
        shared_edges=True,
        sheet_mm=sheet_mm,
    )


def planned(made: CutWork) -> Toolpath:
    return sequence(made.strokes, made.before, machine())


def starts(toolpath: Toolpath) -> list[int]:
    """Moves before which the beam stands and pierces."""
    return np.flatnonzero(toolpath.moves["dwell_s"] > 0.0).tolist()


def burned(toolpath: Toolpath) -> shapely.Geometry:
    points = toolpath.points
    moves = np.flatnonzero(toolpath.burning)
    return shapely.union_all(shapely.linestrings(np.stack([points[moves], points[moves + 1]], 1)))


def material(parts: list[Part]) -> shapely.Geometry:
    return shapely.union_all([one.polygon for one in parts])


SCATTERED = [
    part(rectangle(10, 10, 40), circle(30, 30, 10.0), rectangle(11.5, 11.5, 8)),
    part(circle(90, 30, 20.0)),
    part([(120, 10), (150, 10), (150, 40), (140, 40), (140, 20), (130, 20), (130, 40), (120, 40)]),
    part(rectangle(28, 28, 5)),
]


@pytest.mark.parametrize("shape", ["line", "arc"])
@pytest.mark.parametrize("angle_deg", [0.0, 33.0])
def test_no_lead_in_burns_any_part(shape: str, angle_deg: float) -> None:
    parts = turned(SCATTERED, angle_deg)
    made = work(parts, lead_in=shape)
    toolpath = planned(made)
    assert len(starts(toolpath)) == len(made.strokes) == 6
    # the middle of the beam keeps half a kerf from all parts, all along
    assert burned(toolpath).distance(material(parts)) >= KERF_MM / 2 - ROUNDING_MM
    spots = shapely.points(toolpath.points[starts(toolpath)])
    assert (shapely.distance(spots, material(parts)) >= KERF_MM / 2 + 0.45 * LENGTH_MM - 1e-9).all()


@pytest.mark.parametrize("shape", ["line", "arc"])
def test_a_lead_in_is_as_long_as_asked_and_reaches_the_cut(shape: str) -> None:
    made = work(SCATTERED, lead_in=shape)
    for stroke in made.strokes:
        assert stroke.lay is not None
        laid = stroke.lay(stroke.path.line)
        more_mm = laid.lengths_mm.sum() - stroke.path.length_mm
        assert more_mm == pytest.approx(LENGTH_MM, rel=5e-3)
        line = shapely.linestrings(stroke.path.line)
        assert line.distance(shapely.points(laid.end_mm)) < 1e-9


def test_an_arc_comes_into_the_cut_in_its_direction() -> None:
    (stroke,) = work([part(circle(50, 50, 20.0))], lead_in="arc").strokes
    assert stroke.lay is not None
    laid = stroke.lay(stroke.path.line)
    directions = np.diff(laid.points, axis=0)
    turns = [
        abs(math.degrees(math.remainder(math.atan2(b[1], b[0]) - math.atan2(a[1], a[0]), math.tau)))
        for a, b in itertools.pairwise(directions)
    ]
    # no turn anywhere is sharper than the steps of the quarter circle itself
    assert max(turns) < 15.0


def test_where_a_hole_is_too_small_the_lead_in_is_shorter() -> None:
    made = work([part(rectangle(0, 0, 30), rectangle(10, 10, 2.5))])
    hole = next(stroke for stroke in made.strokes if stroke.path.length_mm < 20.0)
    assert hole.lay is not None
    more_mm = hole.lay(hole.path.line).lengths_mm.sum() - hole.path.length_mm
    assert 0.0 < more_mm < LENGTH_MM
    assert not made.findings


def test_where_there_is_no_room_at_all_that_is_said() -> None:
    made = work([part(rectangle(0, 0, 30), rectangle(10, 10, 0.5))])
    (found,) = made.findings
    assert (found.code, found.severity) == ("cutting/no-room-for-lead-in", Severity.NOTE)
    assert (found.x_mm, found.y_mm) == pytest.approx((10.25, 10.25))
    toolpath = planned(made)
    assert (
        burned(toolpath).distance(material([part(rectangle(0, 0, 30), rectangle(10, 10, 0.5))]))
        > 0.0
    )
    # it still pierces, on the line
    assert len(starts(toolpath)) == 2


def test_another_entry_is_taken_where_a_neighbour_stands_in_the_way() -> None:
    parts = [part(rectangle(0, 0, 20)), part(rectangle(-12, 22.0, 60, 10))]
    made = work(parts)
    ring = made.strokes[0]
    corner = int(np.hypot(*(ring.path.points - [0.0, 20.0]).T).argmin())
    line = ring.path.entered_at(corner).line
    assert ring.lay is not None
    laid = ring.lay(line)
    way = shapely.linestrings(laid.points[:2])
    assert way.length == pytest.approx(LENGTH_MM)
    assert way.distance(material(parts)) >= KERF_MM / 2 - ROUNDING_MM


def test_lead_ins_stay_on_the_sheet() -> None:
    parts = [part(rectangle(0.5, 0.5, 20))]
    toolpath = planned(work(parts, sheet_mm=(60.0, 60.0)))
    assert (toolpath.points >= 0.0).all()
    assert toolpath.moves["dwell_s"].sum() == PIERCE_S
    off = planned(work(parts))
    assert len(starts(off)) == 1


@given(
    angle_deg=st.floats(0.0, 360.0),
    edge_mm=st.floats(0.2, 4.0),
    length_mm=st.floats(1.0, 60.0),
)
@settings(max_examples=40, deadline=None)
def test_no_point_of_an_arc_leaves_the_sheet(
    angle_deg: float, edge_mm: float, length_mm: float
) -> None:
    (tile,) = turned([part(rectangle(0, 0, 20))], angle_deg)
    x0, y0, x1, y1 = tile.polygon.bounds
    corners = tile.outline.points + np.array([edge_mm - x0, edge_mm - y0])
    parts = [part([(x, y) for x, y in corners.tolist()])]
    sheet_mm = (x1 - x0 + 2.0 * edge_mm, y1 - y0 + 2.0 * edge_mm)
    toolpath = planned(work(parts, sheet_mm=sheet_mm, lead_in="arc", lead_in_mm=length_mm))
    x, y = toolpath.points[1:].T
    assert min(x.min(), y.min(), (sheet_mm[0] - x).min(), (sheet_mm[1] - y).min()) >= 0.0


def test_blanks_and_their_holes_are_kept_clear() -> None:
    cut, blank = part(rectangle(0, 0, 20)), part(rectangle(21.0, -40, 30, 100), blank=True)
    made = work([cut, blank], sheet_mm=None)
    assert burned(planned(made)).distance(blank.polygon) >= KERF_MM / 2


@pytest.mark.parametrize("name", SHARING_SHEETS)
def test_parts_that_share_edges_keep_their_material(name: str) -> None:
    parts = SHARING_SHEETS[name]
    plain, led = work(parts, lead_in="none"), work(parts)
    kept = material(parts).buffer(-KERF_MM / 2 + ROUNDING_MM)
    bare = burned(planned(plain)).buffer(1e-6)
    more = burned(planned(led)).difference(bare)
    assert more.length > 0.0
    # whatever is burned more than the lines themselves lies in waste
    assert more.distance(material(parts)) >= KERF_MM / 2 - ROUNDING_MM or more.disjoint(kept)
    assert more.intersection(material(parts)).length < 1e-3


@pytest.mark.parametrize("shape", ["line", "arc"])
def test_without_a_kerf_lead_ins_come_from_the_waste_too(shape: str) -> None:
    square = part(rectangle(0, 0, 20), rectangle(5, 5, 10))
    made = work([square], lead_in=shape, kerf_mm=0.0)
    assert not made.findings
    toolpath = planned(made)
    assert len(starts(toolpath)) == 2
    spots = shapely.points(toolpath.points[starts(toolpath)])
    assert (shapely.distance(spots, square.polygon) >= 0.45 * LENGTH_MM - 1e-9).all()
    assert burned(toolpath).intersection(square.polygon.buffer(-0.02)).is_empty


def test_slits_have_no_lead_in() -> None:
    slit = Path(np.array([(5.0, 5.0), (25.0, 6.0)]))
    made = work([part(rectangle(0, 0, 40), slits=(slit,))])
    laid = next(s for s in made.strokes if not s.path.closed)
    assert laid.lay is not None
    assert laid.lay(slit.points).start_mm == (5.0, 5.0)
    assert not made.findings


def test_piercing_takes_its_time() -> None:
    parts = [part(rectangle(0, 0, 20)), part(rectangle(40, 0, 20))]
    with_pierce, without = (planned(work(parts, pierce_s=s)) for s in (PIERCE_S, 0.0))
    one, other = (time_toolpath(way, machine()) for way in (with_pierce, without))
    assert one.wait_s - other.wait_s == pytest.approx(2 * PIERCE_S)
    assert one.total_s >= other.total_s + 2 * PIERCE_S


def test_the_closing_overlap_goes_over_the_beginning() -> None:
    (stroke,) = work([part(rectangle(0, 0, 20))], overcut_mm=2.0, passes=2).strokes
    assert stroke.lay is not None
    laid = stroke.lay(stroke.path.line)
    expected = LENGTH_MM + 2 * stroke.path.length_mm + 2.0
    assert laid.lengths_mm.sum() == pytest.approx(expected)


def test_each_pass_is_focused_deeper() -> None:
    slit = Path(np.array([(5.0, 5.0), (25.0, 6.0)]))
    made = work([part(rectangle(0, 0, 40), slits=(slit,))], passes=3, focus_step_mm=0.5)
    for stroke in made.strokes:
        assert stroke.lay is not None
        laid = stroke.lay(stroke.path.line)
        z = laid.moves["z_mm"]
        assert np.unique(z).tolist() == [-1.0, -0.5, 0.0]
        assert (np.diff(z) <= 0.0).all()
        for depth in (-0.5, -1.0):
            length = laid.lengths_mm[z == depth].sum()
            assert length == pytest.approx(stroke.path.length_mm)


def test_setting_the_focus_takes_time() -> None:
    slow = machine().model_copy(update={"focus_speed_mm_s": 2.0})
    made = work([part(rectangle(0, 0, 20))], passes=2, focus_step_mm=0.5, pierce_s=0.0)
    flat = work([part(rectangle(0, 0, 20))], passes=2, pierce_s=0.0)
    deep, level = (time_toolpath(planned(one), slow) for one in (made, flat))
    assert deep.wait_s - level.wait_s == pytest.approx(0.25)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.integers(6, 30), min_size=5, max_size=16),
    st.sampled_from(["line", "arc"]),
    st.floats(0.5, 8.0),
    st.integers(0, 30),
)
def test_any_part_keeps_all_its_material(
    radii: list[int], shape: str, length_mm: float, entry: int
) -> None:
    angles = np.linspace(0.0, 2.0 * np.pi, len(radii), endpoint=False)
    corners = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]
    star = part(corners.tolist(), circle(0.0, 0.0, 2.0))
    made = work([star], lead_in=shape, lead_in_mm=length_mm)
    for stroke in made.strokes:
        line = stroke.path.entered_at(entry % len(stroke.path.points)).line
        for way in (line, line[::-1]):
            assert stroke.lay is not None
            laid = stroke.lay(way)
            beam = shapely.linestrings(laid.points)
            assert beam.distance(star.polygon) >= KERF_MM / 2 - ROUNDING_MM
            whole = shapely.linestrings(stroke.path.line)
            assert whole.difference(beam.buffer(1e-6)).length < 1e-3


def test_without_any_of_it_cuts_stay_plain_lines() -> None:
    made = work(SCATTERED, lead_in_mm=0.0, pierce_s=0.0)
    assert all(stroke.lay is None for stroke in made.strokes)
    assert set(planned(made).moves["kind"].tolist()) == {MoveKind.TRAVEL, MoveKind.CUT}
