"""Nesting against what is known without it: counting on grids, areas and distances by shapely.

The grid counts are arithmetic: n parts of width w at spacing s need n·w + (n − 1)·s.
"""

from __future__ import annotations

import itertools

import pytest
import shapely
from shapely import Point, Polygon, box
from shapely.affinity import affine_transform

from kerfwright.nesting import strip as strip_module
from kerfwright.nesting.model import Body, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.strip import StripPiece, solve_strip

QUARTERS = (0.0, 90.0, 180.0, 270.0)


@pytest.mark.parametrize(
    ("width_mm", "height_mm", "columns", "rows", "spacing_mm", "margin_mm"),
    [
        (10.0, 10.0, 10, 10, 0.0, 0.0),
        (10.0, 10.0, 10, 10, 1.0, 5.0),
        (50.0, 30.0, 4, 7, 2.5, 10.0),
        (0.3, 0.1, 7, 9, 0.05, 0.1),
        (33.3, 77.7, 9, 3, 0.0, 3.3),
    ],
)
def test_a_grid_that_fits_exactly_is_found(
    width_mm: float,
    height_mm: float,
    columns: int,
    rows: int,
    spacing_mm: float,
    margin_mm: float,
) -> None:
    sheet = SheetSize(
        "exact",
        columns * width_mm + (columns - 1) * spacing_mm + 2 * margin_mm,
        rows * height_mm + (rows - 1) * spacing_mm + 2 * margin_mm,
        3,
    )
    plate = Body("plate", (box(0, 0, width_mm, height_mm),), 2 * columns * rows, QUARTERS)
    layouts = nest(
        [plate], [sheet], spacing_mm=spacing_mm, margin_mm=margin_mm, seconds=0.1, seed=1
    )
    assert [len(layout.placements) for layout in layouts.sheets] == [columns * rows] * 2
    used = columns * rows * width_mm * height_mm / (sheet.width_mm * sheet.height_mm)
    assert layouts.sheets[0].used_fraction == pytest.approx(used)


def test_distances_and_margins_hold_by_shapely() -> None:
    shapes = [
        Point(200, 90).buffer(17.0, quad_segs=300),
        Polygon([(0, 0), (60, 5), (55, 12), (10, 12), (10, 50), (0, 50)]),
        Polygon([(0, 0), (35, 0), (17, 30)]),
    ]
    bodies = [Body(f"shape {i}", (shape,), 6, QUARTERS) for i, shape in enumerate(shapes)]
    sheet = SheetSize("board", 250.0, 180.0, 4)
    layouts = nest(bodies, [sheet], spacing_mm=3.0, margin_mm=8.0, seconds=0.3, seed=1)
    assert not layouts.unplaced
    for layout in layouts.sheets:
        placed = []
        for p in layout.placements:
            t = p.transform
            matrix = [t.a, t.c, t.b, t.d, t.e, t.f]
            placed.append(affine_transform(shapes[p.body], matrix))
        for one, other in itertools.combinations(placed, 2):
            assert one.distance(other) >= 3.0 - 1e-6
        usable = box(8.0 - 1e-6, 8.0 - 1e-6, 242.0 + 1e-6, 172.0 + 1e-6)
        assert all(usable.contains(part) for part in placed)
        area = sum(part.area for part in placed)
        assert layout.used_fraction == pytest.approx(area / (250.0 * 180.0))


@pytest.fixture(params=["ours", "engine"])
def strip_search(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both searches for strips; the engine does what has too many different outlines for ours."""
    if request.param == "engine":
        monkeypatch.setattr(strip_module, "MOST_OUTLINES", 0)


@pytest.mark.usefixtures("strip_search")
def test_squares_fill_the_strip_to_its_known_length() -> None:
    # three rows of four 10 mm squares fill a strip of 30 mm: no strip can be shorter than 40 mm
    ring = shapely.get_coordinates(box(0, 0, 10, 10))[:-1]
    strip = solve_strip([StripPiece(ring, 12, (0.0,))], 30.0, spacing_mm=0.0, seconds=2.0, seed=1)
    assert 40.0 - 1e-6 <= strip.width_mm < 40.1
    assert strip.density == pytest.approx(1200.0 / (strip.width_mm * 30.0))
    assert all(-1e-6 <= s.y_mm <= 20.0 + 1e-6 for s in strip.spots)


@pytest.mark.usefixtures("strip_search")
def test_a_strip_keeps_spacing_between_pieces_and_none_to_the_edge() -> None:
    ring = shapely.get_coordinates(box(5.0, 5.0, 15.0, 15.0))[:-1]
    # two squares of 10 and a spacing of 2 fill a height of 22
    strip = solve_strip([StripPiece(ring, 4, (0.0,))], 22.0, spacing_mm=2.0, seconds=2.0, seed=1)
    assert strip.width_mm == pytest.approx(22.0, abs=0.1)
    assert all(-1e-6 <= s.y_mm + 5.0 <= 12.0 + 1e-6 for s in strip.spots)
    placed = [box(s.x_mm + 5, s.y_mm + 5, s.x_mm + 15, s.y_mm + 15) for s in strip.spots]
    for one, other in itertools.combinations(placed, 2):
        assert one.distance(other) >= 2.0 - 1e-3
