"""Placed parts into cuts: compensated, shared edges once, and what must come before what.

With shared edges the order follows the rule of ordered enclosing (Makarovskikh, Panyukov &
Savitsky, *Automation and Remote Control* 78, 2017): a piece that is free is never cut again.
Stretches that two parts share are cut before anything that could close one of them, so that a
part only comes free with its last stretch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.cutting.clusters import Outlines, separate_outlines, shared_outlines
from kerfwright.cutting.kerf import BeamLines, compensated
from kerfwright.cutting.shared_edges import IntArray
from kerfwright.findings import Finding
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import polygon_of
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Process, Stroke

FIRST_PHASE = 2
"""Engraving and scoring come before."""

INNER, SHARED, OUTER, STEPS = range(4)
"""Steps of parts that share edges: holes and slits, shared stretches, the rest."""


@dataclass(frozen=True, eq=False, slots=True)
class CutWork:
    """Cuts of a sheet with their precedence.

    ``before`` has pairs (i, j): stroke i is burned before stroke j. ``separate_mm`` is the length
    if every part were cut by itself, ``cut_mm`` the length that is cut, ``shared_mm`` the part
    of it that belongs to two parts.
    """

    strokes: tuple[Stroke, ...]
    before: tuple[tuple[int, int], ...]
    findings: tuple[Finding, ...]
    separate_mm: float
    cut_mm: float
    shared_mm: float


def cut_strokes(
    parts: Sequence[Part],
    sources: Sequence[int],
    recipe: Recipe,
    *,
    merge_mm: float,
    shared_edges: bool,
) -> CutWork:
    """Cut placed parts, in sheet coordinates; ``sources[i]`` is recorded in part i's moves.

    With ``shared_edges``, lines no further than ``merge_mm`` apart are cut once. Parts one kerf
    apart keep their size that way; parts that touch are cut along their common line, without
    compensation, and each loses half a kerf there, which a finding says. Blanks are not cut.
    """
    kerf_mm = recipe.kerf_mm or 0.0
    numbers = [i for i, part in enumerate(parts) if not part.blank]
    cut_parts = [parts[i] for i in numbers]
    lines: list[BeamLines] = []
    findings: list[Finding] = []
    for part in cut_parts:
        beam, found = compensated(part, kerf_mm)
        lines.append(beam)
        findings += found
    if shared_edges:
        outer, found = shared_outlines(cut_parts, lines, kerf_mm, merge_mm)
        findings += found
    else:
        outer = separate_outlines(lines)
    strokes, before = _strokes(cut_parts, lines, outer, [sources[i] for i in numbers], recipe)
    return CutWork(
        strokes=strokes,
        before=before,
        findings=tuple(findings),
        separate_mm=sum(path.length_mm for beam in lines for path in (*beam.outline, *beam.inner)),
        cut_mm=sum(stroke.path.length_mm for stroke in strokes),
        shared_mm=sum(path.length_mm for path, _ in outer.shared),
    )


def _strokes(
    parts: Sequence[Part],
    lines: Sequence[BeamLines],
    outer: Outlines,
    sources: Sequence[int],
    recipe: Recipe,
) -> tuple[tuple[Stroke, ...], tuple[tuple[int, int], ...]]:
    strokes: list[Stroke] = []
    before: list[tuple[int, int]] = []

    def add(path: Path, part: int, phase: int) -> int:
        strokes.append(
            Stroke(
                path=path,
                process=Process.CUT,
                kind=MoveKind.CUT,
                speed_mm_s=recipe.speed_mm_s,
                power=recipe.power,
                source=sources[part],
                phase=phase,
                passes=recipe.passes,
            )
        )
        return len(strokes) - 1

    first_phase = FIRST_PHASE + STEPS * _heights(parts, outer.cluster)
    clustered = np.bincount(outer.cluster, minlength=len(parts))[outer.cluster] > 1
    for i in range(len(parts)):
        # a part by itself leaves the order to the pairs, which lets the search mix it with others
        last_phase = int(first_phase[i]) + (OUTER if clustered[i] else INNER)
        inner = [add(path, i, int(first_phase[i]) + INNER) for path in lines[i].inner]
        longest_last = sorted(outer.own[i], key=lambda path: path.length_mm)
        # rings round waste pockets come with the outline; the outline frees the part
        closing = [add(path, i, last_phase) for path in longest_last]
        before += [(one, closing[-1]) for one in (*inner, *closing[:-1]) if closing]
    for path, i in outer.shared:
        add(path, i, int(first_phase[i]) + SHARED)
    return tuple(strokes), tuple(before)


def _heights(parts: Sequence[Part], cluster: IntArray) -> IntArray:
    """How many levels of parts lie in the holes of each part's cluster: those are cut first."""
    heights = np.zeros(len(parts), dtype=np.int64)
    holes = [(i, polygon_of(hole)) for i, part in enumerate(parts) for hole in part.holes]
    if not holes:
        return heights
    inside = [part.outline.points[0] for part in parts]
    holder, held = shapely.STRtree(shapely.points(inside)).query(
        [polygon for _, polygon in holes], predicate="contains"
    )
    pairs = {
        (int(cluster[holes[h][0]]), int(cluster[p]))
        for h, p in zip(holder, held, strict=True)
        if cluster[holes[h][0]] != cluster[p]
    }
    by_cluster = np.zeros(len(parts), dtype=np.int64)
    for _ in range(len(parts)):
        changed = False
        for outside, within in pairs:
            if by_cluster[outside] <= by_cluster[within]:
                by_cluster[outside] = by_cluster[within] + 1
                changed = True
        if not changed:
            break
    return by_cluster[cluster]
