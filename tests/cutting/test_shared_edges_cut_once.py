"""An edge that two parts share is cut once, and every part still gets all of its edge."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from cut_parts import (
    KERF_MM,
    SHARING_SHEETS,
    circle,
    cut,
    grid,
    hexagons,
    lines,
    part,
    rectangle,
    turned,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.parts.model import Part

WAVE_MM = 40.0


def wave(corners: int) -> list[tuple[float, float]]:
    x = np.linspace(0.0, WAVE_MM, corners)
    return list(zip(x.tolist(), (4.0 * np.sin(x / WAVE_MM * 4.0 * np.pi)).tolist(), strict=True))


def waves(apart: float, corners: tuple[int, int]) -> list[Part]:
    """Two parts with a wavy edge between them, flattened each in its own way."""
    lower = [(0.0, -20.0), (WAVE_MM, -20.0), *reversed(wave(corners[0]))]
    upper = shapely.Polygon([*wave(corners[1]), (WAVE_MM, 20.0), (0.0, 20.0)])
    if apart:
        upper = upper.difference(shapely.Polygon(lower).buffer(apart, quad_segs=64))
    return [part(lower), part(list(upper.exterior.coords)[:-1])]


SHEETS = {
    **SHARING_SHEETS,
    "wavy edge that touches": waves(0.0, (300, 300)),
    "wavy edge, other corners": waves(0.0, (300, 223)),
    "wavy edge one kerf apart": waves(KERF_MM, (300, 223)),
    "apart": [part(rectangle(0, 0, 10)), part(circle(30, 5, 5.0), rectangle(28, 3, 2))],
}


def all_edges_cut(parts: list[Part], cuts: shapely.Geometry, within_mm: float) -> None:
    shapely.prepare(cuts)
    for one in parts:
        for edge in (one.outline, *one.holes):
            ring = shapely.segmentize(shapely.linestrings(edge.line), 0.3)
            points = shapely.points(shapely.get_coordinates(ring))
            assert float(shapely.distance(points, cuts).max()) <= within_mm


@pytest.mark.parametrize("name", SHEETS)
def test_every_wanted_edge_is_cut_and_no_line_twice(name: str) -> None:
    work = cut(SHEETS[name])
    cuts = lines(work.strokes)
    # at corners the beam line is a mitre away
    all_edges_cut(SHEETS[name], cuts, KERF_MM / 2 * math.sqrt(2.0) + 0.02)
    assert work.cut_mm == pytest.approx(cuts.length, abs=1e-3)
    assert work.cut_mm == pytest.approx(sum(s.path.length_mm for s in work.strokes))
    assert work.shared_mm <= work.cut_mm <= work.separate_mm + 1e-6


@pytest.mark.parametrize("name", SHEETS)
def test_straight_edges_are_cut_half_a_kerf_away_or_on_the_line(name: str) -> None:
    cuts = lines(cut(SHEETS[name]).strokes)
    for one in SHEETS[name]:
        edge = one.outline.line
        middles = shapely.points((edge[:-1] + edge[1:]) / 2)
        assert float(shapely.distance(middles, cuts).max()) <= KERF_MM / 2 + 0.02


def test_grid_one_kerf_apart_keeps_every_size() -> None:
    parts = grid(5, 4, 10.0 + KERF_MM)
    work = cut(parts)
    kept = shapely.union_all([one.polygon for one in parts]).buffer(-1e-3, join_style="mitre")
    burned = lines(work.strokes).buffer(KERF_MM / 2 - 1e-3, cap_style="flat")
    assert burned.intersection(kept).area < 1e-6
    # 6 lines up of 4 pitches and 5 lines across of 5 pitches, no line twice
    pitch = 10.0 + KERF_MM
    assert work.cut_mm == pytest.approx(6 * 4 * pitch + 5 * 5 * pitch)
    assert work.shared_mm == pytest.approx(4 * 4 * pitch + 3 * 5 * pitch)
    assert work.separate_mm == pytest.approx(20 * 4 * pitch)


def test_grid_that_touches_is_cut_along_the_drawn_lines_between() -> None:
    work = cut(grid(5, 4, 10.0))
    assert work.shared_mm == pytest.approx(4 * 40.0 + 3 * 50.0)
    around = 2 * (50.0 + KERF_MM) + 2 * (40.0 + KERF_MM)
    assert work.cut_mm == pytest.approx(work.shared_mm + around)


def test_hexagons_share_every_inner_side() -> None:
    work = cut(hexagons(5, 4, 0.0), kerf_mm=0.0, merge_mm=0.01)
    # sides of 20 hexagons; neighbours: 4 in each of 4 rows, and 9 between each two rows
    shared = 4 * 4 + 3 * 9
    assert work.separate_mm == pytest.approx(20 * 60.0)
    assert work.shared_mm == pytest.approx(shared * 10.0)
    assert work.cut_mm == pytest.approx((120 - shared) * 10.0)


@pytest.mark.parametrize("corners", [(300, 300), (300, 223), (1000, 77)])
def test_a_wavy_edge_is_found_however_it_is_flattened(corners: tuple[int, int]) -> None:
    length = shapely.LineString(wave(2000)).length
    assert cut(waves(0.0, corners)).shared_mm == pytest.approx(length, rel=5e-3)


@pytest.mark.parametrize("name", SHEETS)
def test_nothing_is_merged_when_it_is_switched_off(name: str) -> None:
    work = cut(SHEETS[name], shared_edges=False)
    assert work.shared_mm == 0.0
    assert work.cut_mm == pytest.approx(work.separate_mm)
    sources = {s.source for s in work.strokes}
    assert sources == set(range(len(SHEETS[name])))
    assert all(stroke.path.closed for stroke in work.strokes)


def test_a_part_one_kerf_inside_a_hole_shares_its_edge() -> None:
    plate = part(rectangle(0, 0, 40), rectangle(10, 10, 20))
    work = cut([plate, part(rectangle(10 + KERF_MM, 10 + KERF_MM, 20 - 2 * KERF_MM))])
    assert work.shared_mm == pytest.approx(4 * (20 - KERF_MM))
    assert work.cut_mm == pytest.approx(4 * (40 + KERF_MM) + 4 * (20 - KERF_MM))
    assert not work.findings


def test_parts_that_meet_at_a_corner_share_nothing() -> None:
    work = cut([part(rectangle(0, 0, 10)), part(rectangle(10, 10, 10))])
    assert work.shared_mm == 0.0
    assert len(work.strokes) == 2


@settings(max_examples=30, deadline=None)
@given(
    cells=st.lists(
        st.tuples(st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=12, unique=True
    ),
    apart=st.sampled_from([0.0, KERF_MM]),
    angle_deg=st.sampled_from([0.0, 33.0]),
)
def test_any_set_of_squares_is_cut_completely(
    cells: list[tuple[int, int]], apart: float, angle_deg: float
) -> None:
    pitch = 10.0 + apart
    parts = turned([part(rectangle(x * pitch, y * pitch, 10.0)) for x, y in cells], angle_deg)
    work = cut(parts)
    all_edges_cut(parts, lines(work.strokes), KERF_MM / 2 * math.sqrt(2.0) + 0.02)
    between = sum((x + 1, y) in cells for x, y in cells) + sum(
        (x, y + 1) in cells for x, y in cells
    )
    assert work.shared_mm == pytest.approx(between * 10.0, abs=between * 2.5 * KERF_MM)
