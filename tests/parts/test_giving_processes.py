"""Which process a shape gets: rules first, then layer names, then paint; never a colour of ours."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.geometry.affine import translation
from kerfwright.geometry.paths import Path
from kerfwright.parts.layer_words import process_of_layer
from kerfwright.parts.model import ProcessedShape
from kerfwright.parts.processes import give_processes, unused_rules
from kerfwright.shop.order import Rule
from kerfwright.toolpath import Process

SQUARE = Path(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]), closed=True)
LINE = Paint(stroke="#000000")
FILLED = Paint(fill="#123456")


def drawing(*shapes: Shape) -> Drawing:
    return Drawing("sign.svg", shapes, 100.0, 100.0)


def shape(layer: str = "", paint: Paint = LINE, name: str = "path 1") -> Shape:
    return Shape(name, (SQUARE,), layer, paint)


def process(one: Shape, *rules: Rule) -> Process | None:
    given_, _ = give_processes(drawing(one), rules)
    return given_[0].process if given_ else None


def codes(*shapes: Shape) -> list[tuple[str, int]]:
    return [(f.code, f.count) for f in give_processes(drawing(*shapes), ())[1]]


@pytest.mark.parametrize(
    ("layer", "wanted"),
    [
        ("Cut", Process.CUT),
        ("CUT LINES", Process.CUT),
        ("outer_outline", Process.CUT),
        ("fold-lines", Process.SCORE),
        ("Crease", Process.SCORE),
        ("2 scoring", Process.SCORE),
        ("Engraving outlines", Process.ENGRAVE),
        ("etch.2", Process.ENGRAVE),
        ("Guides", Process.GUIDE),
        ("cutting guide", Process.GUIDE),
        ("construction", Process.GUIDE),
        ("DO NOT BURN", Process.GUIDE),
        ("don't cut", Process.GUIDE),
        ("not to be engraved", Process.GUIDE),
        ("no-burn", Process.GUIDE),
        ("cuts/fold", Process.SCORE),
        ("fold/cuts/letters", Process.CUT),
        ("engraving/layer 3", Process.ENGRAVE),
        ("haircuttery", None),
        ("scoreboard", None),
        ("notes on the cut and engrave", None),
        ("no wind, cut & score", None),
        ("", None),
        ("7", None),
    ],
)
def test_whole_words_of_a_layers_name_decide(layer: str, wanted: Process | None) -> None:
    assert process_of_layer(layer)[0] is wanted


@pytest.mark.parametrize(
    ("paint", "wanted"),
    [
        (Paint(fill="#000000"), Process.ENGRAVE),
        (Paint(fill="pattern"), Process.ENGRAVE),
        (Paint(stroke="#ff0000"), Process.CUT),
        (Paint(stroke="#ffffff"), Process.CUT),
        (Paint(stroke="#ff0000", stroke_width_mm=0.01), Process.CUT),
        (Paint(fill="#00ff00", stroke="#000000"), Process.ENGRAVE),
        (Paint(fill="#ffffff", stroke="#000000"), Process.CUT),
        (Paint(fill="#ffffff"), None),
        (Paint(), None),
    ],
)
def test_paint_decides_where_the_layer_says_nothing(paint: Paint, wanted: Process | None) -> None:
    assert process(shape(paint=paint)) is wanted


@given(
    fill=st.sampled_from([None, "#ff0000", "#0000ff", "#00ff00", "#000000", "#fffffe"]),
    stroke=st.sampled_from(["#ff0000", "#0000ff", "#00ff00", "#000000"]),
)
def test_no_colour_but_white_means_anything_without_a_rule(fill: str | None, stroke: str) -> None:
    wanted = Process.CUT if fill is None else Process.ENGRAVE
    assert process(shape(paint=Paint(fill=fill, stroke=stroke))) is wanted


def test_the_layers_name_goes_before_paint_and_a_rule_before_both() -> None:
    one = shape("Fold", FILLED)
    assert process(one) is Process.SCORE
    assert process(one, Rule(process="cut", layer="f?LD")) is Process.CUT


def test_the_first_rule_that_matches_decides_and_is_named() -> None:
    rules = (
        Rule(process="guide", layer="Plate*"),
        Rule(process="score", layer="Fold*", stroke=True),
        Rule(process="cut"),
    )
    given_, _ = give_processes(drawing(shape("Folds"), shape("x")), rules, item_rules=1)
    assert [(g.process, g.rule) for g in given_] == [
        (Process.SCORE, 'order rule 1 (layer "Fold*", with line)'),
        (Process.CUT, "order rule 2 (every shape)"),
    ]
    guide, _ = give_processes(drawing(shape("plates")), rules, item_rules=1)
    assert guide[0].rule == 'item rule 1 (layer "Plate*")'


@pytest.mark.parametrize(
    ("rule", "paint", "matches"),
    [
        ({"fill": True}, FILLED, True),
        ({"fill": True}, LINE, False),
        ({"fill": False}, LINE, True),
        ({"fill": False, "stroke": True}, FILLED, False),
        ({"stroke": "black"}, LINE, True),
        ({"stroke": "#000"}, LINE, True),
        ({"stroke": "#000001"}, LINE, False),
        ({"fill": "#123456", "stroke": False}, FILLED, True),
        ({"fill": "pattern"}, Paint(fill="pattern"), True),
        ({"fill": "white"}, Paint(fill="#ffffff"), True),
        ({"fill": False, "stroke": False}, Paint(), True),
    ],
)
def test_all_tests_of_a_rule_must_match(
    rule: dict[str, object], paint: Paint, matches: bool
) -> None:
    made = Rule.model_validate({"process": "guide"} | rule)
    assert (process(shape(paint=paint), made) is Process.GUIDE) is matches


def test_what_shows_nothing_is_left_out_and_counted() -> None:
    white = Paint(fill="#ffffff")
    assert codes(shape(paint=white), shape(paint=Paint()), shape()) == [("parts/invisible", 2)]
    assert codes(shape("Engraving", white)) == [("parts/invisible", 1)]
    assert process(shape("Cut", white)) is Process.CUT


def test_fill_with_line_and_layers_of_two_processes_are_told() -> None:
    both = Paint(fill="#000000", stroke="#000000")
    assert codes(shape(paint=both), shape(paint=both)) == [("parts/fill-and-stroke", 2)]
    assert codes(shape("cut + engrave")) == [("parts/layer-says-two", 1)]


def test_rules_that_decide_nothing_in_any_drawing_are_told() -> None:
    rules = (Rule(process="cut", layer="Plates"), Rule(process="score", layer="Foldd"))
    shapes: list[ProcessedShape] = []
    for layer in ("Plates", "Fold"):
        shapes += give_processes(drawing(shape(layer)), rules)[0]
    (finding,) = unused_rules(rules, shapes)
    assert finding.code == "parts/rule-unused"
    assert 'order rule 2 (layer "Foldd")' in finding.what
    assert "Fold, Plates" in finding.remedy


@given(st.lists(st.tuples(st.text(max_size=12), st.booleans(), st.booleans()), max_size=8))
def test_no_shape_is_lost_without_a_word(kinds: list[tuple[str, bool, bool]]) -> None:
    shapes = [
        shape(layer, Paint("#000000" if fill else None, "#000000" if line else None), str(n))
        for n, (layer, fill, line) in enumerate(kinds)
    ]
    given_, findings = give_processes(drawing(*shapes), ())
    left_out = sum(f.count for f in findings if f.code == "parts/invisible")
    assert len(given_) + left_out == len(shapes)


def disc(name: str, radius: float, fill: str, stroke: str | None = None) -> Shape:
    turns = np.arange(40) * np.pi / 20.0
    points = 25.0 + radius * np.column_stack([np.cos(turns), np.sin(turns)])
    return Shape(name, (Path(points, closed=True),), paint=Paint(fill=fill, stroke=stroke))


def test_white_over_what_is_engraved_is_told_with_its_place() -> None:
    page, dark, white = disc("page", 40, "#ffffff"), disc("dark", 12, "#000000"), "#ffffff"
    for over in (disc("over", 6, white), disc("over", 6, white, "#000000")):
        findings = {f.code: f for f in give_processes(drawing(page, dark, over), ())[1]}
        told = findings["parts/white-over-dark"]
        assert (told.shape, told.count) == ("over", 1)
        assert np.hypot((told.x_mm or 0.0) - 25.0, (told.y_mm or 0.0) - 25.0) < 6.0


def test_white_under_or_beside_what_is_engraved_hides_nothing() -> None:
    page, dark = disc("page", 40, "#ffffff"), disc("dark", 12, "#000000")
    assert codes(page, dark) == [("parts/invisible", 1)]
    apart = Shape("apart", (dark.paths[0].transformed(translation(24.0, 0.0)),), paint=page.paint)
    assert codes(dark, apart) == [("parts/invisible", 1)]
    as_score = Rule(process="score", fill="#000000")
    over = disc("over", 6, "#ffffff")
    findings = give_processes(drawing(dark, over), (as_score,))[1]
    assert [f.code for f in findings] == ["parts/invisible"]


def test_lines_as_wide_as_a_band_are_told() -> None:
    wide, fine = Paint(stroke="#000000", stroke_width_mm=6.0), Paint(stroke="#000000")
    assert codes(shape(paint=wide), shape(paint=fine)) == [("parts/wide-line", 1)]
    assert codes(shape("Guides", wide)) == []


def test_patterns_and_gradients_that_are_engraved_all_over_are_told() -> None:
    assert codes(shape(paint=Paint(fill="pattern"))) == [("parts/pattern-all-over", 1)]
    assert codes(shape("Cut", Paint(fill="pattern"))) == []
