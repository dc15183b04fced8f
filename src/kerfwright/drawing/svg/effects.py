"""Clips and masks of elements: finds the area that they leave, and cuts what was drawn along it.

SVG 1.1 chapter 14, CSS Masking 1. An element is drawn first, then what it drew is cut; so a clip
on a group, a copy or a text is the same as one on a path.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import shapely
from lxml import etree

from kerfwright.drawing.model import Paint, Picture, Shape
from kerfwright.drawing.svg.clip import Region, is_line
from kerfwright.drawing.svg.findings import SvgTally
from kerfwright.drawing.svg.geometry import SHAPES
from kerfwright.drawing.svg.mask import mask_area
from kerfwright.drawing.svg.paint import KEYWORDS, Style, url_of
from kerfwright.drawing.svg.place import Place
from kerfwright.drawing.svg.style import StyleSheet
from kerfwright.drawing.svg.values import Measures, inverted, length
from kerfwright.drawing.svg.xml import href_of, local_name
from kerfwright.geometry.affine import Affine, scaling, translation
from kerfwright.geometry.regions import filled

_SILENT = frozenset(("title", "desc", "metadata", "script", "set", "style", "defs", ""))

_SILHOUETTE = Paint("#000000")
_EVERYTHING = Paint("#000000", "#000000", 1.0)

_WHOLE_BOX = 1.0
"""In units of the bounding box, percentages refer to the box itself."""


@dataclass(frozen=True, slots=True)
class Captured:
    """What was drawn aside, not for the drawing; ``faint`` are names of shapes that shine."""

    shapes: tuple[Shape, ...]
    faint: frozenset[str]
    has_pictures: bool


@dataclass(frozen=True, slots=True)
class SoFar:
    """How many shapes and pictures had been drawn at some time."""

    shapes: int
    pictures: int


class Walk(Protocol):
    """The walk over a file, as far as effects need it."""

    by_id: dict[str, etree._Element]
    styles: StyleSheet
    tally: SvgTally
    shapes: list[Shape]
    pictures: list[Picture]
    open: set[etree._Element]

    @property
    def so_far(self) -> SoFar:
        """What has been drawn until now."""

    def captured(self, draw: Callable[[], None]) -> Captured:
        """Return what ``draw`` draws, and keep it out of the drawing."""

    def draw_content(
        self, element: etree._Element, declared: Mapping[str, str], place: Place
    ) -> None:
        """Draw an element and what is in it, without its own clip and mask."""

    def draw_children(self, element: etree._Element, place: Place) -> None:
        """Draw what is in an element."""

    def visit(self, element: etree._Element, place: Place) -> None:
        """Draw an element with everything on it."""


class Effects:
    """Clips and masks of one drawing."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._regions: dict[object, Region | None] = {}
        self._resolving: set[etree._Element] = set()
        self._styles: dict[etree._Element, Style] = {}
        self._cut: set[str] = set()
        self._bare = False
        """Whether only extents are wanted, which clips do not change."""

    def apply(
        self, element: etree._Element, declared: Mapping[str, str], place: Place, since: SoFar
    ) -> None:
        """Cut what an element has just drawn: everything ``since`` then."""
        for effect, kind in (("clip-path", "clipPath"), ("mask", "mask")):
            text = declared.get(effect, "none")
            if text.lower() in KEYWORDS | {"none"} or self._bare:
                continue
            target = self._target(text, kind, effect, element)
            if target is None:
                continue
            region = self._region(target, element, place)
            if region is None:
                self._not_applied(effect, element)
            else:
                self.cut(region, since, "clipped")

    def cut(self, region: Region, since: SoFar, slug: str) -> None:
        """Cut everything drawn ``since`` then along a region, and count it under ``slug``."""
        walk = self._walk
        kept = []
        for shape in walk.shapes[since.shapes :]:
            left = region.left_of(shape)
            if left is not None:
                kept.append(left)
            with_edge = shape.paint.stroke is not None and not is_line(shape.paint)
            self._tell(shape, left, slug, with_edge=with_edge)
        walk.shapes[since.shapes :] = kept
        shown = []
        for picture in walk.pictures[since.pictures :]:
            seen = region.left_of_picture(picture)
            if seen is not None:
                shown.append(seen)
            self._tell(picture, seen, slug, with_edge=False)
        walk.pictures[since.pictures :] = shown

    def _tell(
        self,
        whole: Shape | Picture,
        left: Shape | Picture | None,
        slug: str,
        *,
        with_edge: bool,
    ) -> None:
        tally = self._walk.tally
        if left is None:
            tally.add("clipped-away", shape=whole.name)
        elif left is not whole and whole.name not in self._cut:
            self._cut.add(whole.name)
            tally.add(slug, shape=whole.name)
            if with_edge:
                tally.add("clipped-edge", shape=whole.name)

    def style_around(self, element: etree._Element, measures: Measures) -> Style:
        """Return what an element inherits where it stands in the file, not where it is used."""
        parent = element.getparent()
        if parent is None:
            return Style()
        if parent not in self._styles:
            above = self.style_around(parent, measures)
            self._styles[parent] = above.inherited(self._walk.styles.declared(parent), measures)
        # whatever hides the place of a definition does not hide its use
        return replace(self._styles[parent], opaque=True, faint=False)

    def _target(
        self, text: str, kind: str, effect: str, element: etree._Element
    ) -> etree._Element | None:
        href = url_of(text)
        if href is None:
            self._not_applied(effect, element, f"{effect}: {text}")
            return None
        target = self._walk.by_id.get(href.removeprefix("#"))
        if target is None or local_name(target) != kind:
            self._walk.tally.add(
                "missing-reference", shape=element.get("id", ""), detail=f"{effect}: {href}"
            )
            return None
        return target

    def _not_applied(self, effect: str, element: etree._Element, detail: str = "") -> None:
        name = element.get("id") or f"<{local_name(element)}>"
        self._walk.tally.add(effect, shape=name, detail=detail)

    def _region(
        self, target: etree._Element, element: etree._Element, place: Place
    ) -> Region | None:
        """The area in mm that a clipPath or mask leaves of an element; ``None`` if unknown."""
        if target in self._resolving:
            return None
        kind = local_name(target)
        box = None
        if "objectBoundingBox" in _units(target, kind):
            box = self._box(element, place)
            if box is None:
                return None
        key = (target, place.to_mm, place.measures, box)
        if key not in self._regions:
            self._resolving.add(target)
            found = self._clip if kind == "clipPath" else self._mask
            self._regions[key] = found(target, element, place, box)
            self._resolving.discard(target)
        return self._regions[key]

    def _box(self, element: etree._Element, place: Place) -> Affine | None:
        """Frame of an element's bounding box in its user units; ``None`` if it has no area."""
        back = inverted(place.to_mm)
        if back is None:
            return None
        before, self._bare = self._bare, True
        bare = replace(place, silhouette=_EVERYTHING, copy=place.copy or "")
        declared = self._walk.styles.declared(element)
        drawn = self._walk.captured(lambda: self._walk.draw_content(element, declared, bare))
        self._bare = before
        points = [back.apply(path.points) for shape in drawn.shapes for path in shape.paths]
        if not points:
            return None
        low = np.min([one.min(axis=0) for one in points], axis=0)
        high = np.max([one.max(axis=0) for one in points], axis=0)
        width, height = (float(size) for size in high - low)
        if min(width, height) <= 0.0:
            return None
        return translation(float(low[0]), float(low[1])) @ scaling(width, height)

    def _clip(
        self,
        target: etree._Element,
        element: etree._Element,
        place: Place,
        box: Affine | None,
    ) -> Region | None:
        inner = self._content_place(
            target, place, box if _in_box(target, "clipPathUnits") else None
        )
        inner = replace(inner, silhouette=_SILHOUETTE)
        drawn = self._walk.captured(lambda: self._draw_clip(target, inner))
        area = shapely.union_all(
            [filled(shape.paths, shape.paint.fill_rule) for shape in drawn.shapes]
        )
        declared = self._walk.styles.declared(target)
        further = declared.get("clip-path", "none")
        if further.lower() not in KEYWORDS | {"none"}:
            nested = self._target(further, "clipPath", "clip-path", target)
            region = None if nested is None else self._region(nested, element, place)
            if nested is not None and region is None:
                return None
            if region is not None:
                area = shapely.intersection(area, region.area)
        return Region(area)

    def _draw_clip(self, target: etree._Element, place: Place) -> None:
        for child in target:
            kind = local_name(child)
            named = self._walk.by_id.get(href_of(child).removeprefix("#"))
            if kind == "use" and named is not None:
                kind = local_name(named)
            if kind in SHAPES or kind in {"text", "use"}:
                self._walk.visit(child, place)
            elif kind not in _SILENT:
                self._not_applied("clip-path", target, f"<{kind}> in a clip has no effect")

    def _mask(
        self,
        target: etree._Element,
        _element: etree._Element,
        place: Place,
        box: Affine | None,
    ) -> Region | None:
        content_box = box if _in_box(target, "maskContentUnits") else None
        inner = self._content_place(target, place, content_box)
        drawn = self._walk.captured(lambda: self._walk.draw_children(target, inner))
        declared = self._walk.styles.declared(target)
        by_paint = declared.get("mask-type", "").lower() == "alpha"
        area = mask_area(drawn.shapes, drawn.faint, by_paint=by_paint)
        if area is None or drawn.has_pictures or declared.get("mask", "none").lower() != "none":
            return None
        frame = _mask_frame(target, place, box)
        return None if frame is None else Region(shapely.intersection(area, frame.area))

    def _content_place(self, target: etree._Element, place: Place, box: Affine | None) -> Place:
        """Where the content of a clip or mask is drawn, with what it inherits itself."""
        measures = place.measures
        if box is not None:
            measures = measures.with_viewport(_WHOLE_BOX, _WHOLE_BOX)
        outer = replace(
            place,
            to_mm=place.to_mm if box is None else place.to_mm @ box,
            style=self.style_around(target, measures),
            measures=measures,
            copy=place.copy or "",
        )
        return outer.inside(target, self._walk.styles.declared(target))


