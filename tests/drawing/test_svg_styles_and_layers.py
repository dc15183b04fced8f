"""Paint, layers and names of the shapes in an SVG."""

from __future__ import annotations

from pathlib import Path

import pytest
from svg_bodies import read

from kerfwright.drawing.model import Paint, Shape

SQUARE = 'd="M 1 1 H 9 V 9 H 1 Z"'


def only_shape(tmp_path: Path, body: str) -> Shape:
    (shape,) = read(tmp_path, body).shapes
    return shape


@pytest.mark.parametrize(
    ("attributes", "paint"),
    [
        ("", Paint(fill="#000000")),
        ('fill="RED"', Paint(fill="#ff0000")),
        ('fill="#Abc" fill-rule="evenodd"', Paint(fill="#aabbcc", fill_rule="evenodd")),
        ('fill="rgb(10%, 20%, 100%)"', Paint(fill="#1a33ff")),
        ('fill="hsl(120, 100%, 50%)"', Paint(fill="#00ff00")),
        ('fill="#123456 icc-color(x, 1, 2)"', Paint(fill="#123456")),
        ('fill="none" stroke="blue" stroke-width="0.2"', Paint(None, "#0000ff", 0.2)),
        ('style="fill:none;stroke:#00f;stroke-width:1mm"', Paint(None, "#0000ff", 96 / 25.4)),
        ('style="stroke:lime; fill : none !important" fill="red"', Paint(None, "#00ff00", 1.0)),
        ('color="#c0ffee" fill="currentColor"', Paint(fill="#c0ffee")),
        ('fill="url(#fade)"', Paint(fill="pattern")),
        ('fill="url(#flat)"', Paint(fill="#778899")),
        ('fill="url(#hatch) red"', Paint(fill="pattern")),
        ('fill="url(#glow)"', Paint(fill="pattern")),
        ('stroke="red" fill="url(#clear)"', Paint(None, "#ff0000", 1.0)),
        ('stroke="red" fill="url(#stopless)"', Paint(None, "#ff0000", 1.0)),
        ('fill="url(#nowhere) red"', Paint(fill="#ff0000")),
        ('stroke="red" fill-opacity="0"', Paint(None, "#ff0000", 1.0)),
        ('stroke="red" stroke-width="0"', Paint(fill="#000000")),
        ('stroke="red" stroke-opacity="0%"', Paint(fill="#000000")),
        ('fill="transparent" stroke="#010203"', Paint(None, "#010203", 1.0)),
        ('fill="no such colour"', Paint(fill="#000000")),
    ],
)
def test_paint(tmp_path: Path, attributes: str, paint: Paint) -> None:
    servers = (
        '<linearGradient id="fade"><stop stop-color="red"/><stop style="stop-color:blue"/>'
        '</linearGradient><pattern id="hatch"/>'
        '<linearGradient id="swatch"><stop stop-color="#789"/></linearGradient>'
        '<radialGradient id="flat" xlink:href="#swatch"/><linearGradient id="stopless"/>'
        '<radialGradient id="glow"><stop/><stop stop-opacity="0"/></radialGradient>'
        '<linearGradient id="clear"><stop stop-opacity="0"/></linearGradient>'
    )
    shape = only_shape(tmp_path, f"<defs>{servers}</defs><path {SQUARE} {attributes}/>")
    assert shape.paint.stroke_width_mm == pytest.approx(paint.stroke_width_mm)
    assert (shape.paint.fill, shape.paint.stroke) == (paint.fill, paint.stroke)
    assert shape.paint.fill_rule == paint.fill_rule


@pytest.mark.parametrize(
    ("sheet", "fill"),
    [
        ("path { fill: #010101 }", "#010101"),
        ("* { fill: #010101 }", "#010101"),
        (".a { fill: #020202 } path { fill: #010101 }", "#020202"),
        ("#p { fill: #030303 } .a.b { fill: #020202 }", "#030303"),
        (".a { fill: #010101 } .b { fill: #020202 }", "#020202"),
        ("g path { fill: #010101 }", "#010101"),
        ("svg > path { fill: #010101 }", "#999999"),
        ("svg > g > path.a { fill: #010101 }", "#010101"),
        (".a { fill: #010101 !important } #p { fill: #020202 }", "#010101"),
        ("g { fill: #010101 }", "#999999"),
        (".other, .b { fill: #010101 }", "#010101"),
        ("@media screen { .a { fill: #010101 } }", "#010101"),
        ("@media speech { .a { fill: #010101 } }", "#999999"),
        (".A { fill: #010101 }", "#999999"),
        ("/* .a { fill: #010101 } */", "#999999"),
        ('path[class~="b"]:not(.c) { fill: #010101 }', "#010101"),
    ],
)
def test_style_sheets_cascade(tmp_path: Path, sheet: str, fill: str) -> None:
    """CSS Cascading 4; the presentation attribute has no specificity at all."""
    body = f'<style>{sheet}</style><g><path id="p" class="a b" fill="#999" {SQUARE}/></g>'
    assert only_shape(tmp_path, body.replace(" > ", " &gt; ")).paint.fill == fill


