"""What tests of the search need: pieces to search with, and shapely's word on a layout."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon, box
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from kerfwright.nesting.search.model import Piece, Spot

QUARTERS = (0.0, 90.0, 180.0, 270.0)
SHORT_MM = 1e-6


def piece(
    area: BaseGeometry,
    quantity: int = 1,
    turns_deg: tuple[float, ...] = (0.0,),
    may_mirror: bool = False,
) -> Piece:
    polygons = area.geoms if isinstance(area, MultiPolygon) else [area]
    return Piece(MultiPolygon(list(polygons)), quantity, turns_deg, may_mirror)


def ring(radius_mm: float, wide_mm: float) -> Polygon:
    disc = Point(0.0, 0.0).buffer(radius_mm)
    return disc.difference(Point(0.0, 0.0).buffer(radius_mm - wide_mm))


def frame(width_mm: float, height_mm: float, wide_mm: float) -> Polygon:
    inner = box(wide_mm, wide_mm, width_mm - wide_mm, height_mm - wide_mm)
    return box(0.0, 0.0, width_mm, height_mm).difference(inner)


def star(radii: Sequence[float]) -> Polygon:
    angles = np.linspace(0.0, 2.0 * math.pi, len(radii), endpoint=False)
    return Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))


def placed(pieces: Sequence[Piece], spot: Spot) -> BaseGeometry:
    t = spot.transform
    return affine_transform(pieces[spot.piece].area, [t.a, t.c, t.b, t.d, t.e, t.f])


def faults(
    pieces: Sequence[Piece],
    boards: Sequence[BaseGeometry],
    spots: Sequence[Spot],
    spacing_mm: float,
) -> list[str]:
    """Everything illegal about a layout, by shapely alone."""
    found = []
    areas = [placed(pieces, spot) for spot in spots]
    for i, (spot, area) in enumerate(zip(spots, areas, strict=True)):
        if not boards[spot.board].buffer(SHORT_MM).covers(area):
            found.append(f"{i} sticks out of board {spot.board}")
        if spot.turn_deg not in pieces[spot.piece].turns_deg:
            found.append(f"{i} is turned by {spot.turn_deg}")
        if spot.mirrored and not pieces[spot.piece].may_mirror:
            found.append(f"{i} is mirrored")
        for j in range(i):
            if spots[j].board != spot.board:
                continue
            if area.intersection(areas[j]).area > SHORT_MM:
                found.append(f"{i} overlaps {j}")
            elif area.distance(areas[j]) < spacing_mm - SHORT_MM:
                found.append(f"{i} is {area.distance(areas[j])} mm from {j}")
    counts = np.bincount([spot.piece for spot in spots], minlength=len(pieces))
    found += [f"{n} copies of {k}" for k, n in enumerate(counts) if n > pieces[k].quantity]
    return found


def reach_mm(pieces: Sequence[Piece], spots: Sequence[Spot], axis: int = 0) -> float:
    return float(shapely.bounds([placed(pieces, spot) for spot in spots])[:, 2 + axis].max())
