"""Keeps cuts that lie close to one another apart in time, so that the material between cools.

A softer rule than the precedence: a second that a cut comes too soon weighs like seconds of
travel. As the time between two cuts depends on all that is burned meanwhile, the whole tour is
timed anew for every change that is tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import move_times_s
from kerfwright.sequence.cooling_kernel import Heat, heated_s, in_rounds, soonest_cool, spread
from kerfwright.sequence.entries import Options
from kerfwright.sequence.entries_kernel import Lines, refine
from kerfwright.sequence.kernel import Ground
from kerfwright.sequence.near_strokes import neighbours
from kerfwright.sequence.tour import IntArray, Precedence, Tour, Travel, choose_options
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Process, Stroke, Toolpath

WEIGHT = 10.0
"""Seconds of travel that a second too soon is worth; one where the machine waits instead."""

WORK = 60_000_000
"""Strokes timed while changes are tried, so that large sheets do not wait for it."""

MOST_TRIALS = 100_000

SHORT_S = 1e-6
"""Less too soon is rounding."""


@dataclass(frozen=True, slots=True)
class Cooling:
    """Cuts closer than ``distance_mm`` are kept ``seconds`` apart; ``wait`` stands still for it."""

    distance_mm: float
    seconds: float
    wait: bool = False

    @classmethod
    def asked_by(cls, recipe: Recipe | None) -> Cooling | None:
        """Return what a recipe for cutting asks for, if it does."""
        if recipe is None or recipe.cooling_mm == 0.0 or recipe.cooling_s == 0.0:
            return None
        return cls(recipe.cooling_mm, recipe.cooling_s, recipe.cooling_wait)


def kept_apart(
    tour: Tour,
    strokes: Sequence[Stroke],
    options: Options,
    precedence: Precedence,
    travel: Travel,
    cooling: Cooling,
) -> Tour:
    """Return an order that keeps near cuts further apart in time, or ``tour`` if none is found."""
    near = near_cuts(strokes, cooling.distance_mm)
    if len(near) == 0:
        return tour
    heat = Heat(
        *_rows(near, len(strokes)),
        np.array([_burn_s(stroke) for stroke in strokes]),
        cooling.seconds,
        1.0 if cooling.wait else WEIGHT,
        cooling.wait,
    )
    ways = options.ways
    others = (
        in_rounds(tour, precedence, heat),
        soonest_cool(tour, ways, precedence, travel, heat),
    )
    for other in others:
        choose_options(other, ways, travel)
    tour = min((tour, *others), key=lambda tried: float(heated_s(tried, ways, travel, heat)))
    ground = Ground(ways, precedence, travel, neighbours(ways, tour, travel), len(strokes))
    spread(tour, ground, heat, min(MOST_TRIALS, WORK // (len(strokes) + len(near))))
    refine(tour, Lines(ways, options.along, options.rings), travel)
    return tour


def near_cuts(strokes: Sequence[Stroke], distance_mm: float) -> IntArray:
    """Pairs of cuts whose lines come closer than ``distance_mm``, each once, shape (n, 2)."""
    numbers = np.array(
        [s for s, stroke in enumerate(strokes) if stroke.process is Process.CUT], dtype=np.int64
    )
    lines = [
        shapely.linestrings(strokes[s].path.line)
        if len(strokes[s].path.line) > 1
        else shapely.points(strokes[s].path.points[0])
        for s in numbers
    ]
    pairs = shapely.STRtree(lines).query(
        np.array(lines, dtype=object), predicate="dwithin", distance=distance_mm
    )
    pairs = pairs[:, pairs[0] < pairs[1]]
    return np.ascontiguousarray(numbers[pairs].T)


def _burn_s(stroke: Stroke) -> float:
    if stroke.block is not None:
        return float((stroke.block.lengths_mm / stroke.block.moves["speed_mm_s"]).sum())
    return stroke.path.length_mm * stroke.passes / stroke.speed_mm_s


def _rows(pairs: IntArray, count: int) -> tuple[IntArray, IntArray]:
    """Compressed rows: the strokes near each stroke."""
    both = np.vstack([pairs, pairs[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    first = np.zeros(count + 1, dtype=np.int64)
    np.cumsum(np.bincount(both[:, 0], minlength=count), out=first[1:])
    return first, np.ascontiguousarray(both[:, 1])


@dataclass(frozen=True, eq=False, slots=True)
class Gaps:
    """Near cuts in the order burned, shape (n, 2), and the seconds between them, by the clock."""

    pairs: IntArray
    seconds: FloatArray


def gaps_between(toolpath: Toolpath, spans: IntArray, pairs: IntArray, machine: Machine) -> Gaps:
    """Seconds from the end of one cut of each pair to the beginning of the other."""
    ended = np.concatenate([[0.0], np.cumsum(move_times_s(toolpath, machine))])
    turned = np.where(
        (spans[pairs[:, 0], 0] > spans[pairs[:, 1], 0])[:, None], pairs[:, ::-1], pairs
    )
    return Gaps(turned, ended[spans[turned[:, 1], 0]] - ended[spans[turned[:, 0], 1]])


def with_waits(
    toolpath: Toolpath, spans: IntArray, pairs: IntArray, machine: Machine, seconds: float
) -> Toolpath:
    """Let the beam stand, switched off, before travels to cuts that would come too soon.

    Where a cut begins on the end of another there is no travel, and nothing waits.
    """
    gaps = gaps_between(toolpath, spans, pairs, machine)
    moves = toolpath.moves.copy()
    waited = np.zeros(len(moves) + 1)
    for row in np.argsort(spans[gaps.pairs[:, 1], 0], kind="stable"):
        earlier, later = gaps.pairs[row]
        ends, begins = spans[earlier, 1], spans[later, 0]
        short_s = seconds - gaps.seconds[row] - waited[ends:begins].sum()
        travel = begins - 1
        if short_s > SHORT_S and travel >= ends and moves["kind"][travel] == MoveKind.TRAVEL:
            moves["dwell_s"][travel] += short_s
            waited[travel] += short_s
    return replace(toolpath, moves=moves)


def cooling_findings(
    gaps: Gaps, strokes: Sequence[Stroke], cooling: Cooling, sheet: str
) -> tuple[Finding, ...]:
    """Tell the least time between near cuts that was reached, and how many have less than asked."""
    if len(gaps.seconds) == 0:
        return ()
    least = int(np.argmin(gaps.seconds))
    short = int(np.count_nonzero(gaps.seconds < cooling.seconds - SHORT_S))
    between = (
        f"on {sheet}, cuts closer than {cooling.distance_mm:g} mm are at least "
        f"{max(float(gaps.seconds[least]), 0.0):.1f} s apart"
    )
    if short == 0:
        return (Finding(Severity.NOTE, "sequence/cooling", f"{between[0].upper()}{between[1:]}."),)
    x_mm, y_mm = strokes[gaps.pairs[least, 1]].path.points[0].tolist()
    return (
        Finding(
            Severity.WARN,
            "sequence/cooling",
            f"{between[0].upper()}{between[1:]}; the recipe asks for {cooling.seconds:g} s, which "
            f"{short} of {len(gaps.seconds)} neighbouring cuts do not get.",
            "Allow waiting with cooling_wait = true in the recipe, place the parts further apart, "
            "or cut faster with more passes.",
            x_mm=x_mm,
            y_mm=y_mm,
            count=short,
        ),
    )
