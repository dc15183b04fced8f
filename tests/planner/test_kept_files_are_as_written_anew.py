"""Files of a sheet that has not changed are kept; they are those that would be written anew."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import planned_order
from kerfwright.kept import Kept
from kerfwright.output import sheet_writing
from kerfwright.output.sheet_writing import UnprovenProgramError
from kerfwright.output.writing import write_plan
from kerfwright.plan import Plan


def contents(folder: Path) -> dict[str, bytes]:
    """What of a plan's files says nothing of the moment at which it was written."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {
        str(path.relative_to(folder)): path.read_bytes() for path in files if path.suffix != ".dxf"
    }


def other_number(plan: Plan) -> Plan:
    """The plan with its last sheet called by another number."""
    *same, last = plan.sheets
    return replace(plan, sheets=(*same, replace(last, number=last.number + 1)))


def test_an_equal_sheet_is_not_written_again_and_its_files_are_the_same(tmp_path: Path) -> None:
    plan, kept = planned_order.order(), Kept()
    said: list[str] = []
    write_plan(plan, tmp_path / "first", kept=kept)
    write_plan(planned_order.order(), tmp_path / "again", said.append, kept)
    write_plan(plan, tmp_path / "anew")
    assert [words for words in said if words.startswith("Kept ")]
    assert not [words for words in said if words.startswith("Writing and proving")]
    assert contents(tmp_path / "again") == contents(tmp_path / "anew")


def test_a_sheet_that_changed_is_written_and_proven_again(tmp_path: Path) -> None:
    plan, kept = planned_order.order(), Kept()
    said: list[str] = []
    write_plan(plan, tmp_path / "first", kept=kept)
    changed = other_number(plan)
    write_plan(changed, tmp_path / "again", said.append, kept)
    write_plan(changed, tmp_path / "anew")
    written = [words for words in said if words.startswith("Writing and proving")]
    assert len(written) == 1
    assert contents(tmp_path / "again") == contents(tmp_path / "anew")


def test_another_machine_needs_every_program_proven_again(tmp_path: Path) -> None:
    plan, kept = planned_order.order(), Kept()
    said: list[str] = []
    write_plan(plan, tmp_path, kept=kept)
    machine = plan.machine.model_copy(update={"spot_mm": plan.machine.spot_mm * 1.01})
    write_plan(replace(plan, machine=machine), tmp_path, said.append, kept)
    assert not [words for words in said if words.startswith("Kept ")]


def test_a_program_that_failed_its_proof_is_never_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, kept = planned_order.order(), Kept()
    proven = sheet_writing.verify
    monkeypatch.setattr(sheet_writing, "verify", lambda *_: ("a cut is missing",))
    with pytest.raises(UnprovenProgramError):
        write_plan(plan, tmp_path, kept=kept)
    assert len(kept) == 0
    monkeypatch.setattr(sheet_writing, "verify", proven)
    write_plan(plan, tmp_path, kept=kept)
    assert len(kept) == len(plan.sheets)
