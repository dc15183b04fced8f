"""A plan as a document for other programs: ``plan.json``.

Every number is finite; seconds are rounded to milliseconds and lengths to micrometres, so the
same plan always gives the same text.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field

from kerfwright.decisions import Alternative, Decision, Overrule, OverruleValue
from kerfwright.findings import Finding
from kerfwright.motion.fingerprint import clock_fingerprint
from kerfwright.output.files import SheetFiles
from kerfwright.output.kept_free import KeptFreeRecord, kept_free_records
from kerfwright.output.part_record import PartRecord, part_records
from kerfwright.output.plan_layout import (
    LeftOfSheetRecord,
    LeftToMakeRecord,
    left_of_sheet,
    left_to_make_record,
)
from kerfwright.output.plan_times import (
    ExpectedRecord,
    PastRunsRecord,
    expected_record,
    past_runs_record,
)
from kerfwright.output.program_size import ProgramSize
from kerfwright.output.record import Count, NotNegative, Number, Record, known, rounded
from kerfwright.output.sheet_energy import ProcessEnergy, energy_by_process
from kerfwright.output.text import encodable
from kerfwright.plan import Plan, PlannedSheet

if TYPE_CHECKING:  # whoever only reads a plan needs nothing that makes papers
    from kerfwright.output.sheet_papers import SheetPapers

SCHEMA_VERSION: Literal[1] = 1


class SheetRecord(Record):
    """One sheet with its files, its times and what lies on it."""

    number: Annotated[int, Field(ge=1)]
    """Place in the order of work."""
    material: str
    """Name of the material."""
    sheet: str
    """What the shop calls the sheet."""
    label: str | None
    """Its label in the stock on record; null where it did not come from there."""
    thickness_mm: NotNegative
    """Thickness of the material."""
    recipes: dict[str, dict[str, Any]]
    """The recipe of each process that is burned: all its keys, whatever is as usual included."""
    width_mm: NotNegative
    """Size in x."""
    height_mm: NotNegative
    """Size in y."""
    parts_placed: Count
    """How many parts lie on the sheet."""
    used_fraction: NotNegative
    """Area of the finished parts over the area of the sheet."""
    from_offcut: bool
    """True where the sheet is left over from earlier work."""
    left: LeftOfSheetRecord | None
    """What is left of it; null where it was not measured."""
    kept_free: tuple[KeptFreeRecord, ...] = ()
    """Areas on which nothing lies, and why."""
    program: str | None
    """Machine program, relative to this document; null where none was written."""
    program_sha256: str | None
    """SHA-256 of the program's bytes, in hexadecimal; null where none was written."""
    program_size: ProgramSize | None
    """Lines and bytes of the program; null where none was written."""
    layout_svg: str
    """Layout as SVG, relative to this document."""
    layout_dxf: str
    """Layout as DXF, relative to this document."""
    time_s: NotNegative
    """Computed time of the whole program, without what past runs teach."""
    expected: ExpectedRecord | None
    """The time corrected by past runs; null where there are too few or they are not wanted."""
    burn_s: NotNegative
    """Part of it with the beam burning."""
    travel_s: NotNegative
    """Part of it moving with the beam off, turning round included."""
    wait_s: NotNegative
    """Part of it standing still: settling and beam delays."""
    time_by_process_s: dict[str, NotNegative]
    """Seconds that belong to each process."""
    energy_by_process: dict[str, ProcessEnergy]
    """What the beam puts out in each process."""
    parts: tuple[PartRecord, ...]
    """Everything on the sheet."""


class Totals(Record):
    """Sums over all sheets."""

    time_s: NotNegative
    """Computed time of all programs, without what past runs teach."""
    expected: ExpectedRecord | None
    """The time corrected by past runs; null where there are too few or they are not wanted."""
    burn_s: NotNegative
    """Part of it with the beam burning."""
    travel_s: NotNegative
    """Part of it moving with the beam off."""
    wait_s: NotNegative
    """Part of it standing still."""
    parts: Count
    """How many parts are made or marked."""


