"""Cut lines that divide a part make parts of what falls apart."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding
from kerfwright.geometry.paths import Path
from kerfwright.parts.model import Part
from kerfwright.parts.processes import give_processes
from kerfwright.parts.recognise import recognise_parts
from kerfwright.repair.mend import mend

LINE = Paint(stroke="#000000")
FILL = Paint(fill="#000000")


def line(*points: tuple[float, float], closed: bool = False) -> Path:
    return Path(np.array(points, dtype=float), closed)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Path:
    return line((x0, y0), (x1, y0), (x1, y1), (x0, y1), closed=True)


def parts_of(*shapes: Shape) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    drawing = mend(Drawing("board.svg", shapes, 200.0, 200.0), join_mm=0.05, gap_mm=0.5)
    processed, _ = give_processes(drawing, [])
    return recognise_parts(processed, drawing, name="tile")


def cut(name: str, *paths: Path) -> Shape:
    return Shape(name, paths, paint=LINE)


def test_a_grid_of_lines_is_a_board_of_tiles() -> None:
    upright = [line((20.0 * n, 0.0), (20.0 * n, 80.0)) for n in range(1, 5)]
    level = [line((0.0, 20.0 * n), (100.0, 20.0 * n)) for n in range(1, 4)]
    parts, findings = parts_of(
        cut("board", rectangle(0, 0, 100, 80)),
        *(cut(f"line {n}", path) for n, path in enumerate([*upright, *level])),
    )
    assert len(parts) == 20
    assert [part.polygon.area for part in parts] == pytest.approx([400.0] * 20, rel=1e-4)
    assert all(len(part.outline.points) == 4 and not part.slits for part in parts)
    assert [f.code for f in findings if f.code == "parts/slit-divides"] == ["parts/slit-divides"]


def test_two_squares_with_one_side_between_them_are_two_parts() -> None:
    sides = [
        line((0, 0), (20, 0)),
        line((20, 0), (40, 0)),
        line((40, 0), (40, 20)),
        line((40, 20), (20, 20)),
        line((20, 20), (0, 20)),
        line((0, 20), (0, 0)),
        line((20, 0), (20, 20)),
    ]
    parts, _ = parts_of(*(cut(f"side {n}", side) for n, side in enumerate(sides)))
    assert sorted(part.polygon.area for part in parts) == pytest.approx([400.0, 400.0], rel=1e-4)


def test_marks_and_slits_go_with_the_tile_that_they_lie_on() -> None:
    parts, findings = parts_of(
        cut("plate", rectangle(0, 0, 60, 30)),
        cut("between", line((30, 0.02), (30, 30))),
        cut("slit", line((40, 10), (50, 10))),
        Shape("star", (rectangle(5, 5, 10, 10),), paint=FILL),
    )
    left, right = sorted(parts, key=lambda part: part.outline.bounds_mm[0])
    assert (len(left.engraves), len(left.slits)) == (1, 0)
    assert (len(right.engraves), len(right.slits)) == (0, 1)
    assert not [finding for finding in findings if finding.severity == "stop"]


def test_a_line_that_ends_inside_divides_nothing() -> None:
    parts, findings = parts_of(
        cut("plate", rectangle(0, 0, 60, 30)), cut("slit", line((30, 0), (30, 25)))
    )
    assert len(parts) == 1
    assert parts[0].slits[0].length_mm == pytest.approx(25.0)
    assert "parts/slit-divides" not in {finding.code for finding in findings}


@given(
    st.lists(
        st.tuples(*[st.floats(-20.0, 120.0).map(lambda x: round(x, 2))] * 4),
        min_size=1,
        max_size=6,
    )
)
def test_nothing_is_lost_and_nothing_overlaps(ends: list[tuple[float, ...]]) -> None:
    """Areas by GEOS. The pieces are the plate again, whatever lines cross it."""
    long = [(x0, y0, x1, y1) for x0, y0, x1, y1 in ends if abs(x1 - x0) + abs(y1 - y0) > 1.0]
    cuts = [cut(f"cut {n}", line(e[:2], e[2:])) for n, e in enumerate(long)]  # type: ignore[arg-type]
    parts, _ = parts_of(cut("plate", rectangle(0, 0, 100, 100)), *cuts)
    plate = box(0, 0, 100, 100)
    together = shapely.union_all([part.polygon for part in parts])
    longest = sum(LineString([e[:2], e[2:]]).length for e in long)
    assert together.symmetric_difference(plate).area <= 0.06 * (longest + 10.0)
    assert sum(part.polygon.area for part in parts) == pytest.approx(together.area, abs=0.1)
