"""The command itself, some of it in a process of its own as a user starts it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from kerfwright.cli import BAD_INPUT
from kerfwright.output.help_pages import help_pages
from small_shop import SmallShop, run, svg

HEAVY = ("numpy", "numba", "scipy", "shapely", "ezdxf", "lxml", "pydantic", "sqlalchemy")


def started(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words], capture_output=True, encoding="utf-8", cwd=cwd, check=False
    )


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from kerfwright.cli import app\n"
        "app(['--help'], standalone_mode=False)\n"
        f"print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    ran = started("-c", code)
    assert ran.returncode == 0, ran.stderr
    assert "simulate" in ran.stdout
    assert ran.stdout.rstrip().endswith("LOADED []")


def test_bad_order_in_a_process_of_its_own(shop: SmallShop) -> None:
    shop.change("order.toml", "nest_seconds", "nest_secs")
    ran = started("-m", "kerfwright", "plan", "order.toml", "--out", "out", cwd=shop.folder)
    assert ran.returncode == BAD_INPUT
    assert ran.stdout == ""
    assert "Traceback" not in ran.stderr
    assert 'Did you mean "nest_seconds"?' in ran.stderr
    assert not shop.out.exists()


def test_good_order_in_a_process_of_its_own(shop: SmallShop) -> None:
    ran = started("-m", "kerfwright", "plan", "order.toml", "--out", "out", cwd=shop.folder)
    assert ran.returncode == 0, ran.stderr
    assert "Every program was read back and proven" in ran.stdout
    assert (shop.out / shop.document()["sheets"][0]["program"]).is_file()


def test_version_is_that_of_the_package() -> None:
    ran = run("--version")
    assert ran.exit_code == 0
    assert re.fullmatch(r"kerfwright \d+\.\d+\.\d+\n", ran.stdout)


def test_no_command_shows_the_commands() -> None:
    assert "plan" in run().stdout


@pytest.mark.parametrize("page", help_pages())
def test_every_help_page_is_shown(page: str) -> None:
    ran = run("help", page)
    assert ran.exit_code == 0
    assert len(ran.stdout.split()) > 20


def test_inspect_json_of_an_svg(shop: SmallShop) -> None:
    ran = run("inspect", shop.folder / "tile.svg", "--json")
    assert ran.exit_code == 0
    found = json.loads(ran.stdout)
    assert (found["width_mm"], found["height_mm"]) == (42.0, 32.0)
    lengths = {one["process"]: one["length_mm"] for one in found["processes"]}
    assert set(lengths) == {"cut", "score", "engrave", "guide"}
    assert lengths["score"] == pytest.approx(30.0)
    (part,) = found["parts"]
    assert (part["width_mm"], part["height_mm"]) == (40.0, 30.0)
    assert (part["holes"], part["scores"], part["engraves"]) == (1, 1, 1)


def test_inspect_json_of_a_dxf_in_inches(shop: SmallShop) -> None:
    """$INSUNITS 1 is inches (DXF Reference, HEADER section)."""
    path = shop.draw_dxf([(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)], units=1)
    ran = run("inspect", path, "--json")
    assert ran.exit_code == 0
    (part,) = json.loads(ran.stdout)["parts"]
    assert part["width_mm"] == pytest.approx(50.8)
    assert part["height_mm"] == pytest.approx(25.4)


def test_inspect_takes_the_unit_that_a_dxf_does_not_state(shop: SmallShop) -> None:
    path = shop.draw_dxf([(0.0, 0.0), (3.0, 0.0), (3.0, 2.0), (0.0, 2.0)], units=0)
    assert run("inspect", path).exit_code == BAD_INPUT
    ran = run("inspect", path, "--unit", "cm", "--json")
    assert ran.exit_code == 0
    assert json.loads(ran.stdout)["parts"][0]["width_mm"] == pytest.approx(30.0)


def test_inspect_of_a_drawing_that_cannot_be_planned_shows_it_and_says_so(
    shop: SmallShop,
) -> None:
    path = shop.write("open.svg", svg('<path d="M 1,1 H 30 V 20" fill="none" stroke="black"/>'))
    ran = run("inspect", path, "--json")
    assert ran.exit_code == BAD_INPUT
    findings = json.loads(ran.stdout)["findings"]
    assert "parts/open-outline" in {one["code"] for one in findings if one["severity"] == "stop"}
    assert run("inspect", path).exit_code == BAD_INPUT
