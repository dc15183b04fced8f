"""Reads SVG drawings in true millimetres (SVG 1.1 second edition, and what of SVG 2 is common)."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from lxml import etree

from kerfwright.drawing.copies import Copy, Room
from kerfwright.drawing.model import Drawing, Paint, Picture, Shape
from kerfwright.drawing.svg.dashes import Dashes, stroke_of
from kerfwright.drawing.svg.effects import Captured, Effects, SoFar
from kerfwright.drawing.svg.elements import GROUPS, MOVING, NEVER_DRAWN, conditions_hold, size_of
from kerfwright.drawing.svg.findings import SvgTally
from kerfwright.drawing.svg.gaps import fill_gaps
from kerfwright.drawing.svg.geometry import SHAPES, flattened, outlines_of
from kerfwright.drawing.svg.layers import Names
from kerfwright.drawing.svg.marker import MARKED, Markers
from kerfwright.drawing.svg.page import laid_on_page, page_of
from kerfwright.drawing.svg.paint import KEYWORDS, PaintServers, is_width, unreadable_colours
from kerfwright.drawing.svg.path_data import Outline
from kerfwright.drawing.svg.pictures import PictureError, picture_of
from kerfwright.drawing.svg.place import Place, viewport_in
from kerfwright.drawing.svg.style import StyleSheet
from kerfwright.drawing.svg.text import Texts
from kerfwright.drawing.svg.values import MM_PER_PX, BadValueError, length
from kerfwright.drawing.svg.xml import href_of, local_name, read_root
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.paths import Path as Line
from kerfwright.geometry.regions import are_straight
from kerfwright.geometry.tolerances import CHORD_MM

DEPTH_LIMIT = 120
"""Groups within groups; deeper than any drawing, and well within Python's own stack."""

COPIES_LIMIT = 300_000
"""Elements reached through copies: a file of a few lines can ask for billions."""


def read_svg(path: Path | str, chord_mm: float = CHORD_MM, copy: Copy | None = None) -> Drawing:
    """Read an SVG file into shapes in mm, y upwards, origin at the lower left of its page.

    Curves are flattened within ``chord_mm``; the words of a ``copy`` are filled in first. Whatever
    cannot be read as lines is counted in the drawing's findings. Raises :class:`KerfwrightError`
    for a file that cannot be worked with.
    """
    path = Path(path)
    root = read_root(path)
    rooms = {} if copy is None else fill_gaps(root, copy, str(path))
    try:
        return _Reader(path, root, chord_mm, rooms).drawing()
    except RecursionError:
        raise _too_deep(str(path)) from None


