"""Fields in a drawing's text take a row's words; text keeps its anchor and fits its room."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from font_source_sans_pro import font_files_ttf
from fontTools.ttLib import TTFont

from kerfwright.drawing.copies import Copy
from kerfwright.drawing.model import Drawing
from kerfwright.drawing.svg.read import read_svg
from kerfwright.errors import KerfwrightError
from kerfwright.shop.batch import Batch
from kerfwright.shop.batch_rows import BatchRow
from small_shop import svg

FONT = 'font-family="Source Sans Pro"'


def filled(folder: Path, body: str, *, serial: int = 1, batch: Any = None, **cells: str) -> Drawing:
    path = folder / "tag.svg"
    path.write_text(svg(body, 100, 60), encoding="utf-8")
    said = Batch.model_validate({"rows": "names.csv"} | (batch or {}))
    return read_svg(path, copy=Copy(BatchRow(2, serial, cells), said, folder / "names.csv"))


def box_of(drawing: Drawing, name: str) -> tuple[float, float, float, float]:
    shape = next(shape for shape in drawing.shapes if shape.name == name)
    points = np.concatenate([path.points for path in shape.paths])
    return (*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def advance_mm(words: str, size_mm: float) -> float:
    """Width of a line by the font's own table of advances (OpenType hmtx), without kerning."""
    font = TTFont(font_files_ttf["SourceSansPro"])
    names, advances = font.getBestCmap(), font["hmtx"]
    units = font["head"].unitsPerEm
    return sum(advances[names[ord(letter)]][0] for letter in words) * size_mm / units


def test_a_field_is_replaced_by_the_rows_words(tmp_path: Path) -> None:
    body = f'<text id="t" x="10" y="30" font-size="8" {FONT}>HH {{name}}{{n:03d}}</text>'
    whole = box_of(filled(tmp_path, body, serial=7, name="HHH"), "t")
    plain = f'<text id="t" x="10" y="30" font-size="8" {FONT}>HH HHH007</text>'
    path = tmp_path / "plain.svg"
    path.write_text(svg(plain, 100, 60), encoding="utf-8")
    assert whole == pytest.approx(box_of(read_svg(path), "t"))


@pytest.mark.parametrize(("anchor", "at"), [("start", 0.0), ("middle", 0.5), ("end", 1.0)])
def test_long_words_shrink_about_their_anchor(tmp_path: Path, anchor: str, at: float) -> None:
    body = (
        f'<text id="t" x="50" y="30" font-size="10" text-anchor="{anchor}" {FONT}>{{name}}</text>'
    )
    room = {"room_mm": {"name": 30.0}}
    x0, y0, x1, _ = box_of(filled(tmp_path, body, batch=room, name="HHHHHHHH"), "t")
    bearing = 30.0 * (1.0 - (x1 - x0) / 30.0)
    assert x0 + at * (x1 - x0) == pytest.approx(50.0, abs=bearing)
    assert x1 - x0 < 30.0
    # one H is nearly 7 mm wide at this size, and only what is beside the first and last is left
    assert x1 - x0 > 30.0 - 2.0 * 0.1 * 10.0
    assert y0 == pytest.approx(30.0, abs=1e-6)


def test_text_that_fits_keeps_its_size(tmp_path: Path) -> None:
    body = f'<text id="t" x="5" y="30" font-size="10" {FONT}>{{name}}</text>'
    wide = advance_mm("HIHI", 10.0)
    loose = box_of(filled(tmp_path, body, name="HIHI"), "t")
    for room in (wide + 0.01, 90.0):
        kept = filled(tmp_path, body, batch={"room_mm": {"name": room}}, name="HIHI")
        assert box_of(kept, "t") == pytest.approx(loose)
    tight = filled(tmp_path, body, batch={"room_mm": {"name": wide / 2}}, name="HIHI")
    x0, _, x1, _ = box_of(tight, "t")
    assert x1 - x0 == pytest.approx((loose[2] - loose[0]) / 2)


