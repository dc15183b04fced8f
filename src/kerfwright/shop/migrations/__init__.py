"""The forms that the tables have had, and the way from each to the next.

Each file in ``versions`` is one Alembic revision, and one form: it holds its tables as they were,
whatever becomes of the models later. Form 1 was made without Alembic, so that a database of that
form is only marked before it goes on. ``record_schema`` keeps the form's number for versions that
know nothing of Alembic; they refuse what is newer than they are.

A new form: raise ``SCHEMA_VERSION``, add ``versions/form_N.py``, and add the SQL of the form before
it to the tests.
"""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

VERSION_TABLE = "record_migration"
"""Alembic's own note of where a database stands."""


def revision_of(form: int) -> str:
    """Name of the revision that makes a form."""
    return f"form_{form}"


def bring_up(connection: Connection, present: int, form: int) -> None:
    """Bring tables from one form (0: none) to a later one, within ``connection``'s transaction."""
    config = Config()
    # Alembic reads % as the beginning of a name to be filled in
    folder = str(Path(__file__).parent).replace("%", "%%")
    config.set_main_option("script_location", folder)
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    if present == 1:
        command.stamp(config, revision_of(present))
    command.upgrade(config, revision_of(form))
