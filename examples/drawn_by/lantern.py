"""The lantern kit: nine interlocking parts as DXF, with layers, blocks and loose lines.

Four sides with fingers at the corners stand with their tabs in a base and a top plate; a handle
plugs into the top, two crossed feet into the base. Slots are as wide as the sheet is thick.
Some outlines are left as loose lines and arcs, a few ends stop short by some hundredths and one
line lies there twice, as drawings that went through several hands tend to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.filemanagement import new
from ezdxf.layouts.blocklayout import BlockLayout
from ezdxf.math import Vec2

from drawn_by.dxf import save

THICKNESS_MM = 3.0
SIDE_MM, HEIGHT_MM = 76.0, 110.0
TAB_MM, FOOT_TAB_MM, HANDLE_TAB_MM = 24.0, 12.0, 8.0
PLATE_MM = 104.0
SLOT_FROM_CENTRE_MM = (SIDE_MM - THICKNESS_MM) / 2
FOOT_SLOT_MM = 26.0
HANDLE_SLOT_MM = 28.0
QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter circle."""

Points = Sequence[tuple[float, float]]
Bulged = Sequence[tuple[float, float, float]]


def write(path: Path) -> None:
    """Draw the kit and write it to ``path``."""
    document = new("R2010", units=units.MM)
    for name, colour in (("Outline", 7), ("Holes", 1), ("Frame lines", 5), ("Guides", 8)):
        document.layers.add(name, color=colour)
    _slot_block(document, "TAB_SLOT", TAB_MM)
    _slot_block(document, "FOOT_SLOT", FOOT_TAB_MM)
    _slot_block(document, "HANDLE_SLOT", HANDLE_TAB_MM)
    _sail_side(document.blocks.new("SIDE_SAIL"))
    _lattice_side(document.blocks.new("SIDE_LATTICE"))
    _base(document.blocks.new("BASE"))
    _top(document.blocks.new("TOP"))
    _handle(document.blocks.new("HANDLE"))
    _foot(document.blocks.new("FOOT_BELOW"), lap_from_top=False)
    _foot(document.blocks.new("FOOT_ABOVE"), lap_from_top=True)
    model = document.modelspace()
    for block, place, rest in (
        ("SIDE_SAIL", (10, 10), {}),
        ("SIDE_SAIL", (180, 10), {"xscale": -1}),
        ("SIDE_LATTICE", (194, 10), {}),
        ("SIDE_LATTICE", (392, 27), {"rotation": 90}),
        ("BASE", (62, 184), {}),
        ("TOP", (176, 184), {}),
        ("HANDLE", (276, 146), {}),
        ("FOOT_BELOW", (298, 218), {}),
        ("FOOT_ABOVE", (298, 240), {}),
    ):
        model.add_blockref(block, place, dxfattribs={"layer": "Outline", **rest})
    save(document, path, "Invented example: a lantern of nine parts for 3 mm sheet")


def _slot_block(document: Drawing, name: str, length: float) -> None:
    """A slot on layer 0, so that it takes the layer of whatever inserts it."""
    x, y = length / 2, THICKNESS_MM / 2
    document.blocks.new(name).add_lwpolyline(
        [(-x, -y), (x, -y), (x, y), (-x, y)], close=True, dxfattribs={"layer": "0"}
    )


def _side_outline(fingers: tuple[int, ...]) -> list[tuple[float, float]]:
    """A side's outline; ``fingers`` says which fifths of its height reach the full width."""
    t, middle = THICKNESS_MM, SIDE_MM / 2
    step = HEIGHT_MM / 5

    def edge(fifth: int) -> float:
        return SIDE_MM if fifth in fingers else SIDE_MM - t

    right: list[tuple[float, float]] = []
    for fifth in range(5):
        right += [(edge(fifth), fifth * step), (edge(fifth), (fifth + 1) * step)]
    left = [(SIDE_MM - x, y) for x, y in reversed(right)]
    half = TAB_MM / 2
    below = [(middle - half, 0.0), (middle - half, -t), (middle + half, -t), (middle + half, 0.0)]
    above = [(x, HEIGHT_MM - y) for x, y in reversed(below)]
    return below + right + above + left


def _lines(block: BlockLayout, layer: str, points: Points) -> None:
    """Loose lines from point to point."""
    for start, end in pairwise(points):
        block.add_line(start, end, dxfattribs={"layer": layer})


def _closed(block: BlockLayout, layer: str, points: Points | Bulged) -> None:
    block.add_lwpolyline(
        points, format="xyb" if len(points[0]) == 3 else "xy", close=True,
        dxfattribs={"layer": layer},
    )  # fmt: skip