def test_text_below_its_least_size_stops_the_plan(tmp_path: Path) -> None:
    body = f'<text id="t" x="5" y="30" font-size="10" {FONT}>{{name}}</text>'
    wide = advance_mm("HHHH", 10.0)
    batch = {"room_mm": {"name": wide * 0.5}, "least_text_mm": 5.01}
    (stop,) = [
        f for f in filled(tmp_path, body, batch=batch, name="HHHH").findings if f.severity == "stop"
    ]
    assert stop.code == "drawing/text-too-long"
    assert "would be 5.00 mm large, less than 5.01 mm" in stop.what
    batch["least_text_mm"] = 4.99
    assert not [
        f for f in filled(tmp_path, body, batch=batch, name="HHHH").findings if f.severity == "stop"
    ]


def test_a_room_is_measured_in_mm_of_the_page(tmp_path: Path) -> None:
    body = (
        f'<g transform="rotate(30) scale(2)"><text id="t" x="10" y="5" font-size="5" {FONT}>'
        "{name}</text></g>"
    )
    path = tmp_path / "tag.svg"
    (small, large) = (
        filled(tmp_path, body, batch={"room_mm": {"name": room}}, name="HHHHHH")
        for room in (12.0, 24.0)
    )
    sizes = [np.ptp(box_of(one, "t")[::2]) for one in (small, large)]
    assert sizes[1] / sizes[0] == pytest.approx(2.0, rel=1e-6)
    assert path.is_file()


def test_markup_in_a_cell_is_text(tmp_path: Path) -> None:
    body = f'<text id="t" x="5" y="30" font-size="8" {FONT}>{{name}}</text>'
    drawing = filled(tmp_path, body, name="<rect/> & {x}")
    assert [shape.name for shape in drawing.shapes] == ["t"]


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ('<text x="5" y="9">{berth}</text>', "batch/column-missing"),
        ('<text x="5" y="9">{name</text>', "batch/field-unclear"),
        ('<text x="5" y="9">{na<tspan>me}</tspan></text>', "batch/field-unclear"),
        ('<text x="5" y="9">name</text>', "batch/no-fields"),
        ('<line id="qr:{name}" x1="0" y1="0" x2="9" y2="0"/>', "batch/code-place"),
        ('<rect id="datamatrix:{name}" width="9" height="9"/>', "batch/code-cannot-hold"),
    ],
)
def test_gaps_that_cannot_be_filled_are_refused(tmp_path: Path, body: str, code: str) -> None:
    with pytest.raises(KerfwrightError) as refused:
        filled(tmp_path, body, name="Möwe")
    assert refused.value.code == code


@pytest.mark.parametrize(
    "place",
    [
        '<rect id="qr:{name}" x="20" y="10" width="40" height="30" fill="none" stroke="red"/>',
        '<path id="qr:{name}" d="M20,10H60V40H20Z"/>',
        '<rect id="qr_x3A__x7B_name_x7D_" x="20" y="10" width="40" height="30"/>',
        '<g id="qr:{name}"><rect x="20" y="10" width="40" height="30"/></g>',
        '<g transform="translate(10,0)"><rect id="qr:{name}" x="10" y="10" width="40" '
        'height="30"/></g>',
    ],
)
def test_a_code_fills_the_largest_square_of_its_place(tmp_path: Path, place: str) -> None:
    (code,) = filled(tmp_path, place, name="Möwe").shapes
    assert code.paint.fill == "#000000"
    assert code.paint.stroke is None
    points = np.concatenate([path.points for path in code.paths])
    # 21 modules and 4 of quiet zone on either side (ISO/IEC 18004), in a square of 30 mm
    module = 30.0 / 29.0
    assert points.min(axis=0) == pytest.approx((25 + 4 * module, 20 + 4 * module), abs=0.01)
    assert points.max(axis=0) == pytest.approx((55 - 4 * module, 50 - 4 * module), abs=0.01)
