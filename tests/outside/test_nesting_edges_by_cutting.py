"""The matched length of a layout is what is saved when the beam lines are laid over each other.

Two ways that know nothing of each other: edges compared while placing, and the arrangement of all
compensated cuts. The lengths of grids are arithmetic: a × b tiles share
(a - 1)·b + a·(b - 1) sides.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from kerfwright.cutting.cuts import cut_strokes
from kerfwright.geometry.paths import Path
from kerfwright.nesting.edge_matching import match_edges, matched_mm
from kerfwright.nesting.model import Body, Placement
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe

KERF_MM = 0.2
HEXAGON = Polygon([(30 * math.cos(a), 30 * math.sin(a)) for a in np.arange(6) * math.pi / 3])
TRIANGLE = Polygon([(0, 0), (40, 0), (20, 20 * math.sqrt(3))])
SIXTHS = tuple(60.0 * i for i in range(6))


def cut_saved_mm(bodies: list[Body], placements: tuple[Placement, ...]) -> float:
    parts = []
    for i, p in enumerate(placements):
        shape = shapely.transform(bodies[p.body].footprint[0], p.transform.apply)
        ring = shapely.get_coordinates(shapely.geometry.polygon.orient(shape))[:-1]
        parts.append(Part(f"part {i}", "p.dxf", Path(ring, closed=True)))
    recipe = Recipe(machine="trial", process="cut", speed_mm_s=10.0, power=0.5, kerf_mm=KERF_MM)
    work = cut_strokes(parts, range(len(parts)), recipe, merge_mm=0.05, shared_edges=True)
    return work.separate_mm - work.cut_mm


@pytest.mark.parametrize(
    "body",
    [
        Body("tile", (box(0, 0, 40, 40),), 15, (0.0,)),
        Body("plate", (box(0, 0, 50, 30),), 14, (0.0, 90.0)),
        Body("triangle", (TRIANGLE,), 16, SIXTHS),
        Body("hexagon", (HEXAGON,), 10, SIXTHS),
    ],
    ids=lambda body: body.name,
)
def test_placing_and_cutting_agree(body: Body) -> None:
    found = match_edges(
        [body],
        Counter({0: body.quantity}),
        box(0, 0, 300, 200),
        kerf_mm=KERF_MM,
        spacing_mm=1.0,
        work=1,
    )
    assert len(found.placements) == body.quantity
    saved_mm = cut_saved_mm([body], found.placements)
    assert saved_mm > 0.2 * body.quantity * body.footprint[0].length / 2
    assert found.matched_mm == pytest.approx(saved_mm, rel=1e-3)


def test_a_grid_shares_its_inner_sides() -> None:
    tile = Body("tile", (box(0, 0, 40, 25),), 12, (0.0,))
    grid = tuple(
        Placement(0, 0.0, (40 + KERF_MM) * column, (25 + KERF_MM) * row)
        for column in range(4)
        for row in range(3)
    )
    expected = 3 * 3 * (25 + KERF_MM) + 4 * 2 * (40 + KERF_MM)
    assert matched_mm([tile], grid, KERF_MM) == pytest.approx(expected)
    assert cut_saved_mm([tile], grid) == pytest.approx(expected, rel=1e-3)
