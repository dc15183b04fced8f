"""Draw the example orders again: ``python -m drawn_by FOLDER_OF_FONTS`` from this folder.

The folder must hold the DejaVu fonts (DejaVuSerifCondensed-Bold.ttf and two of its sisters),
whose licence allows their outlines in any document.
"""

from __future__ import annotations

import sys
from pathlib import Path

from drawn_by import lantern, plaque, sign, tokens, trials
from drawn_by.glyphs import Face

HERE = Path(__file__).resolve().parent.parent


def main(fonts: Path) -> None:
    """Write every drawing of the example orders beside this package."""
    serif = Face(fonts / "DejaVuSerifCondensed-Bold.ttf")
    sans = Face(fonts / "DejaVuSansCondensed.ttf")
    numerals = Face(fonts / "DejaVuSansCondensed-Bold.ttf")
    regatta = HERE / "regatta"
    (regatta / "sign.svg").write_text(sign.draw(serif, sans), encoding="utf-8")
    (regatta / "tokens.svg").write_text(tokens.draw(numerals), encoding="utf-8")
    (regatta / "plaque.svg").write_text(plaque.draw(serif, sans), encoding="utf-8")
    lantern.write(regatta / "lantern.dxf")
    trials.write(HERE / "trials")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    main(Path(sys.argv[1]))
