"""Trial pieces of a workshop, each in a folder of its own under ``calibration``.

Beside what :mod:`kerfwright.output.trial_files` writes lies ``made.json``: which files of the
workshop the piece belongs to. What makes and measures pieces is loaded when it is first asked
for: it brings the planner with it, and the first page should not wait for that.
"""

from __future__ import annotations

import datetime
import io
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ValidationError
from rich.console import Console

from kerfwright.errors import KerfwrightError
from kerfwright.findings import Finding
from kerfwright.output.recipe_list import new_in_words
from kerfwright.output.whole_file import whole_file
from kerfwright.shop.files import load_machine, load_material
from kerfwright.shop.readings import READINGS_FILE
from kerfwright.shop.toml_files import toml_of
from kerfwright.trial_choices import TrialChoices, TrialKind, draw_of, marking_of
from kerfwright.web import kept
from kerfwright.web.workshop import Workshop, is_within, slug_of

PieceKind = Literal["motion", TrialKind]

FOLDER = "calibration"

MADE_FILE = "made.json"

LONGEST_READINGS = 200_000


class MadePiece(BaseModel):
    """A trial piece, or timed runs, of the workshop."""

    name: str
    """Name of its folder."""
    kind: PieceKind
    machine: str
    """Machine file, relative to the workshop."""
    material: str
    """Material file, relative to the workshop; empty for timed runs."""
    made_on: datetime.date
    accepted_on: datetime.date | None = None
    """Day on which its result was written into the machine or material file."""


class Told(BaseModel):
    """One number of a result with its interval, in words."""

    name: str
    value: str
    interval: str


class PieceResult(BaseModel):
    """What the readings tell."""

    lines: list[Told]
    remarks: list[str]
    report: str = ""
    """For timed runs: the fit as a table of text."""


class Accepted(BaseModel):
    """A piece whose result was taken over, and what was noted of it in the records."""

    piece: MadePiece
    words: str


def pieces(workshop: Workshop) -> list[MadePiece]:
    """Trial pieces that were made, the newest first."""
    found = []
    for file in (workshop.folder / FOLDER).glob(f"*/{MADE_FILE}"):
        try:
            made = MadePiece.model_validate_json(file.read_bytes())
        except (OSError, ValidationError):
            continue
        # nothing outside is shown or changed, whatever a link or made.json says
        if (
            made.name == file.parent.name
            and is_within(file, workshop.folder)
            and _stays_below(made.machine)
            and _stays_below(made.material)
        ):
            found.append(made)
    return sorted(found, key=lambda one: (one.made_on, one.name), reverse=True)


def piece_of(workshop: Workshop, name: str) -> tuple[MadePiece, Path]:
    """Return a piece and its folder.

    Raises:
        KerfwrightError: ``pages/nothing-there``.
    """
    found = next((one for one in pieces(workshop) if one.name == name), None)
    if found is None:
        raise KerfwrightError(
            "pages/nothing-there",
            file=FOLDER,
            thing=f'there is no trial piece "{name}".',
            remedy="Load the page again.",
        )
    return found, workshop.folder / FOLDER / name


def make_piece(
    workshop: Workshop,
    machine: Path,
    material: Path | None,
    choices: TrialChoices | None,
    today: datetime.date,
) -> tuple[MadePiece, tuple[Finding, ...]]:
    """Make timed runs, or with ``choices`` a trial piece, in a new folder.

    Raises:
        KerfwrightError: a file or choice is wrong, or a program is not proven.
    """
    from kerfwright.calibration import make_runs  # noqa: PLC0415
    from kerfwright.output.timing_programs import BurningRunError  # noqa: PLC0415
    from kerfwright.output.trial_program import UnprovenTrialError  # noqa: PLC0415
    from kerfwright.recipe_trials import make_trial  # noqa: PLC0415

    kind: PieceKind = "motion" if choices is None else choices.kind
    about = (material or machine).stem
    folder = _new_folder(workshop, f"{today.isoformat()}-{kind}-{slug_of(about)}")
    findings: tuple[Finding, ...] = ()
    try:
        if choices is None or material is None:
            make_runs(machine, folder)
        else:
            _, findings = make_trial(
                draw_of(choices), machine, material, folder, marking_of(choices)
            )
    except (BurningRunError, UnprovenTrialError) as unproven:
        raise KerfwrightError(
            "calibration/not-proven",
            file=unproven.program,
            thing=f"not proven: {'; '.join(unproven.faults)}.",
            remedy="Nothing was written.",
        ) from None
    made = MadePiece(
        name=folder.name,
        kind=kind,
        machine=workshop.shown(str(machine)),
        material="" if choices is None or material is None else workshop.shown(str(material)),
        made_on=today,
    )
    _write(folder / MADE_FILE, made.model_dump_json(indent=2) + "\n")
    return made, findings


