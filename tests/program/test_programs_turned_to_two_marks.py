"""A program is turned and moved to two marks read on the bed, and proven again where it burns."""

from __future__ import annotations

import hashlib
import json
import math
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from scipy.spatial.transform import Rotation
from typer.testing import CliRunner

import worked_sheets as worked
from kerfwright.cli import app
from kerfwright.errors import KerfwrightError
from kerfwright.output import reburn
from kerfwright.output.files import proof_name
from kerfwright.output.proof_file import proof_text
from kerfwright.output.registered import registered, two_points
from kerfwright.program.burned import burns_of
from kerfwright.program.interpreter import interpret
from kerfwright.program.registration import (
    Pair,
    Registration,
    registration_of,
    turned_toolpath,
    turning_faults,
)
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath, join, moves_along
from small_shop import BOARD, OUTLINE, SmallShop, run

PHOTO = """
[[recipes]]
machine = "trial machine"
process = "photo"
speed_mm_s = 200
power = 0.5
interval_mm = 0.25
method = "power"
power_min = 0.1
grey_curve = [[0.1, 0], [0.2, 0.5], [0.5, 1]]
"""

PROGRAM = "01-board-offcut.nc"
PLAIN = next(iter(worked.PROGRAMS))

MARKS: Pair = ((2.0, 2.0), (82.0, 42.0))


def folder_of(folder: Path, name: str) -> Path:
    text = "".join(f"{line}\n" for line in worked.lines(name))
    (folder / PROGRAM).write_text(text, encoding="ascii")
    proof = proof_text(worked.sheet(name), worked.machine(name), Counter())
    (folder / proof_name(PROGRAM)).write_text(proof, encoding="utf-8")
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    record = {"number": 1, "program": PROGRAM, "program_sha256": sha256}
    (folder / "plan.json").write_text(json.dumps({"sheets": [record]}), encoding="utf-8")
    return folder


def turned(degrees: float, x: float, y: float) -> Registration:
    """The registration of marks that were turned about the zero and then moved."""
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    read = np.array(MARKS) @ turn.T + [x, y]
    first, second = read.tolist()
    return registration_of(MARKS, (tuple(first), tuple(second)), tolerance_mm=0.01)


POINTS = st.tuples(st.floats(-500, 500), st.floats(-500, 500))


@given(
    first=POINTS,
    second=POINTS,
    degrees=st.floats(-180, 180),
    shift=POINTS,
    error=st.floats(-0.2, 0.2),
)
def test_the_transform_is_that_of_least_squares(
    first: tuple[float, float],
    second: tuple[float, float],
    degrees: float,
    shift: tuple[float, float],
    error: float,
) -> None:
    """Against scipy's Rotation.align_vectors (the method of Kabsch, 1976)."""
    marks = np.array([first, second])
    along = marks[1] - marks[0]
    apart = np.hypot(*along)
    if apart < 20.0:
        return
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    longer = np.vstack([[0.0, 0.0], error * along / apart])
    read = (marks + longer) @ turn.T + shift
    found = registration_of((first, second), (tuple(read[0]), tuple(read[1])), tolerance_mm=0.3)
    # a third vector upright keeps the turn in the plane
    middles = marks.mean(axis=0), read.mean(axis=0)
    flat = [
        np.column_stack([pair - middle, [0, 0]])
        for pair, middle in zip((marks, read), middles, strict=True)
    ]
    lifted = [np.vstack([pair, [0, 0, apart]]) for pair in flat]
    wanted, _ = Rotation.align_vectors(lifted[1], lifted[0])
    points = np.array([[0.0, 0.0], [300.0, 0.0], [0.0, 200.0]])
    theirs = wanted.apply(np.column_stack([points - middles[0], np.zeros(3)]))[:, :2] + middles[1]
    assert np.allclose(found.transform.apply(points), theirs, atol=1e-6)
    assert found.apart_mm == pytest.approx(error, abs=1e-9)
    assert found.transform.determinant == pytest.approx(1.0)


@pytest.mark.parametrize("name", worked.PROGRAMS)
@pytest.mark.parametrize("degrees", [1.7, -90.0])
def test_every_kind_of_program_is_proven_where_it_lies(
    name: str, degrees: float, tmp_path: Path
) -> None:
    written = reburn.read_sheet(folder_of(tmp_path, name), 1)
    bed = {"bed_width_mm": 400.0, "bed_height_mm": 400.0}
    even = {kind: _even(getattr(written.machine, kind)) for kind in ("scanning", "cutting")}
    machine = written.machine.model_copy(update=bed | even)
    moved = reburn.WrittenSheet(
        written.sheet, machine, written.instances, written.text, written.program
    )
    found = turned(degrees, 60.0, 180.0)
    excerpt = registered(moved, found)
    before = burns_of(written.program).ends.reshape(-1, 2)
    after = burns_of(interpret(excerpt.text.splitlines(), machine)).ends.reshape(-1, 2)
    wanted = found.transform.apply(before)
    away = np.linalg.norm(after[:, None, :] - wanted[None, ::7, :], axis=2).min(axis=0)
    assert away.max() < 0.05
    assert excerpt.time_s > 0.0
    arcs = sum(line.startswith(("G2 ", "G3 ")) for line in written.text)
    again = sum(line.startswith(("G2 ", "G3 ")) for line in excerpt.text.splitlines())
    assert (arcs == 0) == (again == 0)
    assert again <= arcs * 1.2


