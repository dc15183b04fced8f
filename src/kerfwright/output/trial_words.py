"""What a trial piece's sheet says: how it is burned and read, and the table to write on."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.output.text import short_number
from kerfwright.shop.trial_pieces import (
    FocusPiece,
    GreyPiece,
    IntervalPiece,
    KerfPiece,
    PowerPiece,
    TrialPiece,
)

CAUTIONS = (
    "A trial piece is burned by settings that nobody has tried: it is likelier to catch fire than "
    "any other job. Stay with it, a finger on the emergency stop, a way to put out a fire at hand.",
    "Lid closed, extraction on, eyes protected as the machine's manual asks.",
    "Burn only what you know the name and the safety data sheet of. The manual and local rules "
    "come before this sheet.",
    "Stop at the first flame that stays. What has burned so far can still be read.",
)


@dataclass(frozen=True, slots=True)
class Words:
    """Texts of a sheet; ``rows`` leave the last columns empty to be written in."""

    burning: tuple[str, ...]
    reading: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def words_of(piece: TrialPiece) -> Words:
    """What to say of a piece."""
    match piece:
        case KerfPiece():
            return _kerf(piece)
        case IntervalPiece():
            return _interval(piece)
        case PowerPiece():
            return _power(piece)
        case FocusPiece():
            return _focus(piece)
        case GreyPiece():
            return _grey(piece)


def settings_of(piece: TrialPiece) -> tuple[tuple[str, str], ...]:
    """Settings that hold for the whole piece."""
    said = [("Passes", str(piece.passes))]
    if not isinstance(piece, PowerPiece):
        said = [
            ("Speed", f"{piece.speed_mm_s:g} mm/s"),
            ("Power", f"{100 * piece.power:g} % of full power"),
            *said,
        ]
    if isinstance(piece, GreyPiece):
        said += [("Interval", f"{piece.interval_mm:g} mm"), ("Shades", piece.method)]
    if isinstance(piece, PowerPiece) and piece.interval_mm is not None:
        said.append(("Interval", f"{piece.interval_mm:g} mm"))
    return tuple(said)


def _kerf(piece: KerfPiece) -> Words:
    return Words(
        burning=(
            "Lay the sheet flat and tape it from below, so that no piece drops or tips.",
            "Keep the pieces of a row in their order, the letters upright.",
        ),
        reading=(
            "Brush the edges clean; wipe off soot and burrs.",
            "Push each row together against a straight edge, without a gap and without force, and "
            f"measure its whole length with calipers. Drawn it is {piece.length_mm:g} mm long.",
            "Measure every row twice. Every piece has lost one kerf, half at either side.",
        ),
        header=("Row", "Along", "Pieces", "1st, mm", "2nd, mm"),
        rows=tuple((row.row, row.along, str(row.pieces), "", "") for row in piece.rows),
    )


def _interval(piece: IntervalPiece) -> Words:
    return Words(
        burning=("Lay the sheet flat and in focus.",),
        reading=(
            "Look at the squares from the coarsest (the last) on, in slanting light: the first in "
            "which no single lines show is the coarsest that is evenly covered. Write its number.",
            "Look again tomorrow, or let another look: write every number down.",
            "With a loupe and a scale, also measure the single lines' width. It may be left out.",
        ),
        header=("Square", "Interval, mm", "Even?"),
        rows=tuple((str(s.number), f"{s.interval_mm:g}", "") for s in piece.squares),
    )


def _power(piece: PowerPiece) -> Words:
    cut = piece.process == "cut"
    reading = (
        (
            "Take the sheet off without pressing. A cell that has fallen, or falls at a light push "
            "of a finger, is through; any other held. Write the numbers of both.",
            "What you are not sure of belongs in neither list.",
        )
        if cut
        else ("Write the number of the cell that looks right; several, if they look alike.",)
    )
    return Words(
        burning=(
            "Lay the sheet on supports that do not carry the cells, nothing that burns below it."
            if cut
            else "Lay the sheet flat and in focus.",
            "The gentlest cells are burned first. Once smoke or flame is more than you know from "
            "this material, stop: what comes after is hotter still.",
        ),
        reading=reading,
        header=("Cell", "Speed, mm/s", "Power", "J/mm", "Through?" if cut else "Right?"),
        rows=tuple(
            (
                str(cell.number),
                f"{cell.speed_mm_s:g}",
                f"{100 * cell.power:g} %",
                short_number(piece.power_w * cell.power * piece.passes / cell.speed_mm_s, 3),
                "",
            )
            for cell in piece.cells
        ),
    )


def _focus(piece: FocusPiece) -> Words:
    return Words(
        burning=(
            "Wedge the board so that it leans evenly from the first line to the last, its middle "
            "about where you believe the focus to be. Nothing may strike the head: try the travel "
            "with the beam locked off first.",
        ),
        reading=(
            "Measure how high the board's top lies at the first and at the last line, above the "
            "same place, and write both down.",
            "Measure each line's width with a loupe and a scale. Leave out what cannot be seen.",
        ),
        header=("Line", "From the first, mm", "Width, mm", "Again, mm"),
        rows=tuple((str(line.number), f"{line.along_mm:g}", "", "") for line in piece.lines),
    )


def _grey(piece: GreyPiece) -> Words:
    what = "Power" if piece.method == "power" else "Dots"
    return Words(
        burning=("Lay the sheet flat and in focus; brush off soot before reading.",),
        reading=(
            "Hold a grey card beside each field in even light, or read a scan made beside it: "
            "0 is white, 1 is black. Field 1 is the bare material and is read too.",
            "Read all fields twice, the second time from dark to light.",
        ),
        header=("Field", what, "1st", "2nd"),
        rows=tuple(
            (str(one.number), f"{100 * one.strength:.1f} %", "", "") for one in piece.fields
        ),
    )
