"""The outside engine: parts in a strip of fixed height, as short as a timed search finds.

The search is that of Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329), behind the
package ``spyrrow``. It watches the clock, so the same seed need not give the same layout twice.
"""

from __future__ import annotations

import contextlib
import math
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Generator, Sequence
from dataclasses import replace
from typing import IO

import numpy as np
import shapely
from shapely import Polygon, box

from kerfwright.cores import cores
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting import strip_engine_process as engine
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

ASK_S = 0.05
"""How often the calling thread looks whether to stop."""

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
        engine.Item(
            _engine_points(piece.ring - piece.middle, around_mm),
            piece.quantity,
            [float(turn) for turn in piece.turns_deg],
        )
        for piece in pieces
    ]
    across_mm = (1.0 + SLACK) * (height_mm + spacing_mm)

    def spots_of(found: engine.Solution) -> Spots:
        spots = [_spot(placed, pieces[placed.item]) for placed in found.placed]
        return _drawn_in(spots, pieces, height_mm, spacing_mm)

    def heard(found: engine.Solution) -> None:
        shortest_mm = min((width_mm for width_mm, _ in strips), default=math.inf)
        if len(found.placed) == count and found.width_mm < shortest_mm:
            better(spots_of(found))

    strips: list[tuple[float, Spots]] = []
    count = sum(piece.quantity for piece in pieces)
    # on a busy machine getting ready may have taken all the time, or more
    ends_s, left_s = time.monotonic() + seconds, max(seconds, 0.0)
    while not strips or (left_s > max(WORTH_ANEW * seconds, LEAST_ANEW_S) and not stop()):
        try:
            task = _task(across_mm, items, left_s, seed + SEED_STEP * len(strips))
            found = _solved(task, stop, heard)
            if len(found.placed) != count:
                raise StripError("pieces are missing from the engine's layout")
        except StripError:
            if strips:
                break
            raise
        strips.append((found.width_mm, spots_of(found)))
        left_s = ends_s - time.monotonic()
    return min(strips, key=lambda strip: strip[0])[1]


def _engine_points(ring: FloatArray, around_mm: float) -> list[tuple[float, float]]:
    points = widened(ring, around_mm).astype(np.float32).astype(np.float64)
    # the engine wants no point twice and no crossing, in its own precision
    if not Polygon(points).is_valid or len(np.unique(points, axis=0)) < len(points):
        hull = shapely.convex_hull(shapely.MultiPoint(points))
        points = shapely.get_coordinates(hull)[:-1]
    return [(float(x), float(y)) for x, y in points]


def _task(across_mm: float, items: list[engine.Item], seconds: float, seed: int) -> engine.Task:
    exploring_s = EXPLORING_SHARE * seconds
    return engine.Task(
        across_mm, items, exploring_s, seconds - exploring_s, seed & 0xFFFFFFFF, cores()
    )


def _solved(
    task: engine.Task, stop: Stop, heard: Callable[[engine.Solution], None]
) -> engine.Solution:
    """Return the best that the engine finds until it ends, or until ``stop`` says so."""
    best: engine.Solution | None = None
    with contextlib.closing(_found(task)) as solutions:
        for found in solutions:
            if found is not None:
                best = found
                heard(found)
            if best is not None and stop():
                return best
    if best is None:
        raise StripError("the engine found nothing")
    return best


def _found(task: engine.Task) -> Generator[engine.Solution | None, None, None]:
    """Every shorter solution, ``None`` while there is none; who leaves early ends the engine."""
    try:
        with tempfile.TemporaryFile() as complaints, _process(complaints) as process:
            assert process.stdin is not None and process.stdout is not None
            lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
            reader = threading.Thread(target=_read, args=(process.stdout, lines), daemon=True)
            reader.start()
            try:
                process.stdin.write(engine.written(task))
                process.stdin.flush()
                line: str | None = ""
                while line is not None:
                    yield engine.read_solution(line) if line else None
                    try:
                        line = lines.get(timeout=ASK_S)
                    except queue.Empty:
                        line = ""
                if process.wait() != 0:
                    complaints.seek(0)
                    raise StripError(f"the engine stopped: {_last_line(complaints.read())}")
            finally:
                process.kill()
                reader.join()
    except OSError as fault:
        raise StripError(f"the engine could not be started: {fault}") from fault


def _process(complaints: IO[bytes]) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", engine.__name__],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=complaints,
        text=True,
        start_new_session=True,  # Ctrl-C is for this process, which ends the other
    )


def _read(output: IO[str], lines: queue.SimpleQueue[str | None]) -> None:
    for line in output:
        lines.put(line)
    lines.put(None)


def _last_line(text: bytes) -> str:
    said = text.decode(errors="replace").strip().splitlines()
    return said[-1] if said else "it said nothing"


def _spot(placed: engine.Placed, piece: StripPiece) -> StripSpot:
    # single precision gives an angle back rounded: take the allowed one it stands for
    turn = min(piece.turns_deg, key=lambda t: abs((t - placed.turn_deg + 180.0) % 360.0 - 180.0))
    return StripSpot.about_middle(placed.item, piece, turn, np.array([placed.x_mm, placed.y_mm]))


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
