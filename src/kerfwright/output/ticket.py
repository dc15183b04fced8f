"""The job ticket: one page to read from top to bottom, in the order of the work."""

from __future__ import annotations

import datetime
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from markupsafe import Markup

from kerfwright.findings import Finding, Severity
from kerfwright.motion.expected_time import ExpectedTime
from kerfwright.motion.timing import Times
from kerfwright.nesting.remainder import Remainder
from kerfwright.output.checklist import AUTHORITY, checks_of_plan
from kerfwright.output.colours import ramp
from kerfwright.output.expected_times import runs_in_words, runs_used
from kerfwright.output.files import SheetFiles
from kerfwright.output.kept_free import kept_free_in_words
from kerfwright.output.leftovers import is_worth_keeping, left_in_words
from kerfwright.output.pages import render
from kerfwright.output.photo_picture import ExpectedPhoto
from kerfwright.output.recipe_words import further_settings
from kerfwright.output.sheet_energy import ProcessEnergy
from kerfwright.output.sheet_papers import SheetPapers, papers_of_plan
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.shop.material import Recipe, RecipeStatus
from kerfwright.toolpath import Process, processes_of

SEVERITY_WORDS = {"stop": "Stop", "warn": "Look", "note": "Note"}

LEAST_TOLD_S = 0.05
"""Travel that is shorter reads as no time at all."""

FINDINGS_SHOWN = 3
"""Findings of one kind that are shown before the rest is folded away."""


@dataclass(frozen=True, slots=True)
class Step:
    """One process on a sheet; what is not known is ``None``."""

    process: Process
    length_mm: float | None
    time_s: float | None


@dataclass(frozen=True, slots=True)
class _Findings:
    """Findings that say the same of several places; a few are shown, the others folded away."""

    severity: str
    code: str
    remedy: str
    shown: list[Finding]
    folded: list[Finding]

    @property
    def heading(self) -> str:
        return self.code.partition("/")[2]


@dataclass(frozen=True, eq=False, slots=True)
class _SheetView:
    """A sheet as the template shows it."""

    number: int
    sheet: object
    material: object
    parts: object
    times: Times
    expected: ExpectedTime | None
    used_fraction: float
    left: Remainder | None
    left_words: str
    kept_free: str
    """What is kept free on it, in words."""
    location: str | None
    """Where the sheet lies in the stock on record; ``None`` where it is not from there."""
    kept: bool
    """Whether what is left over goes back into stock."""
    layout_picture: Markup
    beam_picture: Markup
    photos: tuple[ExpectedPhoto, ...]
    steps: list[Step]
    between_s: float | None
    """Travel between burns; ``None`` where there is none to speak of."""
    energy: dict[str, ProcessEnergy]
    settings: list[tuple[str, Recipe, str]]
    """Each process with its recipe, and what else that asks for in words."""
    untested: list[str]
    counts: list[tuple[tuple[str, str, bool], int]]
    warnings: list[Finding]
    """Warnings about this very sheet."""
    files: SheetFiles


def ticket_html(
    plan: Plan,
    files: Sequence[SheetFiles],
    *,
    made: datetime.date | None = None,
    papers: Sequence[SheetPapers] | None = None,
) -> str:
    """Return the ticket as one HTML page that needs no other file but its help pages.

    ``files`` has one entry for each sheet, ``papers`` too if they are made already. Links lead
    to the files and to ``help/PAGE.html``, as
    :func:`~kerfwright.output.help_pages.write_help` names them.

    Raises:
        ValueError: the numbers of sheets and files differ.
    """
    return render(
        "ticket.html",
        plan=plan,
        made=made,
        parts=sum(len(sheet.parts) for sheet in plan.sheets),
        total=total_times(plan),
        runs_used=runs_used(plan),
        runs=runs_in_words(plan),
        findings=_grouped(plan.findings),
        words=SEVERITY_WORDS,
        checks=checks_of_plan(plan),
        authority=AUTHORITY,
        sheets=[
            _view(sheet, names, plan, shown)
            for sheet, names, shown in zip(
                plan.sheets, files, papers or papers_of_plan(plan), strict=True
            )
        ],
        ramp_light=ramp(12, "light"),
        ramp_dark=ramp(12, "dark"),
    )


