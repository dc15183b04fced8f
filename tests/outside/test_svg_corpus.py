"""Every drawing of our corpus is read as the standard says, by the picture another library makes.

Source: the resvg library (``resvg_py``), a general SVG rasteriser. The corpus and the sections of
the standard behind each drawing are in ``svg_corpus.py``.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from svg_corpus import CORPUS, Piece
from svg_raster import likeness, our_picture, their_picture

from kerfwright.drawing.svg.read import read_svg

WIDTH_PX = 800
FINER = 4

LEAST_IOU = 0.99
LEAST_IOU_OF_LINES = 0.94
"""Their lines end at a clip along its edge, ours square to the line; thin ink differs by more."""


@pytest.mark.parametrize("piece", CORPUS, ids=lambda piece: piece.file_name)
def test_reads_what_a_general_rasteriser_draws(piece: Piece, tmp_path: Path) -> None:
    file = tmp_path / piece.file_name
    file.write_text(piece.text, encoding="utf-8")
    theirs = their_picture(piece.text, WIDTH_PX)
    ours = our_picture(read_svg(file), theirs.shape, FINER, with_lines=piece.lines)
    assert theirs.sum() > 2000, "the picture is too small for the threshold to mean anything"
    least = LEAST_IOU_OF_LINES if piece.lines else LEAST_IOU
    assert likeness(ours, theirs) >= least


def test_the_corpus_is_broad_and_its_names_differ() -> None:
    assert len(CORPUS) >= 40
    assert len({piece.file_name for piece in CORPUS}) == len(CORPUS)
