"""Faults of programs in plain words."""

from __future__ import annotations

from kerfwright.toolpath import Process

DOING = {
    Process.CUT: "cut",
    Process.SCORE: "score",
    Process.ENGRAVE: "engraving",
    Process.PHOTO: "photo",
}
PLACES_SHOWN = 3


def times(count: int) -> str:
    """Once, twice, 3 times."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def place(x_mm: float, y_mm: float) -> str:
    """A place on the sheet."""
    return f"x {x_mm:.2f} mm, y {y_mm:.2f} mm"


def more(count: int) -> str:
    """How many moves beside the one told have the same fault."""
    return "" if count == 1 else f" (and {count - 1} more moves)"


def rest_told(faults: list[str], count: int) -> list[str]:
    """Faults with a line for those of ``count`` that are not told one by one."""
    rest = count - len(faults)
    return [*faults, f"The same is wrong in {rest} more places."] if rest > 0 else faults
