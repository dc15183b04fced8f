"""What is not read of a DXF is counted and named; live text stops the work."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from kerfwright.drawing.dxf import findings as dxf_findings
from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.drawing.model import Drawing
from kerfwright.drawing.tally import SINGLY
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Severity

Draw = Callable[[Modelspace, Document], object]

HELP = Path(__file__).parents[2] / "docs" / "help" / "drawing.md"


def drawn(folder: Path, draw: Draw) -> Drawing:
    document = new("R2010", setup=["linetypes"])
    document.units = 4
    document.modelspace().add_line((0, 0), (10, 0))
    draw(document.modelspace(), document)
    document.saveas(folder / "drawing.dxf")
    return read_dxf(folder / "drawing.dxf")


def add_text(model: Modelspace, _: Document) -> None:
    model.add_text("Hull 7", dxfattribs={"insert": (30, 40)})


def add_mtext(model: Modelspace, _: Document) -> None:
    model.add_mtext("{\\fserif;Hull} 7", dxfattribs={"insert": (30, 40)})


def add_attribute(model: Modelspace, document: Document) -> None:
    document.blocks.new("sign").add_attdef("NO", (0, 0), "ask")
    insert = model.add_blockref("sign", (0, 0))
    insert.add_attrib("NO", "Hull 7", (30, 40))


def add_text_in_block(model: Modelspace, document: Document) -> None:
    document.blocks.new("sign").add_text("Hull 7", dxfattribs={"insert": (3, 4)})
    model.add_blockref("sign", (0, 0), dxfattribs={"xscale": 10, "yscale": 10})


@pytest.mark.parametrize("draw", [add_text, add_mtext, add_attribute, add_text_in_block])
def test_text_stops_and_its_words_and_place_are_named(tmp_path: Path, draw: Draw) -> None:
    drawing = drawn(tmp_path, draw)
    assert len(drawing.shapes) == 1
    (finding,) = drawing.findings
    assert (finding.severity, finding.code) == (Severity.STOP, "drawing/text")
    assert '"Hull 7"' in finding.what
    assert (finding.x_mm, finding.y_mm) == pytest.approx((30, 40))
    assert "outlines" in finding.remedy


def test_a_constant_text_of_a_block_stops_too(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        document.blocks.new("sign").add_attdef("NO", (1, 2), "fixed").is_const = True
        model.add_blockref("sign", (0, 0))

    assert [f.code for f in drawn(tmp_path, draw).findings] == ["drawing/text"]


def test_a_kind_that_nobody_knows_is_counted_by_its_name(tmp_path: Path) -> None:
    path = tmp_path / "unknown.dxf"
    line = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n5\n21\n0\n"
    rune = "0\nRUNE\n5\nB\n8\nCut\n10\n0\n20\n0\n"
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{line}{rune}0\nENDSEC\n0\nEOF\n")
    drawing = read_dxf(path, unit_mm=1.0)
    assert len(drawing.shapes) == 1
    (finding,) = drawing.findings
    assert finding.code == "drawing/dxf-left-out"
    assert "RUNE" in finding.what


def test_many_texts_are_told_together(tmp_path: Path) -> None:
    def draw(model: Modelspace, _: Document) -> None:
        for n in range(100):
            model.add_text(f"row {n}")

    findings = drawn(tmp_path, draw).findings
    assert len(findings) == SINGLY + 1
    assert sum(finding.count for finding in findings) == 100


def test_stops_come_first(tmp_path: Path) -> None:
    def draw(model: Modelspace, _: Document) -> None:
        model.add_point((0, 0))
        model.add_text("late")

    findings = drawn(tmp_path, draw).findings
    assert [f.severity for f in findings] == [Severity.STOP, Severity.NOTE]


def test_kinds_that_are_not_read_are_counted_by_kind(tmp_path: Path) -> None:
    def draw(model: Modelspace, document: Document) -> None:
        model.add_image(document.add_image_def("photo.png", (8, 8)), (0, 0), (8, 8))
        model.add_3dface([(0, 0), (1, 0), (1, 1)])
        model.add_polymesh((3, 3))
        model.add_region().sat = ["400 0 1 0"]

    (finding,) = drawn(tmp_path, draw).findings
    assert (finding.severity, finding.code, finding.count) == (
        Severity.WARN,
        "drawing/dxf-left-out",
        4,
    )
    for named in ("IMAGE", "3DFACE", "mesh", "REGION"):
        assert named in finding.what


def test_what_tells_about_the_work_is_not_burned_and_counted(tmp_path: Path) -> None:
    def draw(model: Modelspace, _: Document) -> None:
        for y in (5, 6):
            model.add_linear_dim(base=(0, y), p1=(0, 0), p2=(10, 0)).render()
        model.add_leader([(0, 0), (5, 5), (9, 5)])

    drawing = drawn(tmp_path, draw)
    assert len(drawing.shapes) == 1
    (finding,) = drawing.findings
    assert (finding.severity, finding.code, finding.count) == (
        Severity.NOTE,
        "drawing/dxf-dimensions",
        3,
    )
    assert "DIMENSION 2 times" in finding.what
    assert "LEADER" in finding.what


@pytest.mark.parametrize(
    ("slug", "severity", "count", "draw"),
    [
        ("dxf-points", Severity.NOTE, 2, lambda m, _: [m.add_point((x, 0)) for x in (1, 2)]),
        (
            "no-length",
            Severity.NOTE,
            4,
            lambda m, _: (
                m.add_line((1, 1), (1, 1)),
                m.add_circle((1, 1), 0),
                m.add_lwpolyline([(3, 3)]),
                m.add_arc((1, 1), 5, 30, 30),
            ),
        ),
        (
            "dashes",
            Severity.WARN,
            1,
            lambda m, _: m.add_line((0, 0), (1, 0), dxfattribs={"linetype": "DASHED"}),
        ),
        (
            "dxf-wide-line",
            Severity.NOTE,
            1,
            lambda m, _: m.add_lwpolyline([(0, 0, 2, 2), (9, 0, 2, 2)]),
        ),
        (
            "dxf-cover",
            Severity.WARN,
            1,
            lambda m, _: m.add_wipeout([(0, 0), (5, 5)]),
        ),
        (
            "dxf-endless-line",
            Severity.NOTE,
            2,
            lambda m, _: (m.add_xline((0, 0), (1, 1)), m.add_ray((0, 0), (1, 1))),
        ),
        (
            "dxf-hatch-gap",
            Severity.WARN,
            1,
            lambda m, _: gappy(m),
        ),
        ("dxf-paper-space", Severity.NOTE, 1, lambda _, d: d.layout("Layout1").add_text("A4")),
        (
            "dxf-pattern",
            Severity.NOTE,
            1,
            lambda m, _: pattern(m),
        ),
    ],
)
def test_what_is_read_otherwise_than_it_looks(
    tmp_path: Path, slug: str, severity: Severity, count: int, draw: Draw
) -> None:
    (finding,) = drawn(tmp_path, draw).findings
    assert (finding.code, finding.severity, finding.count) == (f"drawing/{slug}", severity, count)


def gappy(model: Modelspace) -> None:
    edges = model.add_hatch().paths.add_edge_path()
    edges.add_line((0, 0), (10, 0))
    edges.add_line((10, 0.4), (10, 10))
    edges.add_line((10, 10), (0, 0))


def pattern(model: Modelspace) -> None:
    hatch = model.add_hatch()
    hatch.set_pattern_fill("ANSI31")
    hatch.paths.add_polyline_path([(0, 0), (10, 0), (10, 10)])


def test_a_drawing_of_text_alone_is_empty_and_says_so(tmp_path: Path) -> None:
    document = new("R2010")
    document.units = 4
    document.modelspace().add_text("Hello")
    document.saveas(tmp_path / "text.dxf")
    with pytest.raises(KerfwrightError) as refused:
        read_dxf(tmp_path / "text.dxf")
    assert refused.value.code == "drawing/empty"
    assert "Hello" in refused.value.thing


def test_every_code_has_its_heading_on_the_help_page() -> None:
    headings = {line[3:] for line in HELP.read_text("utf-8").splitlines() if line[:3] == "## "}
    assert set(dxf_findings.KINDS) <= headings
