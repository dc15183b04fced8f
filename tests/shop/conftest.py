"""The kinds of database that records are tested on: each test has an empty one of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from trial_server import TrialServer, trial_server


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[TrialServer]:
    with trial_server() as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Place of records that hold nothing yet."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'shop' / 'records.sqlite'}"
        return
    server: TrialServer = request.getfixturevalue("postgresql_server")
    with server.empty_database() as url:
        yield url
