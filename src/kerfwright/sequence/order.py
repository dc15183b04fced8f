"""Which stroke when, and from which end: the shortest travel that the precedence allows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.kernel import LENGTH_ZERO_MM
from kerfwright.motion.timing import travel_speed_mm_s
from kerfwright.sequence.kernel import improve, shake
from kerfwright.sequence.tour import (
    IntArray,
    Precedence,
    Tour,
    Travel,
    Ways,
    choose_options,
    construct,
)
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import (
    MoveArray,
    MoveKind,
    Stroke,
    Toolpath,
    join,
    moves_along,
)

MOST_ENTRIES = 64
"""Vertices of a closed stroke that are tried as entry, evenly picked."""

NEIGHBOURS = 10
"""Near strokes that each stroke is tried beside."""

ALTERNATIONS = 4
"""Rounds of improving the order in turn with choosing the entries; it settles well before."""

MOST_KICKS = 200
KICK_WORK = 100_000
"""Most kicks, and most strokes times kicks, so that large sheets do not wait for them."""


def sequence(
    strokes: Sequence[Stroke],
    before: Sequence[tuple[int, int]],
    machine: Machine,
    start_mm: tuple[float, float] = (0.0, 0.0),
) -> Toolpath:
    """Put strokes in order and join them by travel moves.

    Phases come strictly one after another. Within a phase the time of travel is kept short; a
    pair (i, j) in ``before`` has stroke i burned before stroke j. The result is the same at
    every run.

    Raises ``ValueError`` if the pairs contradict each other or the phases, or name a stroke that
    is not there, and if a stroke has no points or no passes.
    """
    axes = np.array([*machine.travel.speed_mm_s, *machine.travel.acceleration_mm_s2])
    pieces: list[MoveArray] = []
    here = start_mm
    phase_of = np.array([stroke.phase for stroke in strokes], dtype=np.int64)
    pairs = np.asarray(before, dtype=np.int64).reshape(-1, 2)
    _check(strokes, pairs, phase_of)
    for phase in np.unique(phase_of):
        members = np.flatnonzero(phase_of == phase)
        of_phase = [strokes[int(s)] for s in members]
        options = _Options(of_phase)
        precedence = _precedence(pairs, members, len(strokes))
        tour = _order(options.ways, precedence, Travel(np.array(here, dtype=np.float64), axes))
        for k in tour.order:
            vertex = int(options.vertex[tour.choice[k]])
            moves, here = _burned(of_phase[int(k)], vertex, here, machine)
            pieces += moves
    return Toolpath(join(pieces), start_mm)


def _check(strokes: Sequence[Stroke], pairs: IntArray, phase_of: IntArray) -> None:
    if np.any((pairs < 0) | (pairs >= len(strokes))):
        raise ValueError("a pair names a stroke that is not there")
    if np.any(phase_of[pairs[:, 0]] > phase_of[pairs[:, 1]]):
        raise ValueError("a stroke must come before one of an earlier phase")
    for number, stroke in enumerate(strokes):
        if stroke.block is None and len(stroke.path.points) == 0:
            raise ValueError(f"stroke {number} has no points")
        if stroke.block is None and stroke.passes < 1:
            raise ValueError(f"stroke {number} has no passes")


class _Options:
    """The ways into and out of every stroke, in the flat form that the kernel reads."""

    def __init__(self, strokes: Sequence[Stroke]) -> None:
        rows: list[FloatArray] = []
        flips: list[IntArray] = []
        vertices: list[IntArray] = []
        first = [0]
        for stroke in strokes:
            ends, flip, vertex = _ways(stroke)
            rows.append(ends)
            flips.append(np.where(flip >= 0, flip + first[-1], -1))
            vertices.append(vertex)
            first.append(first[-1] + len(ends))
        self.vertex = np.concatenate(vertices)
        starts = np.array(first, dtype=np.int64)
        ends = np.vstack(rows)
        low = np.minimum.reduceat(ends[:, :2], starts[:-1])
        high = np.maximum.reduceat(ends[:, :2], starts[:-1])
        self.ways = Ways(
            starts, ends, np.concatenate(flips), np.ascontiguousarray(np.hstack([low, high]))
        )


def _ways(stroke: Stroke) -> tuple[FloatArray, IntArray, IntArray]:
    """Entry and exit of every option, the option that goes the other way, and its vertex."""
    if stroke.block is not None:
        return (
            np.array([[*stroke.block.start_mm, *stroke.block.end_mm]]),
            np.array([-1]),
            np.array([0]),
        )
    points = stroke.path.points
    if stroke.path.closed:
        count = min(len(points), MOST_ENTRIES)
        picked = np.unique(np.linspace(0, len(points), count, endpoint=False).astype(np.int64))
        ends = np.hstack([points[picked], points[picked]])
        return ends, np.arange(len(picked)), picked
    one, other = points[0], points[-1]
    if stroke.passes % 2 == 0:
        ends = np.array([[*one, *one], [*other, *other]])
        return ends, np.array([0, 1]), np.array([0, -1])
    ends = np.array([[*one, *other], [*other, *one]])
    return ends, np.array([1, 0]), np.array([0, -1])


def _precedence(pairs: IntArray, members: IntArray, count: int) -> Precedence:
    """Pairs within a phase, renumbered to its members; the phases keep all others."""
    local = np.full(count, -1, dtype=np.int64)
    local[members] = np.arange(len(members))
    renumbered = local[pairs]
    inner = renumbered[(renumbered >= 0).all(axis=1)]
    return Precedence(
        *_rows(inner[:, 0], inner[:, 1], len(members)),
        *_rows(inner[:, 1], inner[:, 0], len(members)),
    )


def _order(ways: Ways, precedence: Precedence, travel: Travel) -> Tour:
    tour = construct(ways, precedence, travel)
    if len(tour.order) < len(ways.first) - 1:
        raise ValueError("strokes wait for each other in a circle")
    for _ in range(ALTERNATIONS):
        awake = np.ones(len(tour.order), dtype=np.bool_)
        changes = improve(tour, ways, precedence, travel, _neighbours(ways, tour), awake)
        choose_options(tour, ways, travel)
        if changes == 0:
            break
    kicks = min(MOST_KICKS, KICK_WORK // len(tour.order))
    if shake(tour, ways, precedence, travel, _neighbours(ways, tour), kicks):
        choose_options(tour, ways, travel)
    return tour


def _rows(of: IntArray, to: IntArray, n: int) -> tuple[IntArray, IntArray]:
    """Compressed rows: the ``to`` of every ``of``."""
    by_row = np.argsort(of, kind="stable")
    first = np.zeros(n + 1, dtype=np.int64)
    np.cumsum(np.bincount(of, minlength=n), out=first[1:])
    return first, np.ascontiguousarray(to[by_row])


def _neighbours(ways: Ways, tour: Tour) -> IntArray:
    """Strokes with an end nearest to an end of each stroke, shape (n, k), -1 none.

    Both ends count, because a stroke may be turned round.
    """
    n = len(tour.choice)
    found = np.full((n, NEIGHBOURS), -1, dtype=np.int64)
    if n < 2:
        return found
    entries, exits = np.hsplit(ways.ends[tour.choice], 2)
    k = min(2 * NEIGHBOURS + 2, 2 * n)
    tree = cKDTree(np.vstack([entries, exits]))
    near = np.stack([tree.query(exits, k=k)[1], tree.query(entries, k=k)[1]], axis=2) % n
    for s, both in enumerate(near.reshape(n, 2 * k).tolist()):
        others = [other for other in dict.fromkeys(both) if other != s][:NEIGHBOURS]
        found[s, : len(others)] = others
    return found


def _burned(
    stroke: Stroke, vertex: int, here: tuple[float, float], machine: Machine
) -> tuple[list[MoveArray], tuple[float, float]]:
    """Travel to a stroke and its moves, and where the beam is afterwards."""
    if stroke.block is not None:
        block = stroke.block
        if len(block) == 0:
            return [], here
        return [*_travel(here, block.start_mm, machine), block.moves], block.end_mm
    line = _line(stroke, vertex)
    entry = (float(line[0, 0]), float(line[0, 1]))
    burned = moves_along(
        line[1:],
        kind=stroke.kind,
        speed_mm_s=stroke.speed_mm_s,
        power=stroke.power,
        source=stroke.source,
    )
    return [*_travel(here, entry, machine), burned], (float(line[-1, 0]), float(line[-1, 1]))


def _line(stroke: Stroke, vertex: int) -> FloatArray:
    """The points of a stroke from its entry, all passes: round and round, or back and forth."""
    points = stroke.path.points
    if len(points) == 1:
        # a burn without length: what asked for a dot still finds it in the toolpath
        return np.repeat(points, 2, axis=0)
    if stroke.path.closed:
        once = stroke.path.entered_at(vertex).line
        return np.vstack([once, *[once[1:]] * (stroke.passes - 1)])
    once = points if vertex == 0 else points[::-1]
    passes = [once] + [
        (once[::-1] if number % 2 else once)[1:] for number in range(1, stroke.passes)
    ]
    return np.vstack(passes)


def _travel(
    here: tuple[float, float], there: tuple[float, float], machine: Machine
) -> list[MoveArray]:
    if math.dist(here, there) <= LENGTH_ZERO_MM:
        return []
    return [
        moves_along(
            np.array([there]),
            kind=MoveKind.TRAVEL,
            speed_mm_s=travel_speed_mm_s(machine),
            power=0.0,
            source=-1,
        )
    ]
