"""A planned order written out by hand, its words friendly or hostile. All numbers are invented."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import MultiPolygon, Point, box

import planned_square as square
from kerfwright.decisions import Alternative, Decision
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.affine import translation
from kerfwright.geometry.paths import Path
from kerfwright.motion.timing import Times
from kerfwright.output.files import SheetFiles, sheet_files
from kerfwright.parts.model import EngraveMark, Part
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.material import Material, RecipeStatus
from kerfwright.toolpath import Process

HOSTILE = "<script>alert('x')</script>\n\"&amp; ]]> --> \x00\x1b\u202e\ud800 🛶 {{ 7*7 }} %s \\"
"""Markup, quotes, line ends, signs that XML forbids, half an emoji and a whole one."""

TIMES_BY_PROCESS = {Process.ENGRAVE: 31.25, Process.SCORE: 2.0, Process.CUT: 37.75}


def ring_part(name: str = "ring") -> Part:
    """A round part with a round hole, a slit, a guide and an engraved ring with an island."""
    centre = Point(70.0, 40.0)

    def around(radius: float, *, reverse: bool = False) -> Path:
        points = np.array(centre.buffer(radius, quad_segs=16).exterior.coords)[:-1]
        return Path(np.ascontiguousarray(points if reverse else points[::-1]), closed=True)

    engraved = centre.buffer(9.0).difference(centre.buffer(7.0)).union(centre.buffer(6.0))
    engraved = engraved.difference(centre.buffer(5.0))
    return Part(
        name=name,
        drawing="ring.dxf",
        outline=around(20.0),
        holes=(around(4.0, reverse=True),),
        slits=(Path(np.array([(80.0, 40.0), (85.0, 43.0)])),),
        engraves=(EngraveMark("hatch 1", "engrave", MultiPolygon(list(engraved.geoms))),),
        guides=(Path(np.array([(52.0, 40.0), (88.0, 40.0)])),),
    )


def blank_part() -> Part:
    """A thing made elsewhere, only marked."""
    return Part(
        name="blank",
        drawing="blank.svg",
        outline=square.closed([(50.0, 62.0), (90.0, 62.0), (90.0, 78.0), (50.0, 78.0)]),
        engraves=(EngraveMark("rect 1", "engrave", MultiPolygon([box(55, 65, 85, 75)])),),
        blank=True,
    )


def first_sheet(name: str = "tile", **changes: object) -> PlannedSheet:
    parts = (square.part(name), ring_part(), blank_part())
    fields: dict[str, object] = {"parts": parts, "times_by_process_s": TIMES_BY_PROCESS}
    return square.sheet(**(fields | changes))


def order(words: str = "", *, invented: bool = True) -> Plan:
    """Two sheets, two findings, two decisions; ``words`` are put into every text of the user."""
    tested = {
        process: recipe.model_copy(update={"status": RecipeStatus.TESTED})
        for process, recipe in square.RECIPES.items()
    }
    moved = square.part(f"tile{words}").transformed(translation(5.0, 5.0))
    second = first_sheet(
        number=2, parts=(moved, moved), recipes=tested, times=Times(3000.0, 600.0, 120.0)
    )
    sheets = (first_sheet(f"tile{words}"), second)
    if words:
        # a file's texts have been validated; names of drawings and files may hold half an emoji
        whole = words.replace("\ud800", "")
        material = Material(name=f"ply{whole}", thickness_mm=3.0, cautions=(f"Glue{whole}",))
        sheets = tuple(
            replace(s, material=material, sheet=replace(s.sheet, name=f"offcut{words}"))
            for s in sheets
        )
    machine = square.machine().model_copy(update={"name": f"trial{words}"})
    return Plan(
        title=f"Regatta{words}",
        machine=machine,
        sheets=sheets,
        decisions=(
            Decision(
                what=f"Engraving of the border{words}",
                chosen="contour-parallel",
                alternatives=(
                    Alternative("scan", time_s=1881.25, length_mm=120_000.0),
                    Alternative("contour-parallel", 477.0, length_mm=119_000.0, note=f"{words}"),
                ),
                why=f"Loops do not cross the empty middle.{words}",
                override=f'engrave = "scan"{words}',
                code="order/unknown-key",
                sheet="sheet 1",
            ),
            Decision(
                what="Placement",
                chosen="nest",
                alternatives=(Alternative("nest", material_mm2=180_000.0, time_s=float("inf")),),
                why="One sheet is enough.",
                override='place = "as-drawn"',
            ),
        ),
        findings=(
            Finding(Severity.NOTE, "parts/invisible", f"Left out.{words}", count=3),
            Finding(
                Severity.WARN,
                "parts/layer-says-two",
                "The layer speaks of two processes.",
                f"Rename it.{words}",
                drawing=f"sign{words}.svg",
                shape=f"path{words}",
                x_mm=1.23456,
                y_mm=float("nan"),
            ),
        ),
        invented=invented,
    )


def files_of(plan: Plan) -> list[SheetFiles]:
    return [sheet_files(sheet) for sheet in plan.sheets]
