"""What a photo is expected to look like, and pictures as they stand inside a page."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from kerfwright.drawing.model import Picture
from kerfwright.engraving.photo_cells import PhotoPlace
from kerfwright.engraving.tone import tone_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.output.burn_kernel import burn_strokes
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Process, processes_of

Grey = npt.NDArray[np.uint8]

BARE, BURNED = 244, 38
"""Grey of a bare and of the darkest burned place; the other way round for what burns light."""

MOST_PIXELS = 3000
"""Along the longer side while burning; SHOWN_PIXELS in the picture that is shown."""

SHOWN_PIXELS = 760

PHOTOS_SHOWN = 6
"""On one sheet; copies look alike and are shown once."""


@dataclass(frozen=True, slots=True)
class ExpectedPhoto:
    """A photo as it should come out: its name, its address for a page, its size in mm."""

    name: str
    address: str
    width_mm: float
    height_mm: float


def expected_photos(sheet: PlannedSheet, machine: Machine) -> list[ExpectedPhoto]:
    """Pictures of a sheet's photos, copies left out, as the beam's footprint burns them."""
    shown: dict[tuple[str, bytes], ExpectedPhoto] = {}
    for place in sheet.intended.photos:
        if place.area.is_empty or len(shown) == PHOTOS_SHOWN:
            continue
        x0, y0, x1, y1 = place.area.bounds
        size = np.array([x1 - x0, y1 - y0])
        key = (place.picture.name, place.picture.grey.tobytes() + size.round(2).tobytes())
        if key not in shown:
            grey = expected_grey(sheet, place, machine)
            shown[key] = ExpectedPhoto(place.picture.name, address_of(grey), *size.tolist())
    return list(shown.values())


def expected_grey(sheet: PlannedSheet, place: PhotoPlace, machine: Machine) -> Grey:
    """Simulated look of one photo, row 0 uppermost; the frame is that of its area.

    Every burn is drawn as wide as the beam's spot with round ends; where burns overlap the
    darkest counts. Heat that spreads, and smoke, are not in it.
    """
    recipe = sheet.recipes[Process.PHOTO]
    tone = tone_of(recipe)
    toolpath = sheet.toolpath
    points = toolpath.points
    own = (processes_of(toolpath, sheet.sources) == Process.PHOTO) & toolpath.burning
    ends = np.hstack([points[:-1][own], points[1:][own]])
    power = toolpath.moves["power"][own]
    dark = np.ones(len(power)) if tone.dots else tone.darkness_of(power)
    x0, y0, x1, y1 = place.area.bounds
    pixel = max((recipe.interval_mm or 0.1) / 3.0, max(x1 - x0, y1 - y0) / MOST_PIXELS)
    wide, high = (max(1, round(side / pixel)) for side in (x1 - x0, y1 - y0))
    burned = burn_strokes(
        np.ascontiguousarray((ends - [x0, y0, x0, y0]) / pixel),
        dark,
        max(0.5 * machine.spot_mm / pixel, 0.5),
        high,
        wide,
    )
    light, deep = (BURNED, BARE) if recipe.invert else (BARE, BURNED)
    grey = light + (deep - light) * _smaller(burned[::-1])
    return np.rint(grey).astype(np.uint8)


def _smaller(table: FloatArray) -> FloatArray:
    factor = -(-max(table.shape) // SHOWN_PIXELS)
    if factor == 1:
        return table
    rows, columns = (-(-side // factor) * factor for side in table.shape)
    padded = np.pad(table, ((0, rows - table.shape[0]), (0, columns - table.shape[1])), mode="edge")
    blocks = padded.reshape(rows // factor, factor, columns // factor, factor)
    means: FloatArray = blocks.mean(axis=(1, 3))
    return means


def address_of(grey: Grey, alpha: Grey | None = None) -> str:
    """A picture's dots as a PNG in a ``data:`` address (RFC 2397)."""
    image = Image.fromarray(grey)
    if alpha is not None:
        image.putalpha(Image.fromarray(alpha))
    file = io.BytesIO()
    image.save(file, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(file.getvalue()).decode("ascii")


def svg_dots(picture: Picture, ident: str) -> str:
    """A picture as an SVG ``image`` in the unit square, to be used where it lies."""
    return (
        f'<image id="{ident}" width="1" height="1" preserveAspectRatio="none" '
        f'href="{address_of(picture.grey, picture.alpha)}"/>\n'
    )


def svg_use(picture: Picture, ident: str, height_mm: float) -> str:
    """An SVG ``use`` of a picture where it lies on a sheet ``height_mm`` high, y downwards."""
    m = picture.to_mm
    numbers = " ".join(f"{n:.9g}" for n in (m.a, -m.b, m.c, -m.d, m.e, height_mm - m.f))
    return f'<use href="#{ident}" transform="matrix({numbers})"/>\n'
