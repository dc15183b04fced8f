"""Measuring a machine from the command line, as a user does it."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from tests.small_shop import MACHINE, run

from kerfwright.motion.timed_runs import run_time_s
from kerfwright.shop.files import load_machine
from kerfwright.shop.readings import load_runs

REAL = (
    MACHINE.replace("[800, 500]", "[640, 560]")
    .replace("settle_s = 0.02", "settle_s = 0.031")
    .replace("speed_mm_s = [1000, 1000]", "speed_mm_s = [420, 390]")
)
FILE = "# Ours.\n" + MACHINE.replace("speed_mm_s = [1000, 1000]", "speed_mm_s = [400, 400]")


@pytest.fixture
def machine_file(tmp_path: Path) -> Path:
    path = tmp_path / "machine.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


@pytest.fixture
def timing(machine_file: Path, tmp_path: Path) -> Path:
    """Programs written, run on a machine that differs from its file, and timed."""
    return timed_programs(machine_file, tmp_path / "timing", REAL)


def timed_programs(machine_file: Path, folder: Path, real_text: str) -> Path:
    made = run("calibrate", "motion", "--machine", machine_file, "--out", folder)
    assert made.exit_code == 0, made.stderr
    (folder / "real.toml").write_text(real_text, encoding="utf-8")
    real = load_machine(folder / "real.toml")
    rng = np.random.default_rng(11)
    seconds = {
        one.name: run_time_s(one, real) * (1.0 + 0.005 * rng.standard_normal(3))
        for one in load_runs(folder / "readings.toml", real, machine_file).runs
    }
    text = (folder / "readings.toml").read_text(encoding="utf-8")
    for name, times in seconds.items():
        told = ", ".join(f"{one:.2f}" for one in times)
        text = text.replace(f'"{name}"\nseconds = []', f'"{name}"\nseconds = [{told}]')
    (folder / "readings.toml").write_text(text, encoding="utf-8")
    return folder


def test_from_programs_to_a_measured_machine_file(
    machine_file: Path, timing: Path, tmp_path: Path
) -> None:
    new = tmp_path / "measured.toml"
    fit = ("calibrate", "motion", "--machine", machine_file, "--readings")
    ran = run(*fit, timing / "readings.toml", "--write", new, "--picture", tmp_path / "fit.svg")
    assert ran.exit_code == 0, ran.stderr
    assert "travel speed x" in ran.stdout
    assert "beam_delay_s" in ran.stdout
    assert (tmp_path / "fit.svg").read_text("utf-8").startswith("<svg")
    measured = load_machine(new)
    assert measured.travel.speed_mm_s == pytest.approx((640, 560), rel=0.02)
    assert measured.cutting.speed_mm_s == pytest.approx((420, 390), rel=0.03)
    assert measured.settle_s == pytest.approx(0.031, rel=0.03)
    assert measured.beam_delay_s == 0.01
    assert new.read_text("utf-8").startswith("# Ours.\n")
    assert machine_file.read_text("utf-8") == FILE

    again = run(*fit, timing / "readings.toml", "--write", new)
    assert again.exit_code == 2
    assert "calibration/in-the-way" in again.stderr
    assert run(*fit, timing / "readings.toml", "--write", new, "--overwrite").exit_code == 0

    sheet = (timing / "readings.toml").read_text("utf-8")
    some = re.sub(r'(program = "travel-y.*\n)seconds = .*', r"\1seconds = []", sheet)
    (timing / "some.toml").write_text(some, encoding="utf-8")
    few = run(*fit, timing / "some.toml", "--write", tmp_path / "few.toml")
    assert few.exit_code == 2
    assert "travel acceleration y" in few.stderr
    assert not (tmp_path / "few.toml").exists()


CORNERS = "corner_speed_mm_s = 12\n\n[travel]"


@pytest.mark.parametrize("by_speed", [True, False], ids=["speed", "deviation"])
def test_readings_tell_the_rule_for_corners_whatever_the_file_says(
    machine_file: Path, tmp_path: Path, by_speed: bool
) -> None:
    real = REAL.replace("[travel]", CORNERS, 1) if by_speed else REAL
    if not by_speed:
        machine_file.write_text(FILE.replace("[travel]", CORNERS, 1), encoding="utf-8")
    readings = timed_programs(machine_file, tmp_path / "timing", real) / "readings.toml"
    new = tmp_path / "new.toml"
    ran = run(
        "calibrate", "motion", "--machine", machine_file, "--readings", readings, "--write", new
    )
    assert ran.exit_code == 0, ran.stderr
    assert "stairs tell" in ran.stdout
    assert "set aside" not in ran.stdout
    measured = load_machine(new)
    if by_speed:
        assert measured.corner_speed_mm_s == pytest.approx(12, rel=0.03)
    else:
        assert measured.corner_speed_mm_s is None
        assert measured.junction_deviation_mm == pytest.approx(0.01, rel=0.05)


def test_a_command_that_asks_for_both_or_neither(machine_file: Path, tmp_path: Path) -> None:
    for more in ((), ("--out", tmp_path, "--readings", tmp_path / "r.toml")):
        ran = run("calibrate", "motion", "--machine", machine_file, *more)
        assert ran.exit_code == 2
        assert "calibration/unclear-command" in ran.stderr


def test_a_bed_without_room(machine_file: Path, tmp_path: Path) -> None:
    machine_file.write_text(FILE.replace("bed_height_mm = 300", "bed_height_mm = 30"))
    ran = run("calibrate", "motion", "--machine", machine_file, "--out", tmp_path / "timing")
    assert ran.exit_code == 2
    assert "calibration/bed-too-small" in ran.stderr


def test_settings_are_taken_over_when_asked(machine_file: Path, tmp_path: Path) -> None:
    (tmp_path / "list.txt").write_text("$110=36000\n$121=2500\n$11=0.02\n$999=1\n")
    machine_file.write_text(FILE.replace("[travel]", "corner_speed_mm_s = 9\n\n[travel]", 1))
    before = machine_file.read_text("utf-8")
    take = ("calibrate", "settings", tmp_path / "list.txt", "--machine", machine_file)
    shown = run(*take)
    assert shown.exit_code == 0, shown.stderr
    assert "$110" in shown.stdout
    assert "$999" in shown.stdout
    assert {path.name for path in tmp_path.iterdir()} == {"list.txt", "machine.toml"}
    new = tmp_path / "new.toml"
    assert run(*take, "--write", new).exit_code == 0
    taken = load_machine(new)
    assert taken.travel.speed_mm_s == (600.0, 500.0)
    assert taken.scanning.acceleration_mm_s2 == (16000.0, 2500.0)
    assert taken.junction_deviation_mm == 0.02
    assert taken.corner_speed_mm_s is None
    assert machine_file.read_text("utf-8") == before
    assert run(*take, "--write", new).exit_code == 2
    missing = run("calibrate", "settings", tmp_path / "no.txt", "--machine", machine_file)
    assert "calibration/file-missing" in missing.stderr