def readings_text(folder: Path) -> str:
    """The readings as they stand in their file.

    Raises:
        KerfwrightError: they cannot be read.
    """
    try:
        return (folder / READINGS_FILE).read_text(encoding="utf-8")
    except (OSError, ValueError) as error:
        raise KerfwrightError(
            "calibration/file-missing",
            file=READINGS_FILE,
            thing=f"this cannot be read ({error}).".replace(f"{folder}/", ""),
            remedy="See in an editor that the file is there, and save it as UTF-8.",
        ) from None


def save_readings(folder: Path, text: str) -> None:
    """Write readings, if they are TOML; what they say is looked at when they are read.

    Raises:
        KerfwrightError: ``calibration/not-toml``.
    """
    try:
        toml_of(text)
        text.encode("utf-8")
    except ValueError as error:
        raise KerfwrightError(
            "calibration/not-toml",
            file=READINGS_FILE,
            thing=f"this cannot be read ({error}).",
            remedy="Write numbers with a point, several with commas between, words in quotes.",
        ) from None
    _write(folder / READINGS_FILE, text)


def result_of(workshop: Workshop, made: MadePiece, folder: Path) -> PieceResult:
    """What the readings tell.

    Raises:
        KerfwrightError: readings are missing, wrong, or contradict one another.
    """
    from kerfwright.calibration import measure  # noqa: PLC0415
    from kerfwright.output.fit_report import print_fit  # noqa: PLC0415
    from kerfwright.recipe_trials import read_trial  # noqa: PLC0415

    machine, readings = workshop.folder / made.machine, folder / READINGS_FILE
    if made.kind == "motion":
        measured = measure(machine, readings)
        words = io.StringIO()
        print_fit(measured.fit, measured.runs, measured.machine, Console(file=words, width=100))
        return PieceResult(lines=[], remarks=[], report=words.getvalue())
    _, result = read_trial(made.kind, machine, workshop.folder / made.material, readings)
    return PieceResult(
        lines=[Told(name=one.name, value=one.value, interval=one.interval) for one in result.lines],
        remarks=list(result.remarks),
    )


def accept_result(
    workshop: Workshop, made: MadePiece, folder: Path, today: datetime.date, *, by: str
) -> Accepted:
    """Write what the readings tell into the machine or material file, comments kept.

    What was there before and what it is now are noted in the records; where that cannot be, the
    file is written all the same, and the words say so.

    Raises:
        KerfwrightError: as for reading it, or the file cannot be written.
    """
    from kerfwright.calibration import measure, write_measured  # noqa: PLC0415
    from kerfwright.recipe_book import note_trial  # noqa: PLC0415
    from kerfwright.recipe_trials import read_trial, write_result  # noqa: PLC0415

    machine, readings = workshop.folder / made.machine, folder / READINGS_FILE
    machine_before, material_before, changed = load_machine(machine), None, machine
    if made.kind == "motion":
        write_measured(measure(machine, readings), machine, machine, overwrite=True)
    else:
        material = workshop.folder / made.material
        material_before = load_material(material), material
        piece, result = read_trial(made.kind, machine, material, readings)
        changed = machine if result.process is None else material
        write_result(piece, result, machine, material, changed, overwrite=True)
    made = made.model_copy(update={"accepted_on": today})
    _write(folder / MADE_FILE, made.model_dump_json(indent=2) + "\n")
    try:
        with kept.database(workshop) as database:
            new = note_trial(
                database,
                machine_before,
                material_before,
                changed,
                of_machine=changed == machine,
                by=by,
            )
        words = new_in_words(new)
    except KerfwrightError as error:
        words = f"The records could not be written, so that this is not on record: {error.thing}"
    return Accepted(piece=made, words=words)


def _stays_below(path: str) -> bool:
    return not Path(path).is_absolute() and ".." not in Path(path).parts


def _new_folder(workshop: Workshop, name: str) -> Path:
    base = workshop.folder / FOLDER
    numbered = (name if n == 1 else f"{name}-{n}" for n in range(1, 10_000))
    return next(base / one for one in numbered if not (base / one).exists())


def _write(file: Path, text: str) -> None:
    with whole_file(file) as path:
        path.write_text(text, encoding="utf-8")