def _even(one: object) -> object:
    """The same limits for both axes, so that no direction is slower."""
    speed = max(one.speed_mm_s)  # type: ignore[attr-defined]
    return one.model_copy(  # type: ignore[attr-defined]
        update={
            "speed_mm_s": (speed, speed),
            "acceleration_mm_s2": (max(one.acceleration_mm_s2),) * 2,  # type: ignore[attr-defined]
        }
    )


def test_a_program_that_leaves_the_bed_is_not_written(tmp_path: Path) -> None:
    written = reburn.read_sheet(folder_of(tmp_path, PLAIN), 1)
    with pytest.raises(reburn.UnprovenExcerptError, match="outside the bed"):
        registered(written, turned(20.0, -30.0, 0.0))


def row(speed: float, run_up: float) -> Toolpath:
    """One engraving row along x with its run-up."""
    ends = np.array([[run_up, 0.0], [run_up + 50.0, 0.0], [2 * run_up + 50.0, 0.0]])
    kinds = (MoveKind.RUN_UP, MoveKind.ROW, MoveKind.RUN_UP)
    return Toolpath(
        join(
            moves_along(
                end[None], kind=kind, speed_mm_s=speed, power=0.4 * (kind == MoveKind.ROW), source=0
            )
            for end, kind in zip(ends, kinds, strict=True)
        )
    )


def uneven(make_machine: object) -> Machine:
    return make_machine(  # type: ignore[operator, no-any-return]
        scanning={"speed_mm_s": [500.0, 200.0], "acceleration_mm_s2": [10000.0, 2000.0]}
    )


def test_a_row_that_an_axis_would_hold_back_is_told(make_machine: object) -> None:
    """The y axis does 200 mm/s, so 500 mm/s are held back from asin(200/500) = 23.6° on."""
    machine, path = uneven(make_machine), row(500.0, 20.0)
    for degrees, faults in ((23.0, False), (24.5, True)):
        after = turned_toolpath(path, turned(degrees, 0.0, 0.0).transform)
        told = turning_faults(path, after, machine)
        assert any("held back" in fault for fault in told) == faults


def test_a_run_up_that_becomes_too_short_is_told(make_machine: object) -> None:
    """v²/(2a) at 150 mm/s: 1.125 mm along x; along 45° a = 2000·√2, so 3.98 mm."""
    machine = uneven(make_machine)
    for run_up, faults in ((4.0, False), (3.9, True)):
        path = row(150.0, run_up)
        after = turned_toolpath(path, turned(45.0, 0.0, 0.0).transform)
        told = turning_faults(path, after, machine)
        assert any("too short" in fault for fault in told) == faults


@pytest.mark.parametrize(
    ("marks", "read", "code"),
    [
        ("0,0 100,0", "0,0 100.4,0", "program/marks-differ"),
        ("0,0 9,0", "0,0 9,0", "program/marks-too-near"),
        ("0,0 100", "0,0 100,0", "program/marks-unclear"),
        ("0,0 100,0", "0;0 100;0", "program/marks-unclear"),
        ("0,0 100,0", None, "program/what-to-write"),
    ],
)
def test_marks_that_do_not_go_together_are_refused(
    tmp_path: Path, marks: str, read: str | None, code: str
) -> None:
    folder_of(tmp_path, PLAIN)
    out = tmp_path / "turned.nc"
    words = ["program", str(tmp_path), "--sheet", "1", "--out", str(out), "--marks", marks]
    ran = CliRunner().invoke(app, words + (["--read", read] if read else []))
    assert (ran.exit_code, code in ran.stderr, out.exists()) == (2, True, False)


def test_the_command_writes_the_turned_program(tmp_path: Path) -> None:
    folder_of(tmp_path, PLAIN)
    out = tmp_path / "turned.nc"
    words = ["program", tmp_path, "--sheet", 1, "--out", out]
    words += ["--marks", "2,2 82,42", "--read", "2.5,2.2 82.5,42.2"]
    ran = CliRunner().invoke(app, [str(word) for word in words])
    assert ran.exit_code == 0, ran.stderr
    assert "turned by 0.000°" in ran.stdout
    assert "(Turned: 0.0000 degrees and moved by X0.500 Y0.200)" in out.read_text("ascii")


def test_two_points_are_read_as_they_are_typed() -> None:
    assert two_points(" -1.5,.5  20,+3. ", "--marks") == ((-1.5, 0.5), (20.0, 3.0))
    with pytest.raises(KerfwrightError, match="two points"):
        two_points("1,2 3,nan", "--marks")


def test_a_photo_is_proven_where_it_lies(tmp_path: Path) -> None:
    shop = SmallShop(tmp_path)
    grey = np.tile(np.linspace(0, 255, 60, dtype=np.uint8), (40, 1))
    Image.fromarray(grey).save(tmp_path / "shade.png")
    shop.write("board.toml", BOARD + PHOTO)
    shop.draw(f'{OUTLINE}<image x="5" y="5" width="24" height="16" href="shade.png"/>')
    assert shop.plan().exit_code == 0
    words = ["program", shop.out, "--sheet", 1, "--out", tmp_path / "turned.nc"]
    ran = run(*words, "--marks", "0,0 80,40", "--read", "50,30 129.2,71.6")
    assert ran.exit_code == 0, ran.stderr
    assert "turned by 1.146°" in ran.stdout
