"""Outlines nested in any way are sorted into parts and holes, whatever their order and turn."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import reduce
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import Path
from kerfwright.parts.containment import NO_PARENT, contain
from kerfwright.parts.model import ProcessedShape
from kerfwright.parts.recognise import recognise_parts
from kerfwright.toolpath import Process


@dataclass
class Ring:
    """A regular polygon with others well inside it."""

    x: float
    y: float
    radius: float
    corners: int
    turn: float
    depth: int
    backwards: bool
    name: str = ""
    inside: list[Ring] = field(default_factory=list)

    def at(self, share: float, corner: int = 0) -> tuple[float, float]:
        angle = self.turn + 2 * math.pi * corner / self.corners
        return (
            self.x + share * self.radius * math.cos(angle),
            self.y + share * self.radius * math.sin(angle),
        )

    @property
    def path(self) -> Path:
        points = np.array([self.at(1.0, corner) for corner in range(self.corners)])
        return Path(points[::-1].copy() if self.backwards else points, closed=True)

    @property
    def all(self) -> list[Ring]:
        return [self, *(ring for inner in self.inside for ring in inner.all)]


@st.composite
def nests(draw: st.DrawFn) -> list[Ring]:
    rings: list[Ring] = []

    def ring(x: float, y: float, radius: float, depth: int) -> Ring:
        one = Ring(
            x,
            y,
            radius,
            draw(st.integers(4, 9)),
            draw(st.floats(0.0, 6.3)),
            depth,
            draw(st.booleans()),
            f"ring {len(rings)}",
        )
        rings.append(one)
        count = draw(st.integers(0, 4)) if depth < 4 and len(rings) < 40 else 0
        free = one.radius * math.cos(math.pi / one.corners)
        away = 0.0 if count == 1 else free / 2
        room = 0.8 * free if count == 1 else 0.9 * away * math.sin(math.pi / max(count, 2))
        for n in range(count):
            angle = one.turn + 2 * math.pi * n / count
            inner = ring(x + away * math.cos(angle), y + away * math.sin(angle), room, depth + 1)
            one.inside.append(inner)
        return one

    return [ring(20000.0 * n, 0.0, 9000.0, 0) for n in range(draw(st.integers(1, 3)))]


def processed(name: str, process: Process, *paths: Path, fill: str | None = None) -> ProcessedShape:
    paint = Paint(fill=fill, stroke=None if fill else "#000000")
    return ProcessedShape(Shape(name, paths, "", paint), process, "given")


def drawing() -> Drawing:
    return Drawing("nest.svg", (), 100.0, 100.0)


@given(nest=nests(), data=st.data())
@settings(max_examples=60)
def test_parts_holes_and_marks_are_recovered(nest: list[Ring], data: st.DataObject) -> None:
    rings = [ring for top in nest for ring in top.all]
    solid = [ring for ring in rings if ring.depth % 2 == 0]
    shapes = [processed(ring.name, Process.CUT, ring.path) for ring in rings]
    for ring in solid:
        (x, y), size = ring.at(0.97), 0.004 * ring.radius
        dot = np.array([[x, y], [x + size, y], [x, y + size]])
        shapes.append(
            processed(f"mark {ring.name}", Process.ENGRAVE, Path(dot, True), fill="#111111")
        )
        (x, y) = ring.at(0.97, 1)
        shapes.append(
            processed(f"line {ring.name}", Process.SCORE, Path(np.array([[x, y], [x, y + size]])))
        )
    parts, findings = recognise_parts(data.draw(st.permutations(shapes)), drawing(), name="part")
    assert findings == ()

    def key(points: np.ndarray) -> tuple[float, float, float]:
        return (*points.mean(axis=0).round(3).tolist(), round(float(np.ptp(points)), 3))

    found = {
        key(part.outline.points): (
            {key(hole.points) for hole in part.holes},
            {mark.shape for mark in part.engraves} | {mark.shape for mark in part.scores},
        )
        for part in parts
    }
    wanted = {
        key(ring.path.points): (
            {key(hole.path.points) for hole in ring.inside},
            {f"mark {ring.name}", f"line {ring.name}"},
        )
        for ring in solid
    }
    assert found == wanted
    assert all(part.outline.signed_area_mm2 > 0 for part in parts)
    assert all(hole.signed_area_mm2 < 0 for part in parts for hole in part.holes)


@given(nest=nests(), data=st.data())
@settings(max_examples=30)
def test_area_of_parts_is_the_even_odd_area_of_all_lines(
    nest: list[Ring], data: st.DataObject
) -> None:
    """The even-odd area is computed by shapely's symmetric difference, not by depth."""
    rings = data.draw(st.permutations([ring for top in nest for ring in top.all]))
    parts, _ = recognise_parts(
        [processed(ring.name, Process.CUT, ring.path) for ring in rings], drawing(), name="part"
    )
    even_odd = reduce(shapely.symmetric_difference, (Polygon(r.path.points) for r in rings))
    assert sum(part.polygon.area for part in parts) == pytest.approx(even_odd.area, rel=1e-9)


