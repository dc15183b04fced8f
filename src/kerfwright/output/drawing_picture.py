"""A drawing as it was understood: what the beam does to each line, parts, and numbered findings.

Processes are told by the kind of line, so that the picture says the same in black and white. It
is laid out for paper: a column as wide as A4 between its margins, in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath

import numpy as np

from kerfwright.drawing.model import Drawing, Shape
from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.geometry.affine import Affine
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import JOIN_MM
from kerfwright.output import path_data
from kerfwright.output.beam_lines import simplified
from kerfwright.output.finding_numbers import free_places, numbered
from kerfwright.output.part_names import LETTER_WIDTH, name_spot
from kerfwright.output.picture_list import finding_list
from kerfwright.output.text import printable, short_number, xml_text
from kerfwright.parts.model import Part, ProcessedShape
from kerfwright.parts.outlines import fill_is_meant
from kerfwright.toolpath import Process

WIDTH = 190.0
"""Width of the picture in mm of paper: A4 less margins of 10 mm."""

DRAWN_WIDTH, DRAWN_HEIGHT = 174.0, 176.0
"""Room for the drawing itself."""

PAD = 8.0
TOP = 15.0

SIGN = 2.3
"""Radius of a finding's sign."""

LINE_CHARACTERS = 3_000_000
"""Path data that a picture holds at most; beyond it lines are simplified."""

MOST_NAMES = 120
"""A picture of more parts than this names none: they are too small to be read."""

DOTS_PER_INCH = 200.0

LINE_STYLES = {
    Process.CUT: "cut",
    Process.SCORE: "score",
    Process.ENGRAVE: "edge",
    Process.GUIDE: "guide",
}

STYLE = (
    "svg{background:#fff}"
    "text{font-family:'Liberation Sans',Arial,Helvetica,'DejaVu Sans',sans-serif;fill:#1d1d1b}"
    ".page{fill:#fdfcf9;stroke:#b9b5aa;stroke-width:.2}"
    ".part{fill:#efe9da;fill-rule:evenodd}"
    ".line{fill:none;stroke:#1d1d1b;stroke-linecap:round;stroke-linejoin:round}"
    ".cut{stroke-width:.38}.score{stroke-width:.3;stroke-dasharray:1.7 .9}"
    ".guide{stroke:#6d6a62;stroke-width:.28;stroke-dasharray:0 .85}"
    ".left{stroke:#8b887f;stroke-width:.22;stroke-dasharray:2.2 .8 0 .8}"
    ".edge{stroke:#6d6a62;stroke-width:.12}"
    ".photo{stroke:#6d6a62;stroke-width:.2}"
    ".area{fill:#9d988a;stroke:none}"
    ".name{fill:#5b574d;text-anchor:middle;dominant-baseline:central}"
    ".soft{fill:#5b574d}.head{font-weight:bold}"
    ".to{fill:none;stroke:#1d1d1b;stroke-width:.18}.at{fill:#1d1d1b}"
    ".sign{stroke-width:.35}.number{text-anchor:middle;font-weight:bold;font-size:2.5px}"
    ".stop .sign{fill:#8f1d1d;stroke:#8f1d1d}.stop .number{fill:#fff}"
    ".warn .sign{fill:#fff;stroke:#1d1d1b;stroke-width:.5}"
    ".note .sign{fill:#fff;stroke:#8b887f;stroke-width:.25}"
)


@dataclass(frozen=True, eq=False, slots=True)
class _Place:
    """Where the drawing stands on the paper: ``to_paper`` takes its mm to mm from the top left."""

    to_paper: Affine
    scale: float
    width: float
    height: float

    def points(self, points: FloatArray) -> FloatArray:
        return self.to_paper.apply(points)


