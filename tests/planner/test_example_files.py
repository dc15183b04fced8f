"""The example orders: every file can be read, is marked invented and names no machine's folders."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from ezdxf import units
from ezdxf.entities.arc import Arc
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import readfile
from lxml import etree

from kerfwright.shop.files import load_shop
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.order import Order

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
ORDERS = sorted(
    path for path in EXAMPLES.glob("*/*.toml") if "items" in tomllib.loads(path.read_text("utf-8"))
)
MATERIALS = sorted(EXAMPLES.glob("*/materials/*.toml"))
MACHINES = sorted(EXAMPLES.glob("*/machine.toml"))
SVGS = sorted(EXAMPLES.glob("*/*.svg"))
DXFS = sorted(EXAMPLES.glob("*/*.dxf"))
DATA = [*ORDERS, *MATERIALS, *MACHINES, *SVGS, *DXFS, *sorted(EXAMPLES.glob("*/*.md"))]

ABSOLUTE_PATH = re.compile(
    r"""(?:^|[\s"'=(])(?:/[A-Za-z_]\w*/|[A-Za-z]:\\|file:|~/)""", re.MULTILINE
)

PAGES_MM = {
    "sign.svg": (600, 290),
    "tokens.svg": (260, 176),
    "plaque.svg": (88, 122),
}


def label(path: Path) -> str:
    return str(path.relative_to(EXAMPLES))


def toml(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text("utf-8"))


def test_the_regatta_order_is_complete() -> None:
    assert {path.name for path in ORDERS} >= {"order.toml", "trials.toml"}
    assert len(MATERIALS) >= 3
    assert len(MACHINES) == 1
    assert {path.suffix for path in (EXAMPLES / "regatta").iterdir()} >= {".svg", ".dxf"}


@pytest.mark.parametrize("path", ORDERS, ids=label)
def test_order_fits_its_machine_materials_and_drawings(path: Path) -> None:
    order = Order.model_validate(toml(path))
    assert order.invented
    for item in order.items:
        assert (path.parent / item.drawing).is_file()
    shop = load_shop(path)
    for item in order.items:
        material = shop.material(item.material)
        processes = ("score", "engrave") if item.blank else ("cut", "score", "engrave")
        for process in processes:
            assert material.recipe(shop.machine.name, process) is not None


@pytest.mark.parametrize("path", MATERIALS, ids=label)
def test_material_is_invented_untested_and_cautions(path: Path) -> None:
    material = Material.model_validate(toml(path))
    assert material.invented
    assert material.cautions
    assert {recipe.status.value for recipe in material.recipes} == {"untested"}


@pytest.mark.parametrize("path", MACHINES, ids=label)
def test_machine_is_invented(path: Path) -> None:
    assert Machine.model_validate(toml(path)).invented


@pytest.mark.parametrize("path", [*MACHINES, *MATERIALS], ids=label)
def test_settings_open_with_the_caution_to_test_them(path: Path) -> None:
    head = path.read_text("utf-8").partition("\n\n")[0]
    assert "INVENTED" in head
    assert "own machine and material" in head


@pytest.mark.parametrize("path", DATA, ids=label)
def test_file_is_small_and_says_nothing_of_the_machine_it_was_made_on(path: Path) -> None:
    text = path.read_text("utf-8")
    assert path.stat().st_size < 200_000
    assert ABSOLUTE_PATH.search(text) is None


@pytest.mark.parametrize("path", SVGS, ids=label)
def test_svg_is_well_formed_invented_and_sized_in_millimetres(path: Path) -> None:
    root = etree.parse(path, etree.XMLParser(resolve_entities=False)).getroot()
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "nvented" in path.read_text("utf-8")
    assert root.get("width", "").endswith("mm")
    assert root.get("height", "").endswith("mm")
    assert root.get("viewBox")
    if path.name in PAGES_MM:
        size = tuple(float(root.get(side, "").removesuffix("mm")) for side in ("width", "height"))
        assert size == PAGES_MM[path.name]


@pytest.mark.parametrize("path", SVGS, ids=label)
def test_svg_ids_are_unique_and_references_lead_somewhere(path: Path) -> None:
    root = etree.parse(path).getroot()
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    for use in root.iter("{http://www.w3.org/2000/svg}use"):
        target = use.get("href") or use.get("{http://www.w3.org/1999/xlink}href")
        assert target is not None
        assert target.removeprefix("#") in ids


@pytest.mark.parametrize("path", DXFS, ids=label)
def test_dxf_passes_the_audit_of_an_independent_library(path: Path) -> None:
    document = readfile(path)
    audit = document.audit()
    assert audit.errors == []
    assert audit.fixes == []
    assert len(document.modelspace()) > 0
    assert document.units == (0 if path.name == "no-units.dxf" else units.MM)
    assert document.header.custom_vars.get("Note")


def side_widths(block: str) -> list[tuple[float, float]]:
    """Left and right edge of a lantern side in the middle of each fifth of its height."""
    document = readfile(EXAMPLES / "regatta" / "lantern.dxf")
    outline = next(
        entity
        for entity in document.blocks[block]
        if isinstance(entity, LWPolyline) and entity.dxf.layer == "Outline"
    )
    corners = [(x, y) for x, y in outline.get_points("xy")]
    edges = list(zip(corners, corners[1:] + corners[:1], strict=True))
    widths = []
    for height in (11.0, 33.0, 55.0, 77.0, 99.0):
        crossings = [a[0] for a, b in edges if min(a[1], b[1]) < height < max(a[1], b[1])]
        widths.append((min(crossings), max(crossings)))
    return widths


def test_lantern_sides_interlock_at_their_corners() -> None:
    """In every fifth of the height one side fills the corner and the other leaves it free."""
    thickness = toml(EXAMPLES / "regatta" / "materials" / "birch-plywood-3.toml")["thickness_mm"]
    full, short = (0.0, 76.0), (thickness, 76.0 - thickness)
    for sail, lattice in zip(side_widths("SIDE_SAIL"), side_widths("SIDE_LATTICE"), strict=True):
        assert {sail, lattice} == {full, short}


@pytest.mark.parametrize("block", ["TAB_SLOT", "FOOT_SLOT", "HANDLE_SLOT"])
def test_lantern_slots_are_as_wide_as_the_sheet_is_thick(block: str) -> None:
    thickness = toml(EXAMPLES / "regatta" / "materials" / "birch-plywood-3.toml")["thickness_mm"]
    document = readfile(EXAMPLES / "regatta" / "lantern.dxf")
    (slot,) = document.blocks[block]
    assert isinstance(slot, LWPolyline)
    heights = [y for _, y in slot.get_points("xy")]
    assert max(heights) - min(heights) == thickness


def test_lantern_has_the_flaws_that_repair_is_shown_with() -> None:
    """Ends that stop up to 0.05 mm short, and a line that is there twice."""
    document = readfile(EXAMPLES / "regatta" / "lantern.dxf")
    foot = [
        frozenset((tuple(line.dxf.start), tuple(line.dxf.end)))
        for line in document.blocks["FOOT_BELOW"].query("LINE")
    ]
    assert len(foot) - len(set(foot)) == 1
    base = document.blocks["BASE"]
    lines = [line for line in base.query("LINE") if line.dxf.layer == "Outline"]
    arcs = [entity for entity in base if isinstance(entity, Arc)]
    arc_ends = [point for arc in arcs for point in (arc.start_point, arc.end_point)]
    gaps = [
        min(point.distance(end) for end in arc_ends)
        for line in lines
        for point in (line.dxf.start, line.dxf.end)
    ]
    assert 0.01 < max(gaps) < 0.05
