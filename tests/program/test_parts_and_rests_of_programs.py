"""One part of a sheet again, and what is left of an interrupted sheet: proven programs."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from shapely import MultiPolygon
from typer.testing import CliRunner

import planned_square as tile
import worked_sheets as worked
from kerfwright.cli import app
from kerfwright.errors import KerfwrightError
from kerfwright.output import reburn
from kerfwright.output.files import proof_name
from kerfwright.output.gcode_resume import resumed_lines
from kerfwright.output.proof_file import proof_text, read_proof
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.program.excerpt import rest_faults
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import MoveKind, join

ALL = pytest.mark.parametrize("name", worked.PROGRAMS)
PROGRAM = "01-board-offcut.nc"


def folder_of(folder: Path, sheet: PlannedSheet, machine: Machine, lines: list[str]) -> Path:
    """A folder as a plan leaves it."""
    text = "".join(f"{line}\n" for line in lines)
    (folder / PROGRAM).write_text(text, encoding="ascii")
    proof = proof_text(sheet, machine, Counter())
    (folder / proof_name(PROGRAM)).write_text(proof, encoding="utf-8")
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    record = {"number": 1, "program": PROGRAM, "program_sha256": sha256}
    (folder / "plan.json").write_text(json.dumps({"sheets": [record]}), encoding="utf-8")
    return folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    name = "laser mode, everything"
    return folder_of(tmp_path, worked.sheet(name), worked.machine(name), list(worked.lines(name)))


def written(name: str, tmp_path: Path) -> reburn.WrittenSheet:
    lines = list(worked.lines(name))
    folder_of(tmp_path, worked.sheet(name), worked.machine(name), lines)
    return reburn.read_sheet(tmp_path, 1)


def burned_mm(program: Program) -> float:
    return float(program.toolpath.lengths_mm[program.toolpath.moves["power"] > 0.0].sum())


def followed(excerpt: reburn.Excerpt, machine: Machine) -> Program:
    return interpret(excerpt.text.splitlines(), machine)


@ALL
def test_what_a_program_is_proven_against_is_kept_bit_for_bit(name: str, tmp_path: Path) -> None:
    sheet, machine = worked.sheet(name), worked.machine(name)
    file = tmp_path / "sheet.proof.json"
    file.write_text(proof_text(sheet, machine, Counter()), encoding="utf-8")
    again, same_machine, instances = read_proof(file)
    assert same_machine == machine
    assert instances == (1, 1)
    assert again.recipes == sheet.recipes
    assert again.intended.area.equals_exact(sheet.intended.area, 0.0)
    assert again.intended.tabs == sheet.intended.tabs
    for one, other in zip(again.intended.cuts, sheet.intended.cuts, strict=True):
        assert one.points.tolist() == other.points.tolist()
        assert one.closed == other.closed


@ALL
def test_every_part_is_made_again_alone(name: str, tmp_path: Path) -> None:
    sheet = written(name, tmp_path)
    assert sheet.part_names == ["clasp#1", "lid#1"]
    alone = [followed(reburn.one_part(sheet, part), sheet.machine) for part in sheet.part_names]
    # what one part burns and what the other burns is the sheet
    whole = burned_mm(sheet.program)
    assert sum(burned_mm(one) for one in alone) == pytest.approx(whole, rel=1e-3)
    clasp, lid = (one.toolpath.points[1:][one.toolpath.moves["power"] > 0.0] for one in alone)
    assert clasp[:, 0].max() < 45.0 < lid[:, 0].min()


def test_parts_come_in_the_planned_order_and_with_all_that_their_cuts_have(tmp_path: Path) -> None:
    sheet = written("plain, everything", tmp_path)
    text = reburn.one_part(sheet, "lid").text
    assert "(Only part: lid, number 1)" in text
    assert text.count("G4 P0.3") == 2
    assert text.count("G0 Z-0.5") == 2
    assert text.rstrip().endswith("M5 S0\nM9\nM2\n%")


def test_the_air_blows_on_over_the_gap_of_a_holding_tab(tmp_path: Path) -> None:
    sheet = written("plain, everything", tmp_path)
    for part in sheet.part_names:
        lines = reburn.one_part(sheet, part).text.splitlines()
        assert lines.count("M8") == 1
        assert lines.count("M9") == 1


def test_a_program_that_steps_the_focus_begins_on_the_surface(tmp_path: Path) -> None:
    """A controller stopped in the second pass still stands at that height."""
    sheet = written("laser mode, everything", tmp_path)
    rest = reburn.rest_from_line(sheet, len(sheet.text) - 12)
    for text in (reburn.one_part(sheet, "lid").text, rest.text):
        code = [line for line in text.splitlines() if not line.startswith("(")]
        first = next(k for k, line in enumerate(code) if "X" in line or "Y" in line)
        assert "G0 Z0" in code[:first]


def shared_pair(tmp_path: Path, dialect: Dialect) -> reburn.WrittenSheet:
    """Two squares a kerf apart: one cut for both their inner edges, one move along both below."""
    left = [(10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0)]
    right = [(x + 20.0 + tile.KERF, y) for x, y in left]
    around = [(9.9, 9.9), (50.3, 9.9), (50.3, 30.1), (9.9, 30.1), (9.9, 9.9)]
    edge = [(30.1, 9.9), (30.1, 30.1)]
    cuts = [tile.burn(line, MoveKind.CUT, tile.CUT) for line in (edge, around)]
    parts = tuple(
        worked.Part(name="square", drawing="", outline=tile.closed(points))
        for points in (left, right)
    )
    sheet = tile.sheet(
        join(cuts),
        parts=parts,
        recipes={tile.Process.CUT: tile.CUT},
        intended=Intended(tuple(part.outline for part in parts), (), MultiPolygon()),
    )
    machine = tile.machine(dialect)
    lines = list(worked.gcode_lines(sheet, machine))
    return reburn.read_sheet(folder_of(tmp_path, sheet, machine, lines), 1)


@pytest.mark.parametrize("dialect", list(Dialect))
@pytest.mark.parametrize("part", ["square#1", "square#2"])
def test_a_part_that_shares_an_edge_gets_it(tmp_path: Path, dialect: Dialect, part: str) -> None:
    sheet = shared_pair(tmp_path, dialect)
    alone = followed(reburn.one_part(sheet, part), sheet.machine)
    assert burned_mm(alone) == pytest.approx(4 * 20.2, abs=0.1)


@ALL
def test_a_sheet_can_be_gone_on_with_from_any_line(name: str, tmp_path: Path) -> None:
    sheet = written(name, tmp_path)
    moves = sheet.program.toolpath.moves
    for line in range(1, len(sheet.text) - 4, 5):
        left = (sheet.program.line_of_move >= line) & (moves["power"] > 0.0)
        excerpt = reburn.rest_from_line(sheet, line)
        program = followed(excerpt, sheet.machine)
        wanted = float(sheet.program.toolpath.lengths_mm[left].sum())
        assert burned_mm(program) == pytest.approx(wanted, abs=1e-6), line
        assert program.units == "mm" and program.off_before_motion
        assert max(len(text) for text in excerpt.text.splitlines()) < 80


def test_an_engraving_row_is_entered_with_its_run_up(tmp_path: Path) -> None:
    sheet = written("laser mode", tmp_path)
    row = next(k for k, line in enumerate(sheet.text, 1) if line.endswith("S350"))
    program = followed(reburn.rest_from_line(sheet, row), sheet.machine)
    travel, run_up, burn = program.toolpath.moves[:3]
    assert travel["kind"] == MoveKind.TRAVEL
    assert run_up["kind"] == MoveKind.RUN_UP
    assert burn["power"] > 0.0
    assert abs(run_up["x_mm"] - travel["x_mm"]) > 2.0


def test_going_on_after_a_part(tmp_path: Path) -> None:
    sheet = written("laser mode, everything", tmp_path)
    rest = followed(reburn.rest_after_part(sheet, "clasp"), sheet.machine)
    burned = rest.toolpath.points[1:][rest.toolpath.moves["power"] > 0.0]
    assert burned[:, 0].min() > 45.0


@pytest.mark.parametrize(
    "spoil",
    [
        lambda lines: [line.replace("S800", "S700") for line in lines],
        lambda lines: lines[:-8] + lines[-5:],
        lambda lines: [*lines[:40], *lines[41:]],
        lambda lines: [line.replace("X58.1", "X58.2") for line in lines],
        lambda lines: [line.replace("Z-0.5", "Z-0.4") for line in lines],
        lambda lines: [line for line in lines if line != "M8"],
        lambda lines: [line.replace("P0.3", "P0.4") for line in lines],
    ],
)
def test_a_rest_that_burns_anything_else_is_found(spoil: object, tmp_path: Path) -> None:
    sheet = written("laser mode, everything", tmp_path)
    line = 1 + next(k for k, text in enumerate(sheet.text) if text == "M8")
    move = int(np.searchsorted(sheet.program.line_of_move, line))
    lines = list(resumed_lines(sheet.text, sheet.program, move, sheet.sheet, sheet.machine))
    right = interpret(lines, sheet.machine)
    assert rest_faults(right, sheet.program, move) == []
    wrong = spoil(lines)  # type: ignore[operator]
    assert wrong != lines
    try:
        assert rest_faults(interpret(wrong, sheet.machine), sheet.program, move) != []
    except KerfwrightError as refused:
        assert refused.code == "program/bad-arc"


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["--sheet", "2"], "program/no-such-sheet"),
        (["--sheet", "1", "--part", "mast", "--out", "x.nc"], "program/which-part"),
        (["--sheet", "1", "--from-line", "9999", "--out", "x.nc"], "program/nothing-left"),
        (["--sheet", "1", "--part", "lid"], "program/what-to-write"),
        (["--sheet", "1", "--out", "x.nc"], "program/what-to-write"),
        (["--sheet", "1", "--part", "lid", "--from-line", "9", "--out", "x.nc"],
         "program/what-to-write"),
    ],
)  # fmt: skip
def test_what_cannot_be_taken_is_told(folder: Path, arguments: list[str], code: str) -> None:
    ran = CliRunner().invoke(app, ["program", str(folder), *arguments])
    assert ran.exit_code == 2
    assert f"kerfwright help {code}" in ran.output
    assert not Path("x.nc").exists()


def test_a_changed_program_is_not_taken_from(folder: Path) -> None:
    file = folder / PROGRAM
    file.write_text(file.read_text().replace("S800", "S801", 1))
    with pytest.raises(KerfwrightError) as told:
        reburn.read_sheet(folder, 1)
    assert told.value.code == "program/changed"


@pytest.mark.parametrize("damage", ["", "{}", "not json", None])
def test_a_damaged_proof_is_told(folder: Path, damage: str | None) -> None:
    file = folder / proof_name(PROGRAM)
    if damage is None:
        text = json.loads(file.read_text())
        text["area"] = text["area"][:-8]
        damage = json.dumps(text)
    file.write_text(damage)
    with pytest.raises(KerfwrightError) as told:
        reburn.read_sheet(folder, 1)
    assert told.value.code == "program/no-proof"


@pytest.mark.parametrize("name", [PROGRAM, "plan.json", "drawing.svg"])
def test_nothing_but_its_own_is_written_over(folder: Path, name: str) -> None:
    (folder / "drawing.svg").write_text("<svg/>")
    before = (folder / name).read_bytes()
    ways = ["program", str(folder), "--sheet", "1", "--part", "lid", "--out"]
    ran = CliRunner().invoke(app, [*ways, str(folder / name)])
    assert ran.exit_code == 2
    assert "kerfwright help program/would-overwrite" in ran.output
    assert (folder / name).read_bytes() == before
    for _ in range(2):
        assert CliRunner().invoke(app, [*ways, str(folder / "again.nc")]).exit_code == 0


def test_the_command_tells_where_parts_lie(folder: Path) -> None:
    listed = CliRunner().invoke(app, ["program", str(folder), "--sheet", "1"]).output
    for part in worked.sheet("laser mode, everything").parts:
        x0, y0, x1, y1 = part.polygon.bounds
        (line,) = (one for one in listed.splitlines() if f"{part.name}#1" in one)
        assert line.endswith(f"x {x0:.1f} to {x1:.1f}, y {y0:.1f} to {y1:.1f} mm")


def test_the_command_writes_proven_programs(folder: Path) -> None:
    out = folder / "lid again.nc"
    ran = CliRunner().invoke(
        app, ["program", str(folder), "--sheet", "1", "--part", "lid#1", "--out", str(out)]
    )
    assert ran.exit_code == 0, ran.output
    assert "proven" in ran.output
    machine = worked.machine("laser mode, everything")
    assert burned_mm(interpret(out.read_text().splitlines(), machine)) > 200.0
    proven = CliRunner().invoke(app, ["program", str(folder), "--sheet", "1"])
    assert proven.exit_code == 0
    assert "clasp#1" in proven.output