def drawing_picture(
    drawing: Drawing,
    shapes: Sequence[ProcessedShape],
    parts: Sequence[Part],
    findings: Sequence[Finding],
) -> str:
    """Picture of a drawing as SVG: lines by process, parts tinted and named, findings numbered.

    The numbers are those of :func:`kerfwright.output.finding_numbers.numbered`; the list of all
    findings stands below, also of those that have no place in the drawing.
    """
    place = _placed(drawing)
    body = [*_page(drawing, place), *_parts(parts, place)]
    lines, body_lines = _lines(drawing, shapes, place)
    body += body_lines
    names, name_points = _names(parts, place)
    body += names
    told = numbered(findings)
    body += _signs(told, place, np.vstack([*lines, name_points]))
    y = TOP + place.height + PAD
    key = _key(drawing, shapes, parts, y) + _scale_bar(place, y)
    rows, y = finding_list(told, WIDTH, y + 7.0, _sign)
    title = xml_text(drawing.name)
    about = (
        f"{short_number(drawing.width_mm)} × {short_number(drawing.height_mm)} mm, "
        f"{number_of(len(drawing.shapes), 'shape')}, {number_of(len(parts), 'part')}, "
        f"{number_of(len(findings), 'finding')}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{y:.1f}mm" '
        f'viewBox="0 0 {WIDTH:g} {y:.1f}" role="img">'
        f"<title>{title}: {xml_text(about)}</title><style>{STYLE}</style>"
        f'<rect width="{WIDTH:g}" height="{y:.1f}" fill="#fff"/>'
        f'<text x="{PAD:g}" y="7" font-size="4.4" font-weight="bold">{title}</text>'
        f'<text class="soft" x="{PAD:g}" y="11.6" font-size="3">{xml_text(about)}</text>'
        f"{''.join(body)}{key}{rows}</svg>\n"
    )


def write_picture(file: FilePath, picture: str) -> None:
    """Write a picture as SVG, or drawn as PNG, by the file's ending.

    Raises:
        KerfwrightError: the ending is another, or the file cannot be written.
    """
    ending = file.suffix.lower()
    if ending not in (".svg", ".png"):
        raise KerfwrightError(
            "order/picture-ending",
            file=str(file),
            thing=f'pictures are not written with the ending "{file.suffix}".',
            remedy="Give a file that ends in .svg or .png.",
        )
    try:
        if ending == ".svg":
            file.write_text(picture, encoding="utf-8")
        else:
            file.write_bytes(_png(picture))
    except OSError as error:
        raise KerfwrightError(
            "order/cannot-write",
            file=str(file),
            thing=f"the picture cannot be written here ({error.strerror}).",
            remedy="Give another place, one that is yours and has room.",
        ) from None


def _png(picture: str) -> bytes:
    import resvg_py  # noqa: PLC0415

    width_px = round(WIDTH / 25.4 * DOTS_PER_INCH)
    png = resvg_py.svg_to_bytes(svg_string=picture, background="#ffffff", width=width_px, dpi=96.0)
    return bytes(png)


def _placed(drawing: Drawing) -> _Place:
    """Fit the page, and whatever lies beside it, into the room for it."""
    corners = [np.array(_page_mm(drawing))]
    corners += [path.points for shape in drawing.shapes for path in shape.paths if len(path.points)]
    corners += [picture.corners_mm for picture in drawing.pictures]
    low = np.min([points.min(axis=0) for points in corners], axis=0)
    high = np.max([points.max(axis=0) for points in corners], axis=0)
    wide, high_mm = np.maximum(high - low, 1e-6)
    scale = min(DRAWN_WIDTH / wide, DRAWN_HEIGHT / high_mm)
    left = (WIDTH - scale * wide) / 2.0
    to_paper = Affine(
        a=scale, d=-scale, e=left - scale * low[0], f=TOP + scale * high_mm + scale * low[1]
    )
    return _Place(to_paper, float(scale), float(scale * wide), float(scale * high_mm))


def _page_mm(drawing: Drawing) -> tuple[FloatArray, FloatArray]:
    """Lower left and upper right corner of the page.

    A drawing without a page, as DXF has none, keeps its own places: its extent stands for one.
    """
    size = np.array([drawing.width_mm, drawing.height_mm])
    corners = [path.points for shape in drawing.shapes for path in shape.paths if len(path.points)]
    corners += [picture.corners_mm for picture in drawing.pictures]
    if corners:
        points = np.vstack(corners)
        low, high = points.min(axis=0), points.max(axis=0)
        if np.abs(high - low - size).max() <= JOIN_MM:
            return low, high
    return np.zeros(2), size


