"""Writes a plan's files: every program read back and proven before any file is put in place."""

from __future__ import annotations

import json
import os
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from kerfwright.errors import KerfwrightError
from kerfwright.kept import NOTHING_KEPT, Kept
from kerfwright.output.files import (
    LABELS_FILE,
    PLAN_FILE,
    PRINTED_TICKET_FILE,
    TICKET_FILE,
    SheetFiles,
    proof_name,
    sheet_files,
)
from kerfwright.output.help_pages import write_help
from kerfwright.output.in_place import finished, put_in_place
from kerfwright.output.labels import labels_of_plan, labels_pdf
from kerfwright.output.part_names import instances_of
from kerfwright.output.plan_json import plan_document, plan_json
from kerfwright.output.sheet_papers import SheetPapers
from kerfwright.output.sheet_writing import (
    Progress,
    SheetTexts,
    SheetWriter,
    UnprovenProgramError,
)
from kerfwright.output.ticket import ticket_html
from kerfwright.output.ticket_pdf import ticket_pdf
from kerfwright.plan import Plan, PlannedSheet

ENDINGS = {"program": ".nc", "layout_svg": ".svg", "layout_dxf": ".dxf"}
"""Of the sheets' files, by their key in ``plan.json``."""

Beside = Callable[[Path], Sequence[str]]
"""Writes what goes with a plan into the folder it is put together in; returns names of what of an
earlier one goes."""


@dataclass(frozen=True, slots=True)
class WrittenPlan:
    """Where a plan was written."""

    folder: Path
    sheets: tuple[SheetFiles, ...]
    plan_json: Path
    ticket: Path


def require_folder(folder: Path) -> None:
    """Refuse a folder that no plan can be written to; asked before the work of planning.

    Raises:
        KerfwrightError: the folder or one above it is a file, or may not be written.
    """
    try:
        there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    except OSError as error:
        raise _cannot_write(folder, str(error.strerror)) from None
    if not there.is_dir():
        raise _cannot_write(folder, f"{there.name} is a file")
    if not os.access(there, os.W_OK | os.X_OK):
        raise _cannot_write(folder, f"you may not write in {there}")


def write_plan(
    plan: Plan,
    folder: Path,
    progress: Progress | None = None,
    kept: Kept = NOTHING_KEPT,
    beside: Beside | None = None,
) -> WrittenPlan:
    """Write programs, layouts, ``plan.json`` and the ticket into ``folder``.

    Everything is written beside its place first and moved there when all of it is proven, so
    that a folder never holds half a plan. Sheets' files of an earlier plan in the folder are
    removed: a program that belongs to no plan would be burned by mistake one day. Files of a
    sheet that is equal to one written before are taken from what is ``kept``. What ``beside``
    writes comes into place with the plan, or not at all.

    Raises:
        UnprovenProgramError: a program failed; the folder holds no program of this plan.
        KerfwrightError: the folder cannot be written.
    """
    say = progress or (lambda _: None)
    try:
        with (
            _made(folder),
            tempfile.TemporaryDirectory(dir=folder, prefix=".unfinished-") as unfinished,
        ):
            finished(folder)
            stage = Path(unfinished) / "plan"
            stage.mkdir()
            try:
                files, papers = _write_sheets(plan, SheetWriter(plan.machine, stage, say, kept))
            except UnprovenProgramError:
                _remove_earlier(folder)
                raise
            say("Writing the plan and the ticket")
            _write_papers(stage, plan, files, papers)
            more = () if beside is None else beside(stage)
            _require_free_names(stage, folder)
            put_in_place(stage, folder, [*_earlier(folder), *more])
    except OSError as error:
        raise _cannot_write(folder, str(error.strerror)) from None
    return WrittenPlan(folder, files, folder / PLAN_FILE, folder / TICKET_FILE)


def _cannot_write(folder: Path, reason: str) -> KerfwrightError:
    return KerfwrightError(
        "order/cannot-write",
        file=str(folder),
        thing=f"the plan cannot be written here ({reason}).",
        remedy="Give another folder with --out, one that is yours and has room.",
    )


@contextmanager
def _made(folder: Path) -> Iterator[None]:
    """Make a folder; if the work in it fails, leave none behind that was not there before."""
    new = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        for path in new:
            with suppress(OSError):
                path.rmdir()
        raise


def _write_sheets(
    plan: Plan, writer: SheetWriter
) -> tuple[tuple[SheetFiles, ...], tuple[SheetPapers, ...]]:
    seen: Counter[str] = Counter()
    files, papers = [], []
    for sheet, instances in zip(plan.sheets, instances_of(plan.sheets), strict=True):
        texts = writer.texts(sheet, instances, seen)
        files.append(_write_sheet(writer, sheet, texts))
        papers.append(texts.papers)
        seen.update(part.name for part in sheet.parts)
    return tuple(files), tuple(papers)


def _write_sheet(writer: SheetWriter, sheet: PlannedSheet, texts: SheetTexts) -> SheetFiles:
    for name, content in texts.files.items():
        (writer.stage / name).write_bytes(content)
    return replace(
        sheet_files(sheet),
        program_sha256=texts.program_sha256,
        program_size=texts.program_size,
    )


def _write_papers(
    stage: Path, plan: Plan, files: tuple[SheetFiles, ...], papers: tuple[SheetPapers, ...]
) -> None:
    document = plan_document(plan, files, papers)
    (stage / PLAN_FILE).write_text(plan_json(document), encoding="utf-8")
    made = date.today()
    ticket = ticket_html(plan, files, made=made, papers=papers)
    (stage / TICKET_FILE).write_text(ticket, encoding="utf-8")
    (stage / PRINTED_TICKET_FILE).write_bytes(ticket_pdf(plan, files, made=made, papers=papers))
    if labels := labels_of_plan(plan, made):
        (stage / LABELS_FILE).write_bytes(labels_pdf(labels))
    write_help(stage / "help")


def _require_free_names(stage: Path, folder: Path) -> None:
    """Refuse to put a file where a folder of that name is, or a folder where a file is."""
    for path in sorted(stage.rglob("*")):
        target = folder / path.relative_to(stage)
        if target.exists() and target.is_dir() != path.is_dir():
            kind = "folder" if target.is_dir() else "file"
            raise _cannot_write(folder, f'a {kind} called "{target.name}" is in the way')


def _remove_earlier(folder: Path) -> None:
    """Remove the sheets' files that an earlier plan in the folder lists, and that plan."""
    finished(folder)
    for name in _earlier(folder):
        (folder / name).unlink(missing_ok=True)


def _earlier(folder: Path) -> list[str]:
    """Names of the files of an earlier plan in the folder, and of that plan; none without it."""
    try:
        sheets = json.loads((folder / PLAN_FILE).read_text(encoding="utf-8"))["sheets"]
        names = [(sheet[key], ending) for sheet in sheets for key, ending in ENDINGS.items()]
        names += [
            (proof_name(name), ".json")
            for name, ending in names
            if ending == ENDINGS["program"] and isinstance(name, str)
        ]
    except (OSError, ValueError, KeyError, TypeError):
        return []
    # a plan.json from elsewhere must not reach out of the folder, nor to files of other kinds
    own = [
        name
        for name, ending in names
        if isinstance(name, str) and Path(name).name == name and Path(name).suffix == ending
    ]
    return [*own, TICKET_FILE, PRINTED_TICKET_FILE, LABELS_FILE, PLAN_FILE]
