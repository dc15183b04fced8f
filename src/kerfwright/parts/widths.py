"""Checks before burning: what is too narrow for the kerf, the spot, or the material to bear.

All sizes are those of the finished part: the beam runs beside outlines and holes, so they come out
as drawn, but a slit is cut on its line and takes half a kerf from either side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.regions import polygon_of
from kerfwright.parts.congruence import AlikeParts, alike_parts
from kerfwright.parts.gathered import gathered, names_of
from kerfwright.parts.laying import line_of
from kerfwright.parts.model import EngraveMark, Part
from kerfwright.parts.narrow import NarrowPlace, narrow_places

SPOT_SHARE = 0.9
"""A stroke this much of the spot wide still looks as drawn."""


@dataclass(frozen=True, slots=True)
class BurnWidths:
    """What a shop burns with and on.

    ``bears_mm`` is how narrow a web may be before it breaks or chars; by default the material's
    thickness (common practice, no source). ``kerf_mm`` is ``None`` where nothing is cut.
    """

    material: str
    thickness_mm: float
    spot_mm: float
    kerf_mm: float | None = None
    bears_mm: float | None = None

    @property
    def least_web_mm(self) -> float:
        """Narrower webs are pointed out."""
        return self.thickness_mm if self.bears_mm is None else self.bears_mm


def width_findings(
    parts: Sequence[Part], alike: Sequence[AlikeParts], widths: BurnWidths, drawing: str
) -> list[Finding]:
    """Find webs and holes too small to be cut or to last, and engraved strokes too thin.

    Of parts that are ``alike``, and for cuts of those that are alike but for their marks, one is
    looked at and stands for all.
    """
    distinct = _distinct(parts, alike)
    burned: list[Finding] = []
    weak: list[Finding] = []
    holes: list[Finding] = []
    for part, copies in _cut_alike(distinct):
        gone = _burned_webs(part, copies, widths)
        burned += gone
        if not gone:
            weak += _weak_webs(part, copies, widths)
        holes += _small_holes(part, copies, widths)
    thin = [f for part, copies in distinct for f in _thin_strokes(part, copies, widths, drawing)]
    return gathered(burned) + gathered(weak) + gathered(holes) + gathered(thin)


def gap_findings(
    parts: Sequence[Part], alike: Sequence[AlikeParts], widths: BurnWidths
) -> list[Finding]:
    """Find slots and notches that are narrower than the kerf, in the drawing's own places."""
    found: list[Finding] = []
    kerf_mm = widths.kerf_mm
    if not kerf_mm:
        return found
    for part, copies in _cut_alike(_distinct(parts, alike)):
        edge = polygon_of(part.outline)
        waste = [edge.envelope.buffer(4.0 * kerf_mm, join_style="mitre").difference(edge)]
        waste += [polygon_of(hole) for hole in part.holes]
        places = [place for area in waste for place in narrow_places(area, kerf_mm)]
        if places:
            found.append(_gap(part, copies, sorted(places, key=_by_width), kerf_mm))
    return gathered(found)


def _distinct(parts: Sequence[Part], alike: Sequence[AlikeParts]) -> list[tuple[Part, int]]:
    """One of each kind of part, and how many there are."""
    copies = {group.members[0]: len(group.members) for group in alike}
    again = {member for group in alike for member in group.members[1:]}
    return [(part, copies.get(n, 1)) for n, part in enumerate(parts) if n not in again]


def _cut_alike(parts: Sequence[tuple[Part, int]]) -> list[tuple[Part, int]]:
    """One of each kind of part whose cuts are alike, whatever is marked on it, and how many."""
    cut = [(part, copies) for part, copies in parts if not part.blank]
    bare = [replace(part, scores=(), engraves=(), photos=()) for part, _ in cut]
    groups = alike_parts(bare)
    again = {member for group in groups for member in group.members[1:]}
    together = {group.members[0]: sum(cut[n][1] for n in group.members) for group in groups}
    return [
        (part, together.get(n, copies)) for n, (part, copies) in enumerate(cut) if n not in again
    ]


def _by_width(place: NarrowPlace) -> float:
    return place.width_mm


def _burned_webs(part: Part, copies: int, widths: BurnWidths) -> list[Finding]:
    kerf_mm = widths.kerf_mm
    if not kerf_mm:
        return []
    material: BaseGeometry = part.polygon
    if part.slits:
        cuts = shapely.union_all([line_of(slit) for slit in part.slits])
        material = material.difference(cuts.buffer(kerf_mm / 2.0))
    places = narrow_places(material, kerf_mm)
    if not places:
        return []
    return [
        _finding(
            Severity.STOP,
            "parts/web-burns-away",
            f"{_web(places[0], part, len(places), copies)}, less than the kerf ({kerf_mm:g} mm): "
            "nothing of it is left between the cuts.",
            "Draw it wider, or leave the narrow place out and let the lines run together.",
            part,
            places[0],
            len(places) * copies,
        )
    ]


