"""Timed runs as programs: the beam is never on, and the moves are those of the run.

Words are those of the NIST RS274/NGC interpreter, version 3 (NISTIR 6556): M3 and M4 start a
spindle, S sets its speed, M5 stops it, G0 and G1 move, G4 waits.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from lxml import html
from tests.timed_machines import JETTY, QUAY, design, real_machine, timed

from kerfwright.errors import KerfwrightError
from kerfwright.motion.fitting import fit_machine
from kerfwright.output.fit_picture import fit_picture
from kerfwright.output.machine_file import changed_machine_text, rounded
from kerfwright.output.timing_programs import (
    BurningRunError,
    beam_off_faults,
    run_program,
    timing_sheet,
    write_runs,
)
from kerfwright.program.interpreter import interpret
from kerfwright.shop.machine import Controller, Dialect, Machine
from kerfwright.shop.readings import load_runs

PLAIN = QUAY.model_copy(update={"controller": Controller(dialect=Dialect.RS274_NGC, decimals=2)})


def words(text: str) -> list[str]:
    """Words of a program, comments taken out."""
    return re.findall(r"[A-Z][0-9.+-]+", re.sub(r"\([^)]*\)", "", text))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("timing")
    write_runs(design(QUAY.name), QUAY, target)
    return target


def test_no_program_holds_a_word_that_could_switch_the_beam_on(folder: Path) -> None:
    programs = sorted(folder.glob("*.nc"))
    assert len(programs) == len(design(QUAY.name).runs.runs)
    for path in programs:
        found = set(words(path.read_text("ascii")))
        letters = {word for word in found if word[0] not in "XYF"}
        assert letters <= {"G17", "G21", "G90", "G94", "G0", "G1", "M5", "M2", "S0"}, path.name
        assert {"M5", "M2", "S0", "G21", "G90"} <= letters


def test_every_line_is_short_ascii_and_carries_the_cautions(folder: Path) -> None:
    for path in folder.glob("*.nc"):
        lines = path.read_text("ascii").splitlines()
        assert max(map(len, lines)) <= 80
        assert sum(line.startswith("(Caution") for line in lines) >= 4
        assert any(line.startswith("(Shows") for line in lines)


@pytest.mark.parametrize("machine", [QUAY, PLAIN], ids=["grbl-type", "rs274-ngc"])
def test_programs_read_back_as_their_runs_in_both_dialects(machine: Machine) -> None:
    plan = design(QUAY.name)
    for run in plan.runs.runs:
        run = run.model_copy(update={"decimals": machine.controller.decimals})  # noqa: PLW2901
        text = run_program(run, plan.runs.start_mm, machine, "", 30.0)
        program = interpret(text.splitlines(), machine)
        assert beam_off_faults(program, run, plan.runs.start_mm, machine) == ()


@pytest.mark.parametrize(
    ("old", "new", "words_of_fault"),
    [
        ("M5 S0\nG0", "M3 S1\nG0", "switched on"),
        ("M5 S0\nG0", "M4 S0\nG0", "switched on"),
        ("M5 S0\nM2", "", "begin and end"),
        ("G21", "G20", "millimetres"),
        ("X880", "X879", "moves of the run"),
        ("X880", "X901", "leaves the bed"),
        ("G1 ", "G0 ", "moves of the run"),
    ],
)
def test_a_program_that_was_tampered_with_is_caught(
    old: str, new: str, words_of_fault: str
) -> None:
    plan = design(QUAY.name)
    run = next(one for one in plan.runs.runs if one.name == "cutting-x-860mm")
    text = run_program(run, plan.runs.start_mm, QUAY, "", 30.0)
    assert old in text
    program = interpret(text.replace(old, new).splitlines(), QUAY)
    faults = beam_off_faults(program, run, plan.runs.start_mm, QUAY)
    assert any(words_of_fault in fault for fault in faults)


def test_nothing_is_written_if_a_program_is_not_proven(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "kerfwright.output.timing_programs.beam_off_faults",
        lambda *_: ("The beam is switched on.",),
    )
    with pytest.raises(BurningRunError):
        write_runs(design(QUAY.name), QUAY, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_runs_and_readings_come_back_from_their_files(folder: Path) -> None:
    assert load_runs(folder / "readings.toml", QUAY, Path("m.toml")) == design(QUAY.name).runs
    sheet = tomllib.loads((folder / "readings.toml").read_text("utf-8"))
    names = [run.name for run in design(QUAY.name).runs.runs]
    assert [row["program"] for row in sheet["readings"]] == names
    assert all(row["seconds"] == [] for row in sheet["readings"])


def test_what_is_in_the_folder_already_is_kept(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(KerfwrightError) as caught:
        write_runs(design(QUAY.name), QUAY, folder)
    assert caught.value.code == "calibration/in-the-way"
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_the_sheet_names_every_program_and_what_is_not_measured() -> None:
    machine = JETTY.model_copy(update={"name": "<b>Jetty</b> & co"})
    root = html.document_fromstring(timing_sheet(design(JETTY.name), machine))
    assert not root.xpath("//b")
    names = [cell.text for cell in root.xpath("//tbody/tr/th")]
    assert names == [run.name for run in design(JETTY.name).runs.runs]
    said = root.text_content()
    for piece in ("beam_delay_s", "manual", "lid closed", "emergency stop"):
        assert piece in said


def test_the_picture_has_a_dot_for_each_reading() -> None:
    rng = np.random.default_rng(1)
    plan = design(QUAY.name)
    run, seconds = timed(plan, real_machine(QUAY, rng), rng)
    seconds[7] *= 2.0
    fit = fit_machine(QUAY, plan.runs.runs, plan.parameters, run, seconds)
    root = html.fragment_fromstring(fit_picture(fit, plan.runs.runs))
    assert len(root.xpath("//circle[@class='kept']")) == len(run) - 1
    assert len(root.xpath("//circle[@class='aside']")) == 1
    assert "× 2" in root.text_content()


MACHINE_FILE = """\
# Our laser, measured in spring.
name = "Quay 90"   # recipes name it
settle_s = 0.02

[travel]           # beam off
speed_mm_s = [800, 500]   # x, y
acceleration_mm_s2 = [
  5000, # the head
  3100,
]

[controller]
dialect = "grbl-type"
"""


def test_a_machine_file_keeps_its_comments_and_order() -> None:
    text = changed_machine_text(
        MACHINE_FILE,
        {
            "travel.speed_mm_s[1]": 812.3,
            "travel.acceleration_mm_s2[2]": 2950,
            "settle_s": None,
            "corner_speed_mm_s": 12.5,
            "controller.moves_per_s": 220,
        },
    )
    for comment in re.findall(r"#.*", MACHINE_FILE):
        assert comment in text
    assert tomllib.loads(text) == {
        "name": "Quay 90",
        "corner_speed_mm_s": 12.5,
        "travel": {"speed_mm_s": [812.3, 500], "acceleration_mm_s2": [5000, 2950]},
        "controller": {"dialect": "grbl-type", "moves_per_s": 220},
    }
    headings = re.findall(r"^\[\w+\]", text, re.M)
    assert headings == ["[travel]", "[controller]"]


def test_a_machine_file_with_nothing_to_change_stays_as_it_is() -> None:
    assert changed_machine_text(MACHINE_FILE, {}) == MACHINE_FILE


@pytest.mark.parametrize(
    ("value", "short"),
    [(812.3456, 812.3), (15012.3, 15010), (0.0206789, 0.02068), (0.0, 0), (786.0, 786)],
)
def test_measured_numbers_have_four_digits(value: float, short: float) -> None:
    assert repr(rounded(value)) == repr(short)
