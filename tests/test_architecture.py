"""The folder tree is the pipeline: no stage imports a later one."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "kerfwright"

LINE = (
    ("errors", "findings", "decisions", "kept", "cores", "kernels", "toolpath", "geometry"),
    ("shop",),
    ("motion",),
    ("drawing",),
    ("repair",),
    ("parts",),
    ("nesting",),
    ("engraving",),
    ("cutting",),
    ("sequence",),
    ("plan",),
    ("quoting", "trials"),
    ("program",),
    ("output",),
    ("prepare",),
    ("batches",),
    ("learning",),
    ("ways", "places", "placing", "checked_items"),
    ("fixtures",),
    ("planner", "warm", "calibration", "recipe_trials", "recipe_book"),
    ("quotation", "trial_choices"),
    ("web",),
    ("cli",),
    ("__main__",),
)
RANK = {stage: rank for rank, stages in enumerate(LINE) for stage in stages}
MODULES = sorted(PACKAGE.rglob("*.py"))


def stage_of(path: Path) -> str:
    first = path.relative_to(PACKAGE).parts[0]
    return first.removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        for name in names:
            if name.startswith("kerfwright."):
                yield name.split(".")[1]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_stage_imports_a_later_one(path: Path) -> None:
    stage = stage_of(path)
    if stage == "__init__":
        assert not list(imports(path))
        return
    later = {name for name in imports(path) if RANK[name] > RANK[stage]}
    assert not later, f"{stage} imports {later}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_module_fits_in_one_head(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400
    assert path.stem not in {"utils", "helpers", "common", "manager"}
