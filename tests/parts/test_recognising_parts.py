"""What becomes of cut lines and marks of every kind, and what is said about them."""

from __future__ import annotations

import re
from pathlib import Path as FilePath

import numpy as np
import pytest
from shapely import Polygon

from kerfwright.drawing.model import Drawing, Paint, Shape
from kerfwright.findings import Finding, Severity, stops
from kerfwright.geometry.affine import translation
from kerfwright.geometry.paths import Path
from kerfwright.geometry.regions import FillRule
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.recognise import recognise_parts
from kerfwright.toolpath import Process

CUT, SCORE, ENGRAVE, GUIDE = Process.CUT, Process.SCORE, Process.ENGRAVE, Process.GUIDE
RINGS = Paint(fill="#000000", fill_rule="evenodd")
LINE, FILLED = Paint(stroke="#000000"), Paint(fill="#222222")


def path(*points: tuple[float, float], closed: bool = False) -> Path:
    return Path(np.array(points, dtype=float), closed)


def box(x0: float, y0: float, x1: float, y1: float) -> Path:
    return path((x0, y0), (x1, y0), (x1, y1), (x0, y1), closed=True)


def shape(name: str, process: Process, *paths: Path, paint: Paint = LINE) -> ProcessedShape:
    return ProcessedShape(Shape(name, paths, "layer", paint), process, "given")