class AlternativeRecord(Record):
    """One way that was computed; a cost that nobody computed is null."""

    way: str
    """Name of the way."""
    time_s: Number | None
    """What it takes."""
    material_mm2: Number | None
    """Sheet that it uses."""
    length_mm: Number | None
    """Length that it burns or travels, as the decision says."""
    money: str | None
    """What it costs, as a decimal number."""
    note: str
    """More about it."""


class OverruleRecord(Record):
    """One value in the order file that makes a choice by hand."""

    way: str
    """Name of the way that it leads to; empty where it leaves the choice to the planner again."""
    at: tuple[str | int, ...]
    """Where it stands: keys, and places in lists counted from 0."""
    value: OverruleValue
    """What it has to be; null takes it away."""


class DecisionRecord(Record):
    """A choice that the planner made, with what the other ways would have cost."""

    what: str
    """What the choice is about."""
    chosen: str
    """The way that was taken."""
    why: str
    """Reason."""
    alternatives: tuple[AlternativeRecord, ...]
    """Every way computed, the chosen one among them."""
    override: str
    """Key of the order file that makes the choice by hand."""
    saved_s: Number | None
    """Seconds less than the best other way, where both were timed."""
    sheet: str
    """The sheet that it concerns; empty for the whole order."""
    code: str
    """Help page and heading, as page/heading; may be empty."""
    page: str
    """Help page; may be empty."""
    overrules: tuple[OverruleRecord, ...]
    """The same as override for programs; all that have one way are needed together."""


class FindingRecord(Record):
    """Something that was found in the work."""

    severity: Literal["stop", "warn", "note"]
    """stop forbids a program, warn asks for a look, note only tells."""
    code: str
    """Help page and heading, as page/heading."""
    what: str
    """What was found."""
    remedy: str
    """What can be done about it."""
    drawing: str
    """The drawing that it is in; may be empty."""
    shape: str
    """The shape in the drawing; may be empty."""
    x_mm: Number | None
    """Where, in the drawing's own millimetres, or on the sheet that is named."""
    y_mm: Number | None
    """Where, upwards, in the drawing's own millimetres, or on the sheet that is named."""
    count: Count
    """How many places the finding stands for."""
    sheet: Annotated[int, Field(ge=1)] | None
    """Number of the sheet that it is about; null where it is about a drawing or the whole."""
    page: str
    """Help page."""


class PlanDocument(Record):
    """A planned order. Lengths are in mm with y upwards, times in seconds."""

    schema_version: Literal[1]
    """Version of this form."""
    title: str
    """What the order is called."""
    reference: str
    """What tells the order from others of its title; empty where the title does."""
    machine: str
    """Name of the machine."""
    machine_clock: str
    """Fingerprint of the machine's facts that times rest on; it changes with any of them."""
    past_runs: PastRunsRecord | None
    """What recorded runs say; null where nobody looked, or the order does not want them."""
    invented: bool
    """True where settings belong to no real machine or material and must be tested."""
    sheets: tuple[SheetRecord, ...]
    """One for each sheet, in the order of work."""
    totals: Totals
    """What all sheets come to together."""
    left_to_make: tuple[LeftToMakeRecord, ...]
    """Parts that the sheets in stock did not take."""
    decisions: tuple[DecisionRecord, ...]
    """Choices that the planner made."""
    findings: tuple[FindingRecord, ...]
    """What the work has to tell."""


