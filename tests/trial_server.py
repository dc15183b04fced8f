"""A PostgreSQL server for the tests: made in a folder of its own, gone when they are through.

``KERFWRIGHT_TEST_NEEDS=postgresql`` in the environment fails where there is none to be had; without
it the tests on it are skipped.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

ACCOUNT = "postgres"
"""The server refuses to run as root; Debian's package makes this account for it."""

NUMBERS = count(1)


@dataclass(frozen=True, slots=True)
class TrialServer:
    """A running server, reached by a socket in ``folder``."""

    folder: Path

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://{ACCOUNT}@/{database}?host={self.folder}"

    @contextmanager
    def empty_database(self) -> Iterator[str]:
        name = f"trial_{next(NUMBERS)}"
        self._say(f"CREATE DATABASE {name}")
        yield self.url(name)
        self._say(f"DROP DATABASE {name} WITH (FORCE)")

    def _say(self, statement: str) -> None:
        engine = create_engine(self.url("postgres"), isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.execute(text(statement))
        engine.dispose()


@contextmanager
def trial_server() -> Iterator[TrialServer]:
    """Make a server and run it; skips the test where that cannot be done."""
    pytest.importorskip("psycopg", reason="psycopg, the driver for PostgreSQL, is not installed")
    initdb, pg_ctl = _program("initdb"), _program("pg_ctl")
    if initdb is None or pg_ctl is None:
        raise _not_to_be_had("PostgreSQL is not installed (on Debian: apt install postgresql)")
    account = _account()
    folder = Path(tempfile.mkdtemp(prefix="kerfwright-"))
    data = folder / "data"
    if "user" in account:
        shutil.chown(folder, account["user"])

    def run(*words: str | Path) -> None:
        subprocess.run(words, check=True, stdout=subprocess.DEVNULL, cwd=folder, **account)

    run(initdb, "-D", data, "-U", ACCOUNT, "-A", "trust", "-E", "UTF8", "--locale=C", "-N")
    options = f"-k {folder} -c listen_addresses='' -c fsync=off -c max_connections=40"
    run(pg_ctl, "-D", data, "-l", folder / "log", "-w", "-o", options, "start")
    try:
        yield TrialServer(folder)
    finally:
        run(pg_ctl, "-D", data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(folder, ignore_errors=True)


def _program(name: str) -> Path | None:
    """A server's program; Debian keeps them out of the search path."""
    found = shutil.which(name)
    places = [Path(found)] if found else sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return places[-1] if places else None


def _account() -> dict[str, Any]:
    """As whom the server runs."""
    if not hasattr(os, "getuid") or os.getuid() != 0:
        return {}
    try:
        Path(f"~{ACCOUNT}").expanduser()
    except RuntimeError:
        raise _not_to_be_had(
            f"PostgreSQL does not run as root, and there is no account {ACCOUNT}"
        ) from None
    return {"user": ACCOUNT, "group": ACCOUNT, "extra_groups": []}


def _not_to_be_had(why: str) -> BaseException:
    if "postgresql" in os.environ.get("KERFWRIGHT_TEST_NEEDS", ""):
        return pytest.fail.Exception(why)
    return pytest.skip.Exception(why)
