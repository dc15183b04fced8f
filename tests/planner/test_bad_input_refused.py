"""Input that cannot be planned: one plain message, exit code 2, nothing written."""

from __future__ import annotations

import os
import re
from collections.abc import Callable

import pytest
from ezdxf.filemanagement import new

from kerfwright.cli import BAD_INPUT
from small_shop import ITEM, OUTLINE, STOCK, TILE, Ran, SmallShop, run, svg

RECTANGLE = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]

SCORE_RECIPE = """\
[[recipes]]
machine = "trial machine"
process = "score"
speed_mm_s = 120
power = 0.14
"""

XML_BOMB = """\
<?xml version="1.0"?>
<!DOCTYPE svg [
  <!ENTITY a "aaaaaaaaaaaaaaaa">
  <!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
  <!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">
]>
<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm"><desc>&c;</desc></svg>
"""

EXTERNAL_ENTITY = """\
<?xml version="1.0"?>
<!DOCTYPE svg [<!ENTITY other SYSTEM "board.toml">]>
<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm"><desc>&other;</desc></svg>
"""


def assert_told(ran: Ran, code: str, *words: str) -> None:
    """One message that has the words and ends with its help page, which can be shown."""
    assert ran.exit_code == BAD_INPUT, ran
    assert "Traceback" not in ran.stderr + ran.stdout
    assert ran.stdout == ""
    message, more, after = ran.told.partition("  More: kerfwright help ")
    assert more
    assert after == f"{code}\n"
    for word in words:
        assert word in message
    shown = run("help", code)
    assert shown.exit_code == 0
    assert len(shown.stdout.split()) > 10


def assert_refused(shop: SmallShop, code: str, *words: str) -> str:
    """Planning is refused and leaves every file of the shop as it was, and no other."""
    before = shop.files()
    ran = shop.plan()
    assert_told(ran, code, *words)
    assert shop.files() == before
    return ran.told


@pytest.mark.parametrize(
    ("gone", "code"),
    [
        ("order.toml", "order/file-missing"),
        ("tile.svg", "order/drawing-missing"),
        ("machine.toml", "order/file-missing"),
        ("board.toml", "order/file-missing"),
    ],
)
def test_missing_file(shop: SmallShop, gone: str, code: str) -> None:
    (shop.folder / gone).unlink()
    assert_refused(shop, code, "order.toml", gone, "there is no such")


def test_missing_file_with_a_like_name_beside_it(shop: SmallShop) -> None:
    shop.order("tyle.svg")
    assert_refused(shop, "order/drawing-missing", 'There is a "tile.svg" in that folder')


def test_folder_given_as_the_order(shop: SmallShop) -> None:
    shop.order_file.unlink()
    shop.order_file.mkdir()
    assert_refused(shop, "order/file-missing", "order.toml", "directory")


def test_folder_given_as_a_drawing(shop: SmallShop) -> None:
    (shop.folder / "drawings.svg").mkdir()
    shop.order("drawings.svg")
    assert_refused(shop, "order/drawing-missing", "order.toml", "drawings.svg", "is a folder")


@pytest.mark.parametrize("name", ["order", "machine", "board"])
def test_file_that_is_no_toml(shop: SmallShop, name: str) -> None:
    shop.write(f"{name}.toml", "title: Regatta\n")
    page = "material" if name == "board" else name
    assert_refused(shop, f"{page}/not-toml", f"{name}.toml", "line 1", "title =")


@pytest.mark.parametrize(
    ("file", "old", "wrong", "nearest"),
    [
        ("order.toml", "quantity", "quantaty", "quantity"),
        ("order.toml", "nest_seconds", "nest_second", "nest_seconds"),
        ("order.toml", "[[stock]]", "[[stocks]]", "stock"),
        ("machine.toml", "settle_s", "setle_s", "settle_s"),
        ("machine.toml", "dialect", "dialekt", "dialect"),
        ("board.toml", "thickness_mm", "thicknes_mm", "thickness_mm"),
        ("board.toml", "kerf_mm", "kerf_in_mm", "kerf_mm"),
    ],
)
def test_unknown_key_is_told_with_the_nearest_valid_one(
    shop: SmallShop, file: str, old: str, wrong: str, nearest: str
) -> None:
    shop.order(item="quantity = 1")
    shop.change(file, old, wrong)
    page = {"board.toml": "material"}.get(file, file.removesuffix(".toml"))
    told = assert_refused(
        shop, f"{page}/unknown-key", file, wrong.strip("[]"), f'Did you mean "{nearest}"?'
    )
    assert len(re.findall("Did you mean", told)) == 1


