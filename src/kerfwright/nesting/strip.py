"""The outside engine: parts in a strip of fixed height, as short as a timed search finds.

The search is that of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329), behind the
package ``spyrrow``. It watches the clock, so the same seed need not give the same layout twice.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import shapely
import spyrrow
from shapely import Polygon, box

from kerfwright.cores import cores
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.footprint import widened
from kerfwright.nesting.model import Body, Placement
from kerfwright.nesting.search.model import Stop

EXPLORING_SHARE = 0.8
"""Share of the engine's time for finding shorter strips; the rest squeezes the shortest."""

ROUNDING = 2e-6
"""The engine reckons in single precision (24 bits): this share of a size is beyond its reach."""

SLACK = 3e-4
"""The engine's strip is higher by this share: pieces that fill the height exactly find no place in
one that is no higher."""

WORTH_ANEW, LEAST_ANEW_S = 0.1, 2.0
"""The engine ends when it finds no better; with this share of its time and so many seconds left it
begins anew."""

SEED_STEP = 1009

LEGAL = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas, spyrrow.ReportType.Final)
"""Reports of the engine that are layouts without overlaps."""


class StripError(Exception):
    """The engine gave no layout."""


@dataclass(frozen=True, eq=False, slots=True)
class StripPiece:
    """A simple polygon, shape (n, 2), in mm; wanted ``quantity`` times."""

    ring: FloatArray
    quantity: int
    turns_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class StripSpot:
    """Piece number ``piece`` turned about its origin, then moved; the strip starts at (0, 0)."""

    piece: int
    turn_deg: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Strip:
    """What the engine found: ``density`` is pieces' area over used width × height."""

    width_mm: float
    height_mm: float
    spots: tuple[StripSpot, ...]
    density: float


def solve_strip(
    pieces: Sequence[StripPiece],
    height_mm: float,
    *,
    spacing_mm: float,
    seconds: float,
    seed: int,
    stop: Stop | None = None,
    better: Callable[[Strip], None] | None = None,
) -> Strip:
    """Place all pieces in a strip; spacing is kept between pieces, none to the strip's edge.

    All cores work for ``seconds``, or until ``stop`` says so, from other random numbers whenever
    the engine finds no better; ``better`` gets shorter strips as they are found, from the calling
    thread. What sticks out of the strip is drawn in; the engine's other places are in single
    precision, and whoever needs exactness checks them. Raises :class:`StripError` when the engine
    fails or leaves pieces out, or is stopped before it has found anything.
    """
    stop = stop or _never
    rounding_mm = ROUNDING * max(height_mm, _area_mm2(pieces) / height_mm)
    # half of the spacing around every piece: the engine's own separation fails on some outlines
    around_mm = 0.5 * (spacing_mm + rounding_mm)
    middles = [0.5 * (piece.ring.min(axis=0) + piece.ring.max(axis=0)) for piece in pieces]
    items = [
        spyrrow.Item(
            str(i),
            _engine_points(piece.ring - middle, around_mm),
            piece.quantity,
            [float(turn) for turn in piece.turns_deg],
        )
        for i, (piece, middle) in enumerate(zip(pieces, middles, strict=True))
    ]
    across_mm = (1.0 + SLACK) * (height_mm + spacing_mm)
    instance = spyrrow.StripPackingInstance("sheet", across_mm, items)

    def strip_of(found: spyrrow.StripPackingSolution) -> Strip:
        spots = [
            _spot(placed, pieces[int(placed.id)], middles[int(placed.id)])
            for placed in found.placed_items
        ]
        return _from_corner(_drawn_in(spots, pieces, height_mm, spacing_mm), pieces, height_mm)

    def heard(found: spyrrow.StripPackingSolution) -> None:
        shortest = min((strip.width_mm for strip in strips), default=math.inf)
        if better is not None and len(found.placed_items) == count and found.width < shortest:
            better(strip_of(found))

    strips: list[Strip] = []
    count = sum(piece.quantity for piece in pieces)
    ends_s, left_s = time.monotonic() + seconds, seconds
    while not strips or (left_s > max(WORTH_ANEW * seconds, LEAST_ANEW_S) and not stop()):
        try:
            settings = _settings(left_s, seed + SEED_STEP * len(strips))
            found = _solved(instance, settings, stop, heard)
            if len(found.placed_items) != count:
                raise StripError("pieces are missing from the engine's layout")
        except StripError:
            if strips:
                break
            raise
        strips.append(strip_of(found))
        left_s = ends_s - time.monotonic()
    return min(strips, key=lambda strip: strip.width_mm)


def _never() -> bool:
    return False


