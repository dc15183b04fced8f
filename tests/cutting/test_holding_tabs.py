"""A part with holding tabs stays in its sheet, and nothing else of its cut is missing."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from cut_parts import KERF_MM, SHARING_SHEETS, circle, grid, machine, part, recipe, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutting.cuts import cut_strokes
from kerfwright.cutting.tabs import HoldingTab, holding_tabs
from kerfwright.findings import Finding
from kerfwright.parts.model import Part
from kerfwright.sequence.order import sequence
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import Toolpath

WIDTH_MM = 0.8
SLATS_MM = 12.0


def recipe_with(**keys: object) -> Recipe:
    return recipe().model_copy(update={"tab_width_mm": WIDTH_MM} | keys)


def tabs_of(
    parts: list[Part],
    asked: int | None = None,
    *,
    slat_spacing_mm: float | None = None,
    **keys: object,
) -> tuple[tuple[HoldingTab, ...], tuple[Finding, ...]]:
    return holding_tabs(
        parts,
        recipe_with(**keys),
        asked=[asked] * len(parts),
        slat_spacing_mm=slat_spacing_mm,
    )


def cut_with(parts: list[Part], tabs: tuple[HoldingTab, ...], **keys: object) -> Toolpath:
    made = cut_strokes(
        parts,
        range(len(parts)),
        recipe_with(**keys),
        merge_mm=KERF_MM / 2,
        shared_edges=True,
        tabs=tabs,
    )
    return sequence(made.strokes, made.before, machine())


def left_on(parts: list[Part], toolpath: Toolpath) -> list[shapely.Polygon]:
    """Pieces of the sheet once the beam has gone over it, as a disc of the kerf's width."""
    points = toolpath.points
    moves = np.flatnonzero(toolpath.burning)
    lines = shapely.linestrings(np.stack([points[moves], points[moves + 1]], axis=1))
    gone = shapely.union_all(shapely.buffer(lines, KERF_MM / 2, quad_segs=16))
    whole = shapely.union_all([one.polygon for one in parts])
    rest = shapely.box(*(np.array(whole.bounds) + np.array([-20, -20, 20, 20]))).difference(gone)
    return list(getattr(rest, "geoms", [rest]))


def loose(parts: list[Part], toolpath: Toolpath) -> list[Part]:
    """Parts that the sheet no longer holds."""
    frame = max(left_on(parts, toolpath), key=lambda piece: shapely.box(*piece.bounds).area)
    return [one for one in parts if not frame.intersects(one.polygon.buffer(-1.0))]


SHAPES = {
    "square": part(rectangle(0, 0, 20)),
    "with a hole": part(rectangle(0, 0, 30), circle(15, 15, 8)),
    "circle": part(circle(0, 0, 15)),
    "comb": part([(0, 0), (30, 0), (30, 20), (20, 20), (20, 8), (10, 8), (10, 20), (0, 20)]),
    "triangle": part([(0, 0), (30, 0), (10, 25)]),
}


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7])
@pytest.mark.parametrize("name", SHAPES)
def test_a_part_hangs_on_as_many_tabs_as_asked(name: str, count: int) -> None:
    parts = [SHAPES[name]]
    tabs, _ = tabs_of(parts, count)
    assert len(tabs) == count
    toolpath = cut_with(parts, tabs)
    assert loose(parts, cut_with(parts, ()))
    assert not loose(parts, toolpath)
    # the beam is off for the width of each tab and one kerf, in the outline only
    off = (toolpath.moves["power"] == 0.0) & (toolpath.moves["speed_mm_s"] == recipe().speed_mm_s)
    assert toolpath.lengths_mm[off].sum() == pytest.approx(count * (WIDTH_MM + KERF_MM), rel=1e-3)