def test_quantity_of_nothing(shop: SmallShop) -> None:
    shop.order(item="quantity = 0")
    assert_refused(shop, "order/out-of-range", "order.toml", "quantity", "is 0", "1 or more")


@pytest.mark.parametrize("text", ["<svg><rect", "no drawing at all"])
def test_drawing_that_is_no_xml(shop: SmallShop, text: str) -> None:
    shop.write("tile.svg", text)
    assert_refused(shop, "drawing/not-xml", "tile.svg", "not well-formed XML", "save it again")


def test_packed_drawing_cut_short(shop: SmallShop) -> None:
    """The first ten bytes are a gzip header, after RFC 1952; its data ends too soon."""
    shop.write("tile.svgz", b"\x1f\x8b\x08\0\0\0\0\0\0\x03\xb3)")
    shop.order("tile.svgz")
    assert_refused(shop, "drawing/not-xml", "tile.svgz", "damaged or cut short", "save it again")


@pytest.mark.parametrize(("text", "entity"), [(XML_BOMB, "b"), (EXTERNAL_ENTITY, "other")])
def test_entities_that_grow_or_reach_outside(shop: SmallShop, text: str, entity: str) -> None:
    shop.write("tile.svg", text)
    told = assert_refused(shop, "drawing/xml-entity", "tile.svg", f'"{entity}"', "save it again")
    assert "thickness" not in told


def test_empty_drawing(shop: SmallShop) -> None:
    shop.draw("")
    assert_refused(shop, "drawing/empty", "drawn.svg", "no line and no area", "layers are shown")


def test_empty_file(shop: SmallShop) -> None:
    shop.write("tile.svg", "")
    assert_refused(shop, "drawing/empty-file", "tile.svg", "empty", "Save the drawing again")


def test_empty_dxf(shop: SmallShop) -> None:
    new(units=4).saveas(shop.folder / "empty.dxf")
    shop.order("empty.dxf")
    assert_refused(shop, "drawing/empty", "empty.dxf", "no line and no area")


@pytest.mark.parametrize(
    ("shape", "code", "wrong"),
    [
        ('<path id="bent" d="M NaN,0 L 10,0 10,10 Z"/>', "drawing/bad-number", "NaN"),
        ('<rect id="bent" x="nan" width="9" height="9"/>', "drawing/bad-number", "nan"),
        ('<path id="bent" d="M 0,0 L 1e30,0 10,10 Z"/>', "drawing/coordinates", "1e30"),
        ('<path id="bent" d="M 0,0 L 1e6,0 10,10 Z"/>', "drawing/coordinates", "1e+03 m"),
    ],
)
def test_coordinates_that_are_no_numbers_or_huge(
    shop: SmallShop, shape: str, code: str, wrong: str
) -> None:
    shop.draw(f'<g id="Outline" fill="none" stroke="black">{shape}</g>')
    assert_refused(shop, code, "drawn.svg", '"bent"', wrong, "delete")


@pytest.mark.parametrize("far", [float("nan"), 1e30])
def test_dxf_coordinates_that_are_no_numbers_or_huge(shop: SmallShop, far: float) -> None:
    shop.draw_dxf([(0.0, 0.0), (far, 0.0), (30.0, 20.0)])
    assert_refused(shop, "drawing/coordinates", "drawn.dxf", "Outline", "Delete")


def test_dxf_without_units(shop: SmallShop) -> None:
    shop.draw_dxf(RECTANGLE, units=0)
    assert_refused(shop, "drawing/dxf-without-units", "drawn.dxf", 'unit = "mm"')