def _engine_points(ring: FloatArray, around_mm: float) -> list[tuple[float, float]]:
    points = widened(ring, around_mm).astype(np.float32).astype(np.float64)
    # the engine wants no point twice and no crossing, in its own precision
    if not Polygon(points).is_valid or len(np.unique(points, axis=0)) < len(points):
        hull = shapely.convex_hull(shapely.MultiPoint(points))
        points = shapely.get_coordinates(hull)[:-1]
    return [(float(x), float(y)) for x, y in points]


def _settings(seconds: float, seed: int) -> spyrrow.StripPackingConfig:
    settings = spyrrow.StripPackingConfig(
        total_computation_time=1,
        num_workers=cores(),
        seed=seed & 0xFFFFFFFF,
    )
    # the constructor takes whole seconds only
    settings.exploration_time = timedelta(seconds=EXPLORING_SHARE * seconds)
    settings.compression_time = timedelta(seconds=(1.0 - EXPLORING_SHARE) * seconds)
    return settings


def _solved(
    instance: spyrrow.StripPackingInstance,
    settings: spyrrow.StripPackingConfig,
    stop: Stop,
    heard: Callable[[spyrrow.StripPackingSolution], None],
) -> spyrrow.StripPackingSolution:
    """Solve beside the main thread, so that Ctrl-C is heard at once.

    The engine cannot be stopped: a thread that is no longer waited for goes on to its end.
    """
    reports = spyrrow.ProgressQueue()
    results: list[spyrrow.StripPackingSolution] = []
    faults: list[BaseException] = []

    def work() -> None:
        try:
            results.append(instance.solve(settings, reports))
        except BaseException as fault:  # the engine's panics are no Exception
            faults.append(fault)

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    best: spyrrow.StripPackingSolution | None = None
    while thread.is_alive():
        thread.join(0.05)
        before = best
        for kind, solution in reports.drain():
            if kind in LEGAL and (best is None or solution.width < best.width):
                best = solution
        if best is not None and best is not before:
            heard(best)
        if best is not None and stop():
            return best
    if faults or not results:
        raise StripError("the engine stopped") from (faults[0] if faults else None)
    return results[0]


def _spot(placed: spyrrow.PlacedItem, piece: StripPiece, middle: FloatArray) -> StripSpot:
    # single precision gives an angle back rounded: take the allowed one it stands for
    turn = min(piece.turns_deg, key=lambda t: abs((t - placed.rotation + 180.0) % 360.0 - 180.0))
    shift = rotation(turn).apply(middle)
    x, y = placed.translation
    return StripSpot(int(placed.id), turn, float(x - shift[0]), float(y - shift[1]))


def _drawn_in(
    spots: list[StripSpot], pieces: Sequence[StripPiece], height_mm: float, spacing_mm: float
) -> list[StripSpot]:
    """Pieces moved by what they stick out of the true strip, which is lower than the engine's."""
    points = np.vstack(_rings(spots, pieces))
    low, high = points.min(axis=0), points.max(axis=0)
    if high[1] - low[1] <= height_mm:
        return spots
    bodies = [
        Body(str(number), (Polygon(piece.ring),), piece.quantity, piece.turns_deg)
        for number, piece in enumerate(pieces)
    ]
    # what gives way sideways finds room beyond the end
    strip = box(low[0], low[1], 2.0 * high[0] - low[0], low[1] + height_mm)
    drawn = compacted(
        bodies,
        [Placement(s.piece, s.turn_deg, s.x_mm, s.y_mm) for s in spots],
        strip,
        spacing_mm=spacing_mm,
        to="left",
    )
    return [
        replace(s, x_mm=p.x_mm, y_mm=p.y_mm) for s, p in zip(spots, drawn.placements, strict=True)
    ]


def _rings(spots: Sequence[StripSpot], pieces: Sequence[StripPiece]) -> list[FloatArray]:
    return [
        rotation(s.turn_deg).apply(pieces[s.piece].ring) + np.array([s.x_mm, s.y_mm]) for s in spots
    ]


def _area_mm2(pieces: Sequence[StripPiece]) -> float:
    return float(sum(Polygon(piece.ring).area * piece.quantity for piece in pieces))


def _from_corner(spots: list[StripSpot], pieces: Sequence[StripPiece], height_mm: float) -> Strip:
    """Move everything so that it begins at (0, 0), and measure it exactly."""
    points = np.vstack(_rings(spots, pieces))
    low, high = points.min(axis=0), points.max(axis=0)
    width_mm = float(high[0] - low[0])
    return Strip(
        width_mm=width_mm,
        height_mm=height_mm,
        spots=tuple(
            StripSpot(s.piece, s.turn_deg, s.x_mm - float(low[0]), s.y_mm - float(low[1]))
            for s in spots
        ),
        density=_area_mm2(pieces) / (width_mm * height_mm),
    )