def test_the_elements_own_style_beats_sheets_but_not_their_important_ones(tmp_path: Path) -> None:
    body = (
        "<style>path { fill: #010101; stroke: #020202 !important }</style>"
        f'<path style="fill:#030303; stroke:#040404" {SQUARE}/>'
    )
    paint = only_shape(tmp_path, body).paint
    assert (paint.fill, paint.stroke) == ("#030303", "#020202")


def test_a_copy_inherits_from_where_it_stands(tmp_path: Path) -> None:
    body = (
        f'<defs fill="#010101"><path id="p" {SQUARE}/></defs>'
        '<g fill="#020202" stroke="#030303" stroke-width="2"><use xlink:href="#p" '
        'transform="scale(2)"/></g>'
    )
    paint = only_shape(tmp_path, body).paint
    assert (paint.fill, paint.stroke) == ("#020202", "#030303")
    assert paint.stroke_width_mm == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("groups", "layer"),
    [
        ([], ""),
        (['id="Cut"'], "Cut"),
        (['id="Tokens"', "", 'id="Engrave"'], "Engrave"),
        (['id="Cut"', 'id="g42"'], "Cut"),
        (['id="g42"'], "g42"),
        (['d:label="Cut"', 'id="star"'], "Cut"),
        (['id="Cut_x20_lines_x2F_"'], "Cut lines/"),
        (['id="Cut_lines-2" data-name="Cut lines"'], "Cut lines"),
        (['id="g42" data-name="Cut"', 'id="g43"'], "Cut"),
        (['d:label="Sheet"', 'd:label="Cut"'], "Cut"),
        (['d:groupmode="layer" d:label="Cut" id="layer1"', 'd:label="star"'], "Cut"),
        (['d:groupmode="layer" id="layer1"', 'd:label="star"'], "layer1"),
        (
            ['d:groupmode="layer" d:label="Sign"', 'd:groupmode="layer" d:label="Engrave"'],
            "Sign/Engrave",
        ),
    ],
)
def test_layer(tmp_path: Path, groups: list[str], layer: str) -> None:
    opening = "".join(f"<g {attributes}>" for attributes in groups)
    body = f"{opening}<path {SQUARE}/>{'</g>' * len(groups)}"
    assert only_shape(tmp_path, body).layer == layer


def test_a_copy_belongs_to_the_layer_where_it_stands(tmp_path: Path) -> None:
    body = (
        f'<defs><g id="hexagon"><path {SQUARE}/></g></defs>'
        '<g id="Score"><use href="#hexagon"/></g><use href="#hexagon"/>'
    )
    assert [shape.layer for shape in read(tmp_path, body).shapes] == ["Score", "hexagon"]


def test_names_are_ids_or_kinds_and_never_repeat(tmp_path: Path) -> None:
    body = (
        f'<path id="tooth" {SQUARE}/><path {SQUARE}/><rect width="5" height="5"/>'
        f'<use href="#tooth"/><use href="#tooth"/><use id="molar" href="#tooth"/>'
        f'<path id="path 7" {SQUARE}/><path {SQUARE}/>'
    )
    assert [shape.name for shape in read(tmp_path, body).shapes] == [
        "tooth",
        "path 2",
        "rect 1",
        "tooth (2)",
        "tooth (3)",
        "molar",
        "path 7",
        "path 7 (2)",
    ]


@pytest.mark.parametrize("width", ["thick", "1,5", "-3", "var(--w)", "5furlong"])
def test_a_width_that_cannot_be_read_is_ignored_and_told(tmp_path: Path, width: str) -> None:
    """CSS 2.2 section 4.2: a declaration with an illegal value is ignored."""
    drawing = read(
        tmp_path,
        f'<g stroke="red" stroke-width="2"><path {SQUARE} style="stroke-width:{width}"/></g>',
    )
    assert drawing.shapes[0].paint.stroke_width_mm == pytest.approx(2.0)
    assert [finding.code for finding in drawing.findings] == ["drawing/style-not-understood"]


def test_source_lines_are_kept(tmp_path: Path) -> None:
    shapes = read(tmp_path, f"\n<path {SQUARE}/>\n\n<path {SQUARE}/>").shapes
    assert [shape.line for shape in shapes] == [2, 4]
