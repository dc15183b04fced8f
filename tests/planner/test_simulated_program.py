"""``kerfwright simulate`` on a planned program: the plan's figures again, and files on request."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from kerfwright.cli import BAD_INPUT
from small_shop import SmallShop, run


def planned(shop: SmallShop, dialect: str = "grbl-type") -> tuple[dict, Path]:
    shop.change("machine.toml", "grbl-type", dialect)
    (sheet,) = shop.planned()["sheets"]
    return sheet, shop.out / sheet["program"]


@pytest.mark.parametrize("dialect", ["grbl-type", "rs274-ngc"])
def test_energy_is_that_of_the_plan(shop: SmallShop, dialect: str) -> None:
    """A program names no process; each has a power and a speed of its own here."""
    sheet, program = planned(shop, dialect)
    ran = run("simulate", program, "--machine", shop.folder / "machine.toml", "--json")
    simulated = json.loads(ran.stdout)
    energies = [one["energy_j"] for one in sheet["energy_by_process"].values()]
    assert len(energies) == 3
    assert simulated["energy_j"] == pytest.approx(sum(energies), rel=0.02)
    read = sorted(one["energy_j"] for one in simulated["settings"])
    assert read == pytest.approx(sorted(energies), rel=0.05)
    peaks = [one["peak_line_j_mm"] for one in sheet["energy_by_process"].values()]
    assert simulated["peak_line_energy"]["j_mm"] == pytest.approx(max(peaks), rel=0.02)


def test_trace_and_picture_are_written(shop: SmallShop, tmp_path: Path) -> None:
    _, program = planned(shop)
    trace, picture = tmp_path / "over time.csv", tmp_path / "over time.svg"
    ran = run(
        "simulate", program, "--machine", shop.folder / "machine.toml", "--json",
        "--trace", trace, "--trace-step", "0.5", "--picture", picture,
    )  # fmt: skip
    assert ran.exit_code == 0
    told = json.loads(ran.stdout)
    with trace.open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    assert float(rows[-1]["time_s"]) == pytest.approx(told["time_s"], abs=0.01)
    assert len(rows) == int(told["time_s"] / 0.5) + 2
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert sorted(path.name for path in tmp_path.glob("over*")) == [
        "over time.csv",
        "over time.svg",
    ]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--trace", "trace.xls"), "program/trace-name"),
        (("--trace", "trace.csv", "--trace-step", "-1"), "program/trace-step"),
        (("--picture", "picture.pdf"), "program/picture-name"),
        (("--trace", "nowhere/trace.csv"), "program/cannot-write"),
    ],
)
def test_what_cannot_be_written_is_told_plainly(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], code: str
) -> None:
    monkeypatch.chdir(shop.folder)
    shop.write("line.nc", "G21 G90\nM4 S0\nG1 X10 S500 F600\nM5\nM2\n")
    ran = run("simulate", "line.nc", "--machine", "machine.toml", *words)
    assert ran.exit_code == BAD_INPUT
    assert f"kerfwright help {code}" in ran.stderr
    assert ran.stdout == ""
