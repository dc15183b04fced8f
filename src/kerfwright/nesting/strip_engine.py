"""The outside engine: parts in a strip of fixed height, as short as a timed search finds.

The search is that of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329), behind the
package ``spyrrow``. It watches the clock, so the same seed need not give the same layout twice.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import shapely
import spyrrow
from shapely import Polygon, box

from kerfwright.cores import cores
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.compaction import compacted
from kerfwright.nesting.footprint import widened
from kerfwright.nesting.model import Body, Placement
from kerfwright.nesting.search.model import Stop
from kerfwright.nesting.strip_model import StripError, StripPiece, StripSpot

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


Spots = list[StripSpot]


def engine_spots(
    pieces: Sequence[StripPiece],
    height_mm: float,
    *,
    spacing_mm: float,
    seconds: float,
    seed: int,
    stop: Stop,
    better: Callable[[Spots], None],
) -> Spots:
    """Place all pieces in a strip as :func:`kerfwright.nesting.strip.solve_strip` does.

    All cores work for ``seconds``, or until ``stop`` says so, from other random numbers whenever
    the engine finds no better. What sticks out of the strip is drawn in; the engine's other places
    are in single precision. Raises :class:`StripError` when the engine fails or leaves pieces out.
    """
    rounding_mm = ROUNDING * max(height_mm, sum(p.area_mm2 for p in pieces) / height_mm)
    # half of the spacing around every piece: the engine's own separation fails on some outlines
    around_mm = 0.5 * (spacing_mm + rounding_mm)
    items = [
        spyrrow.Item(
            str(i),
            _engine_points(piece.ring - piece.middle, around_mm),
            piece.quantity,
            [float(turn) for turn in piece.turns_deg],
        )
        for i, piece in enumerate(pieces)
    ]
    across_mm = (1.0 + SLACK) * (height_mm + spacing_mm)
    instance = spyrrow.StripPackingInstance("sheet", across_mm, items)

    def spots_of(found: spyrrow.StripPackingSolution) -> Spots:
        spots = [_spot(placed, pieces[int(placed.id)]) for placed in found.placed_items]
        return _drawn_in(spots, pieces, height_mm, spacing_mm)

    def heard(found: spyrrow.StripPackingSolution) -> None:
        shortest_mm = min((width_mm for width_mm, _ in strips), default=math.inf)
        if len(found.placed_items) == count and found.width < shortest_mm:
            better(spots_of(found))

    strips: list[tuple[float, Spots]] = []
    count = sum(piece.quantity for piece in pieces)
    # on a busy machine getting ready may have taken all the time, or more
    ends_s, left_s = time.monotonic() + seconds, max(seconds, 0.0)
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
        strips.append((found.width, spots_of(found)))
        left_s = ends_s - time.monotonic()
    return min(strips, key=lambda strip: strip[0])[1]


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


def _spot(placed: spyrrow.PlacedItem, piece: StripPiece) -> StripSpot:
    # single precision gives an angle back rounded: take the allowed one it stands for
    turn = min(piece.turns_deg, key=lambda t: abs((t - placed.rotation + 180.0) % 360.0 - 180.0))
    return StripSpot.about_middle(int(placed.id), piece, turn, np.array(placed.translation))


def _drawn_in(
    spots: Spots, pieces: Sequence[StripPiece], height_mm: float, spacing_mm: float
) -> Spots:
    """Pieces moved by what they stick out of the true strip, which is lower than the engine's."""
    points = np.vstack([spot.ring(pieces[spot.piece]) for spot in spots])
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
