"""Writes a plan's files: every program read back and proven before any file is put in place."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.output.files import SheetFiles
from kerfwright.output.gcode import program_text
from kerfwright.output.help_pages import write_help
from kerfwright.output.layout_dxf import write_layout_dxf
from kerfwright.output.layout_svg import layout_svg
from kerfwright.output.plan_json import plan_document, plan_json
from kerfwright.output.ticket import ticket_html
from kerfwright.plan import Plan, PlannedSheet
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Machine

Progress = Callable[[str], None]

PLAN_FILE = "plan.json"
TICKET_FILE = "ticket.html"


class UnprovenProgramError(Exception):
    """A program did not pass verification; nothing of its plan is left on disk."""

    def __init__(self, program: str, faults: tuple[str, ...]) -> None:
        self.program = program
        self.faults = faults
        super().__init__(f"{program}: {'; '.join(faults)}")


@dataclass(frozen=True, slots=True)
class WrittenPlan:
    """Where a plan was written."""

    folder: Path
    sheets: tuple[SheetFiles, ...]
    plan_json: Path
    ticket: Path


def write_plan(plan: Plan, folder: Path, progress: Progress | None = None) -> WrittenPlan:
    """Write programs, layouts, ``plan.json`` and the ticket into ``folder``.

    Everything is written beside its place first and moved there when all of it is proven, so
    that a folder never holds half a plan. Sheets' files of an earlier plan in the folder are
    removed: a program that belongs to no plan would be burned by mistake one day.

    Raises:
        UnprovenProgramError: a program failed; the folder holds no program of this plan.
        KerfwrightError: the folder cannot be written.
    """
    say = progress or (lambda _: None)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".unfinished-") as unfinished:
            stage = Path(unfinished)
            try:
                files = tuple(
                    _write_sheet(stage, sheet, plan.machine, say) for sheet in plan.sheets
                )
            except UnprovenProgramError:
                _remove_earlier(folder)
                raise
            say("Writing the plan and the ticket")
            _write_papers(stage, plan, files)
            _remove_earlier(folder)
            _move_into_place(stage, folder)
    except OSError as error:
        raise KerfwrightError(
            "order/cannot-write",
            file=str(folder),
            thing=f"the plan cannot be written here ({error.strerror}).",
            remedy="Give another folder with --out, one that is yours and has room.",
        ) from None
    return WrittenPlan(folder, files, folder / PLAN_FILE, folder / TICKET_FILE)


def _write_sheet(stage: Path, sheet: PlannedSheet, machine: Machine, say: Progress) -> SheetFiles:
    program = stage / f"{sheet.slug}.nc"
    files = SheetFiles(
        program=program.name, layout_svg=f"{sheet.slug}.svg", layout_dxf=f"{sheet.slug}.dxf"
    )
    say(f"Writing and proving {program.name}")
    program.write_text(program_text(sheet, machine), encoding="ascii", newline="\n")
    with program.open(encoding="ascii") as lines:
        read_back = interpret(lines, machine, program.name)
    faults = verify(read_back, sheet, machine)
    if faults:
        raise UnprovenProgramError(program.name, faults)
    (stage / files.layout_svg).write_text(layout_svg(sheet), encoding="utf-8")
    write_layout_dxf(sheet, stage / files.layout_dxf)
    return files


def _write_papers(stage: Path, plan: Plan, files: tuple[SheetFiles, ...]) -> None:
    document = plan_document(plan, files)
    (stage / PLAN_FILE).write_text(plan_json(document), encoding="utf-8")
    made = date.today()
    (stage / TICKET_FILE).write_text(ticket_html(plan, files, made=made), encoding="utf-8")
    write_help(stage / "help")


def _move_into_place(stage: Path, folder: Path) -> None:
    for path in sorted(stage.iterdir()):
        target = folder / path.name
        if target.is_dir():
            shutil.rmtree(target)
        path.replace(target)


def _remove_earlier(folder: Path) -> None:
    """Remove the sheets' files that an earlier plan in the folder lists, and that plan."""
    earlier = folder / PLAN_FILE
    try:
        sheets = json.loads(earlier.read_text(encoding="utf-8"))["sheets"]
        names = [sheet[key] for sheet in sheets for key in ("program", "layout_svg", "layout_dxf")]
    except (OSError, ValueError, KeyError, TypeError):
        return
    for name in names:
        # only plain names: a plan.json from elsewhere must not reach out of the folder
        if isinstance(name, str) and Path(name).name == name:
            (folder / name).unlink(missing_ok=True)
    earlier.unlink()
    (folder / TICKET_FILE).unlink(missing_ok=True)
