"""Pictures show everything, stay small for any toolpath, and are told by lightness alone."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from lxml import etree
from shapely import MultiPolygon, box

import planned_order
import planned_square
from kerfwright.nesting.model import SheetSize
from kerfwright.output.beam_lines import engraved_cells
from kerfwright.output.colours import ramp
from kerfwright.output.part_names import instances_of, name_spot
from kerfwright.output.pictures import BINS, beam_picture, sheet_picture
from kerfwright.output.plan_json import plan_document
from kerfwright.parts.model import EngraveMark
from kerfwright.toolpath import MoveArray, MoveKind, Toolpath, join, moves_along

SVG = "{http://www.w3.org/2000/svg}"
LARGEST = 400_000


def classes(svg: str) -> list[str]:
    root = etree.fromstring(svg.encode("utf-8"))
    return [e.get("class", "") for e in root.iter(SVG + "path")]


def test_layout_shows_every_process_in_its_line_style() -> None:
    svg = sheet_picture(planned_order.first_sheet())
    assert classes(svg) == ["part", "engrave", "guide", "blank", "score", "cut"]


@pytest.mark.parametrize("words", ["", planned_order.HOSTILE])
def test_pictures_are_valid_and_say_what_they_are(words: str) -> None:
    sheet = planned_order.order(words).sheets[0]
    for svg in (
        sheet_picture(sheet),
        beam_picture(sheet, machine=planned_square.machine()),
        beam_picture(sheet, colour_by="energy"),
    ):
        root = etree.fromstring(svg.encode("utf-8"))
        assert root.get("role") == "img"
        named = root.get("aria-labelledby", "").split()
        texts = {e.get("id"): e.text for e in root if e.tag in (SVG + "title", SVG + "desc")}
        assert list(texts) == named
        assert all(texts.values())
        assert not root.findall(f".//{SVG}script")


def test_names_cover_nothing_that_is_burned() -> None:
    part = planned_square.part("a tile")
    spot = name_spot(part, part.name, 2.0, 1.0)
    assert spot is not None
    x, y, size = spot
    around = box(x - 1.8 * size, y - 0.5 * size, x + 1.8 * size, y + 0.5 * size)
    assert part.polygon.contains(around)
    assert not any(mark.area.intersects(around) for mark in part.engraves)
    assert ">a tile</text>" in sheet_picture(planned_order.first_sheet("a tile"))


def test_copies_are_named_as_the_command_for_one_part_asks() -> None:
    plan = planned_order.order()
    first, second = instances_of(plan.sheets)
    assert (first, second) == ((1, 0, 0), (2, 3)), "one tile here, two there; ring and blank alone"
    svg = sheet_picture(plan.sheets[0], first)
    assert ">tile#1</text>" in svg
    assert "#0" not in svg
    document = plan_document(plan, planned_order.files_of(plan))
    numbers = [tuple(part.instance for part in sheet.parts) for sheet in document.sheets]
    assert [tuple(max(n, 1) for n in sheet) for sheet in (first, second)] == numbers


def test_where_a_copys_name_has_no_room_its_number_may() -> None:
    name = "a very long name for so small"
    small = planned_order.first_sheet(name)
    sheet = replace(small, sheet=replace(small.sheet, width_mm=300.0))
    assert ">#12</text>" in sheet_picture(sheet, (12,) + (0,) * (len(sheet.parts) - 1))


def test_name_that_would_cover_a_mark_everywhere_is_left_to_the_list() -> None:
    part = planned_square.part("x")
    covered = replace(part, engraves=(EngraveMark("all", "engrave", MultiPolygon([part.polygon])),))
    assert name_spot(covered, "x", 2.0, 1.0) is None
    assert name_spot(part, "x", 2.0, 1.0) is not None


def bins_of(svg: str, group: str) -> list[int]:
    root = etree.fromstring(svg.encode())
    paths = root.findall(f".//{SVG}g[@class='{group}']/{SVG}path")
    return [int(path.get("class", "")[1:]) for path in paths]


def test_colour_runs_with_time() -> None:
    svg = beam_picture(planned_order.first_sheet(), machine=planned_square.machine())
    engraved, lined = bins_of(svg, "area"), bins_of(svg, "line")
    assert min(engraved) == 0, "engraving comes first"
    assert max(engraved) <= min(lined), "lines after it"
    assert max(lined) >= BINS - 2, "the outline's last edge ends the program"


def test_colour_by_energy_tells_cuts_from_marks() -> None:
    # 0.8/15 of the cut is the most, 0.35/400 of the engraving the least
    svg = beam_picture(planned_order.first_sheet(), colour_by="energy")
    assert set(bins_of(svg, "area")) == {0}
    assert max(bins_of(svg, "line")) == BINS - 1
    assert min(bins_of(svg, "line")) > 0


def dithered(rows: int, per_row: int) -> MoveArray:
    """Rows across a sheet of which every other short stretch burns."""
    along = np.linspace(20.0, 580.0, per_row)
    points = np.vstack(
        [
            np.column_stack([along if row % 2 else along[::-1], np.full(per_row, 10 + 0.18 * row)])
            for row in range(rows)
        ]
    )
    moves = moves_along(points, kind=MoveKind.ROW, speed_mm_s=400.0, power=0.3, source=0)
    off = np.random.default_rng(1).random(len(moves)) < 0.5
    moves["power"][off] = 0.0
    moves["kind"][off] = MoveKind.RUN_UP
    return moves


def circles(count: int) -> MoveArray:
    turn = np.linspace(0.0, 2.0 * np.pi, 60)
    centres = np.random.default_rng(2).random((count, 2)) * (560.0, 260.0) + 20.0
    return join(
        [
            planned_square.burn(
                [(x + 8.0 * np.cos(t), y + 8.0 * np.sin(t)) for t in turn],
                MoveKind.CUT,
                planned_square.CUT,
            )
            for x, y in centres
        ]
    )


def test_picture_of_three_hundred_thousand_moves_is_small() -> None:
    moves = join([dithered(1500, 120), circles(2000)])
    assert len(moves) >= 300_000
    sheet = planned_square.sheet(moves, sheet=SheetSize("whole", 600.0, 290.0, 1))
    assert len(beam_picture(sheet).encode()) < LARGEST


def test_layout_of_many_detailed_parts_is_small() -> None:
    parts = (planned_order.ring_part("a rather long name for a ring"),) * 2000
    assert len(sheet_picture(planned_order.first_sheet(parts=parts)).encode()) < 2 * LARGEST


@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 90.0])
def test_engraved_cells_cover_what_is_burned(angle_deg: float) -> None:
    """Area of the cells against the area of the rows' rectangle; a cell's rim to spare."""
    turn = np.radians(angle_deg)
    ways = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    rows = [(x, y) for i in range(400) for y in (i * 0.1 - 20.0,) for x in (-30.0, 30.0)]
    points = np.array(rows) @ ways + 60.0
    moves = moves_along(points, kind=MoveKind.ROW, speed_mm_s=400.0, power=0.3, source=0)
    moves["power"][::2] = 0.0
    moves["kind"][::2] = MoveKind.RUN_UP
    count = 4
    bins = np.arange(len(moves)) * count // len(moves)
    cells = engraved_cells(Toolpath(moves), bins, count, (120.0, 120.0), 0.1)
    runs = re.findall(r"[hv](\d+)", "".join((*cells.along_x, *cells.along_y)))
    covered = sum(map(int, runs)) * cells.cell_mm**2
    assert covered == pytest.approx(60.0 * 40.0, rel=0.03)


def test_nothing_on_the_sheet_gives_an_empty_card() -> None:
    empty = planned_square.sheet(np.empty(0, dtype=planned_square.good_moves().dtype), parts=())
    for svg in (sheet_picture(empty), beam_picture(empty, machine=planned_square.machine())):
        assert etree.fromstring(svg.encode()).find(f"{SVG}rect") is not None


def luminance(colour: str) -> float:
    return float(linear(colour) @ (0.2126, 0.7152, 0.0722))


def linear(colour: str) -> np.ndarray:
    channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize(("scheme", "paper"), [("light", "#fffefb"), ("dark", "#1c1c1a")])
def test_every_colour_stands_out_from_the_paper(scheme: str, paper: str) -> None:
    """WCAG 2.2, success criterion 1.4.11: graphics need a contrast of 3 to 1."""
    on = luminance(paper)
    for colour in ramp(BINS, scheme):  # type: ignore[arg-type]
        lighter, darker = sorted((luminance(colour), on), reverse=True)
        assert (lighter + 0.05) / (darker + 0.05) >= 3.0, colour
