"""The trials do what their README says of them."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from kerfwright.cli import BAD_INPUT
from small_shop import run

TRIALS = Path(__file__).resolve().parents[2] / "examples" / "trials"


def planned(order: Path, out: Path) -> dict[str, Any]:
    ran = run("plan", order, "--out", out, "--json")
    assert ran.exit_code == 0, ran.stderr
    document: dict[str, Any] = json.loads(ran.stdout)
    return document


@pytest.fixture(scope="module")
def trials(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The trials' plan, with little time for the placement search; all else as shipped."""
    folder = tmp_path_factory.mktemp("trials")
    text = (TRIALS / "trials.toml").read_text("utf-8")
    assert "[settings]" not in text
    for path in sorted(TRIALS.glob("*.*")):
        (folder / path.name).write_bytes(path.read_bytes())
    regatta = (TRIALS.parent / "regatta").as_posix()
    text = text.replace("../regatta", regatta) + "\n[settings]\nnest_seconds = 0.2\n"
    (folder / "trials.toml").write_text(text, encoding="utf-8")
    return planned(folder / "trials.toml", folder / "out")


def test_readme_tells_of_every_order_and_drawing() -> None:
    """A blank's marks are told of by its order."""
    told = (TRIALS / "README.md").read_text("utf-8")
    files = {path.name for path in TRIALS.iterdir()} - {"README.md", "coaster-marks.svg"}
    assert files == set(re.findall(r"[\w-]+\.(?:toml|svg|dxf)", told))


def test_every_job_of_the_trials_is_made(trials: dict[str, Any]) -> None:
    counts: dict[str, int] = {}
    for sheet in trials["sheets"]:
        for part in sheet["parts"]:
            counts[part["drawing"]] = counts.get(part["drawing"], 0) + 1
    assert counts == {
        "square.svg": 1,
        "squared-square.dxf": 21,
        "no-units.dxf": 4,
        "flaws.svg": 2,
    }
    assert trials["invented"]


def test_solid_square_has_rows_and_loops_timed_and_the_faster_taken(
    trials: dict[str, Any],
) -> None:
    (found,) = (one for one in trials["decisions"] if one["code"] == "engraving/ways")
    times = {way["way"]: way["time_s"] for way in found["alternatives"]}
    # a solid square is not worth dividing
    assert times.pop("mixed") is None
    assert set(times) == {"scan", "contour-parallel"}
    assert found["chosen"] == min(times, key=lambda way: times[way])


def test_shared_edges_of_the_squared_square_are_cut_once(trials: dict[str, Any]) -> None:
    """644 mm of edge are shared: 21 squares with 1736 mm of perimeter, 1092 mm of it different
    (A. J. W. Duijvestijn, "Simple perfect squared square of lowest order", J. Combin. Theory B
    25, 1978)."""
    found = [one for one in trials["decisions"] if one["code"] == "cutting/shared-edges"]
    assert {one["chosen"] for one in found} == {"cut once"}
    lengths = [{way["way"]: way["length_mm"] for way in one["alternatives"]} for one in found]
    saved = sum(one["each part by itself"] - one["cut once"] for one in lengths)
    # each square's own cut is longer by its corners' kerf, at most 4 kerfs of 0.18 mm
    assert saved + 1e-6 >= 644.0
    assert saved <= 644.0 + 21 * 4 * 0.18


def test_drawing_without_a_unit_has_the_orders(trials: dict[str, Any]) -> None:
    sizes = {
        tuple(sorted((part["width_mm"], part["height_mm"])))
        for sheet in trials["sheets"]
        for part in sheet["parts"]
        if part["drawing"] == "no-units.dxf"
    }
    (size,) = sizes
    assert all(10.0 < side < 200.0 for side in size)


def test_gaps_and_repeats_are_mended_and_reported(trials: dict[str, Any]) -> None:
    told = [one for one in trials["findings"] if one["drawing"] == "flaws.svg"]
    codes = [one["code"] for one in told]
    assert codes.count("repair/gap-closed") == 2
    assert "repair/repeat-dropped" in codes
    assert "drawing/hidden" in codes
    assert "stop" not in {one["severity"] for one in told}


def test_blank_is_marked_and_nothing_is_cut(tmp_path: Path) -> None:
    document = planned(TRIALS / "blank.toml", tmp_path / "out")
    (sheet,) = document["sheets"]
    assert set(sheet["time_by_process_s"]) == {"engrave", "score"}
    (part,) = sheet["parts"]
    assert part["blank"]


@pytest.mark.parametrize(
    ("drawing", "code", "named"),
    [
        ("open-outline.svg", "parts/open-outline", ""),
        ("live-text.svg", "drawing/text", "berth"),
    ],
)
def test_drawing_that_cannot_be_planned_is_inspected(drawing: str, code: str, named: str) -> None:
    ran = run("inspect", TRIALS / drawing, "--json")
    assert ran.exit_code == BAD_INPUT
    stops = [one for one in json.loads(ran.stdout)["findings"] if one["severity"] == "stop"]
    (found,) = (one for one in stops if one["code"] == code)
    assert found["drawing"] == drawing
    assert named in found["shape"]
    assert run("help", code).exit_code == 0


@pytest.mark.parametrize("drawing", ["square.svg", "flaws.svg", "squared-square.dxf"])
def test_drawing_that_can_be_planned_is_inspected(drawing: str) -> None:
    ran = run("inspect", TRIALS / drawing, "--json")
    assert ran.exit_code == 0
    assert json.loads(ran.stdout)["parts"]
