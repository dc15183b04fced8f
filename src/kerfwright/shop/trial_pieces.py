"""What was burned on a trial piece: the file that lies beside its readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, RootModel

from kerfwright.errors import KerfwrightError
from kerfwright.shop.machine import Machine, NotNegative, Positive, StrictModel, Text
from kerfwright.shop.material import Fraction, Material, PhotoMethod
from kerfwright.shop.toml_files import read_table, validated

PAGE = "calibration"
PIECE_FILE = "piece.toml"

CellProcess = Literal["cut", "score", "engrave"]

Count = Annotated[int, Field(ge=1, le=1000, strict=True)]
Passes = Annotated[int, Field(ge=1, le=50, strict=True)]
Power = Annotated[float, Field(gt=0.0, le=1.0, strict=True)]


class _Burned(StrictModel):
    machine: Text
    """Machine that the program is for."""
    material: Text
    """Material that the piece is made from."""
    thickness_mm: Positive
    """Its thickness."""
    passes: Passes = 1
    """How often the same line is burned."""


class _OneSetting(_Burned):
    speed_mm_s: Positive
    """Speed while burning."""
    power: Power
    """Fraction of full power."""


class KerfRow(StrictModel):
    """A strip of one nominal length, cut into pieces of equal width along the drawn lines."""

    row: Text
    """Letter that the pieces bear."""
    along: Literal["x", "y"]
    """Axis along which the row is measured."""
    pieces: Count
    """How many pieces the strip is cut into."""


class KerfPiece(_OneSetting):
    """Rows of pieces that are measured pushed together."""

    kind: Literal["kerf"] = "kerf"
    """What the piece is for."""
    length_mm: Positive
    """Nominal length of every row."""
    rows: Annotated[tuple[KerfRow, ...], Field(min_length=1)]
    """One block for each row."""


class IntervalSquare(StrictModel):
    """A square engraved at one interval."""

    number: Count
    """Number under the square."""
    interval_mm: Positive
    """Distance between its lines."""


class IntervalPiece(_OneSetting):
    """Squares from fine to coarse intervals, and single lines."""

    kind: Literal["interval"] = "interval"
    """What the piece is for."""
    squares: Annotated[tuple[IntervalSquare, ...], Field(min_length=2)]
    """One block for each square, the finest first."""


class PowerCell(StrictModel):
    """A cell burned at one power and speed."""

    number: Count
    """Number of the cell."""
    speed_mm_s: Positive
    """Its speed."""
    power: Power
    """Its fraction of full power."""


class PowerPiece(_Burned):
    """Cells of several powers and speeds."""

    kind: Literal["power"] = "power"
    """What the piece is for."""
    process: CellProcess
    """What the beam does in the cells."""
    power_w: Positive
    """Rated power of the laser."""
    interval_mm: Positive | None = None
    """Distance between lines, where areas are engraved."""
    cells: Annotated[tuple[PowerCell, ...], Field(min_length=2)]
    """One block for each cell."""


class FocusLine(StrictModel):
    """A line across the board."""

    number: Count
    """Number under the line."""
    along_mm: NotNegative
    """How far it lies from the first, along the slope."""


class FocusPiece(_OneSetting):
    """Lines on a board that leans, so that every one is burned at another height."""

    kind: Literal["focus"] = "focus"
    """What the piece is for."""
    lines: Annotated[tuple[FocusLine, ...], Field(min_length=4)]
    """One block for each line."""


class GreyField(StrictModel):
    """A field of a grey ramp."""

    number: Count
    """Number under the field."""
    strength: Fraction
    """Power as a fraction of full power; for dots their share."""


class GreyPiece(_OneSetting):
    """A ramp of fields from bare to the darkest."""

    kind: Literal["grey"] = "grey"
    """What the piece is for."""
    interval_mm: Positive
    """Distance between rows."""
    method: PhotoMethod
    """How shades are burned."""
    power_min: Fraction = 0.0
    """Power of the lightest tone; method "power" only."""
    dot_mm: Positive | None = None
    """Length of a dot along the row."""
    fields: Annotated[tuple[GreyField, ...], Field(min_length=3)]
    """One block for each field, the lightest first."""


TrialPiece = KerfPiece | IntervalPiece | PowerPiece | FocusPiece | GreyPiece
"""What was burned, by kind."""


class _AnyPiece(RootModel[Annotated[TrialPiece, Field(discriminator="kind")]]):
    pass


MODELS: dict[str, type[StrictModel]] = {
    "kerf": KerfPiece,
    "interval": IntervalPiece,
    "power": PowerPiece,
    "focus": FocusPiece,
    "grey": GreyPiece,
}


def load_trial_piece(
    readings_file: Path, kind: str, machine: Machine, material: Material | None
) -> TrialPiece:
    """Read what was burned from the file beside the readings, and check that it is this piece.

    Raises:
        KerfwrightError: it is not there, damaged, of another kind, machine or material.
    """
    path = readings_file.parent / PIECE_FILE
    if not path.is_file():
        raise KerfwrightError(
            "calibration/piece-missing",
            file=str(readings_file),
            thing=f'there is no "{PIECE_FILE}" beside it, which says what was burned.',
            remedy="Put the readings into the folder that the piece's program was written to.",
        )
    table = read_table(PAGE, path)
    found = table.get("kind")
    if found != kind:
        raise KerfwrightError(
            "calibration/other-piece",
            file=str(path),
            thing=f"this piece is for {found or 'nothing that it says'}, not for {kind}.",
            remedy=f"Run kerfwright calibrate {found if found in MODELS else '…'} on it, or give "
            "the readings of the other piece.",
        )
    validated(PAGE, path, MODELS[kind], table)
    piece = _AnyPiece.model_validate(table).root
    _require_same(path, "machine", piece.machine, machine.name)
    if material is not None:
        _require_same(path, "material", piece.material, material.name)
        if piece.thickness_mm != material.thickness_mm:
            _require_same(
                path,
                "thickness",
                f"{piece.thickness_mm:g} mm",
                f"{material.thickness_mm:g} mm",
            )
    return piece


def piece_table(piece: TrialPiece) -> dict[str, Any]:
    """What a piece's file holds, unset keys left out."""
    table: dict[str, Any] = piece.model_dump(mode="json", exclude_none=True)
    kind = table.pop("kind")
    return {"kind": kind, **table}


def _require_same(path: Path, what: str, burned: str, given: str) -> None:
    if burned == given:
        return
    raise KerfwrightError(
        "calibration/other-piece",
        file=str(path),
        thing=f'the piece was made for the {what} "{burned}", but the file that was given says '
        f'"{given}".',
        remedy=f"Give the file of the {what} that was burned; settings do not carry over.",
    )
