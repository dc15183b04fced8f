"""Draws our reading of a drawing as a picture, to lay over what another library draws."""

from __future__ import annotations

import io
from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import resvg_py
import shapely
from PIL import Image, ImageChops, ImageDraw
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Drawing, Shape
from kerfwright.geometry.regions import filled

Mask = npt.NDArray[np.bool_]


def their_picture(text: str, width_px: int) -> Mask:
    png = resvg_py.svg_to_bytes(
        svg_string=text, background="#ffffff", width=width_px, dpi=96.0, languages=["en"]
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L")) < 128


def our_picture(
    drawing: Drawing, shape: tuple[int, int], finer: int, *, with_lines: bool = False
) -> Mask:
    """Ink of fills and, if asked for, of lines: buffered by half their width, with flat ends."""
    height, width = shape
    size = (width * finer, height * finer)
    scale = np.array([size[0] / drawing.width_mm, size[1] / drawing.height_mm])
    whole = Image.new("L", size)
    for area in _inked(drawing.shapes, with_lines=with_lines):
        for polygon in shapely.get_parts(area):
            one = Image.new("L", size)
            pen = ImageDraw.Draw(one)
            for ring, ink in [(polygon.exterior, 255), *((hole, 0) for hole in polygon.interiors)]:
                points = np.asarray(ring.coords)[:, :2] * scale
                points[:, 1] = size[1] - points[:, 1]
                # Pillow counts from the middles of pixels
                pen.polygon([(x, y) for x, y in points - 0.5], fill=ink)
            whole = ImageChops.lighter(whole, one)
    _add_pictures(whole, drawing, scale)
    return np.asarray(whole.resize((width, height), Image.Resampling.BOX)) >= 128


def likeness(ours: Mask, theirs: Mask) -> float:
    """Area that both readings ink over the area that either does."""
    return float((ours & theirs).sum() / max((ours | theirs).sum(), 1))


def _inked(shapes: Iterable[Shape], *, with_lines: bool) -> Iterable[BaseGeometry]:
    for shape in shapes:
        paint = shape.paint
        if paint.fill is not None and paint.fill != "#ffffff":
            yield filled(shape.paths, paint.fill_rule)
        if with_lines and paint.stroke is not None and paint.stroke_width_mm is not None:
            for path in shape.paths:
                line = shapely.linearrings(path.points) if path.closed else None
                line = shapely.linestrings(path.line) if line is None else line
                yield line.buffer(paint.stroke_width_mm / 2.0, cap_style="flat", quad_segs=16)


def _add_pictures(whole: Image.Image, drawing: Drawing, scale: npt.NDArray[np.float64]) -> None:
    """Put dark dots where pictures have them, each run along a row as a parallelogram."""
    pen = ImageDraw.Draw(whole)
    for picture in drawing.pictures:
        rows, columns = picture.grey.shape
        dark = np.pad(picture.grey < 128, ((0, 0), (1, 1))).astype(np.int8)
        starts, ends = (np.argwhere(np.diff(dark, axis=1) == turn) for turn in (1, -1))
        for (row, start), (_, end) in zip(starts.tolist(), ends.tolist(), strict=True):
            corners = np.array([[start, row], [end, row], [end, row + 1], [start, row + 1]])
            points = picture.to_mm.apply(corners / [columns, rows]) * scale
            points[:, 1] = whole.size[1] - points[:, 1]
            pen.polygon([(x, y) for x, y in points - 0.5], fill=255)