def test_dxf_without_units_is_planned_once_the_order_states_one(shop: SmallShop) -> None:
    shop.draw_dxf([(x / 10.0, y / 10.0) for x, y in RECTANGLE], units=0)
    shop.order("drawn.dxf", item='unit = "cm"')
    (part,) = shop.planned()["sheets"][0]["parts"]
    assert {part["width_mm"], part["height_mm"]} == {30.0, 20.0}


def test_text_that_is_not_outlines(shop: SmallShop) -> None:
    shop.draw(f'{OUTLINE}<g id="Engrave"><text id="berth" x="4" y="10">BERTH 7</text></g>')
    assert_refused(shop, "drawing/text", "drawn.svg", "berth", "BERTH 7", "turn text into outlines")


def test_dxf_text_that_is_not_outlines(shop: SmallShop) -> None:
    shop.draw_dxf(RECTANGLE, text="PIER 4")
    assert_refused(shop, "drawing/text", "drawn.dxf", "PIER 4", "turn text into outlines")


def test_open_line_where_a_part_is_expected(shop: SmallShop) -> None:
    path = '<path id="loose" d="M 1,1 H 40 V 30 H 1 V 5"/>'
    shop.draw(f'<g id="Outline" fill="none" stroke="black">{path}</g>')
    assert_refused(shop, "parts/open-outline", "drawn.svg", '"loose"', "4.00 mm apart", "Close")


def test_part_bigger_than_every_sheet(shop: SmallShop) -> None:
    shop.write(
        "tile.svg",
        svg('<rect id="plate" width="300" height="200" fill="none" stroke="black"/>', 300, 200),
    )
    assert_refused(
        shop,
        "nesting/part-too-big",
        "order.toml",
        '"tile" (300.0 × 200.0 mm)',
        "offcut (120 × 100 mm)",
        "larger sheet",
    )


def test_sheets_run_out(shop: SmallShop) -> None:
    shop.order(item="quantity = 40")
    told = assert_refused(shop, "nesting/out-of-sheets", "order.toml", "board", "[[stock]]")
    left = re.search(r"(\d+) × tile", told)
    assert left is not None
    assert 40 - 9 <= int(left[1]) < 40, "at most nine tiles have room by their area"


def test_missing_recipe_offers_a_test_piece_and_no_setting(shop: SmallShop) -> None:
    shop.change("board.toml", SCORE_RECIPE, "")
    told = assert_refused(
        shop, "material/recipe-missing", "board.toml", "score", "trial machine", "Burn a test piece"
    )
    assert re.search(r"\d", told.partition("board.toml")[2]) is None, "no number is offered"


def test_recipe_of_another_machine_does_not_carry_over(shop: SmallShop) -> None:
    shop.change("board.toml", 'machine = "trial machine"', 'machine = "other machine"')
    assert_refused(shop, "material/recipe-missing", "board.toml", "other machine", "test piece")


@pytest.mark.parametrize(
    ("process", "speed", "fastest"),
    [("engrave", "400", "1000"), ("score", "120", "700"), ("cut", "16", "700")],
)
def test_recipe_faster_than_the_machine(
    shop: SmallShop, process: str, speed: str, fastest: str
) -> None:
    """Lines run along both axes, so the slower one decides."""
    shop.change("machine.toml", "[1000, 1000]", "[1000, 700]")
    shop.change("board.toml", f"speed_mm_s = {speed}\n", "speed_mm_s = 1001\n")
    assert_refused(
        shop,
        "material/faster-than-machine",
        "board.toml",
        process,
        "1001 mm/s",
        f"{fastest} mm/s at most",
        "test piece",
    )


def test_drawing_with_an_ending_that_is_not_known(shop: SmallShop) -> None:
    shop.write("tile.odg", svg(TILE))
    shop.order("tile.odg")
    assert_refused(shop, "drawing/unknown-ending", "tile.odg", '".odg"', ".dxf", 'ending ".svg"')


