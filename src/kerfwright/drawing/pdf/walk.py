"""Walks over a PDF page's objects and makes shapes and pictures of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np
import pypdfium2.raw as pdfium
import shapely
from shapely import MultiPolygon

from kerfwright.drawing.clipping import clipped_shape, holds
from kerfwright.drawing.dashes import DASHES_LIMIT, dash_count, dashed, user_lengths
from kerfwright.drawing.model import Paint, Picture, Shape
from kerfwright.drawing.pdf import raw as pdf_raw
from kerfwright.drawing.pdf import text as pdf_text
from kerfwright.drawing.pdf.clip import Clips, clipped_picture
from kerfwright.drawing.pdf.findings import TOLD_UNREAD, TOLD_UNSEEN, PdfTally
from kerfwright.drawing.pdf.images import dots_of_image
from kerfwright.drawing.pdf.look import Bounds, Look, Sight
from kerfwright.drawing.pdf.page import Page
from kerfwright.drawing.pdf.place import Place, apart, bounds_of, within
from kerfwright.drawing.pdf.proof import PAGE_DOTS, differences
from kerfwright.drawing.pdf.raw import Kind, Object, kind_of
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.drawing.svg.layers import Names
from kerfwright.drawing.svg.values import inverted
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import FillRule, are_straight, rings_of

PATTERN = "pattern"

DEPTH_LIMIT = 60
"""Forms within forms; the library itself goes about as deep."""

_WHITE = "#ffffff"
_RUN_DOTS = 256
_SHADE_DOTS = 64


class Walk:
    """One walk over one page."""

    def __init__(self, page: Page, chord_mm: float) -> None:
        self.shapes: list[Shape] = []
        self.pictures: list[Picture] = []
        self.tally = PdfTally()
        self._page = page
        self._chord_mm = chord_mm
        self._names = Names()
        self._clips = Clips(chord_mm)
        self._dashes = 0.0
        self._uncut: list[Shape] = []
        self._fonts_told: set[str] = set()
        self._text = pdf_text.PageText(page.page, page.to_mm, chord_mm)
        self._look = Look(page.page, (page.width_mm, page.height_mm), PAGE_DOTS)
        self._frame: Bounds = (0.0, 0.0, page.width_mm, page.height_mm)

    def run(self) -> None:
        """Read the whole page, and compare what was read with the page as it is drawn."""
        self._objects(pdf_raw.objects_of_page(self._page.page), Place(self._page.to_mm))
        found = differences(self._look.whole, self.shapes, self.pictures, self._uncut)
        for slug, told, places in (
            ("pdf-unread", TOLD_UNREAD, found.unread),
            ("pdf-unseen", TOLD_UNSEEN, found.unseen),
        ):
            if not any(self.tally.count(other) for other in told):
                for at_mm in places:
                    self.tally.add(slug, at_mm=at_mm)

    def _objects(self, things: Sequence[Object], place: Place) -> None:
        # what stands between the same marks is shown or hidden together
        named = [(tuple(pdf_raw.layer_names(thing)), thing) for thing in things]
        for names, group in groupby(named, key=lambda pair: pair[0]):
            run = [thing for _, thing in group]
            if names and all(names):
                if self._hidden(run, place):
                    self._count_hidden(run, "/".join(names))
                    continue
            elif names:
                hidden = [thing for thing in run if self._hidden([thing], place)]
                self._count_hidden(hidden, "")
                run = [thing for thing in run if thing not in hidden]
            inner = replace(place, layer=(*place.layer, *filter(None, names)))
            for thing in run:
                self._object(thing, inner)

    def _object(self, thing: Object, place: Place) -> None:
        kind = kind_of(thing)
        bounds = bounds_of([thing], place)
        if bounds is not None and kind is not Kind.SHADING and apart(bounds, self._frame):
            self.tally.add("pdf-off-page")
            return
        clip = self._clips.of(
            thing, place.to_mm, place.clip, lambda area: self._is_painted(thing, place, area)
        )
        if clip is not None and clip.is_empty:
            self.tally.add("clipped-away")
            return
        if kind is Kind.FORM:
            self._form(thing, replace(place, clip=clip))
            return
        if kind is Kind.PATH:
            self._path(thing, place, clip)
        elif kind is Kind.TEXT:
            self._words(thing, place, clip)
        elif kind is Kind.IMAGE:
            self._image(thing, place, clip)
        elif kind is Kind.SHADING:
            self._shading(place, clip)
        else:
            self.tally.add("pdf-unknown-object")
        if kind is not Kind.SHADING:
            self._transparency(thing, kind)

    def _form(self, form: Object, place: Place) -> None:
        inner = pdf_raw.objects_of_form(form)
        if not inner or len(place.chain) >= DEPTH_LIMIT:
            if inner:
                self.tally.add("pdf-unknown-object", detail="forms within forms without end")
            return
        if self._hidden([form], place):
            self._count_hidden([form], "/".join(place.layer))
            return
        to_mm = place.to_mm @ pdf_raw.matrix_of(form)
        self._objects(inner, replace(place, to_mm=to_mm, chain=(*place.chain, form)))

    def _path(self, thing: Object, place: Place, clip: MultiPolygon | None) -> None:
        rule, stroked = pdf_raw.draw_mode(thing)
        outlines = pdf_raw.path_outlines(thing)
        matrix = place.to_mm @ pdf_raw.matrix_of(thing)
        name = self._names.name("path", "")
        width_mm = pdf_raw.line_width(thing) * math.sqrt(abs(matrix.determinant))
        paint = self._paint(thing, place, rule, stroked, width_mm)
        if paint is None:
            self.tally.add("hidden", shape=name)
            return
        if paint.stroke is None:
            for outline in outlines:
                outline.closed = True
        paths: tuple[Path, ...] = ()
        left_out = len(outlines)
        if matrix.determinant != 0.0:
            paths, left_out = flattened(outlines, matrix, self._chord_mm)
        if paint.stroke is None:
            areas = tuple(path for path in paths if len(path.points) > 2)
            left_out += len(paths) - len(areas)
            paths = areas
        if left_out or not paths:
            self.tally.add("no-length", shape=name, count=max(left_out, 1))
        if not paths:
            return
        if paint.stroke is not None and are_straight(paths):
            paint = replace(paint, fill=None)
        shape = Shape(name, paths, "/".join(place.layer), paint)
        for each in self._dashed(shape, thing, matrix):
            self._keep(each, clip)

    def _paint(
        self,
        thing: Object,
        place: Place,
        rule: FillRule | None,
        stroked: bool,
        width_mm: float,
    ) -> Paint | None:
        fill, stroke = pdf_raw.fill_colour(thing), pdf_raw.stroke_colour(thing)
        filled_with = fill.hex if rule is not None and fill.alpha > 0 else None
        drawn_with = stroke.hex if stroked and stroke.alpha > 0 else None
        if filled_with is None and drawn_with is None:
            return None
        if filled_with is not None and self._is_pattern(
            thing, place, fill, pdfium.FPDFPageObj_GetRenderedFillPattern
        ):
            filled_with = PATTERN
        if drawn_with is not None and self._is_pattern(
            thing, place, stroke, pdfium.FPDFPageObj_GetRenderedStrokePattern
        ):
            drawn_with = PATTERN
        return Paint(
            filled_with, drawn_with, None if drawn_with is None else width_mm, rule or "nonzero"
        )

    def _is_pattern(
        self, thing: Object, place: Place, colour: pdf_raw.Colour, tiles: object
    ) -> bool:
        """Whether a colour stands for a pattern.

        The library gives tiles as a picture, but tells white where a gradient is painted.
        """
        bitmap = tiles(self._page.document, thing)  # type: ignore[operator]
        if bitmap:
            pdfium.FPDFBitmap_Destroy(bitmap)
            return True
        if colour.hex != _WHITE:
            return False
        with pdf_raw.only_painted(thing, fill=tiles is pdfium.FPDFPageObj_GetRenderedFillPattern):
            sight = self._sight([thing], place, _SHADE_DOTS)
        return sight is not None and not sight.only_white

    def _dashed(self, shape: Shape, thing: Object, matrix: Affine) -> list[Shape]:
        """Break a dashed line into its dashes (ISO 32000-1, 8.4.3.6); its area stays one."""
        lengths, phase = pdf_raw.dashes_of(thing)
        paint = shape.paint
        if paint.stroke is None or not lengths:
            return [shape]
        if min(lengths) < 0.0 or sum(lengths) <= 0.0:
            return [shape]
        to_user = inverted(matrix) or Affine()
        along = [user_lengths(path, to_user) for path in shape.paths]
        self._dashes += sum(dash_count(one, lengths) for one in along)
        if min(lengths[::2]) == 0.0 or self._dashes > DASHES_LIMIT:
            self.tally.add("pdf-dashes", shape=shape.name)
            return [shape]
        dashes = tuple(
            dash
            for path, one in zip(shape.paths, along, strict=True)
            for dash in dashed(path, one, lengths, phase)
        )
        line = replace(shape, paths=dashes, paint=replace(paint, fill=None, dashed=True))
        if paint.fill is None:
            return [line] if dashes else []
        alone = replace(paint, stroke=None, stroke_width_mm=None)
        name = self._names.name("path", f"{shape.name} (line)")
        return [replace(shape, paint=alone), *([replace(line, name=name)] if dashes else [])]

    def _words(self, thing: Object, place: Place, clip: MultiPolygon | None) -> None:
        mode = pdfium.FPDFTextObj_GetTextRenderMode(thing)
        words = self._text.words(thing)
        name = self._names.name("text", "")
        shown = " ".join(words.text.split())
        detail = f'"{shown[:37] + "..." if len(shown) > 40 else shown}"' if shown else ""
        if mode in pdf_text.CLIPPING:
            self.tally.add("pdf-text-clip", shape=name, detail=detail)
        if mode == pdf_text.INVISIBLE:
            self.tally.add("hidden", shape=name, detail=detail)
            return
        bounds = bounds_of([thing], place)
        if not shown and (bounds is None or self._hidden([thing], place)):
            return
        rule: FillRule | None = "nonzero" if mode in pdf_text.FILLING else None
        width_mm = pdf_raw.line_width(thing) * math.sqrt(abs(place.to_mm.determinant))
        paint = self._paint(thing, place, rule, mode in pdf_text.STROKING, width_mm)
        if paint is None:
            self.tally.add("hidden", shape=name, detail=detail)
            return
        paths = words.paths
        with pdf_raw.text_filled(thing):
            proven = self._drawn_so(thing, words, place, clip)
            if not proven:
                paths = self._traced(thing, place)
        if not proven:
            at_mm = None if bounds is None else bounds[:2]
            slug = "pdf-text-traced" if paths else "pdf-text"
            self.tally.add(slug, shape=name, detail=detail, at_mm=at_mm)
        elif not paths:
            self.tally.add("hidden", shape=name, detail=detail)
        elif not words.embedded and words.font not in self._fonts_told:
            self._fonts_told.add(words.font)
            self.tally.add("pdf-font", detail=words.font)
        if paths:
            self._keep(Shape(name, paths, "/".join(place.layer), paint), clip)

    def _traced(self, thing: Object, place: Place) -> tuple[Path, ...]:
        seen = self._seen([thing], place)
        if seen is None:
            return ()
        return pdf_text.traced_text(thing, self._look, place.chain, seen)

    def _drawn_so(
        self, thing: Object, words: pdf_text.Words, place: Place, clip: MultiPolygon | None
    ) -> bool:
        bounds = self._seen([thing], place)
        if bounds is None:
            return False
        page = shapely.box(*self._frame)
        shows = page if clip is None else shapely.intersection(page, clip)
        return self._text.is_drawn_so(thing, words, self._look, place.chain, bounds, shows)

    def _image(self, thing: Object, place: Place, clip: MultiPolygon | None) -> None:
        name = self._names.name("picture", "")
        dots = dots_of_image(self._page, thing)
        matrix = place.to_mm @ pdf_raw.matrix_of(thing)
        if dots is None or matrix.determinant == 0.0:
            self.tally.add("pdf-picture-unreadable", shape=name)
            return
        # a PDF's image runs upwards in its unit square, a picture's rows downwards
        to_mm = matrix @ Affine(1.0, 0.0, 0.0, -1.0, 0.0, 1.0)
        picture = Picture(name, dots.grey, to_mm, "/".join(place.layer), alpha=dots.alpha)
        edge = Path(picture.corners_mm, closed=True)
        if clip is not None and not holds(clip, [edge]):
            picture = clipped_picture(picture, clip)
            self.tally.add("clipped", shape=name)
        self.pictures.append(picture)

    def _shading(self, place: Place, clip: MultiPolygon | None) -> None:
        name = self._names.name("shading", "")
        if clip is None:
            self.tally.add("pdf-shading", shape=name)
            return
        paths = tuple(Path(np.ascontiguousarray(ring), closed=True) for ring in rings_of(clip))
        paint = Paint(fill=PATTERN, fill_rule="evenodd")
        self.shapes.append(Shape(name, paths, "/".join(place.layer), paint))

    def _keep(self, shape: Shape, clip: MultiPolygon | None) -> None:
        kept = (shape,) if clip is None else clipped_shape(shape, clip)
        if kept != (shape,):
            self.tally.add("clipped" if kept else "clipped-away", shape=shape.name)
            self._uncut.append(shape)
        for each in kept:
            if not within(each.paths, self._frame):
                self.tally.add("outside-page", shape=each.name)
            self.shapes.append(each)

    def _transparency(self, thing: Object, kind: Kind) -> None:
        """Count what is blended or masked; being half transparent alone does not matter."""
        if kind is Kind.IMAGE or not pdfium.FPDFPageObj_HasTransparency(thing):
            return
        if min(pdf_raw.fill_colour(thing).alpha, pdf_raw.stroke_colour(thing).alpha) == 255:
            self.tally.add("pdf-mask")

    def _hidden(self, things: Sequence[Object], place: Place) -> bool:
        sight = self._sight(things, place, _RUN_DOTS)
        return sight is not None and sight.blank

    def _count_hidden(self, things: Sequence[Object], layer: str) -> None:
        count = sum(
            max(len(pdf_raw.objects_of_form(one)), 1) if kind_of(one) is Kind.FORM else 1
            for one in things
        )
        if count:
            detail = f'layer "{layer}"' if layer else ""
            self.tally.add("hidden", detail=detail, count=count)

    def _is_painted(self, thing: Object, place: Place, area: MultiPolygon) -> bool:
        """Whether an object shows somewhere well inside ``area``."""
        sight = self._sight([thing], place, 1024)
        if sight is None:
            return True
        rows, columns = sight.rgba.shape[:2]
        x = sight.left_mm + (np.arange(columns) + 0.5) / sight.dots_per_mm
        y = sight.top_mm - (np.arange(rows) + 0.5) / sight.dots_per_mm
        core = area.buffer(-1.0 / sight.dots_per_mm)
        inside = shapely.contains_xy(core, *np.meshgrid(x, y))
        return bool((sight.rgba[..., 3][inside] > 0).any())

    def _sight(self, things: Sequence[Object], place: Place, dots: int) -> Sight | None:
        seen = self._seen(things, place)
        return None if seen is None else self._look.at(things, place.chain, seen, dots)

    def _seen(self, things: Sequence[Object], place: Place) -> Bounds | None:
        """Bounds of what of some objects may show on the page."""
        bounds = bounds_of(things, place)
        if bounds is None or apart(bounds, self._frame):
            return None
        left, bottom, right, top = bounds
        frame_left, frame_bottom, frame_right, frame_top = self._frame
        return (
            max(left, frame_left),
            max(bottom, frame_bottom),
            min(right, frame_right),
            min(top, frame_top),
        )