def _page(drawing: Drawing, place: _Place) -> Iterator[str]:
    low, high = _page_mm(drawing)
    (x0, y0), (x1, y1) = place.points(np.array([[low[0], high[1]], [high[0], low[1]]]))
    yield (
        f'<rect class="page" x="{x0:.2f}" y="{y0:.2f}" width="{x1 - x0:.2f}" '
        f'height="{y1 - y0:.2f}"/>'
    )


def _parts(parts: Sequence[Part], place: _Place) -> Iterator[str]:
    rings = [(0, place.points(path.line)) for p in parts for path in (p.outline, *p.holes)]
    data = "".join(_data(line, closed=True) for _, line in _simplified(rings))
    if data:
        yield f'<path class="part" d="{data}"/>'


def _lines(
    drawing: Drawing, shapes: Sequence[ProcessedShape], place: _Place
) -> tuple[list[FloatArray], list[str]]:
    """What is drawn: points on its lines, and the picture's elements."""
    processed = {id(one.shape) for one in shapes}
    styles: list[str] = ["left", "photo", *LINE_STYLES.values()]
    kinds: list[tuple[int, Shape]] = [
        (styles.index("left"), shape) for shape in drawing.shapes if id(shape) not in processed
    ]
    areas: list[str] = []
    for one in shapes:
        if one.process is Process.ENGRAVE:
            areas.append(_area(one.shape, place))
        kinds.append((styles.index(LINE_STYLES.get(one.process, "left")), one.shape))
    strings = [
        (style, place.points(path.line))
        for style, shape in kinds
        for path in shape.paths
        if len(path.points) > 1
    ]
    for picture in drawing.pictures:
        a, b, c, d = place.points(picture.corners_mm)
        strings += [(1, np.array([a, b, c, d, a])), (1, np.array([a, c])), (1, np.array([b, d]))]
    data = dict.fromkeys(styles, "")
    points: list[FloatArray] = [np.empty((0, 2))]
    for style, line in _simplified(strings):
        closed = len(line) > 3 and bool((line[0] == line[-1]).all())
        data[styles[style]] += _data(line, closed=closed)
        points.append(_along(line))
    drawn = [f'<path class="line {style}" d="{d}"/>' for style, d in data.items() if d]
    return points, [*areas, *drawn]


def _area(shape: Shape, place: _Place) -> str:
    rule = shape.paint.fill_rule if fill_is_meant(shape.paint) else "evenodd"
    rings = [
        (0, place.points(path.line))
        for path in shape.paths
        if len(path.points) > 2 and (path.closed or fill_is_meant(shape.paint))
    ]
    data = "".join(_data(line, closed=True) for _, line in _simplified(rings))
    return f'<path class="area" fill-rule="{rule}" d="{data}"/>' if data else ""


def _simplified(lines: list[tuple[int, FloatArray]]) -> Iterator[tuple[int, FloatArray]]:
    return simplified(lines, 0.01, LINE_CHARACTERS)


def _data(line: FloatArray, *, closed: bool) -> str:
    return path_data.subpath(line, closed=closed, decimals=2)


def _along(line: FloatArray) -> FloatArray:
    """Points on a line, close enough to see what a sign would cover."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    places = np.linspace(0.0, at[-1], max(2, math.ceil(at[-1] / SIGN)))
    return np.column_stack([np.interp(places, at, line[:, axis]) for axis in (0, 1)])


def _names(parts: Sequence[Part], place: _Place) -> tuple[list[str], FloatArray]:
    """Parts' names where they cover nothing, and points on them."""
    points = [np.empty((0, 2))]
    names: list[str] = []
    for part in parts if len(parts) <= MOST_NAMES else ():
        name = printable(part.name)
        spot = name_spot(part, name, 3.0 / place.scale, 1.6 / place.scale)
        if spot is None:
            continue
        x, y = place.points(np.array([spot[:2]]))[0]
        size = spot[2] * place.scale
        half = 0.5 * LETTER_WIDTH * size * len(name)
        points.append(np.column_stack([np.linspace(x - half, x + half, 9), np.full(9, y)]))
        names.append(
            f'<text class="name" x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}">'
            f"{xml_text(name)}</text>"
        )
    return names, np.vstack(points)


