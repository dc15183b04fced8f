"""Every finding and error code in the sources leads to its heading in docs/help."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HELP = ROOT / "docs" / "help"
CODE = re.compile(
    r'"((?:drawing|repair|parts|order|machine|material|nesting|engraving|cutting|sequence|'
    r"program|verification|ticket|records|stock|orders|recipes|calibration|simulation|pages|"
    r'fixtures|batch)/[a-z0-9]+(?:-[a-z0-9]+)*)"'
)


def codes() -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for path in (ROOT / "src").rglob("*.py"):
        for code in CODE.findall(path.read_text(encoding="utf-8")):
            found.setdefault(code, set()).add(path.name)
    return found


def headings(page: str) -> set[str]:
    path = HELP / f"{page}.md"
    if not path.is_file():
        return set()
    return set(re.findall(r"^## (\S+)\s*$", path.read_text(encoding="utf-8"), re.M))


@pytest.mark.parametrize("format_name", ["svg", "dxf", "pdf"])
def test_everything_a_reader_tells_has_its_heading(format_name: str) -> None:
    kinds = importlib.import_module(f"kerfwright.drawing.{format_name}.findings").KINDS
    assert len(kinds) > 10
    assert set(kinds) <= headings("drawing")


def test_there_are_codes() -> None:
    assert len(codes()) > 40


def test_every_code_has_its_heading() -> None:
    missing = {
        code: sorted(files)
        for code, files in codes().items()
        if code.partition("/")[2] not in headings(code.partition("/")[0])
    }
    assert not missing
