"""Text in a DXF becomes areas, as high as the drawing says (DXF Reference, TEXT and MTEXT).

Places are reckoned by hand from the font in ``letters.py``: capitals are 0.7 em high, so a text
7 high has letters of 10 to the em.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from ezdxf.entities.mtext import MText
from ezdxf.enums import TextEntityAlignment as Align
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing, Shape
from kerfwright.findings import Severity
from letters import FILE, write_font

Draw = Callable[[Modelspace, Document], object]


def read(folder: Path, draw: Draw, *, font: str = FILE) -> Drawing:
    write_font(folder)
    document = new("R2010")
    document.units = 4
    document.layers.add("Engrave", color=1)
    document.styles.add("sign", font=font)
    document.modelspace().add_line((0, 0), (1, 0))
    draw(document.modelspace(), document)
    document.saveas(folder / "drawing.dxf")
    return read_dxf(folder / "drawing.dxf")


def text(words: str, **attributes: object) -> Draw:
    wanted = {"style": "sign", "height": 7.0, "layer": "Engrave"} | attributes

    def draw(model: Modelspace, _: Document) -> None:
        model.add_text(words, dxfattribs=wanted)

    return draw


def placed(words: str, align: Align, *points: tuple[float, float], **attributes: object) -> Draw:
    wanted = {"style": "sign", "height": 7.0} | attributes

    def draw(model: Modelspace, _: Document) -> None:
        model.add_text(words, dxfattribs=wanted).set_placement(*points, align=align)

    return draw


def mtext(words: str, **attributes: object) -> Draw:
    wanted = {"style": "sign", "char_height": 7.0} | attributes

    def draw(model: Modelspace, _: Document) -> MText:
        return model.add_mtext(words, dxfattribs=wanted)

    return draw


def boxes(shape: Shape) -> list[tuple[float, float, float, float]]:
    return sorted(path.bounds_mm for path in shape.paths)


def set_text(folder: Path, draw: Draw) -> Shape:
    drawing = read(folder, draw)
    assert [finding.code for finding in drawing.findings] == ["drawing/text-set"]
    _, shape = drawing.shapes
    return shape


def test_capitals_are_as_high_as_the_text(tmp_path: Path) -> None:
    shape = set_text(tmp_path, text("AH", insert=(20, 30)))
    assert boxes(shape) == [pytest.approx((20, 30, 26, 37)), pytest.approx((27, 30, 33, 37))]
    assert (shape.layer, shape.paint.fill, shape.paint.stroke) == ("Engrave", "#ff0000", None)
    assert shape.name.startswith("text ")


@given(height=st.floats(0.1, 500.0), width=st.floats(0.1, 5.0))
def test_height_and_width_hold_at_any_size(
    tmp_path_factory: pytest.TempPathFactory, height: float, width: float
) -> None:
    folder = tmp_path_factory.mktemp("size")
    shape = set_text(folder, text("H", height=height, width=width))
    scale = height / 7.0
    assert boxes(shape) == [pytest.approx((0, 0, 6 * scale * width, height), abs=1e-9)]


def test_letters_are_neither_kerned_nor_joined(tmp_path: Path) -> None:
    assert [box[0] for box in boxes(set_text(tmp_path, text("AVfi")))] == pytest.approx(
        [0, 7, 14, 17]
    )


@pytest.mark.parametrize(
    ("align", "points", "box"),
    [
        (Align.LEFT, [(0, 0)], (0, 0, 13, 7)),
        (Align.CENTER, [(0, 0)], (-6.5, 0, 6.5, 7)),
        (Align.RIGHT, [(0, 0)], (-13, 0, 0, 7)),
        (Align.TOP_LEFT, [(0, 0)], (0, -7, 13, 0)),
        (Align.MIDDLE_CENTER, [(0, 0)], (-6.5, -3.5, 6.5, 3.5)),
        # the depth of the font's p is 0.2 em
        (Align.BOTTOM_RIGHT, [(0, 0)], (-13, 2, 0, 9)),
        (Align.FIT, [(0, 0), (26, 0)], (0, 0, 26, 7)),
        (Align.ALIGNED, [(0, 0), (26, 0)], (0, 0, 26, 14)),
    ],
)
def test_alignment(
    tmp_path: Path, align: Align, points: list[tuple[float, float]], box: tuple[float, ...]
) -> None:
    shape = set_text(tmp_path, placed("HH", align, *points))
    first, last = boxes(shape)[0], boxes(shape)[-1]
    assert (first[0], first[1], last[2], last[3]) == pytest.approx(box)


@pytest.mark.parametrize(
    ("attributes", "box"),
    [
        ({"rotation": 90.0}, (-7, 0, 0, 6)),
        ({"oblique": 45.0}, (0, 0, 13, 7)),
        ({"text_generation_flag": 2}, (-6, 0, 0, 7)),
        ({"text_generation_flag": 4}, (0, -7, 6, 0)),
        ({"extrusion": (0, 0, -1)}, (-6, 0, 0, 7)),
    ],
)
def test_turned_slanted_and_mirrored(
    tmp_path: Path, attributes: dict[str, object], box: tuple[float, ...]
) -> None:
    assert boxes(set_text(tmp_path, text("H", **attributes))) == [pytest.approx(box)]


def test_an_underlined_part_gets_a_bar(tmp_path: Path) -> None:
    shape = set_text(tmp_path, text("H%%uH%%u"))
    bar = next(box for box in boxes(shape) if box[1] < 0)
    assert bar == pytest.approx((7, -1.25, 14, -0.75))
    assert len(shape.paths) == 3


def test_text_of_a_block_is_scaled_and_has_the_blocks_layer(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        block = document.blocks.new("sign")
        block.add_text("H", dxfattribs={"style": "sign", "height": 0.7})
        scaled = {"xscale": 10, "yscale": 10, "layer": "Engrave"}
        insert = model.add_blockref("sign", (50, 0), dxfattribs=scaled)
        insert.add_attrib("NO", "A", (0, 20), dxfattribs={"style": "sign", "height": 7})

    drawing = read(tmp_path, draw)
    _, number, in_block = drawing.shapes
    assert boxes(in_block) == [pytest.approx((50, 0, 56, 7))]
    assert (in_block.layer, in_block.paint.fill) == ("Engrave", "#ff0000")
    assert boxes(number) == [pytest.approx((0, 20, 6, 27))]


def test_paragraphs_stand_below_one_another(tmp_path: Path) -> None:
    shape = set_text(tmp_path, mtext("H\\PH", insert=(10, 50), attachment_point=1))
    lower, upper = sorted(boxes(shape), key=lambda box: box[1])
    assert upper == pytest.approx((10, 43, 16, 50))
    # lines are 5/3 of the height apart (DXF Reference, MTEXT line spacing), rounded by the library
    assert lower == pytest.approx((10, 43 - 7 * 5 / 3, 16, 50 - 7 * 5 / 3), abs=0.003)


def test_a_long_paragraph_is_wrapped_at_its_width(tmp_path: Path) -> None:
    shape = set_text(tmp_path, mtext("HH HH HH", width=40.0))
    assert len({round(box[1], 6) for box in boxes(shape)}) == 2
    assert max(box[2] for box in boxes(shape)) <= 40.0
    unwrapped = set_text(tmp_path, mtext("HH HH HH"))
    assert len({round(box[1], 6) for box in boxes(unwrapped)}) == 1


def test_mtext_is_attached_at_its_middle_and_turned(tmp_path: Path) -> None:
    shape = set_text(tmp_path, mtext("H", attachment_point=5, rotation=90.0, insert=(30, 30)))
    ((left, low, right, high),) = boxes(shape)
    assert ((left + right) / 2, right - left, high - low) == pytest.approx((30, 7, 6))
    assert (low + high) / 2 == pytest.approx(30, abs=0.6)


def test_a_part_in_another_colour_and_height_is_a_shape_of_its_own(tmp_path: Path) -> None:
    drawing = read(tmp_path, mtext("H{\\C5;\\H2x;H}", layer="Engrave"))
    _, own, blue = drawing.shapes
    assert (own.paint.fill, blue.paint.fill) == ("#ff0000", "#0000ff")
    ((_, low, _, high),) = boxes(blue)
    assert high - low == pytest.approx(14)


def test_a_stroke_font_is_replaced_and_told(tmp_path: Path) -> None:
    drawing = read(tmp_path, text("H"), font="txt.shx")
    assert len(drawing.shapes) == 2
    (found,) = (f for f in drawing.findings if f.code == "drawing/font-taken")
    assert found.severity is Severity.WARN
    assert "txt.shx" in found.what
    assert "Quay Test" in found.what


def test_a_missing_font_stops_with_its_name_and_place(tmp_path: Path) -> None:
    drawing = read(tmp_path, text("H", insert=(3, 4)), font="harbour.ttf")
    (found,) = drawing.findings
    assert (found.severity, found.code) == (Severity.STOP, "drawing/font-missing")
    assert "harbour.ttf" in found.what
    assert (found.x_mm, found.y_mm) == (3, 4)


def test_the_family_of_a_style_is_found_by_its_extended_data(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        style = document.styles.add("family", font="")
        style.set_extended_font_data("Quay Test", italic=False, bold=False)
        model.add_text("H", dxfattribs={"style": "family", "height": 7})

    assert boxes(set_text(tmp_path, draw)) == [pytest.approx((0, 0, 6, 7))]


def test_a_family_named_within_mtext_is_followed(tmp_path: Path) -> None:
    drawing = read(tmp_path, mtext("{\\fHarbour Script|b0|i0;H}"))
    assert [found.code for found in drawing.findings] == ["drawing/font-missing"]
    assert boxes(set_text(tmp_path, mtext("{\\fQuay Test|b0|i0;H}")))[0][3] == pytest.approx(0)


@pytest.mark.parametrize("write", [text, mtext])
def test_letters_written_as_numbers_are_read(tmp_path: Path, write: Callable[[str], Draw]) -> None:
    """DXF Reference: \\U+nnnn stands for the character of that number; 0048 is H."""
    (plain,) = (shape for shape in read(tmp_path, write("HH")).shapes if len(shape.paths) > 1)
    (coded,) = (
        shape for shape in read(tmp_path, write("H\\U+0048")).shapes if len(shape.paths) > 1
    )
    assert boxes(coded) == boxes(plain)


def test_missing_characters_stop(tmp_path: Path) -> None:
    drawing = read(tmp_path, text("H\u2693"))
    (found,) = drawing.findings
    assert (found.severity, found.code) == (Severity.STOP, "drawing/no-glyph")
    assert "\u2693" in found.what


def test_text_set_from_top_to_bottom_stops(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.styles.add("down", font=FILE).is_vertical_stacked = True
        model.add_text("H", dxfattribs={"style": "down"})

    (found,) = read(tmp_path, draw).findings
    assert (found.severity, found.code) == (Severity.STOP, "drawing/text")
