"""A plan on the terminal: sheets, decisions, findings."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kerfwright.decisions import Alternative, Decision
from kerfwright.findings import Finding, Severity, number_of
from kerfwright.nesting.model import SheetSize
from kerfwright.output.expected_times import (
    duration_range,
    rough_duration,
    runs_in_words,
    time_of_plan,
)
from kerfwright.output.files import SheetFiles
from kerfwright.output.finding_numbers import numbered
from kerfwright.output.leftovers import left_in_words
from kerfwright.output.text import area, duration, length, printable
from kerfwright.plan import Plan, PlannedSheet

MOST_NOTES = 6
"""Notes beyond this stay in the ticket; stops and warnings are always shown."""

STYLES = {Severity.STOP: "bold red", Severity.WARN: "yellow", Severity.NOTE: "dim"}


def print_plan(
    plan: Plan, files: Sequence[SheetFiles], folder: Path, console: Console | None = None
) -> None:
    """Print a summary of a written plan."""
    console = console or Console()
    parts = sum(len(sheet.parts) for sheet in plan.sheets)
    console.print(Text(printable(plan.title), style="bold"))
    console.print(
        f"{number_of(parts, 'part')} on {number_of(len(plan.sheets), 'sheet')}, "
        f"{time_of_plan(plan)} on {printable(plan.machine.name)}",
        markup=False,
        highlight=False,
        soft_wrap=True,
    )
    if words := runs_in_words(plan):
        console.print(words, style="dim", markup=False, highlight=False, soft_wrap=True)
    console.print()
    console.print(_sheets(plan))
    if plan.decisions:
        console.print(_decisions(plan.decisions))
    print_findings(plan.findings, console)
    if plan.invented:
        console.print(
            "The machine, a material or the order is invented: its settings belong to no real "
            "machine. Test every setting on your own machine and material before burning.",
            style="bold",
        )
    console.print(
        f"Every program was read back and proven. Written to {folder}; begin with "
        f"{folder / 'ticket.html'}. The programs are:",
        markup=False,
        highlight=False,
        soft_wrap=True,
    )
    for names in files:
        size = f"  ({names.program_size.in_words})" if names.program_size else ""
        console.print(f"  {names.program}{size}", markup=False, highlight=False, soft_wrap=True)


def print_findings(findings: Sequence[Finding], console: Console, *, numbers: bool = False) -> None:
    """Print findings, stops first; notes beyond a few are only counted, unless ``numbers``.

    ``numbers`` puts before each the number that it has in a picture.
    """
    told = numbered(findings)
    notes = [one for one in told if one[1].severity is Severity.NOTE]
    serious = told[: len(told) - len(notes)]
    for number, finding in [*serious, *(notes if numbers else notes[:MOST_NOTES])]:
        text = Text(f"{number:>3}  ", style="bold") if numbers else Text()
        console.print(text.append_text(_finding(finding)), soft_wrap=True)
    if len(notes) > MOST_NOTES and not numbers:
        console.print(f"… and {number_of(len(notes) - MOST_NOTES, 'more note')}.", style="dim")
    if findings:
        console.print()


def _finding(finding: Finding) -> Text:
    text = Text()
    text.append(f"{finding.severity.value:5}", style=STYLES[finding.severity])
    where = f"{printable(finding.where)}: " if finding.where else ""
    remedy = f" {printable(finding.remedy)}" if finding.remedy else ""
    text.append(f"{where}{printable(finding.what)}{remedy}", style="none")
    text.append(f"  [{finding.code}]", style="dim")
    return text


def _sheets(plan: Plan) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for name in ("", "sheet"):
        table.add_column(name)
    learned = plan.expected is not None
    times = ("time", "range", "clock") if learned else ("time", "burning", "beam off")
    for name in ("parts", "used", "left over", *times):
        table.add_column(name, justify="right", no_wrap=True)
    for sheet in plan.sheets:
        table.add_row(
            str(sheet.number),
            Text(f"{printable(sheet.material.name)}, {_sheet(sheet.sheet)}"),
            str(len(sheet.parts)),
            f"{sheet.used_fraction:.0%}",
            left_in_words(sheet.left),
            *_times(sheet, learned=learned),
        )
    return table


def _times(sheet: PlannedSheet, *, learned: bool) -> list[str]:
    times, expected = sheet.times, sheet.expected
    if not learned or expected is None:
        beam_off_s = times.travel_s + times.wait_s
        return [duration(seconds) for seconds in (times.total_s, times.burn_s, beam_off_s)]
    return [
        rough_duration(expected.total_s),
        duration_range(expected.low_s, expected.high_s),
        duration(times.total_s),
    ]


def _sheet(size: SheetSize) -> str:
    return f"{printable(size.name)} {size.width_mm:g} × {size.height_mm:g}"


def _decisions(decisions: Sequence[Decision]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(1, 1, 0, 0))
    for name in ("decision", "chosen", "ways computed", "to overrule"):
        table.add_column(name)
    for decision in decisions:
        saved = decision.saved_s
        chosen = Text(decision.chosen, style="bold")
        if saved is not None and saved > 0.5:
            chosen.append(f"\nsaves {duration(saved)}", style="none")
        where = f" ({decision.sheet})" if decision.sheet else ""
        table.add_row(
            Text(printable(decision.what + where)),
            chosen,
            Text("\n".join(_way(way) for way in decision.alternatives)),
            Text(printable(decision.override)),
        )
    return table


def _way(way: Alternative) -> str:
    costs = [duration(way.time_s)] if way.time_s is not None else []
    costs += [length(way.length_mm)] if way.length_mm is not None else []
    costs += [area(way.material_mm2)] if way.material_mm2 is not None else []
    costs += [printable(text) for text in (way.money, way.note) if text]
    return f"{way.way}: {', '.join(costs)}"
