"""Files of a trial piece: its program, what was burned, the sheet, and readings to fill in."""

from __future__ import annotations

import io
from pathlib import Path

import tomlkit

from kerfwright.output.pages import render
from kerfwright.output.paper import Paper, printed_picture
from kerfwright.output.text import duration
from kerfwright.output.trial_picture import trial_picture
from kerfwright.output.trial_program import proven_program
from kerfwright.output.trial_words import CAUTIONS, Words, settings_of, words_of
from kerfwright.output.whole_file import write_new_files
from kerfwright.shop.hazards import hazard_findings
from kerfwright.shop.readings import PROGRAM_ENDING, READINGS_FILE
from kerfwright.shop.trial_pieces import (
    PIECE_FILE,
    FocusPiece,
    GreyPiece,
    IntervalPiece,
    KerfPiece,
    PowerPiece,
    TrialPiece,
    piece_table,
)
from kerfwright.trials.model import PlannedTrial

SHEET_FILE = "sheet.html"
PRINTED_FILE = "sheet.pdf"
PICTURE_PX = 1400
PICTURE_MM = 66.0
"""Height of the piece's picture on paper at most."""


def write_trial(trial: PlannedTrial, folder: Path) -> Path:
    """Write the proven program, ``piece.toml``, ``readings.toml`` and the sheet; return the
    program.

    Raises:
        UnprovenTrialError: the program is not proven; nothing was written.
        KerfwrightError: one of the files is there already, or the folder cannot be written.
    """
    piece = trial.design.piece
    program = f"{piece.kind}{PROGRAM_ENDING}"
    files: dict[str, bytes] = {
        program: proven_program(trial, program).encode("ascii"),
        PIECE_FILE: _piece_text(piece).encode(),
        READINGS_FILE: readings_text(piece).encode(),
        SHEET_FILE: trial_sheet(trial, program).encode(),
        PRINTED_FILE: printed_sheet(trial, program),
    }
    write_new_files(folder, files)
    return folder / program


def trial_sheet(trial: PlannedTrial, program: str) -> str:
    """The sheet as a page: cautions, settings, the piece's picture, and room for readings."""
    return render(
        "trial.html",
        trial=trial,
        words=words_of(trial.design.piece),
        cautions=_cautions(trial),
        settings=settings_of(trial.design.piece),
        labels=_labels_words(trial),
        picture=trial_picture(trial),
        program=program,
        total_s=trial.sheet.times.total_s,
        readings_file=READINGS_FILE,
    )


def printed_sheet(trial: PlannedTrial, program: str) -> bytes:
    """The same sheet as PDF."""
    piece, words = trial.design.piece, words_of(trial.design.piece)
    width, height = trial.design.size_mm
    pdf = Paper(trial.design.title.capitalize(), f"{piece.material}: {trial.design.title}")
    pdf.add_page()
    pdf.say(trial.design.title.capitalize(), style="B", size=17)
    pdf.say(f"{piece.material}, {piece.thickness_mm:g} mm, on {piece.machine}", size=12)
    pdf.say(
        f"{program}: {width:.0f} × {height:.0f} mm from the bed's corner, "
        f"about {duration(trial.sheet.times.total_s)}. "
        + "; ".join(f"{name}: {value}" for name, value in settings_of(piece)),
    )
    pdf.ln(2)
    _listed(pdf, "First", _cautions(trial))
    _listed(pdf, "Burning", (*words.burning, _labels_words(trial)))
    _listed(pdf, "Reading", words.reading)
    wide = min(pdf.epw, PICTURE_MM * width / height)
    if pdf.get_y() + wide * height / width > pdf.h - 20.0:
        pdf.add_page()
    picture = printed_picture(trial_picture(trial), PICTURE_PX)
    pdf.image(io.BytesIO(picture), w=wide)
    pdf.ln(4)
    _table(pdf, words)
    pdf.ln(4)
    pdf.say("Read on: ____________________   by: ______________________________")
    return bytes(pdf.output())


def readings_text(piece: TrialPiece) -> str:
    """``readings.toml`` to fill in."""
    head = [
        f"# Write readings between the brackets, with commas: {_example(piece)}. What was not read",
        "# stays empty.",
        "",
        "# tested_on = 2031-05-17",
        '# tested_by = "…"',
        "",
    ]
    return "".join(f"{line}\n" for line in (*head, *_blocks(piece)))


def _example(piece: TrialPiece) -> str:
    """How a list is written, with values that such a piece may have."""
    match piece:
        case KerfPiece():
            return f"[{piece.length_mm - 0.69:.2f}, {piece.length_mm - 0.72:.2f}]"
        case FocusPiece():
            return "[0.24, 0.26]"
        case GreyPiece():
            return "[0.35, 0.4]"
        case _:
            return "[4, 5]"


def _blocks(piece: TrialPiece) -> list[str]:
    match piece:
        case KerfPiece():
            return [
                line
                for row in piece.rows
                for line in (
                    "[[rows]]",
                    f'row = "{row.row}"',
                    f"total_mm = []  # {row.pieces} pieces along {row.along}, "
                    f"{piece.length_mm:g} mm as drawn",
                    "",
                )
            ]
        case IntervalPiece():
            return [
                "coarsest_even = []  # number of the coarsest square without lines, at every look",
                "line_width_mm = []  # of the single lines; may stay empty",
            ]
        case PowerPiece(process="cut"):
            return [
                "# one block for each piece that was burned",
                "[[pieces]]",
                "through = []  # numbers of the cells that fell",
                "held = []     # numbers of the cells that hang on",
            ]
        case PowerPiece():
            return [
                "# one block for each piece that was burned",
                "[[pieces]]",
                "best = []  # numbers of the cells that look right",
            ]
        case FocusPiece():
            lines = ["# height_first_mm = 0.0", "# height_last_mm = 12.0", ""]
            for line in piece.lines:
                lines += ["[[lines]]", f"number = {line.number}", "width_mm = []", ""]
            return lines
        case GreyPiece():
            return [
                line
                for one in piece.fields
                for line in ("[[fields]]", f"number = {one.number}", "darkness = []", "")
            ]


def _piece_text(piece: TrialPiece) -> str:
    document = tomlkit.document()
    document.add(tomlkit.comment("What was burned. Keep this file beside the readings."))
    for key, value in piece_table(piece).items():
        if isinstance(value, list):
            blocks = tomlkit.aot()
            for entry in value:
                block = tomlkit.table()
                block.update(entry)
                blocks.append(block)
            document.append(key, blocks)
        else:
            document.append(key, tomlkit.item(value))
    return tomlkit.dumps(document)


def _cautions(trial: PlannedTrial) -> tuple[str, ...]:
    care = (f"{one.what} {one.remedy}" for one in hazard_findings([trial.material]))
    said = (*CAUTIONS, *care, *trial.material.cautions)
    if trial.machine.invented or trial.material.invented:
        said = ("Machine or material are invented for an example.", *said)
    return said


def _labels_words(trial: PlannedTrial) -> str:
    if trial.marked:
        return "The labels are scored on the piece."
    return (
        "The piece bears no labels, since no setting for scoring them is known. Write them on by "
        "hand from the picture before you take it off the bed."
    )


def _listed(pdf: Paper, title: str, lines: tuple[str, ...]) -> None:
    pdf.say(title, style="B", size=12)
    for line in lines:
        pdf.say(f"• {line}")
    pdf.ln(2)


def _table(pdf: Paper, words: Words) -> None:
    narrow = 100 // len(words.header)
    pdf.rows(words.header, words.rows, [narrow] * len(words.header), "L" * len(words.header))