def _weak_webs(part: Part, copies: int, widths: BurnWidths) -> list[Finding]:
    least_mm = widths.least_web_mm
    places = narrow_places(part.polygon, least_mm)
    if not places:
        return []
    thick = f"the thickness of the material ({least_mm:g} mm)"
    return [
        _finding(
            Severity.WARN,
            "parts/web-weak",
            f"{_web(places[0], part, len(places), copies)}, less than "
            f"{thick if widths.bears_mm is None else f'{least_mm:g} mm'}: it may char through or "
            "break.",
            "Draw it wider where the part has to hold; cut a test piece first.",
            part,
            places[0],
            len(places) * copies,
        )
    ]


def _web(place: NarrowPlace, part: Part, count: int, copies: int) -> str:
    if place.everywhere:
        what = f'"{part.name}" is at most {place.width_mm:.2f} mm wide here'
    else:
        what = f'the material of "{part.name}" is only {place.width_mm:.2f} mm wide here'
    places = f"{count} narrow places " if count > 1 else ""
    if copies > 1:
        return f"{what} ({places}in each of {copies} parts alike)"
    return f"{what} ({places}in all)" if places else what


def _small_holes(part: Part, copies: int, widths: BurnWidths) -> list[Finding]:
    if not part.holes:
        return []
    boxes = np.array([hole.bounds_mm for hole in part.holes])
    wide_mm = (boxes[:, 2:] - boxes[:, :2]).max(axis=1)
    # no hole is longer than its box's diagonal, so only small boxes are measured
    near = np.flatnonzero(wide_mm < widths.thickness_mm)
    long_mm = np.array([_longest_mm(polygon_of(part.holes[index])) for index in near])
    small = near[long_mm < widths.thickness_mm] if len(near) else near
    if not len(small):
        return []
    smallest = int(near[np.argmin(long_mm)])
    middle = (boxes[smallest, :2] + boxes[smallest, 2:]) / 2.0
    size = f"{boxes[smallest, 2] - boxes[smallest, 0]:.2f} × "
    size += f"{boxes[smallest, 3] - boxes[smallest, 1]:.2f} mm"
    number = len(small) * copies
    return [
        Finding(
            Severity.WARN,
            "parts/hole-small",
            f'{number_of(number, "hole")} of "{part.name}"'
            f"{' and the parts like it' if copies > 1 else ''} "
            f"{'is' if number == 1 else 'are'} smaller than the material is thick "
            f"({widths.thickness_mm:g} mm); the smallest is {size}. It will be narrower at the "
            "bottom, and its slug may stay in.",
            "Draw it larger, mark its centre by a score and drill it, or cut a test piece.",
            drawing=part.drawing,
            shape=part.name,
            x_mm=float(middle[0]),
            y_mm=float(middle[1]),
            count=number,
        )
    ]


def _longest_mm(polygon: Polygon) -> float:
    """Longer side of the narrowest rectangle round a polygon."""
    corners = shapely.get_coordinates(polygon.minimum_rotated_rectangle)
    return float(np.hypot(*np.diff(corners[:3], axis=0).T).max())


def _thin_strokes(part: Part, copies: int, widths: BurnWidths, drawing: str) -> list[Finding]:
    least_mm = SPOT_SHARE * widths.spot_mm
    thin: list[tuple[EngraveMark, NarrowPlace]] = []
    for mark in part.engraves:
        thin += [(mark, place) for place in narrow_places(mark.area, least_mm)]
    if not thin:
        return []
    mark, narrowest = min(thin, key=lambda one: one[1].width_mm)
    count = len(thin) * copies
    places = "a stroke is" if count == 1 else f"{count} strokes are"
    return [
        Finding(
            Severity.WARN,
            "parts/stroke-thin",
            f"{places} narrower than the spot ({widths.spot_mm:g} mm), the narrowest "
            f"{narrowest.width_mm:.3f} mm: the beam burns them as wide as its spot or leaves gaps.",
            "Draw the strokes at least as wide as the spot, take a larger or bolder letter, or "
            'give the line itself the process "score".',
            drawing=drawing,
            shape=names_of([mark.shape, *(one.shape for one, _ in thin)]),
            x_mm=narrowest.x_mm,
            y_mm=narrowest.y_mm,
            count=count,
        )
    ]


def _gap(part: Part, copies: int, places: Sequence[NarrowPlace], kerf_mm: float) -> Finding:
    count = len(places) * copies
    what = "a gap is" if count == 1 else f"{count} gaps are"
    return _finding(
        Severity.WARN,
        "parts/gap-narrower-than-kerf",
        f'{what} narrower than the kerf ({kerf_mm:g} mm) in "{part.name}"'
        f"{' and the parts like it' if copies > 1 else ''}; the narrowest is "
        f"{places[0].width_mm:.2f} mm wide. The beam is too wide for it, so it stays closed.",
        "Draw it as a single open line, which is cut as a slit as wide as the kerf, or wider.",
        part,
        places[0],
        count,
    )


def _finding(
    severity: Severity,
    code: str,
    what: str,
    remedy: str,
    part: Part,
    place: NarrowPlace,
    count: int,
) -> Finding:
    return Finding(
        severity,
        code,
        what,
        remedy,
        drawing=part.drawing,
        shape=part.name,
        x_mm=place.x_mm,
        y_mm=place.y_mm,
        count=count,
    )
