"""However a file is damaged, reading it ends in a drawing or in one clear error."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from damage import DXF_WORDS, OTHER_WORDS, PDF_WORDS, SVG_WORDS, damaged
from seeds import PDF, SVG, dxf, picture

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.read import read_drawing
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import GAP_MM, JOIN_MM
from kerfwright.parts.processes import give_processes
from kerfwright.parts.recognise import recognise_parts
from kerfwright.repair.mend import mend

KINDS: dict[str, tuple[str, tuple[bytes, ...], int]] = {
    "svg": (".svg", SVG_WORDS, 16_500),
    "pdf": (".pdf", PDF_WORDS, 1_500),
    "png": (".png", OTHER_WORDS, 1_000),
    "jpeg": (".jpg", OTHER_WORDS, 500),
    "bmp": (".bmp", OTHER_WORDS, 500),
    "dxf R12": (".dxf", DXF_WORDS, 300),
    "dxf R2000": (".dxf", DXF_WORDS, 300),
    "dxf R2018": (".dxf", DXF_WORDS, 200),
    "binary dxf": (".dxf", DXF_WORDS, 200),
}
"""Ending, words to strew in and number of damaged files; 21,000 in all."""

SHARE = 6 if "CI" in os.environ else 1
"""CI tries one in so many of them, always the same ones."""

BATCH = 500


def whole(kind: str) -> bytes:
    if kind == "svg":
        return SVG
    if kind == "pdf":
        return PDF
    if "dxf" in kind:
        return dxf(kind[4:] if kind.startswith("dxf") else "R2000", binary="binary" in kind)
    return picture(kind)


def check(drawing: Drawing) -> None:
    for shape in drawing.shapes:
        for path in shape.paths:
            assert np.isfinite(path.points).all()
            for span in path.spans:
                assert 0 <= span.first < span.last < len(path.line)
    mended = mend(drawing, join_mm=JOIN_MM, gap_mm=GAP_MM)
    shapes, _ = give_processes(mended, [])
    parts, _ = recognise_parts(shapes, mended, name="damaged")
    assert all(part.outline.closed for part in parts)


@pytest.mark.parametrize("kind", KINDS)
def test_a_whole_file_is_read_without_complaint(kind: str, tmp_path: Path) -> None:
    ending = KINDS[kind][0]
    file = tmp_path / f"whole{ending}"
    file.write_bytes(whole(kind))
    drawing = read_drawing(file, unit_mm=1.0 if ending == ".dxf" else None)
    assert drawing.shapes or drawing.pictures


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    ("kind", "batch"),
    [
        (kind, n)
        for kind, (_, _, count) in KINDS.items()
        for n in range((count // SHARE - 1) // BATCH + 1)
    ],
)
def test_a_damaged_file_is_read_or_refused(kind: str, batch: int, tmp_path: Path) -> None:
    data = whole(kind)
    ending, words, count = KINDS[kind]
    read = 0
    for seed in range(batch * BATCH, min((batch + 1) * BATCH, count // SHARE)):
        file = tmp_path / f"damaged{ending}"
        file.write_bytes(damaged(data, words, seed))
        try:
            drawing = read_drawing(file, unit_mm=1.0 if ending == ".dxf" else None)
        except KerfwrightError as refused:
            assert refused.remedy
            assert str(file) in str(refused)
            continue
        check(drawing)
        read += 1
    assert read > 0, "nothing but refusals: the files are damaged beyond what this can test"
