"""Gives marks and guides to the pieces of material that they lie in.

Parts move apart when they are nested, so a mark that lies over an edge is cut off there: what was
drawn outside would otherwise burn into a neighbour. A mark over several parts is shared out, each
part getting what was drawn on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Shape
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area, polygon_of
from kerfwright.parts.gathered import counted, gathered, names_of
from kerfwright.parts.laying import Ground, Laid, ground, line_of, paths_in
from kerfwright.parts.marks import Marks
from kerfwright.parts.model import EngraveMark, PhotoMark, ScoreMark

MOSTLY = 0.5
"""What lies outside every part by more than this fraction belongs to none."""


@dataclass(eq=False, slots=True)
class Belongings:
    """What belongs to one piece of material."""

    slits: list[Path] = field(default_factory=list)
    scores: list[ScoreMark] = field(default_factory=list)
    engraves: list[EngraveMark] = field(default_factory=list)
    guides: list[Path] = field(default_factory=list)
    photos: list[PhotoMark] = field(default_factory=list)


def give_marks(
    marks: Marks, land: Ground, belongings: Sequence[Belongings], drawing: str
) -> list[Finding]:
    """Give every mark to the pieces it lies in; report what lies in none and is left off."""
    lines = [(n, path) for n, mark in enumerate(marks.scores) for path in mark.paths]
    laid_lines = land.lay([line_of(path) for _, path in lines])
    paths: dict[tuple[int, int], list[Path]] = {}
    for (n, path), laid in zip(lines, laid_lines, strict=True):
        for piece, share in kept_shares(laid):
            paths.setdefault((n, piece), []).extend([path] if laid.whole else paths_in(share))
    for (n, piece), shares in paths.items():
        mark = marks.scores[n]
        belongings[piece].scores.append(ScoreMark(mark.shape, mark.layer, tuple(shares)))

    polygons = [(n, area) for n, mark in enumerate(marks.engraves) for area in mark.area.geoms]
    laid_areas = land.lay([area for _, area in polygons])
    areas: dict[tuple[int, int], list[BaseGeometry]] = {}
    for (n, _), laid in zip(polygons, laid_areas, strict=True):
        for piece, share in kept_shares(laid):
            areas.setdefault((n, piece), []).append(share)
    for (n, piece), shared in areas.items():
        engraved = marks.engraves[n]
        area = as_area(shapely.multipolygons([p for s in shared for p in as_area(s).geoms]))
        belongings[piece].engraves.append(EngraveMark(engraved.shape, engraved.layer, area))

    told = [(marks.scores[n].shape, laid) for (n, _), laid in zip(lines, laid_lines, strict=True)]
    told += [
        (marks.engraves[n].shape, laid) for (n, _), laid in zip(polygons, laid_areas, strict=True)
    ]
    return _mark_findings(told, drawing)


def give_guides(
    shapes: Iterable[Shape],
    edges: Sequence[Path],
    belongings: Sequence[Belongings],
    drawing: str,
) -> list[Finding]:
    """Give guides to the innermost of ``edges`` they lie in, holes or not; count the others."""
    guides = guide_lines(shapes)
    if not guides:
        return []
    outlines = [polygon_of(edge) for edge in edges]
    from_inside = sorted(range(len(outlines)), key=lambda piece: outlines[piece].area)
    land = ground([outlines[piece] for piece in from_inside])
    inside = 0
    for (_, path), laid in zip(guides, land.lay([line_of(p) for _, p in guides]), strict=True):
        if laid.whole and laid.shares:
            belongings[from_inside[laid.shares[0][0]]].guides.append(path)
            inside += 1
    return guide_findings([name for name, _ in guides], inside, drawing)


def guide_lines(shapes: Iterable[Shape]) -> list[tuple[str, Path]]:
    """Lines of guides, with their shape."""
    return [(shape.name, path) for shape in shapes for path in shape.paths if len(path.points) > 1]


def guide_findings(names: Sequence[str], inside: int, drawing: str) -> list[Finding]:
    """Say how many lines are guides and so are not burned."""
    if len(names) == 1:
        where = "it lies inside a part" if inside else "it lies in no part"
    else:
        where = f"{inside or 'none'} of them inside a part"
    return counted(
        Severity.NOTE,
        "parts/guides",
        names,
        ("line is a guide", "lines are guides"),
        f" and not burned; {where}.",
        "If a line should be burned, give it another process by a rule.",
        drawing=drawing,
    )


def kept_shares(laid: Laid) -> tuple[tuple[int, BaseGeometry], ...]:
    """Pieces that get a share; none if most of it lies outside every piece."""
    return () if laid.fraction > MOSTLY else laid.shares


def _mark_findings(told: Sequence[tuple[str, Laid]], drawing: str) -> list[Finding]:
    outside = [(shape, laid) for shape, laid in told if not kept_shares(laid)]
    shared = [shape for shape, laid in told if len(kept_shares(laid)) > 1]
    over = [(shape, laid) for shape, laid in told if kept_shares(laid) and laid.outside > 0.0]
    findings = [_outside_parts(outside, drawing)] if outside else []
    findings += gathered([_over_edge(shape, laid, drawing) for shape, laid in over])
    return findings + counted(
        Severity.WARN,
        "parts/mark-shared-out",
        shared,
        ("mark lies", "marks lie"),
        " over more than one part; each part gets what was drawn on it.",
        "If it belongs to one part only, move it inside that part's outline.",
        drawing=drawing,
    )


def _outside_parts(outside: Sequence[tuple[str, Laid]], drawing: str) -> Finding:
    at = outside[0][1].at_mm
    return Finding(
        Severity.STOP,
        "parts/mark-outside-part",
        f"{len(outside)} {'mark lies' if len(outside) == 1 else 'marks lie'} outside every part, "
        "or in a hole.",
        "Draw a closed cut outline round what belongs together, or set blank = true for an item "
        "that is made elsewhere. If an outline round everything is only the edge of the page or "
        'sheet, make it "guide" by a rule: what lies inside it counts as its holes.',
        drawing=drawing,
        shape=names_of(shape for shape, _ in outside),
        x_mm=None if at is None else at[0],
        y_mm=None if at is None else at[1],
        count=len(outside),
    )


def _over_edge(shape: str, laid: Laid, drawing: str) -> Finding:
    is_area = any(share.area > 0.0 for _, share in laid.shares)
    at = laid.at_mm
    return Finding(
        Severity.WARN,
        "parts/mark-over-edge",
        f'the mark "{shape}" reaches over the edge of its part or into a hole: '
        f"{laid.outside:.2f} {'mm²' if is_area else 'mm'} ({100 * laid.fraction:.1f} %) lie in no "
        "part and are left off.",
        "Move it inside the outline, or change the outline, if all of it should be burned.",
        drawing=drawing,
        shape=shape,
        x_mm=None if at is None else at[0],
        y_mm=None if at is None else at[1],
    )