@given(nest=nests(), data=st.data())
@settings(max_examples=30)
def test_parent_and_depth(nest: list[Ring], data: st.DataObject) -> None:
    rings = data.draw(st.permutations([ring for top in nest for ring in top.all]))
    lying = contain([Polygon(ring.path.points) for ring in rings])
    around = {inner.name: outer.name for outer in rings for inner in outer.inside}
    for n, ring in enumerate(rings):
        parent = int(lying.parent[n])
        assert (None if parent == NO_PARENT else rings[parent].name) == around.get(ring.name)
        assert lying.depth[n] == ring.depth


def test_a_turn_too_small_for_the_geometry_library_does_no_harm() -> None:
    """Overlaps of 1e-305 mm, which it cannot offset."""
    x, turn = np.array([0.0, 16.625, 33.25, 49.875, 66.5]), rotation(2.447849293563104e-305)
    edges = [*pairwise(x), (x[0], x[-1])]
    boxes = [np.array([[a, 0.0], [b, 0.0], [b, 2.0], [a, 2.0]]) for a, b in edges]
    lying = contain([Polygon(turn.apply(box)) for box in boxes])
    assert list(lying.frames) == [len(boxes) - 1]
    assert not lying.crossings


@given(
    columns=st.integers(1, 6),
    rows=st.integers(1, 6),
    width=st.floats(2.0, 80.0),
    height=st.floats(2.0, 80.0),
    turn_deg=st.floats(0.0, 360.0),
    framed=st.booleans(),
    data=st.data(),
)
@settings(max_examples=40)
def test_parts_edge_to_edge_are_neighbours_and_a_frame_they_fill_is_none(
    columns: int,
    rows: int,
    width: float,
    height: float,
    turn_deg: float,
    framed: bool,
    data: st.DataObject,
) -> None:
    """Turning leaves rounding errors, so that common edges overlap or gape by them."""

    def box(x0: float, y0: float, x1: float, y1: float) -> Path:
        corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
        return Path(rotation(turn_deg).apply(corners * (width, height)), closed=True)

    shapes = [
        processed(f"{c},{r}", Process.CUT, box(c, r, c + 1, r + 1))
        for c in range(columns)
        for r in range(rows)
    ]
    several = len(shapes) > 1
    if framed and several:
        shapes.append(processed("frame", Process.CUT, box(0, 0, columns, rows)))
    parts, findings = recognise_parts(data.draw(st.permutations(shapes)), drawing(), name="p")
    assert len(parts) == columns * rows
    assert not any(part.holes for part in parts)
    told = ["parts/frame-filled"] if framed and several else []
    assert [finding.code for finding in findings] == told


def test_a_tray_keeps_its_hole_when_parts_fill_it() -> None:
    def box(x0: float, y0: float, x1: float, y1: float) -> Path:
        return Path(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float), closed=True)

    tray = processed("tray", Process.CUT, box(0, 0, 100, 60))
    hole = processed("hole", Process.CUT, box(10, 10, 90, 50))
    left = processed("left", Process.CUT, box(10, 10, 40, 50))
    right = processed("right", Process.CUT, box(40, 10, 90, 50))
    parts, _ = recognise_parts((tray, hole, left, right), drawing(), name="p")
    assert sorted(part.polygon.area for part in parts) == [1200.0, 2000.0, 2800.0]
    assert sum(len(part.holes) for part in parts) == 1


def test_many_outlines_are_sorted() -> None:
    """A plate with 2500 ring-shaped inlays: as many parts and holes, and nothing mixed up."""
    angles = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    circle = np.column_stack([np.cos(angles), np.sin(angles)])
    shapes = [
        processed(
            "plate",
            Process.CUT,
            Path(np.array([[-10.0, -10.0], [600.0, -10.0], [600.0, 600.0], [-10.0, 600.0]]), True),
        )
    ]
    for n in range(2500):
        centre = np.array([12.0 * (n % 50), 12.0 * (n // 50)])
        shapes += [
            processed(f"{name} {n}", Process.CUT, Path(centre + radius * circle, closed=True))
            for name, radius in (("hole", 5.0), ("inlay", 4.0), ("eye", 1.0))
        ]
    parts, findings = recognise_parts(shapes, drawing(), name="part")
    assert findings == ()
    assert len(parts) == 2501
    assert sorted({len(part.holes) for part in parts}) == [1, 2500]


def test_edges_that_run_along_each_other_but_for_a_rounding_error() -> None:
    """A turn at which the geometry library alone gave up on two neighbours of six."""
    turned = rotation(5.4545318681929915)

    def box(x0: float, y0: float, x1: float, y1: float) -> Path:
        corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
        return Path(turned.apply(corners * 2.0), closed=True)

    shapes = [
        processed(f"{c},{r}", Process.CUT, box(c, r, c + 1, r + 1))
        for c in range(4)
        for r in range(2)
    ]
    shapes.append(processed("frame", Process.CUT, box(0, 0, 4, 2)))
    parts, findings = recognise_parts(shapes, drawing(), name="p")
    assert len(parts) == 8
    assert [finding.code for finding in findings] == ["parts/frame-filled"]