def _signs(told: Sequence[tuple[int, Finding]], place: _Place, lines: FloatArray) -> Iterator[str]:
    """Signs of the findings that have a place, each with a line to it."""
    shown = [(number, f) for number, f in told if f.x_mm is not None and f.y_mm is not None]
    if not shown:
        return
    anchors = place.points(np.array([(f.x_mm, f.y_mm) for _, f in shown], dtype=np.float64))
    size = WIDTH, TOP + place.height + PAD - 1.0
    spots = free_places(anchors, lines, SIGN, size)
    for (x, y), (at_x, at_y) in zip(spots, anchors, strict=True):
        yield f'<path class="to" d="M{at_x:.2f} {at_y:.2f}L{x:.2f} {y:.2f}"/>'
        yield f'<circle class="at" cx="{at_x:.2f}" cy="{at_y:.2f}" r=".45"/>'
    for (number, finding), (x, y) in zip(shown, spots, strict=True):
        yield _sign(number, finding.severity, float(x), float(y))


def _sign(number: int, severity: Severity, x: float, y: float) -> str:
    """A finding's number: an octagon for a stop, a square for a warning, a circle for a note."""
    if severity is Severity.NOTE:
        edge = f'<circle class="sign" cx="{x:.2f}" cy="{y:.2f}" r="{0.9 * SIGN:.2f}"/>'
    else:
        corners, turn = (8, math.pi / 8) if severity is Severity.STOP else (4, math.pi / 4)
        radius = SIGN if severity is Severity.STOP else 1.15 * SIGN
        angles = turn + 2.0 * np.pi * np.arange(corners) / corners
        points = np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])
        edge = f'<path class="sign" d="{_data(points, closed=True)}"/>'
    return (
        f'<g class="{severity.value}">{edge}'
        f'<text class="number" x="{x:.2f}" y="{y + 0.9:.2f}">{number}</text></g>'
    )


def _key(
    drawing: Drawing, shapes: Sequence[ProcessedShape], parts: Sequence[Part], y: float
) -> str:
    """What each kind of line means, only those that are there."""
    processes = {one.process for one in shapes}
    entries = [
        ("line cut", "cut", Process.CUT in processes),
        ("line score", "score", Process.SCORE in processes),
        ("area", "engrave", Process.ENGRAVE in processes),
        ("line guide", "guide, not burned", Process.GUIDE in processes),
        ("line photo", "picture", bool(drawing.pictures)),
        ("line left", "left out", len(drawing.shapes) > len(shapes)),
        ("part", "part", bool(parts)),
    ]
    out, x = [], PAD
    for style, words, there in entries:
        if not there:
            continue
        if style.startswith("line"):
            out.append(f'<path class="{style}" d="M{x:.1f} {y - 1:.1f}h9"/>')
        else:
            out.append(
                f'<rect class="{style}" x="{x:.1f}" y="{y - 2.4:.1f}" width="9" height="3"/>'
            )
        out.append(f'<text x="{x + 10.5:.1f}" y="{y:.1f}" font-size="2.9">{words}</text>')
        x += 14.0 + 1.6 * len(words)
    return "".join(out)


def _scale_bar(place: _Place, y: float) -> str:
    """A bar of a round length of the drawing, to see at a glance whether sizes can be right."""
    longest_mm = 34.0 / place.scale
    power = 10.0 ** math.floor(math.log10(longest_mm))
    bar_mm = max(step * power for step in (1, 2, 5) if step * power <= longest_mm)
    wide, right = bar_mm * place.scale, WIDTH - PAD
    return (
        f'<path class="to" d="M{right - wide:.2f} {y - 2:.1f}v2m0-1h{wide:.2f}m0-1v2"/>'
        f'<text class="soft" x="{right - wide - 1.5:.2f}" y="{y:.1f}" font-size="2.9" '
        f'text-anchor="end">{short_number(bar_mm, 6)} mm</text>'
    )
