"""Layouts that search by outlines finds hard: rectangles, parts edge on edge, and loose parts.

Rectangles: a perfect squared square and rectangles cut from a full sheet (all would fit exactly),
and random ones against the area bound. Edges: matched length and width in use against a plain nest
at twice the kerf or 1 mm. Compaction: width of a constructive filling before and after.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely import Polygon, box

from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.edge_matching import match_edges
from kerfwright.nesting.model import Body, Placement, SheetSize
from kerfwright.nesting.nest import nest
from kerfwright.nesting.rectangles import pack_rectangles
from kerfwright.warm import warm

SQUARES = (50, 42, 37, 35, 33, 29, 27, 25, 24, 19, 18, 17, 16, 15, 11, 9, 8, 7, 6, 4, 2)
"""The perfect squared square of side 112 (A. J. W. Duijvestijn 1978), from memory."""

QUARTERS = (0.0, 90.0, 180.0, 270.0)
SIXTHS = tuple(60.0 * i for i in range(6))
KERF_MM, SPACING_MM, MARGIN_MM = 0.2, 1.0, 5.0
SHEET = SheetSize("sheet", 600.0, 400.0, 9)


def run(_: Sequence[str]) -> dict[str, Any]:
    """Return all rows; no options."""
    warm()
    rng = np.random.default_rng(5)
    squares = [(float(side), float(side)) for side in SQUARES]
    rectangles = [_packed("squared square", squares, 112.0, 112.0)]
    rectangles += [
        _packed(f"{count} cut from a sheet", _cut(count, rng), 600.0, 400.0)
        for count in (12, 20, 30, 60, 120)
    ]
    for count in (20, 40, 80, 150):
        sizes = [(float(w), float(h)) for w, h in rng.integers(20, 150, (count, 2))]
        rectangles.append(_packed(f"{count} at random", sizes, 9000.0, 400.0))
    return {
        "rectangles": rectangles,
        "edge on edge": [_matched(name, *kind) for name, kind in PARTS.items()],
        "drawn together": [_drawn(seed) for seed in range(4)],
    }


def _packed(
    name: str, sizes: list[tuple[float, float]], width_mm: float, height_mm: float
) -> dict[str, Any]:
    counts = Counter(sizes)
    bodies = [Body("plate", (box(0, 0, *size),), n, QUARTERS) for size, n in counts.items()]
    wanted = Counter({i: body.quantity for i, body in enumerate(bodies)})
    area = box(0.0, 0.0, width_mm, height_mm)
    started = time.perf_counter()
    placements = pack_rectangles(bodies, wanted, area, spacing_mm=0.0, seed=1) or ()
    took = time.perf_counter() - started
    laid_mm2 = math.fsum(bodies[p.body].footprint[0].area for p in placements)
    return {
        "set": name,
        "placed": f"{len(placements)} of {len(sizes)}",
        "of the width in use": laid_mm2 / (_reach(bodies, placements) * height_mm),
        "seconds": took,
    }


def _cut(count: int, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Rectangles that fill 600 × 400: the largest is cut across until there are enough."""
    sizes = [(600, 400)]
    while len(sizes) < count:
        sizes.sort(key=lambda size: size[0] * size[1])
        width, height = sizes.pop()
        longer, shorter = max(width, height), min(width, height)
        at = int(rng.integers(longer // 4, 3 * longer // 4 + 1))
        sizes += [(at, shorter), (longer - at, shorter)]
    return [(float(w), float(h)) for w, h in sizes]


def _matched(
    name: str, shape: Polygon, quantity: int, turns_deg: tuple[float, ...]
) -> dict[str, Any]:
    bodies = [Body(name, (shape,), quantity, turns_deg)]
    started = time.perf_counter()
    found = match_edges(
        bodies,
        Counter({0: quantity}),
        SHEET.usable(MARGIN_MM),
        kerf_mm=KERF_MM,
        spacing_mm=SPACING_MM,
    )
    took = time.perf_counter() - started
    plain = nest(
        bodies, [SHEET], spacing_mm=SPACING_MM, margin_mm=MARGIN_MM, seconds=2.0, seed=1
    ).sheets[0]
    return {
        "parts": f"{quantity} × {name}",
        "matched mm": found.matched_mm,
        "of all outlines": found.matched_mm / (quantity * shape.length),
        "width mm": _reach(bodies, found.placements),
        "width nested mm": _reach(bodies, plain.placements),
        "seconds": took,
    }


def _drawn(seed: int) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    bodies = [Body(f"star {i}", (_star(rng),), 4, QUARTERS) for i in range(10)]
    sheet = SheetSize("sheet", 600.0, 300.0, 1)
    area = sheet.usable(MARGIN_MM)
    # too short for a search, and for drawing together: the constructive filling
    loose = nest(bodies, [sheet], spacing_mm=2.0, margin_mm=MARGIN_MM, seconds=1e-3, seed=1)
    placements = loose.sheets[0].placements
    started = time.perf_counter()
    found = compacted(bodies, placements, area, spacing_mm=2.0, to="left")
    return {
        "parts": len(placements),
        "before mm": _reach(bodies, placements),
        "after mm": _reach(bodies, found.placements),
        "rounds": found.rounds,
        "seconds": time.perf_counter() - started,
    }


def _star(rng: np.random.Generator) -> Polygon:
    angles = np.linspace(0.0, 2.0 * np.pi, int(rng.integers(5, 12)), endpoint=False)
    radii = 40.0 * rng.uniform(0.4, 1.0, len(angles))
    return Polygon(radii[:, None] * np.column_stack([np.cos(angles), np.sin(angles)]))


def _reach(bodies: Sequence[Body], placements: Sequence[Placement]) -> float:
    placed = [shapely.transform(bodies[p.body].footprint[0], p.transform.apply) for p in placements]
    return float(max(part.bounds[2] for part in placed))


def _regular(corners: int, radius_mm: float) -> Polygon:
    angles = np.arange(corners) * 2.0 * np.pi / corners
    return Polygon(radius_mm * np.column_stack([np.cos(angles), np.sin(angles)]))


PARTS: dict[str, tuple[Polygon, int, tuple[float, ...]]] = {
    "tile": (box(0, 0, 40, 40), 60, QUARTERS),
    "plate": (box(0, 0, 60, 25), 80, QUARTERS),
    "triangle": (_regular(3, 24.0), 80, SIXTHS),
    "hexagon": (_regular(6, 30.0), 40, SIXTHS),
    "angle": (box(0, 0, 40, 40).difference(box(20, 20, 40, 40)), 40, QUARTERS),
}
