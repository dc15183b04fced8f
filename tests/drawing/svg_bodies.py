"""Bodies of SVG files read on a page of 100 mm, one user unit a millimetre."""

from __future__ import annotations

from pathlib import Path

from kerfwright.drawing.model import Drawing
from kerfwright.drawing.svg.read import read_svg

ROOT = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'xmlns:d="urn:some-drawing-program" width="100mm" height="100mm" viewBox="0 0 100 100">'
)


def read(tmp_path: Path, body: str) -> Drawing:
    file = tmp_path / "drawing.svg"
    file.write_text(f"{ROOT}{body}</svg>", encoding="utf-8")
    return read_svg(file)
