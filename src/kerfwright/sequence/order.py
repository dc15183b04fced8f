"""Which stroke when, and from which end: the shortest travel that the precedence allows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import travel_speed_mm_s
from kerfwright.sequence.cooling import Cooling, kept_apart
from kerfwright.sequence.entries import Options, points_at
from kerfwright.sequence.entries_kernel import Lines, refine
from kerfwright.sequence.first_tour import construct
from kerfwright.sequence.kernel import Ground, improve, queue, wake_all
from kerfwright.sequence.kicks import shake
from kerfwright.sequence.moves import journal_of
from kerfwright.sequence.near_strokes import neighbours
from kerfwright.sequence.tour import (
    IntArray,
    Precedence,
    Tour,
    Travel,
    choose_options,
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

ALTERNATIONS = 4
"""Rounds of improving the order in turn with choosing the entries; it settles well before."""

KICKS_PER_STROKE = 10
KICKS_OF_FEW = 100
FEWEST_KICKS = 1000
MOST_KICKS = 40_000
"""A thousand strokes wait a second or two for their kicks, ten thousand some ten seconds; few
strokes get more each, but do not need them all."""

MEETING_MM = 1e-6
"""A stroke that begins this close to where the beam is needs no travel."""

JOURNAL = 2000
"""Changes after one kick, of which there are hardly ever more than a hundred."""

LONGEST_TURN = 25_000
LONGEST_TURN_OF_KICK = 1000
"""Longest run of strokes that 2-opt turns round; longer ones hardly ever pay."""


@dataclass(frozen=True, eq=False, slots=True)
class Sequenced:
    """Strokes in order: their toolpath, and where in it each one is burned.

    ``spans`` has a row (first move, one past the last) for every stroke as it was given; both are
    the same for a stroke without moves.
    """

    toolpath: Toolpath
    spans: IntArray


def sequence(
    strokes: Sequence[Stroke],
    before: Sequence[tuple[int, int]],
    machine: Machine,
    start_mm: tuple[float, float] = (0.0, 0.0),
) -> Toolpath:
    """Put strokes in order and join them by travel moves, as :func:`in_order` does."""
    return in_order(strokes, before, machine, start_mm).toolpath


def in_order(
    strokes: Sequence[Stroke],
    before: Sequence[tuple[int, int]],
    machine: Machine,
    start_mm: tuple[float, float] = (0.0, 0.0),
    cooling: Cooling | None = None,
) -> Sequenced:
    """Put strokes in order, join them by travel moves, and tell where each one is burned.

    Phases come strictly one after another. Within a phase the time of travel is kept short; a
    pair (i, j) in ``before`` has stroke i burned before stroke j. With ``cooling``, cuts close to
    one another are kept apart in time as far as that allows. The result is the same at every run.

    Raises ``ValueError`` if the pairs contradict each other or the phases, or name a stroke that
    is not there, and if a stroke has no points or no passes.
    """
    axes = np.array([*machine.travel.speed_mm_s, *machine.travel.acceleration_mm_s2])
    pieces: list[MoveArray] = []
    spans = np.zeros((len(strokes), 2), dtype=np.int64)
    here, count = start_mm, 0
    phase_of = np.array([stroke.phase for stroke in strokes], dtype=np.int64)
    pairs = np.asarray(before, dtype=np.int64).reshape(-1, 2)
    _check(strokes, pairs, phase_of)
    for phase in np.unique(phase_of):
        members = np.flatnonzero(phase_of == phase)
        of_phase = [strokes[int(s)] for s in members]
        options = Options.of(of_phase)
        precedence = precedence_of(pairs, members, len(strokes))
        travel = Travel(np.array(here, dtype=np.float64), axes)
        tour = _order(options, precedence, travel)
        if cooling is not None:
            tour = kept_apart(tour, of_phase, options, precedence, travel, cooling)
        for k in tour.order:
            along = float(options.along[tour.choice[k]])
            moves, here = _burned(of_phase[int(k)], along, here, machine)
            pieces += moves
            count += sum(map(len, moves))
            spans[members[k]] = count - len(moves[-1]) if moves else count, count
    return Sequenced(Toolpath(join(pieces), start_mm), spans)


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


def precedence_of(pairs: IntArray, members: IntArray, count: int) -> Precedence:
    """Pairs within a phase, renumbered to its members; the phases keep all others."""
    local = np.full(count, -1, dtype=np.int64)
    local[members] = np.arange(len(members))
    renumbered = local[pairs]
    inner = renumbered[(renumbered >= 0).all(axis=1)]
    return Precedence(
        *_rows(inner[:, 0], inner[:, 1], len(members)),
        *_rows(inner[:, 1], inner[:, 0], len(members)),
    )


def _order(options: Options, precedence: Precedence, travel: Travel) -> Tour:
    ways = options.ways
    tour = construct(ways, precedence, travel)
    n = len(ways.first) - 1
    if len(tour.order) < n:
        raise ValueError("strokes wait for each other in a circle")
    nothing, waiting = journal_of(0), queue(n)

    def improved(longest_turn: int) -> float:
        near = neighbours(ways, tour, travel)
        ground = Ground(ways, precedence, travel, near, longest_turn)
        wake_all(tour, waiting)
        return float(improve(tour, ground, waiting, nothing))

    for _ in range(ALTERNATIONS):
        gained = improved(LONGEST_TURN)
        choose_options(tour, ways, travel)
        if gained == 0.0:
            break
    near = neighbours(ways, tour, travel)
    ground = Ground(ways, precedence, travel, near, LONGEST_TURN_OF_KICK)
    kicks = min(KICKS_OF_FEW * n, max(FEWEST_KICKS, KICKS_PER_STROKE * n), MOST_KICKS)
    shake(tour, ground, waiting, journal_of(JOURNAL), kicks)
    choose_options(tour, ways, travel)
    for _ in range(ALTERNATIONS):
        refine(tour, Lines(ways, options.along, options.rings), travel)
        if improved(LONGEST_TURN_OF_KICK) == 0.0:
            break
    return tour


def _rows(of: IntArray, to: IntArray, n: int) -> tuple[IntArray, IntArray]:
    """Compressed rows: the ``to`` of every ``of``."""
    by_row = np.argsort(of, kind="stable")
    first = np.zeros(n + 1, dtype=np.int64)
    np.cumsum(np.bincount(of, minlength=n), out=first[1:])
    return first, np.ascontiguousarray(to[by_row])


def _burned(
    stroke: Stroke, along: float, here: tuple[float, float], machine: Machine
) -> tuple[list[MoveArray], tuple[float, float]]:
    """Travel to a stroke and its moves, and where the beam is afterwards."""
    if stroke.block is not None:
        block = stroke.block
        if len(block) == 0:
            return [], here
        return [*_travel(here, block.start_mm, machine), block.moves], block.end_mm
    once = _once(stroke, along)
    if stroke.lay is not None:
        laid = stroke.lay(once)
        return [*_travel(here, laid.start_mm, machine), laid.moves], laid.end_mm
    line = _all_passes(once, stroke)
    entry = (float(line[0, 0]), float(line[0, 1]))
    burned = moves_along(
        line[1:],
        kind=stroke.kind,
        speed_mm_s=stroke.speed_mm_s,
        power=stroke.power,
        source=stroke.source,
    )
    return [*_travel(here, entry, machine), burned], (float(line[-1, 0]), float(line[-1, 1]))


def _once(stroke: Stroke, along: float) -> FloatArray:
    """The points of one pass from where it is entered; a closed line ends where it began."""
    points = stroke.path.points
    if len(points) == 1:
        # a burn without length: what asked for a dot still finds it in the toolpath
        return np.repeat(points, 2, axis=0)
    if not stroke.path.closed:
        return points if along == 0.0 else points[::-1]
    point = int(along)
    if point == along:
        return stroke.path.entered_at(point).line
    entry = points_at(stroke.path.line, np.array([along]))
    return np.vstack([entry, np.roll(points, -point - 1, axis=0), entry])


def _all_passes(once: FloatArray, stroke: Stroke) -> FloatArray:
    """All passes behind one another: round and round, or back and forth."""
    if len(stroke.path.points) == 1:
        return once
    if stroke.path.closed:
        return np.vstack([once, *[once[1:]] * (stroke.passes - 1)])
    passes = [once] + [
        (once[::-1] if number % 2 else once)[1:] for number in range(1, stroke.passes)
    ]
    return np.vstack(passes)


def _travel(
    here: tuple[float, float], there: tuple[float, float], machine: Machine
) -> list[MoveArray]:
    if math.dist(here, there) <= MEETING_MM:
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