def _sail_side(block: BlockLayout) -> None:
    """A sailing boat over two waves, left open for the light."""
    _closed(block, "Outline", _side_outline((0, 2, 4)))
    for leech, foot in (
        ([(40, 94), (47, 80), (59, 60), (61, 41)], [(61, 41), (40, 41), (40, 94)]),
        ([(37, 86), (33, 70), (24, 52), (15, 41)], [(15, 41), (37, 41), (37, 86)]),
    ):
        block.add_open_spline(leech, degree=3, dxfattribs={"layer": "Holes"})
        _lines(block, "Holes", foot)
    _closed(block, "Holes", [(14, 36.5, 0.42), (62, 36.5, 0)])
    block.add_circle((20, 89), 5.5, dxfattribs={"layer": "Holes"})
    for bottom in (12.0, 18.0):
        _wave(block, bottom)
    _closed(
        block,
        "Frame lines",
        [(12, 7, 0), (64, 7, QUARTER), (69, 12, 0), (69, 98, QUARTER), (64, 103, 0),
         (12, 103, QUARTER), (7, 98, 0), (7, 12, QUARTER)],
    )  # fmt: skip


def _wave(block: BlockLayout, bottom: float) -> None:
    """A wave-shaped slit: two splines, its ends two lines of which one stops short."""
    crests = [(12 + 52 * i / 8, bottom + (3.2 if i % 2 else -3.2)) for i in range(9)]
    crests[0], crests[-1] = (12.0, bottom), (64.0, bottom)
    block.add_open_spline(crests, degree=3, dxfattribs={"layer": "Holes"})
    upper = [(x, y + 2.6) for x, y in crests]
    block.add_open_spline(upper[::-1], degree=3, dxfattribs={"layer": "Holes"})
    _lines(block, "Holes", [crests[0], upper[0]])
    _lines(block, "Holes", [(64.0, bottom + 0.03), upper[-1]])


def _lattice_side(block: BlockLayout) -> None:
    """An arched window of six panes."""
    _closed(block, "Outline", _side_outline((1, 3)))
    middle, spring, radius, bar = SIDE_MM / 2, 64.0, 24.0, 2.0
    for low, high in ((14.0, 36.0), (40.0, 62.0)):
        for left, right in ((middle - radius, middle - bar), (middle + bar, middle + radius)):
            r = 2.0
            _closed(
                block,
                "Holes",
                [(left + r, low, 0), (right - r, low, QUARTER), (right, low + r, 0),
                 (right, high - r, QUARTER), (right - r, high, 0), (left + r, high, QUARTER),
                 (left, high - r, 0), (left, low + r, QUARTER)],
            )  # fmt: skip
    sill = spring + bar
    out = math.sqrt(radius**2 - bar**2)
    turn = math.degrees(math.asin(bar / radius))
    for sign, start, end in ((1, turn, 90 - turn), (-1, 90 + turn, 180 - turn)):
        corner = (middle + sign * bar, sill)
        _lines(
            block,
            "Holes",
            [(middle + sign * out, sill), corner, (corner[0], spring + out)],
        )
        block.add_arc((middle, spring), radius, start, end, dxfattribs={"layer": "Holes"})
    # Semicircle: bulge 1 over the arch's frame, 4 mm outside the panes.
    _closed(block, "Frame lines", [(10, 10, 0), (66, 10, 0), (66, 64, 1), (10, 64, 0)])


def _base(block: BlockLayout) -> None:
    """A plate with round corners from loose lines and arcs, some ends a little short."""
    half, r = PLATE_MM / 2, 16.0
    flat = half - r
    short = 0.035
    _lines(block, "Outline", [(-flat, -half), (flat - short, -half)])
    _lines(block, "Outline", [(half, -flat), (half, flat)])
    _lines(block, "Outline", [(flat, half), (-flat + short, half)])
    _lines(block, "Outline", [(-half, flat), (-half, -flat)])
    for x, y, start in (
        (flat, -flat, 270),
        (flat, flat, 0),
        (-flat, flat, 90),
        (-flat, -flat, 180),
    ):
        block.add_arc((x, y), r, start, start + 90, dxfattribs={"layer": "Outline"})
    _plate_slots(block)
    for angle in (45, 135, 225, 315):
        spot = Vec2.from_deg_angle(angle, FOOT_SLOT_MM * math.sqrt(2))
        attributes = {"layer": "Holes", "rotation": angle}
        block.add_blockref("FOOT_SLOT", spot, dxfattribs=attributes)
    block.add_circle((0, 0), 19.0, dxfattribs={"layer": "Holes"})
    _lines(block, "Guides", [(-58, 0), (58, 0)])
    _lines(block, "Guides", [(0, -58), (0, 58)])


