"""A shop of small files, all invented, and the commands run in it as a user would run them."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ezdxf.filemanagement import new
from typer.testing import CliRunner

from kerfwright.cli import app

MACHINE = """\
name = "trial machine"
invented = true
bed_width_mm = 400
bed_height_mm = 300
power_w = 60
settle_s = 0.02
beam_delay_s = 0.01

[travel]
speed_mm_s = [800, 500]
acceleration_mm_s2 = [5000, 3100]

[cutting]
speed_mm_s = [1000, 1000]
acceleration_mm_s2 = [3100, 3100]

[scanning]
speed_mm_s = [1000, 500]
acceleration_mm_s2 = [16000, 3100]

[controller]
dialect = "grbl-type"
"""

BOARD = """\
name = "board"
thickness_mm = 3
invented = true

[[recipes]]
machine = "trial machine"
process = "cut"
speed_mm_s = 16
power = 0.72
kerf_mm = 0.2

[[recipes]]
machine = "trial machine"
process = "score"
speed_mm_s = 120
power = 0.14

[[recipes]]
machine = "trial machine"
process = "engrave"
speed_mm_s = 400
power = 0.42
interval_mm = 0.25
"""

HEAD = """\
title = "Small order"
invented = true
machine = "machine.toml"
materials = ["board.toml"]
"""

ITEM = """
[[items]]
drawing = "{drawing}"
material = "board"
"""

STOCK = """
[[stock]]
material = "board"
name = "offcut"
width_mm = 120
height_mm = 100
count = 1
"""

SETTINGS = """
[settings]
nest_seconds = 0.2
"""

OUTLINE = (
    '<g id="Outline" fill="none" stroke="black"><rect x="1" y="1" width="40" height="30"/></g>'
)

TILE = f"""
{OUTLINE}
<g id="Holes" fill="none" stroke="black"><circle cx="8" cy="8" r="3"/></g>
<g id="Score" fill="none" stroke="black"><path d="M 6,26 H 36"/></g>
<g id="Engrave"><rect x="18" y="8" width="14" height="9"/></g>
<g id="Guides" fill="none" stroke="black"><path d="M 4,21.5 C 12,17 26,26 38,21.5"/></g>
"""
"""A tile with a hole, a scored line, an engraved area and a curve that is only a guide."""


PROGRESS = re.compile(r"^(?:Loading|Reading|Placing|Planning|Writing) .* …\n", re.MULTILINE)


def svg(body: str, width_mm: float = 42, height_mm: float = 32) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm}mm" height="{height_mm}mm" '
        f'viewBox="0 0 {width_mm} {height_mm}">{body}</svg>'
    )


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command left behind: its exit code and what it printed."""

    exit_code: int
    stdout: str
    stderr: str

    @property
    def told(self) -> str:
        """What was said on stderr, the progress lines left out."""
        return PROGRESS.sub("", self.stderr)


def run(*words: object) -> Ran:
    """Run a command in this process; an exception other than an exit is not caught."""
    result = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    return Ran(result.exit_code, result.stdout, result.stderr)


class SmallShop:
    """A folder with a machine, a material, a drawing and an order that can be planned."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.out = folder / "out"
        self.order_file = folder / "order.toml"
        self.write("machine.toml", MACHINE)
        self.write("board.toml", BOARD)
        self.write("tile.svg", svg(TILE))
        self.order()

    def write(self, name: str, text: str | bytes) -> Path:
        path = self.folder / name
        if isinstance(text, bytes):
            path.write_bytes(text)
        else:
            path.write_text(text, encoding="utf-8")
        return path

    def change(self, name: str, old: str, by: str) -> None:
        """Replace words in a file; they must be there."""
        text = (self.folder / name).read_text(encoding="utf-8")
        assert old in text
        self.write(name, text.replace(old, by))

    def order(
        self,
        drawing: str = "tile.svg",
        *,
        item: str = "",
        items: str | None = None,
        stock: str = STOCK,
        settings: str = "",
    ) -> None:
        """Write the order; ``item`` and ``settings`` are lines added to those blocks."""
        blocks = ITEM.format(drawing=drawing) + item + "\n" if items is None else items
        self.write("order.toml", HEAD + blocks + stock + SETTINGS + settings + "\n")

    def draw(self, body: str, name: str = "drawn.svg", **order: str) -> None:
        """Write an SVG drawing and an order for it."""
        self.write(name, svg(body))
        self.order(name, **order)

    def draw_dxf(
        self,
        corners: list[tuple[float, float]],
        *,
        units: int = 4,
        text: str = "",
        name: str = "drawn.dxf",
    ) -> Path:
        """Write a DXF drawing of one closed outline; ``units`` is its $INSUNITS, 4 is mm."""
        document = new(units=units)
        space = document.modelspace()
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "Outline"})
        if text:
            space.add_text(text, dxfattribs={"layer": "Engrave"})
        path = self.folder / name
        document.saveas(path)
        self.order(name)
        return path

    def plan(self, *words: object) -> Ran:
        return run("plan", self.order_file, "--out", self.out, *words)

    def planned(self) -> dict[str, Any]:
        """Plan, which must go well, and return ``plan.json``."""
        ran = self.plan()
        assert ran.exit_code == 0, ran.stderr
        return self.document()

    def document(self) -> dict[str, Any]:
        loaded: dict[str, Any] = json.loads((self.out / "plan.json").read_text(encoding="utf-8"))
        return loaded

    def programs(self) -> dict[str, str]:
        return {path.name: path.read_text("ascii") for path in sorted(self.out.glob("*.nc"))}

    def files(self) -> Mapping[str, bytes]:
        """Every file in the shop's folder, with what is in it."""
        return {
            str(path.relative_to(self.folder)): path.read_bytes() if path.is_file() else b""
            for path in sorted(self.folder.rglob("*"))
        }
