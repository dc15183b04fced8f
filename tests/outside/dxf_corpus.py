"""Drawings of a harbour town's workshop, written as DXF by ezdxf in several releases.

Radii stay below 25 mm: ezdxf draws arcs as cubic Bézier curves, off by up to 3e-4 of the radius.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout
from ezdxf.math import Vec3
from ezdxf.render.forms import gear

Draw = Callable[[Document, BaseLayout], None]

OLD = ("R12", "R2000", "R2010")
NEWER = ("R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
DOWN = {"extrusion": (0, 0, -1)}
TILTED = {"extrusion": (0.3, -0.2, 0.9)}

EXTERNAL, OUTERMOST, INNER = 1, 16, 0
"""Flags of hatch boundaries (DXF Reference, HATCH, boundary path data, group code 92)."""


@dataclass(frozen=True)
class Sample:
    """One drawing in one release, as text or binary."""

    name: str
    release: str
    draw: Draw
    binary: bool
    insunits: int = 4

    def __str__(self) -> str:
        return f"{self.name}-{self.release}{'-binary' if self.binary else ''}"

    def document(self) -> Document:
        """Draw it."""
        document = new(self.release)
        document.header["$INSUNITS"] = self.insunits
        self.draw(document, document.modelspace())
        return document


def berth_sign(_: Document, model: BaseLayout) -> None:
    corners = [(0, 0), (80, 0), (80, 40), (40, 55), (0, 40)]
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        model.add_line(start, end)
    model.add_circle((10, 10), 2.5)
    model.add_arc((40, 40), 15, 20, 160)
    model.add_arc((40, 40), 12, 350, 10)


def portholes(_: Document, model: BaseLayout) -> None:
    for n in range(1, 9):
        model.add_circle((n * 25, n * n), 0.05 + n * 1.3)
        model.add_arc((n * 25, n * n), 0.5 + n * 2.3, n * 37, n * 91)


def slots(_: Document, model: BaseLayout) -> None:
    slot = [(0, 0, 0), (40, 0, 1), (40, 12, 0), (0, 12, 1)]
    model.add_lwpolyline(slot, format="xyb", close=True)
    model.add_lwpolyline([(x + 60, y, -b) for x, y, b in slot], format="xyb")
    wave = [(i * 8, 30, (-1) ** i * (0.1 + i / 10)) for i in range(12)]
    model.add_lwpolyline(wave, format="xyb", dxfattribs={"elevation": 5})


def old_slots(_: Document, model: BaseLayout) -> None:
    slot = [(0, 0, 0), (40, 0, 1), (40, 12, 0), (0, 12, 1)]
    model.add_polyline2d(slot, format="xyb", close=True)
    model.add_polyline2d([(x, y + 30, b * 0.3) for x, y, b in slot], format="xyb")
    model.add_polyline3d([(0, 60, 4), (30, 70, 4), (60, 60, 4)], close=True)


def lens_plates(_: Document, model: BaseLayout) -> None:
    model.add_ellipse((0, 0), (20, 5), 0.4)
    model.add_ellipse((50, 0), (0, -18), 0.7, 0.5, 4)
    model.add_ellipse((90, 0), (15, 3), 0.2, 5, 1)
    model.add_ellipse((90, 40), (15, 3), 0.5, 5, 1, dxfattribs=DOWN)


def wave_lines(_: Document, model: BaseLayout) -> None:
    frame = [(0, 0), (6, 18), (16, -12), (28, 10), (36, 2), (22, -16)]
    model.add_open_spline([(x, y + 50) for x, y in frame])
    model.add_spline([(0, 0), (9, 7), (20, 2), (31, 9)])


def weighted_waves(_: Document, model: BaseLayout) -> None:
    frame = [(0, 0), (2, 6), (5, -4), (9, 3), (12, 1), (7, -5)]
    model.add_rational_spline(frame, [1, 3, 0.5, 2, 1, 3])
    model.add_rational_spline([(x, y + 20) for x, y in frame], [1, 2, 1, 2, 1, 2], degree=2)


def rational_rings(_: Document, model: BaseLayout) -> None:
    """Circles of nine weighted points (Piegl and Tiller, *The NURBS Book*, section 7.5)."""
    corner = math.sqrt(0.5)
    ring = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    for radius in (3, 8, 19):
        model.add_rational_spline(
            [(radius * x + 5, radius * y) for x, y in ring],
            [1, corner] * 4 + [1],
            degree=2,
            knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
        )


def _hook(document: Document, name: str = "hook", base: tuple[float, float] = (0, 0)) -> None:
    block = document.blocks.new(name, base_point=base)
    block.add_line((0, 0), (8, 0))
    block.add_arc((8, 4), 4, 270, 120)
    block.add_circle((1, 6), 1.5)
    block.add_polyline2d([(0, 0, 0.4), (0, 9, 0), (-3, 9, -0.8)], format="xyb", close=True)


def compass_rose(document: Document, model: BaseLayout) -> None:
    _hook(document)
    for n in range(16):
        scale = 1 + n / 16
        place = {"rotation": n * 22.5, "xscale": scale, "yscale": scale, "zscale": scale}
        model.add_blockref("hook", (5, -5), dxfattribs=place)


def mirrored_hooks(document: Document, model: BaseLayout) -> None:
    _hook(document, base=(2, 3))
    for n, (x, y) in enumerate(((1, -1), (-1, 1), (-1, -1))):
        place = {"xscale": x, "yscale": y, "rotation": 40 * n}
        model.add_blockref("hook", (n * 40, 0), dxfattribs=place)


def stretched_hooks(document: Document, model: BaseLayout) -> None:
    _hook(document, base=(1, 1))
    # ezdxf swaps no axes where a turned block stands in a stretched one, so this one is not turned
    inner = {"xscale": 1.7, "yscale": -0.6}
    document.blocks.new("pair").add_blockref("hook", (4, 4), dxfattribs=inner)
    document.blocks.get("pair").add_blockref("hook", (14, 4))
    outer = {"xscale": -0.8, "yscale": 1.9, "rotation": -70}
    model.add_blockref("pair", (60, 10), dxfattribs=outer)
    model.add_blockref("pair", (0, 0), dxfattribs={"xscale": 2, "yscale": 0.5})


def rows_of_hooks(document: Document, model: BaseLayout) -> None:
    _hook(document)
    grid = {"row_count": 3, "column_count": 4, "row_spacing": 30, "column_spacing": 25}
    model.add_blockref("hook", (0, 0), dxfattribs=grid | {"rotation": 15})
    model.add_blockref("hook", (200, 0), dxfattribs=grid | {"xscale": -1.5, "yscale": 1.5})


def deep_nest(document: Document, model: BaseLayout) -> None:
    _hook(document, "nest0")
    for n in range(6):
        place = {"rotation": 17, "xscale": 1.1, "yscale": 1.1, "zscale": 1.1}
        document.blocks.new(f"nest{n + 1}", base_point=(n, 1)).add_blockref(
            f"nest{n}", (3, n), dxfattribs=place
        )
    model.add_blockref("nest6", (0, 0))


def underside(_: Document, model: BaseLayout) -> None:
    model.add_arc((10, 3), 7, 200, 20, dxfattribs=DOWN)
    model.add_circle((30, -4), 3, dxfattribs=DOWN)
    corners = [(0, 0, 0.3), (10, 2, -1.2), (14, 9, 0), (3, 12, 0.05)]
    model.add_polyline2d(corners, format="xyb", close=True, dxfattribs=DOWN)
    model.add_line((1, 1), (9, 4), dxfattribs=DOWN)
    model.add_solid([(0, 30), (8, 30), (0, 36), (8, 36)], dxfattribs=DOWN)


def underside_of_hooks(document: Document, model: BaseLayout) -> None:
    _hook(document, base=(2, 1))
    place = {"rotation": 33, "xscale": 1.5, "yscale": 1.5, "zscale": 1.5}
    model.add_blockref("hook", (40, 10), dxfattribs=DOWN | place)
    model.add_blockref("hook", (90, 10), dxfattribs=DOWN | {"xscale": -1})


def tilted_rings(_: Document, model: BaseLayout) -> None:
    model.add_circle((10, 5, 3), 9, dxfattribs=TILTED)
    model.add_arc((40, 5, -3), 9, 30, 250, dxfattribs=TILTED)


def nameplate_areas(_: Document, model: BaseLayout) -> None:
    hatch = model.add_hatch(color=1)
    hatch.paths.add_polyline_path([(0, 0), (60, 0), (60, 30), (0, 30)], flags=EXTERNAL)
    hatch.paths.add_polyline_path([(10, 10, 1), (20, 10, 1)], flags=OUTERMOST)
    hatch.paths.add_polyline_path([(30, 5), (50, 5, 0.5), (50, 25), (30, 25)], flags=OUTERMOST)
    hatch.paths.add_polyline_path([(35, 10), (45, 10), (45, 20), (35, 20)], flags=INNER)


def pennant_areas(_: Document, model: BaseLayout) -> None:
    hatch = model.add_hatch(color=2)
    edges = hatch.paths.add_edge_path(flags=EXTERNAL)
    edges.add_line((0, 0), (40, 0))
    edges.add_arc((40, 10), 10, -90, 90)
    edges.add_line((40, 20), (30, 20))
    edges.add_ellipse((20, 20), (10, 0), 0.5, 0, 180, ccw=True)
    edges.add_line((10, 20), (0, 20))
    edges.add_spline(control_points=[(0, 20), (6, 14), (-6, 6), (0, 0)], degree=3)
    ring = hatch.paths.add_edge_path(flags=OUTERMOST)
    ring.add_arc((20, 9), 5, 0, 360, ccw=False)
    whole = model.add_hatch(color=3).paths.add_edge_path(flags=EXTERNAL)
    whole.add_ellipse((80, 10), (12, 4), 0.6)


def clockwise_areas(_: Document, model: BaseLayout) -> None:
    edges = model.add_hatch(color=2).paths.add_edge_path(flags=EXTERNAL)
    edges.add_line((0, 0), (0, 20))
    edges.add_line((0, 20), (20, 20))
    edges.add_arc((20, 10), 10, -90, 90, ccw=False)
    edges.add_line((20, 0), (0, 0))


def _islands(model: BaseLayout, style: int) -> None:
    hatch = model.add_hatch(color=4)
    hatch.dxf.hatch_style = style
    for n, flags in enumerate((EXTERNAL, OUTERMOST, INNER, INNER)):
        low, high = 5 * n, 60 - 5 * n
        corners = [(low, low), (high, low), (high, high), (low, high)]
        hatch.paths.add_polyline_path(corners, flags=flags)


def islands_in_turn(_: Document, model: BaseLayout) -> None:
    _islands(model, 0)


def islands_outermost(_: Document, model: BaseLayout) -> None:
    _islands(model, 1)


def islands_ignored(_: Document, model: BaseLayout) -> None:
    _islands(model, 2)


def placed_areas(document: Document, model: BaseLayout) -> None:
    block = document.blocks.new("pennant")
    nameplate_areas(document, block)
    pennant_areas(document, block)
    model.add_blockref("pennant", (0, 0), dxfattribs={"xscale": -0.4, "yscale": 0.3})
    model.add_blockref("pennant", (50, 0), dxfattribs={"rotation": 30, "xscale": 0.5})


def underside_areas(_: Document, model: BaseLayout) -> None:
    hatch = model.add_hatch(color=5, dxfattribs=DOWN)
    hatch.paths.add_polyline_path([(0, 0), (20, 0, 0.4), (20, 9), (0, 12)], flags=EXTERNAL)
    edges = model.add_hatch(color=5, dxfattribs=DOWN).paths.add_edge_path(flags=EXTERNAL)
    edges.add_line((0, 30), (20, 30))
    edges.add_arc((10, 30), 10, 0, 180)


def patterned_areas(_: Document, model: BaseLayout) -> None:
    hatch = model.add_hatch()
    hatch.set_pattern_fill("ANSI31")
    hatch.paths.add_polyline_path([(0, 0), (10, 0), (10, 10)], flags=EXTERNAL)
    blend = model.add_hatch()
    blend.set_gradient((255, 0, 0), (0, 0, 255))
    blend.paths.add_polyline_path([(20, 0), (30, 0), (30, 10)], flags=EXTERNAL)


def solids(document: Document, model: BaseLayout) -> None:
    model.add_solid([(0, 0), (10, 0), (2, 6), (9, 7)])
    model.add_trace([(20, 0), (30, 0), (22, 6), (29, 7)])
    model.add_solid([(40, 0), (50, 0), (45, 9)])
    document.blocks.new("dot").add_solid([(0, 0), (4, 0), (0, 4), (4, 4)])
    model.add_blockref("dot", (60, 0), dxfattribs={"rotation": 20, "xscale": 2})


def filled_plate(_: Document, model: BaseLayout) -> None:
    plate = model.add_mpolygon(color=1, fill_color=3)
    plate.paths.add_polyline_path([(0, 0), (40, 0), (40, 20), (0, 20, 0.5)], flags=EXTERNAL)
    plate.paths.add_polyline_path([(10, 5), (20, 5), (20, 15)], flags=OUTERMOST)


def layered(document: Document, model: BaseLayout) -> None:
    document.layers.add("Cut", color=1)
    document.layers.add("Score", color=5)
    document.layers.add("Off", color=3).off()
    document.layers.add("Frozen", color=4).freeze()
    for n, layer in enumerate(("Cut", "Score", "Off", "Frozen", "0")):
        model.add_circle((n * 12, 0), 3 + n, dxfattribs={"layer": layer})
        model.add_line((n * 12, 0), (9, 30), dxfattribs={"layer": layer, "color": 6})
    document.blocks.new("tag").add_circle((0, 0), 2, dxfattribs={"color": 0})
    document.blocks.get("tag").add_circle((0, 0), 4)
    document.blocks.get("tag").add_circle((0, 0), 6, dxfattribs={"layer": "Score"})
    model.add_blockref("tag", (0, 50), dxfattribs={"layer": "Cut", "color": 2})
    model.add_blockref("tag", (20, 50), dxfattribs={"layer": "Off"})


def inch_plate(_: Document, model: BaseLayout) -> None:
    model.add_lwpolyline([(0, 0), (3, 0, 0.2), (3, 2), (0, 2)], format="xyb", close=True)
    model.add_circle((0.5, 0.5), 0.125)


def quay_wall(_: Document, model: BaseLayout) -> None:
    model.add_mline([(0, 0), (30, 0), (40, 20), (60, 20)])
    model.add_mline([(0, 40), (30, 40), (30, 60)], close=True)


def winch_wheel(document: Document, model: BaseLayout) -> None:
    wheel = list(gear(12, top_width=2, bottom_width=4, height=3, outside_radius=20))
    model.add_lwpolyline([Vec3(v).vec2 for v in wheel], close=True)
    _hook(document)
    for n in range(5):
        model.add_blockref("hook", (0, 0), dxfattribs={"rotation": 72 * n, "xscale": 0.5})


def stretched_waves(document: Document, model: BaseLayout) -> None:
    block = document.blocks.new("wave", base_point=(3, 3))
    block.add_open_spline([(0, 0), (6, 18), (16, -12), (28, 10)])
    block.add_ellipse((5, 5), (6, 2), 0.35, 0.4, 5.5)
    block.add_circle((20, 20), 4)
    place = {"xscale": -1.4, "yscale": 0.6, "rotation": 50}
    model.add_blockref("wave", (9, 9), dxfattribs=place)


DRAWINGS: tuple[tuple[Draw, tuple[str, ...]], ...] = (
    (berth_sign, OLD),
    (portholes, OLD),
    (slots, ("R2000", "R2007")),
    (old_slots, OLD),
    (lens_plates, ("R2000", "R2013")),
    (wave_lines, ("R2004", "R2018")),
    (weighted_waves, ("R2010",)),
    (rational_rings, ("R2013",)),
    (compass_rose, ("R12", "R2018")),
    (mirrored_hooks, OLD),
    (stretched_hooks, ("R12", "R2007")),
    (rows_of_hooks, ("R12", "R2013")),
    (deep_nest, ("R12", "R2004")),
    (underside, ("R12", "R2018")),
    (underside_of_hooks, ("R12", "R2010")),
    (tilted_rings, ("R2000",)),
    (nameplate_areas, NEWER),
    (pennant_areas, ("R2004", "R2018")),
    (clockwise_areas, ("R2007",)),
    (islands_in_turn, ("R2000",)),
    (islands_outermost, ("R2010",)),
    (islands_ignored, ("R2013",)),
    (placed_areas, ("R2010", "R2018")),
    (underside_areas, ("R2007",)),
    (patterned_areas, ("R2004",)),
    (solids, ("R12", "R2000")),
    (filled_plate, ("R2010", "R2018")),
    (layered, OLD),
    (inch_plate, ("R2000", "R2018")),
    (quay_wall, ("R2000", "R2013")),
    (winch_wheel, ("R2007",)),
    (stretched_waves, ("R2010",)),
)


def samples() -> Iterator[Sample]:
    """Every drawing in its releases; every second one is binary too."""
    for number, (draw, releases) in enumerate(DRAWINGS):
        insunits = 1 if draw is inch_plate else 4
        for release in releases:
            yield Sample(draw.__name__, release, draw, False, insunits)
        if number % 2:
            yield Sample(draw.__name__, releases[-1], draw, True, insunits)
