"""Why a written plan is as it is: its decisions, every way with what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError
from rich.console import Console
from rich.text import Text

from kerfwright.errors import KerfwrightError
from kerfwright.output.files import PLAN_FILE
from kerfwright.output.text import area, duration, length, printable


class _Read(BaseModel):
    """What is read of ``plan.json``; whatever else stands there does not matter here."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class ReadWay(_Read):
    """One way that was computed."""

    way: str
    time_s: float | None = None
    material_mm2: float | None = None
    length_mm: float | None = None
    money: str | None = None
    note: str = ""


class ReadDecision(_Read):
    """A choice as ``plan.json`` tells it."""

    what: str
    chosen: str
    why: str
    alternatives: tuple[ReadWay, ...]
    override: str
    saved_s: float | None
    sheet: str
    code: str


class _Document(_Read):
    decisions: tuple[ReadDecision, ...]


def decisions_of(place: Path, about: str = "") -> tuple[ReadDecision, ...]:
    """Read the decisions of a plan folder or its ``plan.json``, those ``about`` something.

    Upper and lower case are alike; what a decision is about, its sheet and its help page count.

    Raises:
        KerfwrightError: there is no plan, or it has no decision about that.
    """
    file = place / PLAN_FILE if place.is_dir() else place
    try:
        found = _Document.model_validate_json(file.read_bytes()).decisions
    except (OSError, ValidationError):
        raise KerfwrightError(
            "order/no-plan-there",
            file=str(file),
            thing="There is no plan to read here.",
            remedy="Name the folder that kerfwright plan wrote, or the plan.json in it.",
        ) from None
    wanted = about.casefold()
    kept = tuple(d for d in found if wanted in f"{d.what} {d.sheet} {d.code}".casefold())
    if found and not kept:
        raise KerfwrightError(
            "order/no-such-decision",
            file=str(file),
            thing=f'No decision is about "{printable(about)}".',
            remedy=f"Decisions are about: {'; '.join(printable(d.what) for d in found)}.",
        )
    return kept


def print_reasons(decisions: Sequence[ReadDecision], console: Console | None = None) -> None:
    """Print decisions, each with every way, the quickest first."""
    console = console or Console()
    if not decisions:
        console.print("Nothing had to be decided.")
    for decision in decisions:
        where = f" ({decision.sheet})" if decision.sheet else ""
        console.print(Text(printable(decision.what + where), style="bold"))
        console.print(Text(f"  {printable(decision.chosen)}: {printable(decision.why)}"))
        for way in sorted(decision.alternatives, key=_time):
            mark = "→" if way.way == decision.chosen else " "
            console.print(Text(f"  {mark} {printable(way.way)}: {_costs(way)}"))
        console.print(Text(f"  to overrule: {printable(decision.override)}\n"), soft_wrap=True)


def _time(way: ReadWay) -> float:
    return float("inf") if way.time_s is None else way.time_s


def _costs(way: ReadWay) -> str:
    costs = [duration(way.time_s)] if way.time_s is not None else []
    costs += [length(way.length_mm)] if way.length_mm is not None else []
    costs += [area(way.material_mm2)] if way.material_mm2 is not None else []
    costs += [printable(text) for text in (way.money, way.note) if text]
    return ", ".join(costs) or "not computed"
