"""What the readings of a trial piece come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from kerfwright.shop.trial_readings import ReadBy
from kerfwright.toolpath import Process


class UntoldError(Exception):
    """Readings that do not tell what was asked, with what is wrong and what to do."""

    def __init__(self, thing: str, remedy: str, *, disagree: bool = False) -> None:
        self.thing = thing
        self.remedy = remedy
        self.disagree = disagree
        super().__init__(f"{thing} {remedy}")


@dataclass(frozen=True, slots=True)
class Line:
    """One number of a result, as it is printed: its name, value and interval in words."""

    name: str
    value: str
    interval: str = ""


@dataclass(frozen=True, slots=True)
class Result:
    """Numbers for people, and the keys that go into a file.

    ``process`` says which recipe of the material ``keys`` belong to; without one they are the
    machine's. A value of ``None`` takes a key out of the file.
    """

    lines: tuple[Line, ...]
    keys: dict[str, Any]
    process: Process | None
    remarks: tuple[str, ...] = ()
    tested: ReadBy = field(default_factory=ReadBy)
    complete: bool = True
    """False where something of the recipe was measured at other settings."""


def missing_words(names: Sequence[object], what: str) -> str:
    """Name what has not been read: the first few."""
    shown = ", ".join(str(name) for name in names[:8])
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return f"{what}{'' if len(names) == 1 else 's'} {shown}{more}"