def plan_document(
    plan: Plan, files: Sequence[SheetFiles], papers: Sequence[SheetPapers] | None = None
) -> PlanDocument:
    """Turn a plan into its document; ``files`` has one entry for each sheet.

    What the beam puts out is taken from ``papers`` where they are made already.

    Raises:
        ValueError: the numbers of sheets and files differ, or a sheet's time is not finite.
    """
    seen: Counter[str] = Counter()
    energies = (
        [energy_by_process(sheet, plan.machine) for sheet in plan.sheets]
        if papers is None
        else [shown.energy for shown in papers]
    )
    sheets = tuple(
        _sheet(sheet, names, plan, seen, energy)
        for sheet, names, energy in zip(plan.sheets, files, energies, strict=True)
    )
    return PlanDocument(
        schema_version=SCHEMA_VERSION,
        title=encodable(plan.title),
        reference=encodable(plan.reference),
        machine=encodable(plan.machine.name),
        machine_clock=clock_fingerprint(plan.machine),
        past_runs=past_runs_record(plan.past_runs),
        invented=plan.invented,
        sheets=sheets,
        totals=Totals(
            time_s=rounded(sum(sheet.times.total_s for sheet in plan.sheets)),
            expected=expected_record(plan.expected),
            burn_s=rounded(sum(sheet.times.burn_s for sheet in plan.sheets)),
            travel_s=rounded(sum(sheet.times.travel_s for sheet in plan.sheets)),
            wait_s=rounded(sum(sheet.times.wait_s for sheet in plan.sheets)),
            parts=sum(sheet.parts_placed for sheet in sheets),
        ),
        left_to_make=tuple(left_to_make_record(one) for one in plan.left_to_make),
        decisions=tuple(_decision(decision) for decision in plan.decisions),
        findings=tuple(finding_record(finding) for finding in plan.findings),
    )


def plan_json(document: PlanDocument) -> str:
    """Return the document as indented JSON text."""
    return document.model_dump_json(indent=2) + "\n"


def _sheet(
    sheet: PlannedSheet,
    files: SheetFiles,
    plan: Plan,
    seen: Counter[str],
    energy: dict[str, ProcessEnergy],
) -> SheetRecord:
    times = sheet.times
    return SheetRecord(
        number=sheet.number,
        material=encodable(sheet.material.name),
        sheet=encodable(sheet.sheet.name),
        label=plan.from_stock.label(sheet.sheet.name),
        thickness_mm=sheet.material.thickness_mm,
        recipes={
            process.value: recipe.model_dump(mode="json")
            for process, recipe in sheet.recipes.items()
        },
        width_mm=rounded(sheet.sheet.width_mm),
        height_mm=rounded(sheet.sheet.height_mm),
        parts_placed=len(sheet.parts),
        used_fraction=round(sheet.used_fraction, 4),
        from_offcut=sheet.sheet.offcut,
        left=left_of_sheet(sheet.left, plan.offcut_least_mm),
        kept_free=kept_free_records(sheet.sheet),
        program=files.program,
        program_sha256=files.program_sha256,
        program_size=files.program_size,
        layout_svg=files.layout_svg,
        layout_dxf=files.layout_dxf,
        time_s=rounded(times.total_s),
        expected=expected_record(sheet.expected),
        burn_s=rounded(times.burn_s),
        travel_s=rounded(times.travel_s),
        wait_s=rounded(times.wait_s),
        time_by_process_s={
            process.value: rounded(seconds) for process, seconds in sheet.times_by_process_s.items()
        },
        energy_by_process=energy,
        parts=part_records(sheet, seen),
    )


def _decision(decision: Decision) -> DecisionRecord:
    return DecisionRecord(
        what=encodable(decision.what),
        chosen=encodable(decision.chosen),
        why=encodable(decision.why),
        alternatives=tuple(_alternative(way) for way in decision.alternatives),
        override=encodable(decision.override),
        saved_s=known(decision.saved_s),
        sheet=encodable(decision.sheet),
        code=decision.code,
        page=decision.code.partition("/")[0],
        overrules=tuple(_overrule(one) for one in decision.overrules),
    )


def _overrule(one: Overrule) -> OverruleRecord:
    return OverruleRecord(way=encodable(one.way), at=one.at, value=one.value)


def _alternative(way: Alternative) -> AlternativeRecord:
    return AlternativeRecord(
        way=encodable(way.way),
        time_s=known(way.time_s),
        material_mm2=known(way.material_mm2),
        length_mm=known(way.length_mm),
        money=way.money,
        note=encodable(way.note),
    )


def finding_record(finding: Finding) -> FindingRecord:
    """Turn a finding into its record."""
    return FindingRecord(
        severity=finding.severity.value,
        code=finding.code,
        what=encodable(finding.what),
        remedy=encodable(finding.remedy),
        drawing=encodable(finding.drawing),
        shape=encodable(finding.shape),
        x_mm=known(finding.x_mm),
        y_mm=known(finding.y_mm),
        count=finding.count,
        sheet=finding.sheet,
        page=finding.page,
    )
