"""Lead-ins, pierces, tabs, overcut and focus steps go through the writer and pass the proof."""

from __future__ import annotations

import numpy as np
import pytest
from cut_parts import KERF_MM, SHARING_SHEETS, circle, machine, part, recipe, rectangle
from shapely import MultiPolygon

from kerfwright.geometry.affine import translation
from kerfwright.geometry.paths import Path
from kerfwright.nesting.model import SheetSize
from kerfwright.output.gcode import program_text
from kerfwright.parts.model import Part, ScoreMark
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.sequence.beam_path import BeamPlanner, PlacedPart
from kerfwright.shop.machine import Controller, Dialect, Machine
from kerfwright.shop.material import Material
from kerfwright.toolpath import MoveKind, Process

SHEET_MM = (300.0, 250.0)

SCATTERED = [
    part(rectangle(10, 10, 40), circle(30, 30, 10.0), rectangle(11.5, 11.5, 8)),
    part(circle(90, 30, 20.0)),
    part([(120, 10), (150, 10), (150, 40), (140, 40), (140, 20), (130, 20), (130, 40), (120, 40)]),
    part(rectangle(28, 28, 5)),
]
SHEETS = SHARING_SHEETS | {"scattered": SCATTERED}

KEYS: dict[str, dict[str, object]] = {
    "pierce on the line": {"pierce_s": 0.3},
    "lead-ins": {"lead_in_mm": 3.0, "pierce_s": 0.3, "overcut_mm": 1.0},
    "arcs": {"lead_in": "arc", "lead_in_mm": 6.0, "pierce_s": 0.3, "overcut_mm": 4.0},
    "tabs": {"tab_width_mm": 0.6, "tabs": 2},
    "everything": {
        "lead_in_mm": 2.5,
        "pierce_s": 0.2,
        "overcut_mm": 2.0,
        "tab_width_mm": 0.5,
        "tab_spacing_mm": 25.0,
        "passes": 3,
        "focus_step_mm": 0.4,
    },
}


def a_machine(dialect: Dialect) -> Machine:
    return machine().model_copy(
        update={"controller": Controller(dialect=dialect), "focus_speed_mm_s": 5.0}
    )


def planned(parts: list[Part], dialect: Dialect, keys: dict[str, object]) -> PlannedSheet:
    low = np.min([one.outline.bounds_mm[:2] for one in parts], axis=0)
    moved = [one.transformed(translation(*(12.0 - low).tolist())) for one in parts]
    cut = recipe().model_copy(update=keys)
    planner = BeamPlanner(a_machine(dialect), {Process.CUT: cut}, KERF_MM / 2, shared_edges=True)
    path = planner.plan(
        [PlacedPart(one, 1, f"item {k}", (k,), lambda _: "fastest") for k, one in enumerate(moved)],
        "sheet 1",
        SHEET_MM,
    )
    return PlannedSheet(
        number=1,
        material=Material(name="board", thickness_mm=3.0, recipes=(cut,), invented=True),
        sheet=SheetSize("sheet", *SHEET_MM, 1),
        parts=tuple(moved),
        used_fraction=0.1,
        recipes={Process.CUT: cut},
        toolpath=path.toolpath,
        sources=path.sources,
        intended=Intended(
            cuts=tuple(line for one in moved for line in (one.outline, *one.holes, *one.slits)),
            scores=(),
            area=MultiPolygon(),
            tabs=path.tabs,
        ),
        times=path.times,
        times_by_process_s=path.times_by_process_s,
        merge_mm=KERF_MM / 2,
    )


@pytest.mark.parametrize("dialect", list(Dialect))
@pytest.mark.parametrize("what", KEYS)
@pytest.mark.parametrize("name", SHEETS)
def test_the_program_is_proven(name: str, what: str, dialect: Dialect) -> None:
    sheet = planned(SHEETS[name], dialect, KEYS[what])
    program = interpret(
        program_text(sheet, a_machine(dialect)).splitlines(), a_machine(dialect), "sheet.nc"
    )
    assert verify(program, sheet, a_machine(dialect)) == ()


def test_scores_run_on_their_line_whatever_the_kerf() -> None:
    mark = ScoreMark("fold", "Score", (Path(np.array([(15.0, 20.0), (45.0, 20.0)])),))
    square = part(rectangle(10, 10, 40), scores=(mark,))
    recipes = {
        Process.CUT: recipe(),
        Process.SCORE: recipe().model_copy(update={"process": "score", "kerf_mm": 0.5}),
    }
    planner = BeamPlanner(a_machine(Dialect.GRBL_TYPE), recipes, 0.0, shared_edges=True)
    placed = PlacedPart(square, 1, "square", (0,), lambda _: "fastest")
    path = planner.plan([placed], "sheet 1", SHEET_MM)
    scored = path.toolpath.moves["kind"] == MoveKind.SCORE
    assert path.toolpath.points[1:][scored][:, 1].tolist() == [20.0] * int(scored.sum())
    assert path.toolpath.lengths_mm[scored].sum() == pytest.approx(30.0)


def test_the_proof_misses_a_tab_that_is_not_cut_around() -> None:
    """It can fail: the same sheet is wrong where no tabs were wanted, or other ones."""
    with_tabs = planned(SCATTERED, Dialect.GRBL_TYPE, KEYS["tabs"])
    text = program_text(with_tabs, a_machine(Dialect.GRBL_TYPE)).splitlines()
    without = planned(SCATTERED, Dialect.GRBL_TYPE, {"tab_width_mm": 0.6})
    program = interpret(text, a_machine(Dialect.GRBL_TYPE), "sheet.nc")
    assert verify(program, without, a_machine(Dialect.GRBL_TYPE))
