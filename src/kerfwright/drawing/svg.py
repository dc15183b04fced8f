"""Reads SVG drawings in true millimetres (SVG 1.1 second edition, and what of SVG 2 is common)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from lxml import etree

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.drawing.svg_findings import SvgTally
from kerfwright.drawing.svg_geometry import SHAPES, flattened, outlines_of
from kerfwright.drawing.svg_layers import Names
from kerfwright.drawing.svg_paint import PaintServers, Style, unreadable_colours
from kerfwright.drawing.svg_path_data import Outline
from kerfwright.drawing.svg_place import Frame, Place, finite, page_of
from kerfwright.drawing.svg_style import StyleSheet
from kerfwright.drawing.svg_values import MM_PER_PX, BadValueError, fitted, length, view_box
from kerfwright.drawing.svg_xml import href_of, local_name, read_root
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine, translation
from kerfwright.geometry.paths import Path as Line
from kerfwright.geometry.tolerances import CHORD_MM

DEPTH_LIMIT = 120
"""Groups within groups; deeper than any drawing, and well within Python's own stack."""

COPIES_LIMIT = 300_000
"""Elements reached through copies: a file of a few lines can ask for billions."""

_GROUPS = frozenset(("g", "a", "svg", "symbol", "switch"))

_NEVER_DRAWN = frozenset(
    {
        *("defs", "symbol", "clipPath", "mask", "marker", "pattern", "filter", "style"),
        *("linearGradient", "radialGradient", "title", "desc", "metadata", "view", "cursor"),
        *("font", "font-face", "color-profile", "stop", ""),
    }
)

_MOVING = frozenset(
    ("animate", "animateColor", "animateMotion", "animateTransform", "set", "script")
)


def read_svg(path: Path | str, chord_mm: float = CHORD_MM) -> Drawing:
    """Read an SVG file into shapes in mm, y upwards, origin at the lower left of its page.

    Curves are flattened within ``chord_mm``. Whatever cannot be read as lines is counted in the
    drawing's findings. Raises :class:`KerfwrightError` for a file that cannot be worked with.
    """
    path = Path(path)
    root = read_root(path)
    try:
        return _Reader(path, root, chord_mm).drawing()
    except RecursionError:
        raise _too_deep(str(path)) from None


