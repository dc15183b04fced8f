"""Machines and toolpaths that many specifications share."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest
import typer.testing
from hypothesis import settings

from axis_limits import limits
from kerfwright.drawing.lettering import fonts
from kerfwright.shop.machine import Machine

# the first example pays for compiling, which a deadline would measure; CI tries the same
# examples every time, so that it fails for what a change did and for nothing else
settings.register_profile(
    "kerfwright",
    deadline=None,
    max_examples=6 if "CI" in os.environ else 60,
    derandomize="CI" in os.environ,
)
settings.load_profile("kerfwright")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """CI has a quarter of an hour: what others nearly cover is left to whoever runs them all."""
    if "CI" in os.environ:
        for item in items:
            if item.get_closest_marker("thorough"):
                item.add_marker(pytest.mark.skip(reason="nearly covered by others; not in CI"))


@pytest.fixture(autouse=True)
def no_fonts_of_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Which fonts a machine has must not matter: a test puts those that it needs beside."""

    def nowhere() -> tuple[Path, ...]:
        return ()

    monkeypatch.setattr(fonts, "system_folders", nowhere)


@pytest.fixture(scope="session", autouse=True)
def _no_real_records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Whoever runs the tests may have runs on record: no plan here learns from them."""
    with pytest.MonkeyPatch.context() as patch:
        place = tmp_path_factory.mktemp("records") / "runs.sqlite"
        patch.setenv("KERFWRIGHT_RECORDS", str(place))
        yield


@pytest.fixture(scope="session", autouse=True)
def _command_line_is_built_once() -> Iterator[None]:
    """It is built from hundreds of signatures, for a user once: for the tests too."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typer.testing, "_get_command", cache(typer.testing._get_command))
        yield


@pytest.fixture(scope="session")
def make_machine() -> Callable[..., Machine]:
    """A machine with the accelerations that fit the trade's times; any field may be replaced."""

    def make(**changes: object) -> Machine:
        fields: dict[str, object] = {
            "name": "trial machine",
            "bed_width_mm": 900.0,
            "bed_height_mm": 600.0,
            "power_w": 60.0,
            "travel": limits(1000.0, 3100.0),
            "cutting": limits(1000.0, 3100.0),
            "scanning": limits(1000.0, 16000.0),
            "invented": True,
        }
        return Machine.model_validate(fields | changes)

    return make


@pytest.fixture(scope="session")
def machine(make_machine: Callable[..., Machine]) -> Machine:
    return make_machine()
