"""Clips of a PDF's objects as areas in mm."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely
from shapely import MultiPolygon

from kerfwright.drawing.model import Picture
from kerfwright.drawing.pdf.raw import Object, clip_outlines
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.drawing.svg.path_data import Outline
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import as_area, filled
from kerfwright.geometry.tolerances import SAME_MM

Painted = Callable[[MultiPolygon], bool]
"""Whether anything is drawn within an area."""


class Clips:
    """Turns clips into areas, each once: objects in a row mostly share theirs."""

    def __init__(self, chord_mm: float) -> None:
        self._chord_mm = chord_mm
        self._areas: dict[tuple[Affine, bytes], tuple[MultiPolygon, MultiPolygon]] = {}

    def of(
        self, thing: Object, to_mm: Affine, around: MultiPolygon | None, painted: Painted
    ) -> MultiPolygon | None:
        """Area within which an object shows, ``None`` if nothing clips it.

        ``around`` is what clips the form that the object stands in. The library does not tell by
        which rule a clip is filled, so where that matters ``painted`` is asked.
        """
        clips = clip_outlines(thing)
        if not clips:
            return around
        area = around
        for outlines in clips:
            nonzero, evenodd = self._filled(outlines, to_mm)
            one = nonzero
            doubtful = as_area(shapely.difference(nonzero, evenodd))
            if doubtful.area > 0.0 and not doubtful.buffer(-SAME_MM).is_empty:
                one = nonzero if painted(doubtful) else evenodd
            area = one if area is None else as_area(shapely.intersection(area, one))
        return area

    def _filled(self, outlines: list[Outline], to_mm: Affine) -> tuple[MultiPolygon, MultiPolygon]:
        key = (to_mm, b"".join(_bytes_of(outline) for outline in outlines))
        found = self._areas.get(key)
        if found is None:
            for outline in outlines:
                outline.closed = True
            paths: tuple[Path, ...] = flattened(outlines, to_mm, self._chord_mm)[0]
            found = filled(paths, "nonzero"), filled(paths, "evenodd")
            self._areas[key] = found
        return found


def _bytes_of(outline: Outline) -> bytes:
    pieces = (getattr(piece, "points", getattr(piece, "control", None)) for piece in outline.pieces)
    return b"|".join(
        [np.array(outline.start).tobytes(), *(np.asarray(p).tobytes() for p in pieces)]
    )


def clipped_picture(picture: Picture, clip: MultiPolygon) -> Picture:
    """Return a picture with the dots whose middle lies outside ``clip`` made white and
    transparent.
    """
    rows, columns = picture.grey.shape
    u, v = np.meshgrid((np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows)
    middles = picture.to_mm.apply(np.column_stack([u.ravel(), v.ravel()]))
    shapely.prepare(clip)
    inside = shapely.contains_xy(clip, middles).reshape(rows, columns)
    return picture.only(inside)
