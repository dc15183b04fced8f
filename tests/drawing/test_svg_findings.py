"""Nothing in an SVG is left out silently: it is counted, and the remedy named."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from svg_bodies import ROOT, read

from kerfwright.drawing.lettering.findings import TEXT_KINDS
from kerfwright.drawing.svg.findings import KINDS
from kerfwright.drawing.svg.read import read_svg
from kerfwright.findings import Finding, Severity, stops

SQUARE = '<rect id="square" x="10" y="10" width="20" height="20" stroke="red"/>'


def findings(tmp_path: Path, body: str) -> dict[str, Finding]:
    return {f.code.partition("/")[2]: f for f in read(tmp_path, SQUARE + body).findings}


def test_a_clean_drawing_has_no_findings(tmp_path: Path) -> None:
    body = '<title>Clean</title><desc>x</desc><metadata><x xmlns="urn:y"/></metadata>'
    assert findings(tmp_path, body) == {}


CLIP = '<clipPath id="c"><rect width="5" height="5"/></clipPath>'

CASES = {
    "text": ('<text x="1" y="2">Hi</text>', Severity.STOP, 1),
    "image": ('<image href="a.png"/><image href="b.png"/>', Severity.WARN, 2),
    "clip-path": ('<g clip-path="inset(5px)"><rect width="1" height="1"/></g>', Severity.WARN, 1),
    "clipped": (
        f'{CLIP}<rect clip-path="url(#c)" width="9" height="9"/>'
        '<rect clip-path="url(#c)" width="8" height="9"/>',
        Severity.NOTE,
        2,
    ),
    "clipped-away": (
        f'{CLIP}<rect clip-path="url(#c)" x="6" width="9" height="9"/>',
        Severity.NOTE,
        1,
    ),
    "mask": (
        '<mask id="m"><rect width="9" height="9" fill="grey"/></mask>'
        '<rect width="1" height="1" style="mask:url(#m)"/>',
        Severity.WARN,
        1,
    ),
    "filter": ('<rect width="1" height="1" filter="url(#f)"/>', Severity.WARN, 1),
    "marker": (
        '<marker id="m"><path d="M0 0H2V2z"/></marker>'
        '<path d="M9 9H19V19" stroke="red" style="marker:url(#m)"/>',
        Severity.NOTE,
        3,
    ),
    "dashes": (
        '<g stroke-dasharray="1 2" stroke="red" fill="none"><path d="M0 0H9"/><path d="M0 0V9"/>'
        "</g>",
        Severity.NOTE,
        2,
    ),
    "dashes-unbroken": (
        '<path stroke-dasharray="1 2" stroke="red" d="M0 0H9V9z"/>',
        Severity.WARN,
        1,
    ),
    "bad-outline": ('<path d="M0 0 H 9 V 9 L 1" stroke="red"/>', Severity.WARN, 1),
    "missing-reference": ('<use href="#nowhere"/>', Severity.WARN, 1),
    "external-reference": ('<use xlink:href="other.svg#a"/>', Severity.WARN, 1),
    "copy-of-itself": (
        '<g id="a"><use href="#b"/></g><defs><g id="b"><use href="#a"/></g></defs>',
        Severity.WARN,
        1,
    ),
    "style-not-understood": ("<style>path::: { fill: red }</style>", Severity.WARN, 1),
    "unknown-colour": ('<g fill="rougeish"/>', Severity.WARN, 1),
    "unknown-element": ("<foreignObject/><video/>", Severity.WARN, 2),
    "animation": ('<rect width="9" height="9"><set/></rect><script/>', Severity.NOTE, 1),
    "outside-viewport": (
        '<svg width="9" height="9"><rect width="10" height="9"/></svg>',
        Severity.NOTE,
        1,
    ),
    "outside-page": ('<rect x="-1" width="9" height="9"/>', Severity.NOTE, 1),
    "no-length": (
        '<path d="M 5 5 Z"/><rect width="0" height="5"/><polyline points=""/>'
        '<line x1="5" x2="5" y1="1" y2="1" stroke="red"/><path d="M 0 0 L 9 9"/>'
        '<g transform="scale(0)"><rect width="5" height="5"/></g><path d="M 1 1 H 9 V 9 Z m 1 1"/>',
        Severity.NOTE,
        6,
    ),
    "unpainted": ('<g fill="none"><rect width="9" height="9"/></g>', Severity.NOTE, 1),
    "hidden": (
        '<g display="none"><rect/><g><text>x</text></g></g><path visibility="hidden" d="M0 0"/>',
        Severity.NOTE,
        3,
    ),
}


@pytest.mark.parametrize("slug", CASES)
def test_counts_what_is_not_read_as_drawn(tmp_path: Path, slug: str) -> None:
    body, severity, count = CASES[slug]
    found = findings(tmp_path, body)
    assert set(found) == {slug}
    assert (found[slug].severity, found[slug].count) == (severity, count)
    assert found[slug].remedy


def test_every_kind_of_finding_is_shown_here() -> None:
    elsewhere = {"assumed-scale", "clipped-edge", "text-too-long", *(set(TEXT_KINDS) - set(CASES))}
    assert set(CASES) | elsewhere == set(KINDS)


def test_text_stops_the_work_and_is_named_with_its_place(tmp_path: Path) -> None:
    body = (
        '<g transform="translate(10 20)"><text id="name" style="font-size:5px">\n'
        '<tspan x="3" y="4">Eider</tspan><tspan>wick</tspan></text></g>'
    )
    (stop,) = stops(read(tmp_path, SQUARE + body).findings)
    assert "Eiderwick" in stop.what
    assert "outlines" in stop.remedy
    assert stop.shape == "name"
    assert (stop.x_mm, stop.y_mm) == pytest.approx((13.0, 76.0))


def test_many_texts_do_not_drown_everything_else(tmp_path: Path) -> None:
    found = stops(read(tmp_path, SQUARE + "<text>x</text>" * 100).findings)
    assert len(found) == 21
    assert sum(finding.count for finding in found) == 100


def test_damage_keeps_what_stands_before_it_and_names_the_element(tmp_path: Path) -> None:
    drawing = read(tmp_path, '<path id="wing" stroke="red" d="M 0 0 H 50 V 50 L 10 90 30 Z"/>')
    assert drawing.shapes[0].paths[0].points.shape == (4, 2)
    assert "wing" in drawing.findings[0].what


def test_overflow_visible_shows_what_lies_beyond_the_frame(tmp_path: Path) -> None:
    body = '<svg width="9" height="9" overflow="visible"><rect width="10" height="9"/></svg>'
    assert findings(tmp_path, body) == {}


def test_a_packed_file_is_read_like_a_plain_one(tmp_path: Path) -> None:
    file = tmp_path / "drawing.svgz"
    file.write_bytes(gzip.compress(f"{ROOT}{SQUARE}</svg>".encode()))
    assert [shape.name for shape in read_svg(file).shapes] == ["square"]


def test_every_code_has_its_heading_on_the_help_page() -> None:
    source = Path(__file__).parents[2] / "src" / "kerfwright" / "drawing"
    text = "".join(file.read_text(encoding="utf-8") for file in (source / "svg").glob("*.py"))
    help_page = (source.parents[2] / "docs" / "help" / "drawing.md").read_text(encoding="utf-8")
    errors = {part.split('"')[0] for part in text.split('"drawing/')[1:]} - {"{slug}"}
    headings = {line[3:].strip() for line in help_page.splitlines() if line.startswith("## ")}
    assert len(errors) > 10
    wanted = {slug for slug in errors if "{" not in slug} | set(KINDS)
    assert wanted | {"file-missing", "not-a-file", "unreadable"} <= headings
