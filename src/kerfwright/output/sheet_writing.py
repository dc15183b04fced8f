"""Makes what is written of one sheet: its program, proven, and what goes with it.

A sheet that has not changed has the same files, byte for byte; its program was proven when it
was made, and is found again only where sheet and machine are equal to the last bit.
"""

from __future__ import annotations

import hashlib
import io
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from kerfwright.kept import Kept
from kerfwright.output.files import program_name, proof_name, sheet_files
from kerfwright.output.gcode import program_text
from kerfwright.output.layout_dxf import write_layout_dxf
from kerfwright.output.layout_svg import layout_svg
from kerfwright.output.program_size import ProgramSize
from kerfwright.output.proof_file import proof_text
from kerfwright.output.sheet_papers import SheetPapers, papers_of
from kerfwright.plan import PlannedSheet
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Machine

Progress = Callable[[str], None]


class UnprovenProgramError(Exception):
    """A program did not pass verification; nothing of its plan is left on disk."""

    def __init__(self, program: str, faults: tuple[str, ...]) -> None:
        self.program = program
        self.faults = faults
        super().__init__(f"{program}: {'; '.join(faults)}")


@dataclass(frozen=True, eq=False, slots=True)
class SheetTexts:
    """A sheet's files by name, and what papers say of it."""

    files: dict[str, bytes]
    program_sha256: str
    program_size: ProgramSize
    papers: SheetPapers


@dataclass(frozen=True, eq=False, slots=True)
class SheetWriter:
    """Makes the files of sheets, or takes those of a sheet that is the same from memory.

    ``stage`` is a folder to write in.
    """

    machine: Machine
    stage: Path
    say: Progress
    kept: Kept

    def texts(
        self, sheet: PlannedSheet, instances: Sequence[int], seen: Counter[str]
    ) -> SheetTexts:
        """Make a sheet's files; ``seen`` counts the parts by name on the sheets before it.

        Raises:
            UnprovenProgramError: the program failed its proof.
            OSError: the stage cannot be written.
        """
        before = {part.name: seen[part.name] for part in sheet.parts}
        name = program_name(sheet)
        return self.kept.of(
            "sheet's files",
            (sheet, self.machine, tuple(instances), before),
            lambda: self._made(sheet, instances, Counter(before)),
            found=lambda _: self.say(f"Kept {name}: written and proven before, nothing changed"),
        )

    def _made(
        self, sheet: PlannedSheet, instances: Sequence[int], seen: Counter[str]
    ) -> SheetTexts:
        names = sheet_files(sheet)
        name = program_name(sheet)
        program, machine = self._proven(name, sheet)
        write_layout_dxf(sheet, self.stage / names.layout_dxf)
        data = program.encode("ascii")
        return SheetTexts(
            files={
                name: data,
                proof_name(name): proof_text(sheet, machine, seen).encode(),
                names.layout_svg: layout_svg(sheet).encode(),
                names.layout_dxf: (self.stage / names.layout_dxf).read_bytes(),
            },
            program_sha256=hashlib.sha256(data).hexdigest(),
            program_size=ProgramSize(
                lines=data.count(b"\n"),
                bytes=len(data),
                bytes_without_arcs=len(program_text(sheet, _without_arcs(machine)))
                if machine.controller.arcs
                else None,
            ),
            papers=papers_of(sheet, self.machine, instances),
        )

    def _proven(self, name: str, sheet: PlannedSheet) -> tuple[str, Machine]:
        """Return a proven program and the machine as it is written for."""
        self.say(f"Writing and proving {name}")
        machine = self.machine
        program, faults = _written(name, sheet, machine)
        if faults and machine.controller.arcs:
            self.say(f"Arcs stray too far in {name}; writing it with straight moves")
            machine = _without_arcs(machine)
            program, faults = _written(name, sheet, machine)
        if faults:
            raise UnprovenProgramError(name, faults)
        return program, machine


def _written(name: str, sheet: PlannedSheet, machine: Machine) -> tuple[str, tuple[str, ...]]:
    """Write a program, follow it, and return it with what is wrong with it."""
    program = program_text(sheet, machine)
    read_back = interpret(io.StringIO(program, newline=None), machine, name)
    return program, verify(read_back, sheet, machine)


def _without_arcs(machine: Machine) -> Machine:
    straight = machine.controller.model_copy(update={"arcs": False})
    return machine.model_copy(update={"controller": straight})
