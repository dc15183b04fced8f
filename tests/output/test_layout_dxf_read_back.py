"""Our own reader sees in a DXF layout what was planned, sorted into the same processes."""

from __future__ import annotations

from pathlib import Path

import pytest

import planned_order
from kerfwright.drawing.dxf.read import read_dxf
from kerfwright.output.layout_dxf import write_layout_dxf
from kerfwright.parts.layer_words import process_of_layer
from kerfwright.toolpath import Process


def test_layout_read_back_has_the_same_lines(tmp_path: Path) -> None:
    sheet = planned_order.first_sheet()
    path = tmp_path / "layout.dxf"
    write_layout_dxf(sheet, path)
    burned: dict[Process, float] = {}
    for shape in read_dxf(path).shapes:
        process, _ = process_of_layer(shape.layer)
        assert process is not None
        burned[process] = burned.get(process, 0.0) + shape.length_mm
    burned.pop(Process.GUIDE, None)
    parts = [part for part in sheet.parts if not part.blank]
    assert burned == {
        Process.CUT: pytest.approx(
            sum(p.length_mm for part in parts for p in (part.outline, *part.holes, *part.slits)),
            abs=1e-3,
        ),
        Process.SCORE: pytest.approx(24.0),
        Process.ENGRAVE: pytest.approx(
            sum(mark.area.length for part in sheet.parts for mark in part.engraves), abs=1e-3
        ),
    }