@pytest.mark.parametrize("below", ["", "deep/deeper"])
def test_output_folder_that_is_a_file(shop: SmallShop, below: str) -> None:
    shop.write("out", "mine")
    shop.out = shop.out / below
    assert_refused(shop, "order/cannot-write", "out", "is a file", "another folder")


@pytest.mark.skipif(
    os.name == "nt" or getattr(os, "geteuid", lambda: 1)() == 0,
    reason="who may do everything may write everywhere",
)
def test_output_folder_that_may_not_be_written(shop: SmallShop) -> None:
    shop.out.mkdir(mode=0o500)
    assert_refused(shop, "order/cannot-write", "out", "may not write", "another folder")


def test_output_folder_that_the_system_refuses(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    access = os.access
    monkeypatch.setattr("os.access", lambda path, mode: path != shop.folder and access(path, mode))
    assert_refused(shop, "order/cannot-write", "out", "may not write", "another folder")


def test_disk_that_fills_up_half_way(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("kerfwright.output.sheet_writing.write_layout_dxf", full)
    assert_refused(shop, "order/cannot-write", "No space left", "has room")


@pytest.mark.parametrize(
    ("name", "make"),
    [("plan.json", lambda path: path.mkdir()), ("help", lambda path: path.write_text("mine"))],
)
def test_something_of_the_users_in_the_way(
    shop: SmallShop, name: str, make: Callable[[object], object]
) -> None:
    shop.out.mkdir()
    make(shop.out / name)
    assert_refused(shop, "order/cannot-write", "out", f'"{name}" is in the way', "another folder")


def test_every_fault_of_a_file_is_told_at_once(shop: SmallShop) -> None:
    shop.order(item='quantity = 0\nplace = "heap"', stock=STOCK.replace("count = 1", "count = -1"))
    assert_refused(
        shop, "order/out-of-range", "3 things are wrong", "quantity", "place", "stock[1].count"
    )


def test_second_of_two_drawings_is_bad(shop: SmallShop) -> None:
    shop.write("bad.svg", svg(""))
    shop.order(items=ITEM.format(drawing="tile.svg") + ITEM.format(drawing="bad.svg"))
    assert_refused(shop, "drawing/empty", "bad.svg")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("inspect", "nothing.svg"), "drawing/file-missing", "nothing.svg"),
        (("inspect", "board.toml"), "drawing/unknown-ending", ".toml"),
        (
            ("simulate", "nothing.nc", "--machine", "machine.toml"),
            "program/cannot-read",
            "nothing.nc",
        ),
        (
            ("simulate", "board.toml", "--machine", "machine.toml"),
            "program/unknown-word",
            "board.toml, line 1",
        ),
        (
            ("simulate", "board.toml", "--machine", "tile.svg"),
            "machine/not-toml",
            "tile.svg",
        ),
        (("help", "no-such-page"), "ticket/help-page-missing", "order"),
        (("help", "order/no-such-heading"), "ticket/help-page-missing", "not-toml"),
    ],
)
def test_other_commands_refuse_as_plainly(
    shop: SmallShop,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    code: str,
    said: str,
) -> None:
    monkeypatch.chdir(shop.folder)
    assert_told(run(*words), code, said)


@pytest.mark.parametrize(
    ("old", "by"),
    [("kerf_mm = 0.2", "kerf_mm = 20"), ("interval_mm = 0.25", "interval_mm = 0.001")],
)
def test_width_that_no_spot_burns_is_refused(shop: SmallShop, old: str, by: str) -> None:
    shop.change("board.toml", old, by)
    ran = shop.plan()
    assert ran.exit_code == 2
    assert "board.toml" in ran.told
    assert by in ran.told
    assert "material/implausible-width" in ran.told
    assert not shop.out.exists()


def test_interrupt_inside_a_compiled_kernel_is_told_plainly(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt as cause:
            raise SystemError("returned a result with an exception set") from cause

    monkeypatch.setattr("kerfwright.planner.plan_shop", interrupted)
    ran = shop.plan()
    assert ran.exit_code == 130
    assert ran.told == "Stopped; nothing was written.\n"