def _mask_frame(target: etree._Element, place: Place, box: Affine | None) -> Region | None:
    in_box = _in_box(target, "maskUnits", otherwise="objectBoundingBox")
    measures = place.measures.with_viewport(_WHOLE_BOX, _WHOLE_BOX) if in_box else place.measures
    x, y, width, height = (
        length(target.get(name) or otherwise, measures, whole)
        for name, otherwise, whole in (
            ("x", "-10%", measures.width),
            ("y", "-10%", measures.height),
            ("width", "120%", measures.width),
            ("height", "120%", measures.height),
        )
    )
    to_mm = place.to_mm @ box if in_box and box is not None else place.to_mm
    if width <= 0.0 or height <= 0.0 or not math.isfinite(to_mm.determinant):
        return None
    return Region.frame(to_mm @ translation(x, y), width, height)


def _units(target: etree._Element, kind: str) -> tuple[str, ...]:
    if kind == "clipPath":
        return (target.get("clipPathUnits", "userSpaceOnUse"),)
    return (
        target.get("maskUnits", "objectBoundingBox"),
        target.get("maskContentUnits", "userSpaceOnUse"),
    )


def _in_box(target: etree._Element, name: str, otherwise: str = "userSpaceOnUse") -> bool:
    return str(target.get(name, otherwise)) == "objectBoundingBox"
