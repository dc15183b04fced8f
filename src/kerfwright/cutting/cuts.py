"""Placed parts into cuts: compensated, shared edges once, and what must come before what.

A piece that is free is never cut again: parts in holes come before what is around them, holes
before outlines, and lines between parts in the order of :mod:`kerfwright.cutting.enclosing`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from kerfwright.cutting.clearance import closer_than_kerf
from kerfwright.cutting.clusters import Outlines, separate_outlines, shared_outlines
from kerfwright.cutting.enclosing import NOTHING, OUTSIDE, Freeing, enclose_in_order
from kerfwright.cutting.kerf import BeamLines, compensated
from kerfwright.cutting.laid import laid_strokes
from kerfwright.cutting.shared_edges import IntArray
from kerfwright.cutting.tabs import HoldingTab
from kerfwright.cutting.trails import trails
from kerfwright.cutting.web import Web
from kerfwright.findings import Finding
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import polygon_of
from kerfwright.parts.model import Part
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import CUT_PHASE, MoveKind, Process, Stroke


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
    tabs: Sequence[HoldingTab] = (),
    sheet_mm: tuple[float, float] | None = None,
) -> CutWork:
    """Cut placed parts, in sheet coordinates; ``sources[i]`` is recorded in part i's moves.

    With ``shared_edges``, lines no further than ``merge_mm`` apart are cut once. Parts one kerf
    apart keep their size that way; parts that touch are cut along their common line, without
    compensation, and each loses half a kerf there, which a finding says. Blanks are not cut.

    Outlines are interrupted for ``tabs``. Lead-ins, where the recipe has them, keep on the sheet of
    ``sheet_mm`` (width, height) if that is given.
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
    findings += closer_than_kerf(cut_parts, outer.cluster, kerf_mm)
    strokes, before, inner = _strokes(
        cut_parts, lines, outer, [sources[i] for i in numbers], recipe
    )
    strokes, found = laid_strokes(
        strokes,
        inner,
        parts,
        recipe,
        tabs=tabs,
        reach_mm=kerf_mm / 2.0 + merge_mm,
        sheet_mm=sheet_mm,
    )
    findings += found
    return CutWork(
        strokes=strokes,
        before=before,
        findings=_gathered(findings),
        separate_mm=sum(path.length_mm for beam in lines for path in (*beam.rings, *beam.slits)),
        cut_mm=sum(stroke.path.length_mm for stroke in strokes),
        shared_mm=float(web.lengths_mm[web.shared].sum()) if (web := outer.web) else 0.0,
    )


def _gathered(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Copies of a part have the same to tell: once, with the place of the first."""
    alike: dict[tuple[str, str, str, str], Finding] = {}
    for finding in findings:
        key = (finding.code, finding.what, finding.drawing, finding.shape)
        known = alike.get(key)
        alike[key] = replace(known, count=known.count + finding.count) if known else finding
    return tuple(alike.values())


def _strokes(
    parts: Sequence[Part],
    lines: Sequence[BeamLines],
    outer: Outlines,
    sources: Sequence[int],
    recipe: Recipe,
) -> tuple[tuple[Stroke, ...], tuple[tuple[int, int], ...], frozenset[int]]:
    """Strokes, what comes before what, and which strokes are holes and slits."""
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

    phase = (CUT_PHASE + _heights(parts, outer)).tolist()
    alone = np.bincount(outer.cluster, minlength=len(parts))[outer.cluster] == 1
    inner = [
        [add(path, i, phase[i]) for path in (*(beam.holes if alone[i] else ()), *beam.slits)]
        for i, beam in enumerate(lines)
    ]
    for i, paths in enumerate(outer.own):
        # rings round waste pockets come with the outline; the outline frees the part
        closing = [add(path, i, phase[i]) for path in sorted(paths, key=_length_mm)]
        before += [(one, closing[-1]) for one in (*inner[i], *closing[:-1]) if closing]
    if outer.web is not None:
        first = len(strokes)
        freeing = _freeing(outer.web, outer.cluster)
        for trail in freeing.strokes:
            part = int(outer.web.beside[list(trail.pieces), 0].min())
            points = outer.web.nodes[list(trail.nodes)]
            add(Path(points, trail.closed), part, phase[part])
        before += [(first + i, first + j) for i, j in freeing.before]
        for i, holes in enumerate(inner):
            if freeing.opened_by[i] != NOTHING:
                before += [(hole, first + freeing.opened_by[i]) for hole in holes]
    return tuple(strokes), tuple(before), frozenset(one for those in inner for one in those)


def _length_mm(path: Path) -> float:
    return path.length_mm


def _freeing(web: Web, cluster: IntArray) -> Freeing:
    """Strokes along the web, the lines next to the sheet apart from those between parts."""
    edge = (web.beside == OUTSIDE).any(axis=1)
    kinds = 2 * cluster[web.beside[:, 0]] + edge
    return enclose_in_order(trails(web.nodes, web.ends, kinds.tolist()), web.beside, web.faces)


def _heights(parts: Sequence[Part], outer: Outlines) -> IntArray:
    """How many levels of parts lie in holes and pockets of each part's cluster: those go first."""
    heights = np.zeros(len(parts), dtype=np.int64)
    cluster = outer.cluster
    hollows = [
        *(
            (polygon_of(hole), int(cluster[i]))
            for i, part in enumerate(parts)
            for hole in part.holes
        ),
        *outer.pockets,
    ]
    if not hollows:
        return heights
    inside = [part.outline.points[0] for part in parts]
    hollow, held = shapely.STRtree(shapely.points(inside)).query(
        [polygon for polygon, _ in hollows], predicate="contains"
    )
    pairs = {
        (hollows[h][1], int(cluster[p]))
        for h, p in zip(hollow, held, strict=True)
        if cluster[p] != hollows[h][1]
    }
    for _ in range(len(parts)):
        changed = False
        for outside, within in pairs:
            if heights[outside] <= heights[within]:
                heights[outside] = heights[within] + 1
                changed = True
        if not changed:
            break
    return heights[cluster]
