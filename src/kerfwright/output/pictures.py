"""Pictures of a planned sheet as SVG: where everything lies, and the beam's way over it.

They stand inside a page or alone, and follow its light or dark scheme.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.engraving.photo_cells import photo_places
from kerfwright.engraving.stamp import drawn_areas
from kerfwright.findings import number_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import rings_of
from kerfwright.motion.timing import move_times_s
from kerfwright.output import path_data
from kerfwright.output.beam_lines import (
    GRID_MM,
    burned_lines,
    engraved_cells,
    picture_data,
    simplified,
    travel_lines,
)
from kerfwright.output.colours import ramp
from kerfwright.output.kept_free import kept_free_picture
from kerfwright.output.part_names import name_spot
from kerfwright.output.text import duration, printable, short_number, xml_text
from kerfwright.parts.model import Part
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Process

ColourBy = Literal["time", "energy"]

BINS = 24
"""Steps of colour along time or energy."""

PICTURE_CHARACTERS = 250_000
"""Path data that a picture of a layout holds at most, half of it the parts' tint."""

WIDTH_PX = 960

LETTERS = 28
"""Of a part's name that are shown."""


def sheet_picture(sheet: PlannedSheet, instances: Sequence[int] | None = None) -> str:
    """Picture of the layout: cuts solid, scores dashed, engraved areas tinted, parts named.

    ``instances`` are the numbers of :func:`~kerfwright.output.part_names.instances_of`, by which
    copies are told apart, as in "lid#2".
    """
    name = f"Layout of sheet {sheet.number}"
    about = (
        f"{number_of(len(sheet.parts), 'part')} on {sheet.material.name}, {sheet.sheet.name}. "
        "Cut lines are solid, scored lines dashed, engraved areas tinted, guides dotted."
        + (" What is kept free is hatched." if sheet.sheet.keep_out else "")
        + (" The dashed rectangle is the largest that is left." if sheet.left else "")
    )
    body = [_area(sheet, "free", sheet.sheet.barred)]
    body.append(kept_free_picture(sheet.sheet))
    if sheet.left is not None:
        body.append(_area(sheet, "left", sheet.left.rectangle))
    body.append(f'<path class="part" d="{_part_data(sheet)}"/>')
    for style, data in _layout_data(sheet).items():
        if data:
            body.append(f'<path class="{style}" d="{data}"/>')
    numbers = instances or (0,) * len(sheet.parts)
    body += [
        _name_label(part, number, sheet) for part, number in zip(sheet.parts, numbers, strict=True)
    ]
    return _picture(sheet, f"layout-{sheet.number}", name, about, "".join(body))


def beam_picture(
    sheet: PlannedSheet, *, colour_by: ColourBy = "time", machine: Machine | None = None
) -> str:
    """Picture of the beam's way: burns coloured by time or energy, travel thin and dashed.

    With a ``machine`` the times are those of the plan; without one they are length over speed.
    Energy is power over speed, the energy that a length of line receives, on a logarithmic scale.
    """
    toolpath = sheet.toolpath
    size = sheet.sheet.width_mm, sheet.sheet.height_mm
    bins = _bins(_energy(sheet) if colour_by == "energy" else _time(sheet, machine))
    rowed = [sheet.recipes.get(process) for process in (Process.ENGRAVE, Process.PHOTO)]
    interval = max((recipe.interval_mm or 0.0 for recipe in rowed if recipe), default=0.0)
    cells = engraved_cells(toolpath, bins, BINS, size, interval)
    travel, left_out = travel_lines(toolpath, size[1])
    body = [f'<path class="part" d="{_part_data(sheet)}"/>']
    scale = short_number(cells.cell_mm * GRID_MM, 4)
    for shift, runs in (("0 .5", cells.along_x), (".5 0", cells.along_y)):
        body.append(f'<g class="area" transform="scale({scale}) translate({shift})">')
        body += [f'<path class="b{i}" d="M0 0{d}"/>' for i, d in enumerate(runs) if d]
        body.append("</g>")
    if travel:
        body.append(f'<path class="travel" d="{travel}"/>')
    lines = burned_lines(toolpath, bins, BINS, size[1])
    body.append('<g class="line">')
    body += [f'<path class="b{i}" d="{d}"/>' for i, d in enumerate(lines) if d]
    body.append("</g>")
    what = "when they are burned" if colour_by == "time" else "how much energy they receive"
    about = (
        f"Burned lines and areas coloured by {what}, in {BINS} steps; travel thin and dashed. "
        f"The sheet takes {duration(sheet.times.total_s)}."
        + (f" {left_out} short travels are not drawn." if left_out else "")
    )
    name = f"Beam order of sheet {sheet.number}"
    return _picture(
        sheet, f"beam-{sheet.number}-{colour_by}", name, about, "".join(body), ramp_style()
    )