@pytest.mark.parametrize("name", ["square", "comb", "triangle"])
def test_what_stands_is_as_wide_as_asked(name: str) -> None:
    parts = [SHAPES[name]]
    tabs, _ = tabs_of(parts, 3)
    (piece,) = [
        piece
        for piece in left_on(parts, cut_with(parts, tabs))
        if piece.intersects(parts[0].polygon.buffer(-1.0))
    ]
    middle = parts[0].polygon.buffer(KERF_MM / 2, join_style="mitre").exterior
    across = piece.intersection(middle)
    # the tip of a sharp corner, which the beam cuts off outside the part, is no tab
    widths = [one.length for one in shapely.line_merge(across).geoms if one.length > KERF_MM]
    assert widths == pytest.approx([WIDTH_MM] * 3, abs=1e-3)


@pytest.mark.parametrize("name", ["square", "comb", "triangle"])
def test_tabs_keep_off_corners(name: str) -> None:
    corners = shapely.points(SHAPES[name].outline.points)
    tabs, _ = tabs_of([SHAPES[name]], 4)
    away = [shapely.distance(corners, shapely.points(tab.x_mm, tab.y_mm)).min() for tab in tabs]
    assert min(away) >= 1.5 * WIDTH_MM


@pytest.mark.parametrize("count", [2, 3, 4, 6])
@pytest.mark.parametrize("wide_mm", [1.5, 2.8, 6.0])
def test_slots_for_other_parts_are_kept_clear(wide_mm: float, count: int) -> None:
    """A half-lap slot from the top edge down to the middle: a stump in it would keep it open."""
    low, high = 20.0 - wide_mm / 2.0, 20.0 + wide_mm / 2.0
    lap = part([(0, 0), (40, 0), (40, 30), (high, 30), (high, 15), (low, 15), (low, 30), (0, 30)])
    tabs, _ = tabs_of([lap], count)
    assert len(tabs) == count
    slot = shapely.box(low, 15, high, 29.99)
    assert all(slot.distance(shapely.Point(tab.x_mm, tab.y_mm)) > WIDTH_MM for tab in tabs)


def test_a_part_with_room_only_in_a_slot_is_held_there() -> None:
    """A drop with one slot: round outside, so its only straights are the slot's."""
    round_ = shapely.Point(0, 0).buffer(15, quad_segs=64).difference(shapely.box(-2, 5, 2, 20))
    tabs, _ = tabs_of([part(np.array(round_.exterior.coords)[:-1].tolist())], 2)
    assert len(tabs) == 2


def test_tabs_lie_on_straights_where_there_are_any() -> None:
    """A stadium: two straights of 30 mm between half circles."""
    turn = np.linspace(-np.pi / 2, np.pi / 2, 60)
    bow = 10.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    stadium = part([*(bow + np.array([30.0, 0.0])).tolist(), *(-bow).tolist()])
    tabs, _ = tabs_of([stadium], 4)
    assert len(tabs) == 4
    assert all(abs(tab.y_mm) == pytest.approx(10.0) and 0 < tab.x_mm < 30 for tab in tabs)


def test_tabs_are_spread_evenly() -> None:
    tabs, _ = tabs_of([part(circle(0, 0, 20))], 6)
    angles = np.sort([np.degrees(np.arctan2(tab.y_mm, tab.x_mm)) % 360 for tab in tabs])
    assert np.diff(angles) == pytest.approx([60.0] * 5, abs=1.0)


def test_a_square_is_held_in_the_middle_of_its_sides() -> None:
    tabs, _ = tabs_of([SHAPES["square"]], 4)
    middles = {(round(tab.x_mm, 6), round(tab.y_mm, 6)) for tab in tabs}
    assert middles == {(10.0, 0.0), (20.0, 10.0), (10.0, 20.0), (0.0, 10.0)}


def test_the_recipe_says_how_many_and_the_item_overrules_it() -> None:
    square = [SHAPES["square"]]
    assert len(tabs_of(square, tabs=3)[0]) == 3
    assert len(tabs_of(square, 2, tabs=3)[0]) == 2
    assert len(tabs_of(square, 0, tabs=3)[0]) == 0
    assert len(tabs_of(square, tab_spacing_mm=15.0)[0]) == 6
    assert len(tabs_of(square, tabs=3, tab_largest_part_mm=19.0)[0]) == 0
    assert len(tabs_of(square, tabs=3, tab_largest_part_mm=21.0)[0]) == 3
    assert len(tabs_of(square)[0]) == 0


