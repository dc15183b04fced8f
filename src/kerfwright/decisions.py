"""Every choice the planner makes, with what the other ways would have cost."""

from __future__ import annotations

from dataclasses import dataclass

OverruleValue = str | bool | dict[str, str] | None


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way that was computed, and what it costs; a cost nobody computed is ``None``."""

    way: str
    time_s: float | None = None
    material_mm2: float | None = None
    length_mm: float | None = None
    money: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Overrule:
    """One value in the order file that makes a choice by hand.

    ``way`` is the alternative that it leads to, or :data:`BACK` where it leaves the choice to the
    planner again. ``at`` leads to the value, items counted from 0; ``None`` takes the value away.
    Where several have the same ``way`` all of them are needed together.
    """

    way: str
    at: tuple[str | int, ...]
    value: OverruleValue


BACK = ""
"""Way of what gives a choice back to the planner."""


@dataclass(frozen=True, slots=True)
class Decision:
    """A choice: what about, what was chosen, every way computed, why, and how to overrule it.

    ``alternatives`` includes the chosen way. ``override`` is the key of the order file that
    makes the choice by hand, with an example value; ``overrules`` are the same for programs, one
    or more for each other way that can be had and, where the order chose, for giving it back.
    """

    what: str
    chosen: str
    alternatives: tuple[Alternative, ...]
    why: str
    override: str
    code: str = ""
    sheet: str = ""
    overrules: tuple[Overrule, ...] = ()

    @property
    def saved_s(self) -> float | None:
        """Seconds between the chosen way and the best other way, where both were timed."""
        times = {a.way: a.time_s for a in self.alternatives if a.time_s is not None}
        others = [time for way, time in times.items() if way != self.chosen]
        if self.chosen not in times or not others:
            return None
        return min(others) - times[self.chosen]