def ramp_style() -> str:
    """Style rules for the steps of colour, for a light and a dark page."""

    def rules(colours: list[str]) -> str:
        return "".join(f".kw .b{i}{{stroke:{colour}}}" for i, colour in enumerate(colours))

    light, dark = rules(ramp(BINS, "light")), rules(ramp(BINS, "dark"))
    return f"{light}@media screen and (prefers-color-scheme:dark){{{dark}}}"


STYLE = (
    ".kw{--paper:#fffefb;--edge:#77756e;--part:#f0ede5;--ink:#1f1f1c;--tint:#8f8c83;--soft:#9a978e}"
    "@media screen and (prefers-color-scheme:dark){"
    ".kw{--paper:#1c1c1a;--edge:#8d8a82;--part:#2a2a27;--ink:#efede6;--tint:#77746c;--soft:#77746c}}"
    ".kw path{fill:none;stroke-linecap:round;stroke-linejoin:round}"
    ".kw .card{fill:var(--paper);stroke:var(--edge)}"
    ".kw .free{fill:var(--edge);fill-rule:evenodd;fill-opacity:.35}"
    ".kw .hatch{stroke:var(--edge);pointer-events:all}"
    ".kw .left{stroke:var(--soft);vector-effect:non-scaling-stroke;stroke-dasharray:5 5}"
    ".kw .part{fill:var(--part);fill-rule:evenodd;stroke:none}"
    ".kw .cut{stroke:var(--ink)}.kw .score{stroke:var(--ink)}"
    ".kw .blank,.kw .guide{stroke:var(--soft)}"
    ".kw .engrave{fill:var(--tint);fill-rule:evenodd}"
    ".kw .travel{stroke:var(--soft)}"
    ".kw .area path{stroke-width:1.3;stroke-linecap:butt}"
    ".kw text{fill:var(--ink);stroke:var(--part);paint-order:stroke;font-family:system-ui,"
    "sans-serif;text-anchor:middle;dominant-baseline:central}"
)


def _picture(
    sheet: PlannedSheet, ident: str, name: str, about: str, body: str, style: str = ""
) -> str:
    """Put a picture's body on the card of its sheet."""
    wide, high = (round(side * GRID_MM) for side in (sheet.sheet.width_mm, sheet.sheet.height_mm))
    hair = max(wide, high) / 700
    pad = round(hair * 8)
    whole_wide, whole_high = wide + 2 * pad, high + 2 * pad
    px_high = round(WIDTH_PX * whole_high / whole_wide)
    # each picture brings its own line widths, since they are in proportion to its sheet
    widths = (
        f"#{ident} .cut,#{ident} .line path{{stroke-width:{hair:.0f}}}"
        f"#{ident} .score{{stroke-width:{hair:.0f};stroke-dasharray:{6 * hair:.0f} {3 * hair:.0f}}}"
        f"#{ident} .blank,#{ident} .guide{{stroke-width:{hair:.0f};"
        f"stroke-dasharray:0 {2.5 * hair:.0f}}}"
        f"#{ident} .travel{{stroke-width:{0.45 * hair:.0f};"
        f"stroke-dasharray:{3 * hair:.0f} {3 * hair:.0f}}}"
        f"#{ident} .card{{stroke-width:{hair:.0f}}}"
        f"#{ident} text{{stroke-width:{3 * hair:.0f}}}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="kw" id="{ident}" role="img" '
        f'aria-labelledby="{ident}-title {ident}-desc" width="{WIDTH_PX}" height="{px_high}" '
        f'viewBox="{-pad} {-pad} {whole_wide} {whole_high}">'
        f'<title id="{ident}-title">{xml_text(name)}</title>'
        f'<desc id="{ident}-desc">{xml_text(about)}</desc>'
        f"<style>{STYLE}{style}{widths}</style>"
        f'<rect class="card" x="0" y="0" width="{wide}" height="{high}" rx="{hair:.0f}"/>'
        f"{body}</svg>"
    )


def _area(sheet: PlannedSheet, style: str, area: BaseGeometry) -> str:
    """A path round an area; nothing for an empty one."""
    data = path_data.rings(rings_of(area), sheet.sheet.height_mm, decimals=2)
    return f'<path class="{style}" transform="scale({GRID_MM})" d="{data}"/>' if data else ""


