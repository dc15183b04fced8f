"""Errors as the pages show them."""

from __future__ import annotations

from kerfwright.errors import KerfwrightError
from kerfwright.web.guard import help_address
from kerfwright.web.workshop import Workshop


def told(error: KerfwrightError, workshop: Workshop) -> dict[str, str]:
    """Return an error as the pages show it."""
    return {
        "code": error.code,
        "file": workshop.shown(error.file),
        "thing": error.thing,
        "remedy": error.remedy,
        "help": help_address(error.code),
    }
