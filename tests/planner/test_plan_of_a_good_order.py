"""A good order: its plan, its programs, and what the order may overrule."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from kerfwright.cli import NOT_PROVEN
from kerfwright.output import sheet_writing
from kerfwright.output.gcode import program_text
from kerfwright.plan import PlannedSheet
from kerfwright.planner import plan_order
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Machine
from small_shop import ITEM, OUTLINE, STOCK, TILE, SmallShop, run, svg

SCHEMA = Path(__file__).resolve().parents[2] / "docs" / "schema" / "plan.schema.json"

TOUCHING = """\
<g id="Outline" fill="none" stroke="black">
  <rect x="1" y="1" width="20" height="20"/><rect x="21" y="1" width="20" height="20"/>
</g>
"""
"""Two squares with one edge of 20 mm in common."""

SEVERAL = STOCK.replace("count = 1", "count = 5")


def decision(document: dict[str, Any], code: str) -> dict[str, Any]:
    (found,) = (one for one in document["decisions"] if one["code"] == code)
    assert isinstance(found, dict)
    return found


def ways(found: dict[str, Any]) -> set[str]:
    return {way["way"] for way in found["alternatives"]}


def test_plan_json_is_as_its_published_schema_says(shop: SmallShop) -> None:
    shop.order(item="quantity = 8", stock=SEVERAL)
    document = shop.planned()
    schema = json.loads(SCHEMA.read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert list(Draft202012Validator(schema).iter_errors(document)) == []


def test_plan_json_has_sheets_totals_decisions_and_findings(planned: SmallShop) -> None:
    document = planned.document()
    (sheet,) = document["sheets"]
    assert sheet["material"] == "board"
    assert sheet["sheet"] == "offcut"
    assert (sheet["width_mm"], sheet["height_mm"]) == (120.0, 100.0)
    assert sheet["parts_placed"] == 1
    # the tile without its hole, over the sheet: (40 · 30 − 9π) / (120 · 100)
    assert sheet["used_fraction"] == pytest.approx(0.0976, abs=2e-4)
    assert 0.0 < sheet["burn_s"] < sheet["time_s"]
    assert 0.0 < sheet["travel_s"] < sheet["time_s"]
    engraving = decision(document, "engraving/ways")
    assert ways(engraving) == {"scan", "contour-parallel", "mixed"}
    timed = [way["time_s"] for way in engraving["alternatives"] if way["time_s"] is not None]
    assert len(timed) >= 2 and min(timed) > 0.0
    assert engraving["override"].startswith("engrave_layers = {")
    (guide,) = (one for one in document["findings"] if one["code"] == "parts/guides")
    assert guide["drawing"] == "tile.svg"


def test_fastest_way_is_chosen(planned: SmallShop) -> None:
    engraving = decision(planned.document(), "engraving/ways")
    ways_computed = engraving["alternatives"]
    times = {way["way"]: way["time_s"] for way in ways_computed if way["time_s"] is not None}
    assert engraving["chosen"] == min(times, key=lambda way: times[way])


def test_totals_are_the_sums_over_the_sheets(shop: SmallShop) -> None:
    shop.order(item="quantity = 8", stock=SEVERAL)
    document = shop.planned()
    sheets, totals = document["sheets"], document["totals"]
    assert len(sheets) > 1
    for key in ("time_s", "burn_s", "travel_s", "wait_s"):
        # every number is rounded to a millisecond by itself
        assert totals[key] == pytest.approx(sum(sheet[key] for sheet in sheets), abs=2e-3)
        assert totals["time_s"] == pytest.approx(
            totals["burn_s"] + totals["travel_s"] + totals["wait_s"], abs=2e-3
        )
    assert totals["parts"] == sum(sheet["parts_placed"] for sheet in sheets) == 8
    assert sum(len(sheet["parts"]) for sheet in sheets) == 8


def test_json_option_prints_plan_json_and_nothing_else(shop: SmallShop) -> None:
    ran = shop.plan("--json")
    assert ran.exit_code == 0
    assert json.loads(ran.stdout) == shop.document()


def test_summary_says_how_much_how_long_and_where(shop: SmallShop) -> None:
    ran = shop.plan()
    assert ran.exit_code == 0
    assert "1 part on 1 sheet" in ran.stdout
    assert "trial machine" in ran.stdout
    assert "ticket.html" in ran.stdout
    assert f"  {shop.document()['sheets'][0]['program']}  (" in ran.stdout
    assert "Test every setting" in ran.stdout


def test_every_file_named_is_there(planned: SmallShop) -> None:
    for sheet in planned.document()["sheets"]:
        for key in ("program", "layout_svg", "layout_dxf"):
            assert (planned.out / sheet[key]).stat().st_size > 0
    assert (planned.out / "ticket.html").is_file()
    assert not list(planned.out.glob(".unfinished-*"))


@pytest.mark.parametrize("dialect", ["grbl-type", "rs274-ngc"])
def test_programs_on_disk_are_proven_again(shop: SmallShop, dialect: str) -> None:
    """Against a plan made anew: the same seed gives the same layout of one part."""
    shop.change("machine.toml", "grbl-type", dialect)
    (name,) = (sheet["program"] for sheet in shop.planned()["sheets"])
    plan = plan_order(shop.order_file)
    with (shop.out / name).open(encoding="ascii") as lines:
        program = interpret(lines, plan.machine, name)
    assert verify(program, plan.sheets[0], plan.machine) == ()


@pytest.mark.parametrize("dialect", ["grbl-type", "rs274-ngc"])
def test_simulated_program_takes_the_time_of_the_plan(shop: SmallShop, dialect: str) -> None:
    """Read back as any program would be. What differs is rounding: coordinates to 0.001 mm,
    feeds to 0.01 mm/min, and short moves that vanish or run into one another by it."""
    shop.change("machine.toml", "grbl-type", dialect)
    (sheet,) = shop.planned()["sheets"]
    machine = shop.folder / "machine.toml"
    ran = run("simulate", shop.out / sheet["program"], "--machine", machine, "--json")
    assert ran.exit_code == 0
    simulated = json.loads(ran.stdout)
    for key in ("time_s", "burn_s", "travel_s"):
        assert simulated[key] == pytest.approx(sheet[key], rel=0.02, abs=0.01)


def test_simulation_reads_for_people_too(planned: SmallShop) -> None:
    (sheet,) = planned.document()["sheets"]
    ran = run(
        "simulate", planned.out / sheet["program"], "--machine", planned.folder / "machine.toml"
    )
    assert ran.exit_code == 0
    assert "on trial machine" in ran.stdout
    assert "rows" in ran.stdout


def test_guides_never_reach_a_program(planned: SmallShop) -> None:
    """The program is the same, word for word, when the guide is not in the drawing at all."""
    with_guide = planned.programs()
    without, guide, _ = TILE.partition('<g id="Guides"')
    assert guide
    planned.write("tile.svg", svg(without))
    document = planned.planned()
    assert not [one for one in document["findings"] if one["code"] == "parts/guides"]
    assert planned.programs() == with_guide


def test_guide_that_a_rule_scores_does_reach_the_program(planned: SmallShop) -> None:
    before = planned.programs()
    planned.order(item='[[items.rules]]\nlayer = "Guides"\nprocess = "score"')
    planned.planned()
    assert planned.programs() != before


def test_same_seed_gives_the_same_programs(planned: SmallShop) -> None:
    first = planned.programs()
    planned.out = planned.folder / "again"
    planned.planned()
    assert first
    assert planned.programs() == first


@pytest.mark.parametrize("way", ["scan", "contour-parallel"])
@pytest.mark.parametrize("where", ["item", "settings"])
def test_order_overrules_the_way_of_engraving(shop: SmallShop, way: str, where: str) -> None:
    shop.order(**{where: f'engrave = "{way}"'})
    found = decision(shop.planned(), "engraving/ways")
    assert found["chosen"] == way
    assert found["why"] == "the order asks for it"
    assert ways(found) == {"scan", "contour-parallel", "mixed"}
    assert f'"{way}"' not in found["override"]


def test_shared_edge_is_cut_once_unless_the_order_says_otherwise(shop: SmallShop) -> None:
    shop.draw(TOUCHING, item='place = "as-drawn"')
    together = decision(shop.planned(), "cutting/shared-edges")
    shop.draw(TOUCHING, item='place = "as-drawn"', settings="shared_edges = false")
    separate = decision(shop.planned(), "cutting/shared-edges")
    assert together["chosen"] == "cut once"
    assert "shared_edges = false" in together["override"]
    assert separate["chosen"] == "each part by itself"
    assert "shared_edges = true" in separate["override"]
    # both ways are computed whichever is chosen, and come to the same
    assert together["alternatives"] == separate["alternatives"]


def test_parts_that_meet_at_corners_may_be_cut_one_by_one(shop: SmallShop) -> None:
    """Edges that end on other edges, as in a mosaic."""
    tiles = [(1, 1, 12, 9), (13, 1, 10, 14), (1, 10, 12, 12), (13, 15, 10, 7), (23, 1, 8, 21)]
    rectangles = "".join(
        f'<rect x="{x}" y="{y}" width="{width}" height="{height}"/>'
        for x, y, width, height in tiles
    )
    shop.draw(
        f'<g id="Outline" fill="none" stroke="black">{rectangles}</g>',
        item='place = "as-drawn"',
        settings="shared_edges = false",
    )
    document = shop.planned()
    assert document["totals"]["parts"] == len(tiles)
    assert decision(document, "cutting/shared-edges")["chosen"] == "each part by itself"


def test_each_part_cut_by_itself_burns_the_shared_edge_twice(shop: SmallShop) -> None:
    """Two squares of 20 mm: 2 · 80 mm of edge apart and 140 mm together, kerf aside."""
    shop.draw(TOUCHING, item='place = "as-drawn"', settings="shared_edges = false")
    found = decision(shop.planned(), "cutting/shared-edges")
    lengths = {way["way"]: way["length_mm"] for way in found["alternatives"]}
    assert lengths["cut once"] == pytest.approx(140.0, abs=1.5)
    assert lengths["each part by itself"] == pytest.approx(160.0, abs=2.0)


def test_order_keeps_a_drawing_as_drawn(shop: SmallShop) -> None:
    shop.draw(TOUCHING, item='place = "as-drawn"')
    document = shop.planned()
    found = decision(document, "nesting/placing")
    assert found["chosen"] == "as-drawn"
    assert found["why"] == "the order asks for it"
    assert 'place = "nest"' in found["override"]
    assert ways(found) == {"nest", "as-drawn"}
    one, other = document["sheets"][0]["parts"]
    apart = sorted((abs(one["x_mm"] - other["x_mm"]), abs(one["y_mm"] - other["y_mm"])))
    assert apart == pytest.approx([0.0, 20.0], abs=2e-3)


def test_where_the_sheets_tie_the_machines_time_decides(shop: SmallShop) -> None:
    """Edge to edge as drawn one cut parts both squares; nested, each is cut by itself."""
    shop.draw(TOUCHING)
    found = decision(shop.planned(), "nesting/placing")
    assert found["chosen"] == "as-drawn"
    assert 'place = "nest"' in found["override"]
    times = {way["way"]: way["time_s"] for way in found["alternatives"]}
    assert set(times) == {"nest", "as-drawn", "compact"}
    assert times["as-drawn"] == min(times.values())
    assert found["saved_s"] > 0.0


def test_cut_of_a_part_without_margin_stays_on_the_sheet(shop: SmallShop) -> None:
    """The beam runs half a kerf outside the part, so the part keeps that much from the edge."""
    shop.order(settings="margin_mm = 0")
    (part,) = shop.planned()["sheets"][0]["parts"]
    assert part["x_mm"] >= 0.1 - 1e-9
    assert part["y_mm"] >= 0.1 - 1e-9


def test_files_of_an_earlier_plan_go_and_all_others_stay(shop: SmallShop) -> None:
    shop.order(item="quantity = 8", stock=SEVERAL)
    assert len(shop.planned()["sheets"]) > 1
    (shop.out / "help" / "own.txt").write_text("mine", encoding="utf-8")
    (shop.out / "99-own.nc").write_text("M2\n", encoding="ascii")
    (shop.out / "notes").mkdir()
    (shop.out / "notes" / "own.txt").write_text("mine", encoding="utf-8")
    shop.order(stock=SEVERAL)
    document = shop.planned()
    (sheet,) = document["sheets"]
    assert {path.name for path in shop.out.glob("*.nc")} == {sheet["program"], "99-own.nc"}
    assert {path.name for path in shop.out.glob("*.dxf")} == {sheet["layout_dxf"]}
    assert (shop.out / "help" / "own.txt").read_text("utf-8") == "mine"
    assert (shop.out / "notes" / "own.txt").read_text("utf-8") == "mine"


@pytest.mark.parametrize("name", ["..", "../board.toml", "", "own.txt", 7, None])
def test_foreign_plan_json_makes_nothing_else_go(shop: SmallShop, name: object) -> None:
    shop.out.mkdir()
    (shop.out / "own.txt").write_text("mine", encoding="utf-8")
    sheet = {"program": name, "layout_svg": name, "layout_dxf": name}
    (shop.out / "plan.json").write_text(json.dumps({"sheets": [sheet]}), encoding="utf-8")
    shop.planned()
    assert (shop.out / "own.txt").read_text("utf-8") == "mine"
    assert (shop.folder / "board.toml").is_file()


def drop_a_burning_line(sheet: PlannedSheet, machine: Machine) -> str:
    """A writer that loses one line of a cut."""
    lines = program_text(sheet, machine).splitlines(keepends=True)
    del lines[-4]
    return "".join(lines)


def test_program_that_is_not_proven_is_not_kept(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shop.files()
    monkeypatch.setattr(sheet_writing, "program_text", drop_a_burning_line)
    ran = shop.plan()
    assert ran.exit_code == NOT_PROVEN == 3
    assert "01-board-offcut.nc: the program failed verification" in ran.told
    assert "cut line" in ran.told
    assert ran.stdout == ""
    assert "Traceback" not in ran.stderr
    assert run("help", "verification/program-not-proven").exit_code == 0
    assert shop.files() == before


def test_program_that_is_not_proven_leaves_no_earlier_one_to_burn_by_mistake(
    planned: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    (planned.out / "own.txt").write_text("mine", encoding="utf-8")
    monkeypatch.setattr(sheet_writing, "program_text", drop_a_burning_line)
    assert planned.plan().exit_code == NOT_PROVEN
    assert not list(planned.out.glob("*.nc"))
    assert not (planned.out / "plan.json").exists()
    assert (planned.out / "own.txt").is_file()


def test_one_unproven_sheet_of_several_keeps_the_others_back_too(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def drop_on_last(sheet: PlannedSheet, machine: Machine) -> str:
        return (program_text if sheet.number == 1 else drop_a_burning_line)(sheet, machine)

    shop.order(item="quantity = 8", stock=SEVERAL)
    monkeypatch.setattr(sheet_writing, "program_text", drop_on_last)
    ran = shop.plan()
    assert ran.exit_code == NOT_PROVEN
    assert "02-board-offcut.nc" in ran.told
    assert not shop.out.exists()


def test_two_items_of_one_name_keep_their_own_parts(shop: SmallShop) -> None:
    shop.write("disc.svg", svg('<circle cx="20" cy="15" r="9" fill="none" stroke="black"/>'))
    items = "".join(
        ITEM.format(drawing=name) + 'name = "token"\n' for name in ("tile.svg", "disc.svg")
    )
    shop.order(items=items)
    parts = shop.planned()["sheets"][0]["parts"]
    assert {(part["drawing"], part["instance"]) for part in parts} == {
        ("tile.svg", 1),
        ("disc.svg", 2),
    }


@pytest.mark.parametrize("way", ["scan", "contour-parallel"])
def test_engraving_faster_than_the_slower_axis_is_planned_and_proven(
    shop: SmallShop, way: str
) -> None:
    # each axis holds its own share of a move back; the program asks for the recipe's speed
    shop.change("machine.toml", "speed_mm_s = [1000, 1000]", "speed_mm_s = [700, 300]")
    shop.change("board.toml", "speed_mm_s = 400", "speed_mm_s = 650")
    shop.order(settings=f'engrave = "{way}"\n')
    assert decision(shop.planned(), "engraving/ways")["chosen"] == way


TWO_LAYERS = """\
<g id="Outline" fill="none" stroke="black"><rect x="1" y="1" width="40" height="30"/></g>
<g id="Engrave left"><rect x="4" y="8" width="14" height="9"/></g>
<g id="Engrave right"><rect x="22" y="8" width="14" height="9"/></g>
"""


def test_one_layer_is_overruled_as_its_decision_says_and_the_other_is_not(shop: SmallShop) -> None:
    shop.draw(TWO_LAYERS)
    before = {one["what"]: one for one in shop.planned()["decisions"]}
    left, right = sorted(before)
    key, _, _ = before[left]["override"].partition(" in the [[items]]")
    shop.draw(TWO_LAYERS, item=key)
    after = {one["what"]: one for one in shop.planned()["decisions"]}
    assert after[left]["chosen"] != before[left]["chosen"]
    assert after[left]["why"] == "the order asks for it"
    assert after[right]["chosen"] == before[right]["chosen"]


@pytest.mark.parametrize("under", ['width="14" height="9"', 'width="7" height="9"'])
def test_a_layer_under_another_is_burned_once_and_told(shop: SmallShop, under: str) -> None:
    shop.draw(
        f"""{OUTLINE}
<g id="Engrave first"><rect x="18" y="8" width="14" height="9"/></g>
<g id="Engrave second"><rect x="18" y="8" {under}/></g>"""
    )
    document = shop.planned()
    (told,) = (one for one in document["findings"] if one["code"] == "engraving/layers-overlap")
    assert "Engrave second" in told["what"]
    engraving = decision(document, "engraving/ways")
    assert "Engrave first" in engraving["what"]
