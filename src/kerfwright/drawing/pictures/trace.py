"""Traces pictures made of dots into areas: only where the order asks for it.

A threshold between dark and light is found from the picture's grey values (N. Otsu, "A Threshold
Selection Method from Gray-Level Histograms", IEEE Trans. Systems, Man, and Cybernetics 9 (1979),
62-66); the line at which the grey crosses it, between the dots' middles, is the outline.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import cast

import contourpy
import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon

from kerfwright.drawing.model import Drawing, Paint, Picture, Shape
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.affine import Affine, scaling
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.shop.order import PictureWay

SPECKLE_MM2 = 0.05
"""Smaller dark spots and light holes are dust: about a fine beam's spot."""

SPECKLE_DOTS = 4.0
"""Spots and holes of less area than this many dots are noise, however large the dots are."""

STRAY_DOTS = 0.2
"""How far, in dots, the simplified outline may lie from the line where the grey crosses."""

GREY_SHARE = 0.1
"""More of a picture's dots than this between dark and light, and it looks like a photograph."""

_GREY_FROM, _GREY_TO = 0.2, 0.8

_Rings = tuple[list[FloatArray], list[npt.NDArray[np.uint32]]]
"""Of each area the points of all its rings, and where in them each ring starts."""


@dataclass(frozen=True, eq=False, slots=True)
class Traced:
    """What tracing made of one picture; ``shape`` is ``None`` if nothing dark was found."""

    shape: Shape | None
    threshold: int
    areas: int
    holes: int
    speckles: int
    """Dark spots dropped and light holes filled because they are too small."""
    grey_share: float
    """Share of the dots that are neither dark nor light."""


