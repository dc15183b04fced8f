"""PDF pages as we read them against the same pages drawn whole by a PDF library.

Source: the PDFium library's renderer; the drawings exercise the operators of ISO 32000-1, chapter
8 (paths, clips, forms, dashes, page boxes) and 9 (text). Our reading is filled through
``geometry.regions.filled``, lines are widened by shapely, and all is drawn by Pillow.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pypdfium2
import pytest
import shapely
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from kerfwright.drawing.model import Drawing, Shape
from kerfwright.drawing.pdf.read import read_pdf
from kerfwright.geometry.regions import as_area, filled
from pdf_pages import HELVETICA, document, stream

LEAST_IOU = 0.99
WIDTH_PX = 2000
FINER = 4

Mask = npt.NDArray[np.bool_]


def their_picture(data: bytes) -> Mask:
    pdf = pypdfium2.PdfDocument(data)
    page = pdf[0]
    picture = page.render(scale=WIDTH_PX / page.get_width(), may_draw_forms=False, grayscale=True)
    grey = np.asarray(picture.to_numpy()).copy().squeeze()
    pdf.close()
    return grey < 128


def our_area(shape: Shape) -> BaseGeometry:
    areas: list[BaseGeometry] = []
    if shape.paint.fill is not None:
        areas.append(filled(shape.paths, shape.paint.fill_rule))
    if shape.paint.stroke is not None:
        half = (shape.paint.stroke_width_mm or 0.0) / 2
        for path in shape.paths:
            line = shapely.LinearRing(path.points) if path.closed else shapely.LineString(path.line)
            areas.append(line.buffer(half, cap_style="flat", join_style="mitre", mitre_limit=10))
    return shapely.union_all(areas)


def our_picture(drawing: Drawing, size: tuple[int, int]) -> Mask:
    rows, columns = size
    whole = Image.new("1", (columns * FINER, rows * FINER))
    pen = ImageDraw.Draw(whole)
    scale = np.array([columns / drawing.width_mm, rows / drawing.height_mm]) * FINER
    area = as_area(shapely.union_all([our_area(shape) for shape in drawing.shapes]))
    for polygon in sorted(area.geoms, key=lambda one: -one.envelope.area):
        for ring, ink in [(polygon.exterior, 1), *((hole, 0) for hole in polygon.interiors)]:
            points = np.asarray(ring.coords)[:, :2] * scale
            points[:, 1] = rows * FINER - points[:, 1]
            pen.polygon([(x, y) for x, y in points - 0.5], fill=ink)
    for picture in drawing.pictures:
        draw_dots(whole, picture.grey < 128, picture.to_mm, scale, rows * FINER)
    small = whole.convert("L").resize((columns, rows), Image.Resampling.BOX)
    return np.asarray(small) >= 128


def draw_dots(whole: Image.Image, dark: Mask, to_mm: object, scale: object, height: int) -> None:
    pen = ImageDraw.Draw(whole)
    rows, columns = dark.shape
    for row, column in np.argwhere(dark):
        u, v = column / columns, row / rows
        square = np.array([[u, v], [u + 1 / columns, v], [u + 1 / columns, v + 1 / rows]])
        square = np.vstack([square, [[u, v + 1 / rows]]])
        points = to_mm.apply(square) * scale  # type: ignore[attr-defined]
        pen.polygon([(x - 0.5, height - y - 0.5) for x, y in points], fill=1)


def likeness(tmp_path: Path, data: bytes) -> float:
    """Area that both readings cover over the area that either does."""
    file = tmp_path / "drawing.pdf"
    file.write_bytes(data)
    theirs = their_picture(data)
    ours = our_picture(read_pdf(file), theirs.shape)
    assert theirs.sum() > 5000, "the picture is too small for the threshold to mean anything"
    return float((ours & theirs).sum() / (ours | theirs).sum())


LEAF = "0 0 m 20 40 60 40 80 0 c 60 -40 20 -40 0 0 c h"
PENTAGRAM = "100 20 m 160 200 l 10 80 l 190 80 l 40 200 l h"
FORM = "/Type /XObject /Subtype /Form /BBox [{box}] /Matrix [{matrix}] /Resources <<{resources}>>"
STENCIL = "/Type /XObject /Subtype /Image /Width 8 /Height 8 /ImageMask true /BitsPerComponent 1"
GREYS = "/Type /XObject /Subtype /Image /Width 4 /Height 4 /ColorSpace /DeviceGray"
FLAG = bytes([0b11110000, 0b11110000, 0b10000001, 0b10111101, 0b10100101, 0b10111101, 129, 15])

DRAWINGS = {
    "lines and rectangles": document(
        "20 20 100 80 re f 150 20 m 250 20 l 200 120 l h f 30 150 m 130 150 l 80 260 l f "
        "300 40 -60 90 re f 200 200 m 300 190 l 380 250 l 250 280 l b"
    ),
    "curves c, v, y": document(
        "20 150 m 60 280 140 280 180 150 c 100 60 20 150 v 220 60 m 260 200 380 60 y "
        "300 10 l h f 220 200 m 250 290 300 290 390 200 c h f"
    ),
    "fill rules": document(
        f"{PENTAGRAM} f q 1 0 0 1 200 40 cm {PENTAGRAM} f* Q 10 220 60 60 re 25 235 30 30 re f "
        "90 220 60 60 re 105 235 30 30 re f*"
    ),
    "strokes, widths, joins": document(
        "6 w 30 30 m 150 30 l 150 120 l S 12 w 200 40 80 60 re S 3 w 30 160 m 100 290 200 290 250 "
        "160 c S q 0 .5 -.5 0 0 0 cm 16 w 400 -600 m 560 -600 l 480 -760 l S Q 5 w 20 200 m "
        "60 280 l s"
    ),
    "fill and stroke together": document(
        "4 w 30 30 100 80 re B 200 30 m 300 30 l 250 120 l b 30 160 100 100 re 50 180 60 60 re B* "
        "200 160 m 320 160 l 200 260 l 320 260 l b*"
    ),
    "transforms within q and Q": document(
        "q 1 0 0 1 200 150 cm .866 .5 -.5 .866 0 0 cm -60 -40 90 60 re f q 1 .3 0 1 40 20 cm "
        f"{LEAF} f Q Q q -1 0 0 1 180 40 cm {LEAF} f Q q .5 0 0 1.5 30 220 cm {LEAF} f Q "
        "300 20 50 50 re f"
    ),
    "clips": document(
        "q 40 40 100 100 re W n 0 0 m 200 20 l 90 180 l h f Q "
        f"q 1 0 0 1 190 20 cm {PENTAGRAM} W n 0 0 200 120 re f Q "
        "q 20 200 150 80 re W n 60 180 150 70 re W n 0 0 400 300 re f Q "
        "q 250 230 m 390 230 l 320 299 l h W n 10 w 240 240 m 395 290 l 390 235 l S Q"
    ),
    "clips by the even-odd rule": document(
        f"q {PENTAGRAM} W* n 0 0 200 300 re f Q q 1 0 0 1 200 60 cm {PENTAGRAM} W n "
        "0 0 200 300 re f Q"
    ),
    "forms with matrix and box": document(
        "q 1 0 0 1 50 50 cm /Leaf Do Q q .7 .7 -.7 .7 250 40 cm /Leaf Do Q /Outer Do",
        resources="/XObject <</Leaf 10 0 R /Outer 11 0 R>>",
        objects=[
            stream(
                FORM.format(box="0 -20 70 40", matrix="1.5 0 0 1.5 0 0", resources=""), LEAF + " f"
            ),
            stream(
                FORM.format(
                    box="0 0 200 200",
                    matrix="0 1 -1 0 380 120",
                    resources="/XObject <</Leaf 10 0 R>>",
                ),
                "q 1 0 0 1 20 60 cm /Leaf Do Q 20 120 100 60 re f",
            ),
        ],
    ),
    "dashes": document(
        "8 w [30 10] 0 d 20 30 m 380 30 l S [20 8 4] 10 d 30 70 150 100 re S [] 0 d 230 80 m 380 "
        "160 l S q 2 0 0 2 0 0 cm 4 w [15 6] 5 d 10 110 m 60 160 120 60 190 125 c S Q"
    ),
    "turned page": document(
        f"{PENTAGRAM} f 220 20 160 60 re f 250 120 m 380 120 l 250 280 l h f",
        page="/MediaBox [0 0 400 300] /Rotate 90",
    ),
    "page turned three times with a corner of its own": document(
        f"q 1 0 0 1 -50 30 cm {PENTAGRAM} f Q 170 50 120 60 re f",
        page="/MediaBox [-60 10 320 300] /Rotate 270",
    ),
    "crop box and user unit": document(
        f"{PENTAGRAM} f 260 120 80 60 re f",
        page="/MediaBox [0 0 400 300] /CropBox [5 15 350 260] /UserUnit 2.5",
    ),
    "images and stencils": document(
        "q 120 0 0 100 20 20 cm /Grey Do Q q 100 40 -40 100 250 20 cm /Flag Do Q "
        "q 30 170 60 60 re W n 80 0 0 80 20 160 cm /Flag Do Q",
        resources="/XObject <</Grey 10 0 R /Flag 11 0 R>>",
        objects=[
            stream(f"{GREYS} /BitsPerComponent 8", bytes([0, 255] * 4 + [255, 0] * 4)),
            stream(STENCIL, FLAG),
        ],
    ),
    "text in a base font": document(
        "BT /F 110 Tf 10 200 Td [(W) 120 (av) -300 (e)] TJ ET BT /F 90 Tf .9 .3 -.3 .9 40 20 Tm "
        "(Stg) Tj ET BT /F 110 Tf 60 Tz 9 Tc 190 90 Td (Qua) Tj 20 Ts (&) Tj ET",
        resources=f"/Font <</F {HELVETICA}>>",
    ),
    "text in a form": document(
        "q .8 .1 -.1 .8 30 30 cm /Sign Do Q",
        resources="/XObject <</Sign 10 0 R>>",
        objects=[
            stream(
                FORM.format(
                    box="0 0 400 300",
                    matrix="1 0 0 1 10 20",
                    resources=f"/Font <</F {HELVETICA}>>",
                ),
                "BT /F 70 Tf 20 120 Td (Boje 3) Tj ET 20 20 200 50 re f",
            )
        ],
    ),
    "shown and hidden layers": document(
        "/OC /Cut BDC 20 20 100 100 re f EMC /OC /Aid BDC 150 20 100 100 re f EMC "
        "/OC /Aid BDC /Leaf Do EMC /Gone Do 280 20 100 100 re f",
        resources="/Properties <</Cut 10 0 R /Aid 11 0 R>> /XObject <</Leaf 12 0 R /Gone 13 0 R>>",
        objects=[
            "<</Type /OCG /Name (Cut)>>",
            "<</Type /OCG /Name (Aid)>>",
            stream(
                FORM.format(box="0 -50 90 90", matrix="1 0 0 1 0 200", resources=""), LEAF + " f"
            ),
            stream(
                FORM.format(box="0 -50 90 90", matrix="1 0 0 1 200 200", resources="")
                + " /OC 11 0 R",
                LEAF + " f",
            ),
        ],
        catalog="/OCProperties <</OCGs [10 0 R 11 0 R] /D <</OFF [11 0 R]>>>>",
    ),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_reads_what_the_renderer_draws(name: str, tmp_path: Path) -> None:
    assert likeness(tmp_path, DRAWINGS[name]) >= LEAST_IOU
