"""Fuzzing guided by coverage, for longer runs than the tests have time for.

    pip install atheris
    python tests/fuzz/guided.py svg -max_total_time=3600

The kinds are those of ``test_damaged_drawings.py``; what follows is for libFuzzer. A file that
makes reading fail with anything but a clear error is kept in the working folder as ``crash-…``.
"""

from __future__ import annotations

import importlib
import sys
import tempfile
from pathlib import Path

import atheris

for holder in (
    "kerfwright.parts.recognise",
    "kerfwright.repair.mend",
    "kerfwright.geometry.flatten",
):
    # compiled kernels cannot be instrumented, so what holds them is imported before
    importlib.import_module(holder)

with atheris.instrument_imports(include=["kerfwright.drawing"]):
    for reader in ("svg", "dxf", "pdf", "pictures"):
        importlib.import_module(f"kerfwright.drawing.{reader}.read")
    from test_damaged_drawings import KINDS, check, whole

    from kerfwright.drawing.read import read_drawing
    from kerfwright.errors import KerfwrightError


def main(argv: list[str]) -> None:
    """Fuzz one kind of file until libFuzzer's options end it."""
    if len(argv) < 2 or argv[1] not in KINDS:
        sys.exit(f"usage: python tests/fuzz/guided.py KIND [libFuzzer options]; {', '.join(KINDS)}")
    kind, ending = argv[1], KINDS[argv[1]][0]
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        (corpus / "whole").write_bytes(whole(kind))
        file = Path(folder) / f"damaged{ending}"

        def one(data: bytes) -> None:
            file.write_bytes(data)
            try:
                drawing = read_drawing(file, unit_mm=1.0 if ending == ".dxf" else None)
            except KerfwrightError:
                return
            check(drawing)

        atheris.Setup([argv[0], str(corpus), *argv[2:]], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv)
