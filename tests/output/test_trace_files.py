"""The trace on disk, read back by the standard library and by pyarrow."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import pytest

import planned_square as tile
from kerfwright.errors import KerfwrightError
from kerfwright.motion.timing import time_toolpath
from kerfwright.output import trace_file
from kerfwright.output.gcode import gcode_lines
from kerfwright.output.simulation import program_trace
from kerfwright.output.simulation_files import require_names, write_files
from kerfwright.output.trace_file import write_trace
from kerfwright.program.classify import classify
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.shop.machine import Machine

MACHINE = tile.machine().model_copy(update={"settle_s": 0.05})


def program(machine: Machine = MACHINE) -> Program:
    return classify(interpret(gcode_lines(tile.sheet(), machine), machine, "quay.nc"))


def written(path: Path, step_s: float | None = None) -> list[dict[str, str]]:
    one = program()
    write_trace(path, one, program_trace(one, MACHINE), step_s)
    with path.open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def test_rows_at_every_change_are_the_whole_motion(tmp_path: Path) -> None:
    rows = written(tmp_path / "trace.csv")
    assert list(rows[0]) == [
        "time_s", "x_mm", "y_mm", "speed_mm_s", "power_w", "kind", "line", "move",
    ]  # fmt: skip
    one = program()
    clock = time_toolpath(one.toolpath, MACHINE)
    assert float(rows[-1]["time_s"]) == pytest.approx(clock.total_s, abs=1e-6)
    way = energy = standing = 0.0
    for a, b in itertools.pairwise(rows):
        seconds = float(b["time_s"]) - float(a["time_s"])
        assert seconds >= 0.0
        way += 0.5 * (float(a["speed_mm_s"]) + float(b["speed_mm_s"])) * seconds
        energy += 0.5 * (float(a["power_w"]) + float(b["power_w"])) * seconds
        standing += seconds if a["kind"] == "standing" else 0.0
    assert way == pytest.approx(one.toolpath.lengths_mm.sum(), rel=1e-5)
    assert energy == pytest.approx(program_trace(one, MACHINE).energy_j.sum(), rel=1e-4)
    assert standing == pytest.approx(clock.wait_s, abs=1e-5)
    assert {row["kind"] for row in rows} == {
        "travel", "beam off at burning speed", "rows", "lines and loops", "standing",
    }  # fmt: skip


def test_rows_lead_back_to_their_lines(tmp_path: Path) -> None:
    lines = list(gcode_lines(tile.sheet(), MACHINE))
    rows = written(tmp_path / "trace.csv")
    one = program()
    for row in rows[:: len(rows) // 50]:
        move = int(row["move"]) - 1
        assert int(row["line"]) == one.line_of_move[move]
        assert lines[int(row["line"]) - 1].strip()


def test_even_steps(tmp_path: Path) -> None:
    rows = written(tmp_path / "trace.csv", 0.01)
    times = [float(row["time_s"]) for row in rows]
    assert times[:-1] == pytest.approx([0.01 * i for i in range(len(times) - 1)], abs=1e-9)
    assert times[-1] == pytest.approx(program_trace(program(), MACHINE).total_s, abs=1e-6)


def test_parquet_holds_the_same(tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    rows = written(tmp_path / "trace.csv")
    one = program()
    write_trace(tmp_path / "trace.parquet", one, program_trace(one, MACHINE))
    table = parquet.read_table(tmp_path / "trace.parquet").to_pydict()
    assert list(table) == list(rows[0])
    for name, values in table.items():
        told = [row[name] for row in rows]
        if name == "kind":
            assert values == told
        else:
            assert values == pytest.approx([float(value) for value in told], abs=1e-5)


def test_parquet_without_its_library_names_the_remedy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing(name: str) -> None:
        raise ImportError(name)

    monkeypatch.setattr(trace_file, "import_module", missing)
    with pytest.raises(KerfwrightError) as told:
        require_names(tmp_path / "trace.parquet", None, None)
    assert told.value.code == "program/trace-needs-parquet"
    assert 'pip install "kerfwright[trace]"' in str(told.value)


@pytest.mark.parametrize(
    ("names", "code"),
    [
        (("trace.txt", None, None), "program/trace-name"),
        (("trace.csv", 0.0, None), "program/trace-step"),
        (("trace.csv", float("nan"), None), "program/trace-step"),
        ((None, 0.1, None), "program/trace-step"),
        ((None, None, "picture.png"), "program/picture-name"),
    ],
)
def test_names_and_steps_are_refused_before_the_work(
    names: tuple[str | None, float | None, str | None], code: str
) -> None:
    trace, step_s, picture = names
    with pytest.raises(KerfwrightError) as told:
        require_names(trace and Path(trace), step_s, picture and Path(picture))  # type: ignore[arg-type]
    assert told.value.code == code


def test_too_fine_a_step_is_refused(tmp_path: Path) -> None:
    with pytest.raises(KerfwrightError) as told:
        written(tmp_path / "trace.csv", 1e-9)
    assert told.value.code == "program/trace-step"
    assert not list(tmp_path.iterdir())


def test_a_file_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = program()
    trace = program_trace(one, MACHINE)
    with pytest.raises(KerfwrightError) as told:
        write_files(one, MACHINE, trace, trace=tmp_path / "nowhere" / "trace.csv")
    assert told.value.code == "program/cannot-write"

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    (tmp_path / "trace.csv").write_text("yesterday's")
    monkeypatch.setitem(trace_file.WRITERS, ".csv", full)
    with pytest.raises(KerfwrightError) as told:
        write_files(one, MACHINE, trace, trace=tmp_path / "trace.csv")
    assert "No space left" in str(told.value)
    assert [path.name for path in tmp_path.iterdir()] == ["trace.csv"]
    assert (tmp_path / "trace.csv").read_text() == "yesterday's"