def _part_data(sheet: PlannedSheet) -> str:
    rings: list[tuple[int, FloatArray]] = []
    for part in sheet.parts:
        rings += [(0, path.line) for path in (part.outline, *part.holes)]
    return _fitting(rings, sheet, ["part"])["part"]


def _layout_data(sheet: PlannedSheet) -> dict[str, str]:
    """Path data of each style of line, in the order in which they are drawn."""
    styles = ["engrave", "guide", "blank", "score", "cut"]
    lines: list[tuple[int, FloatArray]] = []
    for part in sheet.parts:
        outline = styles.index("blank" if part.blank else "cut")
        cuts = (part.outline, *part.holes, *part.slits)
        lines += [(outline, path.line) for path in cuts]
        lines += [(styles.index("guide"), path.line) for path in part.guides]
        for scored in part.scores:
            lines += [(styles.index("score"), path.line) for path in scored.paths]
        areas = [*drawn_areas(part, sheet.recipes.get(Process.ENGRAVE))]
        areas += [place.area for place in photo_places(part)]
        rings = [ring for area in areas for ring in rings_of(area)]
        lines += [(styles.index("engrave"), np.vstack([r, r[:1]])) for r in rings]
    lines += [(styles.index("blank"), ring) for ring in _empty_pockets(sheet)]
    return _fitting(lines, sheet, styles)


def _empty_pockets(sheet: PlannedSheet) -> list[FloatArray]:
    """Outlines of a fixture's pockets in which no blank lies, each back to its start."""
    filled = shapely.union_all([part.polygon for part in sheet.parts])
    shapely.prepare(filled)
    return [
        np.asarray(shapely.get_coordinates(pocket.exterior))
        for pocket in sheet.sheet.pockets
        if not filled.intersects(pocket.representative_point())
    ]


def _fitting(
    lines: list[tuple[int, FloatArray]], sheet: PlannedSheet, styles: list[str]
) -> dict[str, str]:
    """Simplify lines by a hair of the picture, and more until the picture is small enough."""
    height = sheet.sheet.height_mm
    hair = max(sheet.sheet.width_mm, height) / 20_000
    data = dict.fromkeys(styles, "")
    for style, line in simplified(lines, hair, PICTURE_CHARACTERS // 2):
        closed = bool(np.all(line[0] == line[-1]))
        data[styles[style]] += picture_data(line, height, closed=closed)
    return data


def _name_label(part: Part, instance: int, sheet: PlannedSheet) -> str:
    """Name of a part where it can be read and covers nothing; else the list of parts has it.

    Where a copy's name has no room, its number may.
    """
    name = printable(part.name)
    name = name if len(name) <= LETTERS else name[: LETTERS - 1] + "…"
    number = f"#{instance}" if instance else ""
    longer = max(sheet.sheet.width_mm, sheet.sheet.height_mm)
    for label in dict.fromkeys((name + number, number)):
        spot = name_spot(part, label, longer / 55, longer / 110)
        if spot is not None:
            x, y, size = spot
            return (
                f'<text x="{x * GRID_MM:.0f}" y="{(sheet.sheet.height_mm - y) * GRID_MM:.0f}" '
                f'font-size="{size * GRID_MM:.0f}">{xml_text(label)}</text>'
            )
    return ""


def _bins(values: FloatArray) -> npt.NDArray[np.int64]:
    return np.clip((values * BINS).astype(np.int64), 0, BINS - 1)


def _time(sheet: PlannedSheet, machine: Machine | None) -> FloatArray:
    """Share of the program's time that has passed at the middle of every move."""
    toolpath = sheet.toolpath
    if machine is not None:
        seconds = move_times_s(toolpath, machine)
    else:
        seconds = toolpath.lengths_mm / np.maximum(toolpath.moves["speed_mm_s"], 1e-9)
    passed = np.cumsum(seconds)
    total = float(passed[-1]) if len(passed) else 0.0
    return (passed - seconds / 2) / total if total > 0.0 else np.zeros(len(seconds))


def _energy(sheet: PlannedSheet) -> FloatArray:
    """Energy of every move's line between the least (0) and the most (1) on the sheet."""
    moves = sheet.toolpath.moves
    burning = sheet.toolpath.burning
    share = np.zeros(len(moves))
    if burning.any():
        energy = np.log(moves["power"][burning] / np.maximum(moves["speed_mm_s"][burning], 1e-9))
        low, high = float(energy.min()), float(energy.max())
        share[burning] = (energy - low) / (high - low) if high > low else 1.0
    return share
