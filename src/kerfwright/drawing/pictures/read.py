"""Reads picture files: one picture made of dots, in its true size."""

from __future__ import annotations

import math
from pathlib import Path

from kerfwright.drawing.content import bytes_of
from kerfwright.drawing.model import Drawing, Picture
from kerfwright.drawing.pictures.picture import Decoded, decoded
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM

SCREEN_DPI = (72.0, 96.0)
"""What programs write for a picture whose size nobody has set: a screen's dots to the inch."""

COARSE_DOTS_PER_MM = 4.0
"""Fewer dots to the mm show as steps in an engraving (common practice, no source)."""


def read_picture_file(path: Path | str, width_mm: float | None = None) -> Drawing:
    """Read a PNG, JPEG, BMP, GIF, TIFF or WebP file as a drawing of one picture.

    The size is ``width_mm`` with the height in proportion, else what the file states in dots to
    the inch.

    Raises:
        KerfwrightError: the file cannot be opened or decoded, or has no size while ``width_mm``
            is not given.
    """
    path = Path(path)
    picture = decoded(bytes_of(path), file=str(path))
    size_mm = _size_mm(picture, width_mm, path)
    findings: list[Finding] = []
    if picture.frames > 1:
        findings.append(
            Finding(
                Severity.WARN,
                "drawing/picture-frames",
                f"the picture has {picture.frames} frames or pages; the first is read.",
                "Save the one that is wanted as a picture of its own.",
                drawing=path.name,
            )
        )
    if width_mm is None:
        findings += _doubtful_size(picture, size_mm, path.name)
    findings += _coarse(picture, size_mm, path.name)
    width, height = size_mm
    return Drawing(
        path.name,
        (),
        width,
        height,
        tuple(findings),
        (
            Picture(
                "picture 1",
                picture.grey,
                Affine(width, 0.0, 0.0, -height, 0.0, height),
                alpha=picture.alpha,
            ),
        ),
    )


def _size_mm(picture: Decoded, width_mm: float | None, path: Path) -> tuple[float, float]:
    rows, columns = picture.grey.shape
    if width_mm is not None:
        stated = picture.size_mm
        height_to_width = rows / columns if stated is None else stated[1] / stated[0]
        size_mm = width_mm, width_mm * height_to_width
    elif picture.size_mm is not None:
        size_mm = picture.size_mm
    else:
        raise KerfwrightError(
            "drawing/picture-without-size",
            file=str(path),
            thing=f"The picture of {columns} × {rows} dots does not say how large it is.",
            remedy="Write width_mm = 80 (its width in mm) for this drawing in the order file, or "
            "--width 80 on the command line.",
        )
    if not all(math.isfinite(side) and 0.0 < side <= COORDINATE_LIMIT_MM for side in size_mm):
        raise KerfwrightError(
            "drawing/coordinates",
            file=str(path),
            thing=f"A picture of {size_mm[0]:g} × {size_mm[1]:g} mm fits no sheet.",
            remedy="Give its width in mm with width_mm in the order, or --width.",
        )
    return size_mm


def _doubtful_size(picture: Decoded, size_mm: tuple[float, float], name: str) -> list[Finding]:
    dots = picture.dots_per_inch
    if dots is None or not any(abs(dots[0] - screen) < 0.5 for screen in SCREEN_DPI):
        return []
    return [
        Finding(
            Severity.WARN,
            "drawing/picture-screen-size",
            f"the picture states {dots[0]:.0f} dots to the inch, as screens have, and so is "
            f"{size_mm[0]:.1f} × {size_mm[1]:.1f} mm; nobody may have meant that.",
            "Check the size, or give the width with width_mm in the order (--width).",
            drawing=name,
        )
    ]


def _coarse(picture: Decoded, size_mm: tuple[float, float], name: str) -> list[Finding]:
    per_mm = picture.grey.shape[1] / size_mm[0]
    if per_mm >= COARSE_DOTS_PER_MM:
        return []
    return [
        Finding(
            Severity.WARN,
            "drawing/picture-coarse",
            f"at {size_mm[0]:.1f} mm wide the picture has only {per_mm:.1f} dots to the mm; "
            "they will show as steps.",
            "Ask for the picture in a higher resolution, or make it smaller.",
            drawing=name,
        )
    ]
