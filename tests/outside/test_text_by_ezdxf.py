"""Extents of DXF texts as we set them against those of the ezdxf library's own text outlines.

Source: ``ezdxf.addons.text2path`` with the same font file. The library goes by control points,
so letters with straight sides only are compared to the last digit.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from ezdxf import path as ezdxf_path
from ezdxf.addons import text2path
from ezdxf.enums import TextEntityAlignment as Align
from ezdxf.filemanagement import new
from ezdxf.fonts import fonts as ezdxf_fonts

from kerfwright.drawing.dxf.read import read_dxf
from letters import FILE, write_font


@pytest.fixture
def font_known_to_both(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_font(tmp_path)
    manager = ezdxf_fonts.FontManager()
    manager.build([str(tmp_path)], support_dirs=False)
    monkeypatch.setattr(ezdxf_fonts, "font_manager", manager)


@pytest.mark.usefixtures("font_known_to_both")
@pytest.mark.parametrize(
    "attributes",
    [
        {},
        {"rotation": 25.0, "width": 0.8},
        {"oblique": 15.0, "height": 3.3},
        {"text_generation_flag": 2},
        {"text_generation_flag": 4, "rotation": -70.0},
        {"extrusion": (0.0, 0.0, -1.0), "rotation": 10.0},
    ],
    ids=str,
)
def test_extents_are_those_of_the_library(tmp_path: Path, attributes: dict[str, object]) -> None:
    document = new("R2010")
    document.units = 4
    document.styles.add("sign", font=FILE)
    texts = []
    for row, align in enumerate(Align):
        text = document.modelspace().add_text(
            "HAVpx fi", dxfattribs={"style": "sign", "height": 5.0} | attributes
        )
        text.set_placement((20, row * 12), (80, row * 12 + 5), align=align)
        texts.append(text)
    document.saveas(tmp_path / "drawing.dxf")
    shapes = {shape.name: shape for shape in read_dxf(tmp_path / "drawing.dxf").shapes}
    for text in texts:
        theirs = ezdxf_path.bbox(text2path.make_paths_from_entity(text))
        bounds = np.array([path.bounds_mm for path in shapes[f"text {text.dxf.handle}"].paths])
        ours = [*bounds[:, :2].min(axis=0), *bounds[:, 2:].max(axis=0)]
        assert ours == pytest.approx([*theirs.extmin.xyz[:2], *theirs.extmax.xyz[:2]], abs=1e-9)
