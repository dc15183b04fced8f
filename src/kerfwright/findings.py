"""What a stage has to tell the user about the work: stops, warnings and notes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters: ``stop`` forbids a program, ``warn`` asks for a look."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found in the work, where it is, and what can be done about it.

    ``code`` is ``page/slug``, the help page and its heading (see ``docs/help``).
    ``x_mm`` and ``y_mm`` are in the drawing's own millimetres, y upwards, or on the sheet where
    ``sheet`` gives its number in the plan; ``count`` says how many places the finding stands for
    when it was gathered from several.
    """

    severity: Severity
    code: str
    what: str
    remedy: str = ""
    drawing: str = ""
    shape: str = ""
    x_mm: float | None = None
    y_mm: float | None = None
    count: int = 1
    sheet: int | None = None

    @property
    def page(self) -> str:
        """Name of the help page under ``docs/help``."""
        return self.code.partition("/")[0]

    @property
    def heading(self) -> str:
        """Anchor of the heading on the help page."""
        return self.code.partition("/")[2]

    @property
    def where(self) -> str:
        """Drawing, shape and coordinates in one phrase, as far as they are known."""
        places = [self.drawing, self.shape]
        if self.x_mm is not None and self.y_mm is not None:
            places.append(f"at x {self.x_mm:.2f} mm, y {self.y_mm:.2f} mm")
        return ", ".join(place for place in places if place)


def number_of(count: int, thing: str) -> str:
    """Say how many: ``1 part``, ``3 parts``."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def stops(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings that forbid a program."""
    return tuple(finding for finding in findings if finding.severity is Severity.STOP)