def _top(block: BlockLayout) -> None:
    """A plate with hollow corners, a round opening and vents."""
    half, r = PLATE_MM / 2, 13.0
    flat = half - r
    _closed(
        block,
        "Outline",
        [(-flat, -half, 0), (flat, -half, -QUARTER), (half, -flat, 0), (half, flat, -QUARTER),
         (flat, half, 0), (-flat, half, -QUARTER), (-half, flat, 0), (-half, -flat, -QUARTER)],
    )  # fmt: skip
    _plate_slots(block)
    for x in (-HANDLE_SLOT_MM, HANDLE_SLOT_MM):
        block.add_blockref("HANDLE_SLOT", (x, 0), dxfattribs={"layer": "Holes"})
    block.add_circle((0, 0), 18.0, dxfattribs={"layer": "Holes"})
    for y in (-27.0, 27.0):
        block.add_ellipse((0, y), (9.0, 0), 0.36, dxfattribs={"layer": "Holes"})
    for angle in (45, 135, 225, 315):
        spot = Vec2.from_deg_angle(angle, 35.0)
        block.add_circle(spot, 6.0, dxfattribs={"layer": "Holes"})


def _plate_slots(block: BlockLayout) -> None:
    for angle in (0, 90, 180, 270):
        spot = Vec2.from_deg_angle(angle, SLOT_FROM_CENTRE_MM)
        attributes = {"layer": "Holes", "rotation": angle + 90}
        block.add_blockref("TAB_SLOT", spot, dxfattribs=attributes)


def _handle(block: BlockLayout) -> None:
    """An arch with two tabs and an eye at the top; centre line on the guide layer."""
    inside, outside, rise = 22.0, 34.0, 12.0
    near, far = HANDLE_SLOT_MM - HANDLE_TAB_MM / 2, HANDLE_SLOT_MM + HANDLE_TAB_MM / 2
    t = THICKNESS_MM
    _closed(
        block,
        "Outline",
        [(far, -t, 0), (far, 0, 0), (outside, 0, 0), (outside, rise, 1), (-outside, rise, 0),
         (-outside, 0, 0), (-far, 0, 0), (-far, -t, 0), (-near, -t, 0), (-near, 0, 0),
         (-inside, 0, 0), (-inside, rise, -1), (inside, rise, 0), (inside, 0, 0), (near, 0, 0),
         (near, -t, 0)],
    )  # fmt: skip
    block.add_circle((0, rise + (inside + outside) / 2), 3.5, dxfattribs={"layer": "Holes"})
    block.add_line((0, -6), (0, 52), dxfattribs={"layer": "Guides"})


def _foot(block: BlockLayout, *, lap_from_top: bool) -> None:
    """One of two crossed feet, loose lines and two splines, halved where they cross."""
    slot, half_tab, half_t = FOOT_SLOT_MM * math.sqrt(2), FOOT_TAB_MM / 2, THICKNESS_MM / 2
    top, bottom, waist, lap = 0.0, -14.0, -10.0, -5.0
    right: Points = [
        (slot - half_tab, top), (slot - half_tab, THICKNESS_MM), (slot + half_tab, THICKNESS_MM),
        (slot + half_tab, top), (58, top), (55, bottom), (40, bottom),
    ]  # fmt: skip
    left = [(-x, y) for x, y in reversed(right)]
    arch = [(40.0, bottom), (32.0, bottom), (26.0, waist), (14.0, waist)]
    over = [(-half_t, top), (-half_t, lap), (half_t, lap), (half_t, top)]
    under = [(half_t, waist), (half_t, lap), (-half_t, lap), (-half_t, waist)]
    _lines(block, "Outline", [left[-1], *(over if lap_from_top else []), *right])
    _lines(block, "Outline", left)
    _lines(block, "Outline", [arch[-1], *([] if lap_from_top else under), (-14.0, waist)])
    block.add_open_spline(arch, degree=3, dxfattribs={"layer": "Outline"})
    mirrored = [(-x, y) for x, y in arch]
    block.add_open_spline(mirrored, degree=3, dxfattribs={"layer": "Outline"})
    if not lap_from_top:
        # The same line once more, as copying between drawings leaves it behind.
        _lines(block, "Outline", [right[4], right[5]])