def otsu_threshold(grey: npt.NDArray[np.uint8]) -> int:
    """Grey value up to which dots count as dark: it parts dark and light best (Otsu 1979).

    Of several equally good values the middle one is returned; a picture of a single grey has
    none, and then 127 is.
    """
    counts = np.bincount(grey.ravel(), minlength=256).astype(np.float64)
    dark = np.cumsum(counts)
    light = counts.sum() - dark
    dark_sum = np.cumsum(counts * np.arange(256))
    both = np.flatnonzero((dark > 0.0) & (light > 0.0))
    if not len(both):
        return 127
    means_apart = dark_sum[both] / dark[both] - (dark_sum[-1] - dark_sum[both]) / light[both]
    between = dark[both] * light[both] * means_apart**2
    best = both[between >= between.max() * (1.0 - 1e-12)]
    return int((best[0] + best[-1]) // 2)


def traced(
    picture: Picture, *, threshold: int | None = None, speckle_mm2: float = SPECKLE_MM2
) -> Traced:
    """Trace a picture's dark dots into one shape of black areas with their holes.

    Dots of a grey up to ``threshold`` are dark; by default :func:`otsu_threshold` finds it.
    """
    threshold = otsu_threshold(picture.grey) if threshold is None else threshold
    polygons = dark_areas(picture.grey, threshold + 0.5)
    rows, columns = picture.grey.shape
    dot_mm2 = abs(picture.to_mm.determinant) / (rows * columns)
    least_dots = max(SPECKLE_DOTS, speckle_mm2 / dot_mm2) if dot_mm2 > 0.0 else SPECKLE_DOTS
    kept, speckles = _without_speckles(polygons, least_dots)
    area = _simplified(kept)
    to_mm = picture.to_mm @ scaling(1.0 / columns, 1.0 / rows)
    paths = tuple(_path(ring, to_mm) for ring in rings_of(area))
    paint = Paint(fill="#000000", fill_rule="evenodd")
    shape = Shape(picture.name, paths, picture.layer, paint, picture.line)
    low, high = (float(end) for end in (picture.grey.min(), picture.grey.max()))
    between = (picture.grey > low + _GREY_FROM * (high - low)) & (
        picture.grey < low + _GREY_TO * (high - low)
    )
    return Traced(
        shape if paths else None,
        threshold,
        len(area.geoms),
        sum(len(polygon.interiors) for polygon in area.geoms),
        speckles,
        float(between.mean()),
    )


def pictures_as(drawing: Drawing, way: PictureWay) -> Drawing:
    """Return a drawing with its pictures kept as photos, traced into areas, or left out."""
    if way == "photo" or not drawing.pictures:
        return drawing
    if way == "leave-out":
        found = Finding(
            Severity.NOTE,
            "drawing/pictures-left-out",
            f"{number_of(len(drawing.pictures), 'picture')} left out, as the order says.",
            drawing=drawing.name,
            count=len(drawing.pictures),
        )
        return replace(drawing, pictures=(), findings=(*drawing.findings, found))
    shapes = list(drawing.shapes)
    findings = list(drawing.findings)
    for picture in drawing.pictures:
        result = traced(picture)
        if result.shape is not None:
            shapes.append(result.shape)
        findings += _findings(picture, result, drawing.name)
    return replace(drawing, shapes=tuple(shapes), pictures=(), findings=tuple(findings))


def dark_areas(grey: npt.NDArray[np.uint8], level: float) -> list[Polygon]:
    """Areas darker than ``level``, in dots from the upper left corner, x right and y down."""
    rows, columns = grey.shape
    padded = np.pad(grey, 1, constant_values=255).astype(np.float64)
    lines = contourpy.contour_generator(
        np.arange(-0.5, columns + 1.0),
        np.arange(-0.5, rows + 1.0),
        padded,
        fill_type=contourpy.FillType.OuterOffset,
    )
    points, offsets = cast("_Rings", lines.filled(-1.0, level))
    polygons = []
    for ring_points, starts in zip(points, offsets, strict=True):
        rings = [ring_points[start:stop] for start, stop in pairwise(starts)]
        polygons.append(Polygon(rings[0], rings[1:]))
    return polygons


def _without_speckles(polygons: Sequence[Polygon], least_dots: float) -> tuple[list[Polygon], int]:
    kept, speckles = [], 0
    for polygon in polygons:
        solid = Polygon(polygon.exterior)
        if solid.area < least_dots:
            speckles += 1
            continue
        holes = [ring for ring in polygon.interiors if Polygon(ring).area >= least_dots]
        speckles += len(polygon.interiors) - len(holes)
        kept.append(Polygon(polygon.exterior, holes))
    # a spot inside a hole that was filled has become part of the dark around it
    return kept, speckles


def _simplified(polygons: Sequence[Polygon]) -> MultiPolygon:
    simple = shapely.simplify(np.array(polygons, dtype=object), STRAY_DOTS, preserve_topology=True)
    area = MultiPolygon(list(simple)) if len(simple) else MultiPolygon()
    return area if area.is_valid else as_area(shapely.unary_union(simple))


def _path(ring: npt.NDArray[np.float64], to_mm: Affine) -> Path:
    return Path(to_mm.apply(ring), closed=True)


def _findings(picture: Picture, result: Traced, drawing: str) -> list[Finding]:
    dropped = (
        f"; {number_of(result.speckles, 'speckle')} smaller than {SPECKLE_MM2:g} mm² or "
        f"{SPECKLE_DOTS:g} dots dropped"
        if result.speckles
        else ""
    )
    findings = [
        Finding(
            Severity.NOTE,
            "drawing/traced",
            f"the picture is traced at grey {result.threshold} of 255 into "
            f"{number_of(result.areas, 'area')} with {number_of(result.holes, 'hole')}{dropped}.",
            "Compare the picture of the layout with the original.",
            drawing=drawing,
            shape=picture.name,
            count=max(result.areas, 1),
        )
    ]
    if result.shape is None:
        findings.append(
            Finding(
                Severity.WARN,
                "drawing/traced-empty",
                "nothing dark was found in the picture, so nothing of it is burned.",
                "Ask for a picture with dark areas on a light ground.",
                drawing=drawing,
                shape=picture.name,
            )
        )
    if result.grey_share > GREY_SHARE:
        findings.append(
            Finding(
                Severity.WARN,
                "drawing/traced-photo",
                f"{result.grey_share:.0%} of the picture's dots are neither dark nor light; it "
                "looks like a photograph, and tracing keeps only dark and light.",
                "Look at the result; a picture in two tones traces well.",
                drawing=drawing,
                shape=picture.name,
            )
        )
    return findings
