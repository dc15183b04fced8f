"""Layouts as programs that are not ours see them, and colours against published numbers."""

from __future__ import annotations

import io
import itertools
from pathlib import Path

import ezdxf
import numpy as np
import numpy.typing as npt
import pytest
import resvg_py
import shapely
from ezdxf.bbox import extents
from ezdxf.path import make_path
from PIL import Image

import planned_order
from kerfwright.output.colours import OKLCH_STOPS, Scheme, ramp
from kerfwright.output.layout_dxf import CUT, SHEET, write_layout_dxf
from kerfwright.output.layout_svg import layout_svg
from kerfwright.output.pictures import beam_picture, sheet_picture
from kerfwright.plan import PlannedSheet

PX_PER_MM = 20
Mask = npt.NDArray[np.bool_]


@pytest.fixture(scope="module")
def sheet() -> PlannedSheet:
    return planned_order.first_sheet()


def drawn(svg: str, width_px: int) -> npt.NDArray[np.uint8]:
    png = resvg_py.svg_to_bytes(svg_string=svg, background="#ffffff", width=width_px, dpi=96.0)
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"))


def test_rasterised_layout_is_dark_where_it_is_engraved(sheet: PlannedSheet) -> None:
    """Source: the resvg library, against shapely's point-in-polygon test at pixel middles."""
    dark = drawn(layout_svg(sheet), 100 * PX_PER_MM) < 128
    assert dark.shape == pytest.approx((80 * PX_PER_MM, 100 * PX_PER_MM), abs=2)
    area = shapely.union_all([mark.area for part in sheet.parts for mark in part.engraves])
    row, column = np.indices(dark.shape) + 0.5
    x = column / PX_PER_MM
    y = 80.0 * (1.0 - row / dark.shape[0])
    inside = shapely.contains_xy(area, x, y)
    deep = shapely.contains_xy(area.buffer(-0.1), x, y)
    assert inside.sum() > 50_000
    assert dark[deep].mean() > 0.999
    lines = shapely.union_all(
        [
            *(
                shapely.LineString(path.line)
                for part in sheet.parts
                for path in (part.outline, *part.holes, *part.slits)
            ),
            *(
                shapely.LineString(path.line)
                for part in sheet.parts
                for scored in part.scores
                for path in scored.paths
            ),
        ]
    )
    burned = shapely.union_all([area.buffer(0.1), lines.buffer(0.15)])
    elsewhere = ~shapely.contains_xy(burned, x, y)
    rim = 3
    assert not dark[rim:-rim, rim:-rim][elsewhere[rim:-rim, rim:-rim]].any()


def test_pictures_can_be_drawn_outside_a_browser(sheet: PlannedSheet) -> None:
    """Source: the resvg library; a file manager's preview or a README needs no browser."""
    for svg in (sheet_picture(sheet), beam_picture(sheet)):
        grey = drawn(svg, 800)
        assert (grey < 140).mean() > 0.005


def test_dxf_measures_what_was_planned(sheet: PlannedSheet, tmp_path: Path) -> None:
    """Source: ezdxf's own extents and path lengths."""
    path = tmp_path / "layout.dxf"
    write_layout_dxf(sheet, path)
    space = ezdxf.readfile(path).modelspace()
    box = extents(space)
    assert (*box.extmin, *box.extmax) == pytest.approx((0.0, 0.0, 0.0, 100.0, 80.0, 0.0))
    lengths = dict.fromkeys((CUT, SHEET), 0.0)
    for line in space.query("LWPOLYLINE"):
        if line.dxf.layer in lengths:
            points = list(make_path(line).flattening(0.01))
            steps = itertools.pairwise(points)
            lengths[line.dxf.layer] += sum(a.distance(b) for a, b in steps)
    assert lengths[SHEET] == pytest.approx(360.0)
    assert lengths[CUT] == pytest.approx(
        sum(
            line.length_mm
            for part in sheet.parts
            if not part.blank
            for line in (part.outline, *part.holes, *part.slits)
        ),
        abs=1e-3,
    )


def linear(colour: str) -> npt.NDArray[np.float64]:
    """Source: IEC 61966-2-1, the other way from the code's."""
    channels = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)


def oklab(rgb: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Source: Ottosson 2020, linear sRGB to OKLab (matrices from memory, checked by red)."""
    cones = np.array(
        [
            [0.4122214708, 0.5363325363, 0.0514459929],
            [0.2119034982, 0.6806995451, 0.1073969566],
            [0.0883024619, 0.2817188376, 0.6299787005],
        ]
    )
    lab = np.array(
        [
            [0.2104542553, 0.7936177850, -0.0040720468],
            [1.9779984951, -2.4285922050, 0.4505937099],
            [0.0259040371, 0.7827717662, -0.8086757660],
        ]
    )
    return lab @ np.cbrt(cones @ rgb)


MACHADO = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
"""Machado, Oliveira & Fernandes 2009, severity 1.0, from memory; every row adds up to 1."""


def test_reference_numbers_are_what_they_claim() -> None:
    """OKLab of pure red as CSS Color 4 gives it (from memory): 0.62796 0.22486 0.12585."""
    assert oklab(linear("#ff0000")) == pytest.approx([0.62796, 0.22486, 0.12585], abs=2e-4)
    assert oklab(linear("#ffffff")) == pytest.approx([1.0, 0.0, 0.0], abs=1e-4)
    for rows in MACHADO.values():
        assert np.sum(rows, axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-6)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_ramp_is_evenly_stepped_in_lightness(scheme: Scheme) -> None:
    lightness = [float(oklab(linear(colour))[0]) for colour in ramp(24, scheme)]
    stops = OKLCH_STOPS[scheme]
    even = np.linspace(stops[0][0], stops[-1][0], 24)
    assert lightness == pytest.approx(even.tolist(), abs=0.006)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("sight", MACHADO)
def test_ramp_keeps_its_order_without_a_cone(scheme: Scheme, sight: str) -> None:
    """With any one kind of cone missing each of nine steps still differs in lightness, one way."""
    seen = [np.clip(MACHADO[sight] @ linear(colour), 0.0, 1.0) for colour in ramp(9, scheme)]
    steps = np.diff([float(oklab(rgb)[0]) for rgb in seen])
    assert np.all(steps < -0.01) or np.all(steps > 0.01)
