"""Turns an SVG's text into shapes, with fonts beside the drawing or of the system."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from lxml import etree

from kerfwright.drawing.copies import Room
from kerfwright.drawing.lettering.findings import UnsetTextError, short
from kerfwright.drawing.lettering.font_choice import damaged, refuse_missing
from kerfwright.drawing.lettering.fonts import Fonts
from kerfwright.drawing.model import Shape
from kerfwright.drawing.svg.dashes import Dashes, stroke_of
from kerfwright.drawing.svg.findings import SvgTally
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.drawing.svg.layers import Names
from kerfwright.drawing.svg.place import Place
from kerfwright.drawing.svg.style import StyleSheet
from kerfwright.drawing.svg.text_fit import made_to_fit
from kerfwright.drawing.svg.text_fonts import Chosen, SpanFonts, lines_of
from kerfwright.drawing.svg.text_layout import Placed, laid_out
from kerfwright.drawing.svg.text_path import TextPath, text_path
from kerfwright.drawing.svg.text_tree import PaintOf, Span, TextTree, text_tree
from kerfwright.drawing.svg.xml import local_name
from kerfwright.geometry.paths import Path as Line

Tell = Callable[[str, etree._Element, Place, str], None]


class Walk(Protocol):
    """The walk over a file, as far as text needs it."""

    path: Path
    chord_mm: float
    by_id: dict[str, etree._Element]
    styles: StyleSheet
    tally: SvgTally
    names: Names
    shapes: list[Shape]
    faint: set[str]
    dashes: Dashes
    rooms: Mapping[etree._Element, Room]


class Texts:
    """The texts of one drawing; fonts are looked for when the first text comes."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._fonts = Fonts(walk.path)
        self._chosen: Chosen = {}
        self._told_damage = False

    def draw(self, element: etree._Element, place: Place, paint_of: PaintOf, tell: Tell) -> None:
        """Add the shapes of a text to the drawing, or ``tell`` why it cannot be set."""
        walk = self._walk
        if local_name(element) != "text":
            words = short("".join(element.itertext()))
            if words:
                tell("text", element, place, f'"{words}", which is wrapped into an area')
            return
        tree = text_tree(element, place, styles=walk.styles, by_id=walk.by_id, paint_of=paint_of)
        for slug, detail in tree.asides:
            walk.tally.add(slug, shape=element.get("id", ""), detail=detail)
        if not tree.words:
            return
        spans = dict.fromkeys(letter.span.painted for letter in tree.letters)
        shown = [span for span in spans if self._shows(span, paint_of)]
        if not shown:
            return
        fonts = SpanFonts(self._fonts, tree.words, self._chosen)
        try:
            placed = self._placed(element, tree, fonts)
        except UnsetTextError as fault:
            tell(fault.slug, element, shown[0].place, fault.detail)
            return
        room = walk.rooms.get(element)
        if room is not None:
            too_long = made_to_fit(placed, shown[0].place.to_mm, room)
            if too_long:
                tell("text-too-long", element, shown[0].place, f'"{tree.words}", {too_long}')
        self._tell_fonts(element, placed, fonts)
        for span in shown:
            of_span = [cluster for cluster in placed if cluster.letter.span.painted is span]
            self._add(element, span, of_span, paint_of)

    def _shows(self, span: Span, paint_of: PaintOf) -> bool:
        style, name = span.place.style, span.element.get("id", "")
        paint = paint_of("text", span.declared, span.place)
        if not (style.visible and style.opaque):
            self._walk.tally.add("hidden", shape=name)
        elif paint.fill is None and paint.stroke is None:
            self._walk.tally.add("unpainted", shape=name)
        else:
            return True
        return False

    def _placed(self, element: etree._Element, tree: TextTree, fonts: SpanFonts) -> list[Placed]:
        _refuse_unknown_ways(element, tree)

        def path_of(span: Span) -> TextPath:
            assert span.path is not None
            found = text_path(span.path, self._walk.by_id, span.place.measures)
            if found is None:
                detail = f'"{tree.words}": the line it follows is not in the file'
                raise UnsetTextError("text", detail)
            return found

        placed = laid_out(tree, fonts.setting, fonts.raised, path_of)
        refuse_missing([cluster.cluster for cluster in placed], tree.words)
        return placed

    def _add(
        self, element: etree._Element, span: Span, placed: Sequence[Placed], paint_of: PaintOf
    ) -> None:
        walk, place = self._walk, span.place
        outlines = [
            outline
            for cluster in placed
            if not cluster.hidden
            for outline in cluster.cluster.drawn(cluster.to_user)
        ]
        outlines += lines_of(placed)
        paths: tuple[Line, ...] = ()
        if place.to_mm.determinant != 0.0:
            paths, _ = flattened(outlines, place.to_mm, walk.chord_mm)
        name = walk.names.name(
            "text", place.copy or span.element.get("id") or element.get("id", "")
        )
        if not paths:
            if any(not cluster.cluster.letters.isspace() for cluster in placed):
                walk.tally.add("no-length", shape=name)
            return
        paint = paint_of("text", span.declared, place)
        if place.silhouette is None:
            # overlapping letters stay filled, whatever the rule for paths
            paint = replace(paint, fill_rule="nonzero")
            if paint.stroke is not None and place.style.dashes != "none":
                stroke = stroke_of(span.element, span.declared, place)
                paths = walk.dashes.shown(name, paths, paint, stroke, walk.tally)
        if place.style.is_faint:
            walk.faint.add(name)
        walk.shapes.append(Shape(name, paths, place.layer.name, paint, span.element.sourceline))

    def _tell_fonts(
        self, element: etree._Element, placed: Sequence[Placed], fonts: SpanFonts
    ) -> None:
        tally, name = self._walk.tally, element.get("id", "")
        used = dict.fromkeys((p.letter.span, p.cluster.font) for p in placed)
        for label in dict.fromkeys(font.face.label for _, font in used):
            tally.add("text-set", detail=label)
        for told in dict.fromkeys(fonts.told(span, font) for span, font in used):
            if told:
                tally.add("font-taken", shape=name, detail=told)
        hidden = sum(p.hidden and not p.cluster.letters.isspace() for p in placed)
        if hidden:
            tally.add("text-off-path", shape=name, count=hidden)
        if not self._told_damage:
            self._told_damage = True
            for detail in damaged(self._fonts):
                tally.add("font-damaged", detail=detail)


def _refuse_unknown_ways(element: etree._Element, tree: TextTree) -> None:
    for letter in tree.letters:
        if letter.span.place.style.letters.vertical:
            detail = f'"{tree.words}", which runs from top to bottom'
            raise UnsetTextError("text", detail)
    root = tree.letters[0].span
    asked = [root.declared.get(name, "") for name in ("inline-size", "shape-inside")]
    wrapped = any(value.lower() not in {"", "auto", "none", "0", "0px"} for value in asked)
    # programs that wrap text write the place of every line as well
    if wrapped and not any(tspan.get("y") for tspan in element.iter("{*}tspan")):
        detail = f'"{tree.words}", which is wrapped into an area'
        raise UnsetTextError("text", detail)
