"""Readings of timed runs: what is read, and what is said when something is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.errors import KerfwrightError
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.readings import load_readings, load_runs
from kerfwright.shop.timed_run import TimedRun, TimedRuns

LIMITS = AxisLimits(speed_mm_s=(500, 500), acceleration_mm_s2=(3000, 3000))
MACHINE = Machine(
    name="Quay 90",
    bed_width_mm=900,
    bed_height_mm=600,
    power_w=60,
    travel=LIMITS,
    cutting=LIMITS,
    scanning=LIMITS,
)


def run(name: str) -> TimedRun:
    return TimedRun(
        name=name,
        shape="strokes",
        limits="travel",
        along="x",
        length_mm=100.0,
        asked_mm_s=500.0,
        repeats=10,
    )


RUNS = TimedRuns(
    machine="Quay 90",
    start_mm=(20.0, 20.0),
    measures=("settle_s",),
    runs=(run("travel-x-860mm"), run("travel-y-7.3mm")),
)

RUNS_TOML = """
machine = "Quay 90"
start_mm = [20, 20]
measures = ["travel.speed_mm_s[1]"]

[[runs]]
name = "travel-x-860mm"
shape = "strokes"
limits = "travel"
along = "x"
length_mm = 860
asked_mm_s = 500
repeats = 12
"""


def read(folder: Path, text: str, name: str = "readings.toml") -> list[tuple[int, float]]:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return [(one.run, one.seconds) for one in load_readings(path, RUNS)]


def refused(folder: Path, text: str, name: str = "readings.toml") -> KerfwrightError:
    with pytest.raises(KerfwrightError) as caught:
        read(folder, text, name)
    assert caught.value.remedy
    return caught.value


def test_a_sheet_with_some_programs_timed(tmp_path: Path) -> None:
    text = """
    [[readings]]
    program = "travel-y-7.3mm"
    seconds = [29.7, 30]
    [[readings]]
    program = "travel-x-860mm"
    seconds = []
    """
    assert read(tmp_path, text) == [(1, 29.7), (1, 30.0)]


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("program,seconds\ntravel-x-860mm,29.7\n", 29.7),
        ("\ufeffSeconds, Program, note\r\n29.7, travel-x-860mm.nc, first\r\n", 29.7),
        ("# from the controller\n\nprogram;seconds\ntravel-x-860mm;29,7\n", 29.7),
        ("program\tseconds\ntravel-x-860mm\t1:02.5\n", 62.5),
        ("program,seconds\nTRAVEL-X-860MM,0:00:29.7\n", 29.7),
    ],
)
def test_logs_in_the_usual_shapes(tmp_path: Path, text: str, seconds: float) -> None:
    assert read(tmp_path, text, "log.CSV") == [(0, pytest.approx(seconds))]


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("program,seconds\ntravel-x-860,29.7\n", "unknown-program", '"travel-x-860mm"'),
        ("program,seconds\ntravel-x-860mm,fast\n", "bad-reading", "line 2"),
        ("program,seconds\ntravel-x-860mm,-3\n", "bad-reading", "line 2"),
        ("program,seconds\ntravel-x-860mm,nan\n", "bad-reading", "line 2"),
        ("program,seconds\ntravel-x-860mm,99999\n", "bad-reading", "line 2"),
        ("program,seconds\ntravel-x-860mm\n", "bad-reading", "line 2"),
        ("name,time\ntravel-x-860mm,3\n", "bad-reading", '"program"'),
        ("program,seconds\n", "too-few-readings", ""),
        ("", "too-few-readings", ""),
    ],
)
def test_logs_with_something_wrong(tmp_path: Path, text: str, code: str, words: str) -> None:
    error = refused(tmp_path, text, "log.csv")
    assert error.code == f"calibration/{code}"
    assert words in str(error)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ('[[readings]]\nprogram = "travel-x-860mm"\nseconds = [0]', "out-of-range"),
        ('[[readings]]\nprogram = "travel-x-860mm"\nseconds = 3', "wrong-type"),
        ('[[readings]]\nprogram = "travel-x-860mm"', "key-missing"),
        ('[[readings]]\nprogramm = "travel-x-860mm"\nseconds = []', "unknown-key"),
        ('[[readings]]\nprogram = "quay"\nseconds = [3]', "unknown-program"),
        ('[[readings]]\nprogram = "travel-x-860mm"\nseconds = []', "too-few-readings"),
        ("seconds = 29,7", "not-toml"),
    ],
)
def test_sheets_with_something_wrong(tmp_path: Path, text: str, code: str) -> None:
    assert refused(tmp_path, text).code == f"calibration/{code}"


@given(text=st.text(max_size=200))
def test_any_text_is_read_or_refused_in_words(
    text: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("texts")
    for name in ("log.csv", "readings.toml"):
        (folder / name).write_bytes(text.encode("utf-8", "surrogatepass"))
        with pytest.raises(KerfwrightError, match=name):
            load_readings(folder / name, RUNS)


def test_a_missing_file(tmp_path: Path) -> None:
    for name in ("log.csv", "readings.toml"):
        with pytest.raises(KerfwrightError) as caught:
            load_readings(tmp_path / name, RUNS)
        assert caught.value.code == "calibration/file-missing"


def test_runs_lie_beside_the_readings_and_are_of_the_machine(tmp_path: Path) -> None:
    readings = tmp_path / "readings.toml"
    with pytest.raises(KerfwrightError) as missing:
        load_runs(readings, MACHINE, Path("m.toml"))
    assert missing.value.code == "calibration/runs-missing"
    (tmp_path / "programs.toml").write_text(RUNS_TOML)
    assert load_runs(readings, MACHINE, Path("m.toml")).runs[0].length_mm == 860.0
    other = MACHINE.model_copy(update={"name": "Jetty 60"})
    with pytest.raises(KerfwrightError) as caught:
        load_runs(readings, other, Path("m.toml"))
    assert caught.value.code == "calibration/other-machine"
    assert "Quay 90" in str(caught.value)
    assert "Jetty 60" in str(caught.value)
