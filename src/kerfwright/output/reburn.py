"""Programs taken from a plan that was written before: one part again, or the rest of a sheet."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from pydantic import BaseModel, ConfigDict, ValidationError

from kerfwright.errors import KerfwrightError
from kerfwright.motion.timing import time_toolpath
from kerfwright.output.files import PLAN_FILE, proof_name
from kerfwright.output.gcode import program_text
from kerfwright.output.gcode_resume import first_move_from, resumed_lines
from kerfwright.output.proof_file import read_proof
from kerfwright.output.text import printable
from kerfwright.output.whole_file import whole_file
from kerfwright.plan import PlannedSheet
from kerfwright.program.burned import burns_of
from kerfwright.program.classify import classify
from kerfwright.program.excerpt import moves_of_part, rest_faults, sheet_of_part
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.program.verify import handling_faults, verify
from kerfwright.shop.machine import Machine


class UnprovenExcerptError(Exception):
    """A program taken from another did not pass; nothing was written."""

    def __init__(self, program: str, faults: tuple[str, ...]) -> None:
        self.program = program
        self.faults = faults
        super().__init__(f"{program}: {'; '.join(faults)}")


Bounds = tuple[float, float, float, float]

EXCERPT_MARKS = ("(Only part: ", "(Resumed: ", "(Turned: ")
"""How a comment begins that only programs taken from others have."""


@dataclass(frozen=True, eq=False, slots=True)
class WrittenSheet:
    """A sheet of a plan as it was written: its program, and what that is proven against."""

    sheet: PlannedSheet
    machine: Machine
    instances: tuple[int, ...]
    text: tuple[str, ...]
    program: Program

    @property
    def part_names(self) -> list[str]:
        """Every part as it is asked for: name and which of that name."""
        return [
            f"{part.name}#{instance}"
            for part, instance in zip(self.sheet.parts, self.instances, strict=True)
        ]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """A proven program taken from another, with what it takes and burns."""

    text: str
    time_s: float
    burned_mm: float
    bounds_mm: Bounds
    """Smallest x and y, largest x and y of what is burned."""


class _Sheet(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True)

    number: int
    program: str | None
    program_sha256: str | None


class _Document(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True)

    sheets: tuple[_Sheet, ...]


def read_sheet(folder: Path, number: int) -> WrittenSheet:
    """Read a sheet's program and proof from the folder of a plan, and prove it again.

    Raises:
        KerfwrightError: there is no such plan or sheet, or the program is not the one proven.
        UnprovenExcerptError: the program does not pass any more.

    """
    file = folder / PLAN_FILE
    try:
        sheets = _Document.model_validate_json(file.read_bytes()).sheets
    except (OSError, ValidationError):
        raise KerfwrightError(
            "order/no-plan-there",
            file=str(file),
            thing="There is no plan to read here.",
            remedy="Name the folder that kerfwright plan wrote.",
        ) from None
    record = next((sheet for sheet in sheets if sheet.number == number), None)
    name = "" if record is None or record.program is None else Path(record.program).name
    if record is None or not name:
        raise KerfwrightError(
            "program/no-such-sheet",
            file=str(file),
            thing=f"the plan has no program for sheet {number}.",
            remedy=f"Its sheets are {', '.join(str(sheet.number) for sheet in sheets)}.",
        )
    path = folder / name
    text = _unchanged(path, record.program_sha256)
    sheet, machine, instances = read_proof(folder / proof_name(name))
    program = interpret(text, machine, name)
    faults = verify(program, sheet, machine)
    if faults:
        raise UnprovenExcerptError(name, faults)
    return WrittenSheet(sheet, machine, instances, tuple(text), program)


def _unchanged(path: Path, sha256: str | None) -> list[str]:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise KerfwrightError(
            "program/cannot-read",
            file=str(path),
            thing=f"the program cannot be read ({error.strerror or error}).",
            remedy="Check that the plan's files are all in their folder.",
        ) from None
    if hashlib.sha256(data).hexdigest() != sha256:
        raise KerfwrightError(
            "program/changed",
            file=str(path),
            thing="the program is not the one that was proven: it was changed since.",
            remedy="Plan the order again, or bring back the file that the plan wrote.",
        )
    return data.decode("ascii").splitlines()


def one_part(written: WrittenSheet, wanted: str) -> Excerpt:
    """Return a program that makes one part again; ``wanted`` is its name, as in ``lid#2``.

    Raises:
        KerfwrightError: there is no such part on the sheet, or it is one of several.
        UnprovenExcerptError: the part's moves alone do not make the part.

    """
    sheet, machine = written.sheet, written.machine
    number = _part_number(written, wanted)
    of_part = sheet_of_part(sheet, number)
    toolpath, sources = moves_of_part(written.program, of_part, machine)
    again = replace(
        of_part,
        toolpath=toolpath,
        sources=sources,
        times=time_toolpath(toolpath, machine),
    )
    name = written.part_names[number]
    # a comment holds no "#"
    notes = (("Only part", name.replace("#", ", number ")), ("From", written.program.name))
    text = program_text(again, machine, notes)
    read_back = interpret(text.splitlines(), machine, name)
    return proven(text, read_back, verify(read_back, again, machine), machine)


def rest_from_line(written: WrittenSheet, line: int) -> Excerpt:
    """Return a program for everything from a line of the sheet's program on.

    Raises:
        KerfwrightError: nothing is burned there or after.
        UnprovenExcerptError: the rest could not be proven.

    """
    move = first_move_from(written.program, line)
    if move is None:
        raise KerfwrightError(
            "program/nothing-left",
            file=written.program.name,
            thing=f"nothing is burned from line {line} on.",
            remedy=f"The program has {len(written.text)} lines; count them as an editor does.",
        )
    sheet, machine = written.sheet, written.machine
    rest = classify(written.program).toolpath
    left = replace(rest, moves=rest.moves[move:])
    sheet = replace(sheet, times=time_toolpath(left, machine))
    lines = list(resumed_lines(written.text, written.program, move, sheet, machine))
    read_back = interpret(lines, machine, written.program.name)
    faults = handling_faults(read_back, sheet, machine) or tuple(
        rest_faults(read_back, written.program, move)
    )
    return proven("".join(f"{one}\n" for one in lines), read_back, faults, machine)


def rest_after_part(written: WrittenSheet, done: str) -> Excerpt:
    """Return a program for everything after the last burn of a part.

    Raises:
        KerfwrightError: there is no such part, or nothing is burned after it.
        UnprovenExcerptError: the rest could not be proven.

    """
    of_part = sheet_of_part(written.sheet, _part_number(written, done))
    last = _last_line_of(written, of_part)
    return rest_from_line(written, last + 1)


def _last_line_of(written: WrittenSheet, of_part: PlannedSheet) -> int:
    again, _ = moves_of_part(written.program, of_part, written.machine)
    ends = again.points[1:][again.moves["power"] > 0.0]
    program = written.program
    burns = burns_of(program)
    last = np.flatnonzero((np.abs(burns.ends[:, 2:] - ends[-1]) < 1e-6).all(axis=1))
    if len(last) == 0:
        # the part's last stretch goes on along its neighbour in one move
        toward = burns.ends[:, :2] - ends[-1], burns.ends[:, 2:] - ends[-1]
        away = np.hypot(*toward[0].T) + np.hypot(*toward[1].T)
        length = np.hypot(*(burns.ends[:, 2:] - burns.ends[:, :2]).T)
        last = np.flatnonzero(away < length + 1e-3)
    return int(burns.line[last[-1]])


def write_excerpt(excerpt: Excerpt, out: Path) -> None:
    """Write a program whole or not at all, over nothing but another one of this kind.

    Raises:
        KerfwrightError: ``program/would-overwrite``, ``program/cannot-write``.

    """
    if out.is_file() and not _is_excerpt(out):
        raise KerfwrightError(
            "program/would-overwrite",
            file=str(out),
            thing="this file is there already, and it is no program that this command wrote.",
            remedy="Give --out a name of its own.",
        )
    with whole_file(out) as beside:
        beside.write_text(excerpt.text, encoding="ascii", newline="\n")


def _is_excerpt(path: Path) -> bool:
    try:
        lines = path.read_bytes().decode("ascii", errors="replace").splitlines()
    except OSError:
        return False
    return any(line.startswith(EXCERPT_MARKS) for line in lines)


def proven(text: str, program: Program, faults: tuple[str, ...], machine: Machine) -> Excerpt:
    """Return a program without faults, with what it takes and burns.

    Raises:
        UnprovenExcerptError: there are faults.
    """
    if faults:
        raise UnprovenExcerptError(program.name, faults)
    toolpath = classify(program).toolpath
    burns = toolpath.moves["power"] > 0.0
    burned_mm = float(toolpath.lengths_mm[burns].sum())
    ends = np.concatenate([toolpath.points[:-1][burns], toolpath.points[1:][burns]])
    (x0, y0), (x1, y1) = ends.min(axis=0).tolist(), ends.max(axis=0).tolist()
    return Excerpt(text, time_toolpath(toolpath, machine).total_s, burned_mm, (x0, y0, x1, y1))


def _part_number(written: WrittenSheet, wanted: str) -> int:
    names = written.part_names
    exact = [n for n, name in enumerate(names) if name == wanted]
    alike = exact or [n for n, name in enumerate(names) if re.sub(r"#\d+$", "", name) == wanted]
    if len(alike) == 1:
        return alike[0]
    thing = "is not on this sheet" if not alike else "lies on this sheet more than once"
    choices = [names[n] for n in alike] or names
    raise KerfwrightError(
        "program/which-part",
        file=written.program.name,
        thing=f'"{printable(wanted)}" {thing}.',
        remedy=f"Name one of {', '.join(printable(name) for name in choices)}.",
    )