def test_small_parts_are_held_or_told_of() -> None:
    parts = [part(rectangle(0, 0, 40, 8)), part(rectangle(0, 20, 40, 16))]
    tabs, findings = tabs_of(parts, slat_spacing_mm=SLATS_MM)
    assert [tab.y_mm <= 8.0 for tab in tabs] == [True, True]
    assert [finding.code for finding in findings] == ["cutting/holding-tabs"]
    tabs, findings = tabs_of(parts, slat_spacing_mm=SLATS_MM, tab_width_mm=None)
    assert not tabs
    (found,) = findings
    assert (found.code, found.count) == ("cutting/part-may-tip", 1)
    assert (found.x_mm, found.y_mm) == (20.0, 4.0)


def test_no_room_for_tabs_is_said() -> None:
    tiny = [part(rectangle(0, 0, 1.5))]
    tabs, findings = tabs_of(tiny, 4)
    assert len(tabs) < 4
    assert "cutting/no-room-for-tabs" in {finding.code for finding in findings}


def test_all_passes_leave_the_tab() -> None:
    parts = [SHAPES["square"]]
    tabs, _ = tabs_of(parts, 2)
    toolpath = cut_with(parts, tabs, passes=3, overcut_mm=5.0, lead_in_mm=2.0)
    assert not loose(parts, toolpath)
    off = (toolpath.moves["power"] == 0.0) & (toolpath.moves["speed_mm_s"] == recipe().speed_mm_s)
    assert toolpath.lengths_mm[off].sum() == pytest.approx(3 * 2 * (WIDTH_MM + KERF_MM))


@pytest.mark.parametrize("name", SHARING_SHEETS)
def test_parts_that_share_edges_hang_together(name: str) -> None:
    parts = SHARING_SHEETS[name]
    outer = [one for one in parts if one.polygon.area > 30.0]
    tabs, _ = tabs_of(outer, 4)
    assert len(tabs) == 4 * len(outer)
    assert len(loose(outer, cut_with(parts, ()))) == len(outer)
    assert not loose(outer, cut_with(parts, tabs))


def test_blanks_get_none() -> None:
    tabs, findings = tabs_of([part(rectangle(0, 0, 5), blank=True)], 4, slat_spacing_mm=20.0)
    assert not tabs
    assert not findings


def test_copies_beside_each_other_keep_their_own_tabs() -> None:
    parts = grid(3, 2, 12.0)
    tabs, _ = tabs_of(parts, 2)
    toolpath = cut_with(parts, tabs)
    off = (toolpath.moves["power"] == 0.0) & (toolpath.moves["speed_mm_s"] == recipe().speed_mm_s)
    assert toolpath.lengths_mm[off].sum() == pytest.approx(6 * 2 * (WIDTH_MM + KERF_MM))


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.integers(8, 30), min_size=5, max_size=14),
    st.integers(1, 6),
    st.integers(0, 13),
    st.booleans(),
)
def test_any_part_hangs_wherever_its_cut_begins(
    radii: list[int], count: int, entry: int, led: bool
) -> None:
    angles = np.linspace(0.0, 2.0 * np.pi, len(radii), endpoint=False)
    corners = np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]
    parts = [part(corners.tolist())]
    tabs, _ = tabs_of(parts, count)
    made = cut_strokes(
        parts,
        [0],
        recipe_with(lead_in_mm=2.0 if led else 0.0),
        merge_mm=0.0,
        shared_edges=False,
        tabs=tabs,
    )
    (stroke,) = made.strokes
    assert stroke.lay is not None
    assert tabs
    laid = stroke.lay(stroke.path.entered_at(entry % len(stroke.path.points)).line)
    assert not loose(parts, laid)
    off = laid.moves["power"] == 0.0
    assert laid.lengths_mm[off].sum() == pytest.approx(len(tabs) * (WIDTH_MM + KERF_MM), rel=1e-3)
