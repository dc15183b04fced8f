"""Kerf: rows of one length cut into more and more pieces, measured pushed together.

The beam runs along the drawn lines, so that a cut of width k takes k/2 from either side. A piece
between two cuts is k narrower than drawn, and n pieces pushed together, drawn L long in all,
measure L - n·k. With rows of one L the loss L - measured rises by k for every piece more, whatever
the machine's scale error and the calipers' zero add to all rows alike.
"""

from __future__ import annotations

from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Material
from kerfwright.shop.trial_pieces import KerfPiece, KerfRow
from kerfwright.toolpath import Process
from kerfwright.trials.drawn import EDGE_MM, GAP_MM, cut_piece, recipe_of, rectangle
from kerfwright.trials.model import Design, Label, Step

COUNTS = (1, 4, 7, 10)
"""Pieces of the rows along each axis: far apart, which makes a slope certain."""

STRIP_MM = 10.0
"""How wide each row is across."""

LETTERS = "ABCDEFGH"
LETTER_MM = 3.0


def kerf_design(
    machine: Machine,
    material: Material,
    *,
    speed_mm_s: float,
    power: float,
    passes: int,
    length_mm: float,
) -> Design:
    """Draw a kerf piece: four rows along x above one another, four along y beside them."""
    rows = tuple(
        KerfRow(row=letter, along="x" if i < len(COUNTS) else "y", pieces=count)
        for i, (letter, count) in enumerate(zip(LETTERS, 2 * COUNTS, strict=True))
    )
    pitch = STRIP_MM + GAP_MM
    parts, labels = [], []
    for i, row in enumerate(rows):
        shift = EDGE_MM + pitch * (i % len(COUNTS))
        width = length_mm / row.pieces
        for n in range(row.pieces):
            if row.along == "x":
                at = (EDGE_MM + n * width, shift, width, STRIP_MM)
            else:
                at = (length_mm + GAP_MM + shift, EDGE_MM + n * width, STRIP_MM, width)
            parts.append(cut_piece(f"{row.row}{n + 1}", rectangle(*at)))
            middle = at[0] + at[2] / 2.0, at[1] + at[3] / 2.0
            labels.append(Label(row.row, *middle, LETTER_MM))
    beside = len(COUNTS) * pitch
    size = (
        2.0 * EDGE_MM + length_mm + beside,
        2.0 * EDGE_MM + max(length_mm, beside - GAP_MM),
    )
    recipe = recipe_of(machine, Process.CUT, speed_mm_s, power, passes=passes, kerf_mm=0.0)
    return Design(
        piece=KerfPiece(
            machine=machine.name,
            material=material.name,
            thickness_mm=material.thickness_mm,
            passes=passes,
            speed_mm_s=speed_mm_s,
            power=power,
            length_mm=length_mm,
            rows=rows,
        ),
        title="kerf trial piece",
        size_mm=size,
        steps=(Step(tuple(parts), (recipe,), shared_edges=True),),
        labels=tuple(labels),
    )