def recognise(
    *shapes: ProcessedShape, name: str = "tag", blank: bool = False
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    return recognise_parts(shapes, Drawing("tag.svg", (), 200.0, 100.0), name=name, blank=blank)


def codes(findings: tuple[Finding, ...]) -> list[tuple[str, str, int]]:
    return [(finding.code, finding.severity.value, finding.count) for finding in findings]


PLATE = shape("plate", CUT, box(0, 0, 100, 60))
OTHER = shape("other", CUT, box(100, 0, 200, 60))


def test_a_part_with_everything_in_it() -> None:
    parts, findings = recognise(
        shape("letter", ENGRAVE, box(10, 10, 30, 30), box(15, 15, 25, 25), paint=RINGS),
        shape("fold", SCORE, path((50, 0), (50, 60))),
        shape("slit", CUT, path((60, 10), (60, 50))),
        shape("axis", GUIDE, path((0, 30), (100, 30))),
        shape("hole", CUT, box(80, 20, 90, 40)),
        PLATE,
    )
    (part,) = parts
    assert part.name == "tag"
    assert part.polygon.area == 100 * 60 - 10 * 20
    assert [mark.shape for mark in part.engraves] == ["letter"]
    assert part.engraves[0].area.area == pytest.approx(400 - 100)
    assert [mark.layer for mark in part.scores] == ["layer"]
    assert len(part.slits) == len(part.guides) == len(part.holes) == 1
    assert codes(findings) == [("parts/slit", "note", 1), ("parts/guides", "note", 1)]


def test_parts_are_numbered_as_one_reads() -> None:
    boxes = {
        "tag 1": box(0, 70, 20, 90),
        "tag 2": box(30, 75, 50, 99),
        "tag 3": box(60, 68, 80, 88),
        "tag 4": box(5, 30, 25, 60),
        "tag 5": box(70, 40, 90, 50),
        "tag 6": box(0, 0, 200, 10),
    }
    order = ["tag 5", "tag 2", "tag 6", "tag 1", "tag 4", "tag 3"]
    parts, _ = recognise(*(shape(name, CUT, boxes[name]) for name in order))
    for part in parts:
        assert Polygon(part.outline.points).equals(Polygon(boxes[part.name].points))


def test_points_drawn_twice_are_dropped() -> None:
    points = ((0, 0), (0, 0), (50, 0), (50, 50), (50, 50.0001), (0, 0.0002))
    (part,), _ = recognise(shape("a", CUT, path(*points, closed=True)))
    assert len(part.outline.points) == 3


class TestOpenLines:
    def test_an_open_line_where_a_part_is_expected_stops(self) -> None:
        parts, findings = recognise(
            shape("edge", CUT, path((0, 0), (100, 0), (100, 60), (0, 60), (0, 0.8)))
        )
        assert parts == ()
        assert codes(findings) == [("parts/open-outline", "stop", 1)]
        for word in ('"edge"', "x 0.00, y 0.00", "x 0.00, y 0.80", "0.80 mm apart"):
            assert word in findings[0].what
        assert "gap_mm" in findings[0].remedy
        assert "0.80" in findings[0].remedy

    def test_the_nearest_end_of_another_line_is_named(self) -> None:
        _, findings = recognise(
            shape("left", CUT, path((50, 0), (0, 0), (0, 60), (50, 60))),
            shape("right", CUT, path((51.5, 0), (100, 0), (100, 60), (53, 60))),
        )
        assert [finding.shape for finding in stops(findings)] == ["left", "right"]
        assert 'an end of "right" is 1.50 mm away' in findings[0].what

    def test_a_wide_gap_does_not_ask_for_a_larger_tolerance(self) -> None:
        _, findings = recognise(shape("edge", CUT, path((0, 0), (100, 0), (100, 60))), PLATE)
        assert "gap_mm" not in findings[0].remedy

    def test_many_open_lines_are_told_as_few(self) -> None:
        lines = [shape(f"l{n}", CUT, path((n, 0), (n, 5))) for n in range(100)]
        _, findings = recognise(*lines)
        assert sum(finding.count for finding in findings) == 100
        assert len(findings) < 20

    def test_a_line_beside_the_part_stops_and_the_part_is_still_shown(self) -> None:
        parts, findings = recognise(PLATE, shape("l", CUT, path((120, 0), (150, 0))))
        assert len(parts) == 1
        assert [f.code for f in stops(findings)] == ["parts/open-outline"]

    def test_a_slit_that_nearly_closes_may_be_a_hole(self) -> None:
        nearly = path((10, 10), (30, 10), (30, 30), (10, 30), (10, 11))
        parts, findings = recognise(PLATE, shape("s", CUT, nearly))
        assert len(parts[0].slits) == 1
        assert ("parts/slit-nearly-closed", "warn", 1) in codes(findings)

    def test_a_winding_slit_is_not_nearly_closed(self) -> None:
        zigzag = path(*((10 + 4 * n, 10 + 40 * (n % 2)) for n in range(16)))
        _, findings = recognise(PLATE, shape("s", CUT, zigzag))
        assert codes(findings) == [("parts/slit", "note", 1)]

    def test_a_short_straight_slit_is_only_a_slit(self) -> None:
        _, findings = recognise(PLATE, shape("s", CUT, path((10, 10), (11.5, 10))))
        assert codes(findings) == [("parts/slit", "note", 1)]

    def test_a_slit_over_the_edge_is_cut_off_there(self) -> None:
        parts, findings = recognise(PLATE, shape("s", CUT, path((50, 30), (50, 67.5))))
        assert parts[0].slits[0].length_mm == pytest.approx(30)
        assert codes(findings)[0] == ("parts/slit-over-edge", "warn", 1)
        assert "7.50 mm" in findings[0].what

    def test_slits_from_edge_to_edge_divide_the_part(self) -> None:
        _, findings = recognise(
            PLATE,
            shape("a", CUT, path((50, 0), (50, 30))),
            shape("b", CUT, path((50, 30.02), (50, 60))),
        )
        assert ("parts/slit-divides", "warn", 1) in codes(findings)
        _, findings = recognise(PLATE, shape("a", CUT, path((50, 0), (50, 55))))
        assert codes(findings) == [("parts/slit", "note", 1)]

    def test_a_line_along_the_edge_is_not_cut_again(self) -> None:
        parts, findings = recognise(PLATE, shape("s", CUT, path((10, 0.01), (90, 0.01))))
        assert parts[0].slits == ()
        assert codes(findings) == [("parts/slit-on-edge", "warn", 1)]


class TestOutlines:
    def test_nothing_to_cut_stops(self) -> None:
        parts, findings = recognise(shape("e", ENGRAVE, box(0, 0, 5, 5), paint=FILLED))
        assert parts == ()
        assert codes(findings) == [("parts/no-outline", "stop", 1)]
        assert "blank = true" in findings[0].remedy

    def test_crossing_outlines_stop_at_the_crossing(self) -> None:
        _, findings = recognise(PLATE, shape("b", CUT, box(90, 20, 130, 40)))
        (stop,) = stops(findings)
        assert (stop.code, stop.count) == ("parts/outlines-cross", 2)
        assert (stop.x_mm, stop.y_mm) == (100.0, 20.0)
        assert "plate" in stop.what

    def test_an_outline_that_crosses_itself_stops_at_the_place(self) -> None:
        eight = path((0, 0), (40, 40), (40, 0), (0, 40), closed=True)
        _, findings = recognise(shape("eight", CUT, eight))
        (stop,) = stops(findings)
        assert stop.code == "parts/outline-crosses-itself"
        assert (stop.x_mm, stop.y_mm) == (20.0, 20.0)

    def test_a_spike_is_taken_off_and_told(self) -> None:
        spiked = path((0, 0), (40, 0), (40, 20), (70, 20), (40, 20), (40, 40), (0, 40), closed=True)
        (part,), findings = recognise(shape("a", CUT, spiked))
        assert part.polygon.area == pytest.approx(1600)
        assert codes(findings) == [("parts/outline-mended", "warn", 1)]
        assert "60.00 mm" in findings[0].what

    def test_an_outline_nearly_on_another_is_cut_once(self) -> None:
        parts, findings = recognise(PLATE, shape("again", CUT, box(0.01, 0, 100, 60.01)))
        assert len(parts) == 1
        assert parts[0].holes == ()
        assert codes(findings) == [("parts/outline-twice", "warn", 1)]
        assert findings[0].shape == "again"

    def test_stacked_copies_of_a_part_with_a_hole_are_one_part(self) -> None:
        copy = [shape(f"{n}", CUT, box(0, 0, 40, 40), box(10, 10, 20, 20)) for n in range(3)]
        (part,), findings = recognise(*copy)
        assert part.polygon.area == 1500
        assert codes(findings) == [("parts/outline-twice", "warn", 4)]

    def test_a_hole_against_the_edge_becomes_a_notch(self) -> None:
        (part,), findings = recognise(PLATE, shape("notch", CUT, box(40, 40, 60, 60)))
        assert part.holes == ()
        assert part.polygon.is_valid
        assert part.polygon.area == pytest.approx(6000 - 400)
        assert codes(findings) == [("parts/hole-on-edge", "warn", 1)]

    def test_holes_that_part_the_material_make_several_parts(self) -> None:
        parts, findings = recognise(PLATE, shape("gap", CUT, box(40, 0, 60, 60)))
        assert [part.polygon.area for part in parts] == pytest.approx([2400, 2400])
        assert "2 parts" in findings[0].what

    def test_holes_side_by_side_become_one(self) -> None:
        (part,), _ = recognise(
            PLATE, shape("a", CUT, box(10, 10, 20, 20)), shape("b", CUT, box(20, 10, 30, 25))
        )
        assert len(part.holes) == 1
        assert part.polygon.is_valid
        assert part.polygon.area == pytest.approx(6000 - 250)

    def test_tiny_parts_and_points_are_told(self) -> None:
        _, findings = recognise(
            PLATE,
            shape("crumb", CUT, box(150, 10, 150.5, 11)),
            shape("sliver", CUT, box(150, 20, 190, 20.3)),
            shape("dot", CUT, path((5, 5), (5, 5))),
        )
        assert codes(findings) == [("parts/no-length", "warn", 1), ("parts/tiny-part", "warn", 2)]

    @pytest.mark.parametrize(
        ("paths", "rule", "area", "told"),
        [
            ((box(0, 0, 40, 40), box(10, 10, 20, 20)), "evenodd", 1500, []),
            ((box(0, 0, 40, 40), box(10, 10, 20, 20).reversed()), "nonzero", 1500, []),
            ((box(0, 0, 40, 40), box(10, 10, 20, 20)), "nonzero", 1600, ["parts/fill-united"]),
            ((box(0, 0, 40, 40), box(30, 30, 60, 60)), "nonzero", 2400, ["parts/fill-united"]),
            ((box(0, 0, 40, 40), box(40, 0, 60, 40)), "nonzero", 2400, []),
            (
                (path((0, 0), (40, 0), (40, 40), (0, 40)),),
                "nonzero",
                1600,
                ["parts/closed-by-fill"],
            ),
        ],
    )
    def test_a_filled_shape_is_cut_along_the_edge_of_its_area(
        self, paths: tuple[Path, ...], rule: FillRule, area: float, told: list[str]
    ) -> None:
        """Fill rules and closing as W3C SVG 1.1 section 11.3."""
        parts, findings = recognise(
            shape("s", CUT, *paths, paint=Paint(fill="#000000", fill_rule=rule))
        )
        assert sum(part.polygon.area for part in parts) == pytest.approx(area)
        assert [finding.code for finding in findings] == told


class TestMarks:
    def test_marks_go_to_the_part_in_the_hole_and_not_to_the_one_around(self) -> None:
        parts, findings = recognise(
            PLATE,
            shape("hole", CUT, box(20, 10, 80, 50)),
            shape("inner", CUT, box(30, 20, 70, 40)),
            shape("on inner", ENGRAVE, box(40, 25, 50, 35), paint=FILLED),
            shape("on plate", SCORE, path((5, 5), (15, 55))),
        )
        by_size = sorted(parts, key=lambda part: part.polygon.area)
        assert [mark.shape for mark in by_size[0].engraves] == ["on inner"]
        assert [mark.shape for mark in by_size[1].scores] == ["on plate"]
        assert findings == ()

    def test_marks_in_a_hole_or_beside_every_part_stop(self) -> None:
        _, findings = recognise(
            PLATE,
            shape("hole", CUT, box(20, 10, 80, 50)),
            shape("in hole", ENGRAVE, box(40, 25, 50, 35), paint=FILLED),
            shape("beside", SCORE, path((150, 5), (160, 5))),
        )
        assert codes(findings) == [("parts/mark-outside-part", "stop", 2)]
        assert {"in hole", "beside"} == set(findings[0].shape.split(", "))
        assert "blank = true" in findings[0].remedy

    @pytest.mark.parametrize(
        ("mark", "kept", "words"),
        [
            (shape("m", ENGRAVE, box(90, 10, 105, 20), paint=FILLED), 100.0, "50.00 mm² (33.3 %)"),
            (shape("m", SCORE, path((90, 10), (105, 10))), 10.0, "5.00 mm (33.3 %)"),
        ],
    )
    def test_a_mark_over_the_edge_is_cut_off_there(
        self, mark: ProcessedShape, kept: float, words: str
    ) -> None:
        (part,), findings = recognise(PLATE, mark)
        burned = [m.area.area for m in part.engraves]
        burned += [line.length_mm for m in part.scores for line in m.paths]
        assert burned == pytest.approx([kept])
        assert codes(findings) == [("parts/mark-over-edge", "warn", 1)]
        assert words in findings[0].what
        assert findings[0].x_mm is not None
        assert findings[0].x_mm >= 100.0

    def test_a_mark_that_ends_on_the_edge_up_to_rounding_is_left_alone(self) -> None:
        lines = path((50, -1e-9), (50, 60 + 1e-9)), path((0.004, 0), (0.004, 60))
        area = box(0, 0, 100.00001, 60)
        (part,), findings = recognise(
            PLATE, shape("l", SCORE, *lines), shape("a", ENGRAVE, area, paint=FILLED)
        )
        assert findings == ()
        assert [line.length_mm for line in part.scores[0].paths] == [p.length_mm for p in lines]
        assert part.engraves[0].area.area == pytest.approx(area.signed_area_mm2, rel=1e-9)

    def test_a_mark_over_several_parts_is_shared_out(self) -> None:
        parts, findings = recognise(
            PLATE,
            OTHER,
            shape("band", ENGRAVE, box(50, 10, 120, 20), paint=FILLED),
            shape("line", SCORE, path((50, 40), (120, 40))),
        )
        assert [part.engraves[0].area.area for part in parts] == pytest.approx([500, 200])
        assert [part.scores[0].paths[0].length_mm for part in parts] == pytest.approx([50, 20])
        assert codes(findings) == [("parts/mark-shared-out", "warn", 2)]

    def test_words_drawn_as_one_shape_are_split_among_their_parts(self) -> None:
        parts, findings = recognise(
            PLATE, OTHER, shape("text", ENGRAVE, box(5, 5, 9, 9), box(105, 5, 109, 9), paint=FILLED)
        )
        assert [part.engraves[0].area.area for part in parts] == pytest.approx([16, 16])
        assert findings == ()

    def test_engraving_by_lines_fills_every_second_ring(self) -> None:
        (part,), findings = recognise(
            PLATE, shape("o", ENGRAVE, box(10, 10, 30, 30), box(15, 15, 25, 25))
        )
        assert part.engraves[0].area.area == pytest.approx(300)
        assert codes(findings) == [("parts/area-from-lines", "note", 1)]

    def test_engraving_an_open_line_stops(self) -> None:
        _, findings = recognise(PLATE, shape("o", ENGRAVE, path((10, 10), (20, 20))))
        assert codes(findings) == [("parts/engrave-open-line", "stop", 1)]
        assert '"score"' in findings[0].remedy

    def test_engraving_without_area_is_left_out(self) -> None:
        flat = path((10, 10), (20, 20), (30, 30), closed=True)
        _, findings = recognise(PLATE, shape("o", ENGRAVE, flat, paint=FILLED))
        assert codes(findings) == [("parts/no-area", "warn", 1)]

    def test_guides_outside_every_part_are_counted_too(self) -> None:
        (part,), findings = recognise(
            PLATE, shape("g", GUIDE, path((5, 5), (9, 5)), path((150, 5), (190, 5)))
        )
        assert len(part.guides) == 1
        assert codes(findings) == [("parts/guides", "note", 2)]
        assert "1 of them" in findings[0].what

    def test_one_guide_is_told_as_one(self) -> None:
        _, (inside,) = recognise(PLATE, shape("g", GUIDE, path((5, 5), (9, 5))))
        assert "1 line is a guide and not burned; it lies inside a part" in inside.what
        _, (outside,) = recognise(PLATE, shape("g", GUIDE, path((150, 5), (190, 5))))
        assert "it lies in no part" in outside.what


class TestBlanks:
    def test_a_blank_is_the_page(self) -> None:
        (part,), findings = recognise(
            shape("e", ENGRAVE, box(10, 10, 20, 20), paint=FILLED),
            shape("s", SCORE, path((0, 0), (200, 100))),
            blank=True,
        )
        assert part.blank
        assert part.polygon.bounds == (0, 0, 200, 100)
        assert (len(part.engraves), len(part.scores), findings) == (1, 1, ())

    def test_a_blank_whose_marks_leave_the_page_is_their_box(self) -> None:
        (part,), _ = recognise(shape("s", SCORE, path((-5, 3), (40, 70))), blank=True)
        assert part.polygon.bounds == (-5, 3, 40, 70)

    def test_a_blank_has_an_area_even_for_a_single_straight_line(self) -> None:
        (part,), _ = recognise(shape("s", SCORE, path((-5, 3), (40, 3))), blank=True)
        assert part.polygon.area == pytest.approx(45.0)

    def test_cutting_a_blank_stops(self) -> None:
        _, findings = recognise(PLATE, shape("s", SCORE, path((0, 0), (9, 9))), blank=True)
        assert codes(findings) == [("parts/blank-with-cuts", "stop", 1)]

    def test_a_blank_without_marks_stops(self) -> None:
        parts, findings = recognise(shape("g", GUIDE, path((0, 0), (9, 9))), blank=True)
        assert parts == ()
        assert ("parts/no-marks", "stop", 1) in codes(findings)


def test_moving_the_drawing_moves_everything_and_changes_nothing() -> None:
    shapes = (
        PLATE,
        OTHER,
        shape("e", ENGRAVE, box(90, 10, 120, 20), paint=FILLED),
        shape("h", CUT, box(20, 20, 30, 30)),
    )
    move = translation(1234.5, -77.25)
    moved = tuple(
        ProcessedShape(
            Shape(
                s.shape.name, tuple(p.transformed(move) for p in s.shape.paths), "", s.shape.paint
            ),
            s.process,
            s.rule,
        )
        for s in shapes
    )
    parts, findings = recognise(*shapes)
    moved_parts, moved_findings = recognise(*moved)
    assert codes(findings) == codes(moved_findings)
    for part, other in zip(parts, moved_parts, strict=True):
        assert part.name == other.name
        assert np.allclose(part.transformed(move).outline.points, other.outline.points)
        assert part.engraves[0].area.area == pytest.approx(other.engraves[0].area.area)


def test_no_finding_stops_without_a_remedy() -> None:
    _, findings = recognise(
        PLATE,
        shape("b", CUT, box(90, 20, 130, 40)),
        shape("l", CUT, path((150, 80), (160, 80))),
        shape("m", SCORE, path((150, 90), (160, 90))),
        shape("o", ENGRAVE, path((10, 10), (20, 20))),
        shape("8", CUT, path((150, 70), (160, 75), (160, 70), (150, 75), closed=True)),
    )
    assert len(stops(findings)) == 5
    for finding in findings:
        assert finding.drawing == "tag.svg"
        assert finding.remedy or finding.severity is not Severity.STOP


def test_every_code_is_explained_on_the_help_page_and_no_other() -> None:
    root = FilePath(__file__).parents[2]
    sources = (root / "src" / "kerfwright" / "parts").glob("*.py")
    used = {
        slug
        for source in sources
        for slug in re.findall(r'"parts/([a-z-]+)"', source.read_text(encoding="utf-8"))
    }
    page = (root / "docs" / "help" / "parts.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^## ([a-z-]+)$", page, re.MULTILINE)) == used