def total_times(plan: Plan) -> Times:
    """Times of all sheets together."""
    return Times(
        **{
            field.name: sum(getattr(sheet.times, field.name) for sheet in plan.sheets)
            for field in fields(Times)
        }
    )


def order_of_work(sheet: PlannedSheet) -> list[Step]:
    """Processes in the order in which the toolpath begins with them, with length and time."""
    lengths = sheet.toolpath.lengths_mm
    processes = processes_of(sheet.toolpath, sheet.sources)
    burning = sheet.toolpath.burning
    first: dict[Process, int] = {}
    length: dict[Process, float] = {}
    for process in Process:
        moves = np.flatnonzero((processes == process) & burning)
        if len(moves):
            first[process] = int(moves[0])
            length[process] = float(lengths[moves].sum())
    burned = sorted(first, key=lambda process: first[process])
    only_timed = [process for process in sheet.times_by_process_s if process not in first]
    return [
        Step(process, length.get(process), sheet.times_by_process_s.get(process))
        for process in (*burned, *only_timed)
    ]


def travel_between_s(sheet: PlannedSheet) -> float:
    """Seconds that belong to no process: from one burn to the next and home."""
    return max(sheet.times.total_s - sum(sheet.times_by_process_s.values()), 0.0)


def _grouped(findings: Sequence[Finding]) -> list[_Findings]:
    """Group findings with one code and remedy, worst first; stops are all shown."""
    groups: dict[tuple[Severity, str, str], list[Finding]] = {}
    for finding in findings:
        key = finding.severity, finding.code, finding.remedy
        groups.setdefault(key, []).append(finding)
    ranks = list(Severity)
    return [
        _Findings(severity.value, code, remedy, found[:shown], found[shown:])
        for (severity, code, remedy), found in sorted(
            groups.items(), key=lambda group: ranks.index(group[0][0])
        )
        for shown in (len(found) if severity is Severity.STOP else FINDINGS_SHOWN,)
    ]


def _view(sheet: PlannedSheet, files: SheetFiles, plan: Plan, shown: SheetPapers) -> _SheetView:
    location = plan.from_stock.location(sheet.sheet.name)
    steps = order_of_work(sheet)
    used = [step.process for step in steps if step.process in sheet.recipes]
    return _SheetView(
        number=sheet.number,
        sheet=sheet.sheet,
        material=sheet.material,
        parts=sheet.parts,
        times=sheet.times,
        expected=sheet.expected,
        used_fraction=sheet.used_fraction,
        left=sheet.left,
        left_words=left_in_words(sheet.left),
        kept_free=kept_free_in_words(sheet.sheet),
        location=location,
        kept=location is not None and is_worth_keeping(sheet.left, plan.offcut_least_mm),
        layout_picture=Markup(shown.layout),
        beam_picture=Markup(shown.beam),
        photos=shown.photos,
        steps=steps,
        between_s=between_s if (between_s := travel_between_s(sheet)) >= LEAST_TOLD_S else None,
        energy=shown.energy,
        settings=[
            (process.value, sheet.recipes[process], ", ".join(further_settings(sheet, process)))
            for process in used
        ],
        untested=[
            process.value
            for process in used
            if sheet.recipes[process].status is RecipeStatus.UNTESTED
        ],
        counts=part_counts(sheet),
        warnings=[
            finding
            for finding in plan.findings
            if finding.sheet == sheet.number and finding.severity is Severity.WARN
        ],
        files=files,
    )


def part_counts(sheet: PlannedSheet) -> list[tuple[tuple[str, str, bool], int]]:
    """Name, drawing and blank of each kind of part and how many; "part 2" before "part 10"."""
    counts = Counter((part.name, part.drawing, part.blank) for part in sheet.parts)

    def place(entry: tuple[tuple[str, str, bool], int]) -> tuple[list[str | tuple[int, str]], str]:
        name, drawing, _ = entry[0]
        pieces = re.split(r"([0-9]+)", name)
        words = [(int(p), p) if i % 2 else p.casefold() for i, p in enumerate(pieces)]
        return words, drawing

    return sorted(counts.items(), key=place)