class _Reader:
    """One walk over one file."""

    def __init__(
        self,
        path: Path,
        root: etree._Element,
        chord_mm: float,
        rooms: Mapping[etree._Element, Room],
    ) -> None:
        self.path = path
        self.rooms = rooms
        self.root = root
        self.chord_mm = chord_mm
        self.styles = StyleSheet(root)
        self.by_id: dict[str, etree._Element] = {}
        for element in root.iter("*"):
            self.by_id.setdefault(element.get("id", ""), element)
        self.by_id.pop("", None)
        self.paints = PaintServers(self.by_id, self.styles)
        self.tally = SvgTally()
        self.names = Names()
        self.shapes: list[Shape] = []
        self.pictures: list[Picture] = []
        self.faint: set[str] = set()
        """Names of shapes that let something shine through."""
        self.open: set[etree._Element] = set()
        self.copied = 0
        self.effects = Effects(self)
        self.markers = Markers(self, self.effects)
        self.dashes = Dashes()
        self.texts = Texts(self)

    def drawing(self) -> Drawing:
        """Walk the file and return what it holds."""
        declared = self.styles.declared(self.root)
        try:
            page = page_of(self.root, declared)
        except BadValueError as fault:
            raise self._error(fault, self.root) from None
        if page.scale_assumed:
            self.tally.add("assumed-scale")
        if declared.get("transform") or self.root.get("transform"):
            self.tally.add("style-not-understood", detail="transform of the whole drawing")
        self.open.add(self.root)
        if declared.get("display", "").lower() == "none":
            self._hidden(self.root)
        else:
            self.draw_children(self.root, page.place)
            self.effects.apply(self.root, declared, page.place, SoFar(0, 0))
        for rule in self.styles.not_understood:
            self.tally.add("style-not-understood", detail=rule)
        for target in self.paints.missing:
            self.tally.add("missing-reference", detail=target)
        if not (self.shapes or self.pictures):
            raise self.tally.nothing_read(str(self.path))
        laid = laid_on_page(self.shapes, self.pictures, page.size_mm, self.tally)
        name, findings = self.path.name, self.tally.findings(self.path.name)
        return Drawing(name, laid.shapes, laid.width_mm, laid.height_mm, findings, laid.pictures)

    @property
    def so_far(self) -> SoFar:
        """What has been drawn until now."""
        return SoFar(len(self.shapes), len(self.pictures))

    def captured(self, draw: Callable[[], None]) -> Captured:
        """Return what ``draw`` draws, and keep it out of the drawing; warnings are kept."""
        before = self.shapes, self.pictures, self.names, self.tally, self.faint
        self.shapes, self.pictures, self.names = [], [], Names()
        self.tally, self.faint = SvgTally(), set()
        try:
            draw()
            return Captured(tuple(self.shapes), frozenset(self.faint), bool(self.pictures))
        finally:
            aside = self.tally
            self.shapes, self.pictures, self.names, self.tally, self.faint = before
            self.tally.take_warnings(aside)

    def draw_children(self, element: etree._Element, place: Place) -> None:
        """Draw what is in an element."""
        for child in element:
            self.visit(child, place)

    def visit(
        self, element: etree._Element, place: Place, wanted: tuple[str, str] = ("", "")
    ) -> None:
        """Draw one element; ``wanted`` is the size that a use asks of a nested svg."""
        kind = local_name(element)
        if kind in NEVER_DRAWN:
            return
        if kind in MOVING:
            self.tally.add("animation", detail=f"<{kind}>")
            return
        if place.copy is not None:
            self.copied += 1
        if place.depth > DEPTH_LIMIT:
            raise _too_deep(str(self.path))
        if self.copied > COPIES_LIMIT:
            raise KerfwrightError(
                "drawing/too-many-copies",
                file=str(self.path),
                thing=f"Copies within copies make more than {COPIES_LIMIT} elements.",
                remedy="Unlink the copies in the drawing program and keep those you need.",
            )
        self.open.add(element)
        try:
            self._draw(element, place, wanted)
        except BadValueError as fault:
            raise self._error(fault, element) from None
        self.open.discard(element)

    def _draw(self, element: etree._Element, place: Place, wanted: tuple[str, str]) -> None:
        declared = self.styles.declared(element)
        if declared.get("display", "").lower() == "none" or not conditions_hold(element):
            self._hidden(element)
            return
        place = self._inside(element, declared, place)
        if local_name(element) == "use":
            # its clip moves along with it (SVG 2 section 5.5)
            place = place.moved(*place.lengths(element, "x", "y"))
        since = self.so_far
        self.draw_content(element, declared, place, wanted)
        if "clip-path" in declared or "mask" in declared:
            self.effects.apply(element, declared, place, since)

    def draw_content(
        self,
        element: etree._Element,
        declared: Mapping[str, str],
        place: Place,
        wanted: tuple[str, str] = ("", ""),
    ) -> None:
        """Draw an element and what is in it, without its own clip and mask."""
        kind = local_name(element)
        if kind in SHAPES:
            self._shape(kind, element, declared, place)
        elif kind == "use":
            self._use(element, place)
        elif kind == "svg":
            self._nested(element, place, declared, wanted)
        elif kind == "switch":
            first = [child for child in element if conditions_hold(child) and local_name(child)]
            for child in first[:1]:
                self.visit(child, place)
        elif kind in GROUPS:
            self.draw_children(element, place)
        elif kind in {"text", "flowRoot"}:
            self._text(element, place)
        elif kind == "image":
            self._image(element, place)
        else:
            self.tally.add("unknown-element", shape=element.get("id", ""), detail=f"<{kind}>")

    def _inside(self, element: etree._Element, declared: Mapping[str, str], place: Place) -> Place:
        """Return the place within an element, and tell what of its style is not followed."""
        name = element.get("id", "")
        for colour in unreadable_colours(declared):
            self.tally.add("unknown-colour", shape=name, detail=colour)
        width = declared.get("stroke-width", "inherit")
        if width.lower() not in KEYWORDS and not is_width(width):
            self.tally.add("style-not-understood", shape=name, detail=f"stroke-width: {width}")
        if declared.get("filter", "none").lower() not in {"none", "inherit", ""}:
            self.tally.add("filter", shape=name or f"<{local_name(element)}>")
        return place.inside(element, declared)

    def _use(self, element: etree._Element, place: Place) -> None:
        href = href_of(element)
        target = self.by_id.get(href.removeprefix("#"))
        if not href.startswith("#") or target is None:
            slug = "missing-reference" if href.startswith("#") else "external-reference"
            self.tally.add(slug, shape=element.get("id", ""), detail=href or "no reference at all")
            return
        if target in self.open:
            self.tally.add("copy-of-itself", shape=element.get("id", ""), detail=href)
            return
        place = replace(
            place,
            layer=place.layer.copied(),
            copy=element.get("id", "") if place.copy is None else place.copy,
        )
        kind = local_name(target)
        if kind == "symbol":
            declared = self.styles.declared(target)
            self.open.add(target)
            inner, since = self._inside(target, declared, place), self.so_far
            self._nested(target, inner, declared, size_of(element))
            self.effects.apply(target, declared, inner, since)
            self.open.discard(target)
        elif kind in NEVER_DRAWN:
            self.tally.add("missing-reference", detail=f"{href} is a <{kind}>, which is not drawn")
        else:
            self.visit(target, place, size_of(element))

    def _nested(
        self,
        element: etree._Element,
        place: Place,
        declared: Mapping[str, str],
        wanted: tuple[str, str],
    ) -> None:
        """Draw a nested svg or a symbol in its viewport; ``wanted`` is the size a use asks for."""
        viewport = viewport_in(element, place, declared, wanted)
        if viewport is None:
            self._hidden(element)
            return
        since = self.so_far
        self.draw_children(element, viewport.inner)
        if viewport.edge is not None:
            self.effects.cut(viewport.edge, since, "outside-viewport")

    def _shape(
        self, kind: str, element: etree._Element, declared: Mapping[str, str], place: Place
    ) -> None:
        style = place.style
        if not (style.visible and (style.opaque or place.silhouette is not None)):
            self.tally.add("hidden", shape=element.get("id", ""))
            return
        name = self.names.name(kind, place.copy or element.get("id", ""))
        outlines, fault = outlines_of(kind, self.styles.sized(element, declared), place.measures)
        if fault is not None:
            self.tally.add("bad-outline", shape=name, detail=f"{fault}, line {element.sourceline}")
        paths, without_length = self._flattened(outlines, place)
        paint = self._paint(kind, declared, place)
        if paint.stroke is not None and paint.fill is not None and are_straight(paths):
            # what is filled has no area: only the line shows
            paint = replace(paint, fill=None)
        if kind in MARKED and place.silhouette is None:
            marked = replace(place, context=paint, layer=place.layer.copied())
            self.markers.draw(outlines, marked, name)
        if paint.fill is None and paint.stroke is None:
            self.tally.add("unpainted", shape=name)
            return
        if paint.stroke is None:
            areas = tuple(path for path in paths if len(path.points) > 2)
            without_length += len(paths) - len(areas)
            paths = areas
        if without_length or not (paths or fault):
            self.tally.add("no-length", shape=name, count=max(without_length, 1))
        if not paths:
            return
        if paint.stroke is not None and style.dashes != "none" and place.silhouette is None:
            stroke = stroke_of(element, declared, place)
            whole, paths = paths, self.dashes.shown(name, paths, paint, stroke, self.tally)
            paint = replace(paint, dashed=paths != whole)
        if style.is_faint:
            self.faint.add(name)
        self.shapes.append(Shape(name, paths, place.layer.name, paint, element.sourceline))

    def _flattened(self, outlines: list[Outline], place: Place) -> tuple[tuple[Line, ...], int]:
        if place.to_mm.determinant == 0.0:
            return (), len(outlines)
        return flattened(outlines, place.to_mm, self.chord_mm)

    def _paint(self, kind: str, declared: Mapping[str, str], place: Place) -> Paint:
        style = place.style
        if place.silhouette is not None:
            return replace(place.silhouette, fill_rule=style.clip_rule)
        fill = stroke = width_mm = None
        if style.fill_opacity > 0.0 and kind != "line":
            fill = self.paints.paint(style.fill, style.color, place.context)
        if style.stroke_opacity > 0.0 and style.stroke_width > 0.0:
            stroke = self.paints.paint(style.stroke, style.color, place.context)
        if stroke is not None:
            fixed = declared.get("vector-effect") == "non-scaling-stroke"
            scale = MM_PER_PX if fixed else math.sqrt(abs(place.to_mm.determinant))
            width_mm = style.stroke_width * scale
        return Paint(fill, stroke, width_mm, style.fill_rule)

    def _image(self, element: etree._Element, place: Place) -> None:
        if not (place.style.visible and place.style.opaque):
            self.tally.add("hidden", shape=element.get("id", ""))
            return
        name = self.names.name("picture", place.copy or element.get("id", ""))
        try:
            placed = picture_of(element, place, name, self.path)
        except PictureError as fault:
            self._seen("image", element, place, str(fault))
            return
        if placed is None:
            self.tally.add("no-length", shape=name)
            return
        if place.silhouette is not None:
            edge = Line(placed.picture.corners_mm, closed=True)
            self.shapes.append(Shape(name, (edge,), paint=place.silhouette))
            return
        since = self.so_far
        self.pictures.append(placed.picture)
        if placed.edge is not None:
            self.effects.cut(placed.edge, since, "outside-viewport")

    def _text(self, element: etree._Element, place: Place) -> None:
        self.texts.draw(element, place, self._paint, self._seen)

    def _seen(self, slug: str, element: etree._Element, place: Place, detail: str = "") -> None:
        """Count something with a place that is not read, if it shows."""
        if not (place.style.visible and place.style.opaque):
            self.tally.add("hidden", shape=element.get("id", ""))
            return
        placed = [element, *element.iter("{*}tspan")]
        x, y = (
            length(_first(placed, name), place.measures, whole)
            for name, whole in (("x", place.measures.width), ("y", place.measures.height))
        )
        at = place.to_mm.apply(np.array([[x, y]]))[0]
        at_mm = (float(at[0]), float(at[1]))
        self.tally.add(slug, shape=element.get("id", ""), detail=detail, at_mm=at_mm)

    def _hidden(self, element: etree._Element) -> None:
        drawn = SHAPES | {"text", "image", "use"}
        count = sum(1 for inner in element.iter("*") if local_name(inner) in drawn)
        if count:
            self.tally.add("hidden", shape=element.get("id", ""), count=count)

    def _error(self, fault: BadValueError, element: etree._Element) -> KerfwrightError:
        name = f' "{element.get("id")}"' if element.get("id") else ""
        where = f"<{etree.QName(element).localname}>{name} in line {element.sourceline}"
        return KerfwrightError(
            fault.code, file=str(self.path), thing=f"{where}: {fault.thing}", remedy=fault.remedy
        )


def _first(elements: list[etree._Element], attribute: str) -> str:
    for element in elements:
        words = element.get(attribute, "").replace(",", " ").split()
        if words:
            return str(words[0])
    return "0"


def _too_deep(file: str) -> KerfwrightError:
    return KerfwrightError(
        "drawing/too-deep",
        file=file,
        thing=f"Groups lie within groups more than {DEPTH_LIMIT} deep.",
        remedy="Ungroup in the drawing program and save again.",
    )