class _Reader:
    """One walk over one file."""

    def __init__(self, path: Path, root: etree._Element, chord_mm: float) -> None:
        self.path = path
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
        self.open: set[etree._Element] = set()
        self.copied = 0

    def drawing(self) -> Drawing:
        """Walk the file and return what it holds."""
        declared = self.styles.declared(self.root)
        try:
            page = page_of(self.root, declared)
        except BadValueError as fault:
            raise self._error(fault, self.root) from None
        if page.scale_assumed:
            self.tally.add("assumed-scale")
        self.open.add(self.root)
        if declared.get("display", "").lower() == "none":
            self._hidden(self.root)
        else:
            self._children(self.root, page.place)
        for rule in self.styles.not_understood:
            self.tally.add("style-not-understood", detail=rule)
        for target in self.paints.missing:
            self.tally.add("missing-reference", detail=target)
        if not self.shapes:
            left_out = self.tally.summary()
            raise KerfwrightError(
                "drawing/empty",
                file=str(self.path),
                thing="There is no line and no area in the drawing that could be worked with"
                + (f" (found: {left_out})." if left_out else "."),
                remedy="Check that its layers are shown and that text is turned into outlines.",
            )
        shapes, (width_mm, height_mm) = self._on_page(page.size_mm)
        name = self.path.name
        return Drawing(name, shapes, width_mm, height_mm, self.tally.findings(name))

    def _on_page(
        self, size: tuple[float, float] | None
    ) -> tuple[tuple[Shape, ...], tuple[float, float]]:
        bounds = np.array([path.bounds_mm for shape in self.shapes for path in shape.paths])
        low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
        if size is not None:
            for shape in self.shapes:
                if not Frame(Affine(), *size).holds(shape.paths):
                    self.tally.add("outside-page", shape=shape.name)
            return tuple(self.shapes), size
        to_corner = translation(-float(low[0]), -float(low[1]))
        self.tally.moved(to_corner)
        moved = tuple(
            replace(shape, paths=tuple(path.transformed(to_corner) for path in shape.paths))
            for shape in self.shapes
        )
        return moved, (float(high[0] - low[0]), float(high[1] - low[1]))

    def _children(self, element: etree._Element, place: Place) -> None:
        for child in element:
            self._visit(child, place)

    def _visit(
        self, element: etree._Element, place: Place, wanted: tuple[str, str] = ("", "")
    ) -> None:
        """Draw one element; ``wanted`` is the size that a use asks of a nested svg."""
        kind = local_name(element)
        if kind in _NEVER_DRAWN:
            return
        if kind in _MOVING:
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
            self._draw(kind, element, place, wanted)
        except BadValueError as fault:
            raise self._error(fault, element) from None
        self.open.discard(element)

    def _draw(
        self, kind: str, element: etree._Element, place: Place, wanted: tuple[str, str]
    ) -> None:
        declared = self.styles.declared(element)
        if declared.get("display", "").lower() == "none" or not _conditions_hold(element):
            self._hidden(element)
            return
        place = self._inside(element, declared, place)
        if kind in SHAPES:
            self._shape(kind, element, declared, place)
        elif kind == "use":
            self._use(element, place)
        elif kind == "svg":
            self._nested(element, place, declared, wanted)
        elif kind == "switch":
            first = [child for child in element if _conditions_hold(child) and local_name(child)]
            for child in first[:1]:
                self._visit(child, place)
        elif kind in _GROUPS:
            self._children(element, place)
        elif kind in {"text", "flowRoot"}:
            self._text(element, declared, place)
        elif kind == "image":
            self._seen("image", element, place)
        else:
            self.tally.add("unknown-element", shape=element.get("id", ""), detail=f"<{kind}>")

    def _inside(self, element: etree._Element, declared: Mapping[str, str], place: Place) -> Place:
        """Return the place within an element, and tell what of its style is not followed."""
        name = element.get("id", "")
        for colour in unreadable_colours(declared):
            self.tally.add("unknown-colour", shape=name, detail=colour)
        for effect in ("clip-path", "mask", "filter"):
            if declared.get(effect, "none").lower() not in {"none", "inherit", ""}:
                self.tally.add(effect, shape=name or f"<{local_name(element)}>")
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
            place.moved(*place.lengths(element, "x", "y")),
            layer=place.layer.copied(),
            copy=element.get("id", "") if place.copy is None else place.copy,
        )
        kind = local_name(target)
        if kind == "symbol":
            declared = self.styles.declared(target)
            self.open.add(target)
            inner = self._inside(target, declared, place)
            self._nested(target, inner, declared, _size_of(element))
            self.open.discard(target)
        elif kind in _NEVER_DRAWN:
            self.tally.add("missing-reference", detail=f"{href} is a <{kind}>, which is not drawn")
        else:
            self._visit(target, place, _size_of(element))

    def _nested(
        self,
        element: etree._Element,
        place: Place,
        declared: Mapping[str, str],
        wanted: tuple[str, str],
    ) -> None:
        """Draw a nested svg or a symbol in its viewport; ``wanted`` is the size a use asks for."""
        outer = place.measures
        width, height = (
            length(by_use or declared.get(name) or element.get(name) or "100%", outer, whole)
            for name, by_use, whole in (
                ("width", wanted[0], outer.width),
                ("height", wanted[1], outer.height),
            )
        )
        box = view_box(element.get("viewBox"))
        place = place.moved(*place.lengths(element, "x", "y"))
        to_mm, frames = place.to_mm, place.frames
        if width > 0.0 and height > 0.0:
            if declared.get("overflow", "hidden") not in {"visible", "auto"}:
                frames = (*frames, Frame(to_mm, width, height))
            if box is not None:
                fit = fitted(box, width, height, element.get("preserveAspectRatio"))
                to_mm, width, height = finite(to_mm @ fit), box.width, box.height
        elif outer.width > 0.0 and outer.height > 0.0:
            self._hidden(element)
            return
        measures = outer.with_viewport(width, height)
        self._children(element, replace(place, to_mm=to_mm, measures=measures, frames=frames))

    def _shape(
        self, kind: str, element: etree._Element, declared: Mapping[str, str], place: Place
    ) -> None:
        style = place.style
        if not (style.visible and style.opaque):
            self.tally.add("hidden", shape=element.get("id", ""))
            return
        name = self.names.name(kind, place.copy or element.get("id", ""))
        outlines, fault = outlines_of(kind, element, place.measures)
        if fault is not None:
            self.tally.add("bad-outline", shape=name, detail=f"{fault}, line {element.sourceline}")
        paths, without_length = self._flattened(outlines, place)
        paint = self._paint(kind, declared, place)
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
        if paint.stroke is not None:
            self._stroke_effects(name, kind, style)
        if not all(frame.holds(paths) for frame in place.frames):
            self.tally.add("outside-viewport", shape=name)
        self.shapes.append(Shape(name, paths, place.layer.name, paint, element.sourceline))

    def _flattened(self, outlines: list[Outline], place: Place) -> tuple[tuple[Line, ...], int]:
        if place.to_mm.determinant == 0.0:
            return (), len(outlines)
        return flattened(outlines, place.to_mm, self.chord_mm)

    def _paint(self, kind: str, declared: Mapping[str, str], place: Place) -> Paint:
        style = place.style
        fill = stroke = width_mm = None
        if style.fill_opacity > 0.0 and kind != "line":
            fill = self.paints.paint(style.fill, style.color)
        if style.stroke_opacity > 0.0 and style.stroke_width > 0.0:
            stroke = self.paints.paint(style.stroke, style.color)
        if stroke is not None:
            fixed = declared.get("vector-effect") == "non-scaling-stroke"
            scale = MM_PER_PX if fixed else math.sqrt(abs(place.to_mm.determinant))
            width_mm = style.stroke_width * scale
        return Paint(fill, stroke, width_mm, style.fill_rule)

    def _stroke_effects(self, name: str, kind: str, style: Style) -> None:
        if style.dashes.lower() not in {"none", "", "0"}:
            self.tally.add("dashes", shape=name)
        if kind in {"path", "line", "polyline", "polygon"} and set(style.markers) != {"none"}:
            self.tally.add("marker", shape=name)

    def _text(self, element: etree._Element, declared: Mapping[str, str], place: Place) -> None:
        words = " ".join("".join(element.itertext()).split())
        if not words:
            return
        paint = self._paint("text", declared, place)
        if paint.fill is None and paint.stroke is None:
            self.tally.add("unpainted", shape=element.get("id", ""))
            return
        shown = words if len(words) <= 40 else f"{words[:37]}..."
        self._seen("text", element, place, f'"{shown}"')

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


def _conditions_hold(element: etree._Element) -> bool:
    """Whether an element is meant for a reader without extensions, in English."""
    languages = element.get("systemLanguage")
    fits = languages is None or any(
        word.strip().lower().partition("-")[0] == "en" for word in languages.split(",")
    )
    return fits and not element.get("requiredExtensions")


def _size_of(use: etree._Element) -> tuple[str, str]:
    width, height = (use.get(name, "").strip() for name in ("width", "height"))
    return ("" if width == "auto" else width, "" if height == "auto" else height)


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
