"""Pictures made of dots in an SVG: where their bytes are, and where they lie.

SVG 1.1 section 5.7, SVG 2 section 12.3; ``data:`` addresses by RFC 2397. A file is opened only
if it lies in the drawing's own folder or below it, and nothing is ever fetched.
"""

from __future__ import annotations

import base64
import binascii
import re
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote, unquote_to_bytes, urlsplit

from lxml import etree

from kerfwright.drawing.content import bytes_of
from kerfwright.drawing.model import Picture
from kerfwright.drawing.pictures.picture import Decoded, decoded
from kerfwright.drawing.svg.clip import Region
from kerfwright.drawing.svg.place import Place
from kerfwright.drawing.svg.values import ViewBox, fitted, length
from kerfwright.drawing.svg.xml import href_of
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import scaling

_BLANKS = re.compile(r"\s+")


class PictureError(Exception):
    """A picture that is not read, and why."""


@dataclass(frozen=True, eq=False, slots=True)
class Placed:
    """A picture where it lies, and the frame it is cut along if it reaches beyond that."""

    picture: Picture
    edge: Region | None


def picture_of(element: etree._Element, place: Place, name: str, file: Path) -> Placed | None:
    """Read an ``image`` of the drawing ``file``; ``None`` if it has no size and does not show.

    Raises :class:`PictureError` for one that cannot be read.
    """
    try:
        dots = decoded(_bytes(href_of(element), file.parent), file=str(file))
    except KerfwrightError as fault:
        raise PictureError(fault.thing.rstrip(".")) from None
    return _placed(dots, element, place, name)


def _placed(dots: Decoded, element: etree._Element, place: Place, name: str) -> Placed | None:
    rows, columns = dots.grey.shape
    width, height = _size(element, place, columns / rows, columns)
    if width <= 0.0 or height <= 0.0:
        return None
    place = place.moved(*place.lengths(element, "x", "y"))
    aspect = element.get("preserveAspectRatio")
    fit = fitted(ViewBox(0.0, 0.0, columns, rows), width, height, aspect)
    to_mm = place.to_mm @ fit @ scaling(columns, rows)
    layer = place.layer.name
    picture = Picture(name, dots.grey, to_mm, layer, element.sourceline, dots.alpha)
    edge = Region.frame(place.to_mm, width, height) if "slice" in (aspect or "") else None
    return Placed(picture, edge)


def _size(
    element: etree._Element, place: Place, width_to_height: float, columns: int
) -> tuple[float, float]:
    """Width and height as stated; what is not follows the picture's own (SVG 2 section 12.3)."""
    measures = place.measures
    stated = [
        None if text in {"", "auto"} else length(text, measures, whole)
        for text, whole in (
            (element.get("width", "").strip(), measures.width),
            (element.get("height", "").strip(), measures.height),
        )
    ]
    width, height = stated
    if width is None:
        width = float(columns) if height is None else height * width_to_height
    return width, width / width_to_height if height is None else height


def _bytes(href: str, folder: Path) -> bytes:
    kind, _, rest = href.partition(":")
    if not href:
        raise PictureError("it refers to nothing")
    if kind.lower() == "data":
        return _embedded(rest)
    parts = urlsplit(href)
    if parts.scheme not in {"", "file"} or parts.netloc not in {"", "localhost"}:
        raise PictureError(f"{_short(href)} is not in the drawing's folder")
    try:
        path = (folder / unquote(parts.path)).resolve()
        inside = path.is_relative_to(folder.resolve())
    except (OSError, ValueError):
        inside = False
    if not inside:
        raise PictureError(f"{_short(href)} is not in the drawing's folder")
    try:
        return bytes_of(path)
    except KerfwrightError as fault:
        raise PictureError(f"{_short(href)}: {fault.thing.rstrip('.')}") from None


def _embedded(rest: str) -> bytes:
    head, comma, data = rest.partition(",")
    if not comma:
        raise PictureError("its data is cut short")
    if head.strip().lower().startswith("image/svg"):
        raise PictureError("it is itself an SVG")
    if not head.rstrip().lower().endswith(";base64"):
        return unquote_to_bytes(data)
    packed = _BLANKS.sub("", unquote(data))
    try:
        return base64.b64decode(packed + "=" * (-len(packed) % 4))
    except (binascii.Error, ValueError):
        raise PictureError("its data is damaged") from None


def _short(href: str) -> str:
    return href if len(href) <= 60 else f"{href[:57]}..."
