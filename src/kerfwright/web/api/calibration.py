"""Trial pieces and timed runs: made, burned, read, and taken over as settings."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter
from fastapi.responses import FileResponse
from pydantic import BaseModel, ConfigDict, Field

from kerfwright.errors import KerfwrightError
from kerfwright.output.plan_json import FindingRecord, finding_record
from kerfwright.shop.readings import READINGS_FILE
from kerfwright.shop.stock_records import whoever
from kerfwright.trial_choices import TrialChoices, Triple
from kerfwright.web import trial_folders
from kerfwright.web.api.orders import Here, Seen, files_in, paper
from kerfwright.web.changing import changing, digest_of, require_seen
from kerfwright.web.trial_folders import Accepted, MadePiece, PieceKind, PieceResult

router = APIRouter(tags=["calibration"])

Above = Annotated[float, Field(gt=0.0, le=1e6)]
Share = Annotated[float, Field(gt=0.0, le=1.0)]


class Asked(BaseModel):
    """A piece to make; what is left out is taken from the material's recipe."""

    model_config = ConfigDict(extra="forbid")

    kind: PieceKind
    machine: str
    """Machine file, as the workshop lists it."""
    material: str = ""
    """Material file, as the workshop lists it; none for timed runs."""
    speed_mm_s: Above | None = None
    power: Share | None = None
    passes: Annotated[int, Field(ge=1, le=50)] | None = None
    labels: tuple[Above, Share] | None = None
    """Speed and power of the scored labels."""
    length_mm: Annotated[float, Field(ge=30.0, le=400.0)] = 80.0
    intervals: Triple | None = None
    powers: Triple | None = None
    speeds: Triple | None = None
    process: Annotated[str, Field(max_length=20)] = "cut"
    interval_mm: Above | None = None
    method: Annotated[str, Field(max_length=40)] | None = None
    steps: Annotated[int, Field(ge=5, le=20)] = 11
    lines: Annotated[int, Field(ge=5, le=40)] = 13


class Made(BaseModel):
    """A piece that was made, its files, and what must be said before burning it."""

    piece: MadePiece
    files: list[str]
    findings: list[FindingRecord] = []


class Readings(BaseModel):
    """The readings sheet as TOML."""

    model_config = ConfigDict(extra="forbid")

    text: Annotated[str, Field(max_length=trial_folders.LONGEST_READINGS)]
    digest: Annotated[str, Field(max_length=64)] = ""
    """SHA-256 of their file. Sent back as If-Match, readings of others are not overwritten."""


@router.get("/calibration")
def list_pieces(workshop: Here) -> list[MadePiece]:
    """Trial pieces that were made, the newest first."""
    return trial_folders.pieces(workshop)


@router.post("/calibration", status_code=201)
def make(workshop: Here, asked: Asked) -> Made:
    """Make a trial piece, or timed runs; every program is read back and proven."""
    machine = workshop.listed_machine(asked.machine)
    material, choices = None, None
    if asked.kind != "motion":
        material = workshop.listed_material(asked.material)
        choices = TrialChoices(
            kind=asked.kind, **asked.model_dump(exclude={"kind", "machine", "material"})
        )
    today = datetime.date.today()
    piece, findings = trial_folders.make_piece(workshop, machine, material, choices, today)
    records = [finding_record(one) for one in findings]
    return Made(piece=piece, files=_files(workshop.folder, piece.name), findings=records)


@router.get("/calibration/{name}")
def show_piece(workshop: Here, name: str) -> Made:
    """A piece and its files."""
    piece, _ = trial_folders.piece_of(workshop, name)
    return Made(piece=piece, files=_files(workshop.folder, name))


@router.get("/calibration/{name}/files/{file}")
def piece_file(workshop: Here, name: str, file: str) -> FileResponse:
    """A program or sheet of a piece."""
    _, folder = trial_folders.piece_of(workshop, name)
    if file not in _files(workshop.folder, name):
        raise KerfwrightError(
            "pages/nothing-there",
            file=name,
            thing=f'the piece has no file "{file}".',
            remedy="Load the page again.",
        )
    return paper(folder / file)


@router.get("/calibration/{name}/readings")
def show_readings(workshop: Here, name: str) -> Readings:
    """The readings sheet, filled in as far as it is."""
    _, folder = trial_folders.piece_of(workshop, name)
    return _readings(folder)


@router.put("/calibration/{name}/readings")
def save_readings(workshop: Here, seen: Seen, name: str, readings: Readings) -> Readings:
    """Keep what was read."""
    _, folder = trial_folders.piece_of(workshop, name)
    with changing(folder):
        require_seen(folder / READINGS_FILE, seen)
        trial_folders.save_readings(folder, readings.text)
    return _readings(folder)


@router.get("/calibration/{name}/result")
def result(workshop: Here, name: str) -> PieceResult:
    """What the readings tell, with its 95 % intervals."""
    piece, folder = trial_folders.piece_of(workshop, name)
    return trial_folders.result_of(workshop, piece, folder)


@router.post("/calibration/{name}/acceptance")
def accept(workshop: Here, name: str) -> Accepted:
    """Write the result into the machine or material file, comments kept, and note it."""
    piece, folder = trial_folders.piece_of(workshop, name)
    today = datetime.date.today()
    with changing(workshop.folder):
        return trial_folders.accept_result(workshop, piece, folder, today, by=whoever())


def _readings(folder: Path) -> Readings:
    digest = digest_of(folder / READINGS_FILE)
    return Readings(text=trial_folders.readings_text(folder), digest=digest)


def _files(folder: Path, name: str) -> list[str]:
    there = files_in(folder / trial_folders.FOLDER / name)
    return sorted(one for one in there if one != trial_folders.MADE_FILE)
